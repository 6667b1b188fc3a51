"""Pictures of training and evaluation: learning curves, scatter of fractions, reliability."""

from pathlib import Path

import numpy as np
import pandas as pd
from evaluation import STATES, Evaluation
from matplotlib.figure import Figure

COLOURS = {"valley": "#0072B2", "smeared": "#E69F00", "scuffed": "#882255"}
MARKS = {"valley": "o", "smeared": "^", "scuffed": "s"}


def draw_learning_curves(log: Path, picture: Path) -> None:
    """Loss (and validation figures where logged) against the step."""
    table = pd.read_csv(log)
    figure = Figure(figsize=(7, 4), layout="constrained")
    axes = figure.subplots()
    axes.plot(table["step"], table["loss"], color="black", label="training loss")
    for name in [name for name in table if name not in ("step", "loss", "samples")]:
        axes.plot(table["step"], table[name], label=name.replace("_", " "))
    axes.set_xlabel("step")
    axes.set_ylabel("loss, and figures on the watched samples")
    axes.set_yscale("log")
    axes.grid(alpha=0.3, which="both")
    axes.legend()
    figure.savefig(picture, dpi=110)


def draw_fractions(result: Evaluation, picture: Path) -> None:
    """Found against true fraction of each field, with the 95 % intervals where the model gives them."""
    figure = Figure(figsize=(11, 4), layout="constrained")
    for axes, state in zip(figure.subplots(1, 3), STATES[1:], strict=True):
        table = result.table
        true, found = table[f"{state}_true"], table[f"{state}_found"]
        margins = table[[f"{state}_below", f"{state}_above"]].T.to_numpy() if f"{state}_below" in table else None
        axes.errorbar(
            true, found, yerr=margins, fmt=MARKS[state], color=COLOURS[state], ecolor="0.75", markersize=4, linewidth=0.8
        )
        top = 1.08 * max(0.02, true.max(), found.max())
        axes.plot([0, top], [0, top], color="black", linewidth=0.8)
        axes.set(xlim=(-0.02 * top, top), ylim=(-0.02 * top, top), xlabel=f"true {state} fraction",
                 ylabel=f"found {state} fraction")  # fmt: skip
        axes.set_title(f"mean absolute error {(found - true).abs().mean():.4f}", fontsize=10)
        axes.grid(alpha=0.3)
    figure.savefig(picture, dpi=110)


def draw_reliability(result: Evaluation, picture: Path) -> None:
    """Observed share of right pixels against stated confidence, with the share of pixels in each bin."""
    mean, share, count = result.reliability_bins
    figure = Figure(figsize=(5, 5), layout="constrained")
    upper, lower = figure.subplots(2, 1, height_ratios=(4, 1), sharex=True)
    filled = count > 0
    upper.plot([0.25, 1], [0.25, 1], color="black", linewidth=0.8)
    upper.plot(mean[filled], share[filled], "o-", color="#0072B2")
    upper.set(ylabel="share of pixels that are right", xlim=(0.25, 1.01), ylim=(0.25, 1.01))
    upper.grid(alpha=0.3)
    lower.bar(np.nan_to_num(mean), count / max(1, count.sum()), width=0.05, color="0.6")
    lower.set(xlabel="stated confidence", ylabel="share")
    figure.savefig(picture, dpi=110)
