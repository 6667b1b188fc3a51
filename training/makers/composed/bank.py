"""The bank: one texture for each state of the surface, with its own spectrum, direction and histogram."""

import numpy as np

from .noise import spectral


def shaped(noise: np.ndarray, histogram: str) -> np.ndarray:
    """Noise of unit spread with another histogram, back at mean 0 and spread 1."""
    if histogram == "even":
        return noise
    tail = np.exp(0.7 * np.clip(noise, -4, 3))
    made = {"bright": tail, "dark": -tail, "flat": np.tanh(1.5 * noise)}[histogram]
    return (made - made.mean()) / (made.std() + 1e-6)


def tones(rng) -> dict[str, float]:
    """Mean brightness of each state beside the plateau's, and the spread of its texture (grain), in units of the picture's
    contrast. Which state is bright and which is dark differs between instruments and specimens (common practice, no source)."""
    valley, rough = rng.uniform(0.7, 1.7) * (-1 if rng.random() < 0.62 else 1), rng.uniform(0.15, 0.7)
    if rng.random() < 0.15:  # grooves that only their rims and their floor's texture give away
        valley, rough = 0.45 * valley, 0.4 + 0.4 * rough
    cap = rng.uniform(0.5, 1.1) * rng.choice((-1, 1))
    if abs(cap - valley) < 0.7:
        cap = -cap
    flush = rng.uniform(0.5, 0.95) * (np.sign(cap) if rng.random() < 0.6 else -np.sign(valley))
    return dict(
        valley=valley, cap=cap, flush=flush, scuff=rng.uniform(-0.5, 0.9), plateau_grain=rng.uniform(0.08, 0.3),
        valley_grain=rough, cap_grain=rng.uniform(0.25, 0.55), flush_grain=rng.uniform(0.2, 0.4),
        scuff_grain=rng.uniform(0.5, 1.0),
    )  # fmt: skip


def plateau(rng, shape, pixel_um, sheets, marks: float) -> np.ndarray:
    """Relief (rows, cols) of unit spread: fine finishing marks along each lay over an even grain."""
    fine = 0.5 + 1.5 * pixel_um
    made = (1 - marks) * spectral(rng, shape, pixel_um, (2 * fine, 2 * fine), 0.0, 1.1)
    for lay in sheets[:2]:
        made = made + marks * spectral(rng, shape, pixel_um, (60 * fine, fine * rng.uniform(0.7, 1.6)), lay.lay_deg, 1.3)
    return made / (made.std() + 1e-6)


def floor(rng, shape, pixel_um, sheets, owner, grain: float) -> np.ndarray:
    """A valley's ground (rows, cols) as the stones left it, striped along the lay, torn into grains, or smooth, and filled in
    places by carbon or oil; owner: which sheet dug it; grain: spread of the texture."""
    size = rng.uniform(0.7, 1.6) + 1.5 * pixel_um
    long = size * rng.choice((1.2, 4.0, 15.0))
    fall, histogram, fill = rng.uniform(0.9, 1.8), rng.choice(("even", "bright", "dark")), rng.uniform(0.05, 0.3)
    made = np.zeros(shape, np.float32)
    for number, lay in enumerate(sheets):
        here = owner == number
        if here.any():
            stripes = shaped(spectral(rng, shape, pixel_um, (long, size), lay.lay_deg, fall), histogram)
            filled = spectral(rng, shape, pixel_um, (30 + 20 * pixel_um, 8 + 6 * pixel_um), lay.lay_deg, 1.6)
            made[here] = (grain * stripes * (1 + 0.35 * np.clip(filled, -2, 2)) + fill * filled)[here]
    return made


def moved(rng, shape, pixel_um, stroke_deg: float) -> np.ndarray:
    """Folded metal: wrinkles across the stroke that are cut up along it, with a histogram of flakes."""
    size = rng.uniform(0.8, 1.8) + 1.5 * pixel_um
    lengths = (size, size * rng.uniform(2, 4)) if rng.random() < 0.6 else (size * rng.uniform(3, 6), size)
    return shaped(spectral(rng, shape, pixel_um, lengths, stroke_deg, 1.3), rng.choice(("flat", "bright", "dark")))


def burnished(rng, shape, pixel_um, stroke_deg: float) -> np.ndarray:
    """Metal rubbed flush: thin lines along the stroke."""
    return spectral(rng, shape, pixel_um, (30 + 20 * pixel_um, 0.7 + 1.2 * pixel_um), stroke_deg, 1.4)
