"""Writes a session: pictures, masks, the plan, the truth and the specimens' retention."""

import csv
import math
from pathlib import Path

import cv2
import numpy as np
import tifffile
from PIL import Image

from .beam import electron_picture
from .ground import draw_ground
from .layouts import LAYOUTS, Note, burn_mark
from .recipe import draw_specimen

SHARES = ("valley_fraction", "smeared_fraction", "scuffed_fraction", "plateau_fraction")
TRUTH = ("file", "specimen", "zone", "pixel_size_um", "bar_label", "bar_px", *SHARES)
TRUTH += ("hone_angle_deg", "lay_1_deg", "lay_2_deg", "stroke_deg", "worn", "layout")
PLAN = ("file", "specimen", "zone", "stage", "stroke_deg", "tilt_deg", "pixel_size_um", "kv", "detector")
RETENTION = ("specimen", "valley_out_of_track", "valley_in_track", "retention")
FORMATS = ("tif8", "tif16", "png", "jpg", "jpg", "tif8", "png16")
ZONES = ("out-of-track", "in-track", "out-of-track", "in-track")


def shares(states):
    """Valley, smeared, scuffed and plateau share of the assessed area."""
    counts = np.bincount(states.ravel(), minlength=256)
    total = counts[:4].sum()
    return [float(counts[code] / total) for code in (1, 2, 3, 0)]


def save_picture(path, picture, kind):
    if kind in ("tif16", "png16"):
        grey = np.round(picture * 65535).astype(np.uint16)
    else:
        grey = np.round(picture * 255).astype(np.uint8)
    if kind.startswith("tif"):
        tifffile.imwrite(path, grey, photometric="minisblack", metadata=None)
    elif kind == "png16":
        cv2.imwrite(str(path), grey)
    else:
        Image.fromarray(grey).save(path, **({"quality": 90} if kind == "jpg" else {}))


def _plans(seed, count):
    """Which specimens scuff, which layout and file type each has: dealt out, so that small sets hold all of them."""
    rng = np.random.default_rng([seed, 0])
    layouts = list(LAYOUTS)
    deal = []
    while len(deal) < count:
        deal += [str(name) for name in rng.permutation(layouts)]
    bare = rng.permutation(count) < round(0.15 * count)
    scuffs = rng.permutation(count) < max(1, round(0.3 * count))
    kinds = [str(kind) for _ in range(count // len(FORMATS) + 1) for kind in rng.permutation(FORMATS)]
    return [("" if bare[k] else deal[k], kinds[k], bool(scuffs[k])) for k in range(count)]


def make_field(seed, number, place, layout, scuffs, name):
    """One field of a specimen: picture (0-1), states and its row of truth."""
    specimen = draw_specimen(np.random.default_rng([seed, 1, number]), name, scuffs)
    rng = np.random.default_rng([seed, 2, number, place])
    zone = ZONES[place % 4]
    turn = rng.normal(0, 0.6)
    stroke = (specimen.stroke + turn) % 180
    ground = draw_ground(rng, specimen, stroke, turn, zone == "in-track")
    picture = electron_picture(rng, ground, specimen).astype(np.float32)
    states = ground.states
    if rng.random() < 0.1:
        picture, states = burn_mark(rng, picture, states)
    label, pixels = "", ""
    if layout:
        note = Note(rng, specimen, f"{name}-{place + 1}", picture.shape[1])
        picture, states = LAYOUTS[layout](rng, picture, states, note)
        label, pixels = note.label, note.pixels
    lays = [(lay + turn) % 180 for lay in specimen.hone.lays]
    truth = {
        "specimen": name,
        "zone": zone,
        "pixel_size_um": specimen.pixel,
        "bar_label": label,
        "bar_px": pixels,
        "hone_angle_deg": "" if specimen.hone.angle is None else round(specimen.hone.angle, 2),
        "lay_1_deg": round(lays[0], 2),
        "lay_2_deg": round(lays[1], 2) if len(lays) > 1 else "",
        "stroke_deg": round(stroke, 2),
        "worn": int(zone == "in-track"),
        "layout": layout or "none",
    }
    truth.update({key: round(value, 6) for key, value in zip(SHARES, shares(states), strict=True)})
    return np.clip(picture, 0, 1), states, truth, specimen


def write_session(out, fields, seed):
    out = Path(out)
    (out / "masks").mkdir(parents=True, exist_ok=True)
    count = math.ceil(fields / 4)
    truths, plans = [], []
    for number, (layout, kind, scuffs) in enumerate(_plans(seed, count)):
        name = f"L{number + 1:03d}"
        for place in range(min(4, fields - 4 * number)):
            picture, states, truth, specimen = make_field(seed, number, place, layout, scuffs, name)
            stem = f"{name.lower()}_{place + 1}"
            file = f"{stem}.{kind[:3]}"
            save_picture(out / file, picture, kind)
            cv2.imwrite(str(out / "masks" / f"{stem}.png"), states)
            truths.append({"file": file, **truth})
            plans.append(
                {
                    "file": file,
                    "specimen": name,
                    "zone": truth["zone"],
                    "stage": "after",
                    "stroke_deg": round(specimen.stroke),
                    "tilt_deg": f"{specimen.tilt:g}",
                    "pixel_size_um": "" if layout else specimen.pixel,
                    "kv": f"{specimen.beam.kv:g}",
                    "detector": specimen.beam.detector,
                }
            )
    _write(out / "truth.csv", TRUTH, truths)
    _write(out / "plan.csv", PLAN, plans)
    _write(out / "retention.csv", RETENTION, _retention(truths))


def _retention(truths):
    rows = []
    for name in dict.fromkeys(truth["specimen"] for truth in truths):
        means = []
        for zone in ("out-of-track", "in-track"):
            seen = [t["valley_fraction"] for t in truths if t["specimen"] == name and t["zone"] == zone]
            means.append(float(np.mean(seen)) if seen else math.nan)
        if not math.isnan(means[1]):
            rows.append(
                dict(zip(RETENTION, (name, *(round(m, 6) for m in means), round(means[1] / means[0], 6)), strict=True))
            )
    return rows


def _write(path, columns, rows):
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, columns)
        writer.writeheader()
        writer.writerows(rows)
