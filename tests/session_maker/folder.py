"""The labelled folder: pictures, masks that can be looked at, the plan, the truth and the valley retention."""

import csv
from pathlib import Path

import cv2
import numpy as np
import tifffile
from PIL import Image

from tests.session_maker.session import NOT_ASSESSED, ZONES, DrawnField, Sitting, draw_field, draw_session

STATES = ("plateau", "valley", "smeared", "scuffed")
PLAN = ("file", "specimen", "zone", "stage", "spot", "stroke_deg", "pixel_size_um", "tilt_deg", "kv", "detector")

COLOURS = {0: (90, 90, 90), 1: (30, 110, 255), 2: (255, 190, 0), 3: (230, 30, 30), NOT_ASSESSED: (255, 255, 255)}
"""Of the masks' codes, red, green, blue: own choice."""


def write_folder(
    out: Path, specimens: int, seed: int, scale: float = 1.0, *, with_pixel_size: bool = False
) -> None:  # fmt: skip
    """Write six pictures a specimen, of which the first three are out of the track; all follows from the seed.

    ``scale`` times the usual pixels each way; ``with_pixel_size``: the plan states the pixel size, which else only the
    printed bars do.
    """
    cv2.setNumThreads(1)
    (out / "masks").mkdir(parents=True, exist_ok=True)
    plan: list[dict[str, object]] = []
    truth: list[dict[str, object]] = []
    retention: list[dict[str, object]] = []
    for sitting in draw_session(seed, specimens, scale):
        shares = []
        for place, zone in enumerate(ZONES):
            drawn = draw_field(sitting, place)
            name = _write_picture(out, sitting, sitting.stems[place], drawn)
            plan.append(_plan_row(name, sitting, zone, with_pixel_size))
            shares.append(_shares(drawn.codes))
            truth.append(_truth_row(name, sitting, zone, shares[-1]))
        retention.append(_retention_row(sitting, [share["valley"] for share in shares]))
    for name, table in (("plan", plan), ("truth", truth), ("retention", retention)):
        if table:
            with (out / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
                writer = csv.DictWriter(file, list(table[0]), lineterminator="\n")
                writer.writeheader()
                writer.writerows(table)


def _write_picture(out: Path, sitting: Sitting, stem: str, drawn: DrawnField) -> str:
    """Write a picture and its mask; returns the picture's name."""
    path = out / f"{stem}.{sitting.ending}"
    picture = np.repeat(drawn.picture[:, :, None], 3, 2) if sitting.in_colour else drawn.picture
    if sitting.ending == "tif":
        tifffile.imwrite(path, picture, photometric="rgb" if sitting.in_colour else "minisblack", metadata=None)
    elif sitting.ending == "jpg":
        Image.fromarray(picture).save(path, quality=sitting.quality)
    else:
        Image.fromarray(picture).save(path)
    mask = Image.fromarray(drawn.codes)
    mask.putpalette([part for code in range(256) for part in COLOURS.get(code, (0, 0, 0))])
    mask.save(out / "masks" / f"{stem}.png")
    return path.name


def _shares(codes: np.ndarray) -> dict[str, float]:
    """Return the states' shares of the assessed area."""
    assessed = codes[codes != NOT_ASSESSED]
    return {state: float((assessed == code).mean()) for code, state in enumerate(STATES)}


def _plan_row(name: str, sitting: Sitting, zone: str, with_pixel_size: bool) -> dict[str, object]:
    """Return what a session's plan knows of a field; of the stroke it knows it for two specimens in three."""
    specimen = sitting.specimen
    row: dict[str, object] = dict.fromkeys(PLAN, "")
    row |= {"file": name, "specimen": sitting.name, "zone": zone}
    if specimen.stroke_known:
        row["stroke_deg"] = f"{specimen.stated_stroke_deg:g}"
    if with_pixel_size:
        row["pixel_size_um"] = f"{specimen.pixel_size_um:.6f}"
    return row


def _truth_row(name: str, sitting: Sitting, zone: str, shares: dict[str, float]) -> dict[str, object]:
    row = {"file": name, "specimen": sitting.name, "zone": zone}
    row["pixel_size_um"] = f"{sitting.specimen.pixel_size_um:.6f}"
    return row | {f"{state}_fraction": f"{shares[state]:.8f}" for state in STATES[1:]}


def _retention_row(sitting: Sitting, valley: list[float]) -> dict[str, object]:
    """Return the ratio of the mean valley shares in the track and out of it; ``valley``: the six fields' shares."""
    by_zone = {zone: [share for share, of in zip(valley, ZONES, strict=True) if of == zone] for zone in ZONES}
    outside, inside = (float(np.mean(by_zone[zone])) for zone in ("out-of-track", "in-track"))
    return {
        "specimen": sitting.name, "valley_out_of_track": f"{outside:.8f}", "valley_in_track": f"{inside:.8f}",
        "retention": f"{inside / outside:.8f}" if outside else "",
    }  # fmt: skip
