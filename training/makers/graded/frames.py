"""Square frames turned about the picture's middle, in which a direction runs along the rows."""

import cv2
import numpy as np


def side(shape: tuple[int, int]) -> int:
    """Side in pixels of a frame that covers the picture however it is turned."""
    return int(np.ceil(np.hypot(*shape))) + 8


def _turn(shape: tuple[int, int], direction_deg: float) -> np.ndarray:
    cos, sin = np.cos(np.deg2rad(direction_deg)), np.sin(np.deg2rad(direction_deg))
    matrix = np.array([[cos, sin, 0.0], [-sin, cos, 0.0]])
    middle = np.array([(shape[1] - 1) / 2, (shape[0] - 1) / 2])
    matrix[:, 2] = (side(shape) - 1) / 2 - matrix[:, :2] @ middle
    return matrix


def to_picture(frame: np.ndarray, direction_deg: float, shape: tuple[int, int]) -> np.ndarray:
    """What of the frame falls on the picture; the frame's rows run along direction_deg (x right, y down)."""
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(frame, _turn(shape, direction_deg), shape[::-1], flags=flags, borderMode=cv2.BORDER_REPLICATE)


def to_frame(picture: np.ndarray, direction_deg: float) -> np.ndarray:
    """The picture in the frame whose rows run along direction_deg, mirrored beyond its edges."""
    size = side(picture.shape)
    matrix = _turn(picture.shape, direction_deg)
    return cv2.warpAffine(picture, matrix, (size, size), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
