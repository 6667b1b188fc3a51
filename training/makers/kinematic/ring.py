"""Ring strokes in cycles: heights above a level go, and the metal taken is pushed along the stroke into the next hollow."""

import cv2
import numpy as np

from .noise import log_uniform, smooth


def worn_area(rng: np.random.Generator, shape: tuple[int, int], state: str) -> np.ndarray:
    """Where the ring ran (bool), in the stroke frame (stroke down the rows); state: unworn, border or worn."""
    if state != "border":
        return np.full(shape, state == "worn")
    rows, cols = shape
    edge = rng.uniform(0.25, 0.75) * cols + smooth(rng, (rows, 2), (rows / 6, 1))[:, :1] * rng.uniform(0, 3)
    ran = np.arange(cols)[None, :] > edge
    return ran if rng.random() < 0.5 else ~ran


def push_metal(rng: np.random.Generator, hollow: np.ndarray, ran: np.ndarray, target: float, pixel: float) -> np.ndarray:
    """How much of each pixel moved metal has roofed over (0 to 1). hollow: deeper than 0.5 um below the level the ring runs on
    (bool); target: about the share of hollows to be closed; pixel um/px.

    Metal is counted in pixels it can roof over; a load that runs out leaves the far part of a wide groove open."""
    rows, cols = hollow.shape
    roof = np.zeros((rows, cols), np.float32)
    cycles = int(rng.integers(1, 4))
    share = max(float(hollow[ran].mean()) if ran.any() else 0.0, 0.01)
    patch = (log_uniform(rng, 25, 400) / pixel, log_uniform(rng, 5, 120) / pixel)
    spread = rng.uniform(0.05, 0.3)
    patchy = log_uniform(rng, 0.6, 2.0)
    entries = hollow[1:] & ~hollow[:-1]
    run = float(hollow.sum()) / max(int(entries.sum()), 1)
    # Metal piles up before it lets go: a fold starts only with a good part of what a common groove needs, else it passes over.
    given = 1.6 * target * share * rows / cycles
    least = min(rng.uniform(0.15, 0.95) * run, 0.4 * given)
    limit = max(log_uniform(rng, 6, 120) / pixel, 1.3 * least)
    for cycle in range(cycles):
        supply = np.exp(patchy * smooth(rng, (rows, cols), patch) - patchy**2 / 2) * (given / rows)
        supply *= np.clip(1 + 0.4 * smooth(rng, (rows, cols), (6 / pixel, 2 / pixel)), 0, 3)
        supply[~ran] = 0
        # Odd cycles run back, so that grooves close from the other wall.
        order = range(rows) if (cycle + int(rng.integers(2))) % 2 == 0 else range(rows - 1, -1, -1)
        load = supply.mean(axis=0) * log_uniform(rng, 3, 40) / pixel
        folding, inside = np.zeros((2, cols), bool)
        for row in order:
            load += supply[row]
            load[1:-1] += spread * (load[:-2] + load[2:] - 2 * load[1:-1])
            np.minimum(load, limit, out=load)
            folding = np.where(hollow[row] & ~inside, load > least, folding & hollow[row])
            inside = hollow[row]
            need = (1 - roof[row]) * folding
            laid = np.minimum(load, need)
            roof[row] += laid
            load -= laid
    roof *= ran
    roof = cv2.GaussianBlur(roof, (0, 0), max(0.8, log_uniform(rng, 0.15, 0.9) / pixel))
    # What is left of slivers and specks breaks off.
    return np.clip((roof - 0.3) / 0.45, 0, 1)


def plough_marks(rng: np.random.Generator, shape: tuple[int, int], pixel: float, depth: float) -> np.ndarray:
    """Running-in marks along the stroke (um, never deeper than 0.4): a brushed ground and a few single scratches."""
    rows, cols = shape
    brushed = smooth(rng, shape, (log_uniform(rng, 50, 500) / pixel, log_uniform(rng, 0.4, 4) / pixel)) * depth * 0.4
    for _ in range(int(rng.integers(0, 14))):
        centre, half = rng.uniform(0, cols), max(0.7, log_uniform(rng, 0.4, 4) / pixel)
        first, last = max(0, int(centre - half - 2)), min(cols, int(centre + half + 3))
        top = int(rng.uniform(-0.5, 0.9) * rows)
        bottom = top + int(log_uniform(rng, 0.15, 1.6) * rows)
        across = np.clip(1 - np.abs(np.arange(first, last) - centre) / half, 0, 1)
        brushed[max(top, 0) : max(bottom, 0), first:last] -= across * log_uniform(rng, 0.08, 0.4)
    return np.clip(brushed, -0.4, 0.3)


def tear(rng: np.random.Generator, ran: np.ndarray, pixel: float, heavy: bool) -> tuple[np.ndarray, np.ndarray]:
    """Adhesive events: where metal is torn (bool) and its height over the level (um), streaked along the stroke."""
    rows, cols = ran.shape
    strength = np.zeros(ran.shape, np.float32)
    side = min(rows, cols) * pixel
    for _ in range(int(rng.integers(8, 22)) if heavy else int(rng.integers(1, 7))):
        half = max(1.5, log_uniform(rng, min(2, 0.02 * side), min(40, (0.16 if heavy else 0.07) * side)) / pixel)
        run = log_uniform(rng, 0.15, 1.3) * rows
        x, y = rng.uniform(0, cols), rng.uniform(-0.2, 1.0) * rows
        # A junction grows as it slides and breaks off: narrow start, blunt end.
        place = np.clip((np.arange(rows) - y) / run, 0, 1)
        shape = np.sqrt(place) * np.clip((1 - place) / 0.2, 0, 1) ** 0.6
        shape = shape[::-1] if rng.random() < 0.5 else shape
        first, last = max(0, int(x - half - 1)), min(cols, int(x + half + 2))
        body = shape[:, None] - np.abs(np.arange(first, last)[None, :] - x) / half
        np.maximum(strength[:, first:last], body, out=strength[:, first:last])
    ragged = strength + 0.28 * smooth(rng, ran.shape, (log_uniform(rng, 10, 60) / pixel, log_uniform(rng, 1, 5) / pixel)) * (strength > 0)
    torn = (cv2.GaussianBlur(ragged, (0, 0), max(0.6, 0.4 / pixel)) > 0.12) & ran
    ridges = smooth(rng, ran.shape, (log_uniform(rng, 4, 50) / pixel, log_uniform(rng, 0.7, 4) / pixel))
    lumps = smooth(rng, ran.shape, (log_uniform(rng, 1.5, 8) / pixel, log_uniform(rng, 1, 4) / pixel))
    return torn, (ridges + lumps * rng.uniform(0.3, 1.2)) * log_uniform(rng, 0.35, 1.6)
