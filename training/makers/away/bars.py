"""Data bars in invented layouts: each returns the picture with its bar, and which pixels it took."""

from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

NICE_UM = (1, 2, 3, 4, 5, 10, 15, 20, 25, 30, 40, 50, 75, 100, 150, 200, 250, 300, 400, 500)


@dataclass
class Barred:
    grey: np.ndarray  # uint8
    taken: np.ndarray  # bool
    bar_px: int
    label: str


def bar_length(rng: np.random.Generator, cols: int, pixel_um: float) -> tuple[int, int]:
    """Length in µm and in pixels of a bar that takes 8–32 % of the width, rounding error below 0.4 %."""
    fits = [um for um in NICE_UM if 0.08 < um / pixel_um / cols < 0.32]
    good = [um for um in fits if abs(round(um / pixel_um) * pixel_um / um - 1) < 0.004] or fits
    um = int(rng.choice(good))
    return um, round(um / pixel_um)


def write_label(rng: np.random.Generator, um: int) -> str:
    if um >= 100 and rng.random() < 0.15:
        return f"{um / 1000:g} mm"
    micro = rng.choice(["\u00b5m", "\u00b5m", "um"])
    gap = rng.choice([" ", " ", ""])
    return f"{um:.1f}{gap}{micro}" if rng.random() < 0.15 else f"{um}{gap}{micro}"


MICRO = "\u00b5"


class Sheet:
    """A grey canvas on which text and bars are put; Pillow's bundled font or Hershey strokes."""

    def __init__(self, pixels: np.ndarray, hershey: bool):
        self.image = Image.fromarray(pixels)
        self.pen = ImageDraw.Draw(self.image)
        self.hershey = hershey

    def size(self, text: str, height: int) -> tuple[int, int]:
        text = text.replace(MICRO, "u")
        if self.hershey:
            (w, h), base = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, height / 22, max(1, height // 13))
            return w, h + base + 3
        box = ImageFont.load_default(height).getbbox(text)
        return int(box[2]), int(box[3]) + max(3, height // 6)

    def advance(self, text: str, height: int) -> float:
        if self.hershey:
            return self.size(text + "u", height)[0] - self.size("u", height)[0]
        return ImageFont.load_default(height).getlength(text)

    def text(self, x: int, y: int, text: str, height: int, ink: int) -> tuple[int, int, int, int]:
        """Write with the upper left corner at x, y; the box that was taken."""
        w, h = self.size(text, height)
        before, micro, _ = text.partition(MICRO)
        text = text.replace(MICRO, "u")
        if self.hershey:
            pixels = np.array(self.image)
            (_, up), _ = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, height / 22, 1)
            at = (int(x), int(y + up))
            cv2.putText(pixels, text, at, cv2.FONT_HERSHEY_SIMPLEX, height / 22, ink, max(1, height // 13), cv2.LINE_AA)
            self.image = Image.fromarray(pixels)
            self.pen = ImageDraw.Draw(self.image)
        else:
            self.pen.text((int(x), int(y)), text, fill=ink, font=ImageFont.load_default(height))
        if micro:  # the bundled fonts lack this letter: a u with a tail
            lead, stem = self.advance(before, height), max(2, round(height / 11))
            left, foot = round(x + lead + 0.07 * height), y + height * 0.95
            self.pen.rectangle((left, foot - height // 3, left + stem - 1, foot + max(3, height // 6)), fill=ink)
        return int(x), int(y), int(x + w), int(y + h)

    def block(self, x: int, y: int, length: int, thick: int, ink: int) -> None:
        self.pen.rectangle((int(x), int(y), int(x) + length - 1, int(y) + thick - 1), fill=ink)


def _solid(s: Sheet, x: int, y: int, length: int, h: int, ink: int) -> None:
    s.block(x, y - max(2, h // 6), length, max(3, h // 3), ink)


def _ended(s: Sheet, x: int, y: int, length: int, h: int, ink: int) -> None:
    s.block(x, y, length + 1, 2, ink)
    for at in (x, x + length):
        s.block(at, y - h // 2, 1, h + 1, ink)


def _arrows(s: Sheet, x: int, y: int, length: int, h: int, ink: int) -> None:
    r = max(4, h // 3)
    s.block(x, y, length, 1, ink)
    s.pen.polygon([(x, y), (x + 2 * r, y - r), (x + 2 * r, y + r)], fill=ink)
    e = x + length - 1
    s.pen.polygon([(e, y), (e - 2 * r, y - r), (e - 2 * r, y + r)], fill=ink)


def _chequer(s: Sheet, x: int, y: int, length: int, h: int, ink: int) -> None:
    t = max(6, h // 2)
    s.pen.rectangle((x, y - t // 2, x + length - 1, y - t // 2 + t), outline=ink)
    for k in range(0, 4, 2):
        a, b = round(x + k * length / 4), round(x + (k + 1) * length / 4)
        s.block(a, y - t // 2, b - a, t, ink)


def _comb(s: Sheet, x: int, y: int, length: int, h: int, ink: int) -> None:
    s.block(x, y, length + 1, 1, ink)
    for k in range(6):
        s.block(
            round(x + k * length / 5),
            y - (h // 2 if k in (0, 5) else h // 4),
            1,
            h // 2 if k in (0, 5) else h // 4,
            ink,
        )


def _rails(s: Sheet, x: int, y: int, length: int, h: int, ink: int) -> None:
    s.block(x, y - h // 4, length, 2, ink)
    s.block(x, y + h // 4, length, 2, ink)


# name: place, paper, ink, how the bar is drawn, where the label stands
LAYOUTS = {
    "keel": ("below", 0, 250, _solid, "right"),
    "ledger": ("below", 245, 10, _ended, "above"),
    "slate": ("below", 52, 225, _arrows, "beneath"),
    "lintel": ("above", 20, 235, _comb, "right"),
    "comb": ("below", 225, 0, _comb, "left"),
    "inlay": ("corner", 255, 0, _solid, "beneath"),
    "plaque": ("corner", 0, 255, _ended, "above"),
    "ticket": ("corner", 200, 20, _chequer, "right"),
    "bare-line": ("on", -1, 255, _solid, "above"),
    "bare-ends": ("on", -1, 255, _ended, "beneath"),
    "rails": ("below", 10, 240, _rails, "beneath"),
    "domino": ("below", 250, 0, _chequer, "above"),
}


def _facts(rng: np.random.Generator, facts: dict) -> list[str]:
    lines = [
        f"{facts['kv']:g} kV",
        facts["detector"],
        f"WD {rng.uniform(6, 16):.1f} mm",
        f"Tilt {facts['tilt']:g}\u00b0",
    ]
    lines.append(str(rng.choice(["Liner", "Part", "Cut", "Bore"])) + f" {facts['name']}")
    order = rng.permutation(len(lines))[: int(rng.integers(1, 6))]
    return [lines[i].replace("\u00b0", " deg") for i in order]


def add_bar(rng: np.random.Generator, grey: np.ndarray, pixel_um: float, layout: str, facts: dict) -> Barred:
    """Put a bar in the given layout onto or beside a uint8 picture."""
    place, paper, ink, draw, where = LAYOUTS[layout]
    rows, cols = grey.shape
    um, length = bar_length(rng, cols, pixel_um)
    label = write_label(rng, um)
    hershey = bool(rng.random() < 0.35)
    h = int(rng.integers(16, 27))
    probe = Sheet(np.zeros((4, 4), np.uint8), hershey)
    w, th = probe.size(label, h)
    beside = where in ("right", "left")
    need_w = length + 2 + (w + 14 if beside else max(0, w - length))
    need_h = max(h + 4, th) if beside else h + th + 8

    def place_bar(s: Sheet, x: int, y: int) -> None:
        """Bar and label with the upper left corner of both at x, y."""
        bx = x + (w + 14 if where == "left" else 0 if beside else max(0, (w - length) // 2))
        tx = x + (0 if where == "left" else length + 12 if beside else max(0, (length - w) // 2))
        by = (
            y + need_h // 2
            if beside or where == "left"
            else y + (h // 2 + 1 if where == "beneath" else th + h // 2 + 4)
        )
        ty = y + (need_h - th) // 2 if beside else (y + h + 6 if where == "beneath" else y)
        draw(s, bx, by, length, h, ink)
        s.text(tx, ty, label, h, ink)

    if place in ("below", "above"):
        tall = need_h + int(rng.integers(12, 34))
        s = Sheet(np.full((tall, cols), paper, np.uint8), hershey)
        right = bool(rng.random() < 0.5)
        x = cols - need_w - int(rng.integers(12, 40)) if right else int(rng.integers(12, 40))
        place_bar(s, x, (tall - need_h) // 2)
        spot = 14 if right else x + need_w + 30
        limit = x - 20 if right else cols - 8
        for line in _facts(rng, facts):
            wide = s.size(line, h - 2)[0]
            if spot + wide > limit:
                break
            s.text(spot, (tall - h) // 2 - 2, line, h - 2, ink)
            spot += wide + int(rng.integers(18, 46))
        strip = np.array(s.image)
        if rng.random() < 0.4:
            strip[0 if place == "below" else -1] = ink
        parts = [grey, strip] if place == "below" else [strip, grey]
        taken = np.zeros((rows + tall, cols), bool)
        taken[rows:] = place == "below"
        if place == "above":
            taken[:tall] = True
        return Barred(np.concatenate(parts), taken, length, label)

    s = Sheet(grey, hershey)
    pad = int(rng.integers(7, 15))
    x = int(rng.choice([18, cols - need_w - 2 * pad - 18])) + pad
    y = int(rng.choice([16, rows - need_h - 2 * pad - 16, rows - need_h - 2 * pad - 16])) + pad
    box = (x - pad, y - pad, x + need_w + pad, y + need_h + pad)
    if paper >= 0:
        s.pen.rounded_rectangle(box, radius=int(rng.choice([0, 6])), fill=paper)
    place_bar(s, x, y)
    taken = np.zeros((rows, cols), bool)
    taken[max(box[1], 0) : box[3] + 1, max(box[0], 0) : box[2] + 1] = True
    burnt = np.array(s.image)
    if paper < 0:  # light ink needs a dark seam to be read on light ground
        inked = (burnt != grey).astype(np.uint8) * taken
        seam = (cv2.dilate(inked, np.ones((3, 3), np.uint8)) > 0) & (inked == 0)
        burnt[seam] = 0
    return Barred(burnt, taken, length, label)


def burn_mark(rng: np.random.Generator, grey: np.ndarray) -> np.ndarray:
    """Draw an operator's ring, arrow or number into the picture; the pixels it hides."""
    rows, cols = grey.shape
    mark = np.zeros_like(grey)
    x, y = int(rng.uniform(0.2, 0.8) * cols), int(rng.uniform(0.2, 0.8) * rows)
    kind = int(rng.integers(3))
    if kind == 0:
        cv2.circle(mark, (x, y), int(rng.integers(25, 80)), 1, int(rng.integers(2, 5)))
    elif kind == 1:
        cv2.arrowedLine(
            mark, (x, y), (x + int(rng.integers(-90, 90)), y + int(rng.integers(30, 90))), 1, 3, tipLength=0.3
        )
    else:
        cv2.putText(mark, str(int(rng.integers(1, 40))), (x, y), cv2.FONT_HERSHEY_SIMPLEX, 1.3, 1, 3)
    grey[mark > 0] = int(rng.choice([0, 255]))
    return cv2.dilate(mark, np.ones((3, 3), np.uint8)) > 0
