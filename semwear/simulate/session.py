"""An invented session written to a folder: micrographs with data bars, masks, the plan, and the truth about everything.

    pictures/            the micrographs, as an instrument would leave them
    masks/….png          mask codes on each picture's own grid, data bar and burnt-in marks as 255, 8-bit grey
    plan.csv             what the operator knew: file, specimen, zone, stage, stroke_deg, tilt_deg, kv, detector
    truth.csv            one row a picture: scale, data bar, fractions, lays, wear, and how it was made
    regions.csv          worn 0/1 of squares of 64 µm
    README.md            says that all of it is simulated
"""

import csv
import json
import math
import signal
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import numpy as np
from PIL import Image

from semwear.errors import ResultsError, SemwearError
from semwear.simulate.data_bars import PrintedMicrograph, print_data_bar
from semwear.simulate.files import write_micrograph
from semwear.simulate.scene import FAMILIES, RENDERERS, TRAINING_RENDERERS, SimulatedField, simulate_field
from semwear.simulate.specimens import PlannedField, known_finish, plan_sample_session, plan_session
from semwear.terms import REGION_SIZE_UM, MaskCode

PLAN_COLUMNS = ("file", "specimen", "zone", "stage", "stroke_deg", "tilt_deg", "pixel_size_um", "kv", "detector")
"""Columns of plan.csv. The pixel size stays empty: it has to be found in the picture."""

TRUTH_COLUMNS = (
    "file", "specimen", "zone", "stage", "family", "renderer", "worn", "severity", "pixel_size_um", "with_scale",
    "bar_label", "bar_um", "bar_px", "bar_row_px", "bar_start_px", "bar_end_px", "edge_convention", "bar_shape", "layout",
    "face", "digit_px", "first_row_px", "last_row_px", "first_col_px", "last_col_px", "printed_kv", "printed_detector",
    "printed_magnification", "printed_pixel_size_um", "printed_field_width_um", "texts", "metadata", "kv", "detector",
    "tilt_deg", "stroke_deg", "lay_1_deg", "lay_2_deg", "hone_angle_deg", "valley_fraction", "smeared_fraction",
    "scuffed_fraction", "plateau_fraction", "not_assessed_fraction", "out_of_focus_px", "focus_sigma_px", "noise",
    "charging", "jpeg_quality", "seed",
)  # fmt: skip
"""Columns of truth.csv. ``bar_*_px`` are in pixel-edge coordinates; rows and columns of the micrograph proper run from
``first_*_px`` up to, not including, ``last_*_px``; fractions are of the assessed pixels of the written mask,
``not_assessed_fraction`` of the pixels between those limits."""

SAMPLE_SHAPE, SAMPLE_SEED = (720, 960), 4
MOST_ATTEMPTS = 200
_STATES = {"valley_fraction": MaskCode.OPEN_VALLEY, "smeared_fraction": MaskCode.SMEARED,
           "scuffed_fraction": MaskCode.SCUFFED, "plateau_fraction": MaskCode.PLATEAU}


@dataclass(frozen=True, kw_only=True)
class SimulatedSession:
    """A session as written: its folder and the rows of truth.csv and regions.csv."""

    folder: Path
    truth: tuple[dict, ...]
    regions: tuple[dict, ...]


@dataclass(frozen=True, kw_only=True)
class _Job:
    planned: PlannedField
    shape: tuple[int, int]
    folder: Path


def simulate_session(out: Path, fields: int, seed: int, *, shape: tuple[int, int] = (960, 1280), workers: int = 1,
                     families: tuple[str, ...] = FAMILIES, renderers: tuple[str, ...] = TRAINING_RENDERERS,
                     on_field: Callable[[str, int], None] | None = None) -> SimulatedSession:
    """Simulate a session of ``fields`` fields into the new or empty folder ``out``; the same seed writes the same files.

    ``families`` and ``renderers`` are what specimens are drawn from; ``on_field(file, fields)`` is called after each.
    Raises SemwearError for a number of fields below 1 or an unknown family or renderer, ResultsError when the folder
    isn't empty or can't be written. A KeyboardInterrupt leaves the folder incomplete; its text says so and what to do.
    """
    if fields < 1:
        raise SemwearError(f"{fields} fields: ask for at least one")
    for name in renderers:
        if name not in RENDERERS:
            raise SemwearError(f"renderer {name!r} is unknown; choose among {', '.join(RENDERERS)}")
    from semwear.simulate.finishes import FINISHES

    for name in families:
        if name not in FINISHES:
            raise SemwearError(f"family {name!r} is unknown; choose among {', '.join(FINISHES)}")
    planned = plan_session(fields, seed, families=families, renderers=renderers)
    note = f"`semwear simulate OUT --fields {fields} --seed {seed}`"
    return _write_session(Path(out), planned, shape, workers, note, on_field)


def simulate_sample_session(out: Path, seed: int = SAMPLE_SEED, *, workers: int = 1,
                            on_field: Callable[[str, int], None] | None = None) -> SimulatedSession:
    """Simulate the sample session: twelve small fields, two finishes, one without a scale and one out of focus."""
    note = f"`semwear simulate OUT --sample --seed {seed}`"
    return _write_session(Path(out), plan_sample_session(seed), SAMPLE_SHAPE, workers, note, on_field)


def _write_session(out: Path, planned, shape, workers, note, on_field) -> SimulatedSession:
    try:
        if out.exists() and (not out.is_dir() or any(out.iterdir())):
            raise ResultsError(f"{out} exists and isn't an empty folder; name a new folder")
        for name in ("pictures", "masks"):
            (out / name).mkdir(parents=True)
        jobs = [_Job(planned=one, shape=shape, folder=out) for one in planned]
        truth, regions = [], []
        for row, squares in _results(jobs, workers):
            truth.append(row)
            regions += squares
            if on_field is not None:
                on_field(row["file"], len(jobs))
        _write_table(out / "truth.csv", TRUTH_COLUMNS, truth)
        _write_table(out / "plan.csv", PLAN_COLUMNS, [{**row, "pixel_size_um": ""} for row in truth])
        _write_table(out / "regions.csv", ("file", "row_px", "col_px", "size_um", "worn"), regions)
        (out / "README.md").write_text(_readme(truth, note), encoding="utf-8")
    except KeyboardInterrupt:
        raise KeyboardInterrupt(
            f"{out}: the run was stopped before its end, so that the folder is incomplete; delete it and run the same "
            "command again") from None
    except OSError as error:
        raise ResultsError(f"{out}: can't be written ({error.strerror or error}); free space or name another folder"
                           ) from error
    return SimulatedSession(folder=out, truth=tuple(truth), regions=tuple(regions))


def _results(jobs: list[_Job], workers: int):
    if workers <= 1 or len(jobs) == 1:
        yield from map(_make_field, jobs)
        return
    # Ctrl-C reaches every process of a terminal: it is left to this one, so that the others don't fill it with tracebacks.
    with ProcessPoolExecutor(min(workers, len(jobs)), mp_context=get_context("spawn"), initializer=signal.signal,
                             initargs=(signal.SIGINT, signal.SIG_IGN)) as pool:
        yield from pool.map(_make_field, jobs)


def _make_field(job: _Job) -> tuple[dict, list[dict]]:
    """Simulate, print and write one field; return its row of truth and its regions."""
    planned, specimen = job.planned, job.planned.specimen
    field, attempt = _taken(planned, job.shape)
    printed = _print(planned, field, attempt)
    metadata = specimen.metadata if planned.with_scale else "none"
    quality = 90 if specimen.suffix == ".jpg" else 0
    write_micrograph(job.folder / "pictures" / planned.file, printed.image, pixel_size_um=field.pixel_size_um,
                     metadata=metadata, kv=field.kv, detector=field.detector, tilt_deg=field.tilt_deg,
                     form=planned.seed[1], jpeg_quality=quality or 90)
    codes = printed.place(field.codes, MaskCode.NOT_ASSESSED)
    Image.fromarray(codes).save(job.folder / "masks" / Path(planned.file).with_suffix(".png"))
    row = {**_made(planned, field), **_printed(printed), **_measured(codes, printed.picture), "metadata": metadata,
           "jpeg_quality": quality}
    return row, region_truth(planned.file, codes, printed.place(field.worn, False), printed.picture, field.pixel_size_um)


def _taken(planned: PlannedField, shape: tuple[int, int]) -> tuple[SimulatedField, int]:
    """Return the simulated field and the number of fields that were not kept before it."""
    specimen = planned.specimen
    with known_finish(specimen.finish) as family:
        for attempt in range(MOST_ATTEMPTS):
            field = simulate_field(
                np.random.default_rng((*planned.seed, attempt, 0)), family=family, renderer=specimen.renderer,
                pixel_size_um=specimen.pixel_size_um, shape=shape, worn=planned.zone == "in-track",
                severity=specimen.severity, stroke_deg=specimen.stroke_deg, hone_angle_deg=specimen.hone_angle_deg,
                kv=specimen.kv, tilt_deg=specimen.tilt_deg, bits=specimen.bits)
            if planned.kept is None or planned.kept.keeps(field.facts):
                return field, attempt
    raise SemwearError(f"{planned.file}: none of {MOST_ATTEMPTS} simulated fields is one to keep; choose another seed")


def _print(planned: PlannedField, field: SimulatedField, attempt: int) -> PrintedMicrograph:
    specimen = planned.specimen
    image = _defocused(field.image, planned.out_of_focus_px)
    for again in range(MOST_ATTEMPTS):
        printed = print_data_bar(
            image, field.pixel_size_um, np.random.default_rng((*planned.seed, attempt, 1, again)), layout=specimen.layout,
            kv=field.kv, detector=field.detector, specimen=f"{specimen.name} {planned.zone}",
            with_bar=planned.with_scale, jpeg_share=0.0, annotation_share=0.0)
        if printed.digit_px >= planned.smallest_digit_px:
            break
    return printed


def _defocused(image: np.ndarray, sigma_px: float) -> np.ndarray:
    if not sigma_px:
        return image
    from scipy.ndimage import gaussian_filter

    full = np.iinfo(image.dtype).max
    grain = np.random.default_rng(0).normal(0, 0.008 * full, image.shape)  # noise comes after the lens
    return np.clip(gaussian_filter(image.astype(np.float32), sigma_px) + grain, 0, full).astype(image.dtype)


def _made(planned: PlannedField, field: SimulatedField) -> dict:
    specimen = planned.specimen
    return {
        "file": planned.file, "specimen": specimen.name, "zone": planned.zone, "stage": "after",
        "family": specimen.family, "renderer": field.renderer, "worn": float(field.worn.mean()),
        "severity": field.severity, "pixel_size_um": field.pixel_size_um, "with_scale": int(planned.with_scale),
        "kv": field.kv, "detector": field.detector, "tilt_deg": field.tilt_deg, "stroke_deg": field.stroke_deg,
        "lay_1_deg": field.lay_1_deg, "lay_2_deg": field.lay_2_deg, "hone_angle_deg": field.hone_angle_deg,
        "out_of_focus_px": planned.out_of_focus_px, "focus_sigma_px": field.facts["focus_sigma_px"],
        "noise": field.facts["noise"], "charging": field.facts["charging"], "seed": json.dumps(planned.seed),
    }


def _printed(printed: PrintedMicrograph) -> dict:
    (row, start), (_, end) = printed.ends_px or ((math.nan, math.nan),) * 2
    rows, cols = printed.picture
    return {
        "bar_label": printed.bar_label, "bar_um": printed.bar_um, "bar_px": printed.bar_px, "bar_row_px": row,
        "bar_start_px": start, "bar_end_px": end, "edge_convention": printed.edge_convention,
        "bar_shape": printed.shape, "layout": printed.layout, "face": printed.face, "digit_px": printed.digit_px or "",
        "first_row_px": rows.start, "last_row_px": rows.stop, "first_col_px": cols.start, "last_col_px": cols.stop,
        "printed_kv": printed.kv, "printed_detector": printed.detector, "printed_magnification": printed.magnification,
        "printed_pixel_size_um": printed.printed_pixel_size_um,
        "printed_field_width_um": printed.printed_field_width_um, "texts": " | ".join(printed.texts),
    }


def _measured(codes: np.ndarray, picture: tuple[slice, slice]) -> dict:
    """Return the fractions of a mask: states over the assessed pixels, not assessed over the micrograph proper."""
    proper = codes[picture]
    assessed = int((proper != MaskCode.NOT_ASSESSED).sum())
    shares = {name: float((proper == code).sum() / assessed) if assessed else math.nan for name, code in _STATES.items()}
    return {**shares, "not_assessed_fraction": 1 - assessed / proper.size}


def region_truth(file: str, codes: np.ndarray, worn: np.ndarray, picture: tuple[slice, slice],
                 pixel_size_um: float) -> list[dict]:
    """Return one dict for every whole square of REGION_SIZE_UM that is mostly assessed: file, row_px, col_px, worn 0/1.

    codes, worn: (rows, cols) uint8 mask codes and bool, on the picture's own grid; squares fill the micrograph proper
    from its upper left corner. ``worn`` is 1 where the ring ran over most of the assessed pixels.
    """
    side = max(1, round(REGION_SIZE_UM / pixel_size_um))
    rows, cols = picture
    squares = []
    for row in range(rows.start, rows.stop - side + 1, side):
        for col in range(cols.start, cols.stop - side + 1, side):
            window = np.s_[row : row + side, col : col + side]
            assessed = codes[window] != MaskCode.NOT_ASSESSED
            if assessed.mean() < 0.5:
                continue
            squares.append({"file": file, "row_px": row + side / 2, "col_px": col + side / 2,
                            "size_um": side * pixel_size_um, "worn": int(worn[window][assessed].mean() >= 0.5)})
    return squares


def _write_table(path: Path, columns: tuple[str, ...], rows: list[dict]) -> None:
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream)
        writer.writerow(columns)
        for row in rows:
            writer.writerow([_cell(row[column]) for column in columns])


def _cell(value) -> str:
    if isinstance(value, float):
        return "" if math.isnan(value) else f"{value:.7g}"
    return str(value)


def _readme(truth: list[dict], note: str) -> str:
    specimens = {}
    for row in truth:
        specimens.setdefault(row["specimen"], row["family"])
    listed = "\n".join(f"- {name}: {family} finish" for name, family in specimens.items())
    unscaled = [row["file"] for row in truth if not row["with_scale"]]
    blurred = [row["file"] for row in truth if row["out_of_focus_px"]]
    return f"""# Simulated session

**Every picture here is simulated.** The laboratory, its specimens, dates and instruments are invented; nothing was
measured on a real surface. Made by {note}; the same command writes the same files.

{listed}

- `pictures/`: {len(truth)} micrographs. Without a scale on purpose: {", ".join(unscaled) or "none"}. Out of focus on
  purpose: {", ".join(blurred) or "none"}.
- `masks/`: the true state of every pixel (0 plateau, 1 open valley, 2 smeared, 3 scuffed, 255 not assessed).
- `plan.csv`: what the operator knew. `truth.csv`, `regions.csv`: the true answers.

Measure it with `semwear measure pictures --plan plan.csv --out RESULTS`.
"""
