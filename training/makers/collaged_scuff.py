"""Scuffing as a torn collage: what lay there is shifted and sheared along the stroke under ploughed ridges and scales."""

import cv2
import numpy as np

from makers.collaged_groove import strip, wander
from makers.collaged_texture import cells, fractal, log_uniform, programme, stretched


def scuff(rng, sheet, picture, codes, worn, contrast):
    """Returns the picture and codes with streaks of scuffing (3) where the ring ran."""
    share = extent(rng, sheet, worn)
    gap = int(np.clip(log_uniform(rng, 1, 6) / sheet.px, 3, 25))
    share = (
        cv2.morphologyEx(share, cv2.MORPH_CLOSE, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (gap, gap))) * worn
    )  # no slivers between tears
    seen = share > 0.5
    if not seen.any():
        return picture, codes
    spread = max(float(picture.std()), 0.05)
    torn = tear(rng, sheet, picture, spread)
    level = float(picture[seen].mean()) * rng.uniform(0, 1) + float(picture.mean()) * 0.3
    tone = rng.choice([-1, 1]) * rng.uniform(0.2, 1.8) * spread if rng.random() < 0.7 else 0.0
    torn = torn - np.float32(torn.mean()) + np.float32(level + tone)
    around = picture[(codes == 0) & ~seen]
    if around.size > 100:  # told from the plateau by tone or by roughness
        near, far = torn[seen], float(np.ptp(np.quantile(around, (0.16, 0.84)))) / 2 + 0.02
        gap, ratio = float(near.mean() - around.mean()), float(near.std()) / far
        if abs(gap) < 1.0 * far and 0.6 < ratio < 1.6:
            if rng.random() < 0.5:
                torn += np.float32(rng.choice([-1, 1]) * rng.uniform(1.3, 2.2) * far)
            else:
                torn = (torn - near.mean()) * np.float32(rng.uniform(2.0, 3.0) / ratio) + near.mean()
    picture = picture * (1 - share) + torn * share
    if rng.random() < 0.35:
        edge = cv2.GaussianBlur(share, (0, 0), max(1.0, 0.8 / sheet.px))
        picture = picture + np.float32(rng.normal(0, 1.2) * spread) * 4 * edge * (1 - edge)
    codes = codes.copy()
    codes[seen] = 3
    return picture, codes


def extent(rng, sheet, worn):
    """Cover share 0–1 of streaks along the stroke."""
    rows, cols = sheet.shape
    px, reach = sheet.px, float(np.hypot(*sheet.shape)) * sheet.px
    target = log_uniform(rng, 0.05, 0.95)
    if rng.random() < 0.35:
        return islands(rng, sheet, worn, min(target, rng.uniform(0.3, 0.65)))
    sd = np.full(rows * cols, -1e3, np.float32)
    widest = log_uniform(rng, 0.02, 0.6) * min(rows, cols) * px
    grain = max(log_uniform(rng, 0.8, 10) / px, 2.0)
    rough = fractal(rng, sheet.shape, grain, log_uniform(rng, 1.5, 12), sheet.stroke).ravel()
    tooth = log_uniform(rng, 0.03, 0.5)
    broken = rng.random() < 0.5
    covered, span = 0.0, float(np.ptp(sheet["across"]))
    inside = np.flatnonzero(worn.ravel())
    for _ in range(40):
        if covered > target:
            break
        half = max(widest * log_uniform(rng, 0.25, 1) / 2, 1.5, 2.5 * px)
        angle = sheet.stroke + rng.normal(0, 0.012)
        at = int(inside[rng.integers(inside.size)])
        st = strip(
            sheet, (at % cols, at // cols), angle, half * 1.6, (half * rng.uniform(0, 0.3), reach, rng.uniform(0, 6))
        )
        if st is None:
            continue
        width = half * np.clip(
            1 + 0.35 * wander(rng, st.s, max(half * log_uniform(rng, 0.5, 12), 4 * px), st.length), 0.2, 1.5
        )
        if broken:
            long = st.length * log_uniform(rng, 0.1, 1)
            start = rng.uniform(-0.3, 1) * (st.length - 0.4 * long)
            width = width * np.clip(np.minimum(st.s - start, start + long - st.s) / (half * 4), -0.5, 1)
        away = width - np.abs(st.d) + np.float32(tooth * half) * rough[st.index]
        sd[st.index] = np.maximum(sd[st.index], away)
        covered += 2 * half / span * (0.5 if broken else 1)
    soft = px * (log_uniform(rng, 3, 12) if rng.random() < 0.25 else 1.0)
    share = np.clip(sd / np.float32(soft) + 0.5, 0, 1).reshape(sheet.shape)
    return share * worn


def islands(rng, sheet, worn, target):
    """Cover share of torn islands, long along the stroke."""
    broad = max(min(log_uniform(rng, 5, 80) / sheet.px, min(sheet.shape) / 3), 8.0)
    ratio = log_uniform(rng, 2, 15)
    field = stretched(rng, sheet.shape, broad * ratio, broad, sheet.stroke)
    field += np.float32(rng.uniform(0.1, 0.5)) * fractal(
        rng, sheet.shape, broad / 3, ratio * rng.uniform(0.3, 1), sheet.stroke
    )
    level = np.quantile(field[worn][::7], 1 - target)
    steep = (
        cv2.Sobel(field[::4, ::4], cv2.CV_32F, 0, 1, scale=1 / 32) ** 2
        + cv2.Sobel(field[::4, ::4], cv2.CV_32F, 1, 0, scale=1 / 32) ** 2
    )
    slope = float(np.sqrt(np.median(steep))) + 1e-6
    return np.clip((field - np.float32(level)) / np.float32(slope * log_uniform(rng, 1, 8)) + 0.5, 0, 1) * worn


def tear(rng, sheet, picture, spread):
    """The look inside a streak."""
    shape, px, stroke = sheet.shape, sheet.px, sheet.stroke
    y, x = np.indices(shape, dtype=np.float32)
    lane = max(log_uniform(rng, 1, 12) / px, 2.0)
    slip = stretched(rng, shape, lane * log_uniform(rng, 4, 30), lane, stroke) * np.float32(
        log_uniform(rng, 3, 50) / px
    )
    slip = np.round(slip / np.float32(lane)) * np.float32(lane) if rng.random() < 0.4 else slip
    dx, dy = slip * np.float32(np.cos(stroke)), slip * np.float32(np.sin(stroke))
    drawn = cv2.remap(picture.astype(np.float32), x + dx, y + dy, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    keep = np.float32(rng.uniform(0, 0.7))
    out = (drawn - np.float32(drawn.mean())) * keep
    strength = np.float32(spread * log_uniform(rng, 0.5, 1.8))
    fine = float(np.clip(log_uniform(rng, 0.6, 6) / px, 1.2, min(shape) / 10))
    for kind in rng.choice(["plough", "scale", "piece", "lump"], int(rng.integers(1, 4)), replace=False):
        if kind == "plough":
            layer = stretched(rng, shape, fine * log_uniform(rng, 10, 80), fine, stroke)
            layer += 0.4 * stretched(rng, shape, fine * 8, fine, stroke)
        elif kind == "scale":
            layer = cells(rng, shape, fine * 3, log_uniform(rng, 1, 4), stroke)
        elif kind == "piece":
            layer = programme(rng, shape, px, stroke, streak=(1.5, 10), layers=(1, 2))
        else:
            layer = np.maximum(fractal(rng, shape, fine * 4, rng.uniform(1, 3), stroke), 0.3) * np.float32(1.3)
        layer = layer - np.float32(layer.mean())
        if rng.random() < 0.4:
            slope = np.roll(layer, 1, axis=int(rng.integers(2))) - layer
            layer = slope / np.float32(max(float(slope.std()), 1e-6))
        out = out + np.clip(layer, -3, 3) * strength * np.float32(rng.uniform(0.5, 1))
    return out
