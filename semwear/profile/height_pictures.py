"""Pictures of height maps: every map of a study in the same colours for the same heights, each with its scale bar."""

import math
from collections.abc import Sequence

import cv2
import numpy as np

from semwear.overlay import length_text, round_length_um
from semwear.plots import figure_svg
from semwear.profile.height_table import HeightResult, short_name

COLOURS = "cividis"
"""A map of colours whose lightness grows evenly with the value, for any colour vision (Nuñez, Anderton, Renslow 2018)."""
GAP_COLOUR, INK, SOFT = "#d5457f", "#24262c", "#70747c"
NOTE = "Zero is the unworn surface beside a track, else the map's own plateau. Pink: no height. Dashed: edges of the track."
DRAWN_PX = 420
"""Longest side of a drawn map in points of its own; finer maps are averaged."""
MOST_MAPS = 24
CLIPPED_SHARE = 1.0
"""Share of the heights beyond each end of the colour scale, %."""


def shared_range_um(results: Sequence[HeightResult]) -> tuple[float, float]:
    """Return the heights, µm, at the ends of the colour scale of all maps together; zero lies inside it.

    All but one per cent of the heights at each end lie between, each map counting alike. Raises ValueError without a measured map.
    """
    ends = [
        np.nanpercentile(result.texture_um[::3, ::3], (CLIPPED_SHARE, 100 - CLIPPED_SHARE))
        for result in results
        if result.texture_um is not None
    ]
    if not ends:
        raise ValueError("no measured map to take a range from")
    low, high = min(end[0] for end in ends), max(end[1] for end in ends)
    return float(min(low, 0.0)), float(max(high, 0.0))


def height_maps_svg(results: Sequence[HeightResult], range_um: tuple[float, float]) -> str:
    """Return the maps side by side as SVG text, with one colour bar in µm; empty text without a measured map.

    The maps come in the order given, MOST_MAPS at most. The track's edges are drawn as thin lines, gaps in a colour that the scale
    doesn't have.
    """
    shown = [result for result in results if result.texture_um is not None][:MOST_MAPS]
    if not shown:
        return ""
    columns = min(len(shown), 4 if len(shown) > 4 else 2)
    width_in = 9.0 if len(shown) > 1 else 6.5
    panel_in = (width_in - 1.1) / columns
    in_rows = [shown[first : first + columns] for first in range(0, len(shown), columns)]
    tall = [panel_in * min(max(map(_height_over_width, row)), 2.0) + 0.45 for row in in_rows]
    height_in = sum(tall) + 0.25

    def draw(figure) -> None:
        panels = np.atleast_1d(figure.subplots(len(in_rows), columns, squeeze=False, height_ratios=tall)).ravel()
        for panel in panels[len(shown) :]:
            panel.set_axis_off()
        image = None
        for panel, result in zip(panels, shown, strict=False):
            image = _draw_map(panel, result, range_um)
        bar = figure.colorbar(image, ax=list(panels), extend="both", aspect=30, shrink=0.95, pad=0.02)
        bar.set_label("height, µm")
        figure.supxlabel(NOTE, fontsize=8, color=SOFT, x=0.01, ha="left")

    return figure_svg(draw, width_in=width_in, height_in=height_in)


def _height_over_width(result: HeightResult) -> float:
    rows, cols = result.texture_um.shape
    return rows * result.pixel_height_um / (cols * result.pixel_width_um)


def _draw_map(panel, result: HeightResult, range_um: tuple[float, float]):
    heights = reduced(result.texture_um, DRAWN_PX)
    rows, cols = result.texture_um.shape
    width_um, height_um = cols * result.pixel_width_um, rows * result.pixel_height_um
    image = panel.imshow(
        np.ma.masked_invalid(heights), cmap=COLOURS, vmin=range_um[0], vmax=range_um[1],
        extent=(0, width_um, height_um, 0), interpolation="nearest", aspect="equal",
    )  # fmt: skip
    panel.set_facecolor(GAP_COLOUR)
    for side in panel.spines.values():
        side.set_visible(False)
    panel.set_xticks([])
    panel.set_yticks([])
    if result.track is not None:
        inside = cv2.resize(result.track.inside.astype(np.uint8), heights.shape[::-1], interpolation=cv2.INTER_NEAREST)
        along, down = np.linspace(0, width_um, heights.shape[1]), np.linspace(0, height_um, heights.shape[0])
        panel.contour(along, down, inside, levels=[0.5], colors="white", linewidths=0.8, linestyles="dashed")
    row = result.rows[0]
    zone = "track and sides" if result.track is not None else row["zone"] or row["stage"] or short_name(result.file)
    title = ", ".join(word for word in (row["specimen"], zone) if word)
    panel.set_title(title.replace("$", r"\$"), fontsize=9, loc="left", pad=3)
    bar_um = round_length_um(width_um / 3)
    panel.plot([0, bar_um], [1.035 * height_um] * 2, color=INK, linewidth=2, clip_on=False, solid_capstyle="butt")
    panel.text(bar_um + 0.02 * width_um, 1.035 * height_um, length_text(bar_um), va="center", fontsize=8, color=INK)
    panel.set_xlim(0, width_um)
    panel.set_ylim(height_um, 0)
    return image


def reduced(heights_um: np.ndarray, longest: int) -> np.ndarray:
    """Return a map averaged to at most ``longest`` points a side; NaN only where more than half was missing."""
    factor = max(heights_um.shape) / longest
    if factor <= 1:
        return heights_um
    size = tuple(max(1, math.floor(side / factor)) for side in heights_um.shape)[::-1]
    known = np.isfinite(heights_um)
    weight = cv2.resize(known.astype(np.float64), size, interpolation=cv2.INTER_AREA)
    total = cv2.resize(np.where(known, heights_um, 0.0), size, interpolation=cv2.INTER_AREA)
    return np.where(weight > 0.5, total / np.maximum(weight, 1e-9), np.nan)


def cross_profiles_svg(results: Sequence[HeightResult]) -> str:
    """Return the mean height across the stroke of every map that holds a track, as SVG text; empty without one."""
    shown = [result for result in results if result.track is not None][:12]
    if not shown:
        return ""

    def draw(figure) -> None:
        panel = figure.subplots()
        for place, result in enumerate(shown):
            track = result.track
            name = result.rows[0]["specimen"] or short_name(result.file)
            panel.plot(track.cross_at_um / 1000, track.cross_um, linewidth=1.2, color=f"C{place % 10}",
                       linestyle=("-", "--", ":")[place % 3], label=name.replace("$", r"\$"))  # fmt: skip
        panel.axhline(0, color="#70747c", linewidth=0.8)
        panel.set_xlabel("place across the stroke, mm")
        panel.set_ylabel("mean height against\nthe unworn sides, µm")
        panel.legend(frameon=False, loc="best")

    return figure_svg(draw, width_in=7.5, height_in=2.8)
