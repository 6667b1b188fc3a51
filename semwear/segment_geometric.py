"""Open, smeared and scuffed from geometry alone: what is long, straight and along a lay differs from the plateau.

Two maps are made, the tone and the texture (local contrast of the finest details); both are turned so that a lay runs
along the rows, averaged along it, and set against the local plateau, which is the median across the lay over a width
that holds plateau on both sides. Grooves are darker than the plateau, as their walls hold electrons back, unless the
bright tail over both lays is clearly the heavier one; rims and rough floors add texture, never take any away. Grooves
are what exceeds the field's own limit between groove and plateau (Otsu's threshold of the evidence over all lays, N.
Otsu, IEEE Trans. SMC 9 (1979) 62) over a length that flakes, stains and grooves of the other lay don't reach along
this lay. A long average finds grooves that a shorter one loses in noise; where a groove sways about its line, the shorter one
decides within a few µm beside it where its edge is.

Within a groove an average over a short length tells open stretches from interruptions; an interruption with open groove
on both sides that looks like the plateau is smeared. That is a small part of smear only: metal that closes a groove over
a longer stretch leaves nothing that geometry could trace. Streaks of strong texture along the stroke, much longer than
wide, are scuffed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from scipy.ndimage import median_filter

from semwear.groove import Grooves, Turn, average_along, odd_length_px, trace_grooves
from semwear.lay import Lays, find_lays
from semwear.terms import MaskCode

if TYPE_CHECKING:
    from semwear.prepare import PreparedField

WORKING_SIDE_PX = 640
"""Longest side of the reduced picture that is segmented, px."""
COARSEST_WORKING_PIXEL_UM = 2.0
"""The picture is never reduced to coarser pixels than this, µm."""
LONG_AVERAGE_UM = 120.0
"""Average along the lay that tells grooves from what isn't along the lay, µm."""
SHORT_AVERAGE_UM = 24.0
"""Average along the lay that tells open stretches from interruptions, µm."""
PLATEAU_WIDTH_UM = 150.0
"""Width across the lay over which the plateau's level is taken, µm."""
BRIGHT_BIAS = 3.0
"""How much heavier the bright tail must be for grooves to count as bright: rims are bright beside dark floors too."""
TAIL_FROM = 2.0
"""Where the tails begin, in units of the plateau's spread."""
LEAST_CONTRAST = 2.0
"""Least contrast of a groove in units of the plateau's spread."""
LEAST_SPREAD = 0.02
"""The plateau's spread never counts as less, in units of the picture's robust spread."""
SHORTEST_GROOVE_UM = 40.0
"""A groove's evidence is unbroken over at least this length, µm."""
LONGEST_GAP_UM = 120.0
"""An interruption longer than this is not bridged, µm."""
SHORTEST_GAP_UM = 8.0
"""An interruption shorter than this is noise, µm."""
OPEN_SHARE, CLOSED_SHARE = 0.7, 0.3
"""Shares of the limit above which a groove's stretch is open, and below which an interruption looks like plateau."""
BESIDE_UM = 3.0
"""Width beside a groove's long average, and beside a gap in it, in which the short one decides where its edge is, µm: a groove
sways about its line."""
SCUFF_TEXTURE_RATIO = 3.0
"""Texture of a scuffed streak over that of the smoothest quarter of the field."""
SCUFF_LENGTH_UM, SCUFF_WIDTH_UM = 100.0, 12.0
"""Least length and width of a scuffed streak, µm."""


@dataclass(frozen=True, kw_only=True)
class Segmentation:
    """States of a field's pixels by geometry alone.

    codes: (rows, cols) uint8 mask codes on the picture's own grid, all not assessed where no lay was found; lays,
    grooves: what they rest on; flags.
    """

    codes: np.ndarray
    lays: Lays
    grooves: Grooves
    flags: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class _Working:
    """The reduced picture: tone and texture times the assessed share, and the share, (rows, cols) float32."""

    tone: np.ndarray
    texture: np.ndarray
    share: np.ndarray
    pixel_size_um: float

    @property
    def side_um(self) -> float:
        return min(self.tone.shape) * self.pixel_size_um


@dataclass(frozen=True, kw_only=True)
class _AlongLay:
    """Maps of one lay on its turned canvas against the plateau, in units of the picture's robust spread.

    inside: (rows, cols) bool, assessed; the maps: (rows, cols) float32, 0 outside; tone_spread: robust spread of the
    plateau in tone_long.
    """

    turn: Turn
    inside: np.ndarray
    tone_long: np.ndarray
    tone_short: np.ndarray
    texture_long: np.ndarray
    texture_short: np.ndarray
    tone_spread: float

    def evidence(self, side: int) -> tuple[np.ndarray, np.ndarray]:
        """Return the long and the short average of the evidence for a groove that is brighter (+1) or darker (-1)."""
        return (
            side * self.tone_long + np.maximum(self.texture_long, 0.0),
            side * self.tone_short + np.maximum(self.texture_short, 0.0),
        )


def segment_geometric(
    prepared: PreparedField, *, stroke_deg: float | None = None, lays: Lays | None = None
) -> Segmentation:
    """Return the states of a field's pixels, its lays and its traced grooves.

    stroke_deg: stated stroke, degrees in [0, 180) anticlockwise from the picture's rows, or None; lays: result of
    find_lays, if it is known already. Without a lay nothing can be told: every pixel is then not assessed, the grooves
    are empty and the flag ``no lay found`` is set.
    """
    lays = find_lays(prepared, stroke_deg=stroke_deg) if lays is None else lays
    shape = prepared.image.shape
    if not lays.directions_deg:
        nothing = np.zeros(shape, np.float32)
        grooves = trace_grooves(nothing, nothing, lays, prepared.pixel_size_um, prepared.assessed)
        codes = np.full(shape, MaskCode.NOT_ASSESSED, np.uint8)
        return Segmentation(codes=codes, lays=lays, grooves=grooves, flags=lays.flags)
    working = _reduce(prepared)
    maps = [_along_lay(working, direction) for direction in lays.directions_deg]
    open_map, smeared_map = _valleys(maps, working)
    scuffed_map = _scuffed(working, lays.stroke_deg, np.maximum(open_map, smeared_map))
    codes = np.full(shape, MaskCode.PLATEAU, np.uint8)
    # Blended back to the picture's own grid before deciding, so that edges stay smooth.
    for map_, code in (
        (scuffed_map, MaskCode.SCUFFED),
        (smeared_map, MaskCode.SMEARED),
        (open_map, MaskCode.OPEN_VALLEY),
    ):
        codes[cv2.resize(map_, shape[::-1], interpolation=cv2.INTER_LINEAR) > 0.5] = code
    codes[~prepared.assessed] = MaskCode.NOT_ASSESSED
    grooves = trace_grooves(
        codes == MaskCode.OPEN_VALLEY, codes == MaskCode.SMEARED, lays, prepared.pixel_size_um, prepared.assessed
    )
    scuffing = ("scuffing",) if np.any(codes == MaskCode.SCUFFED) else ()
    return Segmentation(codes=codes, lays=lays, grooves=grooves, flags=lays.flags + scuffing)


def _reduce(prepared: PreparedField) -> _Working:
    """Return tone and texture at the working size."""
    rows, cols = prepared.image.shape
    pixel_size_um = prepared.pixel_size_um
    reduction = max(1.0, min(max(rows, cols) / WORKING_SIDE_PX, COARSEST_WORKING_PIXEL_UM / pixel_size_um))
    size = (max(1, round(cols / reduction)), max(1, round(rows / reduction)))
    image = np.where(prepared.assessed, np.clip(prepared.image, -4.0, 4.0), 0.0).astype(np.float32)
    width = 2 * int(1.5 * reduction) + 3
    detail = np.minimum(np.abs(image - cv2.blur(cv2.blur(image, (width, width)), (width, width))), 3.0)
    share = prepared.assessed.astype(np.float32)
    tone, texture, share = (cv2.resize(each, size, interpolation=cv2.INTER_AREA) for each in (image, detail, share))
    return _Working(tone=tone, texture=texture, share=share, pixel_size_um=pixel_size_um * cols / size[0])


def _plateau_level(averaged: np.ndarray, width_px: float, step_px: int) -> np.ndarray:
    """Return the running median across the lay of a map averaged along it, (rows, cols) float32."""
    rows, cols = averaged.shape
    window = 25
    size = (max(1, cols // step_px), max(1, round(rows * window / max(width_px, window))))
    small = cv2.resize(averaged, size, interpolation=cv2.INTER_AREA)
    level = median_filter(small, (window, 3), mode="nearest")
    return cv2.resize(level, (cols, rows), interpolation=cv2.INTER_LINEAR)


def _along_lay(working: _Working, direction_deg: float) -> _AlongLay:
    """Return tone and texture of a lay against the local plateau."""
    turn = Turn(working.tone.shape, direction_deg)
    turned = turn.turn(cv2.merge([working.tone, working.texture, working.share]))
    share = np.ascontiguousarray(turned[..., 2])
    inside = share > 0.5
    pixel_size_um, side_um = working.pixel_size_um, working.side_um
    long_px = odd_length_px(min(LONG_AVERAGE_UM, side_um / 2.0), pixel_size_um)
    short_px = odd_length_px(min(SHORT_AVERAGE_UM, side_um / 15.0), pixel_size_um)
    width_px = min(PLATEAU_WIDTH_UM, side_um / 1.2) / pixel_size_um
    found = []
    for channel in (0, 1):
        values = np.ascontiguousarray(turned[..., channel])
        long_average = average_along(values, share, long_px)
        level = _plateau_level(long_average, width_px, max(1, long_px // 4))
        found += [
            np.where(inside, each - level, 0.0).astype(np.float32)
            for each in (long_average, average_along(values, share, short_px))
        ]
    return _AlongLay(
        turn=turn, inside=inside, tone_long=found[0], tone_short=found[1], texture_long=found[2], texture_short=found[3],
        tone_spread=_half_spread(found[0][inside][::7]),
    )  # fmt: skip


def _half_spread(tone: np.ndarray) -> float:
    """Return the robust spread of the side of the tone that has the lesser one, so that grooves don't widen it."""
    halves = [np.abs(half) for half in (tone[tone > 0.0], tone[tone < 0.0]) if half.size]
    return max(LEAST_SPREAD, 1.4826 * min((float(np.median(half)) for half in halves), default=0.0))


def _tail(values: np.ndarray) -> float:
    """Return the mean excess of values over the start of the tail, each clipped at 8."""
    return float(np.clip(values - TAIL_FROM, 0.0, 8.0).mean()) if values.size else 0.0


def _groove_side(maps: list[_AlongLay]) -> int:
    """Return +1 where grooves are brighter than the plateau, -1 where they are darker."""
    tone = np.concatenate([each.tone_long[each.inside] / each.tone_spread for each in maps])
    return 1 if _tail(tone) > BRIGHT_BIAS * _tail(-tone) else -1


def _limit(maps: list[_AlongLay], side: int, share: np.ndarray) -> float:
    """Return the evidence from which a pixel belongs to a groove."""
    over_lays = [each.turn.turn_back(each.evidence(side)[0]) for each in maps]
    strongest = np.maximum(np.maximum.reduce(over_lays)[share > 0.5][::5], 0.0)
    least = LEAST_CONTRAST * float(np.mean([each.tone_spread for each in maps]))
    top = float(strongest.max(initial=0.0))
    if top <= least:
        return least
    grey = np.round(strongest * (255.0 / top)).astype(np.uint8)
    otsu, _ = cv2.threshold(grey, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    return max(least, (otsu + 0.5) * top / 255.0)


def _along(mask: np.ndarray, operation: int, length_px: int) -> np.ndarray:
    """Return a mask opened or closed along its rows, (rows, cols) bool."""
    return cv2.morphologyEx(mask.astype(np.uint8), operation, np.ones((1, length_px), np.uint8)) > 0


def _across(mask: np.ndarray, width_px: int) -> np.ndarray:
    """Return a mask widened across its rows, (rows, cols) bool."""
    return cv2.dilate(mask.astype(np.uint8), np.ones((width_px, 1), np.uint8)) > 0


def _valleys(maps: list[_AlongLay], working: _Working) -> tuple[np.ndarray, np.ndarray]:
    """Return open and smeared maps on the working grid, (rows, cols) float32 in 0..1."""
    side = _groove_side(maps)
    limit = _limit(maps, side, working.share)
    pixel_size_um, side_um = working.pixel_size_um, working.side_um
    shortest_px = odd_length_px(min(SHORTEST_GROOVE_UM, side_um / 8.0), pixel_size_um)
    gap_px = odd_length_px(min(LONGEST_GAP_UM, side_um / 4.0), pixel_size_um)
    noise_px = odd_length_px(min(SHORTEST_GAP_UM, side_um / 40.0), pixel_size_um)
    beside_px = odd_length_px(2 * BESIDE_UM, pixel_size_um)
    open_map, smeared_map = (np.zeros(working.tone.shape, np.float32) for _ in range(2))
    for each in maps:
        evidence, near = each.evidence(side)
        core = _along(evidence > limit, cv2.MORPH_OPEN, shortest_px)
        is_open = _across(core, beside_px) & (near > OPEN_SHARE * limit)
        shut = ~is_open & (near < CLOSED_SHARE * limit) & each.inside
        # Only what interrupts a groove's core is a gap: ragged flanks come and go along the lay where nothing was closed.
        gap = _along(_along(is_open & core, cv2.MORPH_CLOSE, gap_px) & shut, cv2.MORPH_OPEN, noise_px)
        gap = _across(gap, beside_px) & shut
        open_map = np.maximum(open_map, each.turn.turn_back(is_open.astype(np.float32)))
        smeared_map = np.maximum(smeared_map, each.turn.turn_back(gap.astype(np.float32)))
    return open_map, smeared_map


def _scuffed(working: _Working, stroke_deg: float, valley_map: np.ndarray) -> np.ndarray:
    """Return the map of scuffed streaks on the working grid, (rows, cols) float32 in 0..1."""
    turn = Turn(working.tone.shape, stroke_deg)
    ground = working.share * (1.0 - np.clip(valley_map, 0.0, 1.0))
    share, texture = turn.turn(working.share), turn.turn(working.texture * ground)
    length_px = odd_length_px(min(SCUFF_LENGTH_UM, working.side_um / 3.0), working.pixel_size_um)
    width_px = odd_length_px(min(SCUFF_WIDTH_UM, working.side_um / 12.0), working.pixel_size_um)
    texture = average_along(texture, turn.turn(ground), length_px)
    texture = cv2.blur(texture, (1, width_px))
    inside = share > 0.5
    if not inside.any():
        return np.zeros_like(valley_map)
    streak = inside & (texture > SCUFF_TEXTURE_RATIO * float(np.quantile(texture[inside], 0.25)))
    streak = _along(streak, cv2.MORPH_OPEN, length_px).astype(np.uint8)
    streak = cv2.morphologyEx(streak, cv2.MORPH_OPEN, np.ones((width_px, 1), np.uint8))
    return turn.turn_back(streak.astype(np.float32))
