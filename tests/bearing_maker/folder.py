"""A label folder of simulated specimens: pictures, masks, plan, truth and retention."""

import csv
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

from .camera import take
from .data_bar import LAYOUTS, add_bar
from .field import directions, field_surface
from .picture_file import size_note, write_picture
from .signal import draw_tables, emitted
from .specimen import Specimen, draw_specimen

ZONES = ("out-of-track", "in-track", "out-of-track", "in-track")
PLAN = ["file", "specimen", "zone", "stage", "stroke_deg", "tilt_deg", "pixel_size_um", "kv", "detector"]
TRUTH = [
    "file",
    "specimen",
    "zone",
    "pixel_size_um",
    "bar_label",
    "bar_px",
    "valley_fraction",
    "smeared_fraction",
    "scuffed_fraction",
    "plateau_fraction",
    "hone_angle_deg",
    "lay_1_deg",
    "lay_2_deg",
    "stroke_deg",
    "worn",
    "layout",
]
RETENTION = ["specimen", "valley_out_of_track", "valley_in_track", "retention"]
STATES = ("plateau", "valley", "smeared", "scuffed")


def make_folder(out: Path, fields: int, seed: int, width_px: int | None = None) -> None:
    """Write a folder of so many pictures, four a specimen; width_px makes all pictures that wide, at the same scale."""
    (out / "masks").mkdir(parents=True, exist_ok=True)
    plan, truth, retention = [], [], []
    for number in range(-(-fields // len(ZONES))):
        name = f"B{number + 1:03d}"
        rng = np.random.default_rng([seed, number])
        specimen = _cropped(draw_specimen(name, rng), width_px)
        dress = _dress(rng)
        of_specimen = []
        for index, zone in enumerate(ZONES[: fields - number * len(ZONES)]):
            own = np.random.default_rng([seed, number, index])
            planned, known = _field(out, specimen, zone, index, dress, own)
            plan.append(planned)
            of_specimen.append(known)
        truth += of_specimen
        retention += _retention(name, of_specimen)
    for file, columns, rows in (("plan", PLAN, plan), ("truth", TRUTH, truth), ("retention", RETENTION, retention)):
        with (out / f"{file}.csv").open("w", newline="", encoding="utf-8") as handle:
            writer = csv.DictWriter(handle, columns, lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


def _cropped(specimen: Specimen, width_px: int | None) -> Specimen:
    """Return the specimen photographed in a smaller frame at the same pixel size."""
    if width_px is None:
        return specimen
    height = round(specimen.setting.height_px * width_px / specimen.setting.width_px)
    return replace(specimen, setting=replace(specimen.setting, width_px=width_px, height_px=height))


def _dress(rng: np.random.Generator) -> dict:
    """Return how a specimen's pictures are kept: layout or metadata, file kind, bits and quality."""
    states = str(rng.choice(["bar", "metadata", "plan"], p=[0.86, 0.1, 0.04]))
    suffix = ".tif" if states == "metadata" else str(rng.choice([".tif", ".png", ".jpg"], p=[0.5, 0.25, 0.25]))
    return {
        "states": states,
        "layout": LAYOUTS[int(rng.integers(len(LAYOUTS)))],
        "suffix": suffix,
        "bits": int(rng.choice([8, 16])),
        "quality": int(rng.integers(82, 97)),
        "note": int(rng.integers(4)),
        "bar_seed": int(rng.integers(2**31)),
    }


def _field(
    out: Path, specimen: Specimen, zone: str, index: int, dress: dict, rng: np.random.Generator
) -> tuple[dict, dict]:
    """Write one field and return its rows of plan and truth."""
    worn = zone == "in-track"
    lays = tuple(lay + rng.normal(0, 0.5) for lay in specimen.finish.lays_deg)
    specimen = replace(specimen, finish=replace(specimen.finish, lays_deg=lays))
    setting = specimen.setting
    surface = field_surface(specimen, worn, rng)
    signal = emitted(surface, setting, draw_tables(setting, specimen.table_seed), rng)
    shot = take(signal, setting, specimen.table_seed, rng)
    grey, codes = shot.grey, np.where(shot.hidden, 255, surface.codes).astype(np.uint8)
    file = f"{specimen.name}_{'in' if worn else 'out'}_{index // 2 + 1}{dress['suffix']}"
    note, label, layout = "simulated micrograph", "", "none"
    if dress["states"] == "bar":
        facts = f"{setting.kv:g} kV  {setting.detector}"
        bar = add_bar(
            grey, dress["layout"], setting.bar_um, setting.bar_px, facts, np.random.default_rng(dress["bar_seed"])
        )
        full = np.full(bar.grey.shape, 255, np.uint8)
        top = codes.shape[0] if dress["layout"].place == "top" else 0
        start = bar.grey.shape[0] - codes.shape[0] if top else 0
        full[start : start + codes.shape[0]] = codes
        full[bar.hidden] = 255
        grey, codes, label, layout = bar.grey, full, bar.label, dress["layout"].name
    elif dress["states"] == "metadata":
        note, layout = size_note(setting.pixel_um, grey.shape, dress["bits"], dress["note"]), "metadata"
    write_picture(out / file, grey, dress["bits"], dress["quality"], note)
    cv2.imwrite(str(out / "masks" / f"{Path(file).stem}.png"), codes)
    angles, stroke, hone = directions(specimen)
    stroke = round(stroke, 1) % 180
    planned = {
        "file": file, "specimen": specimen.name, "zone": zone, "stage": "after", "stroke_deg": f"{stroke:.1f}",
        "tilt_deg": f"{setting.tilt_deg:g}", "kv": f"{setting.kv:g}", "detector": setting.detector,
        "pixel_size_um": f"{setting.pixel_um:.6g}" if dress["states"] == "plan" else "",
    }  # fmt: skip
    counts = np.bincount(codes[codes < 4], minlength=4)
    known = {f"{state}_fraction": f"{count / counts.sum():.6f}" for state, count in zip(STATES, counts, strict=True)}
    known |= {
        "file": file, "specimen": specimen.name, "zone": zone, "pixel_size_um": f"{setting.pixel_um:.8g}",
        "bar_label": label, "bar_px": setting.bar_px if label else "", "lay_1_deg": f"{angles[0]:.2f}",
        "lay_2_deg": f"{angles[1]:.2f}" if len(angles) > 1 else "", "stroke_deg": f"{stroke:.1f}",
        "hone_angle_deg": f"{hone:.2f}" if len(angles) > 1 else "", "worn": int(worn), "layout": layout,
    }  # fmt: skip
    return planned, known


def _retention(name: str, truth: list[dict]) -> list[dict]:
    """Return the specimen's ratio of mean valley fractions, if both zones were taken."""
    means = []
    for zone in ("out-of-track", "in-track"):
        values = [float(row["valley_fraction"]) for row in truth if row["zone"] == zone]
        if not values:
            return []
        means.append(float(np.mean(values)))
    ratio = f"{means[1] / means[0]:.6f}" if means[0] > 0 else ""
    return [dict(zip(RETENTION, [name, f"{means[0]:.6f}", f"{means[1]:.6f}", ratio], strict=True))]
