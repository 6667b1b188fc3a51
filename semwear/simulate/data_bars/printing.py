"""Printing of data bars in many invented layouts into a simulated micrograph, with the exact truth of what was drawn.

Ends of the scale bar are given in **pixel-edge coordinates** (a bar on the columns 10 to 109 runs from 10.0 to 110.0 and
is 100 px long). Solid marks end at their outer edges; marks that end in ticks (ticks alone, end ticks, brackets) at
the centres of the outer ticks: see :mod:`semwear.simulate.data_bars.bar_marks`.
"""

import math
from dataclasses import dataclass

import numpy as np

from semwear.simulate.data_bars.assembly import Pen, make_annotation, make_bar
from semwear.simulate.data_bars.bar_marks import SHAPES
from semwear.simulate.data_bars.block import Ends, burn
from semwear.simulate.data_bars.layouts import BLACK, LAYOUTS, NOTHING_PRINTED, WHITE, Layout
from semwear.simulate.data_bars.lettering import FACES, printed_height_px
from semwear.simulate.data_bars.placing import Job, Placed, place_inside, place_strip, widened
from semwear.simulate.data_bars.wording import Fact, choose_bar_um, compose_wording

CONTRADICTIONS = ("magnification", "field width", "pixel size", "bar label")
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


def _luminance(colour) -> float:
    return float(np.dot(colour, (0.299, 0.587, 0.114)))


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
                 colour_ok) -> Job:
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
    return Job(layout=layout, rng=rng, pen=pen, fact_pen=fact_pen, wording=wording, bar=bar,
                ground=float(np.round(ground * 255) / 255))


def _annotate(canvas, marks, job: Job, pixel_size_um: float) -> str:
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
            marks |= widened(inked)
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
            made = place_strip(job, picture, strip_covers) if strip else place_inside(job, picture)
        except ValueError as error:
            failure = error
            continue
        if contradiction in ("", "bar label") or job.wording.facts[0].text in made.facts:
            return _finish(image, made, job, pixel_size_um, contradiction, jpeg_share, annotation_share)
        failure = ValueError(f"layout {name!r} has no room for a wrong {contradiction}")
    raise ValueError(f"could not print {layout or 'any layout'} into {image.shape} px: {failure}")


def _finish(image, made: Placed, job: Job, pixel_size_um, contradiction, jpeg_share, annotation_share) -> PrintedMicrograph:
    canvas, marks, origin, printed = made.canvas, made.marks.copy(), made.origin_px, made.facts
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
        ends_px=made.ends_px, edge_convention=SHAPES[job.bar.shape] if job.bar else "", marks=marks, picture=made.picture,
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
