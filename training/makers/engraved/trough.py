"""Hone grooves as a stylus would trace them: troughs of known section, cut into a trace across the lay and drawn along it.

A lay is one trace, extruded along its direction; of two cuts the deeper one stands. Wall slopes are 10–60°, depths
0.6–8 µm and widths 1.5–60 µm (depths 1–10 µm and widths 5–50 µm are usual; from memory). The trace is sampled several
times a pixel and its picture signals are averaged over the pixel, so that a groove of two pixels is not aliased.
"""

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

VALLEY_DEPTH_UM = 0.5
SAMPLES = 6
SECTIONS = ("v", "round", "u", "w", "flat")
STEEPEST = {"v": 2.0, "round": 4.0, "u": 8.0, "w": 4.0, "flat": 4.0}
"""Slope of the wall at its rim, over depth / width (flat floors: as drawn here, half of the width is floor)."""


@dataclass(frozen=True, kw_only=True)
class Groove:
    centre_um: float
    width_um: float
    depth_um: float
    section: str

    @property
    def wall_slope_deg(self) -> float:
        return float(np.degrees(np.arctan(STEEPEST[self.section] * self.depth_um / self.width_um)))

    def depth_at(self, across_um: np.ndarray) -> np.ndarray:
        """Depth below the plateau at a distance across from the groove's middle."""
        place = np.minimum(np.abs(2 * across_um / self.width_um), 1)
        if self.section == "w":
            return self.depth_um * (np.minimum(1, 2 * (1 - place)) - 0.4 * np.maximum(0, 1 - 2 * place))
        if self.section == "flat":
            return self.depth_um * np.minimum(1, 2 * (1 - place))
        power = {"v": 1, "round": 2, "u": 4}[self.section]
        return self.depth_um * (1 - place**power)

    def width_at(self, level_um: float) -> float:
        """Width between the walls at a level below the plateau, in closed form."""
        left = max(0.0, 1 - level_um / self.depth_um)
        if self.section in ("w", "flat"):
            return self.width_um * (1 - level_um / self.depth_um / 2) if left else 0.0
        return self.width_um * left ** {"v": 1, "round": 1 / 2, "u": 1 / 4}[self.section]


def cut(rng: np.random.Generator, width_um: float, centre_um: float, steep: tuple[float, float]) -> Groove:
    """One groove whose wall slope lies in steep and its depth within 0.6–8 µm."""
    section = str(
        rng.choice(SECTIONS, p=(0.3, 0.25, 0.15 if width_um > 2.8 else 0, 0.1, 0.2 if width_um > 2.8 else 0.35))
    )
    if width_um < 2.8 and section in ("w", "flat"):
        section = "v"
    depth = width_um * np.tan(np.radians(rng.uniform(*steep))) / STEEPEST[section]
    depth = float(np.clip(depth, 1.3 if section == "w" else 0.6, 8.0))
    if STEEPEST[section] * depth / width_um > np.tan(np.radians(60)):
        section = "v"
    return Groove(centre_um=centre_um, width_um=width_um, depth_um=depth, section=section)


def scratch(rng: np.random.Generator, width_um: float, centre_um: float) -> Groove:
    """A finishing scratch, shallower than a valley."""
    depth = rng.uniform(0.05, 0.35)
    return Groove(centre_um=centre_um, width_um=width_um, depth_um=depth, section="v")


@dataclass(frozen=True, kw_only=True)
class Trace:
    """A lay's trace: depth and owner by sample; dark, rim and side signals averaged over a pixel."""

    start_um: float
    step_um: float
    depth: np.ndarray
    owner: np.ndarray
    place: np.ndarray
    dark: np.ndarray
    rim: np.ndarray
    side: np.ndarray


def trace(
    grooves: list[Groove], span_um: tuple[float, float], pixel_size_um: float, worn_um: float, rough: np.ndarray
) -> Trace:
    """Cut the grooves into a flat trace; the signals are of the trace truncated by worn_um."""
    step = pixel_size_um / SAMPLES
    count = int((span_um[1] - span_um[0]) / step) + 2
    across = span_um[0] + np.arange(count) * step
    depth, place = np.zeros(count, np.float32), np.zeros(count, np.float32)
    owner = np.full(count, len(grooves), np.int32)
    narrowness, weight = np.zeros(count, np.float32), np.zeros(count, np.float32)
    for number, groove in enumerate(grooves):
        first, last = np.searchsorted(across, groove.centre_um + np.array((-0.5, 0.5)) * groove.width_um)
        here = slice(first, last)
        own = groove.depth_at(across[here] - groove.centre_um)
        deeper = own > depth[here]
        depth[here][deeper] = own[deeper]
        owner[here][deeper] = number
        place[here][deeper] = (2 * (across[here] - groove.centre_um) / groove.width_um)[deeper]
        narrowness[here][deeper] = 1 - np.exp(-5 * groove.depth_um / groove.width_um)
        weight[here][deeper] = 1 - np.exp(-max(groove.depth_um - worn_um, 0) / 0.8)
    left = np.maximum(depth - worn_um, 0)
    rough = np.resize(rough, count).astype(np.float32)
    dark = (1 - np.exp(-((left / 0.8) ** 1.6))) * (0.5 + 0.5 * narrowness)
    dark = dark * (1 + rough * np.clip(left - 0.3, 0, 1))
    edge = np.abs(np.diff((left > 0).astype(np.float32), prepend=0)) * np.maximum(weight, np.roll(weight, 1))
    broad = max(0.7 * SAMPLES, 0.25 / step)
    rim = gaussian_filter1d(edge, broad) * broad * 2.5
    side = np.sin(np.arctan(np.gradient(left, step)))
    dark, rim, side = (uniform_filter1d(signal.astype(np.float32), SAMPLES) for signal in (dark, rim, side))
    return Trace(
        start_um=span_um[0], step_um=step, depth=depth, owner=owner, place=place, dark=dark, rim=rim, side=side
    )
