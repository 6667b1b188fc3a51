"""The hone: its finishes, and the grooves of its two lays.

Included angles of some 30–60°, 140–150° for helical slide honing; grooves 1–10 µm deep and 5–50 µm wide; valley share 15–30 %
(tests/SOURCES.md, from memory there). Spreads and shapes of single grooves: common practice, no source.
"""

from dataclasses import dataclass

import numpy as np

from makers.sidelit.frame import Frame, wander

RANGES = {
    "plateau": {"half": (15, 31), "share": (0.12, 0.30), "width": (7, 18), "ratio": (0.13, 0.24), "fine": (0.04, 0.10)},
    "single": {"half": (15, 30), "share": (0.18, 0.36), "width": (4, 11), "ratio": (0.18, 0.30), "fine": (0.09, 0.15)},
    "helical": {"half": (66, 75), "share": (0.10, 0.24), "width": (7, 16), "ratio": (0.12, 0.22), "fine": (0.03, 0.08)},
}
"""Half the hone angle in °, valley share, groove width in µm, depth over width, and spread of the fine marks in µm."""
SHARES = {"plateau": 0.55, "single": 0.25, "helical": 0.2}
DEEPEST_UM, SHALLOWEST_UM = 9.0, 1.3


@dataclass(frozen=True)
class Finish:
    """A hone's finish: lays in rad from the circumference; share and width (µm) as ranges; ratio; fine in µm, as in RANGES."""

    name: str
    lays: tuple[float, float]
    share: tuple[float, float]
    width: tuple[float, float]
    ratio: float
    fine: float


@dataclass(frozen=True)
class Groove:
    """One groove on the n pixels near it: flat indices; t along, s across in µm; rel, 0 in the middle and ±1 at the rims;
    profile, depth in µm, all (n,); its nominal width and depth in µm; angle in rad from the circumference."""

    near: np.ndarray
    t: np.ndarray
    s: np.ndarray
    rel: np.ndarray
    profile: np.ndarray
    width: float
    depth: float
    angle: float


def finish(rng: np.random.Generator) -> Finish:
    """Draw a finish; its two lays lie evenly either side of the circumference."""
    name = str(rng.choice(list(SHARES), p=list(SHARES.values())))
    ranges = RANGES[name]
    half = np.deg2rad(rng.uniform(*ranges["half"]))
    ratio, fine = rng.uniform(*ranges["ratio"]), rng.uniform(*ranges["fine"])
    return Finish(name, (half, -half), ranges["share"], ranges["width"], ratio, fine)


def grooves(frame: Frame, hone: Finish, ragged: list[np.ndarray], limit_um: float) -> list[Groove]:
    """Grooves of both lays until their ground deeper than limit_um fills the finish's share; ragged: one map (rows, cols) a lay."""
    rng, px = frame.rng, frame.px
    side, area = min(frame.shape) * px, frame.shape[0] * frame.shape[1] * px * px
    share = rng.uniform(*hone.share)
    balance = rng.uniform(0.3, 0.7)
    narrowest = max(3.0, 4.5 * px)
    widest = max(min(hone.width[1] * 3, 0.16 * side), narrowest * 1.3)
    covered, out = 0.0, []
    while covered < share * area and len(out) < 140:
        angle = hone.lays[0 if rng.random() < balance else 1] + rng.normal(0, np.deg2rad(1.3))
        width = float(np.clip(rng.lognormal(np.log(rng.uniform(*hone.width)), 0.4), narrowest, widest))
        depth = float(np.clip(hone.ratio * width * rng.lognormal(0, 0.3), SHALLOWEST_UM, DEEPEST_UM))
        groove = _groove(frame, angle, width, depth, ragged[0 if angle > 0 else 1])
        if groove is not None:
            out.append(groove)
            covered += float((groove.profile > limit_um).sum()) * px * px
    return out


def _groove(frame: Frame, angle: float, width: float, depth: float, ragged: np.ndarray) -> Groove | None:
    """One groove somewhere in the field, or None where no pixel lies near it."""
    rng = frame.rng
    p, q = frame.along(angle), frame.along(angle + np.pi / 2)
    off = rng.uniform(q.min(), q.max())
    near = np.flatnonzero(np.abs(q.ravel() - off) < 0.75 * width + 2)
    if near.size == 0:
        return None
    t, s = p.ravel()[near], q.ravel()[near] - np.float32(off)
    s = s - wander(rng, t, frame.half, 60, 0.05 * width)
    wide = 1 + wander(rng, t, frame.half, 25, 0.10)
    deep = 1 + wander(rng, t, frame.half, 40, 0.15) + wander(rng, t, frame.half, 9, 0.06)
    if rng.random() < 0.3:  # a grain that came or left inside the field
        end, sense = rng.uniform(-0.6, 0.6) * min(frame.shape) * frame.px, rng.choice([-1, 1])
        taper = np.clip(sense * (t - end) / rng.uniform(20, 70) + 0.5, 0, 1)
        wide, deep = wide * (0.45 + 0.55 * taper), deep * taper
    rel = 2 * s / (width * np.clip(wide, 0.3, 1.6))
    rel = rel + ragged.ravel()[near] * np.float32(min(0.16, 0.45 / width) * rng.uniform(0.5, 1.3))
    power = rng.uniform(1.5, 3.5)
    skew = rng.uniform(-0.25, 0.25)
    inward = np.clip(np.abs(rel), 0, 1)
    profile = depth * np.clip(deep, 0, 1.5) * (1 - inward**power) * (1 + skew * rel)
    return Groove(near, t, s, rel, profile.astype(np.float32), width, depth, angle)
