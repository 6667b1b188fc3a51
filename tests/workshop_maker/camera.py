"""From signal to grey values: beam spread, shot noise, slow-scan line noise, brightness, contrast and gamma.

N electrons a pixel carry a relative noise of 1 / sqrt(N) (shot noise, N = i t / e). Brightness and contrast are set so that
hardly anything clips.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .recipe import Setting


@dataclass(frozen=True, kw_only=True)
class Flaws:
    """What went a little wrong in one field: extra blur (px), line jitter (px), shading over the field."""

    defocus_px: float
    jitter_px: float
    shading: float


def draw_flaws(rng: np.random.Generator) -> Flaws:
    return Flaws(
        defocus_px=float(rng.choice([0.0, rng.uniform(0.5, 1.4)], p=[0.8, 0.2])),
        jitter_px=float(rng.choice([0.0, rng.uniform(0.2, 0.7)], p=[0.85, 0.15])), shading=rng.uniform(-0.08, 0.08),
    )  # fmt: skip


def shot_noise(rng: np.random.Generator, sent: np.ndarray, dose: float) -> np.ndarray:
    """Return the signal as counted with dose electrons a pixel at signal 1."""
    return rng.poisson(np.clip(sent, 0, None) * dose).astype(np.float32) / np.float32(dose)


def expose(rng: np.random.Generator, sent: np.ndarray, seen: np.ndarray, setting: Setting, flaws: Flaws) -> np.ndarray:
    """Return grey values 0 to 255 as float32; contrast is set on the ground that is seen, debris and charging left out."""
    rows, cols = sent.shape
    sent = cv2.GaussianBlur(sent.astype(np.float32), (0, 0), float(np.hypot(setting.beam_px, flaws.defocus_px)))
    if flaws.jitter_px:
        slow = cv2.GaussianBlur(rng.standard_normal((rows, 1)).astype(np.float32), (1, 31), 0.1, sigmaY=8)
        shift = flaws.jitter_px * (2.5 * slow + 0.35 * rng.standard_normal((rows, 1)).astype(np.float32))
        across = np.tile(np.arange(cols, dtype=np.float32), (rows, 1)) + np.clip(shift, -1.4, 1.4).astype(np.float32)
        down = np.tile(np.arange(rows, dtype=np.float32)[:, None], (1, cols))
        sent = cv2.remap(sent, across, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    turn = np.radians(setting.azimuth_deg)
    ramp = np.linspace(-1, 1, cols)[None] * np.cos(turn) - np.linspace(-1, 1, rows)[:, None] * np.sin(turn)
    sent = sent * (1 + flaws.shading * ramp).astype(np.float32)
    counted = shot_noise(rng, sent, setting.dose)
    if setting.line_noise:
        counted += setting.line_noise * rng.standard_normal((rows, 1)).astype(np.float32)
    low, high = np.quantile(counted[::3, ::3][seen[::3, ::3]], [0.003, 0.9935])
    high = max(high, low + 0.35)
    grey = np.clip((counted - low) / (high - low), -0.2, 1.3) * (setting.white - setting.black) + setting.black
    return (255 * np.clip(grey / 255, 0, 1) ** setting.gamma).astype(np.float32)
