"""From height, material and tone to a picture: horizon seen from each point, rims, side of the detector, noise."""

import cv2
import numpy as np

from .ground import Frame, clouds

AZIMUTHS = np.arange(8) * np.pi / 4
STEPS_PX = (1, 3, 8, 21)


def draw_beam(rng: np.random.Generator) -> dict:
    """Settings of a session: all fields of a specimen share them."""
    back = bool(rng.random() < 0.28)
    return {
        "detector": "BSE" if back else "SE",
        "kv": float(rng.choice([5, 8, 10, 12, 15, 20])),
        "toward": float(rng.uniform(0, 2 * np.pi)),
        "one_sided": float(rng.uniform(0.0, 1.0)),
        "shut_in": float(rng.uniform(0.1, 0.35) if back else rng.uniform(0.25, 0.85)),
        "side": float(rng.uniform(0.03, 0.16) if back else rng.uniform(0.03, 0.3)),
        "rim": float(rng.uniform(0.0, 0.1) if back else rng.uniform(0.08, 0.45)),
        "floor_tone": float(rng.choice([-1, -1, -1, 0, 1])) * float(rng.uniform(0.08, 0.34)),
        "grey": float(rng.uniform(0.42, 0.62)),
        "contrast": float(rng.uniform(0.65, 1.2)),
        "gamma": float(np.exp(rng.uniform(np.log(0.7), np.log(1.2)))),
        "noise": float(np.exp(rng.uniform(np.log(0.01), np.log(0.075)))),
        "blur_px": float(rng.uniform(0.3, 1.5)) if rng.random() < 0.75 else float(rng.uniform(1.5, 2.4)),
        "jitter_px": float(rng.uniform(0.1, 0.6)) if rng.random() < 0.25 else 0.0,
        "line_noise": float(rng.uniform(0.003, 0.02)) if rng.random() < 0.5 else 0.0,
        "charging": bool(not back and rng.random() < 0.15),
        "drift": float(rng.uniform(0, 0.12)),
    }


def _moved(height: np.ndarray, dx: int, dy: int) -> np.ndarray:
    padded = cv2.copyMakeBorder(height, abs(dy), abs(dy), abs(dx), abs(dx), cv2.BORDER_REPLICATE)
    rows, cols = height.shape
    return padded[abs(dy) + dy : abs(dy) + dy + rows, abs(dx) + dx : abs(dx) + dx + cols]


def sky(height: np.ndarray, frame: Frame, toward: float, one_sided: float) -> np.ndarray:
    """Share of the way out that the ground leaves free, 1 on flat ground, weighted to the detector's side."""
    total, weights = np.zeros_like(height), 0.0
    for azimuth in AZIMUTHS:
        steepest = np.zeros_like(height)
        for step in STEPS_PX:
            dx, dy = round(step * np.cos(azimuth)), round(-step * np.sin(azimuth))
            rise = (_moved(height, dx, dy) - height) / np.float32(frame.pixel_um * np.hypot(dx, dy))
            np.maximum(steepest, rise, out=steepest)
        weight = 1 + one_sided * np.cos(azimuth - toward)
        total += np.float32(weight) * (1 - steepest / np.sqrt(1 + steepest * steepest))
        weights += weight
    return total / np.float32(weights)


def picture(rng: np.random.Generator, frame: Frame, beam: dict, height: np.ndarray, tone: np.ndarray) -> np.ndarray:
    """Grey 0 … 1 of a field. height in µm, tone = change of yield by material and films."""
    height = cv2.GaussianBlur(height.astype(np.float32), (0, 0), 0.6)
    free = sky(height, frame, beam["toward"], beam["one_sided"])
    gx = cv2.Sobel(height, cv2.CV_32F, 1, 0, scale=1 / (8 * frame.pixel_um))
    gy = cv2.Sobel(height, cv2.CV_32F, 0, 1, scale=-1 / (8 * frame.pixel_um))
    facing = -(gx * np.cos(beam["toward"]) + gy * np.sin(beam["toward"]))
    # Range of the beam sets how broad rims glow; Kanaya and Okayama for iron, published.
    glow_um = 0.99 * (beam["kv"] / 15) ** 1.67
    edge = height - cv2.GaussianBlur(height, (0, 0), max(1.0, 0.7 * glow_um / frame.pixel_um))
    signal = 1 - beam["shut_in"] * (1 - free)
    signal += beam["side"] * np.tanh(1.3 * facing)
    signal += beam["rim"] * np.tanh(1.6 * np.maximum(edge - 0.02, 0))
    if beam["detector"] == "SE":
        signal += 0.25 * beam["rim"] * (np.sqrt(1 + np.minimum(gx * gx + gy * gy, 4)) - 1)
    signal += tone
    signal = beam["grey"] * (1 + beam["contrast"] * (signal - np.median(signal)))
    return signal.astype(np.float32)


def record(rng: np.random.Generator, frame: Frame, beam: dict, signal: np.ndarray) -> np.ndarray:
    """What the scan keeps of a signal: drift, charging, jitter, blur, shot noise, gamma."""
    rows, cols = signal.shape
    slope = rng.normal(0, 1, 2)
    y, x = np.linspace(-1, 1, rows, dtype=np.float32)[:, None], np.linspace(-1, 1, cols, dtype=np.float32)[None, :]
    signal = signal * (
        1 + 0.5 * beam["drift"] * (slope[0] * x + slope[1] * y + 0.4 * clouds(rng, frame, frame.half_um, 1))
    )
    if beam["charging"]:
        rowwise = np.convolve(rng.standard_normal(rows), np.ones(5) / 5, "same").astype(np.float32)
        signal = signal + 0.05 * np.maximum(rowwise - 0.5, 0)[:, None] * (1 + 0.5 * np.sin(3 * x + slope[0]))
    signal = cv2.GaussianBlur(signal, (0, 0), beam["blur_px"])
    if beam["jitter_px"]:
        move = rng.normal(0, beam["jitter_px"], rows).astype(np.float32)[:, None]
        at = np.arange(cols, dtype=np.float32)[None, :] + move
        level = np.repeat(np.arange(rows, dtype=np.float32)[:, None], cols, 1)
        signal = cv2.remap(signal, at, level, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    shot = rng.standard_normal(signal.shape, dtype=np.float32) * np.sqrt(np.clip(signal, 0.02, None) / 0.5)
    signal = signal + beam["noise"] * shot + beam["line_noise"] * rng.standard_normal((rows, 1), dtype=np.float32)
    low, high = np.quantile(signal[::4, ::4], [0.003, 0.997])
    floor, top = min(float(low), 0.15), max(float(high), 0.8)
    return np.clip(0.02 + 0.96 * (signal - floor) / (top - floor), 0, 1) ** np.float32(beam["gamma"])
