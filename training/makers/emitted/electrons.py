"""Electrons from heights and materials: yield by tilt and escape, starved hollows, a detector's shadow, two detectors mixed."""

import numpy as np

from .fields import blur, log_uniform


def depth_range(volts):
    """How deep the beam goes into iron, µm, at an accelerating voltage in kV (Kanaya and Okayama 1972)."""
    return 0.0276 * 55.85 * volts**1.67 / (26**0.89 * 7.87)


def open_sky(z, pixel):
    """For heights z in µm on pixels of `pixel` µm, 0-1: the share of electrons that leave a hollow, from how far the
    ground lies below its surroundings at three reaches."""
    shut = 0
    for reach in (1.5, 5, 16):
        px = reach / pixel
        if 0.5 < px < 0.3 * min(z.shape):
            shut = shut + np.maximum(blur(z, px) - z, 0) / reach
    return 1 / (1 + 1.6 * shut)


def shade(z, pixel, toward):
    """0-1: how far walls on the detector's side (toward, radians) stand over each pixel of heights z in µm: the tangent of
    the horizon, softened."""
    horizon = np.zeros_like(z)
    for step in (2, 4, 8, 15, 28):
        dx, dy = round(step * np.cos(toward)), round(step * np.sin(toward))
        moved = np.roll(z, (-dy, -dx), (0, 1))
        if dy:
            moved[slice(-dy, None) if dy > 0 else slice(0, -dy)] = -99
        if dx:
            moved[:, slice(-dx, None) if dx > 0 else slice(0, -dx)] = -99
        horizon = np.maximum(horizon, (moved - z) / (step * pixel))
    return horizon / (horizon + 0.8)


def emit(rng, z, atomic, pixel):
    """Signal around 1 from height z in µm, pixel in µm and relative yield `atomic` (iron 1), and the mode's name."""
    volts = log_uniform(rng, 3, 25)
    reach = depth_range(volts)
    spread = 0.3 * reach / pixel
    gy, gx = np.gradient(z, np.float32(pixel))
    tilt = np.sqrt(1 + gx * gx + gy * gy)
    side = rng.uniform(0, 2 * np.pi)
    # inclined toward the detector: the outward normal's share along its direction
    face = -(gx * np.cos(side) + gy * np.sin(side)) / tilt
    sky = open_sky(z, pixel)
    hidden = shade(z, pixel, side)
    primary = np.minimum(tilt, 4) ** rng.uniform(0.7, 1.3)
    # the part freed by electrons coming back up leaves more easily through edges and ridges
    edge = np.clip((z - blur(z, max(spread, 0.8))) / reach, -1, 2)
    returned = blur(atomic * np.float32(1), min(spread, 8))
    second = (0.55 * primary * (0.5 + 0.5 * atomic) + 0.45 * returned * np.minimum(tilt, 2)) * (1 + rng.uniform(0.3, 1.4) * edge)
    second = second * sky ** log_uniform(rng, 0.3, 3) * (1 + rng.uniform(0.15, 0.9) * face) * (1 - rng.uniform(0, 0.6) * hidden)
    back = returned * (1 + rng.uniform(0, 1.3) * face) * (1 - rng.uniform(0.2, 0.9) * hidden) * sky**0.5
    mix = float(np.clip(rng.choice((0.05, 0.2, 0.5, 0.9)) + rng.normal(0, 0.1), 0, 1))
    return ((1 - mix) * second + mix * back).astype(np.float32), ("back" if mix > 0.5 else "second")
