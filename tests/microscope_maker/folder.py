"""The labelled folder: pictures, their masks, the plan that states their pixel size, the truth, the valley retention."""

import csv
from pathlib import Path

import cv2
import numpy as np
import tifffile
from PIL import Image

from tests.microscope_maker.drawn import DrawnField
from tests.microscope_maker.field import make_field
from tests.microscope_maker.specimen import Specimen, draw_specimen

ZONES = ("out-of-track", "out-of-track", "in-track", "in-track")
STATES = ("plateau", "valley", "smeared", "scuffed")


def write_folder(out: Path, fields: int, seed: int, scale: float = 1.0) -> None:
    """Write ``fields`` pictures, four to a specimen, of which the first two are out of the track; all follows from the seed."""
    cv2.setNumThreads(1)
    (out / "masks").mkdir(parents=True, exist_ok=True)
    plan, truth, retention = [], [], []
    for start in range(0, fields, len(ZONES)):
        number = start // len(ZONES)
        specimen = draw_specimen(seed, number, scale)
        rows = []
        for n, zone in enumerate(ZONES[: fields - start]):
            rng = np.random.default_rng([seed, number, n])
            drawn = make_field(
                rng, specimen.own, pixel_size_um=specimen.pixel_size_um, shape=specimen.shape, worn=zone == "in-track"
            )
            name = _write_picture(out, f"{specimen.name}_{n + 1}", specimen.ending, drawn)
            plan.append(_plan_row(name, specimen, zone))
            rows.append(_truth_row(name, specimen, zone, drawn))
        truth += rows
        if rows[-1]["zone"] == "in-track":
            retention.append(_retention_row(specimen, rows))
    for name, table in (("plan", plan), ("truth", truth), ("retention", retention)):
        if table:
            with (out / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
                writer = csv.DictWriter(file, list(table[0]), lineterminator="\n")
                writer.writeheader()
                writer.writerows(table)


def _write_picture(out: Path, stem: str, ending: str, drawn: DrawnField) -> str:
    """Write a picture and its mask; returns the picture's name."""
    path = out / f"{stem}.{ending}"
    if ending == "tif":
        told = {"description": "simulated micrograph", "metadata": None, "software": False}
        tifffile.imwrite(path, drawn.image, photometric="minisblack", **told)
    else:
        Image.fromarray(drawn.image).save(path)
    Image.fromarray(drawn.codes).save(out / "masks" / f"{stem}.png")
    return path.name


def _plan_row(name: str, specimen: Specimen, zone: str) -> dict[str, object]:
    return {
        "file": name, "specimen": specimen.name, "zone": zone, "stage": "after",
        "stroke_deg": round(specimen.stroke_deg, 3), "tilt_deg": 0, "pixel_size_um": specimen.pixel_size_um,
        "kv": f"{specimen.beam.kv:g}", "detector": "BSE" if specimen.beam.back else "SE",
    }  # fmt: skip


def _truth_row(name: str, specimen: Specimen, zone: str, drawn: DrawnField) -> dict[str, object]:
    """Return a field's truth; the states' shares are of the assessed area."""
    assessed = drawn.codes[drawn.codes != 255]
    return {
        "file": name, "specimen": specimen.name, "zone": zone, "pixel_size_um": specimen.pixel_size_um,
        **{f"{state}_fraction": round(float((assessed == code).mean()), 6) for code, state in enumerate(STATES)},
        "hone_angle_deg": round(specimen.hone_angle_deg, 3), "lay_1_deg": round(specimen.lays_deg[0], 3),
        "lay_2_deg": round(specimen.lays_deg[1], 3), "stroke_deg": round(specimen.stroke_deg, 3),
        "worn": int(drawn.worn.all()), "finish": specimen.finish, "kind": drawn.kind,
    }  # fmt: skip


def _retention_row(specimen: Specimen, rows: list[dict[str, object]]) -> dict[str, object]:
    """Return the ratio of the mean valley shares in the track and out of it."""
    outside, inside = (
        float(np.mean([row["valley_fraction"] for row in rows if row["zone"] == zone])) for zone in (ZONES[0], ZONES[-1])
    )
    return {
        "specimen": specimen.name, "valley_out_of_track": round(outside, 6), "valley_in_track": round(inside, 6),
        "retention": round(inside / outside, 5) if outside else "",
    }  # fmt: skip
