"""Blurs and shifts of (rows, cols) pictures, in pixels."""

import cv2
import numpy as np


def blur(a: np.ndarray, sigma: float) -> np.ndarray:
    """Return a Gaussian blur; none below 0.25 px."""
    return cv2.GaussianBlur(a, (0, 0), float(sigma), borderType=cv2.BORDER_REFLECT) if sigma > 0.25 else a


def wide_blur(a: np.ndarray, sigma: float) -> np.ndarray:
    """Return a wide blur, worked out on a coarser grid."""
    k = int(max(1, sigma // 3))
    if k == 1:
        return blur(a, sigma)
    rows, cols = a.shape
    small = cv2.resize(a, (max(cols // k, 2), max(rows // k, 2)), interpolation=cv2.INTER_AREA)
    return cv2.resize(blur(small, sigma / k), (cols, rows), interpolation=cv2.INTER_CUBIC)


def shifted(a: np.ndarray, dx: float, dy: float) -> np.ndarray:
    """Return ``a`` moved by dx, dy px; its border is repeated."""
    m = np.float32([[1, 0, dx], [0, 1, dy]])
    size = (a.shape[1], a.shape[0])
    return cv2.warpAffine(a, m, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
