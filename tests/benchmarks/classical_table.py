"""Geometric segmentation beside general-purpose pipelines on the same fields, as a table.

    python tests/benchmarks/classical_table.py --simulated 40 --seed 5000
    python tests/benchmarks/classical_table.py --folder LABELLED_PICTURES

The pipelines are what a careful user of scikit-image and OpenCV would set up: Otsu's threshold on the smoothed picture,
a black-hat of 40 µm with Otsu's threshold, and Sato's ridge filter at 5, 10 and 20 µm with Otsu's threshold, each without
specks below 40 µm². All get the same prepared picture and pixel size. Where no lay is found the geometric segmentation
refuses; the table says how often, and judges every method on the other fields and also on all of them, a refused field
then counting as one without valleys.
"""

import argparse
import csv
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from semwear.labels import read_labels
from semwear.prepare import flattened, prepare
from semwear.segment_geometric import segment_geometric
from semwear.simulate.scene import simulate_field
from semwear.terms import MaskCode

sys.path.insert(0, str(Path(__file__).parents[2] / "training"))
from classical import MASKS  # noqa: E402


@dataclass(frozen=True, kw_only=True)
class Judged:
    """A prepared picture with its true codes."""

    image: np.ndarray
    assessed: np.ndarray
    pixel_size_um: float
    codes: np.ndarray
    stroke_deg: float | None


def simulated(count: int, seed: int):
    """Yield simulated fields of every family but the unhoned ones; the stroke is stated."""
    while count:
        field = simulate_field(seed)
        seed += 1
        if field.family == "unhoned":
            continue
        count -= 1
        assessed = field.codes != MaskCode.NOT_ASSESSED
        raw = field.image.astype(np.float32) / np.iinfo(field.image.dtype).max
        image, _ = flattened(raw, assessed, field.pixel_size_um)
        yield Judged(
            image=np.where(assessed, image, 0.0).astype(np.float32),
            assessed=assessed,
            pixel_size_um=field.pixel_size_um,
            codes=field.codes,
            stroke_deg=field.stroke_deg,
        )


def labelled(folder: Path):
    """Yield the fields of a label folder; the stroke is stated where its truth.csv has it."""
    strokes = {}
    if (folder / "truth.csv").is_file():
        with open(folder / "truth.csv", newline="", encoding="utf-8") as table:
            strokes = {Path(row["file"]).name: row.get("stroke_deg") for row in csv.DictReader(table)}
    for field in read_labels(folder):
        prepared = prepare(field.micrograph, field.calibration)
        if prepared.image.shape != field.codes.shape:
            continue
        stated = strokes.get(Path(field.micrograph.file).name)
        yield Judged(
            image=prepared.image,
            assessed=prepared.assessed & (field.codes != MaskCode.NOT_ASSESSED),
            pixel_size_um=prepared.pixel_size_um,
            codes=field.codes,
            stroke_deg=float(stated) if stated else None,
        )


def geometric(field: Judged) -> np.ndarray | None:
    """Open valley by semwear's geometric segmentation; None where it finds no lay."""
    found = segment_geometric(field, stroke_deg=field.stroke_deg)
    return found.codes == MaskCode.OPEN_VALLEY if found.lays.directions_deg else None


METHODS = MASKS | {"semwear, geometric": geometric}


def judge(mask: np.ndarray, field: Judged) -> tuple[float, float]:
    """Return IoU of open valley (1 if neither has any) and the signed error of the valley fraction."""
    truth, mask = (each[field.assessed] for each in (field.codes == MaskCode.OPEN_VALLEY, mask))
    union = np.count_nonzero(truth | mask)
    return (np.count_nonzero(truth & mask) / union if union else 1.0), float(mask.mean() - truth.mean())


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--simulated", type=int, default=0, help="number of simulated fields")
    parser.add_argument("--seed", type=int, default=5000, help="seed of the first simulated field")
    parser.add_argument("--folder", type=Path, help="labelled pictures")
    arguments = parser.parse_args()
    fields = labelled(arguments.folder) if arguments.folder else simulated(arguments.simulated or 20, arguments.seed)
    results = {name: [] for name in METHODS}
    lay_found = []
    for field in fields:
        own = geometric(field)
        lay_found.append(own is not None)
        for name, method in METHODS.items():
            mask = own if method is geometric else method(field)
            results[name].append(judge(np.zeros(field.codes.shape, bool) if mask is None else mask, field))
    found = np.array(lay_found)
    print(f"{found.size} fields, a lay found in {found.sum()}")
    print(f"{'':20s} {'fields with a lay':>29s} {'all fields':>29s}")
    print(f"{'method':20s} " + 2 * f"{'IoU':>9s} {'error':>9s} {'bias':>9s} ")
    for name, rows in results.items():
        rows = np.array(rows)
        cells = []
        for chosen in (rows[found], rows):
            cells += [chosen[:, 0].mean(), np.abs(chosen[:, 1]).mean(), chosen[:, 1].mean()] if len(chosen) else [np.nan] * 3
        print(f"{name:20s} " + " ".join(f"{cell:9.3f}" for cell in cells))


if __name__ == "__main__":
    main()
