"""Figures of the comparison: retention by specimen, interactions, iron against retention."""

import math
from collections.abc import Sequence

from semwear.compare.limits import Limits
from semwear.compare.matrix import MatrixModel
from semwear.compare.relations import words_of
from semwear.compare.specimens import SpecimenFigures
from semwear.compare.verdict import CANT_TELL, KEPT, MOVED, NO_VALLEYS, OTHER_SOURCE, REMOVED, SCUFFED, Verdict
from semwear.plots import figure_svg

INK, SOFT, RULE = "#24262c", "#70747c", "#e4e4e0"
MARKS = {
    KEPT: ("o", "#2b7bba"),
    MOVED: ("s", "#b8960c"),
    REMOVED: ("v", "#24262c"),
    OTHER_SOURCE: ("P", "#5aa9a0"),
    SCUFFED: ("^", "#d55e00"),
    NO_VALLEYS: ("X", "#8a6bb0"),
    CANT_TELL: ("o", "#ffffff"),
}
"""Mark and colour of each reading; the hues are from the palette of Okabe and Ito or near it, the marks differ too."""
MOST_SPECIMENS = 60
_LINES = (("-", "o"), ("--", "s"), (":", "^"), ("-.", "D"), ("-", "v"), ("--", "P"))


def _plain(text: str) -> str:
    return text.replace("$", r"\$")


def _tidy(panel, axis: str) -> None:
    panel.grid(axis=axis, color=RULE, linewidth=0.7)
    panel.set_axisbelow(True)


def retention_svg(figures: Sequence[SpecimenFigures], verdicts: Sequence[Verdict], limits: Limits) -> str:
    """Return retention with its interval for each specimen, marked by its reading; empty for none or too many."""
    shown = [(own, read) for own, read in zip(figures, verdicts, strict=True) if math.isfinite(own.retention.value)]
    if not shown or len(shown) > MOST_SPECIMENS:
        return ""

    def draw(figure) -> None:
        panel = figure.subplots()
        most = max(own.retention.value for own, _ in shown)
        reach = max(
            1.3,
            min(
                1.15 * max([own.retention.high for own, _ in shown if math.isfinite(own.retention.high)], default=1),
                2 * most,
            ),
        )
        for place, (own, read) in enumerate(reversed(shown)):
            found = own.retention
            if math.isfinite(found.high):
                panel.hlines(place, found.low, min(found.high, reach), color=INK, linewidth=1.1)
                _mark_end(panel, found.high, reach, place, INK)
            mark, colour = MARKS[read.reading]
            panel.plot(found.value, place, mark, color=colour, markeredgecolor=INK, markersize=7, label=read.reading)
        panel.axvline(1, color=SOFT, linewidth=0.8, linestyle=(0, (4, 3)))
        panel.axvspan(limits.lost, limits.kept, color="#efefe9", zorder=0)
        panel.set_yticks(range(len(shown)), [_plain(own.specimen) for own, _ in reversed(shown)])
        panel.set_ylim(-0.6, len(shown) - 0.4)
        panel.set_xlim(0, reach)
        goes_on = any(math.isfinite(own.retention.high) and own.retention.high > reach for own, _ in shown)
        panel.set_xlabel(
            "valley retention, 95 % interval; grey: between the limits for lost and kept"
            + ("; arrow: goes on" if goes_on else "")
        )
        _tidy(panel, "x")
        _legend(panel)

    return figure_svg(draw, width_in=7.6, height_in=1.5 + 0.34 * len(shown))


def _mark_end(panel, high: float, reach: float, place: float, colour: str) -> None:
    """Put an arrow where an interval goes on beyond the panel's right end."""
    if high > reach:
        panel.plot(reach, place, ">", color=colour, markersize=5, clip_on=False)


def _legend(panel) -> None:
    handles = dict(zip(*reversed(panel.get_legend_handles_labels()), strict=True))
    panel.legend(
        handles.values(),
        handles.keys(),
        loc="lower left",
        bbox_to_anchor=(0, 1.0),
        ncols=3,
        frameon=False,
        handletextpad=0.2,
        columnspacing=1.2,
    )


def iron_svg(
    figures: Sequence[SpecimenFigures],
    verdicts: Sequence[Verdict],
    iron: Sequence[float],
    *,
    unit: str,
    low: float,
    high: float,
) -> str:
    """Return iron against retention, marked by reading and named; empty below two points. low, high: limits, may be nan."""
    shown = [
        (own, read, value)
        for own, read, value in zip(figures, verdicts, iron, strict=True)
        if math.isfinite(own.retention.value) and math.isfinite(value)
    ]
    if len(shown) < 2:
        return ""

    def draw(figure) -> None:
        panel = figure.subplots()
        reach = max(1.15, 1.08 * max(own.retention.value for own, _, _ in shown))
        has_intervals = len(shown) <= MOST_SPECIMENS
        for own, read, value in shown:
            found = own.retention
            if math.isfinite(found.high) and has_intervals:
                panel.hlines(value, found.low, min(found.high, reach), color=SOFT, linewidth=0.8)
                _mark_end(panel, found.high, reach, value, SOFT)
            mark, colour = MARKS[read.reading]
            panel.plot(found.value, value, mark, color=colour, markeredgecolor=INK, markersize=8, label=read.reading)
            if len(shown) <= 24:
                panel.annotate(
                    _plain(own.specimen), (found.value, value), xytext=(6, 4), textcoords="offset points", fontsize=8
                )
        for end in (low, high):
            if math.isfinite(end):
                panel.axhline(end, color=SOFT, linewidth=0.8, linestyle=(0, (4, 3)))
        panel.set_xlim(0, reach)
        panel.set_ylim(0, 1.12 * max(value for _, _, value in shown))
        panel.set_xlabel("valley retention" + (" with 95 % interval; arrow: goes on" if has_intervals else ""))
        panel.set_ylabel(f"iron in the oil, {unit}; dashed: low and high")
        _tidy(panel, "both")
        _legend(panel)

    return figure_svg(draw, width_in=7.0, height_in=4.4)


def interactions_svg(model: MatrixModel, unit: str) -> str:
    """Return, for each pair of factors, the model's means of their cells as lines that are parallel without interaction."""
    pairs = [pair for pair in model.cells if any(effect.term == " × ".join(pair) for effect in model.effects)]
    pairs = pairs[:6]
    if not pairs:
        return ""

    def draw(figure) -> None:
        columns = min(3, len(pairs))
        rows = math.ceil(len(pairs) / columns)
        panels = figure.subplots(rows, columns, sharey=True, squeeze=False).ravel()
        for panel, (one, other) in zip(panels, pairs, strict=False):
            levels, others = model.levels[one], model.levels[other]
            for number, second in enumerate(others):
                line, mark = _LINES[number % len(_LINES)]
                values = [model.cells[(one, other)][(first, second)] for first in levels]
                panel.plot(
                    range(len(levels)),
                    values,
                    line,
                    marker=mark,
                    color=INK if number == 0 else SOFT,
                    label=_plain(second),
                )
            panel.set_xticks(range(len(levels)), [_plain(level) for level in levels])
            panel.set_xlim(-0.3, len(levels) - 0.7)
            panel.set_xlabel(_plain(one))
            panel.set_title(_plain(other), fontsize=9, color=SOFT, loc="left")
            _tidy(panel, "y")
            panel.legend(frameon=False, fontsize=8)
        for panel in panels[len(pairs) :]:
            panel.set_visible(False)
        figure.supylabel(words_of(model.response) + (f", {unit}" if unit not in ("", "1") else ""), fontsize=9)

    return figure_svg(draw, width_in=2.8 * min(3, len(pairs)) + 0.6, height_in=2.6 * math.ceil(len(pairs) / 3))
