"""What a closure looks like: a cap a little below the plateau, curled at free edges, with seams along the far rim."""

import cv2
import numpy as np

from tests.session_maker.canvas import Canvas
from tests.session_maker.noise import blur, smooth_noise
from tests.session_maker.relief import Relief
from tests.session_maker.specimen import Flow

LOWEST_UM = 0.42
"""Below the plateau a cap's dimple lies at most; a closure comes to within 0.5 µm, as `semwear/terms.py` declares."""


def lay_caps(
    rng: np.random.Generator, relief: Relief, closed: np.ndarray, footprint: np.ndarray, depth: np.ndarray,
    worn_um: float, stroke: Canvas, flow: Flow,
) -> None:  # fmt: skip
    """Lay metal over ``closed`` (rows, cols) bool, a part of the footprint.

    depth: (rows, cols) µm below the worn plateau, which lies ``worn_um`` below the unrun one.
    """
    shape = closed.shape
    cover = blur(closed.astype(np.float32), 1.0)
    deep = np.clip(depth / (np.quantile(depth[closed], 0.9) + 1e-3), 0, 1)
    deep = blur(deep, 1.5)
    drawn_out = smooth_noise(rng, stroke.shape, 60, 1.5) * 0.5 + smooth_noise(rng, stroke.shape, 120, 4) * 0.7
    drawn_out = stroke.to_picture(drawn_out)
    lumps = smooth_noise(rng, shape, 9, 9)
    low = 0.06 + flow.dimple_um * (1 + 0.5 * smooth_noise(rng, shape, 70, 70))
    cap = -worn_um - np.clip(low * deep, 0.02, LOWEST_UM) + 0.05 * flow.cap_rough * (drawn_out + 0.6 * lumps)
    free_edge = np.clip(blur((footprint & ~closed).astype(np.float32), 1.8), 0, 0.5) * closed
    cap += free_edge * flow.lip_um * np.clip(1 + 0.7 * lumps, 0, 2)
    relief.heights = relief.heights * (1 - cover) + cover * cap
    _fold_seams(rng, relief, closed, footprint, flow)
    relief.brightness *= 1 + cover * (flow.cap_brightness + 0.035 * drawn_out + 0.03 * lumps)
    torn = np.clip(smooth_noise(rng, shape, 5, 5) - 1.9, 0, 1) * cover * flow.cap_rough
    relief.brightness *= 1 - 0.5 * np.clip(torn, 0, 1)


def _fold_seams(
    rng: np.random.Generator, relief: Relief, closed: np.ndarray, footprint: np.ndarray, flow: Flow
) -> None:  # fmt: skip
    """Cut dark seams where a cap's metal meets the groove's rim, deep here and pressed shut there."""
    seam = (cv2.dilate(closed.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0) & ~footprint
    open_share = np.clip(smooth_noise(rng, closed.shape, 16, 16) * 0.8 + flow.seam, 0, 1.2)
    line = blur(seam.astype(np.float32), 0.8) * open_share
    relief.heights -= np.minimum(line * 0.35, 0.4)
    relief.brightness *= 1 - np.clip(0.30 * line, 0, 0.4)
