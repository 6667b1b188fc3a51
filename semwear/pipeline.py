"""The order of the work for one picture: read, calibrate, prepare, segment, score, measure.

    read_micrograph → calibrate → prepare → segment (geometry, and the network where there is a model) → measure_field

Each stage is a function in a module of its name; a stage that can't go on raises a SemwearError whose message becomes
the ``reason`` of the row. Retention needs the other fields of a specimen and is filled in by semwear.retention.
"""

import math
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from semwear.copies import PicturePrint, picture_print
from semwear.errors import SemwearError
from semwear.measure import FieldStates, empty_row, measure_field
from semwear.plan import PlannedField

LOOKS = (1, 2, 4)
"""How often the network may look at a field, once a look: as it is, turned by half a turn, and both mirror images."""

TILTED_DEG = 15.0
"""Tilt above which a field is flagged: lengths across its axis are shorter by 1 − cos, 3.4 % at 15°, and a hone angle of 50° is off
by 1.5°. Shares of the area stay as they are."""


@dataclass(frozen=True, kw_only=True)
class Settings:
    """What the user fixes for a whole run.

    pixel_size_um and stroke_deg hold for every field whose plan row doesn't state its own. ``model`` is the folder of a
    trained model, empty for the shipped one; with ``geometry_only`` no network runs. ``mix_settings`` lets fields
    be judged by reference fields that were taken differently. ``single_precision`` keeps the network from using the
    processor's bfloat16 instructions, so that any machine gives the same figures to rounding. ``looks`` (1, 2 or 4): how
    often the network looks at a field, as it is and turned round; more are surer and take as much longer. ``page``: the one
    that is measured of files with several pages, the first is 1. Raises SemwearError where a value isn't allowed.
    """

    pixel_size_um: float | None = None
    stroke_deg: float | None = None
    model: str = ""
    geometry_only: bool = False
    mix_settings: bool = False
    single_precision: bool = False
    looks: int = 1
    page: int = 1

    def __post_init__(self) -> None:
        if self.pixel_size_um is not None and not self.pixel_size_um > 0:
            raise SemwearError(f"pixel size {self.pixel_size_um:g}: a pixel has a positive size; state it in micrometres")
        if self.stroke_deg is not None and not 0 <= self.stroke_deg <= 180:
            raise SemwearError(f"stroke direction {self.stroke_deg:g}: state one between 0 and 180 degrees")
        if self.looks not in LOOKS:
            raise SemwearError(f"looks {self.looks}: state 1, 2 or 4")
        if self.geometry_only and (self.looks != 1 or self.model or self.single_precision):
            named = f"model {self.model}" if self.model else f"looks {self.looks}" if self.looks != 1 else "single precision"
            raise SemwearError(f"{named} with geometry only: no network runs there; leave one of the two out")


@dataclass(frozen=True, kw_only=True)
class FieldResult:
    """What one picture gave: its row, its regions (keys of the regions table) and, when measured, its picture.

    grey: (rows, cols) float32 0..1, codes: (rows, cols) uint8 mask codes, picture: (rows, cols) bool, False on the data
    bar; all three on the picture's own grid, and None for a refused field. ``lasting`` is False for a refusal that another
    try may overcome (memory, a failure nobody foresaw). ``precision`` is the one that the network multiplied in.
    ``picture_print`` tells the picture from others, None for a refused field.
    """

    row: dict
    regions: tuple[dict, ...] = ()
    grey: np.ndarray | None = field(default=None, repr=False)
    codes: np.ndarray | None = field(default=None, repr=False)
    picture: np.ndarray | None = field(default=None, repr=False)
    pixel_height_um: float = float("nan")
    lasting: bool = True
    precision: str = ""
    picture_print: PicturePrint | None = None

    @property
    def measured(self) -> bool:
        return self.row["status"] == "measured"


def measure_file(
    path: str | Path,
    *,
    file: str | None = None,
    settings: Settings | None = None,
    planned: PlannedField | None = None,
) -> FieldResult:
    """Take one picture file through all stages.

    ``file`` is the name that the row carries, the path as given if None; ``planned`` is its row of the plan. Whatever
    is wrong with the picture comes back as a row with the status ``refused`` and a reason, never as an exception, except
    for errors of the model (ModelError), which would meet every field alike.
    """
    settings = settings or Settings()
    file = Path(path).as_posix() if file is None else file
    planned = planned or PlannedField(file=file)
    model = _model(settings)
    known = {"specimen": planned.specimen, "zone": planned.zone, "stage": planned.stage}
    sha256, lasting = "", False
    try:
        from semwear.read import read_micrograph

        micrograph = read_micrograph(path, file=file, page=settings.page)
        sha256 = micrograph.sha256
        return _measure(micrograph, settings, planned, model, known)
    except SemwearError as error:
        reason, lasting = " ".join(str(error).split()), True
    except MemoryError:
        reason = f"{file}: not enough memory for this picture; use fewer workers or export a smaller picture"
    except Exception as error:  # a stage met something that nobody foresaw: one row says so, the others go on
        found = " ".join(f"{type(error).__name__}: {error}".split())[:200]
        reason = f"{file}: unexpected failure ({found}); please report it with this picture"
    row = empty_row(file, sha256=sha256, status="refused", reason=reason, **known)
    return FieldResult(row=row, lasting=lasting)


def _measure(micrograph, settings: Settings, planned: PlannedField, model, known: dict) -> FieldResult:
    from semwear.calibrate import calibrate
    from semwear.prepare import prepare

    given_um, stroke_deg = _chosen(planned.pixel_size_um, settings.pixel_size_um), settings.stroke_deg
    stroke_source = "option"
    if math.isfinite(planned.stroke_deg):
        stroke_deg, stroke_source = planned.stroke_deg, "plan"
    if stroke_deg is not None:
        stroke_deg %= 180
    calibration = calibrate(micrograph, given_pixel_size_um=given_um)
    prepared = prepare(micrograph, calibration)
    states = on_own_grid(segment(prepared, stroke_deg=stroke_deg, model=model), prepared)
    beam, beam_flags = _beam(planned, calibration)
    picture = _picture_proper(calibration.data_bar, states.codes.shape)
    row = measure_field(
        file=micrograph.file,
        sha256=micrograph.sha256,
        states=states,
        picture=picture,
        pixel_size_um=calibration.pixel_size_um,
        pixel_size_u_um=calibration.pixel_size_u_um,
        pixel_size_source=calibration.pixel_size_source,
        pixel_height_um=calibration.pixel_height_um,
        flags={*calibration.flags, *prepared.flags, *beam_flags} | ({"more pages"} if micrograph.pages > settings.page == 1 else set()),
        stroke_source=stroke_source if stroke_deg is not None else states.lays.stroke_source,
        **known,
        **beam,
    )
    if row["status"] != "measured":
        return FieldResult(row=row)
    return FieldResult(
        row=row,
        regions=tuple({"file": micrograph.file, **region} for region in states.regions),
        grey=prepared.on_own_grid(prepared.raw),
        codes=states.codes,
        picture=picture,
        pixel_height_um=calibration.pixel_height_um,
        precision=model.precision if model else "",
        picture_print=picture_print(micrograph),
    )


def segment(prepared, *, stroke_deg: float | None = None, model=None) -> FieldStates:
    """Find the pixel states, lays and grooves of a prepared field: by geometry, and by the network where there is one.

    With a model, the states are the network's, refined along the lays that its grooves and the picture show, and the grooves
    are traced on its probabilities along the same lays; without one, all of it is geometry's.
    """
    from semwear.segment_geometric import segment_geometric

    if model is None:
        found = segment_geometric(prepared, stroke_deg=stroke_deg)
        return FieldStates(codes=found.codes, lays=found.lays, grooves=found.grooves, flags=found.flags)
    from semwear.score import score_field

    scores = score_field(prepared, model)
    return by_network(prepared, lays_of(prepared, scores, stroke_deg=stroke_deg), scores)


def lays_of(prepared, scores, *, stroke_deg: float | None = None):
    """Return the lays that the network's grooves and the picture show; in a field unlike the training fields the picture alone."""
    from semwear.groove_directions import groove_directions
    from semwear.lay import find_lays

    grooves = None
    if scores.distance <= 1:
        footprint = scores.probabilities[1] + scores.probabilities[2]
        grooves = groove_directions(footprint, scores.assessed_working, scores.working_pixel_size_um)
    run = any(region["worn_probability"] >= 0.5 for region in scores.regions)
    return find_lays(prepared, stroke_deg=stroke_deg, grooves=grooves, run=run)


def by_network(prepared, lays, scores) -> FieldStates:
    """Return the network's states, refined along lays, with the grooves traced on its probabilities along the same lays."""
    from semwear.groove import trace_grooves
    from semwear.refine import refine_states

    grooves = trace_grooves(
        scores.probabilities[1], scores.probabilities[2], lays, scores.working_pixel_size_um, scores.assessed_working
    )
    return FieldStates(
        codes=refine_states(scores.codes, scores.probabilities, lays, prepared.pixel_size_um),
        lays=lays,
        grooves=grooves,
        regions=scores.regions,
        margins=scores.margins,
        distance=scores.distance,
        flags=tuple(sorted({*lays.flags, *scores.flags})),
        method="network and geometry",
    )


def on_own_grid(states: FieldStates, prepared) -> FieldStates:
    """Return states with codes and the places of regions on the micrograph's own pixels, where those aren't square."""
    rows, own_rows = states.codes.shape[0], prepared.own_shape[0]
    if states.codes.shape == prepared.own_shape:
        return states
    regions = tuple(region | {"row_px": region["row_px"] * own_rows / rows} for region in states.regions)
    return replace(states, codes=prepared.on_own_grid(states.codes), regions=regions)


def default_model(settings: Settings) -> Path | None:
    """Return the folder of the model that a run uses, or None when it goes by geometry alone."""
    from semwear.model import default_model_folder

    if settings.geometry_only:
        return None
    return Path(settings.model) if settings.model else default_model_folder()


def _model(settings: Settings):
    folder = default_model(settings)
    if folder is None:
        return None
    from semwear.model import load_model

    return load_model(folder, single_precision=settings.single_precision, looks=settings.looks)


def _picture_proper(data_bar, shape: tuple[int, int]) -> np.ndarray:
    """Return True where the micrograph is, False on its data bar, insets and burnt-in text, (rows, cols) bool."""
    picture = np.zeros(shape, bool)
    picture[data_bar.picture] = True
    return picture & ~data_bar.marks


def _chosen(first: float, second: float | None) -> float | None:
    return first if math.isfinite(first) else second


def _beam(planned: PlannedField, calibration) -> tuple[dict, set[str]]:
    """Return kv, detector and tilt_deg, the plan's before the picture's, and flags where the two contradict or the tilt is large."""
    stated = {
        "kv": (planned.kv, calibration.kv),
        "detector": (planned.detector, calibration.detector),
        "tilt_deg": (planned.tilt_deg, calibration.tilt_deg),
    }
    beam, flags = {}, set()
    for name, (by_plan, by_picture) in stated.items():
        by_picture = by_picture if by_picture is not None else float("nan")
        if name == "detector":
            by_picture = by_picture if isinstance(by_picture, str) else ""
            beam[name] = by_plan or by_picture
            differ = by_plan and by_picture and by_plan.strip().casefold() != by_picture.strip().casefold()
        else:
            beam[name] = float(by_plan if math.isfinite(by_plan) else by_picture)
            differ = (
                abs(by_plan - by_picture) > 0.5 if name == "tilt_deg" else abs(by_plan - by_picture) > 0.02 * by_plan
            )
        if differ:
            flags.add("plan disagreement")
    if abs(beam["tilt_deg"]) > TILTED_DEG:
        flags.add("tilted")
    return beam, flags
