"""Figures of a model (or of any other segmentation) on fields with known states: computed once, used by training,
evaluation and the comparison with peers."""

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from semwear.labels import LabelledField
from semwear.metrics import (
    area_under_roc,
    confusion,
    expected_calibration_error,
    fractions,
    intersection_over_union,
    reliability,
)
from semwear.prepare import PreparedField, prepare

STATES = ("plateau", "valley", "smeared", "scuffed")
BINS = 15


@dataclass(frozen=True, kw_only=True)
class KnownField:
    """A prepared field with its true states: codes (rows, cols) uint8 on the picture's own grid, worn (rows, cols) uint8
    0, 1 or 255 (unknown); stroke_deg where its plan states it; source: the folder of its labels or its maker, "" for the package's own simulator."""

    name: str
    group: str
    prepared: PreparedField
    codes: np.ndarray
    worn: np.ndarray
    stroke_deg: float | None = None
    source: str = ""

    def worn_in(self, region: dict) -> int | None:
        """Return 1 or 0 where a scored region is wholly worn or wholly unworn, None where it is mixed or unknown."""
        half = region["size_px"] / 2
        window = self.worn[
            max(0, int(region["row_px"] - half)) : int(region["row_px"] + half),
            max(0, int(region["col_px"] - half)) : int(region["col_px"] + half),
        ]
        uniform = window.size > 0 and window.min() == window.max() != 255
        return int(window.min()) if uniform else None


@dataclass(kw_only=True)
class Evaluation:
    """Per-field table, confusion counts (4, 4) of its rows, reliability counts and region scores."""

    table: pd.DataFrame
    counts: list[np.ndarray]
    reliability_bins: tuple[np.ndarray, np.ndarray, np.ndarray]
    region_scores: np.ndarray
    region_truth: np.ndarray
    codes: dict[str, np.ndarray] = field(default_factory=dict)

    def summary(self) -> dict:
        """The headline figures over all fields."""
        total = sum(self.counts, np.zeros((4, 4), np.int64))
        iou = intersection_over_union(total)
        figures = {f"iou_{state}": float(value) for state, value in zip(STATES, iou, strict=True)}
        for state in STATES[1:]:
            error = self.table[f"{state}_error"]
            figures[f"mae_{state}"] = float(error.abs().mean())
            figures[f"bias_{state}"] = float(error.mean())
        figures["ece"] = expected_calibration_error(*self.reliability_bins)
        figures["roc_auc_worn"] = area_under_roc(self.region_scores, self.region_truth)
        if "covered_valley" in self.table:
            for state in STATES[1:]:
                figures[f"coverage_{state}"] = float(self.table[f"covered_{state}"].mean())
                figures[f"interval_score_{state}"] = float(self.table[f"interval_score_{state}"].mean())
        if "distance" in self.table:
            figures["flagged_unlike"] = float((self.table["distance"] > 1).mean())
        figures["seconds_per_field"] = float(self.table["seconds"].mean())
        figures["fields"] = len(self.table)
        return {key: round(value, 4) if isinstance(value, float) else value for key, value in figures.items()}

    def by(self, key: Callable[[pd.Series], object]) -> dict:
        """IoU and mean absolute errors by a key of the table's rows."""
        keys = self.table.apply(key, axis=1)
        result = {}
        for name in sorted(keys.unique(), key=str):
            rows = self.table[keys == name]
            total = sum((self.counts[place] for place in rows.index), np.zeros((4, 4), np.int64))
            iou = intersection_over_union(total)
            result[str(name)] = {"fields": len(rows)} | {
                f"iou_{state}": _rounded(value) for state, value in zip(STATES[1:], iou[1:], strict=True)
            } | {f"mae_{state}": _rounded(rows[f"{state}_error"].abs().mean()) for state in STATES[1:]}  # fmt: skip
        return result


def _rounded(value: float) -> float | None:
    return round(float(value), 4) if np.isfinite(value) else None


def interval_score(found: float, true: float, below: float, above: float) -> float:
    """Return the score of the 95 % interval of a fraction, kept inside [0, 1]: its width, and 40 times what it misses the
    truth by (Gneiting and Raftery, 2007, eq. 43, at α = 0.05). Smaller is better.

    >>> round(interval_score(0.1, 0.17, 0.02, 0.05), 6), round(interval_score(0.01, 0.01, 0.02, 0.05), 6)
    (0.87, 0.06)
    """
    low, high = max(0.0, found - below), min(1.0, found + above)
    return high - low + 40 * (max(0.0, low - true) + max(0.0, true - high))


def known_from_labels(fields: Iterable[LabelledField]) -> list[KnownField]:
    known = []
    for label in fields:
        prepared = prepare(label.micrograph, label.calibration)
        known.append(
            KnownField(
                name=label.micrograph.file, group=label.specimen, prepared=prepared, codes=label.codes,
                worn=label.worn_map(), stroke_deg=label.stroke_deg, source=str(label.micrograph.path.parent),
            )  # fmt: skip
        )
    return known


def evaluate(fields: Iterable[KnownField], predict, *, keep_codes: bool = False) -> Evaluation:
    """Evaluate ``predict(prepared, stroke_deg)`` → dict with ``codes`` (own grid) and, where it has them, ``confidence``
    (rows, cols) of the chosen state, ``regions``, ``margins`` (below, above) of the 95 % intervals and ``distance``."""
    rows, counts, kept = [], [], {}
    binned = np.zeros((3, BINS))
    scores, truths = [], []
    for known in fields:
        started = time.perf_counter()
        result = predict(known.prepared, known.stroke_deg)
        seconds = time.perf_counter() - started
        codes = result["codes"]
        truth = np.where(codes == 255, 255, known.codes)
        counts.append(confusion(truth, codes))
        true_share, found_share = fractions(truth), fractions(codes)
        row = {
            "file": known.name, "group": known.group, "pixel_size_um": known.prepared.pixel_size_um, "seconds": seconds,
            "iou_valley": intersection_over_union(counts[-1])[1],
        }  # fmt: skip
        for state, name in enumerate(STATES):
            row |= {f"{name}_true": true_share[state], f"{name}_found": found_share[state]}
            row[f"{name}_error"] = found_share[state] - true_share[state]
        if "margins" in result:
            for name, (below, above) in zip(STATES[1:], result["margins"], strict=True):
                error = row[f"{name}_error"]
                row |= {f"{name}_below": below, f"{name}_above": above}
                row[f"covered_{name}"] = -above - 1e-12 <= error <= below + 1e-12
                row[f"interval_score_{name}"] = interval_score(row[f"{name}_found"], row[f"{name}_true"], below, above)
        if "distance" in result:
            row["distance"] = result["distance"]
        if "confidence" in result:
            both = (truth != 255) & (codes != 255)
            mean, share, count = reliability(result["confidence"][both], truth[both] == codes[both], bins=BINS)
            binned += np.nan_to_num([mean * count, share * count, count])
        for region in result.get("regions", ()):
            worn = known.worn_in(region)
            if worn is not None:
                scores.append(region["worn_probability"])
                truths.append(worn)
        rows.append(row)
        if keep_codes:
            kept[known.name] = codes
    filled = binned[2] > 0
    mean, share = (np.divide(line, binned[2], out=np.full(BINS, np.nan), where=filled) for line in binned[:2])
    return Evaluation(
        table=pd.DataFrame(rows), counts=counts, reliability_bins=(mean, share, binned[2]),
        region_scores=np.asarray(scores), region_truth=np.asarray(truths), codes=kept,
    )  # fmt: skip


def model_predictor(model):
    """Return ``predict`` for a loaded semwear model: its states as the pipeline gives them, refined along the lays."""
    import cv2

    from semwear.pipeline import lays_of
    from semwear.refine import refine_states
    from semwear.score import score_field

    def predict(prepared: PreparedField, stroke_deg: float | None = None) -> dict:
        scores = score_field(prepared, model)
        lays = lays_of(prepared, scores, stroke_deg=stroke_deg)
        codes = refine_states(scores.codes, scores.probabilities, lays, prepared.pixel_size_um)
        rows, cols = prepared.assessed.shape
        confidence = cv2.resize(scores.probabilities.max(0), (cols, rows), interpolation=cv2.INTER_LINEAR)
        return {
            "codes": codes, "confidence": confidence, "regions": scores.regions,
            "margins": scores.margins, "distance": scores.distance,
        }  # fmt: skip

    return predict
