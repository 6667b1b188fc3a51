"""A label folder: pictures, masks, plan.csv, truth.csv and retention.csv."""

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
from PIL import Image

from tests.reserve_maker.data_bar import UNACCENTED, choose_scale, draw_bar, facts_text
from tests.reserve_maker.field import Field, make_field
from tests.reserve_maker.files import describe, write_picture
from tests.reserve_maker.finish import Specimen, draw_specimen
from tests.reserve_maker.layouts import LAYOUTS
from tests.reserve_maker.setting import Setting, draw_setting
from tests.reserve_maker.states import NOT_ASSESSED, OPEN_VALLEY, PLATEAU, SCUFFED, SMEARED, fractions

ZONES = ("out-of-track", "in-track", "out-of-track", "in-track")
"""Fields of one specimen, in the order in which they are taken."""

PLAN = ("file", "specimen", "zone", "stage", "stroke_deg", "tilt_deg", "pixel_size_um", "kv", "detector")
TRUTH = (
    "file", "specimen", "zone", "pixel_size_um", "bar_label", "bar_px", "valley_fraction", "smeared_fraction",
    "scuffed_fraction", "plateau_fraction", "hone_angle_deg", "lay_1_deg", "lay_2_deg", "stroke_deg", "worn", "layout",
)  # fmt: skip
RETENTION = ("specimen", "valley_out_of_track", "valley_in_track", "retention")


def make_folder(out: Path, *, fields: int, seed: int) -> None:
    """Write so many fields, four a specimen; the same seed gives the same bytes."""
    if fields < 1:
        raise ValueError(f"{fields} fields asked for; ask for one or more")
    out = Path(out)
    (out / "masks").mkdir(parents=True, exist_ok=True)
    plan, truth = [], []
    gain = None
    for number in range(fields):
        group, place = divmod(number, len(ZONES))
        rng = np.random.default_rng([seed, group, 0])
        specimen = draw_specimen(f"R{seed % 1000:03d}-{group + 1:02d}", rng)
        setting = draw_setting(rng)
        session = _session(specimen, setting, group, rng)
        specimen, setting = session["specimen"], session["setting"]
        field = make_field(
            specimen, setting, worn=ZONES[place] == "in-track", gain=gain if place else None,
            rng=np.random.default_rng([seed, group, place + 1]),
        )  # fmt: skip
        gain = field.gain
        stem = f"{specimen.name}_{'in' if ZONES[place] == 'in-track' else 'out'}_{place // 2 + 1}"
        rows = _write(out, stem, field, session, ZONES[place])
        plan.append(rows[0])
        truth.append(rows[1])
    _table(out / "plan.csv", PLAN, plan)
    _table(out / "truth.csv", TRUTH, truth)
    _table(out / "retention.csv", RETENTION, _retention(truth))


def _session(specimen: Specimen, setting: Setting, group: int, rng: np.random.Generator) -> dict:
    """Return what is common to a specimen's fields; every ninth specimen or so has no data bar."""
    kind = rng.random()
    layout = LAYOUTS[(group * 5 + int(rng.integers(0, 3))) % len(LAYOUTS)]  # runs through all layouts
    wording = "silent"
    if kind < 0.09:
        layout, wording = None, str(rng.choice(["ome", "phrase", "phrase nm"]))
        setting = replace(setting, suffix=".tif")
    elif kind < 0.12:
        layout, wording = None, "plan"
    scale, exact = choose_scale(specimen.pixel_size_um, specimen.picture[1], rng)
    if layout is not None and layout.face in UNACCENTED:
        scale = replace(scale, label=scale.label.replace("µ", "u"))
    if layout is None:
        exact = float(f"{exact:.4g}")
    letters = int(np.clip(rng.integers(14, 37) * specimen.picture[1] / 1400, 12, 36))
    specimen = replace(specimen, pixel_size_um=exact)
    return {
        "specimen": specimen,
        "setting": setting,
        "layout": layout,
        "wording": wording,
        "scale": scale,
        "letters": letters,
    }


def _write(out: Path, stem: str, field: Field, session: dict, zone: str) -> tuple[dict, dict]:
    """Write picture and mask; return the rows of the plan and of the truth."""
    specimen, setting, layout, scale = (session[key] for key in ("specimen", "setting", "layout", "scale"))
    column, pixel = setting.column, specimen.pixel_size_um
    grey, codes = field.grey, field.codes
    if layout is not None:
        facts = facts_text(layout, column.kv, column.detector, column.tilt_deg, stem)
        barred = draw_bar(grey, scale, layout, facts, session["letters"])
        whole = np.full(barred.grey.shape, NOT_ASSESSED, np.uint8)
        whole[barred.offset : barred.offset + grey.shape[0]] = codes
        whole[barred.hidden] = NOT_ASSESSED
        grey, codes = barred.grey, whole
    file = f"{stem}{setting.suffix}"
    write_picture(out / file, grey, setting.bits, describe(grey.shape, pixel, setting.bits, session["wording"]))
    Image.fromarray(codes).save(out / "masks" / f"{stem}.png")
    share = fractions(codes)
    lays = [f"{lay:.2f}" for lay in field.lays_deg] + [""]
    common = {"file": file, "specimen": specimen.name, "zone": zone, "stroke_deg": f"{specimen.stroke_deg:g}"}
    plan = common | {
        "stage": "after", "tilt_deg": f"{column.tilt_deg:g}", "kv": f"{column.kv:g}", "detector": column.detector,
        "pixel_size_um": f"{pixel:.6g}" if session["wording"] == "plan" else "",
    }  # fmt: skip
    truth = common | {
        "pixel_size_um": f"{pixel:.6g}", "worn": int(zone == "in-track"),
        "bar_label": scale.label if layout else "", "bar_px": scale.length_px if layout else "",
        "layout": layout.name if layout else "plan only" if session["wording"] == "plan" else "file only",
        "valley_fraction": f"{share[OPEN_VALLEY]:.6f}", "smeared_fraction": f"{share[SMEARED]:.6f}",
        "scuffed_fraction": f"{share[SCUFFED]:.6f}", "plateau_fraction": f"{share[PLATEAU]:.6f}",
        "hone_angle_deg": "" if specimen.finish.hone_angle_deg is None else f"{specimen.finish.hone_angle_deg:.2f}",
        "lay_1_deg": lays[0], "lay_2_deg": lays[1],
    }  # fmt: skip
    return plan, truth


def _retention(truth: list[dict]) -> list[dict]:
    """Return valley retention by specimen: ratio of means; specimens with fields of one zone only are left out."""
    rows = []
    for name in dict.fromkeys(row["specimen"] for row in truth):
        valley = {
            zone: [float(row["valley_fraction"]) for row in truth if row["specimen"] == name and row["zone"] == zone]
            for zone in ("out-of-track", "in-track")
        }
        if all(valley.values()):
            out_of, inside = np.mean(valley["out-of-track"]), np.mean(valley["in-track"])
            ratio = f"{inside / out_of:.6f}" if out_of > 0 else ""
            rows.append({
                "specimen": name, "valley_out_of_track": f"{out_of:.6f}",
                "valley_in_track": f"{inside:.6f}", "retention": ratio,
            })  # fmt: skip
    return rows


def _table(path: Path, columns: tuple[str, ...], rows: list[dict]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, columns, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
