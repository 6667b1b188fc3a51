"""Metal moved by the ring: closures of grooves in the frame of their lay, and torn streaks along the stroke."""

import numpy as np

from .grooves import Band
from .noise import Frame, curve, field, log_uniform

STYLES = ("cap", "bridge", "lip", "strip", "fold")


def _stretches(rng: np.random.Generator, size: int, style: str, share: float, width: float) -> np.ndarray:
    """Where along a groove (rows) metal closes it: about the distance to the end of the closure, px, positive inside."""
    if style == "bridge":
        run = float(np.clip(width * rng.uniform(1.0, 3.0), 6, 40))
    else:
        run = float(np.clip(width * log_uniform(rng, 2.0, 14.0), 14, 300))
    wave = curve(rng, size, run)
    level = float(np.quantile(wave, 1 - share)) if share < 0.97 else -9.0
    return ((wave - level) * run * 0.6).astype(np.float32)


def close_band(
    rng: np.random.Generator, band: Band, *, share_grooves: float, share_length: float, sense: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Fill (0 none … 1 flush), residual dip of the closing metal (µm) and fold lines (0…1) on the band's canvas.

    share_grooves, share_length: shares 0…1 of grooves touched and of their length closed; sense: ±1, the side metal comes from.
    """
    size = band.frame.size
    fill = np.zeros((size, size), np.float32)
    dip = np.zeros_like(fill)
    lines = np.zeros_like(fill)
    weights = rng.dirichlet(np.full(len(STYLES), 0.6))
    dip_level = rng.uniform(0.05, 0.4)
    crease = rng.uniform(0.45, 1.0)
    rag = field(rng, (size, size), rng.uniform(4, 18), rng.uniform(3, 8))
    for groove in band.grooves:
        if rng.random() > share_grooves:
            continue
        style = STYLES[int(rng.choice(len(STYLES), p=weights))]
        share = float(np.clip(share_length * rng.uniform(0.5, 1.5), 0.05, 1.0))
        where = _stretches(rng, size, style, share, groove.width)[:, None]
        window = slice(groove.left, groove.left + groove.across.shape[1])
        across, rough = groove.across, rag[:, window]
        half = max(0.5 * groove.width, 1.5)
        # Metal creeps in from the walls, more from one than the other, so a closure ends in ragged tongues, not in a square cut.
        tongue = groove.width * (rng.uniform(-0.5, 0.5) * across + rng.uniform(-0.2, 0.5) * (across**2 - 0.5))
        ragged = rng.uniform(0.08, 0.35) * min(groove.width, 30) * rough
        cover = np.clip((where + tongue + ragged) / log_uniform(rng, 1.5, 7) + 0.5, 0, 1)
        # Lines stay about a pixel wide however wide the groove is.
        thin = 0.9 / half
        side = sense if rng.random() < 0.85 else -sense
        other = 0.7 * rng.random()
        mark = (
            np.exp(-(((np.abs(across) - 0.97) / thin) ** 2))
            * np.where(across * side < 0, 1, other)
            * crease
            * np.clip(0.7 + 0.5 * rough, 0, 1)
        )
        hollow = dip_level * (1 - np.clip(across**2, 0, 1))
        if style == "lip":
            reach = rng.uniform(-0.2, 0.85) + 0.15 * curve(rng, size, rng.uniform(8, 40))[:, None] + 0.1 * rough
            edge = side * across - reach
            cover = cover * np.clip(0.5 - edge * half, 0, 1)
            mark = np.exp(-((edge / thin) ** 2)) * crease
        elif style == "strip":
            mark, hollow = 0.35 * mark, 0.25 * hollow
        elif style == "fold":
            for _ in range(int(rng.integers(1, 4))):
                path = rng.uniform(-0.8, 0.8) + 0.2 * curve(rng, size, rng.uniform(10, 60))[:, None] + 0.08 * rough
                mark = np.maximum(mark, np.exp(-(((across - path) / thin) ** 2)) * np.clip(0.5 + rough, 0, 1))
        elif style == "bridge":
            mark = 0.4 * mark
        ends = 4 * cover * (1 - cover)
        # Some grooves are only made shallower: still open where 0.5 µm is left.
        reach_up = rng.uniform(0.4, 0.95) if rng.random() < 0.15 else 1.0
        fill[:, window] = np.maximum(fill[:, window], reach_up * cover * (np.abs(across) < 1.3))
        dip[:, window] = np.maximum(dip[:, window], hollow)
        mark = np.maximum(mark * (cover > 0.4), 0.5 * crease * ends * (np.abs(across) < 1.05))
        lines[:, window] = np.maximum(lines[:, window], mark)
    return fill, dip, lines


def scuff(rng: np.random.Generator, frame: Frame, pixel_um: float, share: float) -> tuple[np.ndarray, np.ndarray]:
    """Torn streaks along the stroke over about `share` of the picture: mask (bool) and their height (µm) in the picture."""
    shape = (frame.size, frame.size)
    long = log_uniform(rng, 60, 400)
    streak = field(rng, shape, long, log_uniform(rng, 6, 60)) + 0.35 * field(rng, shape, long / 4, 4)
    streak += 0.18 * field(rng, shape, 5, 2.5)
    mask = frame.to_picture((streak > np.quantile(streak[::4, ::4], 1 - share)).astype(np.uint8), nearest=True) > 0
    amplitude = log_uniform(rng, 0.5, 1.8) * min(1.0, 0.35 + pixel_um)
    ridges = np.abs(field(rng, shape, long / 3, 3.0)) + 0.7 * field(rng, shape, 12, 2.0)
    # Tearing leaves scales across the stroke between the ploughed ridges.
    scales = np.clip(field(rng, shape, log_uniform(rng, 3.5, 25), log_uniform(rng, 4, 16)), -0.6, 2.0)
    height = amplitude * (0.5 * ridges + rng.uniform(0.2, 0.9) * scales - 0.6)
    return mask, frame.to_picture(height.astype(np.float32))
