"""A label folder: pictures, masks, the plan, the truth and each specimen's valley retention."""

import csv
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import tifffile
from PIL import Image

from tests.leading_maker.field import draw_worn_stage, make_field
from tests.leading_maker.kept import Kept, of_specimen
from tests.leading_maker.section import draw_family, half_angle, turn

PLAN = ("file", "specimen", "zone", "stage", "stroke_deg", "tilt_deg", "pixel_size_um")
STATES = ("plateau", "valley", "smeared", "scuffed")
TRUTH = (
    "file", "specimen", "zone", "pixel_size_um", "valley_fraction", "smeared_fraction", "scuffed_fraction",
    "plateau_fraction", "hone_angle_deg", "lay_1_deg", "lay_2_deg", "stroke_deg", "worn", "kind",
)  # fmt: skip
RETENTION = ("specimen", "valley_out_of_track", "valley_in_track", "retention")
PIXEL_SIZES_UM = (0.2, 1.5)


@dataclass(frozen=True, kw_only=True)
class Specimen:
    """What one specimen's fields share: its kept figures, pixel size, picture's rows and columns, its worn stage, the file's
    ending, and its directions in degrees anticlockwise from the rows; the hone angle is bisected by the direction across
    the stroke."""

    name: str
    kept: Kept
    pixel_size_um: float
    shape: tuple[int, int]
    worn_stage: str
    ending: str
    hone_angle_deg: float
    lays_deg: tuple[float, float]
    stroke_deg: float


def draw_specimen(seed: int, number: int, scale: float) -> Specimen:
    """Draw a specimen: pixel size log-uniform in 0.2-1.5 µm, pictures of 600 x 800 to 960 x 1280 px times ``scale``."""
    kept = of_specimen(seed, number)
    rows = kept("rows").integers(600, 961)
    across, half = -np.rad2deg(turn(kept)), np.rad2deg(half_angle(kept, draw_family(kept)))
    low, high = np.log(PIXEL_SIZES_UM)
    return Specimen(
        name=f"LD-{number + 1:03d}",
        kept=kept,
        pixel_size_um=round(float(np.exp(kept("pixel size").uniform(low, high))), 5),
        shape=(int(round(rows * scale)), int(round(rows * 4 / 3 * scale))),
        worn_stage=draw_worn_stage(kept),
        ending=str(kept("ending").choice(["tif", "png"])),
        hone_angle_deg=float(2 * half),
        lays_deg=(float((across + half) % 180), float((across - half) % 180)),
        stroke_deg=float((across + 90) % 180),
    )


def write_folder(out: Path, fields: int, seed: int, scale: float = 1.0) -> None:
    """Write a label folder of ``fields`` pictures, four to a specimen: two out of the track, then two in it."""
    cv2.setNumThreads(1)
    (out / "masks").mkdir(parents=True, exist_ok=True)
    truth, retention = [], []
    for number in range((fields + 3) // 4):
        specimen = draw_specimen(seed, number, scale)
        shares: dict[str, list[float]] = {"out-of-track": [], "in-track": []}
        for n in range(min(4, fields - 4 * number)):
            zone = "in-track" if n >= 2 else "out-of-track"
            row = write_field(out, np.random.default_rng([seed, number, n + 1]), specimen, zone, n % 2 + 1)
            shares[zone].append(row["valley_fraction"])
            truth.append(row)
        if shares["in-track"]:
            outside, inside = (float(np.mean(shares[zone])) for zone in ("out-of-track", "in-track"))
            ratio = round(inside / outside, 5) if outside else ""
            values = (specimen.name, round(outside, 6), round(inside, 6), ratio)
            retention.append(dict(zip(RETENTION, values, strict=True)))
    plan = [{"stage": "after", "tilt_deg": "0"} | {name: row[name] for name in PLAN if name in row} for row in truth]
    for name, columns, rows in (("plan", PLAN, plan), ("truth", TRUTH, truth), ("retention", RETENTION, retention)):
        with (out / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, columns, lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


def write_field(out: Path, rng: np.random.Generator, specimen: Specimen, zone: str, n: int) -> dict[str, object]:
    """Draw and write one field; returns its row of the truth."""
    worn = zone == "in-track"
    stage = specimen.worn_stage if worn else "unworn"
    drawn = make_field(rng, specimen.kept, stage, specimen.pixel_size_um, specimen.shape)
    stem = f"{specimen.name}_{'in' if worn else 'out'}_{n}"
    name = f"{stem}.{specimen.ending}"
    if specimen.ending == "tif":
        said = "simulated micrograph"
        tifffile.imwrite(
            out / name, drawn.image, photometric="minisblack", description=said, metadata=None, software=False
        )
    else:
        Image.fromarray(drawn.image).save(out / name)
    cv2.imwrite(str(out / "masks" / f"{stem}.png"), drawn.codes)
    counts = np.bincount(drawn.codes.ravel(), minlength=256)[:4]
    shares = dict(zip(STATES, (counts / max(counts.sum(), 1)).round(6), strict=True))
    return {
        "file": name, "specimen": specimen.name, "zone": zone, "pixel_size_um": specimen.pixel_size_um,
        **{f"{state}_fraction": float(share) for state, share in shares.items()},
        "hone_angle_deg": round(specimen.hone_angle_deg, 3), "lay_1_deg": round(specimen.lays_deg[0], 3),
        "lay_2_deg": round(specimen.lays_deg[1], 3), "stroke_deg": round(specimen.stroke_deg, 3), "worn": int(worn),
        "kind": drawn.kind,
    }  # fmt: skip
