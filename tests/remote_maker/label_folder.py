"""A whole label folder from a seed: fields of many specimens, masks, and the tables of plan, truth and retention."""

import csv
from pathlib import Path

import numpy as np

from .bar_layouts import BARE, LAYOUTS, Layout
from .data_bar import print_bar
from .field import make_field
from .files import KIND_WEIGHTS, KINDS, statement_of, write_mask, write_picture
from .randomness import Rng, generator
from .specimen import Specimen, draw_specimen, field_of
from .truth import shares

ZONES = ("out-of-track", "out-of-track", "in-track", "in-track")
PLAN = ("file", "specimen", "zone", "stage", "stroke_deg", "tilt_deg", "pixel_size_um", "kv", "detector")
TRUTH = ("file", "specimen", "zone", "pixel_size_um", "bar_label", "bar_px", "valley_fraction", "smeared_fraction",
         "scuffed_fraction", "plateau_fraction", "hone_angle_deg",
         "lay_1_deg", "lay_2_deg", "stroke_deg", "worn", "layout")  # fmt: skip
RETENTION = ("specimen", "valley_out_of_track", "valley_in_track", "retention")


def make_folder(folder: Path, fields: int, seed: int) -> None:
    """Write ``fields`` fields, four a specimen (two of either zone), into a folder that is made where it is missing."""
    folder.mkdir(parents=True, exist_ok=True)
    plan, truth = [], []
    turns = generator(seed).permutation(len(LAYOUTS))
    for number in range(fields):
        of_specimen, place = divmod(number, len(ZONES))
        rng = generator(seed, of_specimen)
        specimen = draw_specimen(rng, f"RM-{of_specimen + 1:03d}")
        layout = _draw_layout(rng, int(turns[of_specimen % len(turns)]))
        row, stated = _one_field(folder, specimen, layout, ZONES[place], place, generator(seed, of_specimen, place + 1))
        plan.append(row)
        truth.append(stated)
    _write(folder / "plan.csv", PLAN, plan)
    _write(folder / "truth.csv", TRUTH, truth)
    _write(folder / "retention.csv", RETENTION, _retention(truth))


def _draw_layout(rng: Rng, turn: int) -> tuple[Layout, str]:
    """Return a layout, the one whose turn it is or none, and where the pixel size stands: bar, metadata or plan."""
    chance = rng.random()
    if chance < 0.1:
        return BARE, "metadata"
    if chance < 0.14:
        return BARE, "plan"
    return LAYOUTS[turn], "bar"


def _one_field(
    folder: Path, specimen: Specimen, bar: tuple[Layout, str], zone: str, place: int, rng: Rng
) -> tuple[dict, dict]:
    layout, source = bar
    specimen = field_of(specimen, rng)
    field = make_field(specimen, zone == "in-track", rng)
    printed = print_bar(field.grey, field.codes, specimen, layout, rng)
    kind = str(rng.choice(KINDS, p=KIND_WEIGHTS))
    if source != "bar":
        kind = str(rng.choice(["tif8", "tif16"]))
    statement = statement_of(specimen.pixel_um, printed.grey.shape, kind, rng) if source == "metadata" else ""
    stem = f"{specimen.name}_{zone}_{place % 2 + 1}"
    name = write_picture(folder, stem, printed.grey, kind, statement, rng)
    write_mask(folder, stem, printed.codes)
    found, setting = shares(printed.codes), specimen.setting
    lays = [f"{lay:.2f}" for lay in field.lays_deg] + [""] * (2 - len(field.lays_deg))
    common = {"file": name, "specimen": specimen.name, "zone": zone, "stroke_deg": f"{specimen.stroke_deg:.2f}"}
    plan = common | {
        "stage": "after", "tilt_deg": f"{setting.tilt_deg:g}", "kv": f"{setting.kv:g}", "detector": setting.detector,
        "pixel_size_um": f"{specimen.pixel_um:g}" if source == "plan" else "",
    }  # fmt: skip
    truth = common | {f"{state}_fraction": f"{share:.6f}" for state, share in found.items()} | {
        "pixel_size_um": f"{specimen.pixel_um:g}", "bar_label": printed.label,
        "bar_px": str(printed.bar_px) if printed.label else "",
        "hone_angle_deg": f"{specimen.hone_angle_deg:.2f}" if len(field.lays_deg) == 2 else "",
        "lay_1_deg": lays[0], "lay_2_deg": lays[1], "worn": str(int(zone == "in-track")), "layout": layout.name,
    }  # fmt: skip
    return plan, truth


def _retention(truth: list[dict]) -> list[dict]:
    """Return valley fractions of either zone and their ratio, a ratio of means, for specimens that have both."""
    rows = []
    for name in dict.fromkeys(row["specimen"] for row in truth):
        means = []
        for zone in ("out-of-track", "in-track"):
            values = [float(row["valley_fraction"]) for row in truth if row["specimen"] == name and row["zone"] == zone]
            means.append(float(np.mean(values)) if values else None)
        if None not in means and means[0] > 0:
            rows.append({"specimen": name, "valley_out_of_track": f"{means[0]:.6f}", "valley_in_track": f"{means[1]:.6f}",
                         "retention": f"{means[1] / means[0]:.6f}"})  # fmt: skip
    return rows


def _write(path: Path, columns: tuple[str, ...], rows: list[dict]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, columns, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
