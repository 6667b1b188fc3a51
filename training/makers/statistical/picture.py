"""Electrons that leave the surface: slopes seen by the detector, edges, starved depths and material. Signal about 1 on flat land."""

import cv2
import numpy as np

from .processes import chance, fractal, log_uniform
from .wear import Surface


def slopes(height: np.ndarray, pixel: float, volume_um: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Slopes along x and y (um/um) and the curvature (1/um) of the height blurred by the volume electrons leave from."""
    smooth = cv2.GaussianBlur(height, (0, 0), max(volume_um / pixel, 0.45))
    dx = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, ksize=3, scale=1 / (8 * pixel))
    dy = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, ksize=3, scale=1 / (8 * pixel))
    bend = cv2.Laplacian(cv2.GaussianBlur(smooth, (0, 0), 0.7), cv2.CV_32F, ksize=1) / pixel**2
    return dx, dy, bend


def styles(rng: np.random.Generator) -> dict:
    """Weights of the ways to contrast: an edge picture, a shade picture, a picture of depths, or a mixture."""
    lead = rng.choice(["edge", "shade", "depth", "mixed"])
    backscattered = chance(rng, 0.25)
    sizes = {name: log_uniform(rng, 0.12, 0.45) for name in ("edge", "shade", "depth")}
    if lead == "mixed":
        sizes = {name: 2 * size for name, size in sizes.items()}
    else:
        sizes[str(lead)] = log_uniform(rng, 0.6, 1.3)
    if backscattered:
        sizes["edge"] *= 0.4
    return {
        "lead": str(lead) + ("_bse" if backscattered else "_se"),
        "edge": sizes["edge"],
        "shade": sizes["shade"],
        # Depths are mostly starved and dark; a rough bright floor against polished land is the rarer opposite.
        "depth": sizes["depth"] * (-1 if chance(rng, 0.75) else 0.8),
        "bend": sizes["edge"] * rng.uniform(0, 0.8),
        "carbon": rng.uniform(0.05, 0.5) if chance(rng, 0.4) else 0.0,
        "graphite": rng.uniform(0.3, 0.8),
        "burnish": log_uniform(rng, 0.03, 0.25) * (1 if chance(rng, 0.75) else -0.4),
        "torn": log_uniform(rng, 0.05, 0.35) * (1 if chance(rng, 0.8) else -0.6),
        "ridge": rng.uniform(0.1, 0.45),
        "patch": rng.uniform(0.3, 0.8),
    }


def seen(rng: np.random.Generator, surface: Surface, pixel: float, extra: dict) -> tuple[np.ndarray, str]:
    """Signal and the name of its style; extra holds graphite, patches, debris, relief and shade of look-alikes."""
    shape = surface.height.shape
    style = styles(rng)
    flake, grain, relief, shade = (extra[name] for name in ("graphite", "debris", "relief", "shade"))
    height = surface.height - log_uniform(rng, 0.05, 2) * flake
    height = (height * (1 - grain) + relief).astype(np.float32)
    dx, dy, bend = slopes(height, pixel, log_uniform(rng, 0.1, 0.8))
    side = rng.uniform(0, 2 * np.pi)
    steep = np.sqrt(1 + dx**2 + dy**2)
    # The gain by tilt is stretched to the size the weight asks for, since true sec(tilt) alone is a few per cent.
    usual = float(np.sqrt(np.mean((steep - 1) ** 2))) + 0.004
    # A power below one lets shallow walls show beside steep ones, as an operator gains by raising the contrast.
    edge = np.tanh((steep - 1) / (2.5 * usual)) ** rng.uniform(0.5, 1.0)
    toward = (dx * np.cos(side) + dy * np.sin(side)) / steep
    toward = np.tanh(toward / (2.2 * float(toward.std()) + 0.02))
    crest = np.tanh(-bend / (2.5 * float(bend.std()) + 1e-3))
    starve = log_uniform(rng, 0.5, 3.0)
    depth = np.clip(surface.depth, 0, None)
    # Escape depends on the sky a floor sees: its depth below what lies around it.
    around = cv2.blur(height, (int(log_uniform(rng, 3, 20) / pixel) | 1,) * 2)
    sky = np.tanh(np.clip(around - height, 0, None) / starve)
    low = 0.6 * np.tanh(depth / starve) + 0.4 * sky
    dirt = np.clip(0.5 + 0.5 * fractal(rng, shape, 0.6, log_uniform(rng, 5, 60) / pixel), 0, 1) * np.clip(depth - 0.3, 0, 1)
    signal = 1 + 0.55 * style["edge"] * edge + 0.45 * style["shade"] * toward + 0.4 * style["bend"] * crest + 0.6 * style["depth"] * low
    signal *= 1 - style["carbon"] * dirt
    signal *= 1 + style["burnish"] * surface.burnish
    signal *= 1 + surface.torn * (style["torn"] + style["ridge"] * np.tanh(surface.height))
    signal *= 1 - style["graphite"] * flake * (1 - 0.8 * surface.torn) * (1 - 0.7 * surface.burnish)
    signal *= 1 + style["patch"] * 0.5 * extra["patch"]
    signal *= 1 - 0.5 * shade
    tint = rng.uniform(0.55, 1.6)
    signal = signal * (1 - grain) + grain * tint * (1 + 0.3 * edge + 0.2 * toward)
    return np.clip(signal, 0.06, None).astype(np.float32), style["lead"]
