"""A label folder: pictures, masks, the plan, the truth and each specimen's valley retention."""

import csv
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import tifffile
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from tests.sheet_maker.camera import draw_faults
from tests.sheet_maker.data_bar import Scale, add_data_bar, draw_scale
from tests.sheet_maker.picture import take
from tests.sheet_maker.setting import Specimen, draw_specimen
from tests.sheet_maker.surface import make_surface

PLAN = ("file", "specimen", "zone", "stage", "stroke_deg", "tilt_deg", "pixel_size_um", "kv", "detector")
STATES = ("plateau", "valley", "smeared", "scuffed")
TRUTH = (
    "file", "specimen", "zone", "pixel_size_um", "bar_label", "bar_px", "valley_fraction", "smeared_fraction",
    "scuffed_fraction", "plateau_fraction", "hone_angle_deg", "lay_1_deg", "lay_2_deg", "stroke_deg", "worn", "layout",
    "bar_left_px", "bar_row_px",
)  # fmt: skip
RETENTION = ("specimen", "valley_out_of_track", "valley_in_track", "retention")
FORMATS = ("8-bit tif", "16-bit tif", "png", "16-bit png", "jpg")


def write_folder(out: Path, fields: int, seed: int, scale: float = 1.0) -> None:
    """Write a label folder of ``fields`` pictures, four to a specimen: two out of the track, then two in it."""
    (out / "masks").mkdir(parents=True, exist_ok=True)
    plan, truth, retention = [], [], []
    for number in range((fields + 3) // 4):
        rng = np.random.default_rng([seed, number])
        specimen = draw_specimen(rng, f"SH-{number + 1:03d}", scale)
        bar = draw_scale(rng, specimen)
        specimen = replace(specimen, pixel_size_um=bar.pixel_size_um)
        kind = FORMATS[
            rng.integers(0, 2)
            if bar.layout.name.endswith("metadata")
            else rng.choice(5, p=(3, 2, 2, 1, 2) / np.float64(10))
        ]
        shares: dict[str, list[float]] = {"out-of-track": [], "in-track": []}
        for n in range(min(4, fields - 4 * number)):
            zone = "in-track" if n >= 2 else "out-of-track"
            row = write_field(out, np.random.default_rng([seed, number, n + 1]), specimen, bar, kind, zone, n % 2 + 1)
            shares[zone].append(row["valley_fraction"])
            truth.append(row)
            plan.append(plan_row(row, specimen, bar))
        if shares["in-track"]:
            outside, inside = (float(np.mean(shares[zone])) for zone in ("out-of-track", "in-track"))
            ratio = round(inside / outside, 5) if outside else ""
            retention.append(
                dict(zip(RETENTION, (specimen.name, round(outside, 6), round(inside, 6), ratio), strict=True))
            )
    for name, columns, rows in (("plan", PLAN, plan), ("truth", TRUTH, truth), ("retention", RETENTION, retention)):
        with (out / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, columns, lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


def write_field(
    out: Path, rng: np.random.Generator, specimen: Specimen, bar: Scale, kind: str, zone: str, n: int
) -> dict[str, object]:  # fmt: skip
    """Make and write one field; returns its row of the truth."""
    worn = zone == "in-track"
    varied = replace(
        specimen,
        level=specimen.level * float(np.exp(rng.normal(0, 0.03))),
        gain=specimen.gain * float(np.exp(rng.normal(0, 0.04))),
    )
    surface = make_surface(rng, varied, worn)
    value, codes = take(rng, surface, varied, draw_faults(rng))
    words = f"SIMULATED {specimen.name} {specimen.kv:g} kV {specimen.detector} {rng.integers(60, 140) / 10:.1f} mm"
    pixels, codes, at = add_data_bar(value * 255, codes, bar, words)
    stem = f"{specimen.name}_{'in' if worn else 'out'}_{n}"
    name = write_picture(out, stem, pixels, bar, kind)
    cv2.imwrite(str(out / "masks" / f"{stem}.png"), codes)
    counts = np.bincount(codes.ravel(), minlength=256)[:4]
    shares = dict(zip(STATES, (counts / max(counts.sum(), 1)).round(6), strict=True))
    lays = specimen.lays_deg
    return {
        "file": name, "specimen": specimen.name, "zone": zone, "pixel_size_um": round(bar.pixel_size_um, 8),
        "bar_label": bar.label, "bar_px": bar.bar_px or "",
        **{f"{state}_fraction": float(share) for state, share in shares.items()},
        "hone_angle_deg": round(specimen.hone_angle_deg, 3) if len(lays) > 1 else "", "lay_1_deg": round(lays[0], 3),
        "lay_2_deg": round(lays[1], 3) if len(lays) > 1 else "", "stroke_deg": round(specimen.stroke_deg, 3),
        "worn": int(worn), "layout": bar.layout.name, "bar_left_px": at[0] if at else "", "bar_row_px": at[1] if at else "",
    }  # fmt: skip


def plan_row(row: dict[str, object], specimen: Specimen, bar: Scale) -> dict[str, object]:
    """Return a field's row of the plan; the pixel size only where the picture doesn't state it."""
    given = row["pixel_size_um"] if bar.layout.name == "no bar, given in the plan" else ""
    return {
        "file": row["file"], "specimen": specimen.name, "zone": row["zone"], "stage": "after",
        "stroke_deg": row["stroke_deg"], "tilt_deg": f"{specimen.tilt_deg:g}", "pixel_size_um": given,
        "kv": f"{specimen.kv:g}", "detector": specimen.detector,
    }  # fmt: skip


def write_picture(out: Path, stem: str, pixels: np.ndarray, bar: Scale, kind: str) -> str:
    """Write a picture of 0-255 floats in one of the formats; returns its name."""
    eight = np.clip(np.round(pixels), 0, 255).astype(np.uint8)
    sixteen = np.clip(np.round(pixels * 257), 0, 65535).astype(np.uint16)
    name = f"{stem}.{kind.split()[-1]}"
    if kind.endswith("tif"):
        data = sixteen if kind.startswith("16") else eight
        said: str | None = "simulated micrograph"
        if bar.layout.name == "no bar, text metadata":
            said = f"simulated micrograph; pixel size {bar.pixel_size_um:g} um"
        if bar.layout.name == "no bar, OME metadata":
            said = _ome(data, bar.pixel_size_um)
        tifffile.imwrite(out / name, data, photometric="minisblack", description=said, metadata=None, software=False)
    elif kind.endswith("png"):
        marked = PngInfo()
        marked.add_text("Description", "simulated micrograph")
        Image.fromarray(sixteen if kind.startswith("16") else eight).save(out / name, pnginfo=marked)
    else:
        Image.fromarray(eight).save(out / name, quality=92, comment="simulated micrograph")
    return name


def _ome(data: np.ndarray, pixel_size_um: float) -> str:
    rows, cols = data.shape
    return (
        '<?xml version="1.0" encoding="UTF-8"?><OME xmlns="http://www.openmicroscopy.org/Schemas/OME/2016-06">'
        '<Image ID="Image:0" Name="simulated"><Pixels ID="Pixels:0" DimensionOrder="XYCZT" '
        f'Type="{data.dtype}" SizeX="{cols}" SizeY="{rows}" SizeC="1" SizeZ="1" SizeT="1" '
        f'PhysicalSizeX="{pixel_size_um:g}" PhysicalSizeXUnit="&#181;m" PhysicalSizeY="{pixel_size_um:g}" '
        'PhysicalSizeYUnit="&#181;m"><TiffData/></Pixels></Image></OME>'
    )
