"""What is not a groove: graphite, scratches along the stroke, stains, debris."""

import cv2
import numpy as np

from makers.collaged_groove import strip, wander
from makers.collaged_texture import log_uniform, stretched


def flakes(rng, sheet, shown, worn):
    """Graphite and pull-outs: dark lenses and worms, 5–100 µm."""
    out = np.zeros(sheet.shape, np.float32)
    if rng.random() > 0.35:
        return out
    rows, cols = sheet.shape
    area = rows * cols * sheet.px**2
    count = int(np.clip(area * log_uniform(rng, 2e-5, 6e-4), 1, 150))
    mask = np.zeros(sheet.shape, np.uint8)
    size = log_uniform(rng, 8, 60)
    lens = rng.random() < 0.4
    for _ in range(count):
        length = float(np.clip(size * log_uniform(rng, 0.4, 1.6), 5, 100)) / sheet.px
        thick = max(length * log_uniform(rng, 0.04, 0.2), 1.5)
        at, heading = rng.uniform((0, 0), (cols, rows)), rng.uniform(0, 2 * np.pi)
        if lens:
            cv2.ellipse(
                mask, (tuple(at.tolist()), (length, 2 * thick), float(np.degrees(heading))), 255, -1, cv2.LINE_AA
            )
            continue
        turn = heading + np.cumsum(rng.normal(0, 0.35, 9))
        path = at + np.cumsum(np.column_stack([np.cos(turn), np.sin(turn)]), axis=0) * length / 9
        for k in range(8):
            part = np.round(path[k : k + 2] * 16).astype(np.int32)
            wide = max(1, round(thick * np.sin(np.pi * (k + 1) / 9) ** 0.5))
            cv2.line(mask, tuple(part[0].tolist()), tuple(part[1].tolist()), 255, wide, cv2.LINE_AA, 4)
    share = mask.astype(np.float32) / 255
    out -= share * shown * np.float32(rng.uniform(0.5, 2.0))
    if rng.random() < 0.4:
        ring = cv2.GaussianBlur(share, (0, 0), max(1.0, 0.6 / sheet.px)) * (1 - share)
        out += ring * shown * np.float32(rng.uniform(0.3, 1.2))
    return out


def scratches(rng, sheet, shown, worn):
    """Lines along the stroke, thin or wide, some as deep as grooves."""
    out = np.zeros(sheet.shape, np.float32)
    if rng.random() > (0.45 if worn.any() else 0.2):
        return out
    flat = out.ravel()
    rows, cols = sheet.shape
    reach = float(np.hypot(rows, cols)) * sheet.px
    sign = rng.choice([-1, 1], p=[0.65, 0.35])
    for _ in range(int(log_uniform(rng, 1, 25))):
        half = max(log_uniform(rng, 0.3, 6) / 2, 0.6 * sheet.px)
        angle = sheet.stroke + rng.normal(0, 0.015)
        off = rng.uniform(-0.5, 0.5) * reach / sheet.px
        origin = (cols / 2 - np.sin(angle) * off, rows / 2 + np.cos(angle) * off)
        st = strip(sheet, origin, angle, half * 2 + sheet.px)
        if st is None:
            continue
        start, long = rng.uniform(-0.3, 0.8) * st.length, st.length * log_uniform(rng, 0.1, 2)
        ends = np.clip(np.minimum(st.s - start, start + long - st.s) / (4 * half), 0, 1)
        body = np.clip((half * ends - np.abs(st.d)) / sheet.px + 0.5, 0, 1) * (ends > 0)
        rim = np.exp(-(((np.abs(st.d) - half) / max(0.4 * half, 0.7 * sheet.px)) ** 2)) * ends
        strength = np.float32(log_uniform(rng, 0.1, 1.2)) * shown
        uneven = np.clip(1 + 0.4 * wander(rng, st.s, 20 * half, st.length), 0.2, 2)
        flat[st.index] += strength * uneven * (sign * body + rng.uniform(0, 0.6) * rim)
    return out


def stains(rng, sheet, shown, worn):
    """Islands of oil or film, dark or bright, soft or sharp, often along the stroke."""
    out = np.zeros(sheet.shape, np.float32)
    if rng.random() > 0.3:
        return out
    broad = max(log_uniform(rng, 5, 120) / sheet.px, 4)
    broad = min(broad, min(sheet.shape) / 3)
    field = stretched(rng, sheet.shape, broad * log_uniform(rng, 1, 8), broad, sheet.stroke)
    field = field + np.float32(0.3) * stretched(rng, sheet.shape, broad / 4, broad / 5, sheet.stroke)
    soft = log_uniform(rng, 0.05, 1.0)
    return np.clip((field - np.float32(rng.uniform(0.2, 1.5))) / soft, 0, 1) * shown * np.float32(rng.normal(0, 0.5))


def debris(rng, sheet, picture, codes):
    """Particles lying on the surface (255), with a shadow or a glow beside them."""
    if rng.random() > 0.25:
        return picture, codes
    rows, cols = sheet.shape
    mask = np.zeros(sheet.shape, np.uint8)
    size = log_uniform(rng, 1, 15)
    for _ in range(int(log_uniform(rng, 1, 30))):
        radius = float(np.clip(size * log_uniform(rng, 0.4, 2) / sheet.px, 1.5, min(rows, cols) / 20))
        turn = np.sort(rng.uniform(0, 2 * np.pi, rng.integers(5, 12)))
        reach = radius * rng.uniform(0.6, 1.2, turn.size)
        path = np.column_stack([np.cos(turn) * reach, np.sin(turn) * reach * rng.uniform(0.5, 1)])
        path = path + rng.uniform((0, 0), (cols, rows))
        cv2.fillPoly(mask, [np.round(path * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    share = mask.astype(np.float32) / 255
    spread = float(np.std(picture)) + 0.02
    shape = cv2.GaussianBlur(share, (0, 0), max(1.0, size / sheet.px / 3))
    shift = np.float32([[1, 0, rng.normal(0, 0.5) * size / sheet.px], [0, 1, rng.normal(0, 0.5) * size / sheet.px]])
    shadow = cv2.warpAffine(shape, shift, (cols, rows), borderMode=cv2.BORDER_REPLICATE) * (1 - share)
    picture = picture - shadow * np.float32(rng.uniform(-0.5, 1.5) * spread)
    body = np.float32(rng.choice([1, -1], p=[0.8, 0.2]) * rng.uniform(1.5, 4) * spread)
    grain = stretched(rng, sheet.shape, max(size / sheet.px / 4, 1), max(size / sheet.px / 4, 1), 0.0)
    body = body * (0.5 + 0.5 * shape) + np.float32(0.4 * spread) * grain
    codes = np.where(share >= 0.5, np.uint8(255), codes)
    return picture * (1 - share) + (body + np.float32(picture.mean())) * share, codes
