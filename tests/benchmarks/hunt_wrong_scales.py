"""Hunt for wrong scales: bars of eleven shapes burnt into real-looking pictures, with nothing to set them off from the surface.

Backgrounds are pictures without data bar, as `python -m tests.leading_maker FOLDER --fields 60 --seed 301` writes them. Half of
the pictures are stored once more, compressed or at a smaller size. Labels and bars that can't be told from the surface must be
refused; each wrong one is named with its seed.

Run: python tests/benchmarks/hunt_wrong_scales.py FOLDER… --count 500 --seed 0 [--keep SEEN]
"""

import argparse
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import cv2
import matplotlib
import numpy as np
from bench_scale import as_micrograph, verdict_of
from PIL import Image, ImageDraw, ImageFont

from semwear.data_bar import read_data_bar

SHAPES = ("row", "major row", "dots", "ticked", "ruler", "plain", "filled", "split", "two ticks", "arrow", "U")
TONES = ("white", "black", "white in black", "black in white")
FONTS = sorted(
    path
    for path in (Path(matplotlib.get_data_path()) / "fonts" / "ttf").glob("*.ttf")
    if path.stem in ("DejaVuSans", "DejaVuSans-Bold", "DejaVuSansMono", "DejaVuSerif", "STIXGeneral", "STIXGeneralBol", "cmss10")
)
LENGTHS = (1, 2, 5, 10, 20, 25, 30, 40, 50, 100, 200, 250, 300, 400, 500)
UM = {"µm": 1.0, "um": 1.0, "nm": 1e-3, "mm": 1e3}


@dataclass(frozen=True, kw_only=True)
class Burnt:
    """A picture (rows, cols) uint8 with a bar of known length."""

    pixels: np.ndarray
    bar_px: float
    bar_um: float
    text: str
    shape: str
    tone: str


def label_of(rng: np.random.Generator) -> tuple[str, float]:
    """Return a label as instruments print it and its length in µm."""
    unit = str(rng.choice(list(UM), p=[0.55, 0.35, 0.05, 0.05]))
    number = {"mm": float(rng.choice([0.1, 0.2, 0.5, 1.0])), "nm": 50.0 * int(rng.integers(1, 11))}.get(unit, float(rng.choice(LENGTHS)))
    figures = f"{number:.1f}" if number == int(number) and rng.random() < 0.2 else f"{number:g}"
    return f"{figures}{rng.choice(['', ' '])}{unit}", number * UM[unit]


def drawn(rng: np.random.Generator, shape: str, text: str, size: int, longest_px: int) -> tuple[np.ndarray, int]:
    """Return bar and label as ink (rows, cols) float in 0..1, and the bar's length: between the middles of ticks, else over all."""
    font = ImageFont.truetype(str(rng.choice([str(path) for path in FONTS])), size)
    left, top, right, foot = font.getbbox(text)
    wide, high = right - left, foot - top
    thick, tick = int(rng.integers(1, 4)), int(rng.integers(6, 22))
    length = int(rng.integers(60, longest_px))
    if shape in ("split", "two ticks"):
        length = max(length, wide + int(rng.integers(30, 160)))
    steps = {"row": int(rng.choice([4, 5, 10])), "major row": 10, "dots": 10}.get(shape, 1)
    length = max(5, length // steps) * steps
    below = bool(rng.random() < 0.6)
    col, row = 120, 40 if below else 40 + high + tick
    image = Image.new("L", (length + wide + 260, 5 * size + 120), 0)
    draw = ImageDraw.Draw(image)

    def upright(centre: int, rows: int) -> None:
        first = centre - (thick - 1) // 2
        draw.rectangle([first, row - rows // 2, first + thick - 1, row + rows // 2], fill=255)

    def along(first: int, stop: int, rows: int = thick) -> None:
        draw.rectangle([first, row - rows // 2, stop, row - rows // 2 + rows - 1], fill=255)

    if shape in ("row", "major row"):
        lower = tick if shape == "row" else round(0.6 * tick)
        for place in range(steps + 1):
            upright(col + place * length // steps, tick if place in (0, steps // 2, steps) else lower)
    elif shape == "dots":
        for place in range(steps + 1):
            centre = col + place * length // steps
            draw.ellipse([centre - thick, row - thick, centre + thick, row + thick], fill=255)
    elif shape in ("plain", "filled"):
        along(col, col + length - 1, thick if shape == "plain" else int(rng.integers(4, 12)))
    elif shape == "split":
        half = (length - wide) // 2 - 8
        along(col, col + half)
        along(col + length - half, col + length)
    elif shape != "two ticks":
        along(col, col + length)
    if shape in ("ticked", "ruler", "split", "two ticks"):
        upright(col, tick)
        upright(col + length, tick)
    if shape == "ruler":
        for place in range(1, 5):
            upright(col + round(place * length / 5), max(3, tick // 2))
    if shape == "U":
        for centre in (col, col + length):
            draw.rectangle([centre - (thick - 1) // 2, row - tick, centre - (thick - 1) // 2 + thick - 1, row], fill=255)
    if shape == "arrow":
        head = max(4, tick // 2)
        for tip, back in ((col, col + head), (col + length, col + length - head)):
            draw.polygon([(tip, row), (back, row - head // 2), (back, row + head // 2)], fill=255)
    if shape in ("split", "two ticks"):
        place = (col + (length - wide) // 2, row - high // 2)
    else:
        gap = int(rng.integers(4, 10))
        place = (
            col + (length - wide) // 2 if rng.random() < 0.8 else col,
            row + tick // 2 + gap if below else row - tick - high - gap,
        )
    draw.text((place[0] - left, place[1] - top), text, font=font, fill=255)
    ink = np.asarray(image, np.float32) / 255
    rows, cols = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
    return ink[rows[0] - 3 : rows[-1] + 4, cols[0] - 3 : cols[-1] + 4], length


def burnt(rng: np.random.Generator, background: np.ndarray) -> Burnt | None:
    """Return a part of a background (rows, cols) uint8 with a bar burnt into it, or None where it has no room."""
    cols = int(rng.integers(640, 1500))
    rows = int(0.75 * cols)
    scale = max(cols / background.shape[1], rows / background.shape[0])
    picture = cv2.resize(background, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC)
    top, left = (int(rng.integers(0, room + 1)) for room in (picture.shape[0] - rows, picture.shape[1] - cols))
    picture = picture[top : top + rows, left : left + cols].astype(np.float32)
    if rng.random() < 0.3:
        picture = np.clip((picture - 128) * rng.uniform(0.5, 1.3) + rng.uniform(70, 190), 0, 255)
    shape, tone = str(rng.choice(SHAPES)), str(rng.choice(TONES, p=[0.5, 0.2, 0.2, 0.1]))
    text, bar_um = label_of(rng)
    ink, length = drawn(rng, shape, text, int(rng.integers(14, 34) * cols / 1100 + 3), min(420, cols // 3))
    if ink.shape[0] + 20 > rows or ink.shape[1] + 20 > cols:
        return None
    first = int(rng.integers(max(5, rows - ink.shape[0] - 90) if rng.random() < 0.7 else 5, rows - ink.shape[0] - 5))
    box = np.s_[first : first + ink.shape[0], (col := int(rng.integers(5, cols - ink.shape[1] - 5))) : col + ink.shape[1]]
    grey = 255.0 if tone.startswith("white") else 0.0
    if " in " in tone:
        side = int(rng.choice([3, 5]))
        outline = cv2.dilate(ink, np.ones((side, side), np.uint8))
        picture[box] = picture[box] * (1 - outline) + (255.0 - grey) * outline
    picture[box] = picture[box] * (1 - ink) + grey * ink
    pixels, bar_px, stored = np.clip(picture, 0, 255).astype(np.uint8), float(length), rng.random()
    if stored < 0.35:
        quality = [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(60, 96))]
        pixels = cv2.imdecode(cv2.imencode(".jpg", pixels, quality)[1], cv2.IMREAD_GRAYSCALE)
    elif stored < 0.5:
        share = rng.uniform(0.6, 0.9)
        pixels = cv2.resize(pixels, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
        bar_px *= pixels.shape[1] / cols
    return Burnt(pixels=pixels, bar_px=bar_px, bar_um=bar_um, text=text, shape=shape, tone=tone)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", type=Path, nargs="+", help="folders of pictures without data bar")
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--keep", type=Path, default=None, help="folder in which pictures that are read wrongly are kept")
    arguments = parser.parse_args()
    paths = sorted(path for folder in arguments.folders for path in folder.iterdir() if path.suffix in (".tif", ".png", ".jpg"))
    total: Counter = Counter()
    for seed in range(arguments.seed, arguments.seed + arguments.count):
        rng = np.random.default_rng(seed)
        case = burnt(rng, cv2.imread(str(paths[rng.integers(len(paths))]), cv2.IMREAD_GRAYSCALE))
        if case is None:
            continue
        bar = read_data_bar(as_micrograph(case.pixels))
        verdict = verdict_of(bar, case)
        total[case.shape, verdict] += 1
        if verdict == "wrong":
            print(f"seed {seed}: {case.shape}, {case.tone}: {case.text!r} over {case.bar_px:.1f} px read as {bar.bar_label!r} over {bar.bar_px:.1f} px", flush=True)
            if arguments.keep is not None:
                arguments.keep.mkdir(parents=True, exist_ok=True)
                cv2.imwrite(str(arguments.keep / f"wrong_{seed}.png"), case.pixels)
    print(f"{'shape':12s} right wrong refused")
    for shape in SHAPES:
        print(f"{shape:12s} " + " ".join(f"{total[shape, verdict]:5d}" for verdict in ("right", "wrong", "refused")))
    print(f"{'all':12s} " + " ".join(f"{sum(total[shape, verdict] for shape in SHAPES):5d}" for verdict in ("right", "wrong", "refused")))


if __name__ == "__main__":
    main()
