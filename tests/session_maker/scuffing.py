"""Scuffing: streaks along the stroke, ploughed here and torn into scales there."""

import cv2
import numpy as np

from tests.session_maker.canvas import Canvas
from tests.session_maker.noise import blur, smooth_noise
from tests.session_maker.pieces import small_pieces
from tests.session_maker.relief import Relief
from tests.session_maker.specimen import Flow

LEAST_PX = 150
"""Smaller streaks, and smaller gaps in them, don't count: own choice."""

RELIEF_UM = (0.25, 2.2)
"""Limits of the torn metal's relief: own choice."""

OVERLAID = 0.93, 0.9
"""How far torn metal replaces the heights and the brightness of what it lies over: own choice."""


def draw_streaks(rng: np.random.Generator, stroke: Canvas, share: float) -> tuple[np.ndarray, np.ndarray]:
    """Return how strongly each pixel is torn, (rows, cols) float: 0 at the edge of a streak, less outside; and the streaks,
    bool, which hold about ``share`` of the picture."""
    width_px = rng.uniform(14, 46)
    field = (
        smooth_noise(rng, stroke.shape, rng.uniform(300, 700), width_px)
        + 0.5 * smooth_noise(rng, stroke.shape, 900, 120)
        + 0.3 * smooth_noise(rng, stroke.shape, 70, 7)
        + 0.12 * smooth_noise(rng, stroke.shape, 14, 4)
    )
    field = stroke.to_picture(field)
    edge = np.quantile(field, 1 - share)
    ball = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    streaks = cv2.morphologyEx((field > edge).astype(np.uint8), cv2.MORPH_OPEN, ball)
    streaks = cv2.morphologyEx(streaks, cv2.MORPH_CLOSE, ball) > 0
    streaks = streaks & ~small_pieces(streaks, LEAST_PX, 8)
    return field - edge, streaks | small_pieces(~streaks, LEAST_PX, 4)


def scuff(
    rng: np.random.Generator, relief: Relief, share: float, worn_um: float, stroke: Canvas, pixel_size_um: float,
    flow: Flow,
) -> None:  # fmt: skip
    """Tear about ``share`` of a field in streaks along the stroke; its plateau lies ``worn_um`` below the unrun one."""
    strength, streaks = draw_streaks(rng, stroke, share)
    cover = blur(streaks.astype(np.float32), 1.1)
    height_um = np.clip(pixel_size_um * flow.scuff_um, *RELIEF_UM)
    texture, torn = _texture(rng, stroke)
    inside = np.clip(strength / 0.6, 0, 1)
    heights = -worn_um + height_um * texture * (0.45 + 0.55 * inside) - 0.35 * inside * flow.scuff_dug
    deep, bright = OVERLAID
    relief.heights = relief.heights * (1 - deep * cover) + deep * cover * heights
    streaky = stroke.to_picture(smooth_noise(rng, stroke.shape, 50, 4))
    matter = 1 + flow.scuff_brightness + 0.07 * streaky - 0.12 * torn * (texture < -0.6)
    relief.brightness = relief.brightness * (1 - bright * cover) + bright * cover * matter
    relief.codes[streaks] = 3


def _texture(rng: np.random.Generator, stroke: Canvas) -> tuple[np.ndarray, np.ndarray]:
    """Return the relief of torn metal, about unit height, and how far it is torn rather than ploughed, 0-1, (rows, cols) each."""
    ploughed = smooth_noise(rng, stroke.shape, 160, 2.6) + 0.8 * smooth_noise(rng, stroke.shape, 300, 7)
    waves = smooth_noise(rng, stroke.shape, 40, 12)
    scales = smooth_noise(rng, stroke.shape, 9, 6)
    cracks = -np.clip(0.5 - np.abs(scales + 0.5 * waves), 0, 0.5) * 2.4  # across the flow
    torn = np.clip(0.5 + 0.8 * smooth_noise(rng, stroke.shape, 160, 25), 0, 1)
    lumps = 0.5 * smooth_noise(rng, stroke.shape, 14, 8)
    grain = 0.35 * smooth_noise(rng, stroke.shape, 4, 3)
    texture = (1 - torn) * ploughed * 0.8 + torn * (cracks + lumps + grain)
    return stroke.to_picture(texture), stroke.to_picture(torn)
