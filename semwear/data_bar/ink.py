"""Ink: what was printed on a panel or burnt into the picture, as planes in which ink is bright.

A panel's ink is whatever differs from its ground. Over the micrograph itself, instruments burn marks in at the white
or black end of the range, or in colour into a grey picture (common practice, no source).
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from scipy.ndimage import maximum
from scipy.spatial import KDTree

from semwear.data_bar.level_ink import level_of_ink, without_brighter
from semwear.data_bar.outlined import outlined_pieces
from semwear.data_bar.panel import FRAME_PX, Panel

COLOUR_CHROMA = 60
"""Spread between the channels (of 255) from which a pixel of a grey picture counts as coloured ink."""
SEEN_IN_GREY, SEEN_SHARE, AS_STRONG = 50, 0.3, 0.6
"""Contrast in grey from which coloured print is read in grey, where its ends are sharper, the least share of every mark that has it
(edges have less, and colour that was stored coarsely goes beyond its ink), and the weakest mark's contrast in that of the strongest."""
BRIGHT_ENOUGH = 90
"""Contrast in grey (of 255) of ink that is found by brightness alone."""
OUTLINE_PX = 2
"""Outline that is taken out of the picture with a bar: beside a label it could be read as a figure."""
RIM_PX = 2
"""Columns or rows from the rim of a panel within which a rule or an open frame begins: a bar keeps more off."""
FULL_COLOUR = 0.7
"""Share of the ink's own colour from which a pixel is ink and no outline that took on some of it."""
LEAST_EVEN, WHOLE_HEIGHT = 5, 0.85
"""Number of evenly spaced strokes from which they are ticks, and height of a rule between columns, as a share of the panel's."""
BEYOND_INK = 1.35
"""Contrast, in that of coloured ink, from which a pixel is its shadow or outline."""
CLEAR_GROUND = 0.45
"""Contrast of the brightest of the picture around coloured ink at most, in that of the ink, where the ink is clear of it."""
DARK_OUTLINE = 40
"""Grey of the outline of coloured ink at most: where nothing is as dark, the picture would pass for one."""
FEW_BRIGHT, FEWEST_DARK_PX = 0.1, 60
"""Share of a mark that stands out in grey, up to which only its colour shows it, and pixels of such marks at least."""
SAME_INK = 20
"""Levels (of 255) by which marks of one ink differ in their mean contrast, in grey as in colour."""
LEAST_CHROMA = 40.0
"""Chroma (of 255) from which coloured print is seen in a grey picture: thin strokes have little of their colour."""
PANEL_INK_SHARE = 0.4
"""Share of the strongest contrast from which a pixel of a panel counts as ink."""


@dataclass(frozen=True, kw_only=True)
class Ink:
    """One layer of ink.

    plane: (rows, cols) uint8, ink bright on dark. mask: (rows, cols) bool, True on ink. low, high: grey of the plane
    between which it is stretched for reading. row_0, col_0: where the layer stands in the picture. name: "panel" or
    the kind of burnt-in ink. cut_out: whether nothing but print is in the layer, as on a panel or inside an outline.
    raw: burnt-in ink with the picture around it, (rows, cols) uint8, None on a panel.
    """

    plane: np.ndarray
    mask: np.ndarray
    low: float
    high: float
    row_0: int
    col_0: int
    name: str
    cut_out: bool = False
    raw: np.ndarray | None = None

    @property
    def on_panel(self) -> bool:
        return self.name == "panel"

    @property
    def one_level(self) -> bool:
        """Whether the mask is the pixels of one single grey level, which the picture around need not be darker than."""
        return self.name.startswith("level")

    @property
    def tone(self) -> str:
        """The tone of burnt-in ink: coloured, black or white."""
        return next((tone for tone in ("coloured", "black") if tone in self.name), "white")

    def without(self, boxes, *, margin_px: int = 1) -> "Ink":
        """Return the layer without the ink in the given boxes and a margin around them."""
        plane, mask = self.plane.copy(), self.mask.copy()
        for row_0, row_1, col_0, col_1 in boxes:
            rows = slice(max(row_0 - margin_px, 0), row_1 + margin_px)
            part = rows, slice(max(col_0 - margin_px, 0), col_1 + margin_px)
            plane[part], mask[part] = 0, False
        raw = self.raw
        if raw is not None and boxes:
            raw = raw.copy()
            more = margin_px + OUTLINE_PX if margin_px else 0
            for row_0, row_1, col_0, col_1 in boxes:
                part = np.s_[max(row_0 - more, 0) : row_1 + more, max(col_0 - more, 0) : col_1 + more]
                raw[part] = np.median(raw[part[0], max(col_0 - 12, 0) : col_1 + 12])
        return replace(self, plane=plane, mask=mask, raw=raw)

    def raw_crop(self, row_0: int, row_1: int, col_0: int, col_1: int) -> np.ndarray:
        """Return the given part with the picture around the ink (uint8) as dark ink on a light ground."""
        part = self.raw[max(row_0, 0) : row_1, max(col_0, 0) : col_1].astype(np.float32)
        low, high = np.percentile(part, (2, 98)) if part.size else (0.0, 255.0)
        return (255 - np.clip((part - low) / max(high - low, 1), 0, 1) * 255).astype(np.uint8)

    def crop(self, row_0: int, row_1: int, col_0: int, col_1: int, *, hard: bool = False) -> np.ndarray:
        """Return the given part (uint8) as dark ink on white; hard: stretched half as far, near to binary."""
        part = self.plane[max(row_0, 0) : row_1, max(col_0, 0) : col_1].astype(np.float32)
        low = self.low + (0.3 * (self.high - self.low) if hard else 0.0)
        high = self.high - (0.2 * (self.high - self.low) if hard else 0.0)
        return (255 - np.clip((part - low) / max(high - low, 1), 0, 1) * 255).astype(np.uint8)


def eight_bit(pixels: np.ndarray, white_level: float) -> np.ndarray:
    """Return (rows, cols) pixels of any depth as uint8 for finding print; a 12-bit range in 16 bits is stretched.

    >>> eight_bit(np.array([[0, 4095]], np.uint16), 65535.0).tolist()
    [[0, 255]]
    """
    if pixels.dtype == np.uint8:
        return np.ascontiguousarray(pixels)
    values = np.nan_to_num(pixels.astype(np.float32), nan=0.0, posinf=0.0, neginf=0.0)
    low, high = float(min(values.min(), 0.0)), float(values.max())
    if not np.issubdtype(pixels.dtype, np.floating) and high > 0.9 * white_level:
        low, high = 0.0, float(white_level)
    if high <= low:
        return np.zeros(values.shape, np.uint8)
    return np.round(np.clip((values - low) / (high - low), 0, 1) * 255).astype(np.uint8)


def panel_ink(grey: np.ndarray, rgb: np.ndarray | None, panel: Panel) -> Ink | None:
    """Return the ink on a panel, or None for an empty panel."""
    part = grey[panel.slices]
    difference = np.abs(part.astype(np.int16) - int(round(panel.grey)))
    # JPEG stores colour at half resolution but brightness in full, so that colour counts only where brightness can't.
    if rgb is not None:
        colours = rgb[panel.slices].astype(np.int16)
        ground = np.median(colours[difference <= 4], axis=0) if (difference <= 4).any() else np.full(3, panel.grey)
        coloured = np.abs(colours - ground.astype(np.int16)).max(axis=2)
        least = 0.3 * (coloured >= BRIGHT_ENOUGH).sum()
        if (difference >= BRIGHT_ENOUGH).sum() >= least:
            difference = _with_dark_colours(difference, coloured)
        elif not _all_seen_in_grey(difference, coloured):
            difference = coloured
    inner = difference[2:-2, 2:-2]
    strong = inner[inner > 40]
    if strong.size < 20:
        return None
    top = float(np.percentile(strong, 90))
    plane = np.clip(difference * (255.0 / top), 0, 255).astype(np.uint8)
    mask = plane >= PANEL_INK_SHARE * 255
    rules = _rules(mask)
    plane[rules], mask[rules] = 0, False
    return Ink(
        plane=plane,
        mask=mask,
        low=30.0,
        high=255.0,
        row_0=panel.row_0,
        col_0=panel.col_0,
        name="panel",
        cut_out=True,
    )


def _all_seen_in_grey(difference: np.ndarray, coloured: np.ndarray) -> bool:
    """Tell whether brightness shows every mark that colour shows, and none of them much weaker than another.

    Contrasts as for :func:`_with_dark_colours`.
    """
    strong = (coloured >= BRIGHT_ENOUGH).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(strong, connectivity=8)
    if count < 2:
        return False
    seen = _pixels_from(SEEN_IN_GREY, difference, labels) >= SEEN_SHARE * stats[:, cv2.CC_STAT_AREA]
    strongest = maximum(difference, labels, range(1, count))
    return bool(seen[1:].all() and np.min(strongest) >= AS_STRONG * np.max(strongest))


def _pixels_from(least: int, difference: np.ndarray, labels: np.ndarray) -> np.ndarray:
    """Return how many pixels of each labelled piece, the ground first, have a contrast of at least so much."""
    return np.bincount(labels.ravel(), weights=(difference >= least).ravel())


def _with_dark_colours(difference: np.ndarray, coloured: np.ndarray) -> np.ndarray:
    """Return the contrast of a panel in grey, in colour where marks as dark, or light, as their ground stand out by that alone.

    difference, coloured: (rows, cols) contrast with the ground in grey and in the colour channel that differs most.
    """
    strong = (coloured >= BRIGHT_ENOUGH).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(strong, connectivity=8)
    dark = _pixels_from(BRIGHT_ENOUGH, difference, labels) < FEW_BRIGHT * stats[:, cv2.CC_STAT_AREA]
    dark[0] = False
    if stats[dark, cv2.CC_STAT_AREA].sum() < FEWEST_DARK_PX:
        return difference
    # Ink whose brightness lies at the limit is dark in one letter and not in the next.
    core = cv2.erode(strong, np.ones((2, 2), np.uint8)) > 0
    levels = np.zeros((count, 2))
    weight = np.maximum(np.bincount(labels[core], minlength=count), 1)
    for column, values in enumerate((difference, coloured)):
        levels[:, column] = np.bincount(labels[core], weights=values[core], minlength=count) / weight
    dark |= (KDTree(levels[dark]).query(levels, p=np.inf)[0] <= SAME_INK) & (levels[:, 1] > 0)
    return np.where(thickened(dark[labels], 1), np.maximum(difference, coloured), difference)


def _rules(mask: np.ndarray) -> np.ndarray:
    """Frames and rules between columns: thin upright strokes as high as the panel's print, and thin pieces at its rim.

    Even strokes that don't part the panel from top to bottom are the ticks of a bar.
    """
    rows, cols = mask.shape
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    chosen, upright = np.zeros(count, bool), np.zeros(count, bool)
    letters = stats[1:][stats[1:, cv2.CC_STAT_WIDTH] > 4]
    letters = letters[(letters[:, cv2.CC_STAT_WIDTH] < 0.2 * cols) & (letters[:, cv2.CC_STAT_HEIGHT] < 0.9 * rows)]
    tallest = int(letters[:, cv2.CC_STAT_HEIGHT].max()) if len(letters) else 0
    for index in range(1, count):
        left, top, width, height, area = (int(value) for value in stats[index])
        reach = 4 if width >= cols - 8 and height >= rows - 8 else RIM_PX
        sides = (left <= reach, left + width >= cols - reach, top <= reach, top + height >= rows - reach)
        frame = (all(sides[:2]) and any(sides[2:])) or (all(sides[2:]) and any(sides[:2]))
        upright[index] = width <= 4 and height >= max(16, 0.55 * rows, 1.2 * tallest)
        across = all(sides[:2]) and height <= FRAME_PX
        if across and width >= 0.9 * cols:
            # A bar may stand on a rule: only the rule's own rows are one.
            own = labels[top : top + height, left : left + width]
            rule = (own == index).mean(axis=1) >= 0.9
            own[(own == index) & ~rule[:, None] & rule.any()] = 0
        chosen[index] = across or (frame and area <= 0.25 * width * height)
    ticks = upright & (stats[:, cv2.CC_STAT_HEIGHT] < WHOLE_HEIGHT * rows)
    if ticks.sum() >= LEAST_EVEN and np.ptp(np.diff(np.sort(stats[ticks, cv2.CC_STAT_LEFT]))) <= 2:
        upright &= ~ticks
    chosen |= upright
    return thickened(chosen[labels], 1) if chosen.any() else np.zeros(mask.shape, bool)


def burnt_ink(grey: np.ndarray, rgb: np.ndarray | None, panels: tuple[Panel, ...]):
    """Yield layers of ink burnt over the picture, likeliest first; panels are left out."""
    outside = np.ones(grey.shape, bool)
    for panel in panels:
        outside[panel.slices] = False
    if not outside.any():
        return
    seen = grey[outside]
    brightest, darkest = float(seen.max()), float(seen.min())
    if rgb is not None:
        chroma = (rgb.max(axis=2).astype(np.int16) - rgb.min(axis=2)).astype(np.uint8)
        coloured = (chroma >= COLOUR_CHROMA) & outside
        if 20 <= coloured.sum() <= 0.1 * grey.size and np.median(chroma) < 12:
            strongest = rgb.max(axis=2)
            ink_level = float(np.percentile(strongest[coloured], 90))
            outlined = _outlined(strongest, outside, ink_level, darkest, "outlined coloured ink")
            if outlined is not None and darkest <= DARK_OUTLINE:
                yield outlined
            high = float(np.percentile(chroma[coloured], 90))
            bright = _brightness_of(grey, coloured, coloured & (chroma >= FULL_COLOUR * high))
            if bright is not None:
                yield replace(
                    _burnt(bright, (bright >= 128) & outside, 230.0, 170.0, "coloured ink on a flat ground", strongest),
                    cut_out=True,
                )
            else:
                colour = _burnt(chroma, coloured, high, high - LEAST_CHROMA, "coloured ink", strongest)
                yield replace(colour, cut_out=True)
                bright = _brightness_of(grey, coloured, coloured & (chroma >= FULL_COLOUR * high), clear=True)
                if bright is not None:
                    sharp = _burnt(bright, (bright >= 128) & outside, 230.0, 170.0, "coloured ink that stands out", strongest)
                    yield replace(sharp, cut_out=True)
    if brightest - darkest < 50:
        return
    level = level_of_ink(grey, outside)
    if level is not None:
        plane = without_brighter(grey, level)
        yield _burnt(plane, (plane == level) & outside, float(level), 90.0, "level white ink")
    for plane, top, bottom, name in (
        (grey, brightest, darkest, "outlined white ink"),
        (255 - grey, 255 - darkest, 255 - brightest, "outlined black ink"),
    ):
        outlined = _outlined(plane, outside, top, bottom, name)
        if outlined is not None:
            yield outlined
    for name, margin in (("white ink", 10.0), ("black ink", 10.0), ("pale ink", 50.0)):
        plane = 255 - grey if name == "black ink" else grey
        top = 255.0 - darkest if name == "black ink" else brightest
        mask = (plane >= top - margin) & outside
        if 20 <= mask.sum() <= 0.35 * mask.size:
            mask = _with_partly_covered(plane, mask, top - margin) & outside
            yield _burnt(plane, mask, top - margin, 90.0, name)


def _outlined(plane: np.ndarray, outside: np.ndarray, top: float, bottom: float, name: str) -> Ink | None:
    """Return the layer of ink that has an outline, everything else taken out; None if there is none."""
    pieces = outlined_pieces(plane, outside, top=top, bottom=bottom)
    if pieces is None:
        return None
    stretched = np.clip((plane.astype(np.float32) - bottom) * (255.0 / (top - bottom)), 0, 255).astype(np.uint8)
    alone = np.where(thickened(pieces, 1), stretched, 0).astype(np.uint8)
    return Ink(plane=alone, mask=pieces, low=30.0, high=235.0, row_0=0, col_0=0, name=name, cut_out=True, raw=stretched)


def _brightness_of(grey: np.ndarray, coloured: np.ndarray, full: np.ndarray, *, clear: bool = False) -> np.ndarray | None:
    """Return coloured ink as it stands out in brightness, (rows, cols) uint8, or None if its ground isn't flat enough.

    coloured, full: (rows, cols) bool, True on pixels with some colour and with the full colour of the ink. JPEG stores colour
    at half resolution, so that ends are sharper in brightness, and the outline of ink takes on some colour. clear: whether the
    ground needn't be flat where hardly any of it comes near to the ink.
    """
    around = thickened(coloured, 6) & ~thickened(coloured, 3)
    ground = grey[around].astype(np.float32)
    if ground.size < 20:
        return None
    level = float(np.median(ground))
    contrast = grey.astype(np.float32) - level
    # A shadow or an outline is no ink: it lies on the other side of the ground, or farther from it than ink does.
    contrast *= 1.0 if float(np.median(contrast[full])) > 0 else -1.0
    top = float(np.percentile(contrast[full], 75))
    if top < 60:
        return None
    if np.ptp(np.percentile(ground, (10, 90))) > 30 and not (clear and np.percentile(contrast[around], 98) <= CLEAR_GROUND * top):
        return None
    contrast[contrast > BEYOND_INK * top] = 0.0
    return np.where(thickened(coloured, 2), np.clip(contrast * (255.0 / top), 0, 255), 0).astype(np.uint8)


def _with_partly_covered(plane: np.ndarray, mask: np.ndarray, ink_level: float) -> np.ndarray:
    """Add pixels beside the ink that it covers by half at least, judged by the ground around."""
    small = cv2.resize(plane, None, fx=1 / 3, fy=1 / 3, interpolation=cv2.INTER_AREA)
    ground = cv2.resize(cv2.medianBlur(small, 5), plane.shape[::-1], interpolation=cv2.INTER_NEAREST)
    half = (ground.astype(np.float32) + ink_level) / 2
    beside = cv2.dilate(mask.astype(np.uint8), cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))) > 0
    return mask | (beside & (plane >= half) & (half <= ink_level - 15))


def _burnt(
    plane: np.ndarray, mask: np.ndarray, high: float, depth: float, name: str, raw: np.ndarray | None = None
) -> Ink:
    return Ink(
        plane=plane,
        mask=mask,
        low=max(high - depth, 0.0),
        high=high,
        row_0=0,
        col_0=0,
        name=name,
        raw=plane if raw is None else raw,
    )


def thickened(mask: np.ndarray, by_px: int) -> np.ndarray:
    """Return a bool mask grown by by_px pixels on every side."""
    kernel = np.ones((2 * by_px + 1, 2 * by_px + 1), np.uint8)
    return cv2.dilate(mask.astype(np.uint8), kernel) > 0
