"""Electrons leave a height map: escape past the horizon, tilt, bright edges, materials; then the beam and its noise."""

import cv2
import numpy as np

from makers.pressed_hone import grain, line_noise, spread


def _shifted(a, dr, dc):
    """a moved by whole pixels, border repeated."""
    pad = max(abs(dr), abs(dc))
    big = cv2.copyMakeBorder(a, pad, pad, pad, pad, cv2.BORDER_REPLICATE)
    return big[pad + dr : pad + dr + a.shape[0], pad + dc : pad + dc + a.shape[1]]


def escape(height, pixel, ways=4):
    """Share (0–1) of the sky above each place, from horizons at growing distances in a few azimuths."""
    small = cv2.resize(height, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    open_sky = np.zeros_like(height)
    far_sky = np.zeros_like(small)
    for k in range(ways):
        angle = 2 * np.pi * k / ways + 0.35
        near = np.zeros_like(height)
        for distance in (1.4, 3.0):
            dr, dc = round(np.sin(angle) * distance), round(np.cos(angle) * distance)
            rise = (_shifted(height, dr, dc) - height) * np.float32(1 / (np.hypot(dr, dc) * pixel))
            np.maximum(near, rise, out=near)
        far = np.zeros_like(small)
        for distance in (2.0, 4.0, 9.0):
            dr, dc = round(np.sin(angle) * distance), round(np.cos(angle) * distance)
            rise = (_shifted(small, dr, dc) - small) * np.float32(1 / (np.hypot(dr, dc) * pixel * 4))
            np.maximum(far, rise, out=far)
        open_sky += 1 / (1 + near)
        far_sky += 1 / (1 + far)
    far_sky = cv2.resize(far_sky, (height.shape[1], height.shape[0]), interpolation=cv2.INTER_LINEAR)
    return open_sky * far_sky * np.float32(1 / ways**2)


def draw_beam(rng):
    """Detector and beam of one picture."""
    backscatter = rng.random() < 0.25
    return {
        "backscatter": backscatter,
        "azimuth": rng.uniform(0, 2 * np.pi),
        "side": spread(rng, 0.03, 0.15) if backscatter else spread(rng, 0.08, 0.6),
        "edge": spread(rng, 0.02, 0.1) if backscatter else spread(rng, 0.06, 0.7),
        "sky": spread(rng, 0.1, 0.8),
        "range_um": spread(rng, 0.16, 1.6),
        "steep": spread(rng, 1.0, 3.0),
        "material": rng.uniform(0.5, 1.0) if backscatter else spread(rng, 0.1, 0.8),
    }


def emission(rng, height, pixel, beam, tone):
    """Signal (about 0 ± 1) of a height map (µm) with material tone."""
    height = height * np.float32(beam["steep"])
    gx = cv2.Sobel(height, cv2.CV_32F, 1, 0, ksize=3, scale=1 / (8 * pixel))
    gy = cv2.Sobel(height, cv2.CV_32F, 0, 1, ksize=3, scale=1 / (8 * pixel))
    lean = np.float32(np.cos(beam["azimuth"])) * gx + np.float32(np.sin(beam["azimuth"])) * gy
    signal = np.float32(beam["side"]) * lean / np.sqrt(1 + 2 * lean * lean)
    reach = float(np.clip(beam["range_um"] / pixel, 0.7, 12))
    bulge = (height - cv2.GaussianBlur(height, (0, 0), reach)) * np.float32(3.0 / (reach * pixel))
    bulge = bulge / np.sqrt(1 + bulge * bulge)
    signal += np.float32(beam["edge"]) * (np.maximum(bulge, 0) + np.float32(0.3) * np.minimum(bulge, 0))
    signal += np.float32(beam["sky"]) * (escape(height, pixel) - 1)
    tilt = gx * gx + gy * gy
    signal += np.float32(0.4 * beam["edge"]) * (np.sqrt(1 + np.minimum(tilt, 9)) - 1)
    return signal + np.float32(beam["material"]) * tone


def record(rng, signal, finest):
    """What the beam writes: focus, drift, charging, jitter, noise, gain; uint8. Grooves `finest` pixels wide stay seen."""
    rows, cols = signal.shape
    blur = rng.choice([0.0, spread(rng, 0.4, 1.0), spread(rng, 0.8, 3.0)], p=[0.35, 0.45, 0.2])
    if blur:
        blur = min(blur, 0.4 + 0.3 * finest)
        along = blur * rng.choice([1.0, rng.uniform(1.0, 1.6)], p=[0.8, 0.2])
        signal = cv2.GaussianBlur(signal, (0, 0), sigmaX=along, sigmaY=blur)
    if rng.random() < 0.15:
        shift = (line_noise(rng, rows, rng.choice([0.0, 2.0])) * spread(rng, 0.2, 0.8)).astype(np.float32)
        x = np.arange(cols, dtype=np.float32)[None, :] + shift[:, None]
        y = np.broadcast_to(np.arange(rows, dtype=np.float32)[:, None], (rows, cols))
        signal = cv2.remap(signal, x, np.ascontiguousarray(y), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    low, high = np.percentile(signal[:: max(rows // 150, 1), :: max(cols // 150, 1)], [2, 98])
    signal = (signal - np.float32((low + high) / 2)) / np.float32(max(high - low, spread(rng, 0.08, 0.3)))
    if rng.random() < 0.5:
        size = max(rows, cols) * spread(rng, 0.5, 1.5)
        signal += grain(rng, (rows, cols), size, size) * np.float32(spread(rng, 0.02, 0.25))
    if rng.random() < 0.3:
        slope = np.linspace(-0.5, 0.5, rows, dtype=np.float32)[:, None] * np.float32(rng.normal(0, 0.25))
        signal += slope + np.linspace(-0.5, 0.5, cols, dtype=np.float32)[None, :] * np.float32(rng.normal(0, 0.25))
    if rng.random() < 0.12:  # charging: rows dim after bright ground
        mean = cv2.blur(signal, (max(cols // 6, 3) | 1, 1)) - signal.mean()
        signal -= np.float32(rng.uniform(0.2, 0.8)) * mean
    if rng.random() < 0.15:
        signal += line_noise(rng, rows, rng.choice([0.0, 1.0, 6.0]))[:, None] * np.float32(spread(rng, 0.01, 0.08))
    contrast = rng.uniform(70, 190)
    middle = rng.uniform(85, 165)
    contrast = min(contrast, 2 * (225 - middle), 2 * (middle - 25))
    noise = spread(rng, 0.01, 0.22) if rng.random() < 0.85 else 0.004
    grainy = rng.standard_normal((rows, cols), dtype=np.float32)
    if rng.random() < 0.2:
        grainy = cv2.GaussianBlur(grainy, (0, 0), 0.6) * np.float32(1.9)
    shot = np.sqrt(np.clip(1 + rng.uniform(0, 1) * signal, 0.2, 3))
    signal += np.float32(noise) * shot * grainy
    # A soft shoulder at both ends keeps greys from clipping.
    grey = middle + contrast * signal
    over = np.maximum(grey - 215, 0)
    under = np.maximum(35 - grey, 0)
    grey += 38 * over / (38 + over) - over - 33 * under / (33 + under) + under
    gamma = spread(rng, 0.7, 1.4) if rng.random() < 0.4 else 1.0
    if gamma != 1.0:
        grey = 255 * (np.clip(grey, 0, 255) / 255) ** np.float32(gamma)
    image = np.clip(grey + 0.5, 0, 255).astype(np.uint8)
    if rng.random() < 0.15:
        ok, packed = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(45, 92))])
        image = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE) if ok else image
    return image
