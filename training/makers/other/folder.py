"""Write a folder: pictures, masks/, truth.csv, plan.csv and retention.csv, the same for the same seed.

truth.csv: fractions are shares of the assessed area counted on the saved mask; bar_px and the columns of the bar's ends
follow the edge convention stated in ``lettering``. retention.csv: per specimen, the valley fraction over its fields outside
the track and in it, their ratio of means, and the same for the very ground of the worn fields before the ring ran there.
"""

import csv
from pathlib import Path

import cv2
import numpy as np
import tifffile
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from .electrons import draw_setting, electron_signal, expose
from .ground import NOT_ASSESSED, Ground, draw_ground
from .layouts import LAYOUTS, Shown, show_scale
from .specimen import Specimen, draw_specimen

ZONES = ("out-of-track", "in-track", "in-track", "out-of-track")

TRUTH_COLUMNS = (
    "file", "specimen", "zone", "pixel_size_um", "bar_label", "bar_px", "valley_fraction", "smeared_fraction",
    "scuffed_fraction", "plateau_fraction", "hone_angle_deg", "lay_1_deg", "lay_2_deg", "stroke_deg", "worn", "style",
    "bar_um", "bar_row_px", "bar_first_col_px", "bar_last_col_px", "layout", "not_assessed_fraction", "severity",
)  # fmt: skip
PLAN_COLUMNS = ("file", "specimen", "zone", "stage", "stroke_deg", "tilt_deg", "pixel_size_um", "kv", "detector")
RETENTION_COLUMNS = ("specimen", "valley_out_of_track", "valley_in_track", "retention", "retention_same_ground")
WITHOUT_BAR = ("no bar, plan", "no bar, file text")


def write_set(out, *, fields: int, seed: int) -> list[dict]:
    """Write ``fields`` fields, four a specimen, every layout in turn in an order of the seed; return truth.csv's rows."""
    cv2.setNumThreads(1)
    out = Path(out)
    (out / "masks").mkdir(parents=True, exist_ok=True)
    ways = [*LAYOUTS, *WITHOUT_BAR, *WITHOUT_BAR]
    order = np.random.default_rng([seed, 77]).permutation(len(ways))
    truths, plans, valleys = [], [], {}
    for number in range(fields):
        which, place = divmod(number, len(ZONES))
        of_specimen = np.random.default_rng([seed, which, 99])
        specimen = draw_specimen(f"OM-{seed % 1000:03d}-{which + 1:02d}", of_specimen)
        setting = draw_setting(specimen, of_specimen)
        rng = np.random.default_rng([seed, which, place])
        worn = ZONES[place] == "in-track"
        ground = draw_ground(specimen, worn=worn, rng=rng)
        picture = expose(electron_signal(ground, specimen, setting, rng), setting, specimen, rng)
        way = ways[int(order[number % len(ways)])]
        shown = _without_bar(picture) if isinstance(way, str) else show_scale(picture, specimen, way, rng)
        codes = np.full(shown.marks.shape, NOT_ASSESSED, np.uint8)
        codes[shown.picture_rows] = ground.codes
        codes[shown.marks] = NOT_ASSESSED
        stem = f"{specimen.name}-{place + 1}"
        file = _write_picture(out, stem, shown, specimen if way == "no bar, file text" else None, rng)
        Image.fromarray(codes).save(out / "masks" / f"{stem}.png")
        truths.append(_truth_row(file, specimen, ZONES[place], ground, shown, codes, way))
        plans.append(_plan_row(file, specimen, ZONES[place], given=way == "no bar, plan"))
        valleys.setdefault(specimen.name, []).append(
            (worn, float(truths[-1]["valley_fraction"]), ground.honed_valley_fraction)
        )
    _write_table(out / "truth.csv", TRUTH_COLUMNS, truths)
    _write_table(out / "plan.csv", PLAN_COLUMNS, plans)
    _write_table(
        out / "retention.csv", RETENTION_COLUMNS, [_retention_row(name, rows) for name, rows in valleys.items()]
    )
    return truths


def _without_bar(picture: np.ndarray) -> Shown:
    nothing = float("nan")
    return Shown(
        picture=picture, marks=np.zeros(picture.shape, bool), picture_rows=slice(0, picture.shape[0]), label="", bar_um=nothing,
        bar_px=nothing, row_px=nothing, first_col_px=nothing, last_col_px=nothing,
    )  # fmt: skip


def _write_picture(out: Path, stem: str, shown: Shown, told: Specimen | None, rng: np.random.Generator) -> str:
    """Save as TIFF of 8 or 16 bits, PNG or JPEG; ``told``: the specimen whose pixel size goes into the file's own text."""
    kind = str(rng.choice(["tif", "tif16", "png", "jpg"], p=(0.27, 0.13, 0.35, 0.25)))
    values = shown.picture
    if kind == "tif16" and values.ndim == 2:
        pixels = np.round(values * 65535).astype(np.uint16)
    else:
        pixels = np.round(values * 255).astype(np.uint8)
    if pixels.ndim == 2 and kind in ("png", "jpg") and rng.random() < 0.15:
        pixels = np.repeat(pixels[..., None], 3, axis=2)
    size = f"{told.pixel_size_um:.4f} um" if told else ""
    if kind.startswith("tif"):
        file = f"{stem}.tif"
        note = f"Pixel Size = {size}\nVoltage = {told.kv:g} kV" if told else None
        way = "rgb" if pixels.ndim == 3 else "minisblack"
        tifffile.imwrite(out / file, pixels, photometric=way, description=note, metadata=None)
        return file
    image = Image.fromarray(pixels)
    if kind == "png" or told:
        notes = PngInfo()
        if told:
            notes.add_text("Pixel Size", size)
        image.save(out / f"{stem}.png", pnginfo=notes)
        return f"{stem}.png"
    image.save(out / f"{stem}.jpg", quality=int(rng.integers(72, 96)))
    return f"{stem}.jpg"


def _truth_row(file: str, specimen: Specimen, zone: str, ground: Ground, shown: Shown, codes: np.ndarray, way) -> dict:
    share = np.bincount(codes[codes != NOT_ASSESSED], minlength=4)[:4] / max(np.count_nonzero(codes != NOT_ASSESSED), 1)
    lays = specimen.lays_deg if ground.lay_areas_px[0] >= ground.lay_areas_px[1] else specimen.lays_deg[::-1]
    return {
        "file": file, "specimen": specimen.name, "zone": zone, "pixel_size_um": f"{specimen.pixel_size_um:.6f}",
        "bar_label": shown.label, "bar_px": _text(shown.bar_px), "valley_fraction": f"{share[1]:.6f}",
        "smeared_fraction": f"{share[2]:.6f}", "scuffed_fraction": f"{share[3]:.6f}", "plateau_fraction": f"{share[0]:.6f}",
        "hone_angle_deg": f"{specimen.hone_angle_deg:.3f}", "lay_1_deg": f"{lays[0]:.3f}", "lay_2_deg": f"{lays[1]:.3f}",
        "stroke_deg": f"{specimen.stroke_deg:.3f}", "worn": int(ground.worn), "style": specimen.finish,
        "bar_um": _text(shown.bar_um), "bar_row_px": _text(shown.row_px), "bar_first_col_px": _text(shown.first_col_px),
        "bar_last_col_px": _text(shown.last_col_px), "layout": way if isinstance(way, str) else way.name,
        "not_assessed_fraction": f"{float(np.mean(ground.codes == NOT_ASSESSED)):.6f}",
        "severity": specimen.wear if ground.worn else "unrun",
    }  # fmt: skip


def _text(number: float) -> str:
    return "" if np.isnan(number) else f"{number:g}"


def _plan_row(file: str, specimen: Specimen, zone: str, *, given: bool) -> dict:
    return {
        "file": file, "specimen": specimen.name, "zone": zone, "stage": "after", "stroke_deg": f"{specimen.stroke_deg:.2f}",
        "tilt_deg": f"{specimen.tilt_deg:g}", "pixel_size_um": f"{specimen.pixel_size_um:g}" if given else "",
        "kv": f"{specimen.kv:g}", "detector": specimen.detector,
    }  # fmt: skip


def _retention_row(name: str, rows: list[tuple[bool, float, float]]) -> dict:
    """Ratios of means; empty where the specimen has no field of a zone or no valley outside the track."""
    outside = [valley for worn, valley, _ in rows if not worn]
    inside = [valley for worn, valley, _ in rows if worn]
    before = [honed for worn, _, honed in rows if worn]
    means = [float(np.mean(values)) if values else float("nan") for values in (outside, inside, before)]
    return {
        "specimen": name, "valley_out_of_track": _text(means[0]), "valley_in_track": _text(means[1]),
        "retention": _text(means[1] / means[0]) if means[0] else "",
        "retention_same_ground": _text(means[1] / means[2]) if means[2] else "",
    }  # fmt: skip


def _write_table(path: Path, columns, rows) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        table = csv.DictWriter(file, fieldnames=columns)
        table.writeheader()
        table.writerows(rows)
