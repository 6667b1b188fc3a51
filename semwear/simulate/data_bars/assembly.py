"""From a layout to blocks of ink: the bar with its label, lines of facts, logos of invented shapes, annotations."""

from dataclasses import dataclass

import numpy as np

from semwear.simulate.data_bars.bar_marks import draw_bar
from semwear.simulate.data_bars.block import Block, beside, blank, ink, lay_over, outlined, pad, softened, stack
from semwear.simulate.data_bars.lettering import render_text


@dataclass(frozen=True, kw_only=True)
class Pen:
    """How one data bar is written: face, height of the digits in px, anti-aliasing, colour, outline (colour, px)."""

    face: str
    digit_px: int
    smooth: bool
    colour: tuple[float, float, float]
    outline: tuple[tuple[float, float, float], int] | None = None
    soften_px: float = 0.0

    def write(self, text: str, colour=None) -> Block:
        """Return one line of text as a block."""
        return ink(render_text(text, self.face, self.digit_px, smooth=self.smooth), colour or self.colour)

    def finish(self, block: Block) -> Block:
        """Return ``block`` with this pen's outline and softness."""
        if self.outline is not None:
            block = outlined(block, *self.outline)
        return softened(block, self.soften_px) if self.soften_px else block


@dataclass(frozen=True, kw_only=True)
class Bar:
    """The bar as drawn: block (label included unless far), the far label or None, shape and length."""

    block: Block
    far_label: Block | None
    shape: str
    length_px: float


def _bar_sizes(shape: str, digit_px: int, rng: np.random.Generator) -> dict:
    thick = {"filled": max(2, round(digit_px * rng.uniform(0.15, 0.7))), "line": int(rng.integers(1, 4)),
             "double": max(1, round(digit_px * rng.uniform(0.08, 0.2))), "hollow": max(2, digit_px // 4),
             "chequered": max(3, digit_px // 3), "chequered rows": max(4, digit_px // 2)}
    pen = int(rng.choice([1, 2, 3])) if digit_px >= 12 else int(rng.choice([1, 2]))
    ticks = int(rng.choice([11, 11, 6, 5, 3])) if shape in ("ruler", "ticks alone") else int(rng.choice([2, 4, 5, 6, 10]))
    return {"thick_px": thick.get(shape, pen), "tick_px": max(6, round(digit_px * rng.uniform(0.6, 1.3))), "ticks": ticks}


def make_bar(shape: str, label: str, label_at: str, length_px: float, pen: Pen, rng: np.random.Generator) -> Bar:
    """Return the bar of ``length_px`` with ``label`` placed at ``label_at`` (above, below, left, right, inside, far).

    Where the label doesn't fit inside, it is written above instead.
    """
    text = pen.write(label)
    gap = max(2, round(pen.digit_px * rng.uniform(0.25, 0.7)))
    sizes = _bar_sizes(shape, pen.digit_px, rng)
    if pen.outline is not None:
        sizes["thick_px"] = max(2, sizes["thick_px"])
    if label_at == "inside" and text.shape[1] > 0.7 * length_px - 2 * gap:
        label_at = "above"
    if label_at == "inside" and shape == "filled":
        sizes["thick_px"] = text.shape[0] + 2 * max(2, pen.digit_px // 5)
        mark = draw_bar(shape, length_px, pen.colour, rng, **sizes)
        reverse = tuple(1.0 - round(np.mean(pen.colour)) for _ in range(3))
        block = lay_over(mark, pen.write(label, reverse), (mark.shape[0] - text.shape[0]) // 2,
                         (mark.shape[1] - text.shape[1]) // 2)
        return Bar(block=pen.finish(block), far_label=None, shape=shape, length_px=length_px)
    if label_at == "inside" and shape == "gap":
        mark = draw_bar(shape, length_px, pen.colour, rng, **sizes, gap_px=text.shape[1] + 2 * gap)
        rows = max(mark.shape[0], text.shape[0])
        block = lay_over(blank(rows, mark.shape[1]), mark, (rows - mark.shape[0]) // 2, 0)
        block = lay_over(block, text, (rows - text.shape[0]) // 2, (mark.shape[1] - text.shape[1]) // 2)
        return Bar(block=pen.finish(block), far_label=None, shape=shape, length_px=length_px)
    mark = draw_bar(shape, length_px, pen.colour, rng, **sizes)
    align = str(rng.choice(["centre", "centre", "start", "end"]))
    if label_at == "inside":
        # Between the arms of a bracket.
        block = stack([text, mark] if shape == "bracket up" else [mark, text], max(1, gap // 3))
    elif label_at in ("above", "below"):
        block = stack([text, mark] if label_at == "above" else [mark, text], gap, align)
    elif label_at in ("left", "right"):
        block = beside([text, mark] if label_at == "left" else [mark, text], 2 * gap)
    else:
        return Bar(block=pen.finish(mark), far_label=pen.finish(text), shape=shape, length_px=length_px)
    return Bar(block=pen.finish(block), far_label=None, shape=shape, length_px=length_px)


def fact_lines(texts: list[str], pen: Pen, width_px: int, rows: int, gap_px: int) -> tuple[Block | None, list[str]]:
    """Return ``texts`` set in at most ``rows`` lines of ``width_px``, and those that were set; None when none fits.

    Texts go line by line in the given order; one that fits into no line is left out.
    """
    lines: list[list[Block]] = [[] for _ in range(rows)]
    printed = []
    for text in texts:
        block = pen.write(text)
        for line in lines:
            used = sum(other.shape[1] + gap_px for other in line)
            if used + block.shape[1] <= width_px:
                line.append(block)
                printed.append(text)
                break
    filled = [beside(line, gap_px, "start") for line in lines if line]
    if not filled:
        return None, []
    return pen.finish(stack(filled, max(2, pen.digit_px // 3), "start")), printed


def make_logo(size_px: int, colour, rng: np.random.Generator) -> Block:
    """Return an invented emblem of ``size_px``: discs, rings, bars or triangles put together at random."""
    rows, cols = np.mgrid[0:size_px, 0:size_px] / max(1, size_px - 1) * 2 - 1
    radius = np.hypot(rows, cols)
    kinds = [radius < 0.95, (radius < 0.95) & (radius > 0.6), np.abs(rows) + np.abs(cols) < 0.95,
             (np.abs(rows) < 0.9) & (np.abs(cols) < 0.9), (rows > 2 * np.abs(cols) - 0.9) & (rows < 0.8)]
    inner = [radius < 0.4, np.abs(rows - cols * rng.uniform(-1, 1)) < 0.18, np.abs(rows) < 0.2,
             np.sin(rng.uniform(5, 9) * (cols + rng.uniform(-1, 1) * rows)) > 0.3]
    mark = kinds[rng.integers(len(kinds))] ^ inner[rng.integers(len(inner))]
    return ink(mark & kinds[0].astype(bool) | mark, colour)


def make_annotation(pixel_size_um: float, pen: Pen, rng: np.random.Generator, width_px: int) -> tuple[Block, str]:
    """Return something a user drew into the picture that is no scale bar, and its text ("" for none).

    A measured distance (its number is never round), an empty rectangle, an arrow with a letter, or a cross.
    """
    kind = rng.choice(["distance", "rectangle", "arrow", "cross"])
    size = int(rng.integers(max(24, width_px // 20), max(40, width_px // 6)))
    if kind == "distance":
        length = size * pixel_size_um
        text = f"{length:.2f} um" if length < 100 else f"{length:.1f} um"
        if text.split()[0].rstrip("0").rstrip(".").replace(".", "").strip("0") in ("1", "2", "25", "3", "4", "5"):
            text = f"{length * 1.037:.2f} um"
        mark = draw_bar("end ticks", size, pen.colour, rng, thick_px=1, tick_px=max(7, pen.digit_px // 2))
        joined = stack([pen.write(text), mark], 3)
        return pen.finish(Block(colour=joined.colour, alpha=joined.alpha)), text
    shape = (int(size * rng.uniform(0.4, 1.0)), size)
    coverage = np.zeros(shape, np.float32)
    if kind == "rectangle":
        coverage[:2], coverage[-2:], coverage[:, :2], coverage[:, -2:] = 1, 1, 1, 1
    elif kind == "cross":
        coverage[shape[0] // 2, :], coverage[:, shape[1] // 2] = 1, 1
    else:
        middle = shape[0] // 2
        coverage[middle - 1 : middle + 1, :] = 1
        for step in range(min(middle, 9)):
            coverage[middle - step // 2 - 1 : middle + step // 2 + 1, step] = 1
        letter = str(rng.choice(list("ABCDE")))
        return pen.finish(beside([ink(coverage, pen.colour), pen.write(letter)], 3)), letter
    return pen.finish(ink(coverage, pen.colour)), ""


def framed(block: Block, margin_px: int, ground: float, cover: float, border, border_px: int) -> Block:
    """Return ``block`` on a box of grey ``ground`` and opacity ``cover`` with an optional border colour."""
    body = pad(block, margin_px, margin_px, margin_px, margin_px)
    box = ink(np.full(body.shape, cover, np.float32), (ground,) * 3)
    if border is not None and border_px:
        edge = np.ones(body.shape, np.float32)
        edge[border_px:-border_px, border_px:-border_px] = 0
        box = lay_over(box, ink(edge, border), 0, 0)
    return lay_over(box, body, 0, 0)
