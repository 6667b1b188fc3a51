"""Which strands a finish has: bundles, broad ridged grooves, deep single ones, strewn ones, and shallow bundles.

Depth, wall slope and width hang together: half width = sharpness · depth / tan(slope), slopes of 6–27° and depths of
1–10 µm (from memory: usual for plateau-honed liners). Stones carry their grits in clusters, so that grooves lie in two
random bands (Puente León, CIRP Annals 51 (2002) 503) and, within them, side by side. The stone's finishing pass leaves
the same bundles at depths below the 0.5 µm limit.
"""

from dataclasses import dataclass

import numpy as np

from .strands import SHARPNESS, Strand

SHALLOW_DEPTHS_UM = (0.08, 0.4)
SLOPES_DEG = (6.0, 27.0)
KINDS = ("bundle", "broad", "single", "strewn")


@dataclass(frozen=True, kw_only=True)
class Finish:
    name: str
    hone_angle_deg: float
    lays: int
    median_depth_um: float
    groove_share: float
    kinds: tuple[float, ...]
    shallow_share: float
    grain_um: float


def chosen(rng: np.random.Generator) -> Finish:
    """One of the finishes; hone angles of 30–60°, or 140–150° for helical slide honing (from memory)."""
    name = str(rng.choice(["single-stage", "plateau", "fine", "helical"], p=[0.3, 0.37, 0.18, 0.15]))
    depth = {"single-stage": (1.6, 3.5), "plateau": (1.3, 3.0), "fine": (0.8, 1.3), "helical": (1.2, 2.5)}[name]
    share = {"single-stage": (0.25, 0.5), "plateau": (0.12, 0.35), "fine": (0.08, 0.3), "helical": (0.12, 0.35)}[name]
    return Finish(
        name=name,
        hone_angle_deg=float(rng.uniform(140, 150) if name == "helical" else rng.uniform(30, 60)),
        lays=1 if rng.random() < 0.08 else 2,
        median_depth_um=float(rng.uniform(*depth)),
        groove_share=float(rng.uniform(*share)),
        kinds=tuple(rng.dirichlet([1.6, 0.8, 0.7, 0.7])),
        shallow_share=float(rng.uniform(0.25, 0.8) if rng.random() < 0.45 else rng.uniform(0, 0.12)),
        grain_um=float(rng.uniform(0.0, 0.05) if name != "single-stage" else rng.uniform(0.02, 0.1)),
    )


def half_width_px(depth_um: float, slope_deg: float, form: str, pixel_size_um: float) -> float:
    return SHARPNESS[form] * depth_um / np.tan(np.deg2rad(slope_deg)) / pixel_size_um


def grit(rng: np.random.Generator, median_um: float, pixel_size_um: float, reach_px: float, narrow: float) -> dict:
    """Depth, form and half width of one strand: at least some 3 px wide at 0.5 µm, at most a tenth of the field."""
    form = str(rng.choice(["vee", "bowl", "trough"], p=[0.4, 0.35, 0.25]))
    steepest = SLOPES_DEG[1]
    slope = rng.uniform(10 + 9 * narrow, steepest)
    depth = float(np.clip(median_um * rng.lognormal(0, 0.35) * (1 - 0.35 * narrow), 0.68, 9.0))
    half = half_width_px(depth, slope, form, pixel_size_um)
    widest = max(0.11 * reach_px, half_width_px(0.7, steepest, form, pixel_size_um))
    if half > widest:
        depth, half = depth * widest / half, widest
        if depth < 0.68:
            depth, half = 0.68, half_width_px(0.68, steepest, form, pixel_size_um)
    least = rng.uniform(1.9, 3.0)
    if half < least:
        depth, half = depth * least / half, least
    return {"depth": float(depth), "half_width": float(half), "form": form}


def run(rng: np.random.Generator, reach: float) -> dict:
    """Where a path starts and stops: most cross the field, some begin or end in it."""
    out = {"start": -1e9, "stop": 1e9, "fade": float(rng.uniform(25, 240))}
    if rng.random() < 0.35:
        middle, length = rng.uniform(-reach, reach), reach * rng.uniform(0.4, 1.8)
        out |= {"start": float(middle - length / 2), "stop": float(middle + length / 2)}
        out["fade"] = float(min(out["fade"], 0.22 * length))
    return out


def cluster(
    rng: np.random.Generator,
    kind: str,
    centre: float,
    finish: Finish,
    pixel_size_um: float,
    reach: float,
    closing: float,
) -> tuple[list[Strand], float]:
    """The strands of one place across the lay, and their width together at 0.5 µm in px."""
    count, pitch, narrow = {
        "bundle": (int(rng.integers(2, 16)), rng.uniform(0.55, 1.3), 1.0),
        "broad": (int(rng.integers(3, 8)), rng.uniform(0.28, 0.5), 0.6),
        "single": (1, 1.0, 0.0),
        "strewn": (1, 1.0, 0.7),
    }[kind]
    median = finish.median_depth_um * {"bundle": 0.85, "broad": 1.1, "single": 1.5, "strewn": 0.75}[kind]
    drift, whole, skew = rng.normal(0, 0.008), run(rng, reach), rng.uniform(-0.3, 0.3)
    strands, at, width = [], centre, 0.0
    for _ in range(count):
        cut = grit(rng, median, pixel_size_um, reach, narrow)
        at += 0 if not strands else pitch * (cut["half_width"] + strands[-1].half_width) * rng.uniform(0.8, 1.25)
        closed = None
        if rng.random() < closing and cut["half_width"] < max(7, 3 / pixel_size_um):
            middle, length = rng.uniform(-reach, reach), rng.uniform(0.1, 0.8) * reach
            closed = (float(middle - length / 2), float(middle + length / 2))
        strands.append(
            Strand(
                centre=float(at),
                **cut,
                skew=float(skew),
                drift=float(drift + rng.normal(0, 0.0008)),
                rim=float(rng.uniform(0.1, 0.5) * min(cut["depth"], 1.5)),
                closed=closed,
                **(whole if rng.random() < 0.7 else run(rng, reach)),
            )
        )
        width += strands[-1].width_at(0.5) * min(1.0, (strands[-1].stop - strands[-1].start) / (2 * reach))
        if at - centre > 0.4 * reach:
            break
    return strands, min(width, at - centre + strands[-1].half_width * 2)


def grooves(
    rng: np.random.Generator, finish: Finish, pixel_size_um: float, reach: float, closing: float = 0.0
) -> list[Strand]:
    """A lay's strands, clusters placed at random until their share of the width is reached."""
    wanted = 1.6 * reach * finish.groove_share / finish.lays
    strands, drawn = [], 0.0
    for _ in range(400):
        kind = str(rng.choice(KINDS, p=finish.kinds))
        added, width = cluster(rng, kind, rng.uniform(-0.85, 0.7) * reach, finish, pixel_size_um, reach, closing)
        strands += added
        drawn += width
        if drawn >= wanted:
            break
    return strands


def scratches(rng: np.random.Generator, finish: Finish, pixel_size_um: float, reach: float) -> list[Strand]:
    """Shallow bundles: never as deep as the limit, lower walls, no rims, width following depth."""
    wanted, drawn, strands = 2 * reach * finish.shallow_share / finish.lays, 0.0, []
    while drawn < wanted and len(strands) < 420:
        at, drift, common = rng.uniform(-reach, reach), rng.normal(0, 0.012), rng.uniform(*SHALLOW_DEPTHS_UM)
        slope = rng.uniform(5, 14)
        whole = run(rng, reach)
        for _ in range(int(rng.integers(1, 13))):
            depth = float(np.clip(common * rng.lognormal(0, 0.25), *SHALLOW_DEPTHS_UM))
            form = str(rng.choice(["vee", "bowl"]))
            half = max(half_width_px(depth, slope, form, pixel_size_um), 0.6)
            strands.append(
                Strand(centre=float(at), half_width=half, depth=depth, form=form, drift=float(drift), **whole)
            )
            at += half * rng.uniform(1.2, 2.6)
            drawn += half * 1.9
    return strands
