"""The instrument's setting: kept over a session but for small changes from field to field."""

from dataclasses import dataclass, replace

import numpy as np

SIGNALS = ("through", "side", "mixed", "mixed", "back")
"""Through-the-lens, side and mixed secondaries, backscattered electrons; how often each comes is an own choice."""

VARIED = {"level": 0.05, "gain": 0.08, "electrons": 0.12, "probe_px": 0.08, "side": 0.08, "edge": 0.08, "starve": 0.08}
"""Standard deviation of each setting's logarithm over the fields of a specimen: own choice."""


@dataclass(frozen=True, kw_only=True)
class Instrument:
    """Shares are of the signal of a level surface.

    volume_px: blur of the surface that electrons see; azimuth_deg: towards the detector, anticlockwise from the rows; exponent:
    of the secant; secant, side, edge: shares that slope, facing the detector and edges add; escape_px: width of edges; starve,
    darkest: how soon deep places darken, and how far; shadow, horizon: strength of shadows, and slope from which they fall;
    matter: exponent of the matter's brightness; haze: share from far electrons; ceiling: above which the signal levels off;
    probe_px: blur; jitter_px: slip of scan lines; electrons: per pixel; line: noise of lines; level, gain, gamma: of the
    grey values; shading: (3,) across, down and outwards.
    """

    volume_px: float
    azimuth_deg: float
    exponent: float
    secant: float
    side: float
    edge: float
    escape_px: float
    starve: float
    darkest: float
    shadow: float
    horizon: float
    matter: float
    haze: float
    ceiling: float
    probe_px: float
    jitter_px: float
    electrons: float
    line: float
    level: float
    gamma: float
    shading: np.ndarray
    gain: float


def draw_instrument(rng: np.random.Generator) -> Instrument:
    """Draw a setting. Slope, side, edges and starved grooves as in tests/SOURCES.md, Secondary-electron picture; the ranges are
    common practice, no source."""
    signal = rng.choice(SIGNALS)
    drawn = Instrument(
        volume_px=rng.uniform(0.45, 0.8),
        azimuth_deg=float(rng.choice([90, 90, 0, 180, 45, 135, 270]) + rng.normal(0, 12)),
        exponent=rng.uniform(1, 1.6), secant=rng.uniform(0.6, 1.6), side=rng.uniform(0.35, 0.8), edge=rng.uniform(0.12, 0.35),
        escape_px=rng.uniform(0, 1.2), starve=rng.uniform(0.8, 2.2), darkest=rng.uniform(0.15, 0.4),
        shadow=rng.uniform(0.1, 0.5), horizon=rng.uniform(0.15, 0.5), matter=rng.uniform(0.8, 1.15), haze=rng.uniform(0, 0.25),
        ceiling=rng.uniform(0.4, 0.8), probe_px=rng.uniform(0.5, 1.15), jitter_px=float(rng.choice([0, 0, 0.12, 0.25])),
        electrons=float(np.exp(rng.uniform(np.log(60), np.log(700)))), line=float(rng.choice([0, 0.004, 0.008])),
        level=rng.uniform(85, 150), gamma=rng.uniform(0.75, 1.15), shading=rng.normal(0, 0.05, 3), gain=0.0,
    )  # fmt: skip
    if signal == "through":
        own = {"side": rng.uniform(0.03, 0.15), "shadow": 0.0, "edge": rng.uniform(0.3, 0.5)}
        own |= {"secant": rng.uniform(1.2, 2.2), "starve": rng.uniform(1.5, 3)}
    elif signal == "side":
        own = {"side": rng.uniform(0.7, 1.1), "shadow": rng.uniform(0.3, 0.65)}
    elif signal == "back":
        own = {"side": rng.uniform(0.4, 0.9), "secant": rng.uniform(-0.1, 0.2), "edge": rng.uniform(0, 0.1)}
        own |= {"escape_px": rng.uniform(1, 2.2), "matter": rng.uniform(1.2, 1.5), "shadow": rng.uniform(0.2, 0.5)}
    else:
        own = {}
    return replace(drawn, **own, gain=drawn.level * rng.uniform(0.75, 1.25))


def field_instrument(rng: np.random.Generator, instrument: Instrument) -> Instrument:
    """Return the setting of one field: contrast, brightness and focus set anew, the section laid in a little turned."""
    anew = {name: getattr(instrument, name) * float(np.exp(rng.normal(0, spread))) for name, spread in VARIED.items()}
    azimuth_deg = instrument.azimuth_deg + rng.normal(0, 3)
    shading = instrument.shading + rng.normal(0, 0.02, 3)
    return replace(instrument, **anew, azimuth_deg=azimuth_deg, shading=shading)
