"""A maker that works as a renderer does: one procedural height function, carved, closed, given materials and lit."""

import cv2
import numpy as np

from ..made import Made
from .camera import expose
from .closure import close, draw_bodies, states
from .frame import Frame, lays_deg
from .grooves import Style, carve
from .lighting import light
from .materials import debris, graphite, scuffing, stains
from .noise import Textures, smoothstep


def _track(rng: np.random.Generator, frame: Frame, textures: Textures) -> tuple[str, np.ndarray]:
    """How the field was run, and the ring's share in each pixel, 0–1."""
    how = rng.choice(["unworn", "border", "worn"], p=[0.2, 0.12, 0.68])
    if how != "border":
        return how, np.full(frame.x.shape, how == "worn", np.float32)
    slide, aside = frame.stroke
    inside = np.float32(rng.choice([-1, 1])) * aside + np.float32(rng.uniform(-0.15, 0.15) * frame.span_um)
    inside = inside + textures.noise(slide / (0.3 * frame.span_um), aside * 0) * np.float32(0.01 * frame.span_um)
    return how, smoothstep(inside / np.float32(rng.uniform(1, 8)))


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """A field of honed cast iron, its truth read off the height function before and after the closing of grooves."""
    upright = rng.choice([0, 90]) + rng.normal(0, 5)
    frame = Frame.of(shape, pixel_size_um, float(upright if rng.random() < 0.75 else rng.uniform(0, 180)))
    textures = Textures.drawn(rng)
    slide, aside = frame.stroke
    run, ring = _track(rng, frame, textures)
    worn = ring > 0.5

    style = Style.drawn(rng, frame)
    strengths = rng.permutation([1.0, rng.choice([0.1, rng.uniform(0.4, 1)])])
    lays = list(zip(lays_deg(frame.stroke_deg, rng.uniform(20, 150)), strengths, strict=True))
    carved = carve(rng, frame, textures, lays, style)

    # The ring takes the plateau down: what is left of a groove's depth counts from there.
    taken = np.float32(rng.uniform(0, 0.35) * style.depth * (rng.random() < 0.7)) * ring
    before = np.maximum(carved.depth - taken, 0)
    smear = float(rng.beta(0.9, 1.3)) if run != "unworn" and rng.random() < 0.82 else 0.0
    after, folded, body = before, np.zeros_like(before), np.zeros_like(before)
    if smear > 0.02:
        bodies = draw_bodies(rng, frame, textures, carved, style.width, smear)
        # No body reaches out of the track.
        bodies.distance[~worn] = 99
        lip = max(rng.uniform(0.3, 1.5), 0.8 * frame.pixel_um)
        after = close(before, bodies, lip)
        body = smoothstep(-bodies.distance / np.float32(lip)) * smoothstep(carved.edge, -1.0, 0.3) * (before > 0.45)
        seam = np.maximum(0.6 * lip, 0.9 * frame.pixel_um)
        folded = np.exp(-(((bodies.distance + 0.3 * lip) / seam) ** 2)) * smoothstep(before, 0.35, 0.6)
        folded += 0.6 * np.exp(-((carved.edge / seam) ** 2)) * body * (textures.noise(slide / 8, aside / 3) > -0.3)
    codes = states(before, after)

    # Texture of the finish: fine marks along both lays, rubbed off by the ring, which leaves its own along the stroke.
    finish = np.zeros_like(before)
    for direction, strength in lays:
        along, across = frame.turned(direction + rng.normal(0, 2))
        pitch = max(np.exp(rng.uniform(np.log(0.5), np.log(3))), 1.5 * frame.pixel_um)
        finish += strength * textures.smooth_noise(along / (60 * pitch), across / pitch)
    pitch = max(np.exp(rng.uniform(np.log(0.4), np.log(4))), 1.3 * frame.pixel_um)
    rubbed = textures.smooth_noise(slide / (80 * pitch) + 4, aside / pitch)
    polish = np.float32(rng.uniform(0.4, 0.95))
    height = np.float32(rng.uniform(0.01, 0.07)) * finish * (1 - polish * ring)
    height += np.clip(np.float32(rng.uniform(0.005, 0.07)) * rubbed * ring, -0.3, 0.3)
    if rng.random() < 0.4:  # single scratches along the stroke, not hone grooves whatever their depth
        width = max(rng.uniform(1, 5), 2 * frame.pixel_um)
        scratch = textures.smooth_noise(slide / (0.8 * frame.span_um) + 8, aside / width + 3) - 1.9
        height -= np.clip(scratch * width * 0.4, 0, 0.45) * (1 - body)
    grit = max(0.4, 1.2 * frame.pixel_um)
    rough = textures.noise(frame.x / grit, frame.y / grit) + 0.7 * textures.noise(frame.x / 2.1 / grit, frame.y / 2.1 / grit)
    inside = smoothstep(after, 0.3, 0.8)
    height += np.float32(np.exp(rng.uniform(np.log(0.005), np.log(0.12))) * grit) * rough * inside
    # Furrows that the grits left along a groove's floor.
    pitch = max(style.width * rng.uniform(0.05, 0.2), 1.5 * frame.pixel_um)
    furrows = textures.smooth_noise(carved.along / (25 * pitch), carved.side / pitch + carved.key * 1.7)
    height += np.float32(rng.uniform(0, 0.12) * pitch) * furrows * inside
    height += carved.rim * (1 - ring * polish) * (1 - inside) * (1 - body) - after - taken
    height += np.float32(rng.uniform(0.05, 0.3)) * folded

    torn = None
    if run != "unworn" and rng.random() < 0.42:
        torn = scuffing(rng, frame, textures, float(rng.choice([rng.uniform(0.04, 0.25), rng.uniform(0.25, 0.75)], p=[0.7, 0.3])))
        cover = torn.cover & worn
        codes[cover] = 3
        soft = cv2.GaussianBlur(cover.astype(np.float32), (0, 0), 0.8)
        # Ploughing drags metal into what grooves it crosses.
        height = height * (1 - 0.6 * soft) + soft * torn.relief

    backscattered = bool(rng.random() < 0.25)
    lit = light(rng, height, frame.pixel_um, backscattered)
    carbon = np.float32(rng.choice([rng.uniform(-0.25, 0.1), rng.uniform(0.1, 0.6)], p=[0.35, 0.65]))
    # Carbon lies in patches drawn out along the groove.
    filled = 1 + 0.4 * textures.noise(carved.along / (2.5 * style.width) + 2, carved.side / (0.5 * style.width) + carved.key * 1.3)
    hidden = np.zeros_like(before) if torn is None else soft
    lit = lit * (1 - carbon * smoothstep(after, 0.3, 1.5) * filled * (1 - hidden))
    # Moved metal differs by its cold work, its oxide and its striations along the stroke.
    streaked = 1 + np.float32(rng.uniform(0.1, 0.5)) * rubbed
    lit = lit * (1 + np.float32(rng.choice([-1, 1, 1]) * rng.uniform(0.07, 0.25)) * body * streaked * (1 - hidden))
    lit = lit * (1 + np.float32(rng.uniform(-0.5, 0.6)) * np.clip(folded, 0, 1) * (1 - hidden))
    if torn is not None:
        lit = lit * (1 + soft * (np.float32(rng.uniform(0.1, 0.6)) * torn.bright - np.float32(rng.uniform(0, 0.25))))
    if rng.random() < 0.55:
        flakes = graphite(rng, frame, textures) * (1 - body) * (1 - hidden) * (1 - smoothstep(after, 0.3, 0.8))
        lit = lit * (1 - np.float32(rng.uniform(0.3, 0.75)) * flakes)
    if rng.random() < 0.35:
        lit = lit * (1 + np.float32(rng.choice([-1, -1, 0.5]) * rng.uniform(0.08, 0.4)) * stains(rng, frame, textures))
    grains, _ = textures.cells(frame.x / 18, frame.y / 18)
    lit = lit * (1 + np.float32(rng.normal(0, 0.04)) * smoothstep(grains, 0, 0.2))
    if rng.random() < 0.35:
        particle = debris(rng, frame, textures, int(rng.integers(1, 7)))
        glow = np.float32(rng.choice([0.35, rng.uniform(1.3, 2.2)], p=[0.25, 0.75]))
        shadow = 1 - np.float32(rng.uniform(0, 0.5)) * np.exp(-np.maximum(particle, 0) / 2.5)
        bulge = 1 + 0.3 * textures.noise(frame.x / 1.5, frame.y / 1.5) + 0.4 * np.exp(particle / 1.2).clip(max=1)
        lit = np.where(particle < 0, glow * bulge, lit * shadow)
        codes[particle < 0] = 255
    kind = "-".join([run, *(["smeared"] if smear > 0.02 else []), *(["scuffed"] if torn is not None else [])])
    return Made(image=expose(rng, lit.astype(np.float32)), codes=codes, worn=worn, kind=kind)
