"""Fields carved stroke by stroke: every grit's cut and every patch of moved metal is a small stamp of known state."""

import cv2
import numpy as np

from ..made import Made
from .carve import finish, lay_of_grooves
from .frame import Frame, between, cloud, lay_frames, thread
from .light import signal
from .litter import charging, debris, graphite, pullouts, stains
from .move import cap_grooves, tear, tongues
from .scope import record

LIMIT_UM = 0.5
TORN = 0.45
"""Cover (0–1) by an adhesion streak from which the ground counts as torn."""


def _track(rng: np.random.Generator, stroke: Frame, worn: str) -> np.ndarray:
    """Where the ring ran (bool): nowhere, everywhere, or on one side of a border along the stroke."""
    if worn != "border":
        return np.full(stroke.shape, worn == "worn")
    sheet = stroke.sheet()
    side = stroke.side
    reach = min(stroke.shape) * 0.25
    edge = side / 2 + rng.uniform(-1, 1) * reach + thread(rng, side, side / 6) * between(rng, 0.3, 4)
    sheet[np.arange(side)[:, None] > edge[None, :]] = 1
    inside = stroke.to_picture(sheet) > 0.5
    return inside if rng.random() < 0.5 else ~inside


def states(before_um: np.ndarray, after_um: np.ndarray, scuff: np.ndarray, track: np.ndarray) -> np.ndarray:
    """Mask codes from the depths (µm below the local plateau) that wear had left and that moved metal then left,
    the cover by adhesion streaks (0–1), and where the ring ran."""
    # The median takes away single pixels where a shallow floor wavers about the limit.
    valley, footprint = (cv2.medianBlur((d >= LIMIT_UM).astype(np.uint8), 3) > 0 for d in (after_um, before_um))
    codes = valley.astype(np.uint8)
    codes[footprint & ~valley & track] = 2
    codes[(scuff > TORN) & track] = 3
    return codes


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field: strokes carve, stamps move metal, then it is lit and recorded. pixel_size_um in µm, shape in px."""
    px = float(pixel_size_um)
    shape = (int(shape[0]), int(shape[1]))
    stroke_at = rng.choice([0, 90]) + rng.normal(0, 6) if rng.random() < 0.8 else rng.uniform(0, 180)
    stroke = Frame(float(np.radians(stroke_at)), shape)
    worn = str(rng.choice(["new", "border", "worn"], p=[0.4, 0.15, 0.45]))
    track = _track(rng, stroke, worn)
    smeared = worn != "new" and rng.random() < 0.6
    scuffed = worn != "new" and rng.random() < 0.25

    field_um = min(shape) * px
    width = between(rng, max(2.5, 4 * px), max(min(45, field_um / 5), max(2.6, 5 * px)))
    strengths = [1.0, between(rng, 0.12, 0.6) if rng.random() < 0.3 else rng.uniform(0.6, 1)]
    rng.shuffle(strengths)
    frames = lay_frames(stroke, float(np.radians(rng.uniform(20, 150))))
    lays = [lay_of_grooves(rng, f, px, s, width * between(rng, 0.8, 1.25)) for f, s in zip(frames, strengths, strict=True)]

    shut_by_tongues = np.zeros(shape, np.float32)
    if smeared:
        amount, run = between(rng, 0.1, 1.0), between(rng, 0.7, 14)
        for lay in lays:
            cap_grooves(rng, lay, amount, run, stroke.angle)
        if rng.random() < 0.6:
            wide = float(np.clip(width * between(rng, 0.5, 3) / px, 4, 60))
            length = between(rng, 2, 10)
            count = int(np.clip(amount * 0.6 * stroke.side**2 / (wide * wide * length), 2, 200))
            shut_by_tongues = tongues(rng, stroke, count, wide, length)

    inside = cv2.GaussianBlur(track.astype(np.float32), (0, 0), 1.0)
    worn_off = inside * between(rng, 0.03, 0.9)  # µm of plateau gone; the local plateau sinks with it
    cloth = cv2.GaussianBlur(np.abs(cloud(rng, shape, 20, 20)), (0, 0), 2) * 0.1
    before, after, rims = (np.zeros(shape, np.float32) for _ in range(3))
    left = between(rng, 0.03, 0.4)
    for lay in lays:
        was = np.clip(lay.frame.to_picture(lay.depth) - worn_off, 0, None)
        shut = np.maximum(lay.frame.to_picture(lay.shut), shut_by_tongues) * inside
        now = was * (1 - shut) + np.minimum(was, np.minimum(left + cloth, 0.44)) * shut
        before, after = np.maximum(before, was), np.maximum(after, now)
        rims = np.maximum(rims, lay.frame.to_picture(lay.rim))
    rims *= 1 - inside * rng.uniform(0.6, 1)

    scuff, torn = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    heavy = bool(rng.random() < 0.35)
    if scuffed:
        scuff, torn = tear(rng, stroke, px, heavy)
        scuff, torn = scuff * inside, torn * inside
    codes = states(before, after, scuff, track)
    # Torn metal has filled the grooves below it; beside the streaks they stay as they were.
    after = np.where(scuff > TORN, after * rng.uniform(0.1, 0.5), after)

    fine = sum(
        f.to_picture(finish(rng, f, int(rng.integers(20, 160)), between(rng, 0.05, 0.4))) for f in frames
    ) * (1 - inside * rng.uniform(0.5, 1))
    if worn != "new":
        fine = fine + inside * stroke.to_picture(finish(rng, stroke, int(rng.integers(10, 200)), between(rng, 0.05, 0.42)))
    shallow = np.minimum(fine, 0.42) * (1 - 0.5 * (codes == 2)) + 0.03 * cloud(rng, shape, 5, 5)
    skin = between(rng, 0.01, 0.08) * cloud(rng, shape, 1.6, 1.6) * (1 - inside * rng.uniform(0.3, 0.9))  # honed skin, polished off
    height = (rims + skin - after - shallow + torn + 0.1 * cloud(rng, shape, 60, 60)).astype(np.float32)

    smear = cv2.GaussianBlur((codes == 2).astype(np.float32), (0, 0), 0.7)
    dark = np.zeros(shape, np.float32)
    if rng.random() < 0.4:
        dark = graphite(rng, shape, px)
        height -= 0.3 * dark
    if rng.random() < 0.3:
        pits = pullouts(rng, shape, px)
        height -= pits
        dark = np.maximum(dark, np.clip(pits, 0, 1) * 0.6)
    backscatter = bool(rng.random() < 0.25)
    light = signal(rng, height, after, smear, scuff, stroke, px, backscatter)
    light += shut_by_tongues * inside * (codes == 0) * rng.choice([-1, 1]) * between(rng, 0.01, 0.08)
    light *= 1 - dark * between(rng, 0.25, 0.7)
    if rng.random() < 0.35:
        light *= 1 + stains(rng, shape) * rng.choice([-1, -1, 1]) * between(rng, 0.05, 0.35)
    if rng.random() < 0.3:
        bits = debris(rng, shape, px)
        toward = rng.uniform(0, 2 * np.pi)
        far = between(rng, 2, 8)
        move = np.array([[1, 0, far * np.cos(toward)], [0, 1, far * np.sin(toward)]])
        shade = cv2.GaussianBlur(cv2.warpAffine(bits.astype(np.float32), move, shape[::-1]), (0, 0), 2.5)
        light *= 1 - shade * between(rng, 0.15, 0.6)
        light[bits] = rng.uniform(0.75, 1.8) + 0.15 * cloud(rng, shape, 3, 3)[bits]
        codes[bits] = 255
    if rng.random() < 0.06:
        glare = charging(rng, shape)
        light += glare * between(rng, 0.8, 2)
        codes[glare > 0.5] = 255

    kind = worn + (" smeared" if (codes == 2).any() else "") + (" scuffed" if (codes == 3).any() else "")
    return Made(image=record(rng, light), codes=codes, worn=track, kind=f"carved {kind}")
