"""Data bars in layouts of this maker's own, with true ends, and pixel sizes written as metadata instead.

A strip is added below or above the micrograph; an inset or burnt-in scale lies on it. The mask is 255 on all of it. A bar
without ticks is measured over its outer edges, a bar with ticks from tick centre to tick centre, in px.
"""

from dataclasses import dataclass, replace
from importlib.util import find_spec
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from .scene import NOT_ASSESSED, FieldFacts

NICE = [m * 10.0**e for e in range(4) for m in (1, 2, 5)] + [30.0, 25.0, 40.0, 300.0]


@dataclass(frozen=True, kw_only=True)
class Layout:
    """How a scale is shown: where, on which ground, in which ink, with which marks and words."""

    name: str
    place: str  # below, above, inset, burnt
    ground: int
    ink: int
    bar: str  # solid, capped, ticked, dots, blocks, hollow
    label: str  # above, below, right, left of the bar
    bar_at: float  # left end as share of the width
    font: str
    unit: str  # how the unit is written
    words: tuple[str, ...]  # other texts, left to right


LAYOUTS = (
    Layout(name="plain", place="below", ground=0, ink=255, bar="solid", label="above", bar_at=0.72, font="DejaVuSans.ttf", unit=" µm", words=("{kv:.0f} kV", "{detector}", "x{mag:.0f}")),
    Layout(name="paper", place="below", ground=255, ink=0, bar="capped", label="right", bar_at=0.05, font="DejaVuSerif.ttf", unit=" µm", words=("HV {kv:.1f} kV", "WD {wd:.1f} mm", "Det {detector}")),
    Layout(name="ladder", place="burnt", ground=-1, ink=255, bar="dots", label="below", bar_at=0.62, font="DejaVuSansMono.ttf", unit="um", words=("{kv:.1f}kV {wd:.1f}mm x{mag:.0f} {detector}",)),
    Layout(name="top", place="above", ground=30, ink=235, bar="ticked", label="below", bar_at=0.42, font="DejaVuSans-Bold.ttf", unit="µm", words=("SIM LAB 4", "{detector} {kv:.0f}kV")),
    Layout(name="corner", place="inset", ground=255, ink=0, bar="solid", label="below", bar_at=0.0, font="DejaVuSans.ttf", unit=" µm", words=()),
    Layout(name="corner dark", place="inset", ground=0, ink=255, bar="capped", label="above", bar_at=0.0, font="STIXGeneralBol.ttf", unit=" µm", words=()),
    Layout(name="blocks", place="below", ground=200, ink=10, bar="blocks", label="left", bar_at=0.55, font="DejaVuSansMono-Bold.ttf", unit=" um", words=("simulated", "EHT={kv:.2f} kV", "Signal={detector}")),
    Layout(name="frame", place="below", ground=12, ink=220, bar="hollow", label="above", bar_at=0.08, font="STIXGeneral.ttf", unit=" µm", words=("Width {width:.0f} µm", "{kv:.0f} kV", "{detector}")),
    Layout(name="bare", place="burnt", ground=-1, ink=255, bar="capped", label="above", bar_at=0.06, font="DejaVuSans-Bold.ttf", unit=" µm", words=()),
    Layout(name="two lines", place="below", ground=60, ink=255, bar="ticked", label="right", bar_at=0.5, font="DejaVuSans.ttf", unit=" µm", words=("Mag {mag:.0f}", "kV {kv:.1f}", "{detector}", "WD {wd:.0f}")),
)


@dataclass(frozen=True, kw_only=True)
class Shown:
    """Picture and mask with the scale shown, and the truth about the bar (empty label and nan without one)."""

    pixels: np.ndarray
    codes: np.ndarray
    bar_label: str
    bar_px: float
    bar_um: float
    ends_px: tuple[float, float, float]  # row, first column, last column
    layout: str


def font_file(name: str) -> Path:
    """Path of a typeface shipped with the plotting library, which isn't imported for it."""
    return Path(find_spec("matplotlib").submodule_search_locations[0]) / "mpl-data" / "fonts" / "ttf" / name


def write_um(length_um: float, unit: str, rng) -> str:
    """Text of a bar length: 0.5 µm as 500 nm, 1000 µm as 1 mm, else µm, now and then with a decimal."""
    if length_um < 1:
        return f"{length_um * 1000:.0f} nm"
    if length_um >= 1000:
        return f"{length_um / 1000:g} mm"
    return f"{length_um:.1f}{unit}" if rng.random() < 0.2 else f"{length_um:g}{unit}"


def show_scale(picture: np.ndarray, codes: np.ndarray, field: FieldFacts, rng: np.random.Generator) -> Shown:
    """Draw a data bar in a random layout; the bar's length is a round number between 8 and 30 % of the width."""
    layout = LAYOUTS[int(rng.integers(len(LAYOUTS)))]
    if layout.place != "burnt" and rng.random() < 0.3:
        layout = replace(layout, bar_at=float(np.clip(layout.bar_at + rng.uniform(-0.05, 0.05), 0.03, 0.72)))
    rows, cols = picture.shape
    width_um = cols * field.pixel_size_um
    fits = [length for length in NICE if 0.08 < length / width_um < 0.27]
    bar_um = float(rng.choice(fits))
    bar_px = int(round(bar_um / field.pixel_size_um))
    label = write_um(bar_um, layout.unit, rng)
    size = int(np.clip(cols / rng.uniform(42, 60), 15, 44))
    font = ImageFont.truetype(str(font_file(layout.font)), size)
    text_width = int(font.getlength(label))
    strip = int(size * (2.7 if layout.label in ("above", "below") else 1.9))
    pixels, codes = picture.copy(), codes.copy()
    if layout.place in ("below", "above"):
        ground = np.full((strip, cols), layout.ground, np.uint8)
        hidden = np.full((strip, cols), NOT_ASSESSED, np.uint8)
        order = (lambda a, b: (a, b)) if layout.place == "below" else (lambda a, b: (b, a))
        pixels, codes = np.vstack(order(pixels, ground)), np.vstack(order(codes, hidden))
        top = rows if layout.place == "below" else 0
        left = int(layout.bar_at * cols)
        if layout.label == "right" and left + bar_px + text_width + size > cols:
            left = max(4, cols - bar_px - text_width - 2 * size)
        left = max(min(left, cols - bar_px - 6), text_width + size if layout.label == "left" else 4)
    else:
        box_width = max(bar_px, text_width) + 2 * size
        top = rows - strip - int(rng.uniform(0.3, 1.5) * size)
        right_side = layout.place == "inset" and rng.random() < 0.6
        box_left = cols - box_width - size if right_side else int(np.clip(layout.bar_at * cols, size // 2, cols - box_width - 2))
        left = box_left + (box_width - bar_px) // 2
        if layout.place == "inset":
            pixels[top : top + strip, box_left : box_left + box_width] = layout.ground
            codes[top : top + strip, box_left : box_left + box_width] = NOT_ASSESSED
    image = Image.fromarray(pixels)
    draw = ImageDraw.Draw(image)
    text_top = {"above": 0.15, "below": 1.35, "right": 0.3, "left": 0.3}[layout.label] * size
    bar_row = top + int({"above": 2.0, "below": 0.7, "right": 0.95, "left": 0.95}[layout.label] * size)
    text_left = {"right": left + bar_px + size // 2, "left": left - text_width - size // 2}.get(
        layout.label, left + (bar_px - text_width) // 2
    )
    text_left = int(np.clip(text_left, 2, cols - text_width - 2))
    first, last = _draw_bar(draw, layout, left, bar_row, bar_px, size)
    draw.text((text_left, top + text_top), label, fill=layout.ink, font=font)
    used = [(left - 3, left + bar_px + 3), (text_left - size // 2, text_left + text_width + size // 2)]
    words = _words(layout, field, width_um, rng)
    at = size // 2
    for word in words:
        length = int(font.getlength(word))
        while any(at < end and at + length > begin for begin, end in used) and at < cols:
            at += size // 2
        if at + length < cols - 4:
            draw.text((at, top + (0.3 if strip < 2 * size else rng.uniform(0.3, 1.1)) * size), word, fill=layout.ink, font=font)
            used.append((at - size // 2, at + length + size // 2))
            at += length + size
    pixels = np.asarray(image)
    if layout.place == "burnt":
        changed_cols = np.array([(max(begin, 0), min(end, cols)) for begin, end in used])
        for begin, end in changed_cols:
            codes[max(top - 2, 0) : top + strip + 2, begin:end] = NOT_ASSESSED
    return Shown(pixels=pixels, codes=codes, bar_label=label, bar_px=float(last - first + (layout.bar not in ("ticked", "dots"))),
                 bar_um=bar_um, ends_px=(float(bar_row), float(first), float(last)), layout=layout.name)


def _draw_bar(draw, layout: Layout, left: int, row: int, length: int, size: int) -> tuple[int, int]:
    """Draw the bar; return its first and last column (outer edges, or centres of the end ticks)."""
    thick = max(2, size // 6)
    ink = layout.ink
    last = left + length - 1
    if layout.bar == "ticked":
        last = left + length
        draw.line((left, row, last, row), fill=ink, width=1)
        for part in range(6):
            column = round(left + length * part / 5)
            draw.line((column, row - size // 4, column, row + size // 4), fill=ink, width=1)
    elif layout.bar == "dots":
        last = left + length
        for part in range(11):
            column = round(left + length * part / 10)
            tall = size // 3 if part in (0, 5, 10) else size // 5
            draw.line((column, row - tall, column, row + tall), fill=ink, width=1)
    elif layout.bar == "capped":
        draw.rectangle((left, row - thick // 2, last, row + thick // 2), fill=ink)
        for column in (left, last - 1):
            draw.rectangle((column, row - size // 4, column + 1, row + size // 4), fill=ink)
    elif layout.bar == "blocks":
        edges = [round(left + length * part / 4) for part in range(5)]
        draw.rectangle((left, row - thick, last, row + thick), fill=layout.ground, outline=ink)
        for part in (0, 2):
            draw.rectangle((edges[part], row - thick, edges[part + 1] - 1, row + thick), fill=ink)
    elif layout.bar == "hollow":
        draw.rectangle((left, row - thick, last, row + thick), fill=layout.ground, outline=ink)
    else:
        draw.rectangle((left, row - thick // 2, last, row + thick // 2), fill=ink)
    return left, last


def _words(layout: Layout, field: FieldFacts, width_um: float, rng) -> list[str]:
    finish = field.finish
    facts = {"kv": finish.kv, "detector": finish.detector, "mag": 127000 / width_um, "wd": rng.uniform(6, 18), "width": width_um}
    return [word.format(**facts) for word in layout.words]


def no_bar(picture: np.ndarray, codes: np.ndarray) -> Shown:
    """The picture as it is, for files that carry their pixel size as metadata."""
    return Shown(pixels=picture, codes=codes, bar_label="", bar_px=float("nan"), bar_um=float("nan"),
                 ends_px=(float("nan"),) * 3, layout="metadata")


def metadata_text(field: FieldFacts, rng: np.random.Generator) -> str:
    """Pixel size and beam setting as text in one of four wordings of general kind."""
    pixel, finish = field.pixel_size_um, field.finish
    wordings = (
        f"[Scan]\nPixelWidth={pixel * 1e-6:.6e}\nPixelHeight={pixel * 1e-6:.6e}\nHV={finish.kv * 1000:.0f}\nDetector={finish.detector}\n",
        f"Pixel Size = {pixel * 1000:.4g} nm\nAccelerating Voltage = {finish.kv:.1f} kV\nDetector = {finish.detector}\n",
        f"PixelSizeX={pixel:.5f} um\nPixelSizeY={pixel:.5f} um\nAcceleratingVoltage={finish.kv * 1000:.0f} V\n",
        f"PixelSize={pixel * 1000:.3f}\nPixelSizeUnit=nm\nAcceleratingVoltage={finish.kv:.0f}\nSignalName={finish.detector}\n",
    )
    return wordings[int(rng.integers(len(wordings)))]
