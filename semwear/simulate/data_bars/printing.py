"""Printing of data bars in many invented layouts into a simulated micrograph, with the exact truth of what was drawn.

Ends of the scale bar are given in **pixel-edge coordinates** (a bar on the columns 10 to 109 runs from 10.0 to 110.0 and
is 100 px long). Solid marks end at their outer edges; marks that end in ticks (ticks alone, end ticks, brackets) at
the centres of the outer ticks: see :mod:`semwear.simulate.data_bars.bar_marks`.
"""

import math
from dataclasses import dataclass

import numpy as np

from semwear.simulate.data_bars.assembly import (
    Bar,
    Pen,
    fact_lines,
    framed,
    make_annotation,
    make_bar,
    make_logo,
)
from semwear.simulate.data_bars.bar_marks import SHAPES
from semwear.simulate.data_bars.block import Block, Ends, beside, blank, burn, ink, lay_over, stack
from semwear.simulate.data_bars.layouts import BLACK, LAYOUTS, NOTHING_PRINTED, WHITE, Layout
from semwear.simulate.data_bars.lettering import FACES, printed_height_px
from semwear.simulate.data_bars.wording import Fact, Wording, choose_bar_um, compose_wording

CONTRADICTIONS = ("magnification", "field width", "pixel size", "bar label")
_MARGIN_OF_BURNT_INK_PX = 2
_TRIES = 40


@dataclass(frozen=True, kw_only=True)
class PrintedMicrograph:
    """A micrograph with its data bar, and the truth about it.

    image: (rows, cols) or (rows, cols, 3), uint8 or uint16; bar_label: as printed, "" without a bar; bar_um: the length
    that the label states, µm, nan without a bar; bar_px: distance of the ends, px; ends_px: ((row, col), (row, col)) in
    pixel-edge coordinates, left end first, or None; edge_convention: outer edges or tick centres; marks: (rows, cols)
    bool, strip, boxes and burnt-in ink with a margin of 2 px; picture: slices of the micrograph proper; origin_px:
    where pixel (0, 0) of the picture given stands; kv, detector, magnification, printed_pixel_size_um,
    printed_field_width_um: as printed, nan or "" where not printed; texts: every text; contradiction: which printed
    fact is wrong on purpose, "" for none; jpeg_quality: 0 when the pixels never went through JPEG.
    """

    image: np.ndarray
    layout: str
    shape: str
    bar_label: str
    bar_um: float
    bar_px: float
    ends_px: Ends | None
    edge_convention: str
    marks: np.ndarray
    picture: tuple[slice, slice]
    origin_px: tuple[int, int]
    kv: float
    detector: str
    magnification: float
    printed_pixel_size_um: float
    printed_field_width_um: float
    texts: tuple[str, ...]
    face: str
    digit_px: int
    contradiction: str
    jpeg_quality: int

    def place(self, array: np.ndarray, fill) -> np.ndarray:
        """Return ``array`` (on the grid of the picture given) on the printed grid, ``fill`` under all marks."""
        rows, cols = array.shape
        row, col = self.origin_px
        placed = np.full(self.marks.shape, fill, array.dtype)
        placed[row : row + rows, col : col + cols] = array
        placed[self.marks] = fill
        return placed


@dataclass(frozen=True, kw_only=True)
class _Job:
    """What the steps of one print share."""

    layout: Layout
    rng: np.random.Generator
    pen: Pen
    fact_pen: Pen
    wording: Wording
    bar: Bar | None
    ground: float

    @property
    def texts(self) -> list[str]:
        return [fact.text for fact in self.wording.facts]

    @property
    def margin_px(self) -> int:
        return max(3, round(self.pen.digit_px * 0.7))

    @property
    def line_px(self) -> int:
        return 1 if self.pen.digit_px < 14 else 2


def _luminance(colour) -> float:
    return float(np.dot(colour, (0.299, 0.587, 0.114)))


def _strip(job: _Job, width_px: int) -> tuple[Block, list[str]]:
    """Return the content of a strip (transparent ground) and the facts that it prints."""
    rng, margin, layout = job.rng, job.margin_px, job.layout
    gap = max(6, round(job.fact_pen.digit_px * rng.uniform(0.9, 2.2)))
    rows = int(rng.integers(layout.text_rows[0], layout.text_rows[1] + 1))
    if layout.bar_row_apart or job.bar is None:
        facts, printed = fact_lines(job.texts, job.fact_pen, width_px - 2 * margin, max(1, rows), gap)
        parts = [part for part in (facts, job.bar.block if job.bar else None) if part is not None]
        if rng.random() < 0.5:
            parts.reverse()
        rows_of_strip = [blank(part.shape[0], width_px) for part in parts]
        for index, part in enumerate(parts):
            at = rng.choice(layout.bar_at) if job.bar and part is job.bar.block else "left"
            rows_of_strip[index] = lay_over(rows_of_strip[index], part, 0, _column(at, part, width_px, margin))
        return stack(rows_of_strip or [blank(job.pen.digit_px, width_px)], max(2, margin // 2)), printed
    at = str(rng.choice(layout.bar_at))
    col = _column(at, job.bar.block, width_px, margin)
    pieces = [(job.bar.block, col)]
    free = [(margin, col - gap), (col + job.bar.block.shape[1] + gap, width_px - margin)]
    if job.bar.far_label is not None:
        label, (start, stop) = job.bar.far_label, free.pop(0 if at == "right" else 1)
        if stop - start < label.shape[1]:
            raise ValueError("no room for the far label")
        label_col = start if at == "right" else stop - label.shape[1]
        pieces.append((label, label_col))
        free.append((label_col + label.shape[1] + gap, stop) if at == "right" else (start, label_col - gap))
    texts, printed, borders = list(job.texts), [], [col - gap // 2, col + job.bar.block.shape[1] + gap // 2]
    for start, stop in sorted(free, key=lambda interval: interval[0] - interval[1]):
        if rng.random() < layout.logo and stop - start > 8 * job.pen.digit_px:
            logo = make_logo(round(job.pen.digit_px * rng.uniform(1.0, 1.9)), job.pen.colour, rng)
            pieces.append((logo, start))
            start += logo.shape[1] + gap
        if rows == 0 or stop - start < 3 * job.fact_pen.digit_px:
            continue
        facts, set_here = fact_lines(texts, job.fact_pen, stop - start, rows, gap)
        if facts is not None:
            pieces.append((facts, start))
            printed += set_here
            texts = [text for text in texts if text not in set_here]
    height = max(piece.shape[0] for piece, _ in pieces)
    strip = blank(height, width_px)
    for piece, piece_col in pieces:
        strip = lay_over(strip, piece, (height - piece.shape[0]) // 2, piece_col)
    if rng.random() < layout.separators:
        for border in borders:
            if margin < border < width_px - margin:
                line = ink(np.ones((height, job.line_px)), job.pen.colour)
                strip = lay_over(strip, line, 0, border - job.line_px // 2)
    return strip, printed


def _column(at: str, block: Block, width_px: int, margin_px: int) -> int:
    free = width_px - block.shape[1] - 2 * margin_px
    if free < 0:
        raise ValueError(f"a block of {block.shape[1]} px is too wide for {width_px} px")
    return margin_px + {"left": 0, "centre": free // 2, "right": free}[str(at)]


def _panel(job: _Job, width_px: int) -> tuple[Block, list[str]]:
    """Return bar and facts one below the other, no wider than ``width_px``."""
    rows = int(job.rng.integers(job.layout.text_rows[0], job.layout.text_rows[1] + 1))
    gap = max(3, round(job.pen.digit_px * job.rng.uniform(0.4, 0.9)))
    parts, printed = [] if job.bar is None else [job.bar.block], []
    if rows:
        lines = []
        for text in job.texts:
            facts, printed_here = fact_lines([text], job.fact_pen, width_px, 1, 1)
            if facts is not None and len(lines) < rows:
                lines.append(facts)
                printed += printed_here
        if lines:
            at_top = job.rng.random() < 0.4
            block = stack(lines, max(2, gap // 2), str(job.rng.choice(["start", "centre"])))
            parts = [block, *parts] if at_top else [*parts, block]
    if job.rng.random() < job.layout.logo:
        parts.insert(0, make_logo(round(job.pen.digit_px * 2), job.pen.colour, job.rng))
    return stack(parts or [blank(job.pen.digit_px, job.pen.digit_px)], gap), printed


def _strip_canvas(job: _Job, picture: np.ndarray, covers: bool):
    """Return canvas, marks, picture slices, origin, ends and printed texts for a layout with a strip or panel."""
    rows, cols = picture.shape[:2]
    rng, layout, margin = job.rng, job.layout, job.margin_px
    side = layout.place == "side"
    if side:
        content, printed = _panel(job, round(cols * 0.3))
        height, width = rows, content.shape[1] + 2 * margin
        if content.shape[0] + 2 * margin > rows:
            raise ValueError("the panel is too tall")
    else:
        content, printed = _strip(job, cols)
        height, width = content.shape[0] + 2 * max(2, round(margin * rng.uniform(0.4, 1.2))), cols
        if height > 0.25 * rows:
            raise ValueError("the strip is too tall")
    band = ink(np.ones((height, width)), (job.ground,) * 3)
    if rng.random() < layout.border:
        width_of_line, edge = job.line_px, np.ones((height, width))
        edge[width_of_line:-width_of_line, width_of_line:-width_of_line] = 0
        band = lay_over(band, ink(edge, job.pen.colour), 0, 0)
    top = margin if side and rng.random() < 0.5 else (height - content.shape[0]) // 2
    band = lay_over(band, content, top, (width - content.shape[1]) // 2)
    first = layout.place == "above" or (side and rng.random() < 0.4)
    if layout.place == "middle":
        covers = True
        start = int(rng.uniform(0.4, 0.9) * (rows - height))
    else:
        start = 0 if first else (cols if side else rows) - (0 if not covers else (width if side else height))
    extra = 0 if covers else (width if side else height)
    canvas = np.zeros((rows + (0 if side else extra), cols + (extra if side else 0), 3), np.float32)
    shift = extra if first else 0
    origin = (0, shift) if side else (shift, 0)
    canvas[origin[0] : origin[0] + rows, origin[1] : origin[1] + cols] = picture
    corner = (0, start) if side else (start, 0)
    burn(canvas, band, *corner)
    marks = np.zeros(canvas.shape[:2], bool)
    marks[corner[0] : corner[0] + height, corner[1] : corner[1] + width] = True
    kept = [slice(0, canvas.shape[0]), slice(0, canvas.shape[1])]
    if layout.place != "middle":
        axis, thickness = (1, width) if side else (0, height)
        kept[axis] = slice(thickness, canvas.shape[axis]) if first else slice(0, canvas.shape[axis] - thickness)
    return canvas, marks, tuple(kept), origin, _moved(band.ends_px, corner), printed


def _moved(ends: Ends | None, corner: tuple[int, int]) -> Ends | None:
    return None if ends is None else tuple((end[0] + corner[0], end[1] + corner[1]) for end in ends)


def _inside_canvas(job: _Job, picture: np.ndarray):
    """Return the same as :func:`_strip_canvas` for boxes and ink inside the picture."""
    rows, cols = picture.shape[:2]
    rng, layout, printed = job.rng, job.layout, []
    canvas, marks = picture.copy(), np.zeros((rows, cols), bool)
    blocks: list[tuple[Block, str, bool]] = []
    low = bool(rng.random() < 0.78)
    if layout.place == "inset":
        content, printed = _panel(job, round(cols * 0.45))
        border = job.pen.colour if rng.random() < layout.border else None
        box = framed(content, job.margin_px, job.ground, rng.uniform(*layout.see_through), border, job.line_px)
        blocks.append((box, str(rng.choice(layout.bar_at)), low))
    elif layout.name == "burnt row of facts":
        row, printed = _strip(job, cols - 2 * job.margin_px)
        blocks.append((row, "left", low))
    else:
        at = str(rng.choice(layout.bar_at))
        if job.bar is not None:
            blocks.append((job.bar.block, at, low))
        count = int(rng.integers(layout.text_rows[0], layout.text_rows[1] + 1))
        lines = []
        for text in job.texts[:count]:
            block, set_here = fact_lines([text], job.fact_pen, cols - 2 * job.margin_px, 1, 1)
            if block is not None:
                lines.append(block)
                printed += set_here
        if lines:
            joined = stack(lines, 3, "start") if rng.random() < 0.7 else beside(lines, job.margin_px)
            blocks.append((joined, str(rng.choice(["left", "right"])), not low))
    ends, margin = None, int(rng.integers(0 if layout.place == "inset" else 3, max(5, round(cols * 0.04))))
    for block, at, at_bottom in blocks:
        col = _column(at, block, cols, margin)
        row = rows - margin - block.shape[0] if at_bottom else margin
        if block.shape[0] > 0.4 * rows:
            raise ValueError("the block is too tall")
        burn(canvas, block, row, col)
        window = np.s_[row : row + block.shape[0], col : col + block.shape[1]]
        marks[window] |= block.alpha > 0
        ends = _moved(block.ends_px, (row, col)) or ends
    if layout.ground is None:
        marks = _widened(marks)
    return canvas, marks, (slice(0, rows), slice(0, cols)), (0, 0), ends, printed


def _widened(marks: np.ndarray) -> np.ndarray:
    from scipy.ndimage import binary_dilation

    return binary_dilation(marks, np.ones((3, 3), bool), iterations=_MARGIN_OF_BURNT_INK_PX)


def _choose_pen(layout: Layout, picture: np.ndarray, rng: np.random.Generator, shrink: float, colour_ok: bool) -> Pen:
    rows, cols = picture.shape[:2]
    largest = max(7.0, min(40.0, cols / 26, rows / 20))
    wanted = float(np.exp(rng.triangular(math.log(6), math.log(min(16, largest)), math.log(largest)))) * shrink
    if layout.ground is None:
        wanted = max(wanted, 9.0, 11.0 * shrink)
    faces = [name for name in layout.faces if FACES[name].smallest_px <= max(wanted, 7)] or ["plain"]
    face = str(rng.choice(faces))
    colour = layout.inks[rng.integers(len(layout.inks))]
    if not colour_ok and len(set(colour)) > 1:
        colour = WHITE
    outline = None
    if layout.ground is None:
        # Ink that would drown in the picture gets an outline, as operators choose it.
        band = picture[-max(8, rows // 8) :] if rng.random() < 0.8 else picture[: max(8, rows // 8)]
        drowns = min(abs(_luminance(colour) - float(np.quantile(band, q))) for q in (0.1, 0.25, 0.5, 0.75, 0.9)) < 0.3
        if rng.random() < layout.outline or drowns:
            outline = (BLACK if _luminance(colour) > 0.3 else WHITE, 1 if wanted < 16 else int(rng.integers(1, 3)))
    return Pen(face=face, digit_px=printed_height_px(face, wanted), smooth=bool(rng.random() < 0.75 or wanted < 9),
               colour=colour, outline=outline, soften_px=float(rng.choice([0, 0, 0, rng.uniform(0.3, 0.6)])))


def _micro_sign(face: str, rng: np.random.Generator) -> str:
    if not FACES[face].has_micro_sign:
        return "u"
    sign = str(rng.choice(["\u00b5", "\u03bc", "u"], p=[0.45, 0.25, 0.3]))
    return "\u00b5" if face == "pixel" and sign == "\u03bc" else sign


def _prepare_job(layout, picture, pixel_size_um, rng, shrink, kv, detector, specimen, with_bar, contradiction,
                 colour_ok) -> _Job:
    cols = picture.shape[1]
    pen = _choose_pen(layout, picture, rng, shrink, colour_ok)
    fact_digit = printed_height_px(pen.face, pen.digit_px * float(rng.choice([1.0, 1.0, 0.8])))
    fact_pen = Pen(**{**pen.__dict__, "digit_px": fact_digit})
    widest = 0.26 * cols if layout.place == "side" else 0.45 * cols
    wanted = math.exp(rng.uniform(math.log(0.06 * cols), math.log(widest)))
    bar_um = choose_bar_um(rng, pixel_size_um, cols, max(30, 0.05 * cols, wanted / 1.7), max(60, min(widest, wanted * 1.7)))
    wording = compose_wording(rng, bar_um=bar_um, pixel_size_um=pixel_size_um, field_width_um=cols * pixel_size_um,
                              display_width_mm=layout.display_width_mm, micro=_micro_sign(pen.face, rng), kv=kv,
                              detector=detector, specimen=specimen, scaled=with_bar, contradiction=contradiction)
    bar = None
    if with_bar:
        exact = bar_um / pixel_size_um
        length = float(round(exact)) if rng.random() < 0.85 else round(exact, 3)
        # Hollow ink with an outline has two pairs of edges, and no one could say which is meant.
        shapes = [shape for shape in layout.shapes if pen.outline is None or shape != "hollow"]
        bar = make_bar(str(rng.choice(shapes)), wording.bar_label, str(rng.choice(layout.label_at)), length,
                       pen, rng)
    ground = 0.0 if layout.ground is None else float(rng.uniform(*layout.ground))
    return _Job(layout=layout, rng=rng, pen=pen, fact_pen=fact_pen, wording=wording, bar=bar,
                ground=float(np.round(ground * 255) / 255))


def _annotate(canvas, marks, job: _Job, pixel_size_um: float) -> str:
    """Burn one annotation that is no scale bar where nothing is printed yet; return its text."""
    block, text = make_annotation(pixel_size_um, job.pen, job.rng, canvas.shape[1])
    rows, cols = block.shape
    if rows >= canvas.shape[0] or cols >= canvas.shape[1]:
        return ""
    for _ in range(8):
        row = int(job.rng.integers(0, canvas.shape[0] - rows))
        col = int(job.rng.integers(0, canvas.shape[1] - cols))
        if not marks[max(0, row - 12) : row + rows + 12, max(0, col - 12) : col + cols + 12].any():
            burn(canvas, block, row, col)
            inked = np.zeros_like(marks)
            inked[row : row + rows, col : col + cols] = block.alpha > 0
            marks |= _widened(inked)
            return text
    return ""


def _through_jpeg(image: np.ndarray, quality: int) -> np.ndarray:
    import io

    from PIL import Image

    buffer = io.BytesIO()
    Image.fromarray(image).save(buffer, "JPEG", quality=quality)
    return np.array(Image.open(buffer))


def print_data_bar(image: np.ndarray, pixel_size_um: float, rng: np.random.Generator | int, *,
                   layout: str | None = None, kv: float | None = None, detector: str | None = None, specimen: str = "",
                   with_bar: bool = True, contradiction: str = "", covers: bool | None = None,
                   jpeg_share: float = 0.3, annotation_share: float = 0.06) -> PrintedMicrograph:
    """Print a data bar into a copy of ``image`` and return it with the truth.

    image: (rows, cols) uint8 or uint16, at least 200 x 240 px; pixel_size_um: side of its pixels, µm; rng: generator or
    seed; layout: a key of LAYOUTS, "nothing printed", or None for a random family; kv, detector, specimen: facts that
    may be printed (invented when None or ""); with_bar False prints facts but nothing that tells a length;
    contradiction: one of CONTRADICTIONS that is printed wrong; covers: whether a strip hides rows of the picture (True)
    or is added to it (False), drawn when None; jpeg_share, annotation_share: chances that an 8-bit picture goes through
    JPEG, and that a user's annotation (a measured distance, a rectangle, an arrow) is in the picture.

    The bar's drawn length is a whole number of pixels in most pictures, as instruments draw it, so that label over length
    differs from ``pixel_size_um`` by up to half a pixel over the length; in the others the ends are anti-aliased.

    Raises ValueError for an unknown layout or contradiction, a picture that is too small, or when the layout asked for
    can't print the fact that is to be contradicted.

    >>> import numpy as np
    >>> printed = print_data_bar(np.full((480, 640), 90, np.uint8), 0.5, 7, layout="dark strip, solid bar left")
    >>> abs(printed.bar_um / printed.bar_px - 0.5) < 0.5 * 0.5 / printed.bar_px
    True
    """
    if layout is not None and layout not in (*LAYOUTS, NOTHING_PRINTED):
        raise ValueError(f"unknown layout {layout!r}: choose one of {', '.join(LAYOUTS)}")
    if contradiction and (contradiction not in CONTRADICTIONS or not with_bar):
        raise ValueError(f"contradiction {contradiction!r} needs a bar and must be one of {', '.join(CONTRADICTIONS)}")
    if image.ndim != 2 or image.dtype not in (np.uint8, np.uint16) or image.shape[0] < 200 or image.shape[1] < 240:
        raise ValueError(f"need a grey 8- or 16-bit picture of at least 200 x 240 px, not {image.dtype} {image.shape}")
    rng = np.random.default_rng(rng)
    if layout == NOTHING_PRINTED:
        return _unprinted(image)
    full = float(np.iinfo(image.dtype).max)
    picture = np.empty((*image.shape, 3), np.float32)
    picture[:] = (image * np.float32(1 / full))[..., None]
    kv = float(rng.choice([5, 10, 15, 20])) if kv is None else float(kv)
    detector = str(rng.choice(["SE", "BSE", "SEI", "ETD"])) if detector is None else detector
    for attempt in range(_TRIES):
        name = layout or str(rng.choice(list(LAYOUTS)))
        shrink = max(0.3, 1 - 0.06 * attempt)
        strip_covers = bool(rng.random() < 0.5) if covers is None else covers
        try:
            job = _prepare_job(LAYOUTS[name], picture, pixel_size_um, rng, shrink, kv, detector, specimen, with_bar,
                               contradiction, image.dtype == np.uint8)
            strip = job.layout.place not in ("inset", "burnt")
            made = _strip_canvas(job, picture, strip_covers) if strip else _inside_canvas(job, picture)
        except ValueError as error:
            failure = error
            continue
        if contradiction in ("", "bar label") or job.wording.facts[0].text in made[-1]:
            return _finish(image, made, job, pixel_size_um, contradiction, jpeg_share, annotation_share)
        failure = ValueError(f"layout {name!r} has no room for a wrong {contradiction}")
    raise ValueError(f"could not print {layout or 'any layout'} into {image.shape} px: {failure}")


def _finish(image, made, job: _Job, pixel_size_um, contradiction, jpeg_share, annotation_share) -> PrintedMicrograph:
    canvas, marks, picture, origin, ends, printed = made
    texts = [*([job.wording.bar_label] if job.bar else []), *printed]
    if job.rng.random() < annotation_share:
        note = _annotate(canvas, marks, job, pixel_size_um)
        texts += [note] if note else []
    full, rows, cols = float(np.iinfo(image.dtype).max), *image.shape
    inked = np.round(canvas[marks] * full).astype(image.dtype)
    coloured = bool((inked != inked[:, :1]).any())
    values = np.zeros(marks.shape, image.dtype)
    values[origin[0] : origin[0] + rows, origin[1] : origin[1] + cols] = image
    if coloured or (image.dtype == np.uint8 and job.rng.random() < 0.08):
        values = np.repeat(values[..., None], 3, axis=2)
        values[marks] = inked
    else:
        values[marks] = inked[:, 0]
    quality = 0
    if image.dtype == np.uint8 and job.rng.random() < jpeg_share:
        quality = int(job.rng.integers(65, 97))
        values = _through_jpeg(np.ascontiguousarray(values), quality)
    stated: dict[str, Fact] = {fact.kind: fact for fact in job.wording.facts if fact.text in printed}

    def number(kind: str) -> float:
        return float(stated[kind].value) if kind in stated else math.nan

    return PrintedMicrograph(
        image=np.ascontiguousarray(values), layout=job.layout.name, shape=job.bar.shape if job.bar else "",
        bar_label=job.wording.bar_label, bar_um=job.wording.bar_um, bar_px=job.bar.length_px if job.bar else math.nan,
        ends_px=ends, edge_convention=SHAPES[job.bar.shape] if job.bar else "", marks=marks, picture=picture,
        origin_px=origin, kv=number("kv"), detector=str(stated["detector"].value) if "detector" in stated else "",
        magnification=number("magnification"), printed_pixel_size_um=number("pixel size"),
        printed_field_width_um=number("field width"), texts=tuple(texts), face=job.pen.face, digit_px=job.pen.digit_px,
        contradiction=contradiction, jpeg_quality=quality)


def _unprinted(image: np.ndarray) -> PrintedMicrograph:
    nan = math.nan
    return PrintedMicrograph(
        image=image.copy(), layout=NOTHING_PRINTED, shape="", bar_label="", bar_um=nan, bar_px=nan, ends_px=None,
        edge_convention="", marks=np.zeros(image.shape, bool), picture=(slice(0, image.shape[0]), slice(0, image.shape[1])),
        origin_px=(0, 0), kv=nan, detector="", magnification=nan, printed_pixel_size_um=nan, printed_field_width_um=nan,
        texts=(), face="", digit_px=0, contradiction="", jpeg_quality=0)
