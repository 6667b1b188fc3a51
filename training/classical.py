"""General-purpose classical pipelines for open valleys, as a yardstick: Otsu, black-hat and Sato ridges.

What a careful user of scikit-image and OpenCV would set up: Otsu's threshold on the smoothed picture, a black-hat of
40 µm with Otsu's threshold, and Sato's ridge filter at 5, 10 and 20 µm with Otsu's threshold, each without specks below
40 µm². A field is anything with ``image``, ``assessed`` and ``pixel_size_um``, such as a prepared field; nothing is tuned
to one maker's pictures.
"""

import cv2
import numpy as np
from skimage.filters import sato, threshold_otsu

from semwear.terms import MaskCode

LEAST_AREA_UM2 = 40.0


def _smoothed(field) -> np.ndarray:
    return cv2.GaussianBlur(field.image, (0, 0), max(0.6, 0.6 / field.pixel_size_um))


def _without_specks(mask: np.ndarray, pixel_size_um: float) -> np.ndarray:
    _, labels, figures, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    kept = figures[:, cv2.CC_STAT_AREA] * pixel_size_um**2 >= LEAST_AREA_UM2
    kept[0] = False
    return kept[labels]


def _reduced(picture: np.ndarray, pixel_size_um: float) -> tuple[np.ndarray, float]:
    reduction = max(1.0, 1.0 / pixel_size_um)
    size = (round(picture.shape[1] / reduction), round(picture.shape[0] / reduction))
    return cv2.resize(picture, size, interpolation=cv2.INTER_AREA), pixel_size_um * reduction


def _above_otsu(response: np.ndarray, field) -> np.ndarray:
    response = cv2.resize(response.astype(np.float32), field.image.shape[::-1], interpolation=cv2.INTER_LINEAR)
    return _without_specks(response > threshold_otsu(response[field.assessed]), field.pixel_size_um)


def otsu(field) -> np.ndarray:
    """Dark side of Otsu's threshold."""
    smooth = _smoothed(field)
    return _without_specks(smooth < threshold_otsu(smooth[field.assessed]), field.pixel_size_um)


def black_hat(field) -> np.ndarray:
    """Black-hat with a disc of 40 µm."""
    small, pixel_um = _reduced(_smoothed(field), field.pixel_size_um)
    side = int(40.0 / pixel_um) | 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))
    return _above_otsu(cv2.morphologyEx(small, cv2.MORPH_BLACKHAT, disc), field)


def sato_ridges(field) -> np.ndarray:
    """Sato's filter for dark ridges 5, 10 and 20 µm wide."""
    small, pixel_um = _reduced(field.image, field.pixel_size_um)
    sigmas = [max(1.0, width / pixel_um / 3.5) for width in (5.0, 10.0, 20.0)]
    return _above_otsu(sato(small, sigmas=sigmas, black_ridges=True), field)


MASKS = {"Otsu": otsu, "black-hat": black_hat, "Sato": sato_ridges}
"""Functions from a field to a mask of open valleys, (rows, cols) bool."""


def as_predictor(method):
    """Return ``predict(prepared, stroke_deg)`` as evaluation.py wants it: mask codes with plateau and open valley only."""

    def predict(prepared, stroke_deg=None) -> dict:
        codes = np.where(method(prepared), MaskCode.OPEN_VALLEY, MaskCode.PLATEAU)
        return {"codes": np.where(prepared.assessed, codes, MaskCode.NOT_ASSESSED).astype(np.uint8)}

    return predict
