"""From trained weights to a model folder: calibrate probabilities, intervals and distance, measure, write the card.

The calibration fields come from a family and a renderer that the network was not trained on, so that doubt is measured
where it matters. What is fitted here is never measured on the same fields for the card's held-out figures; those come
from evaluate.py on other makers' fields.
"""

import contextlib
import json
from datetime import date
from pathlib import Path

import cv2
import numpy as np
import pandas as pd
import torch
from decisions import state_temperature, valley_offset
from evaluation import STATES, Evaluation, KnownField, evaluate, model_predictor
from negatives import negative, photograph_piece
from samples import Samples, from_bytes, prepared_array
from scipy.optimize import minimize, minimize_scalar

from semwear import __version__
from semwear.errors import RefusedError
from semwear.model import CARD_NAME, FORMAT, WEIGHTS_NAME, checksum, load_model
from semwear.network import FieldNetwork, inference, parameter_count, save_weights
from semwear.results import write_whole
from semwear.score import INPUT_LIMIT, network_input, run_tiled, score_regions, working_pixel_size

EMBEDDING_COMPONENTS = 48
DISTANCE_QUANTILE = 0.995
HIDDEN_LEVELS, NEVER_HIDDEN = (0.6, 0.7, 0.8, 0.9, 0.95, 0.98), 2.0
HIDDEN_PRECISION = 0.5
KIND_QUANTILE = 0.01
NEGATIVES = 900
KIND_PENALTY = 2e-4
TRIED_OFFSETS = {"unworn": 0.4, "worn": -0.4}
PURPOSE = (
    "States of the surface (plateau, open valley, smeared, scuffed) and worn regions in scanning electron micrographs "
    "of honed, run cylinder-liner sections."
)
HELD_SHARE, LEAST_SHOWN = 0.95, 0.0005
"""Share of the calibration fields whose intervals hold, and fraction of a state from which a field shows it."""
LIMITS = (
    "Trained on simulated micrographs only. Pixel sizes 0.1 to 2 µm. Fields that differ from the training fields are "
    "flagged and get no verdict. No engine, liner or oil may be released on its figures alone."
)


def finish(
    network: FieldNetwork,
    folder: Path,
    *,
    settings: dict,
    calibration: list[KnownField],
    experience: Samples,
    facts: dict,
    inherited: dict | None = None,
) -> Evaluation:
    """Write a complete model folder and return its evaluation on the calibration fields.

    ``inherited``: the card of the model that this one was trained further from. A few labelled pictures move the weights
    a little and can't tell how often the model is right, so that its probabilities, decisions and intervals stay.
    """
    folder.mkdir(parents=True, exist_ok=True)
    sizes_um = settings["network"]["working_pixel_sizes_um"]
    network = network.cpu().eval()
    refit_kind(network, experience, calibration, settings)
    run = inference(network)
    outputs = [_outputs(known, run, sizes_um) for known in calibration]
    save_weights(network, folder / WEIGHTS_NAME)
    card = {
        "name": folder.name,
        "format": FORMAT,
        "purpose": PURPOSE,
        "limits": LIMITS,
        "licence": "MIT",
        "date": date.today().isoformat(),
        "semwear": __version__,
        "architecture": "FieldNetwork",
        "widths": list(network.widths),
        "parameters": parameter_count(network),
        "preprocessing": "shading-corrected grey values, median 0 and robust spread 1 over the assessed area, "
        f"clipped at ±{INPUT_LIMIT:g}, resampled to the nearest working pixel size",
        "working_pixel_sizes_um": sizes_um,
        "state_temperature": inherited["state_temperature"] if inherited else state_temperature(outputs),
        "valley_offsets": inherited["valley_offsets"] if inherited else {"unworn": 0.0, "worn": 0.0},
        "hidden_limit": inherited["hidden_limit"] if inherited else _hidden_limit(outputs),
        "worn_temperature": inherited["worn_temperature"] if inherited else _worn_temperature(outputs),
        "distance": _distance(run, experience, outputs),
        "interval": inherited["interval"] if inherited else dict.fromkeys(STATES[1:], 1.0),
        "training": facts,
        "weights_sha256": checksum(folder / WEIGHTS_NAME),
    }
    if not inherited:
        card["valley_offsets"] = {wear: _valley_offset(folder, card, calibration, wear) for wear in TRIED_OFFSETS}
        # With factors of 1 the margins are the doubted shares themselves.
        sources = [known.source for known in calibration]
        card["interval"] = fit_interval(_evaluated(folder, card, calibration).table, sources)
    result = _evaluated(folder, card, calibration)
    card["calibration_fields"] = result.summary()
    card["calibration_by_family"] = result.by(lambda row: row["group"])
    card["calibration_by_pixel_size"] = result.by(
        lambda row: f"{working_pixel_size(row['pixel_size_um'], sizes_um):g} µm"
    )
    write_card(folder, card)
    load_model.cache_clear()
    return result


def _evaluated(folder: Path, card: dict, fields: list[KnownField]) -> Evaluation:
    """Evaluate the model as its card now stands."""
    write_card(folder, card)
    load_model.cache_clear()
    return evaluate(fields, model_predictor(load_model(folder)))


def _valley_offset(folder: Path, card: dict, calibration: list[KnownField], wear: str) -> float:
    """Return the valley's offset on fields that are wholly ``unworn`` or wholly ``worn``."""
    value = ("unworn", "worn").index(wear)
    alike = [known for known in calibration if (known.worn == value).any() and not (known.worn == 1 - value).any()]
    if not alike:
        return 0.0
    sources = [known.source for known in alike]
    plain, tried = (
        _evaluated(folder, card | {"valley_offsets": {"unworn": offset, "worn": offset}}, alike).table.assign(source=sources)
        for offset in (0.0, TRIED_OFFSETS[wear])
    )
    return valley_offset(plain, tried, TRIED_OFFSETS[wear])


def refit_kind(network: FieldNetwork, experience: Samples, calibration: list[KnownField], settings: dict) -> None:
    """Fit the last layer of "is this a liner surface?" anew on the finished features, by logistic regression.

    Liner surfaces are the training samples and two thirds of the calibration fields; the others are drawn and
    photographed pictures (negatives.py). The layer is linear, so the fit has one optimum; it is kept small by a
    quadratic penalty on the standardised embedding.
    """
    run, rng = inference(network), np.random.default_rng(7)
    sizes_um, side = settings["network"]["working_pixel_sizes_um"], settings["simulation"]["crop_px"]
    liner = [run(from_bytes(image))[3] for image in experience.image[experience.kind == 1][:400]]
    for known in calibration[::3] + calibration[1::3]:
        working_um = working_pixel_size(known.prepared.pixel_size_um, sizes_um)
        liner.append(run_tiled(run, network_input(known.prepared, working_um)[0])[3])
    other = []
    for number in range(NEGATIVES):
        pixels = photograph_piece(rng, side) if number % 3 == 0 else negative(rng, side)
        with contextlib.suppress(RefusedError):
            other.append(run(network_input(prepared_array(pixels, 0.5), 0.5)[0])[3])
    features = np.concatenate([liner, other])
    truth = np.concatenate([np.ones(len(liner)), np.zeros(len(other))])
    weight = np.where(truth == 1, 0.5 / len(liner), 0.5 / len(other))
    mean, spread = features.mean(0), features.std(0) + 1e-3
    scaled = (features - mean) / spread

    def cost(parameters: np.ndarray):
        logit = scaled @ parameters[:-1] + parameters[-1]
        gap = (1 / (1 + np.exp(-logit)) - truth) * weight
        value = np.sum(weight * (np.logaddexp(0, logit) - truth * logit)) + KIND_PENALTY * np.sum(parameters[:-1] ** 2)
        return value, np.append(scaled.T @ gap + 2 * KIND_PENALTY * parameters[:-1], gap.sum())

    solved = minimize(cost, np.zeros(features.shape[1] + 1), jac=True, method="L-BFGS-B", options={"maxiter": 2000}).x
    slope = solved[:-1] / spread
    with torch.no_grad():
        network.kind.weight.copy_(torch.from_numpy(slope[None]))
        network.kind.bias.fill_(float(solved[-1] - mean @ slope))


def write_card(folder: Path, card: dict) -> None:
    """Write the card as JSON (figures of the distance rounded) and as a page to read."""
    write_whole(folder / CARD_NAME, json.dumps(card, indent=1, ensure_ascii=False).encode())
    lines = [f"# Model {card['name']}", "", card["purpose"], "", f"**Limits.** {card['limits']}", ""]
    hidden = {
        "name",
        "purpose",
        "limits",
        "distance",
        "calibration_by_family",
        "calibration_by_pixel_size",
        "evaluation",
    }
    lines += ["| | |", "|---|---|"]
    for key, value in card.items():
        if key not in hidden and not isinstance(value, dict):
            lines.append(f"| {key.replace('_', ' ')} | {value} |")
    for key, value in card.items():
        if key not in hidden and isinstance(value, dict):
            lines += ["", f"## {key.replace('_', ' ').capitalize()}", "", "| | |", "|---|---|"]
            lines += [f"| {name} | {figure} |" for name, figure in value.items()]
    for key in ("calibration_by_family", "calibration_by_pixel_size"):
        if card.get(key):
            rows = card[key]
            columns = list(next(iter(rows.values())))
            lines += ["", f"## {key.replace('_', ' ').capitalize()}", ""]
            lines += ["| | " + " | ".join(columns) + " |", "|---" * (len(columns) + 1) + "|"]
            lines += [
                f"| {name} | " + " | ".join(str(row[column]) for column in columns) + " |" for name, row in rows.items()
            ]
    write_whole(folder / "card.md", ("\n".join(lines) + "\n").encode())


def _outputs(known: KnownField, run, sizes_um) -> dict:
    working_um = working_pixel_size(known.prepared.pixel_size_um, sizes_um)
    image, assessed = network_input(known.prepared, working_um)
    probabilities, worn, kind, embedding, hidden = run_tiled(run, image)
    rows, cols = assessed.shape
    truth = cv2.resize(known.codes, (cols, rows), interpolation=cv2.INTER_NEAREST)
    usable = np.flatnonzero((truth != 255).ravel() & assessed.ravel())
    chosen = usable[:: max(1, usable.size // 4000)]
    logits = np.log(np.maximum(probabilities.reshape(4, -1)[:, chosen], 1e-12)).astype(np.float32)
    return {
        "known": known, "assessed": assessed, "worn": worn,
        "kind": kind, "embedding": embedding, "working_um": working_um, "logits": logits,
        "truth": truth.ravel()[chosen], "hidden": _hidden_counts(hidden, truth == 255, assessed),
    }  # fmt: skip


def _hidden_counts(hidden: np.ndarray, truly: np.ndarray, assessed: np.ndarray) -> np.ndarray:
    """Return how many assessed pixels lie above each level, truly hidden ones and others, (2, levels)."""
    return np.stack([
        [(hidden[assessed & side] > level).sum() for level in HIDDEN_LEVELS] for side in (truly, ~truly)
    ]).astype(float)  # fmt: skip


def _hidden_limit(outputs: list[dict]) -> float:
    """Return the lowest level of probability above which pixels are more often truly hidden than not, or one never reached.

    Counted with one weight a field, so that one field with much of it doesn't decide.
    """
    shares = [output["hidden"] / output["assessed"].sum() for output in outputs]
    right, wrong = np.sum(shares, 0)
    sure = right >= HIDDEN_PRECISION * np.maximum(right + wrong, 1e-12)
    return HIDDEN_LEVELS[int(np.argmax(sure))] if sure.any() else NEVER_HIDDEN


def _worn_temperature(outputs: list[dict]) -> float:
    logits, truth = [], []
    for output in outputs:
        known = output["known"]
        for region in score_regions(output["worn"], known.prepared, output["working_um"], 1.0):
            worn = known.worn_in(region)
            if worn is not None:
                probability = np.clip(region["worn_probability"], 1e-7, 1 - 1e-7)
                logits.append(np.log(probability / (1 - probability)))
                truth.append(worn)
    if len(set(truth)) < 2:
        return 1.0
    logits, truth = np.asarray(logits), np.asarray(truth, float)

    def cost(log_temperature: float) -> float:
        scaled = logits / np.exp(log_temperature)
        return float(np.mean(np.logaddexp(0, scaled) - truth * scaled))

    return float(np.exp(minimize_scalar(cost, bounds=(-1, 2), method="bounded").x))


def _distance(run, experience: Samples, outputs: list[dict]) -> dict:
    """Principal components of the training samples' embeddings, and limits from the calibration fields."""
    chosen = np.flatnonzero(experience.kind == 1)[:800]
    embeddings = np.stack([run(from_bytes(image))[3] for image in experience.image[chosen]])
    calibration = np.stack([output["embedding"] for output in outputs])
    everything = np.concatenate([embeddings, calibration])
    mean = everything.mean(0)
    _, spread, axes = np.linalg.svd(everything - mean, full_matrices=False)
    spread = spread / np.sqrt(len(everything) - 1)
    count = min(EMBEDDING_COMPONENTS, int((spread > 1e-6).sum()))
    whitening = axes[:count].T / spread[:count]
    lengths = np.sqrt(np.mean(((calibration - mean) @ whitening) ** 2, 1))
    kinds = np.array([output["kind"] for output in outputs])
    return {
        "mean": np.round(mean, 5).tolist(),
        "whitening": np.round(whitening, 5).tolist(),
        "mahalanobis_limit": float(np.quantile(lengths, DISTANCE_QUANTILE)) * 1.15,
        "kind_limit": float(np.quantile(kinds, KIND_QUANTILE)),
        "kind_scale": 2.0,
    }


def fit_interval(table: pd.DataFrame, sources: list[str]) -> dict:
    """Return the factor of each state with which its 95 % intervals hold on that share of the fields that show it.

    table: of an evaluation whose intervals reach as far as the network doubts (semwear.score.doubted_shares); sources: who made
    each field; every maker counts alike. The error is that of the fraction as it is measured, refined along the lays. One factor
    a state: of a dozen further figures of a field (its noise, sharpness, area, pixels per groove width, distance from the training
    fields, lays, the doubt far from rims, what valley and smear have in common, another temperature …) none made the intervals of
    makers left out of the fit better in all three states.
    """
    return {
        state: holding_factor(
            table[f"{state}_found"].to_numpy(),
            table[f"{state}_true"].to_numpy(),
            table[[f"{state}_below", f"{state}_above"]].to_numpy(),
            np.asarray(sources),
        )
        for state in STATES[1:]
    }


def holding_factor(found: np.ndarray, true: np.ndarray, doubted: np.ndarray, sources: np.ndarray) -> float:
    """Return the least factor on the doubted shares, (fields, 2) below and above, with which 95 % of the fields hold.

    Fields that show nothing of the state hold at any factor and don't count; every source counts alike. 1 where none counts.

    >>> found, true = np.array([0.2, 0.2, 0.2, 0.0]), np.array([0.21, 0.22, 0.16, 0.0])
    >>> float(round(holding_factor(found, true, np.full((4, 2), 0.01), np.array(list("aabb"))), 6))
    4.0
    """
    error = found - true
    with np.errstate(divide="ignore", invalid="ignore"):
        needed = np.where(error > 0, error / doubted[:, 0], -error / doubted[:, 1])
    needed[error == 0] = 0.0
    shown = (np.maximum(found, true) >= LEAST_SHOWN) & np.isfinite(error) & np.isfinite(doubted).all(1)
    if not shown.any():
        return 1.0
    needed, sources = needed[shown], sources[shown]
    counts = dict(zip(*np.unique(sources, return_counts=True), strict=True))
    weights = np.array([1 / counts[source] for source in sources])
    order = np.argsort(needed)
    reached = np.cumsum(weights[order]) / weights.sum()
    best = needed[order][np.searchsorted(reached, HELD_SHARE - 1e-9)]
    return float(best) if np.isfinite(best) else float(needed[np.isfinite(needed)].max(initial=1.0))
