"""From the signal to the stored picture: focus, scan, dose, settings of the amplifier, and what was done to it later."""

import cv2
import numpy as np

from .draw import along, clouds, log_uniform

AFTERWARDS = {
    "plain": 0.34, "tiles": 0.06, "median": 0.06, "sharpened": 0.09, "equalised": 0.07,
    "denoised": 0.09, "upscaled": 0.09, "inverted": 0.04, "old print": 0.06, "compressed": 0.1,
}  # fmt: skip
"""What is done to a picture after it is taken, and how often."""


def electrons(current_pa: float, dwell_us: float) -> float:
    """Beam electrons a pixel: current times dwell over the charge of one."""
    return current_pa * 1e-12 * dwell_us * 1e-6 / 1.602176634e-19


def charging(rng: np.random.Generator, shape: tuple[int, int], kv: float) -> tuple[np.ndarray, np.ndarray]:
    """Brightness that charge adds, and where it hides the surface."""
    if rng.random() > (0.12 if kv < 5 else 0.03):
        return np.zeros(shape, np.float32), np.zeros(shape, bool)
    patches = clouds(rng, shape, log_uniform(rng, 25, 90)) + 0.5 * clouds(rng, shape, 9) - rng.uniform(1.7, 2.6)
    # Charge leaks away slowly, so it trails along the fast scan.
    glow = cv2.GaussianBlur(np.clip(patches, 0, 1), (0, 0), sigmaX=log_uniform(rng, 4, 40), sigmaY=rng.uniform(0.8, 3))
    glow = np.clip(glow * 5, 0, 1.6)
    return glow, glow > 0.9


def scanned(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    """Focus, the scan's faults and shot noise."""
    rows, cols = signal.shape
    out = cv2.GaussianBlur(signal, (0, 0), log_uniform(rng, 0.35, 1.3))
    if rng.random() < 0.15:
        # A tilted specimen leaves the focus towards one edge.
        slope = np.linspace(0, 1, rows, dtype=np.float32)[:: int(rng.choice([-1, 1])), None]
        share = np.clip(slope * rng.uniform(1, 2) - rng.uniform(0.2, 0.8), 0, 1)
        out = out * (1 - share) + cv2.GaussianBlur(out, (0, 0), rng.uniform(1.5, 3)) * share
    shift = np.zeros(rows, np.float32)
    fault = rng.random()
    if fault < 0.12:
        shift += rng.uniform(0.3, 1.2) * np.sin(np.arange(rows) / log_uniform(rng, 0.6, 20))
    elif fault < 0.2:
        shift[1::2] += rng.uniform(0.4, 1.2)
    elif fault < 0.4:
        shift += rng.normal(0, rng.uniform(0.1, 0.5), rows)
    if shift.any():
        y, x = np.mgrid[:rows, :cols].astype(np.float32)
        out = cv2.remap(out, x + shift[:, None].astype(np.float32), y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    yielded = electrons(log_uniform(rng, 30, 400), log_uniform(rng, 1, 20)) * 0.15
    spread = np.sqrt(np.clip(out, 0.02, None) / yielded)
    noise = rng.standard_normal(out.shape, dtype=np.float32)
    out = out + np.minimum(spread, 0.35) * noise
    out *= 1 + rng.uniform(0, 0.02) * rng.standard_normal((rows, 1), dtype=np.float32)
    out *= 1 + rng.uniform(0, 0.12) * clouds(rng, out.shape, 300) + rng.uniform(0, 0.05) * along(rng, rows, 80)[:, None]
    return out


def stored(rng: np.random.Generator, picture: np.ndarray) -> tuple[np.ndarray, str]:
    """The grey levels, and the name of what was done to the picture afterwards."""
    rows, cols = picture.shape
    low, high = np.percentile(picture[::2, ::2], [0.5, 99.5])
    span = log_uniform(rng, 60, 225)
    middle = rng.uniform(span / 2 + 12, 243 - span / 2)
    low, high = float(low), float(high)
    grey = np.clip((picture - low) / max(high - low, 1e-3), -0.04, 1.04)
    gamma = log_uniform(rng, 0.65, 1.5)
    grey = np.sign(grey) * np.abs(grey) ** gamma * span + middle - span / 2
    name = str(rng.choice(list(AFTERWARDS), p=list(AFTERWARDS.values())))
    if name == "tiles":
        seam = int(rng.uniform(0.2, 0.8) * cols)
        grey[:, seam:] = grey[:, seam:] * rng.uniform(0.88, 1.1) + rng.uniform(-8, 8)
        row = int(rng.uniform(0.2, 0.8) * rows)
        grey[row:] = grey[row:] * rng.uniform(0.9, 1.08)
    elif name == "sharpened":
        grey = grey + rng.uniform(0.5, 1.8) * (grey - cv2.GaussianBlur(grey, (0, 0), rng.uniform(1, 3)))
    elif name == "inverted":
        grey = 255 - grey
    elif name == "old print":
        grey = cv2.GaussianBlur(grey, (0, 0), 0.9) + 9 * clouds(rng, grey.shape, 1.6) * rng.uniform(0.4, 1)
    elif name == "upscaled":
        factor = rng.uniform(1.3, 2.2)
        small = cv2.resize(grey, (int(cols / factor), int(rows / factor)), interpolation=cv2.INTER_AREA)
        grey = cv2.resize(small, (cols, rows), interpolation=int(rng.choice([cv2.INTER_NEAREST, cv2.INTER_LINEAR, cv2.INTER_CUBIC])))
    whole = np.clip(np.round(grey), 2, 253).astype(np.uint8)
    if name == "median":
        whole = cv2.medianBlur(whole, int(rng.choice([3, 5])))
    elif name == "equalised":
        whole = cv2.createCLAHE(rng.uniform(1, 3), (int(rng.integers(2, 9)),) * 2).apply(whole)
    elif name == "denoised":
        whole = cv2.bilateralFilter(whole, 5, rng.uniform(15, 50), 3)
    elif name == "compressed":
        whole = cv2.imdecode(cv2.imencode(".jpg", whole, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(35, 92))])[1], cv2.IMREAD_GRAYSCALE)
    return whole, name
