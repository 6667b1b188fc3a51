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
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from skimage.filters import sato, threshold_otsu

from semwear.labels import read_labels
from semwear.prepare import flattened, prepare
from semwear.segment_geometric import segment_geometric
from semwear.simulate.scene import simulate_field
from semwear.terms import MaskCode

LEAST_AREA_UM2 = 40.0


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


def _smoothed(field: Judged) -> np.ndarray:
    return cv2.GaussianBlur(field.image, (0, 0), max(0.6, 0.6 / field.pixel_size_um))


def _without_specks(mask: np.ndarray, pixel_size_um: float) -> np.ndarray:
    _, labels, figures, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    kept = figures[:, cv2.CC_STAT_AREA] * pixel_size_um**2 >= LEAST_AREA_UM2
    kept[0] = False
    return kept[labels]


def _reduced(picture: np.ndarray, pixel_size_um: float) -> tuple[np.ndarray, float]:
    reduction = max(1.0, 1.0 / pixel_size_um)
    size = (round(picture.shape[1] / reduction), round(picture.shape[0] / reduction))
    return cv2.resize(picture, size, interpolation=cv2.INTER_AREA), pixel_size_um * reduction


def _above_otsu(response: np.ndarray, field: Judged) -> np.ndarray:
    response = cv2.resize(response.astype(np.float32), field.image.shape[::-1], interpolation=cv2.INTER_LINEAR)
    return _without_specks(response > threshold_otsu(response[field.assessed]), field.pixel_size_um)


def otsu(field: Judged) -> np.ndarray:
    """Dark side of Otsu's threshold."""
    smooth = _smoothed(field)
    return _without_specks(smooth < threshold_otsu(smooth[field.assessed]), field.pixel_size_um)


def black_hat(field: Judged) -> np.ndarray:
    """Black-hat with a disc of 40 µm."""
    small, pixel_um = _reduced(_smoothed(field), field.pixel_size_um)
    side = int(40.0 / pixel_um) | 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))
    return _above_otsu(cv2.morphologyEx(small, cv2.MORPH_BLACKHAT, disc), field)


def sato_ridges(field: Judged) -> np.ndarray:
    """Sato's filter for dark ridges 5, 10 and 20 µm wide."""
    small, pixel_um = _reduced(field.image, field.pixel_size_um)
    sigmas = [max(1.0, width / pixel_um / 3.5) for width in (5.0, 10.0, 20.0)]
    return _above_otsu(sato(small, sigmas=sigmas, black_ridges=True), field)


def geometric(field: Judged) -> np.ndarray | None:
    """Open valley by semwear's geometric segmentation; None where it finds no lay."""
    found = segment_geometric(field, stroke_deg=field.stroke_deg)
    return found.codes == MaskCode.OPEN_VALLEY if found.lays.directions_deg else None


METHODS = {"Otsu": otsu, "black-hat": black_hat, "Sato": sato_ridges, "semwear, geometric": geometric}


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
