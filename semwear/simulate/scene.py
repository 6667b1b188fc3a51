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
from .closures import ClosureStyle, draw_closure_style
from .finishes import FAMILIES, FINISHES, HELD_OUT_FAMILY, Groove, draw_grooves, draw_hone_angle_deg
from .frame import Frame
from .instrument import draw_debris, draw_edge, take_picture
from .render_relief import HELD_OUT_RENDERER, render_relief
from .render_slope import render_slope
from .render_texture import render_texture
from .render_transport import render_transport
from .surface import Surface, add_plateau, compose_height, cut_grooves, empty_surface
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


@dataclass(frozen=True, kw_only=True)
class _Setting:
    """What is known of one field before its surface is made, given or drawn."""

    family: str
    renderer: str
    pixel_size_um: float
    shape: tuple[int, int]
    track: str
    severity: float
    kv: float
    tilt_deg: float
    stroke_deg: float  # as seen in the picture
    hone_angle_deg: float  # on the specimen

    @property
    def runs(self) -> bool:
        """True where the ring ran over a part of the field at least."""
        return self.track != "out-of-track"


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
    setting = _draw_setting(
        rng, family=family, renderer=renderer, pixel_size_um=pixel_size_um, shape=shape, worn=worn, severity=severity,
        stroke_deg=stroke_deg, hone_angle_deg=hone_angle_deg, kv=kv, tilt_deg=tilt_deg,
    )  # fmt: skip
    surface, grooves = _make_surface(rng, setting, scuffed)
    signal, blended = _render(rng, surface, setting)
    signal, hidden = _cover(rng, signal, surface.frame)
    white_level = {8: 255, 16: 65535}.get(bits, 65535 if rng.random() < 0.2 else 255)
    image, charged, instrument = take_picture(rng, signal.astype(np.float32), white_level=white_level)
    codes = state_codes(surface, hidden | charged)
    return _as_field(setting, surface, grooves, image, codes, instrument | {"blended_with": blended})


def _draw_setting(
    rng, *, family, renderer, pixel_size_um, shape, worn, severity, stroke_deg, hone_angle_deg, kv, tilt_deg
) -> _Setting:
    """Return the setting of one field; all but family and renderer are drawn even if given, so that what follows is the same."""
    family, renderer = _draw_family(rng, family), _draw_renderer(rng, renderer)

    def either(drawn, given) -> float:
        return float(drawn if given is None else given)

    return _Setting(  # drawn in this order
        family=family,
        renderer=renderer,
        shape=tuple(shape),
        pixel_size_um=_draw_pixel_size_um(rng, pixel_size_um, shape),
        track=_draw_track(rng, worn),
        severity=either(rng.beta(1.2, 0.85), severity),
        kv=either(rng.choice([2, 5, 5, 10, 10, 15, 15, 20, 20, 25, 30]), kv),
        tilt_deg=either(rng.choice([0.0, rng.uniform(0, 5), rng.uniform(0, 20)], p=[0.6, 0.25, 0.15]), tilt_deg),
        stroke_deg=_draw_stroke_deg(rng, stroke_deg),
        hone_angle_deg=either(draw_hone_angle_deg(rng, FINISHES[family]), hone_angle_deg),
    )


def _draw_family(rng, given: str | None) -> str:
    """Return the family, drawn unless given; ValueError for an unknown one."""
    family = FAMILIES[int(rng.choice(len(FAMILIES), p=_family_weights()))] if given is None else given
    if family not in FINISHES:
        raise ValueError(f"family is {family!r}; known are {', '.join(FINISHES)}")
    return family


def _family_weights() -> np.ndarray:
    rare = {"nearly smooth": 0.5, "unhoned": 0.3}
    weights = np.array([rare.get(name, 1.0) for name in FAMILIES])
    return weights / weights.sum()


def _draw_renderer(rng, given: str | None) -> str:
    """Return the renderer's name, drawn unless given; ValueError for an unknown one."""
    renderer = TRAINING_RENDERERS[int(rng.integers(len(TRAINING_RENDERERS)))] if given is None else given
    if renderer not in RENDERERS:
        raise ValueError(f"renderer is {renderer!r}; known are {', '.join(RENDERERS)}")
    return renderer


def _draw_pixel_size_um(rng, given: float | None, shape: tuple[int, int]) -> float:
    """Return the pixel size, the given one if any; ValueError where it or the shape is too small."""
    drawn = float(np.exp(rng.uniform(np.log(0.1), np.log(2.0))))
    pixel_size_um = drawn if given is None else float(given)
    if not pixel_size_um > 0 or min(shape) < 16:
        raise ValueError(f"pixel size {pixel_size_um} µm and shape {shape}: need a positive size and 16 pixels a side")
    return pixel_size_um


def _draw_track(rng, worn: bool | str | None) -> str:
    """Return where the field lies, one of TRACKS, as `worn` says if it says anything; ValueError for an unknown place."""
    drawn = TRACKS[int(rng.choice(3, p=[0.58, 0.3, 0.12]))]
    track = drawn if worn is None else {True: "in-track", False: "out-of-track"}.get(worn, worn)
    if track not in TRACKS:
        raise ValueError(f"worn is {worn!r}; give True, False or one of {', '.join(TRACKS)}")
    return track


def _draw_stroke_deg(rng, given: float | None) -> float:
    """Return the direction of the stroke as seen in the picture, the given one if any; mostly near a column or a row."""
    kind = rng.random()
    if kind < 0.4:
        drawn = float((90 + rng.normal(0, 4)) % 180)
    elif kind < 0.55:
        drawn = float(rng.normal(0, 4) % 180)
    else:
        drawn = float(rng.uniform(0, 180))
    return drawn if given is None else float(given) % 180


def _make_surface(rng, setting: _Setting, scuffed: bool | None) -> tuple[Surface, list[Groove]]:
    """Return the honed surface of a field, run as the setting says, and the grooves that were cut."""
    finish = FINISHES[setting.family]
    surface = _ungrooved_surface(rng, setting)
    grooves = draw_grooves(
        rng, finish, half_size_um=surface.frame.half_diagonal_um, pixel_size_um=setting.pixel_size_um,
        field_um=surface.frame.shorter_side_um,
    )  # fmt: skip
    cut_grooves(rng, surface, grooves, _draw_closing(rng, surface, setting))
    add_plateau(rng, surface, finish, marks_um=float(np.exp(rng.uniform(np.log(0.005), np.log(0.2)))))
    add_graphite(rng, surface)
    _rub(rng, surface, setting, scuffed)
    compose_height(rng, surface)
    return surface, grooves


def _ungrooved_surface(rng, setting: _Setting) -> Surface:
    """Return the surface before it is honed, with its lays and with where and how hard the ring runs."""
    frame = Frame(setting.shape, setting.pixel_size_um, setting.tilt_deg)
    stroke = frame.specimen_direction_deg(setting.stroke_deg)
    across = stroke + 90
    sign = int(rng.choice([-1, 1]))
    lays = tuple((across + s * setting.hone_angle_deg / 2 + rng.normal(0, 1.0)) % 180 for s in (sign, -sign))
    worn = track_map(rng, frame, stroke, setting.track)
    contact, removed_um = contact_maps(rng, frame, worn, stroke, setting.severity)
    return empty_surface(frame, stroke_deg=stroke, lay_deg=lays, worn=worn, contact=contact, removed_um=removed_um)


def _draw_closing(rng, surface: Surface, setting: _Setting) -> ClosureStyle | None:
    """Return how the field's grooves are closed; beside the track mostly not at all, and then `contact` is changed."""
    style = draw_closure_style(rng, setting.severity)
    if setting.runs:
        return style
    if rng.random() < 0.2:  # honing itself leaves a few folds
        style = draw_closure_style(rng, 0.05)
        surface.contact = np.full(surface.frame.shape, rng.uniform(0.1, 0.6), np.float32)
        return style
    return None


def _rub(rng, surface: Surface, setting: _Setting, scuffed: bool | None) -> None:
    """Scuff and burnish a surface where the ring ran; whether it is scuffed is drawn unless given."""
    surface.scuff, surface.scuff_um, surface.scuff_tone = (np.zeros(setting.shape, np.float32) for _ in range(3))
    drawn_scuffed = rng.random() < 0.12 + 0.35 * setting.severity**2
    scuffed = drawn_scuffed if scuffed is None else bool(scuffed)
    if scuffed and setting.runs:
        add_scuffing(rng, surface, setting.severity)
    if rng.random() < 0.35 and setting.runs:
        add_burnish(rng, surface)


def _render(rng, surface: Surface, setting: _Setting) -> tuple[np.ndarray, str]:
    """Return the signal of a surface, and the name of the other renderer where it lies between two, else an empty text."""
    look = draw_look(rng)
    signal = RENDERERS[setting.renderer](rng, surface, look, setting.kv)
    if setting.renderer == HELD_OUT_RENDERER or rng.random() >= 0.15:
        return signal, ""
    other = TRAINING_RENDERERS[int(rng.integers(len(TRAINING_RENDERERS)))]
    return signal + rng.uniform(0.2, 0.6) * (RENDERERS[other](rng, surface, look, setting.kv) - signal), other


def _cover(rng, signal: np.ndarray, frame: Frame) -> tuple[np.ndarray, np.ndarray]:
    """Return the signal with debris and the specimen's edge, if any are drawn, and where they hide the surface (bool)."""
    debris, beyond = draw_debris(rng, frame), draw_edge(rng, frame)
    hidden = np.zeros(frame.shape, bool)
    if debris is not None:
        signal = signal * (1 - debris.body) + debris.grey * debris.body - rng.uniform(0, 0.8) * debris.shadow
        hidden |= debris.hidden
    if beyond is not None:
        signal = np.where(beyond, signal.min() + 0.1 * signal, signal)
        hidden |= beyond
    return signal, hidden


def _as_field(setting: _Setting, surface: Surface, grooves, image, codes, instrument: dict) -> SimulatedField:
    """Return the picture with all that is known about it."""
    nothing = float("nan")
    lays_deg = [surface.frame.seen_direction_deg(lay) for lay in surface.lay_deg]
    return SimulatedField(
        image=image, codes=codes, worn=surface.worn > 0.5, height_um=surface.height_um, plateau_um=surface.plateau_um,
        pixel_size_um=setting.pixel_size_um, stroke_deg=setting.stroke_deg,
        lay_1_deg=lays_deg[0] if grooves else nothing,
        lay_2_deg=lays_deg[1] if any(groove.lay == 1 for groove in grooves) else nothing,
        hone_angle_deg=setting.hone_angle_deg if grooves else nothing,
        family=setting.family, renderer=setting.renderer, track=setting.track, severity=setting.severity, kv=setting.kv,
        detector="SE" if setting.renderer != HELD_OUT_RENDERER else "BSE", tilt_deg=setting.tilt_deg,
        facts=_facts(codes, grooves, instrument),
    )  # fmt: skip


def _facts(codes, grooves, instrument: dict) -> dict:
    """Return the fractions of the assessed area and the number of grooves, along with the instrument's settings."""
    assessed = max(int((codes != MaskCode.NOT_ASSESSED).sum()), 1)
    return {
        "valley_fraction": float((codes == MaskCode.OPEN_VALLEY).sum() / assessed),
        "smeared_fraction": float((codes == MaskCode.SMEARED).sum() / assessed),
        "scuffed_fraction": float((codes == MaskCode.SCUFFED).sum() / assessed),
        "plateau_fraction": float((codes == MaskCode.PLATEAU).sum() / assessed),
        "grooves": len(grooves),
        **instrument,
    }
