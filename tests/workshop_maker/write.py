"""Writes a label folder: pictures, masks and the tables plan.csv, truth.csv and retention.csv."""

import csv
from pathlib import Path

import cv2
import numpy as np
import tifffile
from PIL import Image, PngImagePlugin

from .field import Field, make_field, truth_of
from .recipe import Specimen, draw_specimen

FIELDS_EACH = 4
IN_TRACK = (False, True, False, True)
KINDS = ("tif8", "tif16", "png", "jpg", "png16")


def _ome(specimen: Specimen, shape: tuple[int, int], kind: str) -> str:
    size = f"{specimen.pixel_size_um:.8g}"
    return (
        '<?xml version="1.0" encoding="UTF-8"?><OME xmlns="http://www.openmicroscopy.org/Schemas/OME/2016-06">'
        f'<Image ID="Image:0" Name="simulated {specimen.name}"><Pixels ID="Pixels:0" DimensionOrder="XYCZT" Type="{kind}" '
        f'SizeX="{shape[1]}" SizeY="{shape[0]}" SizeC="1" SizeZ="1" SizeT="1" PhysicalSizeX="{size}" '
        f'PhysicalSizeXUnit="&#181;m" PhysicalSizeY="{size}" PhysicalSizeYUnit="&#181;m">'
        '<Channel ID="Channel:0:0" SamplesPerPixel="1"/><TiffData/></Pixels></Image></OME>'
    )


def save_picture(path: Path, grey: np.ndarray, specimen: Specimen, kind: str) -> None:
    """Write one picture; 16-bit ones keep the fraction of a grey value."""
    deep = kind.endswith("16")
    pixels = np.round(grey * 257).astype(np.uint16) if deep else np.round(grey).astype(np.uint8)
    if kind.startswith("tif"):
        note = f"simulated micrograph {specimen.name}"
        if specimen.scale_from == "description":
            note += f"; pixel size {specimen.pixel_size_um:.8g} um"
        elif specimen.scale_from == "ome":
            note = _ome(specimen, pixels.shape, str(pixels.dtype))
        tifffile.imwrite(path, pixels, description=note, metadata=None, software="simulated")
    elif kind == "jpg":
        Image.fromarray(pixels).save(path, quality=92, comment=b"simulated micrograph")
    else:
        facts = PngImagePlugin.PngInfo()
        facts.add_text("Description", "simulated micrograph")
        Image.fromarray(pixels).save(path, pnginfo=facts)


def _rows(specimen: Specimen, name: str, field: Field, in_track: bool) -> tuple[dict, dict]:
    zone = "in-track" if in_track else "out-of-track"
    truth = truth_of(specimen, field)
    plan = {
        "file": name, "specimen": specimen.name, "zone": zone, "stage": "after", "stroke_deg": truth["stroke_deg"],
        "tilt_deg": f"{specimen.tilt_deg:.1f}", "pixel_size_um": "", "kv": f"{specimen.setting.kv:g}",
        "detector": specimen.setting.detector,
    }  # fmt: skip
    layout = truth.pop("layout")
    row = {"file": name, "specimen": specimen.name, "zone": zone} | truth | {"worn": int(in_track), "layout": layout}
    return plan, row


def _table(path: Path, rows: list[dict], columns: tuple[str, ...] = ()) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, columns or list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def retention_rows(truth: list[dict]) -> list[dict]:
    """Return each specimen's valley retention: a ratio of means over its fields."""
    rows = []
    for name in dict.fromkeys(row["specimen"] for row in truth):
        shares = {
            zone: [float(row["valley_fraction"]) for row in truth if row["specimen"] == name and row["zone"] == zone]
            for zone in ("out-of-track", "in-track")
        }
        if all(shares.values()):
            out, track = (float(np.mean(values)) for values in shares.values())
            rows.append({
                "specimen": name, "valley_out_of_track": f"{out:.6f}", "valley_in_track": f"{track:.6f}",
                "retention": f"{track / out:.6f}" if out > 0 else "",
            })  # fmt: skip
    return rows


def write_folder(out: Path, fields: int, seed: int) -> None:
    """Write a label folder with this many fields; the same seed gives the same bytes."""
    (out / "masks").mkdir(parents=True, exist_ok=True)
    plans, truths = [], []
    for index in range(fields):
        number, which = divmod(index, FIELDS_EACH)
        specimen = draw_specimen(seed, number)
        field = make_field(seed, specimen, which, IN_TRACK[which])
        kind = KINDS[(seed + number * 3 + number // 5) % len(KINDS)]
        if specimen.scale_from != "bar" and not kind.startswith("tif"):
            kind = "tif16" if number % 2 else "tif8"
        stem = f"{specimen.name}_{'run' if IN_TRACK[which] else 'unrun'}_{which // 2 + 1}"
        name = f"{stem}.{kind.rstrip('0123456789') if kind != 'tif8' else 'tif'}"
        save_picture(out / name, field.grey, specimen, kind)
        cv2.imwrite(str(out / "masks" / f"{stem}.png"), field.codes)
        plan, truth = _rows(specimen, name, field, IN_TRACK[which])
        plans.append(plan)
        truths.append(truth)
    _table(out / "plan.csv", plans)
    _table(out / "truth.csv", truths)
    columns = ("specimen", "valley_out_of_track", "valley_in_track", "retention")
    _table(out / "retention.csv", retention_rows(truths), columns)
