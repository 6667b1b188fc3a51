"""General-purpose classical pipelines for open valleys, as a yardstick: Otsu, black top-hat and Sato ridges.

Each takes a prepared field and gives mask codes with plateau and open valley only. The scales are physical (hone
grooves are 5–50 µm wide; figure of the trade, from memory), the thresholds are Otsu's, the rest is scikit-image's and
OpenCV's defaults, so that nothing is tuned to one maker's pictures.
"""

import cv2
import numpy as np
from skimage.filters import sato, threshold_otsu
from skimage.morphology import remove_small_objects

from semwear.prepare import PreparedField, resample
from semwear.terms import MaskCode

WORKING_UM = 1.0
SMALLEST_UM2 = 150.0


def _working(prepared: PreparedField) -> tuple[np.ndarray, float]:
    um = max(WORKING_UM, prepared.pixel_size_um)
    image = resample(prepared.image, prepared.pixel_size_um, um, order=1)
    return cv2.GaussianBlur(image, (0, 0), 1.0), um


def _codes(prepared: PreparedField, response: np.ndarray, um: float) -> np.ndarray:
    """Valley where the response is above Otsu's threshold, small pieces dropped, on the picture's own grid."""
    valley = response > threshold_otsu(response)
    valley = remove_small_objects(valley, max_size=int(SMALLEST_UM2 / um**2))
    rows, cols = prepared.assessed.shape
    own = cv2.resize(valley.astype(np.uint8), (cols, rows), interpolation=cv2.INTER_NEAREST)
    return np.where(prepared.assessed, own, MaskCode.NOT_ASSESSED).astype(np.uint8)


def otsu(prepared: PreparedField) -> dict:
    image, um = _working(prepared)
    return {"codes": _codes(prepared, -image, um)}


def black_top_hat(prepared: PreparedField) -> dict:
    image, um = _working(prepared)
    side = 2 * int(20.0 / um) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))
    return {"codes": _codes(prepared, cv2.morphologyEx(image, cv2.MORPH_BLACKHAT, disc), um)}


def sato_ridges(prepared: PreparedField) -> dict:
    image, um = _working(prepared)
    sigmas = [max(1.0, width / um / 2.5) for width in (5.0, 10.0, 20.0)]
    return {"codes": _codes(prepared, sato(image, sigmas=sigmas, black_ridges=True), um)}


PIPELINES = {"Otsu": otsu, "black top-hat": black_top_hat, "Sato ridges": sato_ridges}
