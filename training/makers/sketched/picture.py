"""The secondary-electron picture, composed of tones that are drawn anew for each field and kept within it.

Walls of 6–27° give sec θ contrast of some per cent only, so a field's look comes from the detector's side, bright rims, rough
or filled floors, starved escape from deep grooves, and dark graphite: grooves look dark, or rimmed, or bright. Noise is of the
electrons' count (spread as the root of the signal) and of the amplifier."""

from dataclasses import dataclass

import cv2
import numpy as np

from .frames import Frame, grain, streaks


@dataclass(frozen=True, kw_only=True)
class Scene:
    """What lies on the surface, on the field's pixels: depths in µm, the rest 0–1; deeper: which lay's groove it is."""

    stroke: Frame
    lays: list[Frame]
    pixel_size_um: float
    depth_um: np.ndarray
    deeper: np.ndarray
    left_um: np.ndarray
    cover: np.ndarray
    contrast: np.ndarray
    crack: np.ndarray
    scuffed: np.ndarray
    marks_um: np.ndarray
    matter: np.ndarray
    worn: np.ndarray


def soft(picture: np.ndarray, sigma: float) -> np.ndarray:
    return cv2.GaussianBlur(picture.astype(np.float32), (0, 0), max(sigma, 0.3))


def lit(height_um: np.ndarray, side: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Brightness by slope towards the detector's side, −1 to 1."""
    down, right = np.gradient(height_um)
    return np.tanh(-2.5 * (right * side[0] + down * side[1]) / pixel_size_um)


def beside(mask: np.ndarray, side: np.ndarray, px: float) -> np.ndarray:
    """A mask less itself moved by px: its lit edge positive, its shaded one negative."""
    matrix = np.array([[1, 0, side[0] * px], [0, 1, side[1] * px]], np.float32)
    return mask - cv2.warpAffine(mask, matrix, mask.shape[::-1], borderMode=cv2.BORDER_REPLICATE)


def closures(
    rng: np.random.Generator, scene: Scene, plateau: np.ndarray, bare: np.ndarray, floor: float, side: np.ndarray
):
    """The field with its closures laid on: lighter than the plateau, like it, or between it and the floors."""
    shape = plateau.shape
    feather = rng.choice([0.5, 0.8, 1.8])
    mask = soft(scene.cover, feather)
    seated = soft(scene.cover * (scene.depth_um >= 0.5), 0.8)
    level = str(rng.choice(["lighter", "like", "between", "darker"], p=[0.33, 0.27, 0.28, 0.12]))
    away = {
        "lighter": rng.uniform(0.07, 0.2),
        "like": rng.uniform(-0.03, 0.03),
        "between": rng.uniform(0.25, 0.6) * floor,
        "darker": rng.uniform(-0.14, -0.05),
    }[level]
    style = str(rng.choice(["smooth", "streaked", "grained", "wrinkled"]))
    texture = {
        "smooth": lambda: 0.01 * grain(rng, shape, 9),
        "streaked": lambda: (
            rng.uniform(0.03, 0.08) * streaks(rng, scene.stroke, rng.uniform(20, 70), rng.uniform(1.3, 3))
        ),
        "grained": lambda: rng.uniform(0.03, 0.06) * grain(rng, shape, rng.uniform(3, 6)),
        "wrinkled": lambda: (
            rng.uniform(0.04, 0.08) * np.sin(3 * streaks(rng, scene.stroke, rng.uniform(4, 7), rng.uniform(8, 20)))
        ),
    }[style]()
    metal = plateau * 0.35 + float(plateau.mean()) * 0.65 + away + texture
    # a faint closure looks like the plateau that it joins, and lets a hint of the groove through
    laid = (
        plateau + scene.contrast * (metal - plateau) + (1 - scene.contrast) * 0.3 * np.clip(bare - plateau, -0.15, 0.15)
    )
    out = bare + mask * (laid - bare)
    plain = 0.35 + 0.65 * scene.contrast
    edge = np.clip(4 * mask * (1 - mask), 0, 1) * (scene.cover.any() and 1.0)
    shown = str(rng.choice(["crisp", "bright", "shadowed", "outlined"], p=[0.25, 0.25, 0.3, 0.2]))
    near = soft(plain, 2.0)
    if shown == "bright":
        out = out + rng.uniform(0.08, 0.25) * edge * near
    elif shown == "shadowed":
        out = out + rng.uniform(0.12, 0.3) * beside(mask, side, rng.uniform(1.5, 3)) * near
    elif shown == "outlined":
        out = out - rng.uniform(0.08, 0.22) * edge * near
    # the old rims stay to be seen as a faint seam, most where the metal has the plateau's own grey
    seam = np.clip(4 * seated * (1 - seated), 0, 1)
    out = out + rng.choice([-1, -1, 1]) * rng.uniform(0.04, 0.1) * (1.6 if level == "like" else 1) * seam
    return out - rng.uniform(0.2, 0.4) * soft(scene.crack, 0.6)


def scuffing(rng: np.random.Generator, scene: Scene, out: np.ndarray, side: np.ndarray) -> np.ndarray:
    """Torn, ploughed or picked-up metal: bright, dark, mottled, streaky or scaly, rougher than the plateau in each."""
    shape = out.shape
    style = str(rng.choice(["bright", "dark", "mottled", "streaky", "scaly", "picked up"]))
    strength = rng.uniform(0.7, 1.5)
    long = streaks(rng, scene.stroke, rng.uniform(30, 120), rng.uniform(2, 5))
    short = streaks(rng, scene.stroke, rng.uniform(6, 16), rng.uniform(3, 8))
    lump = grain(rng, shape, rng.uniform(5, 14))
    share = {"bright": (0.5, 0.5, 0.3), "dark": (0.6, 0.4, 0.3), "mottled": (0.2, 0.4, 1.0), "streaky": (1, 0.3, 0.1)}
    of_long, of_short, of_lump = share.get(style, (0.3, 0.5, 0.4))
    rough = of_long * long + of_short * short + of_lump * lump
    away = {"bright": rng.uniform(0.06, 0.18), "dark": -rng.uniform(0.06, 0.16)}.get(style, rng.uniform(-0.08, 0.08))
    torn = out.mean() + away + 0.07 * strength * rough
    torn += rng.uniform(0.04, 0.1) * lit(rough * 0.25, side, 0.4)
    if style == "scaly":  # tongues of metal, each with a torn step at its end
        phase = streaks(rng, scene.stroke, rng.uniform(14, 30), rng.uniform(5, 12)) * 1.6
        torn += rng.uniform(0.12, 0.25) * (phase - np.floor(phase) - 0.5)
    if style == "picked up":  # lumps that stand above the plateau
        torn += rng.uniform(0.08, 0.2) * lit(np.clip(lump + 0.5 * short, 0, None) * 0.4, side, 0.4)
    mask = np.clip(soft(scene.scuffed, rng.choice([0.6, 1.2, 2.5])) * (1 + 0.12 * short), 0, 1)
    return out + mask * rng.uniform(0.75, 1) * (torn - out)


def surface(rng: np.random.Generator, scene: Scene, side: np.ndarray) -> np.ndarray:
    """Grey of the surface, plateau near 0.5, before the microscope."""
    shape = scene.depth_um.shape
    grown = rng.uniform(0.006, 0.035)
    plateau = 0.5 + grown * grain(rng, shape, rng.uniform(2.5, 9)) + rng.uniform(0, 0.03) * grain(rng, shape, 60)
    for frame in scene.lays:
        plateau += rng.uniform(0.003, 0.022) * streaks(rng, frame, rng.uniform(60, 300), rng.uniform(1.3, 3.5))
    running = rng.uniform(0.006, 0.032) * streaks(rng, scene.stroke, rng.uniform(80, 400), rng.uniform(1.2, 3))
    plateau += running * scene.worn
    plateau += rng.choice([-1, -1, 1]) * rng.uniform(0.1, 0.45) * scene.marks_um
    look = str(rng.choice(["dark", "rimmed", "bright", "rough"], p=[0.6, 0.18, 0.12, 0.1]))
    floor = {"dark": -rng.uniform(0.12, 0.34), "rimmed": -rng.uniform(0, 0.1), "bright": rng.uniform(0.09, 0.24)}.get(
        look, -0.05
    )
    start, full = rng.uniform(0.1, 0.3), rng.uniform(0.7, 1.3)
    deep = np.clip((scene.depth_um - start) / (full - start), 0, 1)
    deep = deep * deep * (3 - 2 * deep) * (0.75 + 0.25 * np.clip(scene.depth_um / rng.uniform(2, 5), 0, 1))
    long, fine = rng.uniform(25, 120), rng.uniform(1.5, 4)
    ridges = np.choose(scene.deeper, [streaks(rng, frame, long, fine) for frame in scene.lays])
    rough = rng.uniform(0.02, 0.06) * ridges + rng.uniform(0.01, 0.05) * grain(rng, shape, rng.uniform(3, 7))
    bare = plateau * (1 - 0.5 * deep) + (0.5 * 0.5) * deep + deep * floor + deep * rough * (2 if look == "rough" else 1)
    open_ = (scene.depth_um > 0.35).astype(np.float32)
    rim = np.clip(soft(open_, rng.uniform(1, 2.2)) - open_, 0, 1) + np.clip(open_ - soft(open_, 1.2), 0, 1) * 0.6
    bare += rng.uniform(0.15, 0.5) * rim * (1.4 if look == "rimmed" else rng.choice([0, 0, 0.5]))
    bare += rng.uniform(0.02, 0.12) * lit(-soft(scene.depth_um, 0.8), side, scene.pixel_size_um)
    out = closures(rng, scene, plateau, bare, floor, side)
    relief = -soft(scene.left_um * (1 - 0.75 * scene.cover) + 0.6 * scene.marks_um, 0.7)
    out = out + rng.uniform(0.02, 0.1) * lit(relief, side, scene.pixel_size_um)
    holes = soft(scene.matter, rng.uniform(0.6, 1.2))
    out = out - holes * (rng.uniform(0.5, 0.9) * (out - rng.uniform(0.05, 0.25)))
    out = out + rng.choice([0, 0.15, 0.3]) * np.clip(soft(scene.matter, 1.8) - holes, 0, 1)
    if scene.scuffed.any():
        out = scuffing(rng, scene, out, side)
    return out.astype(np.float32)


def exposed(rng: np.random.Generator, grey: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """What the microscope records, as uint8, and where charging hides the surface."""
    rows, cols = grey.shape
    hidden = np.zeros(grey.shape, bool)
    stains = rng.random() < 0.25
    if stains:  # a film dims in patches
        grey = grey - rng.uniform(0.03, 0.12) * np.clip(grain(rng, grey.shape, rng.uniform(80, 200)) - 0.4, 0, 1)
    down, right = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : cols * 1j].astype(np.float32)
    slope = rng.normal(0, 0.025, 2)
    grey = grey + slope[0] * down + slope[1] * right
    grey = soft(grey, rng.uniform(1.4, 2.2) if rng.random() < 0.12 else rng.uniform(0.4, 1.1))
    spread = float(np.percentile(grey, 98) - np.percentile(grey, 2)) + 1e-3
    wanted = rng.uniform(0.2, 0.75)
    gain = float(np.clip(wanted / spread, 0.6, 1.9))
    grey = (grey - float(np.median(grey))) * gain + rng.uniform(0.3, 0.62)
    electrons = np.exp(rng.uniform(np.log(60), np.log(4000)))
    noise = rng.standard_normal(grey.shape, dtype=np.float32)
    if rng.random() < 0.3:  # a slow amplifier ties neighbours along a line
        noise = 1.3 * cv2.blur(noise, (2, 1))
    grey = grey + noise * np.sqrt(np.clip(grey, 0.02, 1) / electrons + rng.uniform(0.004, 0.015) ** 2)
    if rng.random() < 0.12:  # lines that are uneven in grey, or jittered
        grey = grey + rng.uniform(0.005, 0.02) * rng.standard_normal((rows, 1), dtype=np.float32)
    if rng.random() < 0.05:
        band = np.exp(-(((down - rng.uniform(-0.9, 0.9)) / rng.uniform(0.02, 0.08)) ** 2))
        charge = band * np.clip(0.6 + 0.5 * grain(rng, grey.shape, 70), 0, 1)
        hidden = charge > 0.55
        grey = grey + 0.6 * charge
    grey = np.clip(grey, 0, 1) ** rng.uniform(0.8, 1.25)
    # a shoulder and a toe instead of hard clipping
    grey = 0.03 + 0.94 * np.clip(grey, 0, 1)
    return np.clip(np.rint(255 * grey), 0, 255).astype(np.uint8), hidden
