"""Style ``hybrid``: the surface is a sum of filtered noise, closed by morphology and flow, lit by its normals.

Either lay is a field of Gaussian noise whose spectrum lies in a narrow fan across that lay; only its deepest tail is
kept, as plateau honing keeps only valleys. Closing is a grey-level closing along the stroke where a streaky map says so.
Two detectors on opposite sides see normals, and open sky is estimated from the surface less its blurred copies.
"""

from statistics import NormalDist

import cv2
import numpy as np

from .scene import (
    VALLEY_DEPTH_UM,
    FieldFacts,
    Picture,
    along_across,
    codes_from_depths,
    debris,
    filtered_noise,
    flakes,
    fractal,
    pits,
    scuff_map,
    stains,
    streaks,
)


def lay_noise(shape, rng, *, direction_deg: float, width_px: float, spread_deg: float) -> np.ndarray:
    """Noise (rows, cols) of unit spread with wave vectors within ``spread_deg`` of a lay's normal."""
    angle = np.radians(direction_deg)

    def transfer(frow, fcol):
        along, across = fcol * np.cos(angle) - frow * np.sin(angle), fcol * np.sin(angle) + frow * np.cos(angle)
        size = np.abs(across) + 1e-6
        fan = np.exp(-0.5 * (along / (size * np.radians(spread_deg) + 2e-4)) ** 2)
        band = (size * width_px) ** 0.8 * np.exp(-((size * width_px * 1.15) ** 2))
        return fan * band

    return filtered_noise(shape, rng, transfer)


def _valleys(field: FieldFacts, rng) -> list[np.ndarray]:
    """Depth (µm) of the valleys of either lay; together about the target share is deeper than 0.5 µm."""
    finish, shape, pixel = field.finish, field.shape, field.pixel_size_um
    target = 0 if field.without_valleys else finish.valley_target
    shares = (target * finish.balance, target * (1 - finish.balance))
    depths = []
    for lay, share in zip(finish.lays_deg, shares, strict=True):
        width = finish.groove_width_um * rng.uniform(1.8, 2.6) / pixel
        noise = lay_noise(shape, rng, direction_deg=lay, width_px=width, spread_deg=rng.uniform(0.5, 1.1))
        noise += 0.28 * lay_noise(shape, rng, direction_deg=lay, width_px=width / 3, spread_deg=0.8)
        noise /= 1.04
        if share <= 0:
            depths.append(np.zeros(shape, np.float32))
            continue
        # The picture holds few grooves, so that the level is the population's (normal law), not the field's own.
        level = _normal_quantile(1 - share)
        tail = noise - level
        scale = finish.groove_slope * finish.groove_width_um * rng.uniform(0.7, 1.3)
        shaped = np.where(tail > 0, np.clip(tail, 0, None) ** 0.8, tail * 1.5)
        depths.append(np.clip(VALLEY_DEPTH_UM + scale * shaped, 0, 12).astype(np.float32))
    return depths


def _normal_quantile(probability: float) -> float:
    return NormalDist().inv_cdf(float(np.clip(probability, 1e-4, 1 - 1e-4)))


def _line_kernel(length_px: float, direction_deg: float) -> np.ndarray:
    half = max(1, int(round(length_px / 2)))
    kernel = np.zeros((2 * half + 1, 2 * half + 1), np.uint8)
    step = half * np.array([np.cos(np.radians(direction_deg)), -np.sin(np.radians(direction_deg))])
    centre = np.array([half, half])
    cv2.line(kernel, tuple(int(v) for v in np.rint(centre - step)), tuple(int(v) for v in np.rint(centre + step)), 1, 1)
    return kernel


def _close_along_stroke(field: FieldFacts, rng, height_um):
    """Close valleys along the stroke where a streaky map is high; returns height and where metal moved."""
    finish, shape, pixel = field.finish, field.shape, field.pixel_size_um
    wide = streaks(shape, rng, direction_deg=finish.stroke_deg, length_px=90 / pixel, width_px=22 / pixel)
    fine = streaks(shape, rng, direction_deg=finish.stroke_deg, length_px=25 / pixel, width_px=3.5 / pixel)
    chance = wide + 0.45 * fine
    level = np.quantile(chance[::4, ::4], 1 - min(field.closed_share, 0.9999)) if field.closed_share < 0.99 else -9.0
    reach = 3.2 * finish.groove_width_um / pixel / max(np.cos(np.radians(finish.hone_angle_deg / 2)), 0.3)
    shrink = max(1.0, reach / 60)
    small = cv2.resize(height_um, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA) if shrink > 1 else height_um
    filled = cv2.morphologyEx(small, cv2.MORPH_CLOSE, _line_kernel(reach / shrink, finish.stroke_deg), borderType=cv2.BORDER_REPLICATE)
    filled = cv2.resize(filled, shape[::-1], interpolation=cv2.INTER_LINEAR) if shrink > 1 else filled
    amount = np.clip((chance - level) * 3.5 + 0.5, 0, 1)
    flow = cv2.filter2D(amount, -1, _line_kernel(9 / pixel, finish.stroke_deg).astype(np.float32) / max(_line_kernel(9 / pixel, finish.stroke_deg).sum(), 1))
    sag = 0.18 + 0.09 * streaks(shape, rng, direction_deg=finish.stroke_deg, length_px=30 / pixel, width_px=max(2.5 / pixel, 1))
    filled = np.minimum(filled, 0) - np.clip(sag, 0.02, 0.42)
    closed = height_um + np.clip(filled - height_um, 0, None) * np.clip(flow * 1.25, 0, 1)
    return closed.astype(np.float32), (closed - height_um) > 0.05


def _light(field: FieldFacts, rng, height_um, dark):
    """Two detectors with different acceptance, open sky by scales, composition; all mixed by a random share."""
    finish, pixel = field.finish, field.pixel_size_um
    gain = rng.uniform(1.5, 4.0)  # steepness is exaggerated by escape from the near-surface layer
    normal_row = cv2.Sobel(height_um, cv2.CV_32F, 0, 1, ksize=3, scale=0.125 / pixel) * gain
    normal_col = cv2.Sobel(height_um, cv2.CV_32F, 1, 0, ksize=3, scale=0.125 / pixel) * gain
    norm = np.sqrt(1 + normal_row**2 + normal_col**2)
    azimuth = rng.uniform(0, 2 * np.pi)
    elevation = np.radians(rng.uniform(25, 60))
    left = right = None
    for side, sign in (("near", 1), ("far", -1)):
        dot = (np.sin(elevation) - sign * np.cos(elevation) * (normal_col * np.cos(azimuth) + normal_row * np.sin(azimuth))) / norm
        seen = np.clip(dot, 0, None) ** rng.uniform(0.7, 1.2)
        left, right = (seen, right) if side == "near" else (left, seen)
    share = rng.uniform(0.5, 0.95)
    sky = np.zeros_like(height_um)
    for scale_um in (1.2, 4.0, 12.0):
        sigma = max(scale_um / pixel, 0.7)
        if sigma > 6:
            step = int(sigma / 3)
            low = cv2.resize(height_um, None, fx=1 / step, fy=1 / step, interpolation=cv2.INTER_AREA)
            low = cv2.resize(cv2.GaussianBlur(low, (0, 0), sigma / step), height_um.shape[::-1], interpolation=cv2.INTER_LINEAR)
        else:
            low = cv2.GaussianBlur(height_um, (0, 0), sigma)
        relief = np.tanh((height_um - low) / (0.35 * scale_um**0.6))
        sky += np.where(relief < 0, relief, 0.35 * relief)
    if finish.detector == "BSE":
        signal = 0.75 + 0.35 * (left - right) * (share - 0.4) + 0.10 * sky
    else:
        signal = share * left + (1 - share) * right + rng.uniform(0.08, 0.22) * sky + 0.15 * (norm - 1)
    return (signal * (1 - (0.72 if finish.detector == "BSE" else 0.5) * dark)).astype(np.float32)


def make_hybrid(field: FieldFacts, rng: np.random.Generator) -> Picture:
    """Make one field of style ``hybrid``."""
    finish, shape, pixel = field.finish, field.shape, field.pixel_size_um
    by_lay = _valleys(field, rng)
    hone = np.maximum(*by_lay)
    before = np.clip(hone - field.wear_um, 0, None)
    surface = -before
    moved = np.zeros(shape, bool)
    if field.worn and field.closed_share > 0:
        surface, moved = _close_along_stroke(field, rng, surface)
    depth = -surface
    land = 0.05 * fractal(shape, rng, slope=1.1, longest_px=25 / pixel)
    for lay in finish.lays_deg:
        marks = lay_noise(shape, rng, direction_deg=lay, width_px=max(3.5 / pixel, 2.5), spread_deg=1.0)
        land -= 0.05 * np.clip(marks - 0.3, 0, None) * (0.5 if field.worn else 1)
    if field.worn:
        land -= 0.05 * np.clip(streaks(shape, rng, direction_deg=finish.stroke_deg, length_px=160 / pixel, width_px=max(1.5 / pixel, 1)), 0, None)
    rough = fractal(shape, rng, slope=0.9, longest_px=6 / pixel)
    floor = np.clip((depth - VALLEY_DEPTH_UM) / 0.8, 0, 1)
    surface = surface + land * (1 - 0.5 * floor) + 0.12 * finish.floor_roughness * floor * rough
    edge = np.clip(1 - np.abs(hone - field.wear_um - 0.15) / 0.15, 0, 1) * (hone > 0)
    burr = fractal(shape, rng, slope=1.2, longest_px=15 / pixel)
    surface = surface + (0.05 if field.worn else 0.16) * edge * np.clip(burr, 0, None) * ~moved
    dark = finish.residue * floor * np.clip(0.5 + 0.5 * fractal(shape, rng, slope=1.4, longest_px=50 / pixel), 0, 1)
    lamellae = flakes(field, rng) * ~moved
    holes = cv2.GaussianBlur(pits(field, rng).astype(np.float32), (0, 0), max(0.4 / pixel, 0.5))
    surface = surface - 0.5 * lamellae - 1.5 * holes
    dark = np.maximum(dark, 0.9 * lamellae)
    for _ in range(field.stroke_scratches):
        surface = surface - _scratch(field, rng)
    torn = scuff_map(field, rng)
    if torn.any():
        tear = streaks(shape, rng, direction_deg=finish.stroke_deg, length_px=30 / pixel, width_px=max(4 / pixel, 1.2))
        crumble = fractal(shape, rng, slope=1.0, longest_px=14 / pixel)
        surface = np.where(torn, -0.5 + 0.55 * tear + 0.35 * crumble, surface)
        dark = dark * ~torn
    loose = debris(field, rng)
    lump = cv2.GaussianBlur(loose.astype(np.float32), (0, 0), max(1.5 / pixel, 1)) * 4
    surface = surface + lump + 0.3 * fractal(shape, rng, slope=2.2, longest_px=500 / pixel)
    signal = _light(field, rng, surface.astype(np.float32), dark.astype(np.float32))
    signal = signal * (1 - 0.3 * stains(field, rng)) + 0.25 * loose * float(signal.std())
    hidden = cv2.dilate(loose.astype(np.uint8), np.ones((3, 3), np.uint8), iterations=max(1, int(1.5 / pixel))) > 0
    codes = codes_from_depths(before, depth, moved, torn, hidden)
    areas = tuple(float((lay >= VALLEY_DEPTH_UM).sum()) for lay in by_lay)
    return Picture(signal=signal.astype(np.float32), codes=codes, lay_areas_px=areas, facts={})


def _scratch(field: FieldFacts, rng) -> np.ndarray:
    """Depth (µm) of one scratch along the stroke, drawn as a soft line."""
    shape, pixel = field.shape, field.pixel_size_um
    canvas = np.zeros(shape, np.uint8)
    heading = np.radians(field.finish.stroke_deg + rng.normal(0, 0.8))
    start = rng.uniform(0, 1, 2) * shape[::-1]
    end = start + rng.uniform(0.3, 1.5) * shape[0] * np.array([np.cos(heading), -np.sin(heading)])
    width = max(1, int(rng.uniform(1.0, 5) / pixel))
    cv2.line(canvas, tuple(int(v) for v in start), tuple(int(v) for v in end), 255, width, cv2.LINE_AA)
    along = along_across(shape, np.degrees(heading))[0]
    ends = [float((point - np.array(shape[::-1]) / 2) @ [np.cos(heading), -np.sin(heading)]) for point in (start, end)]
    taper = np.clip(np.minimum(along - ends[0], ends[1] - along) / (0.12 * shape[0]), 0, 1)
    return rng.uniform(0.4, 1.4) / 255 * taper * cv2.GaussianBlur(canvas.astype(np.float32), (0, 0), max(width / 4, 0.6))
