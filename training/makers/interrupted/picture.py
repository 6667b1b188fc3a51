"""Tone rules: what each state of the surface looks like to the detector, then what the instrument makes of it."""

import cv2
import numpy as np

from .grain import lattice, log_uniform, turned, wander
from .matter import debris, flakes, stains
from .ring import Surface
from .story import Story


def soft(image: np.ndarray, sigma: float) -> np.ndarray:
    return cv2.GaussianBlur(image, (0, 0), sigma)


def lines(rng: np.random.Generator, shape: tuple[int, int], angle_deg: float, fine: float) -> np.ndarray:
    """Fine marks along a direction, each fading in and out; spread about 1."""
    along, across = turned(shape, np.radians(angle_deg))
    marks = lattice(rng, along, across, log_uniform(rng, 80, 600), fine)
    return marks * np.clip(0.6 + 0.6 * lattice(rng, along, across, 120, 25), 0.1, 2)


def texture(rng: np.random.Generator, surface: Surface, story: Story, pixel_size_um: float) -> np.ndarray:
    """Height in µm of everything shallower than a groove: finishing along both lays, marks along the stroke, torn metal.

    Half of the fields carry the same marks on over closures as over plateau, so that only the line's interruption tells.
    """
    shape = surface.below.shape
    finish = sum(lines(rng, shape, lay + rng.normal(0, 2), log_uniform(rng, 1.5, 4)) for lay in story.lays_deg)
    finish = finish * log_uniform(rng, 0.008, 0.08)
    marks = lines(rng, shape, story.stroke_deg, log_uniform(rng, 1.5, 5)) * log_uniform(rng, 0.01, 0.09)
    kept = rng.uniform(0.2, 0.9)
    ground = np.where(surface.worn, kept * finish + marks, finish + 0.1 * marks)
    if rng.random() < 0.45:
        ground = np.where(surface.burnished, rng.uniform(0.1, 0.7) * finish * 0.3 + rng.uniform(0.2, 0.9) * marks, ground)
    floor = rng.standard_normal(shape).astype(np.float32)
    floor = soft(floor, log_uniform(rng, 0.7, 2)) * log_uniform(rng, 0.03, 0.6)
    ground = ground + floor * np.clip(surface.below - 0.3, 0, 1) * (surface.codes == 1)
    if surface.torn.any():
        ridge = lattice(rng, surface.along, surface.across, log_uniform(rng, 6, 30), log_uniform(rng, 2, 5))
        crumb = soft(rng.standard_normal(shape).astype(np.float32), 1.2) * 3
        # Torn metal stands up in sharp ridges and lies torn out between them.
        rough = np.abs(ridge) * 0.8 + 0.5 * crumb - 0.3 * np.clip(-ridge, 0, 2)
        ground = np.where(surface.torn, log_uniform(rng, 0.3, 1.0) * max(1.0, pixel_size_um) * rough, ground)
    return ground


def tone_of(rng: np.random.Generator, surface: Surface, story: Story, pixel_size_um: float) -> np.ndarray:
    """Signal about 0 on plateau: relief towards the detector, bright edges, floors, starved depths, ghosts of closed rims."""
    shape = surface.below.shape
    small = texture(rng, surface, story, pixel_size_um)
    below = np.where(surface.torn, 0.15 * surface.below, surface.below)
    # Remains of a rim are a shallow dip along the edge of the footprint, far within the limit.
    height = -below - 0.3 * surface.ghost
    side = rng.uniform(0, 2 * np.pi)
    span = rng.uniform(0.6, 1.0)

    def relief(map_um: np.ndarray, exaggerate: float) -> np.ndarray:
        slope_x = cv2.Sobel(map_um, cv2.CV_32F, 1, 0, scale=0.125) / pixel_size_um
        slope_y = cv2.Sobel(map_um, cv2.CV_32F, 0, 1, scale=0.125) / pixel_size_um
        towards = -(slope_x * np.cos(side) + slope_y * np.sin(side)) * exaggerate
        steep = np.hypot(slope_x, slope_y) * exaggerate
        # A tilted face yields more by its secant, and more again if it looks at the detector.
        return span * towards / np.sqrt(1 + steep**2) + (1 - span) * np.minimum(np.sqrt(1 + steep**2) - 1, 1.5)

    exaggerate = log_uniform(rng, 0.6, 1.6)
    tone = 0.9 * relief(height.astype(np.float32), exaggerate)
    tone += log_uniform(rng, 0.6, 2.5) * relief(small.astype(np.float32), max(1.0, 1.5 * pixel_size_um))
    edge = height - soft(height, max(1.5, 0.8 / pixel_size_um))
    tone += log_uniform(rng, 0.1, 0.7) * np.clip(edge, 0, 1)
    deep = 1 - np.exp(-np.clip(below - 0.4, 0, 20) / log_uniform(rng, 0.2, 0.9))
    look = rng.choice(("dark", "bright", "rims"), p=(0.62, 0.16, 0.22))
    level = {"dark": -rng.uniform(0.25, 0.9), "bright": rng.uniform(0.2, 0.6), "rims": rng.uniform(-0.1, 0.1)}[str(look)]
    tone += level * deep
    # Electrons from a groove deep for its width are caught by its walls.
    tone -= rng.uniform(0, 0.6) * np.clip((below - 0.4) / story.width_um * 2, 0, 1)
    # Mostly the metal over a groove has the plateau's own tone: it is the same metal, rubbed by the same ring.
    step = rng.normal(0, 0.02 if rng.random() < 0.65 else 0.1)
    tone += np.where(surface.codes == 2, step, 0) - rng.uniform(0.05, 0.6) * surface.ghost
    if surface.torn.any():
        torn = surface.torn.astype(np.float32)
        tone += torn * (rng.normal(0.1, 0.2) + 0.3 * lattice(rng, surface.along, surface.across, 90, 6))
        tone += 0.5 * np.clip(soft(torn, 1.2) - soft(torn, 3), 0, 1)
    if surface.worn.any() and not surface.worn.all():
        tone += rng.normal(0, 0.12) * soft(surface.worn.astype(np.float32), 3)
    if story.scene == "graphite":
        # Graphite is dark in either mode; metal spread over it hides it.
        shown = flakes(rng, shape, pixel_size_um) * np.where(surface.burnished, 0.2, 1) * ~surface.torn
        tone = tone * (1 - 0.7 * shown) - rng.uniform(0.5, 1.2) * shown
    if story.scene == "stained":
        tone += stains(rng, surface)
    return tone.astype(np.float32)


def exposed(rng: np.random.Generator, tone: np.ndarray) -> np.ndarray:
    """The picture in uint8: beam, dose, drift, line jitter, contrast setting, sometimes JPEG."""
    shape = tone.shape
    tone = soft(tone, log_uniform(rng, 0.4, 1.3))
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32)
    if rng.random() < 0.3:
        jitter = rng.normal(0, log_uniform(rng, 0.1, 0.6), shape[0]).astype(np.float32)
        tone = cv2.remap(tone, x + jitter[:, None], y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    tone += log_uniform(rng, 0.02, 0.25) * lattice(rng, x, y, shape[1] / 1.3, shape[0] / 1.3)
    tone += log_uniform(rng, 0.003, 0.03) * wander(rng, shape[0], 1.5)[:, None]
    low, middle, high = np.percentile(tone[::4, ::4], (1, 50, 99))
    gain = rng.uniform(90, 190) / max(high - low, 0.25)
    grey = rng.uniform(85, 165) + gain * (tone - middle)
    # The tails that a careful operator would still fit in are folded back softly.
    grey = 127.5 + 127.5 * np.tanh((grey - 127.5) / 115)
    electrons = log_uniform(rng, 60, 4000)
    noise = rng.standard_normal(shape, dtype=np.float32) * np.sqrt(np.maximum(grey, 5) * 128 / electrons)
    noise = noise if rng.random() < 0.7 else soft(noise, 0.6)
    grey = 255 * np.clip((grey + noise) / 255, 0, 1) ** rng.uniform(0.8, 1.25)
    image = np.clip(np.rint(grey), 0, 255).astype(np.uint8)
    if rng.random() < 0.25:
        _, packed = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(45, 95))])
        image = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE)
    return image


def taken(rng: np.random.Generator, surface: Surface, story: Story, pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """(image uint8, hidden bool): the micrograph, and where debris hides the surface."""
    tone = tone_of(rng, surface, story, pixel_size_um)
    relief, hidden = debris(rng, tone.shape, story)
    if hidden.any():
        lit = cv2.Sobel(relief, cv2.CV_32F, 1, 0, scale=0.125) * rng.choice((-1, 1)) * 0.3
        tone = np.where(hidden, rng.uniform(-0.1, 0.7) + lit + 0.3 * soft(rng.standard_normal(tone.shape).astype(np.float32), 1), tone)
        shadow = np.roll(soft(hidden.astype(np.float32), 3), int(rng.choice((-5, 5))), 1)
        tone = tone - rng.uniform(0.1, 0.5) * shadow * ~hidden
        if rng.random() < 0.35:
            # A grain that charges drags a bright tail along the scan line.
            tone = tone + 0.6 * hidden.mean(1, keepdims=True)
    return exposed(rng, tone.astype(np.float32)), hidden
