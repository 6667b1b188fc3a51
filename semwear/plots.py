"""Figures for reports, as SVG text: the only module that imports matplotlib."""

import io
import warnings
from collections.abc import Mapping, Sequence

import numpy as np

MOST_GROUPS = 60
"""More groups than this don't fit a page: no figure is drawn then."""
STATE_MARKS = (
    ("valley_fraction", "open valley", "#2b7bba", "o"),
    ("smeared_fraction", "smeared", "#b8960c", "s"),
    ("scuffed_fraction", "scuffed", "#d55e00", "^"),
)
"""Column, word, colour and mark of each state; the hues follow the outlines, darker to stand on white."""


def overview_svg(rows: Sequence[Mapping]) -> str:
    """Return a figure of the measured fields: state fractions, and retention where known, by specimen and zone.

    One mark is one field; bars are 95 % intervals. Returns empty text without a measured field and for more groups
    than fit a page.
    """
    measured = [row for row in rows if row["status"] == "measured"]
    groups = sorted({group_name(row) for row in measured})
    if not groups or len(groups) > MOST_GROUPS:
        return ""
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    has_retention = any(np.isfinite(row["valley_retention"]) for row in measured)
    with rc_context({"font.size": 9, "axes.spines.top": False, "axes.spines.right": False, "svg.fonttype": "none",
                     "svg.hashsalt": "semwear"}), warnings.catch_warnings():  # fmt: skip
        warnings.simplefilter("ignore")  # a name in a script that the font lacks is drawn by the browser's font
        figure = Figure(figsize=(9.2, 1.25 + 0.42 * len(groups)), layout="constrained")
        panels = figure.subplots(
            1, 1 + has_retention, sharey=True, squeeze=False, width_ratios=(3, 2)[: 1 + has_retention]
        )[0]
        places = {name: len(groups) - 1 - index for index, name in enumerate(groups)}
        _draw_fractions(panels[0], measured, places)
        panels[0].set_yticks(list(places.values()), [name.replace("$", r"\$") for name in places])
        panels[0].set_ylim(-0.6, len(groups) - 0.4)
        if has_retention:
            _draw_retention(panels[1], measured, places)
        stream = io.StringIO()
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None})
    text = stream.getvalue()
    return text[text.index("<svg") :]


def group_name(row: Mapping) -> str:
    """Return the words that tell a row's specimen, zone and stage.

    >>> group_name({"specimen": "A1", "zone": "in-track", "stage": ""})
    'A1, in-track'
    """
    words = [row["specimen"] or "no specimen", row["zone"], row["stage"]]
    return ", ".join(word for word in words if word)


def _draw_fractions(panel, rows, places: Mapping[str, int]) -> None:
    for index, (column, word, colour, mark) in enumerate(STATE_MARKS):
        values = np.array([row[column] for row in rows])
        heights = np.array([places[group_name(row)] for row in rows]) + 0.22 * (1 - index)
        lows = np.array([row[f"{column}_low"] for row in rows])
        highs = np.array([row[f"{column}_high"] for row in rows])
        known = np.isfinite(lows)
        panel.hlines(heights[known], 100 * lows[known], 100 * highs[known], color=colour, linewidth=0.8, alpha=0.5)
        panel.plot(100 * values, heights, mark, color=colour, label=word, markersize=5, markeredgecolor="white",
                   markeredgewidth=0.6)  # fmt: skip
    panel.set_xlim(left=0)
    panel.set_xlabel("share of the assessed area, %")
    panel.grid(axis="x", color="#e4e4e0", linewidth=0.7)
    panel.set_axisbelow(True)
    panel.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=3, frameon=False, handletextpad=0.2)


def _draw_retention(panel, rows, places: Mapping[str, int]) -> None:
    for basis, fill in (("reference", "#24262c"), ("continuity", "white")):
        chosen = [row for row in rows if row["retention_basis"] == basis and np.isfinite(row["valley_retention"])]
        if not chosen:
            continue
        values = np.array([row["valley_retention"] for row in chosen])
        heights = np.array([places[group_name(row)] for row in chosen], dtype=float)
        lows = np.array([row["valley_retention_low"] for row in chosen])
        highs = np.array([row["valley_retention_high"] for row in chosen])
        known = np.isfinite(lows)
        panel.hlines(heights[known], lows[known], highs[known], color="#24262c", linewidth=0.8, alpha=0.5)
        label = "against the reference" if basis == "reference" else "continuity (upper bound)"
        panel.plot(values, heights, "D", color=fill, markeredgecolor="#24262c", markersize=5, label=label)
    panel.axvline(1, color="#9a9a94", linewidth=0.8, linestyle=(0, (4, 3)))
    panel.set_xlim(0, _right_end(rows))
    panel.set_xlabel("valley retention")
    panel.grid(axis="x", color="#e4e4e0", linewidth=0.7)
    panel.set_axisbelow(True)
    panel.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=1, frameon=False, handletextpad=0.2)


def _right_end(rows) -> float:
    """Return where the retention axis ends: beyond every value, and beyond the intervals up to 2."""
    values = max(row["valley_retention"] for row in rows if np.isfinite(row["valley_retention"]))
    highs = [row["valley_retention_high"] for row in rows if np.isfinite(row["valley_retention_high"])]
    return max(1.1, 1.1 * values, min(2.0, 1.05 * max(highs, default=0.0)))


def figure_svg(draw, *, width_in: float, height_in: float) -> str:
    """Return the SVG text of a figure of the given size, inches, that ``draw(figure)`` fills, in the style of reports."""
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    with rc_context({"font.size": 9, "axes.spines.top": False, "axes.spines.right": False, "svg.fonttype": "none",
                     "svg.hashsalt": "semwear"}), warnings.catch_warnings():  # fmt: skip
        warnings.simplefilter("ignore")  # a name in a script that the font lacks is drawn by the browser's font
        figure = Figure(figsize=(width_in, height_in), layout="constrained")
        draw(figure)
        stream = io.StringIO()
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None})
    text = stream.getvalue()
    return text[text.index("<svg") :]
