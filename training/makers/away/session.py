"""A folder of micrographs with plan, truth and masks: four fields a specimen, two outside the track and two inside."""

import csv
from pathlib import Path

import cv2
import numpy as np
import tifffile

from .bars import LAYOUTS, add_bar, burn_mark
from .field import draw_specimen, make_field
from .ground import Frame

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
PLAN = ["file", "specimen", "zone", "stage", "stroke_deg", "tilt_deg", "pixel_size_um", "kv", "detector"]
RETENTION = ["specimen", "valley_out_of_track", "valley_in_track", "retention"]


def fractions(codes: np.ndarray) -> list[float]:
    """Shares of plateau, valley, smeared, scuffed in the assessed area."""
    counts = np.bincount(codes.ravel(), minlength=256)[:4]
    return [float(c) for c in counts / max(counts.sum(), 1)]


def _save(rng: np.random.Generator, path: Path, grey: np.ndarray, kind: str) -> None:
    if kind == "tif16":
        deep = grey.astype(np.uint16) * 257
        noise = rng.integers(-120, 121, grey.shape)
        inside = (grey > 0) & (grey < 255)
        deep = np.where(inside, np.clip(deep + noise, 0, 65535), deep).astype(np.uint16)
        tifffile.imwrite(path, deep, photometric="minisblack", metadata=None, compression="zlib")
    elif kind == "tif8":
        tifffile.imwrite(path, grey, photometric="minisblack", metadata=None)
    elif kind == "jpg":
        cv2.imwrite(str(path), grey, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(80, 97))])
    else:
        cv2.imwrite(str(path), grey)


def _write(path: Path, columns: tuple | list, rows: list[dict]) -> None:
    with path.open("w", newline="", encoding="utf-8") as handle:
        out = csv.DictWriter(handle, columns)
        out.writeheader()
        out.writerows(rows)


def _round(value: float | None, digits: int) -> str:
    return "" if value is None else f"{value:.{digits}f}"


def write_session(folder: Path, fields: int, seed: int, cols: tuple[int, int] = (900, 1301)) -> None:
    """Write `fields` micrographs; the same seed gives the same files."""
    (folder / "masks").mkdir(parents=True, exist_ok=True)
    truth, plan, retention = [], [], []
    for number in range((fields + 3) // 4):
        draw = np.random.default_rng([seed, number])
        specimen = draw_specimen(draw)
        name = f"{'BDHKMRTW'[int(draw.integers(8))]}{number + 11:02d}"
        pixel = float(np.exp(draw.uniform(np.log(0.15), np.log(1.8))))
        size = (int(draw.integers(*cols)), float(draw.uniform(0.68, 0.9)))
        layout = str(draw.choice(list(LAYOUTS))) if draw.random() > 0.15 else ""
        kind = str(draw.choice(["tif8", "tif16", "png", "jpg"]))
        tilt = float(draw.choice([0, 0, 0, 1, 2, 3]))
        valleys = {"out-of-track": [], "in-track": []}
        for part in range(min(4, fields - 4 * number)):
            rng = np.random.default_rng([seed, number, part, 7])
            worn = part >= 2
            zone = "in-track" if worn else "out-of-track"
            near = float(f"{pixel * (1 + rng.uniform(-0.015, 0.015)):.5f}")
            frame = Frame(int(size[0] * size[1]), size[0], near)
            made = make_field(rng, specimen, frame, worn)
            grey = np.rint(255 * made.grey).astype(np.uint8)
            codes, label, bar_px = made.codes, "", ""
            if rng.random() < 0.1:
                codes[burn_mark(rng, grey)] = 255
            beam = specimen["beam"]
            if layout:
                facts = {"kv": beam["kv"], "detector": beam["detector"], "tilt": tilt, "name": f"{name}/{part + 1}"}
                barred = add_bar(np.random.default_rng([seed, number, 99]), grey, near, layout, facts)
                full = np.full(barred.grey.shape, 255, np.uint8)
                top = grey.shape[0] if LAYOUTS[layout][0] == "above" else 0
                top = barred.grey.shape[0] - top if top else 0
                full[top : top + codes.shape[0]] = codes
                full[barred.taken] = 255
                grey, codes, label, bar_px = barred.grey, full, barred.label, barred.bar_px
            stem = f"{name}_{part + 1}"
            file = f"{stem}.{'tif' if kind.startswith('tif') else kind}"
            _save(rng, folder / file, grey, kind)
            cv2.imwrite(str(folder / "masks" / f"{stem}.png"), codes)
            plateau, valley, smeared, scuffed = fractions(codes)
            valleys[zone].append(valley)
            lay_2 = made.lays_deg[1] if len(made.lays_deg) > 1 else None
            common = {"file": file, "specimen": name, "zone": zone, "stroke_deg": _round(made.stroke_deg, 2)}
            truth.append(
                common
                | {"pixel_size_um": near, "bar_label": label, "bar_px": bar_px, "valley_fraction": _round(valley, 6)}
                | {"smeared_fraction": _round(smeared, 6), "scuffed_fraction": _round(scuffed, 6)}
                | {"plateau_fraction": _round(plateau, 6), "hone_angle_deg": _round(made.hone_deg, 2)}
                | {"lay_1_deg": _round(made.lays_deg[0], 2), "lay_2_deg": _round(lay_2, 2)}
                | {"worn": int(worn), "layout": layout or "none"}
            )
            given = "" if layout else near
            beam_columns = {"kv": f"{beam['kv']:g}", "detector": beam["detector"]}
            plan.append(common | {"stage": "after", "tilt_deg": f"{tilt:g}", "pixel_size_um": given} | beam_columns)
        out, inside = (np.mean(valleys[z]) if valleys[z] else None for z in ("out-of-track", "in-track"))
        ratio = float(inside / out) if out and inside is not None else None
        values = [name, _round(out, 6), _round(inside, 6), _round(ratio, 6)]
        retention.append(dict(zip(RETENTION, values, strict=True)))
    _write(folder / "truth.csv", TRUTH, truth)
    _write(folder / "plan.csv", PLAN, plan)
    _write(folder / "retention.csv", RETENTION, retention)
