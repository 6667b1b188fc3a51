"""One field seen: the surface turned to the screen, with the matrix, films and dirt that change only its tone."""

import cv2
import numpy as np

from .detectors import draw_setting, signal
from .grain import grain, ramp, turned
from .matrix import pearlite, steadite
from .scan import charging, expose, jitter
from .surface import BARE, COVERED, Surface, height


def film(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float, angle: float) -> np.ndarray:
    """Tone of oxide, tribofilm or stain patches: blots, or clouds drawn out along the stroke (signed)."""
    long, across = rng.uniform(20, 120) / pixel_size_um, rng.uniform(8, 40) / pixel_size_um
    if rng.random() < 0.4:
        clouds = grain(rng, shape, long, long)
    else:
        size = int(np.hypot(*shape)) + 4
        clouds = turned(grain(rng, (size, size), 2 * long, across), angle, shape)
    ragged = clouds + 0.15 * grain(rng, shape, 5, 5)
    return ramp(ragged, rng.uniform(0, 0.8), rng.uniform(1, 1.6)) * np.float32(
        rng.uniform(0.05, 0.4) * rng.choice([-1, -1, 1])
    )


def debris(rng: np.random.Generator, shape: tuple[int, int], count: int) -> np.ndarray:
    """Height-like blobs of loose particles (0–1)."""
    drawn = np.zeros(shape, np.uint8)
    for _ in range(count):
        centre = rng.uniform(0, 1, 2) * (shape[1], shape[0])
        sides = np.sort(rng.uniform(0, 2 * np.pi, 8))
        reach = rng.uniform(1.5, 3 + 0.014 * min(shape)) * rng.uniform(0.6, 1.2, 8)
        ring = centre + np.stack([reach * np.cos(sides), reach * np.sin(sides)], 1)
        cv2.fillPoly(drawn, [np.round(ring * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    return drawn.astype(np.float32) / 255


def look(
    rng: np.random.Generator, surface: Surface, graphite_: np.ndarray, pit: np.ndarray, angle: float, pixel_size_um: float,
    shape: tuple[int, int], *, films: float = 1.0,
) -> tuple[np.ndarray, np.ndarray]:  # fmt: skip
    """Picture (uint8) and where it can't be assessed. The surface itself is left as it is."""
    setting = draw_setting(rng, pixel_size_um)
    bare = surface.state == BARE
    dark = np.where(surface.state == COVERED, 0.15, np.where(bare, 1.0, 0.3)).astype(np.float32) * graphite_
    shown = height(surface) - 0.25 * dark - np.where(bare, pit, 0)
    hollow = np.where(bare, ramp(surface.groove, 0.25, rng.uniform(0.8, 4)), 0).astype(np.float32)
    moved = np.where(surface.state == COVERED, surface.glow * ramp(surface.groove, 0.1, 0.4), 0).astype(np.float32)
    tone = setting.moved * moved - 0.55 * surface.crack - rng.uniform(0.25, 0.9) * dark + setting.floor * hollow
    ribs = max(1.2, 0.6 / pixel_size_um)
    tone += rng.uniform(0.03, 0.14) * np.minimum(moved, 0.8) * grain(rng, moved.shape, 12 * ribs, ribs)
    tone -= 0.3 * np.where(bare, ramp(pit, 0.3, 2), 0).astype(np.float32)
    torn = (surface.state == 2).astype(np.float32)
    shown, tone, hollow, torn = (turned(map_.astype(np.float32), angle, shape) for map_ in (shown, tone, hollow, torn))
    chips = grain(rng, shape, 2.2, 2.2)
    shown += (
        chips * (rng.uniform(0.003, 0.012) + rng.uniform(0.01, 0.09) * hollow + 0.03 * torn) * max(1.0, pixel_size_um)
    )
    tone += hollow * rng.uniform(0, 0.16) * grain(rng, shape, 12, 12)
    etched = rng.choice([0, rng.uniform(0.01, 0.05)])
    if etched > 0:
        tone += etched * pearlite(rng, shape, pixel_size_um) * (1 - hollow)
    if rng.random() < 0.2:
        tone += rng.uniform(0.05, 0.15) * steadite(rng, shape, pixel_size_um) * (1 - hollow)
    if rng.random() < 0.6:
        tone += films * film(rng, shape, pixel_size_um, angle)
    tone += rng.uniform(0, 0.08) * torn * grain(rng, shape, 6, 6) + rng.uniform(-0.2, 0.25) * torn
    relief = signal(shown, pixel_size_um, setting)
    seen = relief * np.float32(rng.uniform(0.7, 1.5) * min(1.0, 0.14 / (float(relief[::3, ::3].std()) + 1e-6))) + tone
    seen += rng.uniform(0, 0.12) * grain(rng, shape, 1.5 * shape[1], 1.5 * shape[0])
    lost = np.zeros(shape, bool)
    if rng.random() < 0.25:
        dirt = debris(rng, shape, int(rng.integers(1, 14)))
        shade = cv2.GaussianBlur(dirt, (0, 0), 4)
        body = signal(4 * cv2.GaussianBlur(dirt, (0, 0), 1.2) * pixel_size_um, pixel_size_um, setting)
        seen = seen - 0.4 * shade * (1 - dirt) + dirt * (0.5 - seen + 0.6 * body + 0.25 * chips)
        lost |= dirt > 0.5
    if rng.random() < 0.07:
        bright, hidden = charging(rng, shape)
        seen += 1.6 * bright
        lost |= hidden
    contrast = rng.uniform(9, 18) if rng.random() < 0.33 else rng.uniform(18, 42)
    noise = contrast * rng.choice([rng.uniform(0.03, 0.25), rng.uniform(0.25, 0.6)], p=[0.7, 0.3])
    blur = rng.uniform(1.2, 2.2) if rng.random() < 0.12 else rng.uniform(0.3, 1.0)
    image = expose(
        rng, seen, mean=rng.uniform(75, 165), contrast=contrast, blur_px=blur, noise=noise,
        banding=rng.choice([0.2, rng.uniform(0.5, 3)]), gamma=rng.uniform(0.75, 1.3),
    )  # fmt: skip
    if rng.random() < 0.08:
        image = jitter(rng, image, rng.uniform(0.2, 0.8))
    return np.clip(np.round(image), 0, 255).astype(np.uint8), lost
