"""Scale reading over simulated layouts: right, wrong and refused per layout, and the time a picture takes.

Run: python tests/benchmarks/bench_scale.py --count 5 --seed 0
"""

import argparse
import math
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace

import numpy as np

from semwear.data_bar import DataBar, read_data_bar
from semwear.simulate import simulate_field
from semwear.simulate.data_bars import LAYOUTS, PrintedMicrograph, print_data_bar

SHAPES = ((960, 1280), (768, 1024), (480, 640), (1536, 2048))
BACKGROUNDS = 6


@dataclass(frozen=True, kw_only=True)
class Case:
    """One printed picture, what was read from it, the verdict and the seconds it took."""

    seed: int
    printed: PrintedMicrograph
    bar: DataBar
    verdict: str
    seconds: float


def as_micrograph(image: np.ndarray) -> SimpleNamespace:
    """Wrap (rows, cols) or (rows, cols, 3) pixels as the reader of files hands them over."""
    white = float(np.iinfo(image.dtype).max)
    if image.ndim == 2:
        return SimpleNamespace(pixels=image, rgb=None, white_level=white)
    grey = np.round(image.astype(np.float64) @ (0.299, 0.587, 0.114)).astype(image.dtype)
    coloured = bool((np.ptp(image.astype(np.int16), axis=2) > 0).any())
    return SimpleNamespace(pixels=grey, rgb=image if coloured else None, white_level=white)


def verdict_of(bar: DataBar, printed) -> str:
    """Compare with what was printed (`bar_um` and `bar_px` are used). Right: the label's length and the bar's length within 1.5 px or 1 %; refused: no bar; else wrong."""
    if math.isnan(bar.bar_um):
        return "refused"
    allowed = max(1.5, 0.01 * printed.bar_px)
    right = math.isclose(bar.bar_um, printed.bar_um, rel_tol=1e-6) and abs(bar.bar_px - printed.bar_px) <= allowed
    return "right" if right else "wrong"


def backgrounds(count: int = BACKGROUNDS, *, folder: Path | None = None) -> list[tuple[np.ndarray, float]]:
    """Simulated fields without data bar: (pixels, pixel size µm), in several sizes; kept in a folder if one is given."""
    fields = []
    for seed in range(count):
        kept = None if folder is None else folder / f"background_{seed}.npz"
        if kept is not None and kept.exists():
            with np.load(kept) as stored:
                fields.append((stored["image"], float(stored["size"])))
            continue
        field = simulate_field(1000 + seed, shape=SHAPES[seed % len(SHAPES)])
        fields.append((field.image, field.pixel_size_um))
        if kept is not None:
            folder.mkdir(parents=True, exist_ok=True)
            np.savez(kept, image=field.image, size=field.pixel_size_um)
    return fields


def run(layout: str, seed: int, fields) -> Case:
    """Print one layout over one of the fields and read it back."""
    printed = None
    for attempt in range(len(fields)):
        image, size = fields[(seed + attempt) % len(fields)]
        try:
            printed = print_data_bar(image, size, seed, layout=layout)
            break
        except ValueError:  # The layout has no room in this picture.
            continue
    if printed is None:
        raise ValueError(f"layout {layout} fits no background")
    micrograph = as_micrograph(printed.image)
    start = time.process_time()
    bar = read_data_bar(micrograph)
    seconds = time.process_time() - start
    return Case(seed=seed, printed=printed, bar=bar, verdict=verdict_of(bar, printed), seconds=seconds)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=5, help="pictures per layout")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--layout", default="", help="only layouts whose name contains this")
    parser.add_argument("--keep", type=Path, default=None, help="folder in which the background fields are kept")
    parser.add_argument("--show", action="store_true", help="say what was read wherever it isn't right")
    arguments = parser.parse_args()
    fields = backgrounds(folder=arguments.keep)
    total, times, errors = Counter(), [], []
    names = [name for name in LAYOUTS if arguments.layout in name]
    print(f"{'layout':36s} right wrong refused seconds")
    for number, name in enumerate(names):
        cases = [run(name, arguments.seed + 1000 * number + index, fields) for index in range(arguments.count)]
        counts = Counter(case.verdict for case in cases)
        total += counts
        times += [case.seconds for case in cases]
        errors += [case.bar.bar_px - case.printed.bar_px for case in cases if case.verdict == "right"]
        mean = np.mean([case.seconds for case in cases])
        print(f"{name:36s} {counts['right']:5d} {counts['wrong']:5d} {counts['refused']:7d} {mean:7.2f}", flush=True)
        for case in cases:
            if arguments.show and case.verdict != "right":
                truth, bar = case.printed, case.bar
                print(
                    f"    {case.verdict} seed {case.seed} {truth.image.shape} {truth.shape} {truth.face} "
                    f"{truth.digit_px} px jpeg {truth.jpeg_quality}: printed {truth.bar_label!r} over "
                    f"{truth.bar_px:.1f} px, read {bar.bar_label!r} over {bar.bar_px:.1f} px; {bar.reason}; {bar.texts}"
                )
    count = sum(total.values())
    print(
        f"{count} pictures: right {total['right'] / count:.1%}, wrong {total['wrong'] / count:.1%}, refused "
        f"{total['refused'] / count:.1%}; mean {np.mean(times):.2f} s, longest {np.max(times):.2f} s; bar length off by "
        f"{np.mean(errors):+.2f} ± {np.std(errors):.2f} px where right"
    )


if __name__ == "__main__":
    main()
