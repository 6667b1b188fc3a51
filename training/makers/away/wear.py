"""What the ring does to the ground: lips and caps over grooves, scuffing, scratches along the stroke."""

import cv2
import numpy as np

from .grooves import LIMIT_UM, SAMPLES, Lay, Traced
from .ground import Frame, clouds, grain, smoothstep, wander

KINDS = ("lips", "stretches", "whole", "bands", "patches", "tongues")


def _tidy(mask: np.ndarray, pixel_um: float) -> np.ndarray:
    """Drop specks and pinholes that no one could see."""
    size = 3 if pixel_um > 0.4 else 5
    return cv2.medianBlur(mask.astype(np.uint8), size).astype(bool)


def _lonely(shut: np.ndarray, opened: np.ndarray, width_px: float) -> np.ndarray:
    """Closed stretches that no open stretch of their own groove gives away: a trace must tell of them."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(shut.astype(np.uint8), connectivity=8)
    beside = cv2.dilate(opened.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    contact = np.bincount(labels[beside & shut], minlength=count)
    alone = (stats[:, cv2.CC_STAT_AREA] > 8 * width_px * contact) | (contact < 0.6 * width_px)
    alone &= stats[:, cv2.CC_STAT_AREA] > width_px**2
    alone[0] = False
    return alone[labels].astype(np.float32)


def draw_manner(rng: np.random.Generator) -> dict:
    """How a specimen smears; all its worn fields share it."""
    kinds = list(rng.choice(KINDS, size=int(rng.integers(1, 4)), replace=False))
    return {
        "kinds": kinds,
        "share": float(np.exp(rng.uniform(np.log(0.14), np.log(0.8)))),
        "two_sided": bool(rng.random() < 0.45),
        "one_lay": bool(rng.random() < 0.15),
        "ragged": float(rng.uniform(0.05, 0.9)),
        "holes": float(rng.uniform(0.01, 0.12)) if rng.random() < 0.3 else 0.0,
        "partial": float(rng.uniform(0.1, 0.5)) if rng.random() < 0.35 else 0.0,
        "sunk_um": float(rng.uniform(0.03, 0.3)),
        "rim_trace_um": float(rng.uniform(0.04, 0.26)) if rng.random() < 0.75 else 0.02,
        "tone": float(rng.choice([0, 0, -1, 1, 1])) * float(rng.uniform(0.04, 0.22)),
        "rough_um": float(np.exp(rng.uniform(np.log(0.01), np.log(0.14)))),
    }


def _push(rng: np.random.Generator, frame: Frame, stroke: float, lay: Lay, on: Traced, manner: dict) -> np.ndarray:
    """How strongly each pixel was pressed shut; the largest values close first."""
    width = float(np.median(lay.half)) * 2
    count = len(lay.middle)
    flat = np.maximum(on.groove, 0) * SAMPLES + np.clip(on.along.astype(np.int32), 0, SAMPLES - 1)
    step = 2 * frame.half_um / SAMPLES

    def along_groove(cell_um: float) -> np.ndarray:
        knots = int(np.clip(2 * frame.half_um / max(cell_um, 2 * step, 6 * frame.pixel_um), 4, SAMPLES // 2))
        return wander(rng, count, SAMPLES, knots).ravel()[flat]

    fine = grain(
        rng, frame, stroke, width * rng.uniform(0.5, 3), max(width * rng.uniform(0.06, 0.3), 0.4, 2 * frame.pixel_um)
    )
    push = np.full(on.depth.shape, -9.0, np.float32)
    for kind in manner["kinds"]:
        if kind == "lips":
            reach = 0.5 + 0.55 * along_groove(width * rng.uniform(1, 8)) + 0.22 * manner["ragged"] * fine
            near = np.minimum(1 + on.side, 1 - on.side) if manner["two_sided"] else 1 + on.side
            mine = 1.1 * (reach - 0.5 * near)
        elif kind == "stretches":
            mine = along_groove(width * np.exp(rng.uniform(np.log(0.7), np.log(14)))) + 0.35 * manner["ragged"] * fine
        elif kind == "whole":
            mine = 1.2 * rng.standard_normal(count).astype(np.float32)[np.maximum(on.groove, 0)]
            mine = mine + 0.25 * along_groove(width * 6) + 0.12 * manner["ragged"] * fine
        elif kind == "bands":
            band = frame.half_um * np.exp(rng.uniform(np.log(0.03), np.log(0.3)))
            mine = grain(rng, frame, stroke, band * 14, band) + 0.3 * manner["ragged"] * fine
        elif kind == "patches":
            mine = clouds(rng, frame, width * rng.uniform(1.5, 9)) + 0.2 * manner["ragged"] * fine
        else:
            long = grain(
                rng, frame, stroke, width * rng.uniform(2, 7), max(width * rng.uniform(0.25, 0.8), 2.5 * frame.pixel_um)
            )
            mine = long + 0.3 * along_groove(width * 4) + 0.2 * fine
        push = np.maximum(push, mine)
    return push


def close_grooves(
    rng: np.random.Generator, frame: Frame, stroke: float, lays: list[Lay], traced: list[Traced], manner: dict
) -> tuple[list[np.ndarray], list[np.ndarray], np.ndarray]:
    """Depths after smearing and which footprints are closed, lay by lay, and how much of a line is left to see."""
    cover = manner["sunk_um"] * (1 + 0.25 * clouds(rng, frame, 12 * frame.pixel_um + 6))
    cover = cover + manner["rough_um"] * grain(rng, frame, stroke, 5.0, 0.5)
    chosen = int(rng.integers(len(lays))) if manner["one_lay"] else None
    depths, closed = [], []
    trace_um = max(manner["rim_trace_um"], 0.13 if "whole" in manner["kinds"] else 0.0)
    left = np.zeros((frame.rows, frame.cols), np.float32)
    for i, (lay, on) in enumerate(zip(lays, traced, strict=True)):
        foot = on.depth >= LIMIT_UM
        if not foot.any() or (chosen is not None and i != chosen):
            depths.append(on.depth)
            closed.append(np.zeros_like(foot))
            continue
        push = _push(rng, frame, stroke, lay, on, manner)
        share = np.clip(manner["share"] * rng.uniform(0.7, 1.25), 0.02, 0.85)
        bar = float(np.quantile(push[foot], 1 - share))
        shut = push > bar
        if manner["holes"]:
            shut &= clouds(rng, frame, rng.uniform(2, 6) + 4 * frame.pixel_um) < 2.6 - 9 * manner["holes"]
        shut = _tidy(shut, frame.pixel_um) & foot
        level = np.clip(cover, 0.0, 0.4)
        # Two rim lines stay; where lips met from both sides a seam stays too.
        edge_um = (1 - np.abs(on.side)) * on.half
        line = np.exp(-((edge_um / max(0.6, 0.9 * frame.pixel_um)) ** 2))
        if manner["two_sided"] and "lips" in manner["kinds"]:
            line = line + np.exp(-((on.side * on.half / max(0.5, 0.9 * frame.pixel_um)) ** 2))
        level = np.clip(level + trace_um * line, 0, 0.42)
        left = np.maximum(left, trace_um * line * shut)
        lone = _lonely(shut, foot & ~shut, 2 * float(np.median(lay.half)) / frame.pixel_um)
        broad = np.exp(-((edge_um / max(0.9, 1.5 * frame.pixel_um)) ** 2))
        left = np.maximum(left, lone * (0.12 + 0.38 * broad))
        depth = np.where(shut, np.minimum(level, on.depth), on.depth)
        if manner["partial"]:
            half_full = (
                _tidy((push > np.quantile(push[foot], max(0.0, 1 - share - 0.2))) & ~shut, frame.pixel_um) & foot
            )
            depth = np.where(half_full, np.maximum(on.depth * (1 - manner["partial"]), 0.75), depth)
        depths.append(np.where(foot, depth, on.depth).astype(np.float32))
        closed.append(shut)
    return depths, closed, left


def draw_scuff(rng: np.random.Generator) -> dict:
    return {
        "share": float(np.exp(rng.uniform(np.log(0.02), np.log(0.75)))),
        "width": float(np.exp(rng.uniform(np.log(0.015), np.log(0.3)))),
        "length": float(np.exp(rng.uniform(np.log(7), np.log(45)))),
        "ragged": float(rng.uniform(0.1, 0.6)),
        "tear_um": float(rng.uniform(0.3, 1.4)),
        "plough_um": float(rng.uniform(0.1, 1.1)),
        "lumps": bool(rng.random() < 0.4),
        "tone": float(rng.choice([-0.2, -0.1, 0, 0.1, 0.2])),
        "soft": float(rng.uniform(0.5, 2.5)),
    }


def scuff(
    rng: np.random.Generator, frame: Frame, stroke: float, kind: dict
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Torn streaks: mask, height of the torn ground in µm and how much of it shows at each pixel."""
    band = max(frame.half_um * 2 * kind["width"] * 0.5, 3.0, 5 * frame.pixel_um)
    field = grain(rng, frame, stroke, band * kind["length"], band)
    field += kind["ragged"] * grain(rng, frame, stroke, max(band * 1.2, 10), max(band * 0.12, 1.2 * frame.pixel_um))
    mask = field > np.quantile(field, 1 - kind["share"])
    mask = cv2.medianBlur(mask.astype(np.uint8), 5)
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)).astype(bool)
    scale = max(4.0, 7 * frame.pixel_um)
    tear = clouds(rng, frame, scale * rng.uniform(0.7, 2)) + 0.9 * grain(rng, frame, stroke, 3 * scale, 0.7 * scale)
    steps = np.abs(np.mod(tear * 1.3 + 50, 1.0) - 0.5) * 2  # scales lying over each other
    height = kind["tear_um"] * (0.5 * tear + 0.6 * steps - 0.5)
    height += kind["plough_um"] * 0.7 * grain(rng, frame, stroke, 20 * scale, 0.45 * scale)
    if kind["lumps"]:
        lump = clouds(rng, frame, 2.5 * scale, 2)
        height += 1.2 * kind["tear_um"] * smoothstep(lump, 1.2, 1.5)
    height *= np.float32((scale / 4) ** 0.75)
    show = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), kind["soft"])
    return mask, height.astype(np.float32), show


def scratches(rng: np.random.Generator, frame: Frame, stroke: float, count: int, depth_um: float) -> np.ndarray:
    """Depth in µm of scratches along the stroke (plateau by the words of the trade)."""
    total = np.zeros((frame.rows, frame.cols), np.float32)
    for _ in range(count):
        u, v = frame.axes(stroke + rng.normal(0, 1.5))
        middle = rng.uniform(-0.7, 0.7) * frame.half_um
        half = max(0.7 * frame.pixel_um, np.exp(rng.uniform(np.log(0.3), np.log(3.5))))
        wave = np.float32(rng.uniform(0, 1.2) * half) * np.sin(u / np.float32(frame.half_um) * rng.uniform(1, 5))
        far = np.abs(v - np.float32(middle) - wave) / np.float32(half)
        ends = np.sort(rng.uniform(-1.2, 1.2, 2)) * frame.half_um
        there = smoothstep(u, ends[0], ends[0] + 12 * half) * (1 - smoothstep(u, ends[1] - 12 * half, ends[1]))
        deep = depth_um * np.exp(rng.normal(0, 0.5))
        section = np.where(far < 1, 1 - far**2, -0.25 * np.exp(-2 * (far - 1)))
        total = np.where(np.abs(section) * there * deep > np.abs(total), section * there * deep, total)
    return total
