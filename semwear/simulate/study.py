"""An invented study: two finishes, two oils, two rings, three fields a zone, with friction and iron made up to match.

Every picture is simulated. What the ring did to each specimen is chosen (STUDY), fields are drawn until they show it, and
friction and iron are then computed from the true masks by the two formulas below, with a little scatter: they are no
measurements and no rule of any trade.

    iron [ppm]  = 24 + 400 · (valley fraction lost − smeared fraction gained, at least 0) · e^N(0, 0.03)
    friction    = 0.105 + 0.30 · valley fraction lost + N(0, 0.002)

One specimen (V7) has its valleys closed by smeared metal, so that its iron stays low. Oil and ring interact: the rich oil
helps the bare ring, the coated ring helps in the base oil, together they don't. One place is pictured before and after.
The study in sample_images/study was made by simulate_study.
"""

import csv
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from semwear.errors import ResultsError, SemwearError
from semwear.simulate.data_bars import print_data_bar
from semwear.simulate.files import write_micrograph
from semwear.simulate.heights import write_height_pair
from semwear.simulate.scene import SimulatedField, simulate_field
from semwear.simulate.specimens import known_finish, narrowed_finish
from semwear.terms import MaskCode

STUDY_SEED = 11
PIXEL_SIZE_UM, SHAPE, KV, DETECTOR, HONE_ANGLE_DEG = 0.8, (432, 576), 10.0, "SE", 46.0
FIELDS_A_ZONE = 3
LAYOUT = "dark strip, solid bar left"
MOST_TRIES = 400
JPEG_QUALITY = 84
FACTORS = ("finish", "oil", "ring")
HEIGHTS_OF = "V7"
"""Specimen whose first place in each zone is given as a height map too: the one that was smeared."""


@dataclass(frozen=True, kw_only=True)
class StudySpecimen:
    """What one specimen of the study shows: levels, and the ranges of true fractions that its fields in the track have."""

    name: str
    finish: str
    oil: str
    ring: str
    severity: float
    valley: tuple[float, float]
    smeared: tuple[float, float] = (0.0, 0.035)
    with_spot: bool = False


STUDY = (
    StudySpecimen(name="V1", finish="plateaued", oil="base", ring="bare", severity=0.5, valley=(0.085, 0.125)),
    StudySpecimen(name="V2", finish="plateaued", oil="base", ring="coated", severity=0.05, valley=(0.145, 0.20)),
    StudySpecimen(name="V3", finish="plateaued", oil="rich", ring="bare", severity=0.05, valley=(0.14, 0.195)),
    StudySpecimen(
        name="V4", finish="plateaued", oil="rich", ring="coated", severity=0.7, valley=(0.04, 0.075), with_spot=True
    ),
    StudySpecimen(
        name="V5", finish="single-stage", oil="base", ring="bare", severity=0.45, valley=(0.09, 0.155),
        smeared=(0.0, 0.05),
    ),
    StudySpecimen(name="V6", finish="single-stage", oil="base", ring="coated", severity=0.05, valley=(0.21, 0.28)),
    StudySpecimen(
        name="V7", finish="single-stage", oil="rich", ring="bare", severity=0.75, valley=(0.04, 0.135),
        smeared=(0.09, 0.28),
    ),
    StudySpecimen(
        name="V8", finish="single-stage", oil="rich", ring="coated", severity=0.65, valley=(0.035, 0.105), smeared=(0.0, 0.06),
    ),
)  # fmt: skip
UNRUN_VALLEY = {"plateaued": (0.15, 0.205), "single-stage": (0.22, 0.29)}
FINISH_PLACES = {"plateaued": 0.45, "single-stage": 0.4}


@dataclass(frozen=True, kw_only=True)
class StudyField:
    """One picture of the study: specimen, zone, stage, spot, number, its seed and the simulated field."""

    specimen: StudySpecimen
    zone: str
    stage: str
    spot: str
    number: int
    seed: tuple[int, ...]
    field: SimulatedField

    @property
    def file(self) -> str:
        """Name of the picture."""
        where = "before" if self.stage == "before" else self.zone
        return f"{self.specimen.name}_{where}_{self.number}.jpg"


def simulate_study(out: Path, seed: int = STUDY_SEED) -> list[dict]:
    """Write the study into the new or empty folder ``out`` and return the rows of truth.csv; same seed, same masks and figures.

    pictures/, masks/, heights/, plan.xlsx (fields and specimens), truth.csv, README.md. Other processors may round a grey
    level of a picture differently. It takes some twenty minutes. Raises ResultsError when the folder isn't empty or can't be
    written.
    """
    out = Path(out)
    if out.exists() and (not out.is_dir() or any(out.iterdir())):
        raise ResultsError(f"{out} exists and isn't an empty folder; name a new folder")
    truth, specimens = [], []
    try:
        for name in ("pictures", "masks"):
            (out / name).mkdir(parents=True)
        for number in range(len(STUDY)):
            rows, responses = _make_specimen(out, number, seed)
            truth += rows
            specimens.append(responses)
        _write_plan(out / "plan.xlsx", truth, specimens)
        _write_truth(out / "truth.csv", truth)
        (out / "README.md").write_text(_readme(len(truth)), encoding="utf-8")
    except OSError as error:
        raise ResultsError(f"{out}: can't be written ({error.strerror or error}); name another folder") from error
    return truth


def _make_specimen(out: Path, number: int, seed: int) -> tuple[list[dict], dict]:
    """Simulate, print and write the fields of one specimen; return its rows of truth and its responses."""
    specimen = STUDY[number]
    rows, first = [], {}
    for made in study_fields(specimen, (seed, number)):
        rows.append(_write_field(out, made))
        if made.stage == "after" and made.number == 1:
            first[made.zone] = made.field
    if specimen.name == HEIGHTS_OF:
        write_height_pair(out / "heights", specimen.name, first["in-track"], first["out-of-track"], number)
    return rows, _responses(specimen, rows, np.random.default_rng((seed, number, 9)))


def study_fields(specimen: StudySpecimen, seed: tuple[int, ...]):
    """Yield the fields of a specimen: three in the track, three out of it, and for some one place before the test."""
    finish = narrowed_finish(
        specimen.finish,
        f"{specimen.finish}, {specimen.name}",
        np.random.default_rng(seed),
        FINISH_PLACES[specimen.finish],
    )
    unrun = UNRUN_VALLEY[specimen.finish]
    for place, zone in enumerate(("in-track", "out-of-track")):
        tried = 0
        for number in range(1, FIELDS_A_ZONE + 1):
            spot = "P1" if specimen.with_spot and zone == "in-track" and number == 1 else ""
            while True:
                own_seed = (*seed, place, tried)
                tried += 1
                if tried > MOST_TRIES:
                    raise SemwearError(
                        f"{specimen.name}: no field of the wanted kind in {MOST_TRIES}; use another seed"
                    )
                if zone == "in-track":
                    field = _simulate(finish, own_seed, specimen.severity, worn=True)
                    if not _shows(field, specimen.valley, specimen.smeared):
                        continue
                else:
                    field = _simulate(finish, own_seed, 0.5, worn=False)
                    if not _shows(field, unrun, (0.0, 0.01)):
                        continue
                shared = {"specimen": specimen, "number": number, "spot": spot, "seed": own_seed}
                if spot:
                    # The same seed draws the same grooves; hardly any wear leaves them as they were honed.
                    before = _simulate(finish, own_seed, 0.01, worn=True)
                    if not _shows(before, (0.8 * unrun[0], 1.25 * unrun[1]), (0.0, 0.02)):
                        continue
                    yield StudyField(zone="", stage="before", field=before, **shared)
                yield StudyField(zone=zone, stage="after", field=field, **shared)
                break


def _simulate(finish, seed: tuple[int, ...], severity: float, *, worn: bool) -> SimulatedField:
    with known_finish(finish) as family:
        return simulate_field(
            np.random.default_rng(seed), family=family, renderer="transport", pixel_size_um=PIXEL_SIZE_UM, shape=SHAPE,
            worn=worn, severity=severity, scuffed=False, stroke_deg=90.0, hone_angle_deg=HONE_ANGLE_DEG, kv=KV,
            tilt_deg=0.0, bits=8,
        )  # fmt: skip


def _shows(field: SimulatedField, valley: tuple[float, float], smeared: tuple[float, float]) -> bool:
    """True for a field that has the wanted fractions and that an operator would keep: sharp, quiet, not charged."""
    facts = field.facts
    wanted = {
        "valley_fraction": valley, "smeared_fraction": smeared, "scuffed_fraction": (0.0, 0.0),
        "focus_sigma_px": (0.0, 1.3), "noise": (0.0, 0.035), "charging": (0.0, 0.0), "contrast": (0.27, 1.0),
    }  # fmt: skip
    hidden = float((field.codes == MaskCode.NOT_ASSESSED).mean())
    return hidden < 0.05 and all(low <= facts[name] <= high for name, (low, high) in wanted.items())


def _write_field(out: Path, made: StudyField) -> dict:
    """Print the data bar, write picture and mask, and return the row of truth."""
    field = made.field
    printed = print_data_bar(
        field.image, field.pixel_size_um, np.random.default_rng((*made.seed, 2)), layout=LAYOUT, kv=KV, detector=DETECTOR,
        specimen=made.specimen.name, covers=False, jpeg_share=0.0, annotation_share=0.0,
    )  # fmt: skip
    write_micrograph(
        out / "pictures" / made.file, printed.image, pixel_size_um=field.pixel_size_um, kv=KV, detector=DETECTOR,
        tilt_deg=0.0, jpeg_quality=JPEG_QUALITY,
    )  # fmt: skip
    codes = printed.place(field.codes, MaskCode.NOT_ASSESSED)
    Image.fromarray(codes).save(out / "masks" / Path(made.file).with_suffix(".png"), optimize=True)
    assessed = max(int((codes != MaskCode.NOT_ASSESSED).sum()), 1)
    return {
        "file": made.file,
        "specimen": made.specimen.name,
        "zone": made.zone,
        "stage": made.stage,
        "spot": made.spot,
        "pixel_size_um": field.pixel_size_um,
        "valley_fraction": float((codes == MaskCode.OPEN_VALLEY).sum() / assessed),
        "smeared_fraction": float((codes == MaskCode.SMEARED).sum() / assessed),
        "scuffed_fraction": float((codes == MaskCode.SCUFFED).sum() / assessed),
    }


def _responses(specimen: StudySpecimen, rows: list[dict], rng: np.random.Generator) -> dict:
    """Return the invented friction and iron of a specimen, from its true fractions by the formulas of the module."""

    def mean(name: str, *, run: bool) -> float:
        return float(np.mean([row[name] for row in rows if (row["zone"] == "in-track") == run]))

    lost = mean("valley_fraction", run=False) - mean("valley_fraction", run=True)
    smeared = mean("smeared_fraction", run=True) - mean("smeared_fraction", run=False)
    iron = (24 + 400 * max(0.0, lost - max(0.0, smeared))) * math.exp(rng.normal(0, 0.03))
    return {
        "specimen": specimen.name,
        "finish": specimen.finish,
        "oil": specimen.oil,
        "ring": specimen.ring,
        "friction": round(0.105 + 0.30 * max(0.0, lost) + rng.normal(0, 0.002), 3),
        "iron_ppm": round(iron, 0),
    }


def _write_plan(path: Path, truth: list[dict], specimens: list[dict]) -> None:
    import openpyxl

    book = openpyxl.Workbook()
    fields = book.active
    fields.title = "fields"
    fields.append(
        ["file", "specimen", "zone", "stage", "spot", "stroke_deg", "tilt_deg", "kv", "detector", "pixel_size_um"]
    )
    for row in truth:
        known = [row[name] for name in ("file", "specimen", "zone", "stage", "spot")]
        fields.append([*known, 90, 0, KV, DETECTOR, None])
    sheet = book.create_sheet("specimens")
    sheet.append(["specimen", *FACTORS, "reference", "friction", "iron_ppm"])
    for own in specimens:
        # Judged against the whole study's median: none is marked as reference.
        sheet.append([own["specimen"], *[own[factor] for factor in FACTORS], None, own["friction"], own["iron_ppm"]])
    note = book.create_sheet("notes")
    note.append(["All of it is simulated: pictures, friction and iron. The laboratory and its specimens are invented."])
    book.save(path)


def _write_truth(path: Path, truth: list[dict]) -> None:
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream)
        writer.writerow(truth[0])
        for row in truth:
            writer.writerow([f"{value:.6g}" if isinstance(value, float) else value for value in row.values()])


def _readme(pictures: int) -> str:
    cells = "\n".join(f"| {own.name} | {own.finish} | {own.oil} | {own.ring} |" for own in STUDY)
    return f"""# Simulated study

**Everything here is simulated**: the pictures, and the friction and iron figures, which are computed from the simulated
wear by formulas that stand in `semwear/simulate/study.py`. The laboratory and its specimens are invented.

| specimen | finish | oil | ring |
|---|---|---|---|
{cells}

- `pictures/`: {pictures} small micrographs, three in the track and three out of it for each specimen; of V4 one
  place was pictured before the test too.
- `heights/`: simulated height maps (.x3p) of the surfaces that pictures 1 of {HEIGHTS_OF} show, in the track and out of it.
- `plan.xlsx`: what the laboratory knew. `truth.csv`, `masks/`: the true answers.

    semwear measure pictures --plan plan.xlsx --out RESULTS
    semwear profile heights --pattern "{{specimen}}_{{zone}}" --stroke-deg 90 --out HEIGHTS
    semwear compare RESULTS --plan plan.xlsx --heights HEIGHTS --oil-mass-g 10 --out REPORT

V7 was smeared: its valleys are closed and its iron is low. Oil and ring interact.
"""
