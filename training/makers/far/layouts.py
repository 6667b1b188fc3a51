"""Ten invented data bars. Each takes a picture (0-1) and its states, and gives both back with the bar and its label."""

import cv2
import numpy as np

from .lettering import block, outlined, ruler, stamp, stroked

STEPS_UM = (1, 2, 5, 10, 20, 25, 50, 100, 200, 250, 500)


class Note:
    """What is written in a data bar, and the length of its scale bar."""

    def __init__(self, rng, specimen, file, width):
        share = rng.uniform(0.1, 0.26)
        lengths = np.array(STEPS_UM) / specimen.pixel / width
        self.value = STEPS_UM[int(np.argmin(np.abs(np.log(lengths / share))))]
        self.pixels = round(self.value / specimen.pixel)
        self.label = f"{self.value} µm"
        beam = specimen.beam
        times = int(round(127_000 / (specimen.pixel * width), -1))
        self.lines = [
            f"{beam.kv:g} kV",
            f"x{times}",
            beam.detector,
            f"WD {rng.uniform(7, 14):.1f} mm",
            f"Tilt {specimen.tilt:g}°",
            file.upper(),
        ]
        self.day = f"{rng.integers(1, 29):02d}.{rng.integers(1, 13):02d}.20{rng.integers(12, 25)}"


def _strip(picture, states, height, paper, top=False):
    strip = np.full((height, picture.shape[1]), paper, np.float32)
    blank = np.full(strip.shape, 255, np.uint8)
    if top:
        return np.vstack([strip, picture]), np.vstack([blank, states]), 0
    return np.vstack([picture, strip]), np.vstack([states, blank]), picture.shape[0]


def _middle(canvas, coverage, centre, y, ink, touched=None):
    stamp(canvas, coverage, max(centre - coverage.shape[1] / 2, 0), y, ink, touched)


def ledge(rng, picture, states, note):
    """Black strip below; solid bar at the right with the label beside it."""
    picture, states, top = _strip(picture, states, 48, 0.0)
    label = outlined(note.label, 24)
    x = picture.shape[1] - note.pixels - label.shape[1] - 46
    ruler(picture, "solid", x, top + 24, note.pixels, 6, 1.0, 0.0)
    stamp(picture, label, x + note.pixels + 14, top + 14, 1.0)
    stamp(picture, outlined("   ".join(note.lines[:3]), 20), 14, top + 15, 1.0)
    return picture, states


def chalk(rng, picture, states, note):
    """White strip below; bar with end strokes in the middle, label under it."""
    picture, states, top = _strip(picture, states, 70, 1.0)
    x = (picture.shape[1] - note.pixels) // 2
    ruler(picture, "ends", x, top + 22, note.pixels, 3, 0.0, 1.0)
    _middle(picture, stroked(note.label, 24), x + note.pixels / 2, top + 39, 0.0)
    stamp(picture, stroked(note.lines[0], 20), 16, top + 26, 0.0)
    last = stroked(note.lines[2], 20)
    stamp(picture, last, picture.shape[1] - last.shape[1] - 16, top + 26, 0.0)
    return picture, states


def lintel(rng, picture, states, note):
    """Dark grey strip above; comb at the left, label after it."""
    picture, states, _ = _strip(picture, states, 54, 0.16, top=True)
    ruler(picture, "comb", 20, 36, note.pixels, 2, 0.95, 0.16)
    stamp(picture, outlined(note.label, 22), 34 + note.pixels, 20, 0.95)
    text = outlined(" | ".join([note.lines[0], note.lines[3], note.day]), 18)
    if text.shape[1] + note.pixels + 140 < picture.shape[1]:
        stamp(picture, text, picture.shape[1] - text.shape[1] - 16, 21, 0.75)
    return picture, states


def ledger(rng, picture, states, note):
    """Two rows of ruled cells below; the bar fills the last cell of the lower row."""
    picture, states, top = _strip(picture, states, 84, 0.92)
    width = picture.shape[1]
    block(picture, 0, top, width, 2, 0.1)
    block(picture, 0, top + 41, width, 1, 0.1)
    step = width // 4
    for number, text in enumerate(note.lines[:4]):
        stamp(picture, outlined(text, 18), number * step + 10, top + 14, 0.1)
        block(picture, number * step, top, 1, 42, 0.1)
    cell = width - max(note.pixels + 150, step)
    block(picture, cell, top + 42, 1, 42, 0.1)
    stamp(picture, outlined(note.lines[5][:14], 18), 10, top + 55, 0.1)
    ruler(picture, "hollow", cell + 14, top + 63, note.pixels, 3, 0.1, 0.92)
    stamp(picture, outlined(note.label, 20), cell + 26 + note.pixels, top + 54, 0.1)
    return picture, states


def flank(rng, picture, states, note):
    """A panel at the right-hand side with stacked lines; the bar stands at its foot."""
    wide = max(note.pixels + 30, 150)
    panel = np.full((picture.shape[0], wide), 0.05, np.float32)
    for number, text in enumerate(note.lines[:5]):
        stamp(panel, outlined(text, 19), 14, 24 + 34 * number, 0.85)
    y = panel.shape[0] - 34
    ruler(panel, "solid", (wide - note.pixels) // 2, y, note.pixels, 5, 1.0, 0.05)
    _middle(panel, outlined(note.label, 24), wide / 2, y - 36, 1.0)
    return np.hstack([picture, panel]), np.hstack([states, np.full(panel.shape, 255, np.uint8)])


def _burn(picture, states, coverage_of):
    """Bright marks with a dark edge, burnt into the picture."""
    touched = np.zeros(picture.shape, bool)
    ink = np.zeros(picture.shape, np.float32)
    coverage_of(ink, touched)
    around = cv2.dilate(touched.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    picture = np.where(around, 0.0, picture) * (1 - ink) + ink
    return picture.astype(np.float32), np.where(around, 255, states).astype(np.uint8)


def branded(rng, picture, states, note):
    """Burnt into the lower right corner: bar with its label above, bright with a dark edge."""

    def draw(ink, touched):
        x, y = picture.shape[1] - note.pixels - 34, picture.shape[0] - 30
        ruler(ink, "solid", x, y, note.pixels, 7, 1.0, 0.0, touched)
        _middle(ink, outlined(note.label, 28), x + note.pixels / 2, y - 38, 1.0, touched)

    return _burn(picture, states, draw)


def plaque(rng, picture, states, note):
    """A filled black box in the lower left corner of the picture with a light bar and label."""
    picture, states = picture.copy(), states.copy()
    label = outlined(note.label, 22)
    wide = max(note.pixels, label.shape[1]) + 28
    x, y = 12, picture.shape[0] - 76
    block(picture, x, y, wide, 64, 0.0)
    states[y : y + 64, x : x + wide] = 255
    ruler(picture, "ends", x + (wide - note.pixels) // 2, y + 18, note.pixels, 3, 1.0, 0.0)
    _middle(picture, label, x + wide / 2, y + 35, 1.0)
    return picture, states


def measure(rng, picture, states, note):
    """Thin black strip below with a chequered ruler at the left and old frame-store letters."""
    picture, states, top = _strip(picture, states, 36, 0.0)
    ruler(picture, "chequered", 14, top + 18, note.pixels, 4, 1.0, 0.0)
    stamp(picture, stroked(note.label, 22), 28 + note.pixels, top + 9, 1.0)
    text = stroked("  ".join(note.lines[:2] + [note.day]), 18)
    if note.pixels + text.shape[1] + 190 < picture.shape[1]:
        stamp(picture, text, picture.shape[1] - text.shape[1] - 12, top + 11, 0.9)
    return picture, states


def corner(rng, picture, states, note):
    """Black box in the upper right corner of the picture; label to the left of an arrowed bar."""
    picture, states = picture.copy(), states.copy()
    label = outlined(note.label, 22)
    wide = note.pixels + label.shape[1] + 44
    x = picture.shape[1] - wide
    block(picture, x, 0, wide, 44, 0.0)
    states[:44, x:] = 255
    stamp(picture, label, x + 14, 13, 1.0)
    ruler(picture, "arrows", x + 30 + label.shape[1], 22, note.pixels, 3, 1.0, 0.0)
    return picture, states


def sill(rng, picture, states, note):
    """Grey strip below, label centred above a thin bar at the right third; a line of text runs under all."""
    picture, states, top = _strip(picture, states, 92, 0.35)
    centre = int(picture.shape[1] * 0.7)
    ruler(picture, "ends", centre - note.pixels // 2, top + 48, note.pixels, 2, 1.0, 0.35)
    _middle(picture, outlined(note.label, 24), centre, top + 13, 1.0)
    stamp(picture, outlined("  ".join(note.lines[:4]), 16), 14, top + 68, 0.95)
    return picture, states


LAYOUTS = {
    part.__name__: part for part in (ledge, chalk, lintel, ledger, flank, branded, plaque, measure, corner, sill)
}


def burn_mark(rng, picture, states):
    """A pointer or a note that an operator left in the picture."""

    def draw(ink, touched):
        text = outlined(str(rng.choice(["A", "2", "TDC", "edge", "P3"])), 26)
        y, x = rng.integers(70, picture.shape[0] - 180), rng.integers(40, picture.shape[1] - 160)
        stamp(ink, text, x, y, 1.0, touched)
        if rng.random() < 0.6:
            block(ink, x, y + 32, 60, 2, 1.0, touched)

    return _burn(picture, states, draw)
