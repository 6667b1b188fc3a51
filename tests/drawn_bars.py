"""Pictures with a scale bar and a label drawn by a general-purpose library, for tests: the drawing gives the truth."""

from pathlib import Path
from types import SimpleNamespace

import matplotlib
import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from semwear.data_bar import DataBar, read_data_bar

FONTS = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
ROWS, COLS = 480, 640


def picture(grey: float = 110, *, spread: float = 8, seed: int = 4) -> np.ndarray:
    """A noisy grey picture, (rows, cols) uint8."""
    return np.clip(np.random.default_rng(seed).normal(grey, spread, (ROWS, COLS)), 0, 255).astype(np.uint8)


def written(
    pixels: np.ndarray, text: str, row: int, col: int, *, size=18, ink=255, face="DejaVuSans.ttf", **stroke
) -> np.ndarray:
    """The picture with a text on it; stroke: outline as Pillow's ImageDraw.text takes it."""
    image = Image.fromarray(pixels)
    font = ImageFont.truetype(str(FONTS / face), size)
    ImageDraw.Draw(image).text((col, row), text, fill=ink, font=font, **stroke)
    return np.array(image)


def read(pixels: np.ndarray) -> DataBar:
    """Read a grey or RGB picture."""
    if pixels.ndim == 2:
        return read_data_bar(SimpleNamespace(pixels=pixels, rgb=None, white_level=255.0))
    grey = np.round(pixels @ (0.299, 0.587, 0.114)).astype(np.uint8)
    return read_data_bar(SimpleNamespace(pixels=grey, rgb=pixels, white_level=255.0))


def assert_read(bar: DataBar, um: float, length_px: float, *, within_px: float = 0.3):
    assert bar.reason == ""
    assert bar.bar_um == pytest.approx(um)
    assert bar.bar_px == pytest.approx(length_px, abs=within_px)
