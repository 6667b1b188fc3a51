"""The state of the ground from its depths, and its majority over the pixels of a coarser picture."""

import cv2
import numpy as np

from .grooves import LIMIT_UM, Ground


def states(ground: Ground) -> np.ndarray:
    """0, 1, 2: a groove that wear of the plateau alone made shallow is plateau; one that metal closed is smeared."""
    codes = np.zeros(ground.depth.shape, np.uint8)
    codes[ground.cut >= LIMIT_UM] = 2
    codes[ground.depth >= LIMIT_UM] = 1
    return codes


def majority(codes: np.ndarray, factor: int) -> np.ndarray:
    """The state with most of each pixel's area; of equal shares the first of the codes in order."""
    if factor == 1:
        return codes
    rows, cols = codes.shape[0] // factor, codes.shape[1] // factor
    shares = [cv2.resize((codes == code).astype(np.float32), (cols, rows), interpolation=cv2.INTER_AREA) for code in range(4)]
    return np.argmax(shares, axis=0).astype(np.uint8)
