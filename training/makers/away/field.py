"""Recipe of a specimen and the making of one field of it: grey picture, codes of the truth, directions."""

from dataclasses import dataclass

import cv2
import numpy as np

from . import wear
from .electrons import draw_beam, picture, record
from .grooves import LIMIT_UM, cut_lay, trace
from .ground import Frame, clouds, grain, smoothstep


@dataclass
class Field:
    grey: np.ndarray  # 0 … 1
    codes: np.ndarray
    lays_deg: tuple[float, ...]
    hone_deg: float | None
    stroke_deg: float


def draw_specimen(rng: np.random.Generator) -> dict:
    """Everything that the four fields of a specimen share."""
    deep = rng.random()
    finish = {
        "width_um": float(np.exp(rng.uniform(np.log(4), np.log(34)))),
        "width_spread": float(rng.uniform(0.1, 0.6)),
        "depth_um": float(np.exp(rng.uniform(np.log(1.1), np.log(6)))),
        "manner": str(rng.choice(["even", "random", "random", "bunched"])),
        "faint_share": float(rng.uniform(0.0, 0.45)),
        "bow": float(rng.normal(0, 0.02)) if rng.random() < 0.3 else 0.0,
        "waver": float(rng.uniform(0, 0.05)) if rng.random() < 0.6 else 0.0,
        "swell": float(rng.uniform(0.0, 0.07)),
        "end_share": float(rng.uniform(0, 0.25)),
        "fork_share": float(rng.uniform(0, 0.12)),
    }
    hone = float(rng.uniform(135, 152)) if rng.random() < 0.17 else float(rng.uniform(24, 75))
    total = float(rng.uniform(0.08, 0.42)) if deep < 0.8 else float(rng.uniform(0.05, 0.12))
    balance = float(rng.uniform(0.3, 0.7))
    graphite = rng.random()
    return {
        "finish": finish,
        "hone_deg": hone,
        "shares": (total * balance, total * (1 - balance)),
        "one_lay": bool(rng.random() < 0.08),
        "stroke_deg": float((rng.choice([0, 90, 90, rng.uniform(0, 180)]) + rng.normal(0, 3)) % 180),
        "marks_um": float(np.exp(rng.uniform(np.log(0.015), np.log(0.12)))),
        "marks_width_um": float(np.exp(rng.uniform(np.log(0.4), np.log(3)))),
        "floor_rough_um": float(np.exp(rng.uniform(np.log(0.03), np.log(0.35)))),
        "floor_cell_um": float(rng.uniform(0.6, 5)),
        "floor_line_um": float(rng.uniform(0.4, 3)),
        "floor_lines": float(rng.uniform(0.01, 0.11)),
        "marks_tone": float(np.exp(rng.uniform(np.log(0.006), np.log(0.05)))),
        "strokes_tone": float(np.exp(rng.uniform(np.log(0.008), np.log(0.06)))),
        "residue": float(rng.uniform(0.1, 0.4)) if rng.random() < 0.4 else 0.0,
        "graphite": int(rng.integers(2, 26)) if graphite < 0.4 else 0,
        "graphite_round": bool(graphite < 0.08),
        "ploughed_um": float(rng.uniform(0, 0.4)),
        "smear": wear.draw_manner(rng) if rng.random() < 0.9 else None,
        "scuff": wear.draw_scuff(rng) if rng.random() < 0.27 else None,
        "worn_down_um": float(rng.uniform(0, 0.5)),
        "strokes_um": float(np.exp(rng.uniform(np.log(0.02), np.log(0.16)))),
        "strokes_width_um": float(np.exp(rng.uniform(np.log(0.5), np.log(4)))),
        "burnish": float(rng.uniform(0.1, 0.8)),
        "scratches": int(rng.integers(1, 9)) if rng.random() < 0.45 else 0,
        "scratch_um": float(rng.uniform(0.15, 1.6)),
        "stains": float(rng.choice([-1, 1])) * float(rng.uniform(0.06, 0.3)) if rng.random() < 0.4 else 0.0,
        "stain_long": float(rng.uniform(1, 8)),
        "beam": draw_beam(rng),
    }


def _graphite(rng: np.random.Generator, frame: Frame, count: int, rounds: bool) -> np.ndarray:
    """Flakes as bent worms or nodules, 0 … 1."""
    canvas = np.zeros((frame.rows, frame.cols), np.uint8)
    area = frame.rows * frame.cols * frame.pixel_um**2
    for _ in range(max(1, round(count * min(1.0, area / 2.5e5) + 0.5))):
        at = rng.uniform(0, 1, 2) * (frame.cols, frame.rows)
        if rounds:
            axes = np.maximum(rng.uniform(3, 14) / frame.pixel_um * rng.uniform(0.75, 1.1, 2), 1.5)
            turn = np.linspace(0, 2 * np.pi, 40)
            bumps = 1 + 0.1 * np.sin(turn * int(rng.integers(3, 7)) + rng.uniform(0, 6))
            ring = at + np.stack([np.cos(turn) * axes[0], np.sin(turn) * axes[1]], 1) * bumps[:, None]
            cv2.fillPoly(canvas, [np.int32(ring * 16)], 255, cv2.LINE_AA, 4)
            continue
        length = np.exp(rng.uniform(np.log(8), np.log(90))) / frame.pixel_um
        heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.22, 24))
        path = at + np.cumsum(np.stack([np.cos(heading), np.sin(heading)], 1) * length / 24, 0)
        thick = max(length * rng.uniform(0.02, 0.09), 1.3) * np.sin(np.linspace(0.15, np.pi - 0.15, 24))
        normal = np.stack([-np.sin(heading), np.cos(heading)], 1) * thick[:, None]
        outline = np.concatenate([path + normal, (path - normal)[::-1]])
        cv2.fillPoly(canvas, [np.int32(outline * 16)], 255, cv2.LINE_AA, 4)
    return canvas.astype(np.float32) / 255


def _debris(rng: np.random.Generator, frame: Frame, height: np.ndarray, tone: np.ndarray, codes: np.ndarray) -> None:
    """Loose particles on top: not assessed; their shadow changes nothing below."""
    for _ in range(int(rng.integers(1, 9))):
        size = np.clip(np.exp(rng.uniform(np.log(1.5), np.log(12))), 2.5 * frame.pixel_um, 50 * frame.pixel_um)
        r = size / frame.pixel_um
        cx, cy = rng.uniform(0, frame.cols), rng.uniform(0, frame.rows)
        turn = np.linspace(0, 2 * np.pi, int(rng.integers(6, 12)), endpoint=False)
        ring = np.stack(
            [
                cx + r * np.cos(turn) * rng.uniform(0.5, 1, len(turn)),
                cy + r * np.sin(turn) * rng.uniform(0.5, 1, len(turn)),
            ],
            1,
        )
        shape = np.zeros(height.shape, np.uint8)
        cv2.fillPoly(shape, [np.int32(ring)], 1)
        body = cv2.GaussianBlur(shape.astype(np.float32), (0, 0), max(0.7, 0.15 * r))
        height += body * np.float32(0.6 * size)
        tone += body * np.float32(rng.uniform(-0.05, 0.3))
        codes[cv2.dilate(shape, np.ones((3, 3), np.uint8)) > 0] = 255


def _seen(signal: np.ndarray, beam: dict, codes: np.ndarray, fade: np.ndarray) -> np.ndarray:
    """Give floors more tone where neither tone nor texture would tell them from the plateau."""
    inside, outside = codes == 1, codes == 0
    if inside.sum() < 50 or outside.sum() < 50:
        return signal
    soft = cv2.GaussianBlur(signal, (0, 0), 1.0)
    fine = np.abs(soft - cv2.GaussianBlur(soft, (0, 0), 4))
    step = float(soft[inside].mean() - soft[outside].mean())
    spread = float(soft[outside].std()) + 0.35 * beam["noise"]
    lack = 1.5 * spread - abs(step)
    if lack <= 0 or (
        abs(step) > 0.4 * spread and fine[inside].mean() > 1.7 * fine[outside].mean() + 0.3 * beam["noise"]
    ):
        return signal
    sign = float(np.sign(beam["floor_tone"])) or float(np.sign(step))
    return signal + np.float32(sign * (1.5 * spread - sign * step)) * fade * (codes != 3)


def make_field(rng: np.random.Generator, specimen: dict, frame: Frame, worn: bool) -> Field:
    """One field; smear and scuffing only where worn."""
    stroke = float((specimen["stroke_deg"] + rng.normal(0, 0.8)) % 180)
    hone = specimen["hone_deg"] + rng.normal(0, 1.0)
    angles = [(stroke + 90 + hone / 2) % 180, (stroke + 90 - hone / 2) % 180]
    if specimen["one_lay"]:
        angles = angles[:1]
    shape = (frame.rows, frame.cols)
    lays = []
    for angle, share in zip(angles, specimen["shares"], strict=False):
        lay = cut_lay(rng, frame, specimen["finish"], angle, share * np.exp(rng.normal(0, 0.08)))
        if worn and specimen["worn_down_um"]:
            left = lay.depth - specimen["worn_down_um"]
            peak = lay.depth.max(axis=1, keepdims=True)
            keep = peak - specimen["worn_down_um"] > 0.75
            lay.depth = np.where(keep, np.maximum(left, np.minimum(lay.depth, 0.75)), np.minimum(0.6 * lay.depth, 0.3))
        lays.append(lay)
    traced = [trace(lay, frame) for lay in lays]
    depths = [on.depth for on in traced]
    closed = [np.zeros(shape, bool) for _ in lays]
    if worn and specimen["smear"]:
        depths, closed, lines = wear.close_grooves(rng, frame, stroke, lays, traced, specimen["smear"])
    depth = np.maximum.reduce(depths)
    opened = np.logical_or.reduce([(on.depth >= LIMIT_UM) & ~shut for on, shut in zip(traced, closed, strict=True)])
    opened &= depth >= LIMIT_UM
    shut = np.logical_or.reduce(closed) & ~opened
    codes = np.where(opened, 1, np.where(shut, 2, 0)).astype(np.uint8)

    # Height of the ground in µm above the plateau.
    marks = np.zeros(shape, np.float32)
    for angle in angles:
        marks += grain(rng, frame, angle + rng.normal(0, 2), 150, specimen["marks_width_um"])
        marks += 0.7 * grain(rng, frame, angle + rng.normal(0, 4), 90, 2.5 * specimen["marks_width_um"])
    plateau = specimen["marks_um"] * marks * (1 - specimen["burnish"] if worn else 1)
    if worn:
        fine = grain(rng, frame, stroke, 120, specimen["strokes_width_um"])
        plateau += specimen["strokes_um"] * (
            fine + 0.8 * grain(rng, frame, stroke, 260, 4 * specimen["strokes_width_um"])
        )
    plateau += 0.015 * clouds(rng, frame, 3 + 3 * frame.pixel_um)
    ploughed = np.zeros(shape, np.float32)
    for angle, own in zip(angles, depths, strict=True):
        texture = grain(rng, frame, angle, 60 + 30 * frame.pixel_um, specimen["floor_line_um"] + frame.pixel_um)
        np.copyto(ploughed, texture, where=(own == depth) & (own > 0))
    rough = specimen["floor_rough_um"] * clouds(rng, frame, specimen["floor_cell_um"] + 2 * frame.pixel_um)
    lid = np.zeros(shape, np.float32)
    if worn and specimen["smear"]:
        lid = specimen["smear"]["rough_um"] * grain(rng, frame, stroke, 14 + 6 * frame.pixel_um, 1 + frame.pixel_um)
    height = -depth + np.where(opened, 0.2 * plateau + rough, np.where(shut, lid, plateau))
    for on, mask in zip(traced, closed, strict=True):
        beside = np.exp(-((np.maximum(np.abs(on.side) - 1, 0) * on.half / max(0.8, frame.pixel_um)) ** 2))
        proud = (np.abs(on.side) >= 1) & (on.groove >= 0) & ~opened & ~mask
        height += np.where(proud, beside * specimen["ploughed_um"] * (0.3 if worn else 1.0), 0).astype(np.float32)

    # Tone: what material and films do.
    beam = specimen["beam"]
    tone = 0.02 * clouds(rng, frame, 30 + 20 * frame.pixel_um)
    fade = smoothstep(depth, 0.4, 0.7) * (0.75 + 0.25 * smoothstep(depth, 0.7, 3.0))
    tone += beam["floor_tone"] * fade * (1 + 0.2 * clouds(rng, frame, 8 + 3 * frame.pixel_um))
    tone += specimen["floor_lines"] * ploughed * fade
    tone += specimen["marks_tone"] * marks * (1 - fade) * (1 - (specimen["burnish"] if worn else 0)) * (1 - 0.8 * shut)
    tone += 0.3 * np.clip(rough, -0.3, 0.3) * fade
    if specimen["residue"]:
        stuck = smoothstep(clouds(rng, frame, 5 + 4 * frame.pixel_um), 0.3, 0.9) * opened
        tone -= specimen["residue"] * cv2.GaussianBlur(stuck, (0, 0), 0.8)
    if worn and specimen["smear"]:
        tone -= min(1.0, 0.4 + 5 * beam["noise"] + 6 * specimen["strokes_tone"]) * lines
        cover = specimen["smear"]["tone"]
        if cover * beam["floor_tone"] > 0:  # a cover as dark as a floor could not be told from one
            cover = np.sign(cover) * min(abs(cover), 0.35 * abs(beam["floor_tone"]))
        tone += cover * cv2.GaussianBlur(shut.astype(np.float32), (0, 0), 0.8)
    if worn:
        tone += specimen["strokes_tone"] * fine * (1 - 0.85 * fade)
        tone += 0.05 * specimen["burnish"] * grain(rng, frame, stroke, 300, 12 + 6 * frame.pixel_um)
    if specimen["stains"]:
        size = 25 + 20 * frame.pixel_um
        island = clouds(rng, frame, size) + 0.8 * grain(rng, frame, stroke, size * specimen["stain_long"], size)
        tone += specimen["stains"] * smoothstep(island, 0.9, 1.5 + rng.uniform(0, 0.8))
    if specimen["scratches"] and (worn or rng.random() < 0.4):
        scored = wear.scratches(rng, frame, stroke, specimen["scratches"], specimen["scratch_um"])
        height -= np.where(opened, 0.3, 1.0) * scored
        tone += 0.6 * beam["floor_tone"] * smoothstep(scored, 0.1, 0.8) * ~opened
    if specimen["graphite"]:
        flake = _graphite(rng, frame, specimen["graphite"], specimen["graphite_round"])
        flake *= np.where(opened, 0.35, 0.5 if worn else 1.0)
        height -= 0.5 * flake
        tone -= (0.55 if beam["detector"] == "BSE" else 0.38) * flake
    if worn and specimen["scuff"]:
        torn, tear, show = wear.scuff(rng, frame, stroke, specimen["scuff"])
        tone = tone + 0.05 * tear * show
        height = height * (1 - show) + tear * show
        tone = tone * (1 - 0.8 * show) + specimen["scuff"]["tone"] * show
        codes[torn] = 3
    if rng.random() < 0.3:
        _debris(rng, frame, height, tone, codes)
    signal = picture(rng, frame, beam, height, tone)
    signal = _seen(signal, beam, codes, fade)
    grey = record(rng, frame, beam, signal)
    return Field(grey, codes, tuple(float(a) for a in angles), None if len(angles) < 2 else float(hone), stroke)
