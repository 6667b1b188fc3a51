"""One height map measured: a row for each zone that it shows, and the map without form for the picture.

read → zones (track located, stated, or the whole map) → form removed → texture of each zone → depth and volume
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from semwear.errors import RefusedError, ScaleError, SemwearError
from semwear.profile.height_map import HeightMap, read_height_map
from semwear.profile.share_uncertainty import share_uncertainty
from semwear.profile.texture import Texture, measure_texture, texture_heights
from semwear.profile.track import Track, locate_band, measure_track, stated_band
from semwear.terms import Column

HEIGHT_COLUMNS = tuple(
    Column(name=name, kind=kind, unit=unit, meaning=meaning)
    for name, kind, unit, meaning in (
        ("file", str, "", "height map, relative path as given"),
        ("sha256", str, "", "checksum of the file"),
        ("status", str, "", "measured or refused"),
        ("reason", str, "", "why the map was refused and what to do"),
        ("specimen", str, "", "from the pattern for names"),
        ("zone", str, "", "in-track or out-of-track: from the pattern, or the two parts of a map that holds the track"),
        ("stage", str, "", "before or after the test, from the pattern"),
        ("pixel_width_um", float, "µm", "step between points along a row"),
        ("pixel_height_um", float, "µm", "step between points along a column"),
        ("scale_source", str, "", "file or given"),
        ("area_mm2", float, "mm²", "area that the texture was measured on"),
        ("missing_fraction", float, "1", "share of points without a height, whole map"),
        ("form_order", float, "", "order of the polynomial that was removed"),
        ("nesting_um", float, "µm", "nesting index of the Gaussian mean surface, empty where none was used"),
        ("sq_um", float, "µm", "Sq, root mean square height (ISO 25178-2)"),
        ("sk_um", float, "µm", "Sk, height of the core"),
        ("spk_um", float, "µm", "Spk, reduced height of the peaks"),
        ("svk_um", float, "µm", "Svk, reduced depth of the valleys"),
        ("smr1_percent", float, "%", "Smr1, material ratio at the core's upper limit"),
        ("smr2_percent", float, "%", "Smr2, material ratio at the core's lower limit"),
        ("valley_share", float, "1", "areal valley share, 1 - Smr2/100"),
        ("vvv_ml_per_m2", float, "ml/m²", "Vvv, void volume of the valleys below a material ratio of 80 %"),
        ("below_plateau_fraction", float, "1", "share of the area at least 0.5 µm below the plateau, as in micrographs"),
        ("below_plateau_u", float, "1", "its standard uncertainty from strips of the map"),
        ("rk_um", float, "µm", "Rk, median of the profiles (ISO 13565-2)"),
        ("rpk_um", float, "µm", "Rpk, median of the profiles"),
        ("rvk_um", float, "µm", "Rvk, median of the profiles"),
        ("mr1_percent", float, "%", "Mr1, median of the profiles"),
        ("mr2_percent", float, "%", "Mr2, median of the profiles"),
        ("profiles", float, "", "profiles across the lay"),
        ("profile_deg", float, "°", "their direction: 0 along a row, 90 along a column"),
        ("cutoff_um", float, "µm", "their cut-off (ISO 13565-1); empty: too short for one, form alone was removed"),
        ("track_width_um", float, "µm", "width of the wear track across the stroke"),
        ("track_length_um", float, "µm", "length of the track in the map"),
        ("track_depth_um", float, "µm", "mean depth of the track below the unworn sides"),
        ("track_depth_u_um", float, "µm", "its standard uncertainty"),
        ("track_deepest_um", float, "µm", "deepest place of the profile across the track, averaged along it"),
        ("track_section_um2", float, "µm²", "worn section across the stroke"),
        ("volume_in_map_mm3", float, "mm³", "worn volume inside the map"),
        ("volume_in_map_u_mm3", float, "mm³", "its standard uncertainty"),
        ("worn_volume_mm3", float, "mm³", "worn volume of the whole track: section times the length that was stated"),
        ("worn_volume_u_mm3", float, "mm³", "its standard uncertainty"),
        ("flags", str, "", "semicolon-separated"),
    )
)
"""Columns of heights.csv, one row a zone of a map."""

HEIGHT_FLAGS = {
    "missing points": "more than 5 % of the points have no height; steep valley walls are the first to go missing",
    "track located": "the track was found, not stated; see in the picture whether it lies where the ring ran",
    "no track found": "no band along the stroke lies clearly below the rest; the map counts as one zone",
    "one unworn side": "the reference rests on one side of the track only, with a plane",
    "track depth unclear": "depth is less than twice its standard uncertainty",
    "metal gained": "the track lies above the unworn sides",
    "coarse points": "the step between points is too wide for hone grooves: above 5 µm",
    "no zone": "neither the pattern nor a track says whether the map is worn",
}
"""Flags of height maps with their meaning."""
COARSE_UM, MUCH_MISSING = 5.0, 0.05
BELIEVABLE_SQ_UM = (0.002, 20.0)
"""Sq of any honed or scuffed surface lies between, µm (this project's own choice, wide): it tells a wrong unit."""


@dataclass(frozen=True, kw_only=True)
class HeightSettings:
    """What holds for all maps of one run; ``None`` where nothing was stated. See ``semwear profile --help``."""

    pixel_size_um: float | None = None
    height_unit: str | None = None
    stroke_deg: float | None = None
    find_track: bool = False
    track_rows: tuple[int, int] | None = None
    track_cols: tuple[int, int] | None = None
    track_length_mm: float | None = None
    order: int = 2
    nesting_um: float | None = None


@dataclass(frozen=True, kw_only=True)
class HeightResult:
    """Rows of HEIGHT_COLUMNS of one map; the map without form (rows, cols) µm, and the track, None where there is none."""

    file: str
    rows: tuple[dict, ...]
    texture_um: np.ndarray | None = None
    pixel_width_um: float = math.nan
    pixel_height_um: float = math.nan
    track: Track | None = field(default=None, repr=False)

    @property
    def is_measured(self) -> bool:
        return self.rows[0]["status"] == "measured"


def measure_height_file(path, settings: HeightSettings, *, words: Mapping[str, str] | None = None) -> HeightResult:
    """Return one measured map; a map that can't be measured is one row with status refused and the reason.

    ``words``: specimen, zone and stage where they are known.
    """
    named = {name: (words or {}).get(name, "") for name in ("specimen", "zone", "stage")}
    try:
        height_map = read_height_map(path, pixel_size_um=settings.pixel_size_um, height_unit=settings.height_unit)
        return measure_height_map(height_map, settings, words=named)
    except SemwearError as error:
        return HeightResult(file=str(path), rows=(_row(file=str(path), status="refused", reason=str(error), **named),))


def measure_height_map(height_map: HeightMap, settings: HeightSettings, *, words: Mapping[str, str]) -> HeightResult:
    """Return the rows of a map that was read. Raises RefusedError when it can't be measured."""
    heights, steps = height_map.heights_um, (height_map.pixel_width_um, height_map.pixel_height_um)
    flags = []
    rows, cols = heights.shape
    if (settings.nesting_um or 0) > max(cols * steps[0], rows * steps[1]):
        raise RefusedError(
            f"{height_map.file}: --nesting-um {settings.nesting_um:g} is longer than the map ({cols * steps[0]:.4g} × "
            f"{rows * steps[1]:.4g} µm); state the nesting index in µm, such as 800"
        )
    if height_map.missing_fraction > MUCH_MISSING:
        flags.append("missing points")
    if max(steps) > COARSE_UM:
        flags.append("coarse points")
    try:
        track = _find_track(height_map, settings, words["zone"], flags)
        texture_um = heights - track.reference_um if track else texture_heights(heights, *steps, order=settings.order)
        zones = {"in-track": track.core, "out-of-track": track.sides} if track else {words["zone"]: None}
        if not track and not words["zone"] and words["stage"] != "before":
            flags.append("no zone")
        rows = []
        for zone, mask in zones.items():
            part = texture_heights(
                heights if mask is None else np.where(mask, heights, np.nan), *steps, order=settings.order,
                nesting_um=settings.nesting_um,
            )  # fmt: skip
            if mask is not None:
                part = np.where(mask, part, np.nan)
            found = measure_texture(part, *steps, stroke_deg=_stroke(settings))
            _check_believable(height_map.file, found.sq_um)
            rows.append(
                _row(
                    file=height_map.file, sha256=height_map.sha256, status="measured", specimen=words["specimen"],
                    zone=zone, stage=words["stage"], pixel_width_um=steps[0], pixel_height_um=steps[1],
                    scale_source=height_map.source, missing_fraction=height_map.missing_fraction,
                    form_order=float(settings.order), nesting_um=settings.nesting_um or math.nan,
                    below_plateau_u=share_uncertainty(part, found.below_plateau_fraction),
                    **_texture_cells(found, steps), flags=";".join(sorted(flags)),
                    **(_track_cells(track, settings) if track and zone == "in-track" else {}),
                )
            )  # fmt: skip
    except ValueError as error:
        raise RefusedError(f"{height_map.file}: {error}") from error
    return HeightResult(
        file=height_map.file, rows=tuple(rows), texture_um=texture_um, pixel_width_um=steps[0],
        pixel_height_um=steps[1], track=track,
    )  # fmt: skip


def _check_believable(file: str, sq_um: float) -> None:
    """Raise RefusedError for heights that no honed surface has: a wrong unit, or numbers that stand for lost points."""
    low, high = BELIEVABLE_SQ_UM
    if not low <= sq_um <= high:
        raise RefusedError(
            f"{file}: heights scatter by {sq_um:.3g} µm (Sq), a honed surface by {low:g} to {high:g}; check --height-unit, "
            "and write lost points as NaN"
        )


def _stroke(settings: HeightSettings) -> float | None:
    stated, of_track = _stated_track(settings)
    return of_track if stated else settings.stroke_deg


def _stated_track(settings: HeightSettings) -> tuple[str, float]:
    """Return the option that states the track and the direction along it, degrees; empty text and NaN without one."""
    if settings.track_rows is not None:
        return "--track-rows", 0.0
    return ("--track-columns", 90.0) if settings.track_cols is not None else ("", math.nan)


def _find_track(height_map: HeightMap, settings: HeightSettings, zone: str, flags: list[str]) -> Track | None:
    """Return the track where one is stated, or located in a map that the pattern calls neither zone."""
    stroke = _stroke(settings)
    stated = settings.track_rows is not None or settings.track_cols is not None
    if zone or not (stated or settings.find_track):
        return None
    heights, steps = height_map.heights_um, (height_map.pixel_width_um, height_map.pixel_height_um)
    if stated:
        inside = stated_band(heights.shape, rows=settings.track_rows, cols=settings.track_cols)
    else:
        inside = locate_band(heights, *steps, stroke)
    if inside is None:
        flags.append("no track found")
        return None
    if not stated:
        flags.append("track located")
    track = measure_track(heights, inside, *steps, stroke)
    if track.one_side:
        flags.append("one unworn side")
    if track.depth_um < -2 * track.depth_u_um:
        flags.append("metal gained")
    elif not track.depth_um >= 2 * track.depth_u_um:  # nor where the uncertainty is unknown
        flags.append("track depth unclear")
    return track


def _texture_cells(found: Texture, steps: tuple[float, float]) -> dict:
    profile = found.profile
    lines = {} if profile is None else {
        "rk_um": profile.rk_um, "rpk_um": profile.rpk_um, "rvk_um": profile.rvk_um,
        "mr1_percent": profile.mr1_percent, "mr2_percent": profile.mr2_percent,
    }  # fmt: skip
    return {
        "area_mm2": found.points * steps[0] * steps[1] * 1e-6, "sq_um": found.sq_um, "sk_um": found.areal.rk_um,
        "spk_um": found.areal.rpk_um, "svk_um": found.areal.rvk_um, "smr1_percent": found.areal.mr1_percent,
        "smr2_percent": found.areal.mr2_percent, "valley_share": found.valley_share,
        "vvv_ml_per_m2": found.vvv_ml_per_m2, "below_plateau_fraction": found.below_plateau_fraction,
        "profiles": float(found.profiles), "profile_deg": found.profile_deg, "cutoff_um": found.cutoff_um, **lines,
    }  # fmt: skip


def _track_cells(track: Track, settings: HeightSettings) -> dict:
    whole = math.nan if settings.track_length_mm is None else settings.track_length_mm * 1e-6
    return {
        "track_width_um": track.width_um, "track_length_um": track.length_um, "track_depth_um": track.depth_um,
        "track_depth_u_um": track.depth_u_um, "track_deepest_um": track.deepest_um,
        "track_section_um2": track.section_um2, "volume_in_map_mm3": track.volume_mm3,
        "volume_in_map_u_mm3": track.volume_u_mm3, "worn_volume_mm3": track.section_um2 * whole,
        "worn_volume_u_mm3": track.section_u_um2 * whole,
    }  # fmt: skip


def _row(**cells) -> dict:
    return {column.name: "" if column.kind is str else math.nan for column in HEIGHT_COLUMNS} | cells


def check_settings(settings: HeightSettings) -> None:
    """Raise ScaleError or RefusedError for settings that contradict each other, or of which one does nothing."""
    if settings.track_rows is not None and settings.track_cols is not None:
        raise RefusedError("state the track either by --track-rows or by --track-columns, not by both")
    if settings.stroke_deg is not None and not 0 <= settings.stroke_deg <= 180:
        raise RefusedError(f"--stroke-deg {settings.stroke_deg:g}: state a direction between 0 and 180 degrees")
    stated, of_track = _stated_track(settings)
    if stated and settings.stroke_deg is not None and settings.stroke_deg % 180 != of_track % 180:
        raise RefusedError(
            f"--stroke-deg {settings.stroke_deg:g} contradicts {stated}, along which the stroke runs ({of_track:g} degrees); "
            "leave one of the two out"
        )
    if stated and settings.find_track:
        raise RefusedError(f"--find-track has nothing to look for where {stated} states the track; leave one of the two out")
    if settings.track_length_mm is not None and not (stated or settings.find_track):
        raise RefusedError(
            "--track-length-mm does nothing without a track; state it by --track-rows or --track-columns, or add --find-track"
        )
    if settings.find_track and settings.stroke_deg is None:
        raise RefusedError("--find-track looks along the stroke; state it by --stroke-deg, such as 90 for the map's columns")
    if not 0 <= settings.order <= 4:
        raise RefusedError(f"--form-order {settings.order}: state 0 (mean), 1 (plane), 2 (bore), 3 or 4")
    for name, value in (("--track-length-mm", settings.track_length_mm), ("--nesting-um", settings.nesting_um)):
        if value is not None and not 0 < value < math.inf:
            raise ScaleError(f"{name} {value:g}: state a positive length")


def short_name(file: str) -> str:
    """Return the name of a map without folders and suffix.

    >>> short_name("maps/V1_in.x3p")
    'V1_in'
    """
    return Path(file).stem
