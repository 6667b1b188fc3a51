"""One simulated field from a seed: finish, wear, surface, truth, signal, picture.

>>> field = simulate_field(7, shape=(96, 128), pixel_size_um=0.5)
>>> field.image.shape, field.codes.dtype, field.pixel_size_um
((96, 128), dtype('uint8'), 0.5)
>>> bool((simulate_field(7, shape=(96, 128), pixel_size_um=0.5).image == field.image).all())
True
"""

from dataclasses import dataclass

import numpy as np

from ..terms import MaskCode
from .appearance import draw_look
from .closures import draw_closure_style
from .finishes import FAMILIES, FINISHES, HELD_OUT_FAMILY, draw_grooves, draw_hone_angle_deg
from .frame import Frame
from .instrument import draw_debris, draw_edge, take_picture
from .render_relief import HELD_OUT_RENDERER, render_relief
from .render_slope import render_slope
from .render_texture import render_texture
from .render_transport import render_transport
from .surface import add_plateau, compose_height, cut_grooves, empty_surface
from .truth import state_codes
from .wear import TRACKS, add_burnish, add_graphite, add_scuffing, contact_maps, track_map

RENDERERS = {
    "slope": render_slope,
    "transport": render_transport,
    "texture": render_texture,
    HELD_OUT_RENDERER: render_relief,
}
"""Renderers by name, the held-out one included."""

TRAINING_RENDERERS = tuple(name for name in RENDERERS if name != HELD_OUT_RENDERER)
"""The renderers drawn from unless one is asked for."""

__all__ = [
    "FAMILIES", "HELD_OUT_FAMILY", "HELD_OUT_RENDERER", "RENDERERS", "TRAINING_RENDERERS", "SimulatedField",
    "simulate_field",
]  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class SimulatedField:
    """A simulated micrograph without data bar, and the truth about it. Arrays are (rows, cols)."""

    image: np.ndarray  # uint8 or uint16
    codes: np.ndarray  # uint8 mask codes
    worn: np.ndarray  # bool, where the ring ran
    height_um: np.ndarray  # float32
    plateau_um: np.ndarray  # float32, local plateau level of height_um
    pixel_size_um: float  # along a row
    stroke_deg: float  # as seen in the picture, like the lays
    lay_1_deg: float  # nan without grooves
    lay_2_deg: float
    hone_angle_deg: float  # on the specimen, bisected by the direction across the stroke; nan without grooves
    family: str
    renderer: str
    track: str
    severity: float
    kv: float
    detector: str
    tilt_deg: float
    facts: dict  # fractions of the assessed area, groove counts and instrument settings


def _draw_stroke_deg(rng) -> float:
    kind = rng.random()
    if kind < 0.4:
        return float((90 + rng.normal(0, 4)) % 180)
    if kind < 0.55:
        return float(rng.normal(0, 4) % 180)
    return float(rng.uniform(0, 180))


def simulate_field(
    seed_or_rng,
    *,
    family: str | None = None,
    renderer: str | None = None,
    pixel_size_um: float | None = None,
    shape: tuple[int, int] = (960, 1280),
    worn: bool | str | None = None,
    severity: float | None = None,
    scuffed: bool | None = None,
    stroke_deg: float | None = None,
    hone_angle_deg: float | None = None,
    kv: float | None = None,
    tilt_deg: float | None = None,
    bits: int | None = None,
) -> SimulatedField:
    """Return one simulated field; everything that isn't given is drawn.

    `seed_or_rng` is an integer or a numpy Generator; the same seed and arguments give the same arrays. `family` is
    one of FINISHES, `renderer` one of RENDERERS; drawn ones are never the held-out ones. `worn` is True, False or one
    of TRACKS; `severity` is 0..1; `stroke_deg` is the direction seen in the picture; `bits` 8 or 16.
    Raises ValueError for an unknown family, renderer or track and for a size or scale that isn't positive.
    """
    rng = np.random.default_rng(seed_or_rng)
    family = FAMILIES[int(rng.choice(len(FAMILIES), p=_family_weights()))] if family is None else family
    if family not in FINISHES:
        raise ValueError(f"family is {family!r}; known are {', '.join(FINISHES)}")
    renderer = TRAINING_RENDERERS[int(rng.integers(len(TRAINING_RENDERERS)))] if renderer is None else renderer
    if renderer not in RENDERERS:
        raise ValueError(f"renderer is {renderer!r}; known are {', '.join(RENDERERS)}")
    drawn_pixel_size = float(np.exp(rng.uniform(np.log(0.1), np.log(2.0))))
    pixel_size_um = drawn_pixel_size if pixel_size_um is None else float(pixel_size_um)
    if not pixel_size_um > 0 or min(shape) < 16:
        raise ValueError(f"pixel size {pixel_size_um} µm and shape {shape}: need a positive size and 16 pixels a side")
    drawn_track = TRACKS[int(rng.choice(3, p=[0.58, 0.3, 0.12]))]
    track = drawn_track if worn is None else {True: "in-track", False: "out-of-track"}.get(worn, worn)
    if track not in TRACKS:
        raise ValueError(f"worn is {worn!r}; give True, False or one of {', '.join(TRACKS)}")
    drawn_severity = float(rng.beta(1.2, 0.85))
    severity = drawn_severity if severity is None else float(severity)
    drawn_kv = float(rng.choice([2, 5, 5, 10, 10, 15, 15, 20, 20, 25, 30]))
    kv = drawn_kv if kv is None else float(kv)
    drawn_tilt = float(rng.choice([0.0, rng.uniform(0, 5), rng.uniform(0, 20)], p=[0.6, 0.25, 0.15]))
    tilt_deg = drawn_tilt if tilt_deg is None else float(tilt_deg)
    drawn_stroke = _draw_stroke_deg(rng)
    stroke_seen = drawn_stroke if stroke_deg is None else float(stroke_deg) % 180
    finish = FINISHES[family]
    drawn_hone_angle = draw_hone_angle_deg(rng, finish)
    hone_angle = drawn_hone_angle if hone_angle_deg is None else float(hone_angle_deg)

    frame = Frame(tuple(shape), pixel_size_um, tilt_deg)
    stroke = frame.specimen_direction_deg(stroke_seen)
    across = stroke + 90
    sign = int(rng.choice([-1, 1]))
    lays = tuple((across + s * hone_angle / 2 + rng.normal(0, 1.0)) % 180 for s in (sign, -sign))
    worn_map = track_map(rng, frame, stroke, track)
    contact, removed_um = contact_maps(rng, frame, worn_map, stroke, severity)
    surface = empty_surface(
        frame, stroke_deg=stroke, lay_deg=lays, worn=worn_map, contact=contact, removed_um=removed_um
    )
    grooves = draw_grooves(
        rng, finish, half_size_um=frame.half_diagonal_um, pixel_size_um=pixel_size_um, field_um=frame.shorter_side_um
    )
    style = draw_closure_style(rng, severity)
    if track == "out-of-track":
        style = None
        if rng.random() < 0.2:  # honing itself leaves a few folds
            style = draw_closure_style(rng, 0.05)
            surface.contact = np.full(frame.shape, rng.uniform(0.1, 0.6), np.float32)
    cut_grooves(rng, surface, grooves, style)
    add_plateau(rng, surface, finish, marks_um=float(np.exp(rng.uniform(np.log(0.005), np.log(0.2)))))
    add_graphite(rng, surface)
    surface.scuff, surface.scuff_um, surface.scuff_tone = (np.zeros(frame.shape, np.float32) for _ in range(3))
    drawn_scuffed = rng.random() < 0.12 + 0.35 * severity**2
    scuffed = drawn_scuffed if scuffed is None else bool(scuffed)
    if scuffed and track != "out-of-track":
        add_scuffing(rng, surface, severity)
    if rng.random() < 0.35 and track != "out-of-track":
        add_burnish(rng, surface)
    compose_height(rng, surface)

    look = draw_look(rng)
    signal = RENDERERS[renderer](rng, surface, look, kv)
    blended = ""
    if renderer != HELD_OUT_RENDERER and rng.random() < 0.15:  # a picture between two kinds
        blended = TRAINING_RENDERERS[int(rng.integers(len(TRAINING_RENDERERS)))]
        signal = signal + rng.uniform(0.2, 0.6) * (RENDERERS[blended](rng, surface, look, kv) - signal)
    debris, beyond = draw_debris(rng, frame), draw_edge(rng, frame)
    hidden = np.zeros(frame.shape, bool)
    if debris is not None:
        signal = signal * (1 - debris.body) + debris.grey * debris.body - rng.uniform(0, 0.8) * debris.shadow
        hidden |= debris.hidden
    if beyond is not None:
        signal = np.where(beyond, signal.min() + 0.1 * signal, signal)
        hidden |= beyond
    white_level = {8: 255, 16: 65535}.get(bits, 65535 if rng.random() < 0.2 else 255)
    image, charged, settings = take_picture(rng, signal.astype(np.float32), white_level=white_level)
    codes = state_codes(surface, hidden | charged)
    return SimulatedField(
        image=image, codes=codes, worn=worn_map > 0.5, height_um=surface.height_um, plateau_um=surface.plateau_um,
        pixel_size_um=pixel_size_um, stroke_deg=stroke_seen,
        lay_1_deg=frame.seen_direction_deg(lays[0]) if grooves else float("nan"),
        lay_2_deg=frame.seen_direction_deg(lays[1]) if any(g.lay == 1 for g in grooves) else float("nan"),
        hone_angle_deg=hone_angle if grooves else float("nan"),
        family=family, renderer=renderer, track=track, severity=severity, kv=kv,
        detector="SE" if renderer != HELD_OUT_RENDERER else "BSE", tilt_deg=tilt_deg,
        facts=_facts(codes, grooves, settings | {"blended_with": blended}),
    )  # fmt: skip


def _family_weights() -> np.ndarray:
    rare = {"nearly smooth": 0.5, "unhoned": 0.3}
    weights = np.array([rare.get(name, 1.0) for name in FAMILIES])
    return weights / weights.sum()


def _facts(codes, grooves, settings) -> dict:
    assessed = max(int((codes != MaskCode.NOT_ASSESSED).sum()), 1)
    return {
        "valley_fraction": float((codes == MaskCode.OPEN_VALLEY).sum() / assessed),
        "smeared_fraction": float((codes == MaskCode.SMEARED).sum() / assessed),
        "scuffed_fraction": float((codes == MaskCode.SCUFFED).sum() / assessed),
        "plateau_fraction": float((codes == MaskCode.PLATEAU).sum() / assessed),
        "grooves": len(grooves),
        **settings,
    }
