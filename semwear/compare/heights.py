"""Height maps joined to the specimens of a study: two ways to the valley share, and worn volume against iron.

Micrographs and height maps answer to one definition here: the share of the area at least 0.5 µm below the plateau. The
share 1 - Smr2/100 of the bearing curve stands beside it; it has no fixed depth and needn't agree.

The iron that a worn track can give to the oil is bounded by its mass:

    iron [ppm] ≤ volume [mm³] · density [g/cm³] · iron share / oil mass [g] · 1000

0.010 mm³ of grey iron (7.2 g/cm³, 93 % Fe) in 10 g of oil is 6.7 ppm at most.
"""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from semwear.compare.report import JoinedSection, number_text
from semwear.compare.specimens import SpecimenFigures
from semwear.errors import PlanError, ResultsError
from semwear.plan import Plan
from semwear.plots import figure_svg
from semwear.profile.height_table import HEIGHT_COLUMNS
from semwear.results import read_table

DENSITY_G_PER_CM3, IRON_SHARE = 7.2, 0.93
"""Grey cast iron."""
LEAST_GAP, LEAST_RELATIVE_GAP = 0.03, 0.25
"""Valley shares that differ by less, in area or relative to the larger, count as agreeing (this project's own choice)."""
IRON_SPREAD = 0.25
"""Relative difference between iron figures that laboratories are allowed (this project's own choice)."""
MUCH_LESS = 1 / 3
"""Iron below this share of what the track lost is called much less (this project's own choice)."""


@dataclass(frozen=True, kw_only=True)
class HeightJoin:
    """One zone of one specimen by micrographs and by height maps; nan where one of them is missing.

    Shares are 0..1, ``_u`` standard uncertainties, volume in mm³, iron in ppm. ``flags``: "valley shares disagree", "more iron than
    the track lost", "less iron than the track lost"; ``sentences`` says each in words.
    """

    specimen: str
    zone: str
    maps: int
    by_micrograph: float
    by_micrograph_u: float
    by_height: float
    by_height_u: float
    bearing_share: float
    worn_volume_mm3: float = math.nan
    worn_volume_u_mm3: float = math.nan
    iron_ppm: float = math.nan
    iron_bound_ppm: float = math.nan
    flags: tuple[str, ...] = ()
    sentences: tuple[str, ...] = ()

    @property
    def agreement(self) -> str:
        """How the two valley shares stand to each other: ``disagree``, ``uncertain`` (apart, yet within doubt) or ``agree``."""
        if "valley shares disagree" in self.flags:
            return "disagree"
        gap, most = abs(self.by_height - self.by_micrograph), max(self.by_height, self.by_micrograph)
        return "uncertain" if gap > max(LEAST_GAP, LEAST_RELATIVE_GAP * most) else "agree"


def iron_bound_ppm(
    volume_mm3: float, oil_mass_g: float, *, density_g_per_cm3: float = DENSITY_G_PER_CM3, iron_share: float = IRON_SHARE
) -> float:
    """Return the most iron that a worn volume can give to a mass of oil, ppm by mass.

    >>> round(iron_bound_ppm(0.010, 10.0), 1)
    6.7
    """
    return 1000 * volume_mm3 * density_g_per_cm3 * iron_share / oil_mass_g


def join_heights(
    figures: Sequence[SpecimenFigures], plan: Plan, rows: Sequence[Mapping], *, oil_mass_g: float | None = None
) -> list[HeightJoin]:
    """Return one join a specimen and zone, in the order of the specimens, for those that have height maps.

    ``rows``: of heights.csv. Maps of one zone are averaged by area. Without ``oil_mass_g`` iron isn't bounded.
    """
    found = []
    for own in figures:
        for zone, shares in (("in-track", own.run), ("out-of-track", own.reference)):
            maps = [row for row in rows if row["specimen"] == own.specimen and _is_of(row, zone)]
            if maps:
                iron = plan.specimen(own.specimen).values.get("iron_ppm", math.nan)
                found.append(_join(own.specimen, zone, shares["valley_fraction"], maps, iron, oil_mass_g))
    return found


def height_section(
    figures: Sequence[SpecimenFigures], plan: Plan, folder: Path, *, oil_mass_g: float | None = None
) -> JoinedSection:
    """Return the report's section on the height maps of a folder that ``semwear profile`` wrote.

    Raises ResultsError when the folder has no such table, PlanError when none of its maps belongs to the study.
    """
    if oil_mass_g is not None and not 0 < oil_mass_g < math.inf:
        raise PlanError(f"--oil-mass-g {oil_mass_g:g}: state the mass of oil in the test, in grams")
    path = Path(folder) / "heights.csv" if Path(folder).is_dir() else Path(folder)
    if not path.exists():
        raise ResultsError(f"{path}: there is no such table; name a folder that semwear profile wrote")
    rows = read_table(path, HEIGHT_COLUMNS)
    measured = [row for row in rows if row["status"] == "measured"]
    joins = join_heights(figures, plan, measured, oil_mass_g=oil_mass_g)
    if not joins:
        raise PlanError(
            f"{path}: none of its {len(rows)} maps belongs to a specimen and zone of the study; run semwear profile "
            "with --pattern, so that specimen and zone are known"
        )
    return JoinedSection(
        title="Cross-check by height maps",
        sentences=tuple(_sentences(joins, measured, figures, oil_mass_g)),
        heads=(
            "specimen", "zone", "maps", "open valley by micrograph", "0.5 µm below the plateau by height",
            "1 − Smr2 by height", "worn volume, mm³", "iron, ppm", "iron at most, ppm", "remark",
        ),
        rows=tuple(_cells(join) for join in joins), figure=_figure(joins),
    )  # fmt: skip


def _figure(joins: Sequence[HeightJoin]) -> str:
    """Return valley share by height against that by micrograph as SVG text, equal shares on the line; empty for none."""
    shown = [join for join in joins if math.isfinite(join.by_micrograph)]
    if not shown:
        return ""

    def draw(figure) -> None:
        panel = figure.subplots()
        for zone, mark, colour in (("in-track", "o", "#2b7bba"), ("out-of-track", "s", "#70747c")):
            own = [join for join in shown if join.zone == zone]
            panel.errorbar(
                [100 * join.by_micrograph for join in own], [100 * join.by_height for join in own],
                xerr=[100 * join.by_micrograph_u for join in own],
                yerr=[100 * join.by_height_u if math.isfinite(join.by_height_u) else 0 for join in own],
                fmt=mark, color=colour, markersize=6, elinewidth=0.8, label=zone,
            )  # fmt: skip
        for join in shown:
            panel.annotate(join.specimen.replace("$", r"\$"), (100 * join.by_micrograph, 100 * join.by_height),
                           xytext=(5, 4), textcoords="offset points", fontsize=8)  # fmt: skip
        most = 115 * max(max(join.by_micrograph, join.by_height) for join in shown) + 1
        panel.plot([0, most], [0, most], color="#70747c", linewidth=0.8, linestyle=(0, (4, 3)))
        panel.set_xlim(0, most)
        panel.set_ylim(0, most)
        panel.set_aspect("equal")
        panel.set_xlabel("open valley by micrograph, % of the area")
        panel.set_ylabel("0.5 µm below the plateau\nby height map, % of the area")
        panel.legend(frameon=False, loc="upper left")

    return figure_svg(draw, width_in=5.0, height_in=4.2)


def _is_of(row: Mapping, zone: str) -> bool:
    if row["stage"] == "before":
        return zone == "out-of-track"
    return row["zone"] == zone


def _join(specimen: str, zone: str, share, maps: Sequence[Mapping], iron: float, oil_mass_g: float | None) -> HeightJoin:
    areas = [row["area_mm2"] for row in maps]
    weights = [area / sum(areas) for area in areas]
    height = sum(weight * row["below_plateau_fraction"] for weight, row in zip(weights, maps, strict=True))
    height_u = math.sqrt(sum((weight * row["below_plateau_u"]) ** 2 for weight, row in zip(weights, maps, strict=True)))
    if len(maps) > 2:
        scatter = sum((row["below_plateau_fraction"] - height) ** 2 for row in maps) / (len(maps) - 1)
        height_u = max(height_u, math.sqrt(scatter / len(maps)))
    # One field alone is given 30 % of its share.
    alone = not math.isfinite(share.half_width)
    share_u = 0.3 * share.mean if alone else share.deviation / math.sqrt(share.fields)
    share_half = 2 * share_u if alone else share.half_width
    volumes = [row for row in maps if math.isfinite(row["worn_volume_mm3"])] if zone == "in-track" else []
    volume = sum(row["worn_volume_mm3"] for row in volumes) / len(volumes) if volumes else math.nan
    volume_u = math.sqrt(sum(row["worn_volume_u_mm3"] ** 2 for row in volumes)) / len(volumes) if volumes else math.nan
    bounded = bool(volumes) and oil_mass_g is not None
    flags, sentences = [], []
    gap = abs(height - share.mean)
    scatter = math.hypot(share_half, 2 * (height_u if math.isfinite(height_u) else 0.3 * height))
    if gap > max(LEAST_GAP, LEAST_RELATIVE_GAP * max(height, share.mean), scatter):
        flags.append("valley shares disagree")
        sentences.append(
            f"{specimen}, {zone}: the micrographs show {100 * share.mean:.1f} % open valley, the height maps have "
            f"{100 * height:.1f} % at least 0.5 µm below the plateau; look at the outlines and at the map's lost points "
            "before either is believed"
        )
    bound = iron_bound_ppm(volume, oil_mass_g) if bounded else math.nan
    if bounded and math.isfinite(iron):
        bound_u = iron_bound_ppm(volume_u, oil_mass_g)
        if iron * (1 - IRON_SPREAD) > max(bound, 0) + 2 * bound_u:
            flags.append("more iron than the track lost")
            sentences.append(
                f"{specimen}: {iron:.3g} ppm of iron is more than the {max(bound, 0):.2g} ± {bound_u:.1g} ppm that the worn "
                "volume of the track can give; the rest came from elsewhere, such as the ring, or the track is longer "
                "than was stated"
            )
        elif iron * (1 + IRON_SPREAD) < MUCH_LESS * (bound - 2 * bound_u):
            flags.append("less iron than the track lost")
            sentences.append(
                f"{specimen}: the track lost enough for {bound:.2g} ± {bound_u:.1g} ppm of iron, the oil holds {iron:.3g} ppm; "
                "particles of a few µm read low, and metal that was pressed aside doesn't reach the oil"
            )
    return HeightJoin(
        specimen=specimen, zone=zone, maps=len(maps), by_micrograph=share.mean, by_micrograph_u=share_u, by_height=height,
        by_height_u=height_u, bearing_share=sum(w * row["valley_share"] for w, row in zip(weights, maps, strict=True)),
        worn_volume_mm3=volume, worn_volume_u_mm3=volume_u, iron_ppm=iron if zone == "in-track" else math.nan,
        iron_bound_ppm=bound, flags=tuple(flags), sentences=tuple(sentences),
    )  # fmt: skip


def _sentences(joins: Sequence[HeightJoin], rows: Sequence[Mapping], figures, oil_mass_g: float | None) -> list[str]:
    """Return what the join says: agreement, each disagreement, and what was missing for more."""
    compared = [join for join in joins if math.isfinite(join.by_micrograph)]
    count = Counter(join.agreement for join in compared)
    sentences = [
        f"Height maps of {len({join.specimen for join in joins})} of {len(figures)} specimens; valley shares by micrograph "
        f"and by height agree in {count['agree']} of {len(compared)} zones and disagree in {count['disagree']}."
        + (f" In {count['uncertain']} they lie apart, but the fields scatter too much to tell." if count["uncertain"] else "")
    ]
    sentences += [f"{sentence}." for join in joins for sentence in join.sentences]
    measured = any(math.isfinite(row["track_depth_um"]) for row in rows)
    if measured and not any(math.isfinite(join.worn_volume_mm3) for join in joins):
        sentences.append(
            "Worn volume isn't set against iron: the maps hold part of the track; state its length by --track-length-mm."
        )
    elif any(math.isfinite(join.worn_volume_mm3) for join in joins) and oil_mass_g is None:
        sentences.append("Worn volume isn't set against iron: state the mass of oil in the test by --oil-mass-g.")
    known = {own.specimen for own in figures}
    strangers = sorted({row["specimen"] or row["file"] for row in rows if row["specimen"] not in known})
    if strangers:
        sentences.append(f"{len(strangers)} maps or specimens aren't in the study and were left out: {', '.join(strangers[:4])}.")
    return sentences


def _cells(join: HeightJoin) -> tuple[str, ...]:
    return (
        join.specimen, join.zone, str(join.maps), _percent(join.by_micrograph, join.by_micrograph_u),
        _percent(join.by_height, join.by_height_u), _percent(join.bearing_share, math.nan),
        _with_u(join.worn_volume_mm3, join.worn_volume_u_mm3), number_text(join.iron_ppm), number_text(join.iron_bound_ppm),
        ", ".join((*join.flags, *(["valley shares apart, too uncertain to tell"] * (join.agreement == "uncertain")))) or "–",
    )  # fmt: skip


def _percent(share: float, uncertainty: float) -> str:
    if not math.isfinite(share):
        return "–"
    return f"{100 * share:.1f}" + (f" ± {100 * uncertainty:.1f}" if math.isfinite(uncertainty) else "") + " %"


def _with_u(value: float, uncertainty: float) -> str:
    return number_text(value) + (f" ± {number_text(uncertainty, 2)}" if math.isfinite(uncertainty) else "")
