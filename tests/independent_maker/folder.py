"""Write a folder: pictures, masks, truth.csv and plan.csv, the same for the same seed."""

import csv
from pathlib import Path

import numpy as np
import tifffile
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from .data_bars import Shown, metadata_text, no_bar, show_scale
from .event import make_event
from .hybrid import make_hybrid
from .instrument import expose
from .scene import NOT_ASSESSED, STYLES, FieldFacts, Picture, draw_field, draw_finish
from .section import make_section

MAKERS = {"event": make_event, "section": make_section, "hybrid": make_hybrid}
ZONES = ("out-of-track", "in-track", "out-of-track", "in-track")
SHAPES = ((960, 1280), (768, 1024), (884, 1024), (1103, 1536), (1536, 2048))

TRUTH_COLUMNS = (
    "file", "specimen", "zone", "pixel_size_um", "bar_label", "bar_px", "valley_fraction", "smeared_fraction",
    "scuffed_fraction", "plateau_fraction", "hone_angle_deg", "lay_1_deg", "lay_2_deg", "stroke_deg", "worn", "style",
    "bar_um", "bar_row_px", "bar_first_col_px", "bar_last_col_px", "layout", "not_assessed_fraction", "severity",
)  # fmt: skip
PLAN_COLUMNS = ("file", "specimen", "zone", "stage", "stroke_deg", "tilt_deg", "pixel_size_um", "kv", "detector")


def make_picture(field: FieldFacts, rng: np.random.Generator) -> Picture:
    """Make one field in its specimen's style, before the instrument."""
    return MAKERS[field.finish.style](field, rng)


def write_set(out, *, fields: int, seed: int, style: str | None = None, size: tuple[int, int] | None = None) -> list[dict]:
    """Write ``fields`` fields, four a specimen, styles in turn unless one is named; return the rows of truth.csv.

    ``size`` is (width, height) of the micrograph without its data bar; without it each specimen has its own.
    """
    out = Path(out)
    (out / "masks").mkdir(parents=True, exist_ok=True)
    truths, plans = [], []
    for number in range(fields):
        which, place = divmod(number, len(ZONES))
        of_specimen = np.random.default_rng([seed, which])
        finish = draw_finish(f"SIM-{seed % 1000:03d}-{which + 1:02d}", style or STYLES[which % 3], of_specimen)
        shape = size[::-1] if size else SHAPES[int(of_specimen.choice(len(SHAPES), p=[0.45, 0.2, 0.15, 0.14, 0.06]))]
        rng = np.random.default_rng([seed, which, place])
        field = draw_field(finish, ZONES[place], tuple(shape), rng)
        made = make_picture(field, rng)
        pixels, codes = expose(made.signal, made.codes, field, rng)
        proper = codes
        with_bar = rng.random() < 0.75
        shown = show_scale(pixels, codes, field, rng) if with_bar else no_bar(pixels, codes)
        file = _write_picture(out, f"{finish.specimen}_f{place + 1}", shown, field, rng)
        Image.fromarray(shown.codes).save(out / "masks" / (Path(file).stem + ".png"))
        truths.append(_truth_row(file, field, made, shown, proper))
        plans.append(_plan_row(file, field))
    _write_table(out / "truth.csv", TRUTH_COLUMNS, truths)
    _write_table(out / "plan.csv", PLAN_COLUMNS, plans)
    return truths


def _write_picture(out: Path, stem: str, shown: Shown, field: FieldFacts, rng) -> str:
    """Save as PNG, JPEG or TIFF; without a bar, put the pixel size in the file's text or in a text file beside it."""
    kind = str(rng.choice(["png", "jpg", "tif"], p=[0.5, 0.25, 0.25]))
    file = f"{stem}.{kind}"
    text = metadata_text(field, rng) if shown.layout == "metadata" else ""
    image = Image.fromarray(shown.pixels)
    if kind == "tif":
        tifffile.imwrite(out / file, shown.pixels, photometric="minisblack", description=text or None, metadata=None)
    elif kind == "png":
        notes = PngInfo()
        for line in text.splitlines():
            if "=" in line:
                notes.add_text(*(part.strip() for part in line.split("=", 1)))
        image.save(out / file, pnginfo=notes)
    else:
        image.save(out / file, quality=int(rng.integers(75, 96)))
        if text:
            (out / f"{stem}.txt").write_text(text, encoding="utf-8")
    return file


def _truth_row(file: str, field: FieldFacts, made: Picture, shown: Shown, proper: np.ndarray) -> dict:
    """Fractions of the assessed area counted on the saved mask, and the facts of the field."""
    assessed = shown.codes[shown.codes != NOT_ASSESSED]
    share = np.bincount(assessed, minlength=4)[:4] / max(assessed.size, 1)
    lays = field.finish.lays_deg
    if made.lay_areas_px[1] > made.lay_areas_px[0]:
        lays = lays[::-1]
    finish = field.finish
    bar = shown.ends_px
    return {
        "file": file, "specimen": finish.specimen, "zone": field.zone, "pixel_size_um": f"{field.pixel_size_um:.6f}",
        "bar_label": shown.bar_label, "bar_px": _text(shown.bar_px), "valley_fraction": f"{share[1]:.6f}",
        "smeared_fraction": f"{share[2]:.6f}", "scuffed_fraction": f"{share[3]:.6f}", "plateau_fraction": f"{share[0]:.6f}",
        "hone_angle_deg": f"{finish.hone_angle_deg:.3f}", "lay_1_deg": f"{lays[0]:.3f}", "lay_2_deg": f"{lays[1]:.3f}",
        "stroke_deg": f"{finish.stroke_deg:.3f}", "worn": int(field.worn), "style": finish.style, "bar_um": _text(shown.bar_um),
        "bar_row_px": _text(bar[0]), "bar_first_col_px": _text(bar[1]), "bar_last_col_px": _text(bar[2]),
        "layout": shown.layout, "not_assessed_fraction": f"{float(np.mean(proper == NOT_ASSESSED)):.6f}",
        "severity": finish.severity if field.worn else "unrun",
    }  # fmt: skip


def _text(number: float) -> str:
    return "" if np.isnan(number) else f"{number:g}"


def _plan_row(file: str, field: FieldFacts) -> dict:
    finish = field.finish
    return {
        "file": file, "specimen": finish.specimen, "zone": field.zone, "stage": "after", "stroke_deg": f"{finish.stroke_deg:.2f}",
        "tilt_deg": f"{finish.tilt_deg:g}", "pixel_size_um": "", "kv": f"{finish.kv:g}", "detector": finish.detector,
    }  # fmt: skip


def _write_table(path: Path, columns, rows) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        table = csv.DictWriter(file, fieldnames=columns)
        table.writeheader()
        table.writerows(rows)
