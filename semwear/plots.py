"""Figures for reports, as SVG text: the only module that imports matplotlib."""

import io
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

MOST_GROUPS = 60
"""More groups than this don't fit a page: no figure is drawn then."""
STATE_MARKS = (
    ("valley_fraction", "open valley", "#2b7bba", "o"),
    ("smeared_fraction", "smeared", "#b8960c", "s"),
    ("scuffed_fraction", "scuffed", "#d55e00", "^"),
)
"""Column, word, colour and mark of each state; the hues follow the outlines, darker to stand on white."""
GRID = "#e4e4e0"
AXIS_MARGIN = 0.02
"""Room left of zero, as a share of the axis, so that marks at zero stand free of its end."""
LINE_IN, MOST_HEIGHT_IN, LEAST_BAND_IN = 0.06, 8.0, 0.42
"""Height of a field's line, and of all of them: many fields move closer, down to a least height of each group."""


@dataclass(frozen=True, kw_only=True)
class Band:
    """The measured fields of one specimen and zone, and where their band begins, in lines from the top of the figure.

    Each field has a line of its own for each state, so that no interval lies over another.
    """

    name: str
    rows: Sequence[Mapping]
    top: float

    @property
    def bottom(self) -> float:
        """Return where the band ends: the lines, one empty line between states, and 1.5 above and below them."""
        return self.top + len(STATE_MARKS) * (len(self.rows) + 1) + 1

    def state_heights(self, state: int) -> np.ndarray:
        """Return the line of each field, shape (fields,), for the state of this index."""
        return self.top + 1.5 + state * (len(self.rows) + 1) + np.arange(len(self.rows))

    def even_heights(self) -> np.ndarray:
        """Return the fields' lines, shape (fields,), spread evenly over the band."""
        return self.top + (np.arange(len(self.rows)) + 0.5) * (self.bottom - self.top) / len(self.rows)


def overview_svg(rows: Sequence[Mapping]) -> str:
    """Return a figure of the measured fields: state fractions, and retention where known, by specimen and zone.

    One mark is one field, bars are 95 % intervals. Fields of a group lie below each other, in the order of the rows.
    Returns empty text without a measured field and for more groups than fit a page.
    """
    groups: dict[str, list[Mapping]] = {}
    for row in rows:
        if row["status"] == "measured":
            groups.setdefault(group_name(row), []).append(row)
    if not groups or len(groups) > MOST_GROUPS:
        return ""
    bands, top = [], 0.0
    for name in sorted(groups):
        bands.append(Band(name=name, rows=groups[name], top=top))
        top = bands[-1].bottom
    has_retention = any(np.isfinite(row["valley_retention"]) for band in bands for row in band.rows)

    def draw(figure) -> None:
        panels = figure.subplots(
            1, 1 + has_retention, sharey=True, squeeze=False, width_ratios=(3, 2)[: 1 + has_retention]
        )[0]
        _draw_fractions(panels[0], bands)
        if has_retention:
            _draw_retention(panels[1], bands)
        for panel in panels:
            for band in bands[1:]:
                panel.axhline(band.top, color=GRID, linewidth=0.7)
            panel.grid(axis="x", color=GRID, linewidth=0.7)
            panel.set_axisbelow(True)
        names = [band.name.replace("$", r"\$") for band in bands]
        panels[0].set_yticks([(band.top + band.bottom) / 2 for band in bands], names)
        panels[0].set_ylim(bands[-1].bottom, 0)  # downwards, as a table is read
        figure.supxlabel(
            "a mark is a field, in the order of the table of all fields; its line is the 95 % interval", fontsize=8
        )

    inner = min(LINE_IN * bands[-1].bottom, max(MOST_HEIGHT_IN, LEAST_BAND_IN * len(bands)))
    return figure_svg(draw, width_in=9.2, height_in=1.45 + inner)


def group_name(row: Mapping) -> str:
    """Return the words that tell a row's specimen, zone and stage.

    >>> group_name({"specimen": "A1", "zone": "in-track", "stage": ""})
    'A1, in-track'
    """
    words = [row["specimen"] or "no specimen", row["zone"], row["stage"]]
    return ", ".join(word for word in words if word)


def _draw_fractions(panel, bands: Sequence[Band]) -> None:
    rows = [row for band in bands for row in band.rows]
    for state, (column, word, colour, mark) in enumerate(STATE_MARKS):
        values = np.array([row[column] for row in rows])
        heights = np.concatenate([band.state_heights(state) for band in bands])
        lows = np.array([row[f"{column}_low"] for row in rows])
        highs = np.array([row[f"{column}_high"] for row in rows])
        known = np.isfinite(lows)
        panel.hlines(heights[known], 100 * lows[known], 100 * highs[known], color=colour, linewidth=0.9, alpha=0.7)
        panel.plot(100 * values, heights, mark, color=colour, label=word, markersize=4.5, markeredgecolor="white",
                   markeredgewidth=0.6, clip_on=False)  # fmt: skip
    panel.set_xlim(-AXIS_MARGIN * panel.get_xlim()[1], panel.get_xlim()[1])
    panel.set_xlabel("share of the assessed area, %")
    panel.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=3, frameon=False, handletextpad=0.2)


def _draw_retention(panel, bands: Sequence[Band]) -> None:
    placed = [(row, height) for band in bands for row, height in zip(band.rows, band.even_heights(), strict=True)]
    placed = [(row, height) for row, height in placed if np.isfinite(row["valley_retention"])]
    for basis, fill in (("reference", "#24262c"), ("continuity", "white")):
        chosen = [(row, height) for row, height in placed if row["retention_basis"] == basis]
        if not chosen:
            continue
        values = np.array([row["valley_retention"] for row, _ in chosen])
        heights = np.array([height for _, height in chosen])
        lows = np.array([row["valley_retention_low"] for row, _ in chosen])
        highs = np.array([row["valley_retention_high"] for row, _ in chosen])
        known = np.isfinite(lows)
        panel.hlines(heights[known], lows[known], highs[known], color="#24262c", linewidth=0.9, alpha=0.7)
        label = "against the reference" if basis == "reference" else "continuity (upper bound)"
        panel.plot(values, heights, "D", color=fill, markeredgecolor="#24262c", markersize=4.5, label=label,
                   clip_on=False)  # fmt: skip
    panel.axvline(1, color="#9a9a94", linewidth=0.8, linestyle=(0, (4, 3)))
    right = _right_end([row for row, _ in placed])
    panel.set_xlim(-AXIS_MARGIN * right, right)
    panel.set_xlabel("valley retention")
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
