"""The recorded picture: scan lines that slip, noise of counted electrons, brightness and contrast."""

import cv2
import numpy as np

from tests.session_maker.instrument import Instrument

MOST_SLIP_PX = 0.6
"""Own choice."""


def record(rng: np.random.Generator, signal: np.ndarray, own: Instrument) -> np.ndarray:
    """Return the picture of ``signal`` (rows, cols), uint8; its median comes out at the instrument's level.

    Noise of N electrons is 1/sqrt(N) [D, tests/SOURCES.md].
    """
    if own.jitter_px > 0:
        signal = _slipped(rng, signal, own.jitter_px)
    signal = signal / np.median(signal)
    shot = rng.standard_normal(signal.shape).astype(np.float32)
    signal = signal + shot * np.sqrt(np.clip(signal, 0.03, None) / own.electrons)
    signal = signal * (1 + own.line * rng.standard_normal((signal.shape[0], 1)))
    grey = own.level + own.gain * (np.sign(signal) * np.abs(signal) ** own.gamma - 1)
    return np.clip(np.round(grey), 0, 255).astype(np.uint8)


def _slipped(rng: np.random.Generator, signal: np.ndarray, jitter_px: float) -> np.ndarray:
    """Return ``signal`` with each line moved by a part of a pixel along its row."""
    rows, cols = signal.shape
    slip = np.clip(rng.normal(0, jitter_px, rows), -MOST_SLIP_PX, MOST_SLIP_PX).astype(np.float32)
    from_x = np.arange(cols, dtype=np.float32)[None] + slip[:, None]
    from_y = np.repeat(np.arange(rows, dtype=np.float32)[:, None], cols, 1)
    return cv2.remap(signal, from_x, from_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
