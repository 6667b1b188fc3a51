"""Shapes laid over the bands where moved metal closed them; all in pixels of the picture, greys as share of the plateau's."""

from dataclasses import dataclass

import cv2
import numpy as np

from .bands import FINE, Band, fill, runs
from .textures import loguniform, wave

LOOKS = ("plate", "seam", "flakes", "tongue", "bridges", "flush")


@dataclass
class Closed:
    """Soft mask of the caps (0-1), grey of each place of a cap, lines drawn on and around them (signed grey), and how much
    the plateau's texture shows through (0-1)."""

    mask: np.ndarray
    tone: np.ndarray
    lines: np.ndarray
    through: np.ndarray


def _stretches(rng: np.random.Generator, band: Band, share: float, mean: float) -> list[slice]:
    """Stretches of the worn part of a band to close: about share of it, of mean length in pixels."""
    step = float(np.hypot(*(band.centre[1] - band.centre[0])))
    smooth = max(mean / step, 1.5)
    noise = wave(rng, len(band.left), smooth)
    flag = noise > np.quantile(noise, 1 - min(share, 0.999))
    return runs(flag & (band.worn > 0) & (band.depth > 0.3), 3)


def _line(sheet: np.ndarray, points: np.ndarray, grey: float, thick: float = 1.0) -> None:
    cv2.polylines(sheet, [np.round(points * FINE * 8).astype(np.int32)], False, grey, max(round(thick * FINE), 1), cv2.LINE_8, 3)


def lay_over(rng: np.random.Generator, bands: list[Band], shape: tuple[int, int], stroke: float, light: np.ndarray) -> Closed:
    """Close some of the bands; stroke is the sliding direction (radians), light the unit vector to the detector."""
    fine = (shape[0] * FINE, shape[1] * FINE)
    mask = np.zeros(fine, np.uint8)
    tone, lines, through = np.zeros((3, *fine), np.float32)
    taken, share, mean = rng.uniform(0.3, 1.0), rng.uniform(0.2, 0.98), loguniform(rng, 5, 250)
    weight = rng.dirichlet(np.full(len(LOOKS), 0.7))
    gloss, uneven = rng.normal(0.03, 0.12), loguniform(rng, 0.02, 0.12)
    lip, edge = loguniform(rng, 0.12, 0.7), loguniform(rng, 0.12, 0.6)
    veil, crooked = rng.uniform(0.0, 0.8), loguniform(rng, 0.1, 0.8)
    drag = np.array([np.cos(stroke), np.sin(stroke)])
    for band in bands:
        if rng.random() > taken or band.depth.max() < 0.3:
            continue
        look = LOOKS[rng.choice(len(LOOKS), p=weight)]
        length = {"bridges": min(mean, 12.0), "flush": max(mean, 60.0)}.get(look, mean)
        for run in _stretches(rng, band, share * (0.5 if look == "bridges" else 1), length):
            n = run.stop - run.start
            grey = gloss + uneven * rng.standard_normal()
            bow = np.sqrt(np.clip(np.minimum(np.arange(n), np.arange(n)[::-1]) / max(0.25 * n, 1), 0, 1))
            # metal comes with the stroke, so the tongue grows from the rim it was dragged over
            side = 1 if rng.random() < 0.5 else -1
            low, high = np.full(n, -1.12), np.full(n, 1.12)
            if look == "tongue":
                reach = -1 + 2 * np.clip(bow * rng.uniform(0.4, 1.1) * (1 + 0.2 * wave(rng, n, 3)), 0, 1.05)
                low, high = (low, reach) if side > 0 else (-reach, high)
            whole = np.full(len(band.left), 0.0)
            whole[run] = low
            one = band.at(whole)[run]
            whole[run] = high
            two = band.at(whole)[run]
            if look == "flakes":
                _flakes(rng, (mask, tone, lines, through), band, run, grey, uneven, edge, veil, drag)
                continue
            # metal dragged along the stroke leaves a cap askew
            one = one + drag * (rng.normal(0, 0.3) * band.left[run].mean())
            first, last = _end(rng, one, two, 0, crooked), _end(rng, one, two, -1, crooked)
            for sheet, value in ((mask, 255), (tone, grey), (through, 1.0 if look == "flush" else veil)):
                fill(sheet, np.concatenate([one, last]), np.concatenate([first, two]), value)
            lit = float(np.sign(band.across @ light) or 1)
            if look == "flush":
                for rim, chance in ((one, 0.8), (two, 0.45)):
                    if rng.random() < chance:
                        _line(lines, rim, rng.choice([-1, 1]) * edge * 0.6, 0.5)
                continue
            outward = (one[0] - one[-1]) / (np.hypot(*(one[0] - one[-1])) + 1e-6)
            for lips in (first, last):
                outward = outward if lips is first else -outward
                _line(lines, lips + outward * 1.2, -lip, 1.2)
                _line(lines, lips, lip * (1.0 if outward @ light > 0 else 0.5), 0.8)
            _line(lines, two, -lit * edge * 0.7, 0.6)
            _line(lines, one, lit * edge * 0.7, 0.6)
            if look == "tongue":
                _line(lines, two if side > 0 else one, lip, 1.0)
            if look == "seam":
                whole[run] = np.clip(0.3 * wave(rng, n, 5) + rng.normal(0, 0.25), -0.8, 0.8)
                _line(lines, band.at(whole)[run], -lip, rng.uniform(0.5, 1.5))
            for _ in range(rng.integers(0, 4) if look == "plate" else 0):
                whole[run] = rng.uniform(-0.9, 0.9)
                _line(lines, band.at(whole)[run][: max(int(n * rng.uniform(0.2, 1)), 2)], rng.choice([-1, 1]) * edge * 0.5, 0.5)
    small = [cv2.resize(m, shape[::-1], interpolation=cv2.INTER_AREA) for m in (mask, tone, lines, through)]
    return Closed(small[0].astype(np.float32) / 255, *small[1:])


def _end(rng: np.random.Generator, one: np.ndarray, two: np.ndarray, end: int, crooked: float) -> np.ndarray:
    """The ragged outline (9, 2) of one end of a cap from rim to rim: askew, bulging or hollow; crooked is a share of the width."""
    across = two[end] - one[end]
    along = one[0] - one[-1] if end == 0 else one[-1] - one[0]
    along = along / (np.hypot(*along) + 1e-6)
    t = np.linspace(0, 1, 9)
    shape = rng.normal(0, 0.5) * np.sin(np.pi * t) + rng.normal(0, 0.5) * (t - 0.5) + 0.12 * rng.standard_normal(9)
    return one[end] + t[:, None] * across + (crooked * np.hypot(*across) * shape)[:, None] * along


def _flakes(rng: np.random.Generator, sheets: tuple[np.ndarray, ...], band: Band, run: slice, grey: float, uneven: float,
            edge: float, veil: float, drag: np.ndarray) -> None:
    """A patchwork of pressed-in flakes along one stretch, each with a grey and an outline of its own."""
    mask, tone, lines, through = sheets
    size = max(float(np.mean(band.left[run])) * rng.uniform(0.7, 1.3), 1.5)
    step = float(np.hypot(*(band.centre[1] - band.centre[0])))
    turn = np.linspace(0, 2 * np.pi, 10, endpoint=False)
    for i in range(run.start, run.stop, max(int(size * rng.uniform(0.5, 1.1) / step), 1)):
        middle = band.centre[i] + rng.normal(0, 0.3) * size * band.across
        r = size * rng.uniform(0.7, 1.25) * (1 + 0.2 * rng.standard_normal(10))
        long = rng.uniform(1, 1.7)
        points = middle + (r * np.cos(turn) * long)[:, None] * drag + (r * np.sin(turn))[:, None] * np.array([-drag[1], drag[0]])
        value = grey + max(uneven, 0.05) * 1.5 * rng.standard_normal()
        for sheet, v in ((mask, 255), (tone, value), (through, veil), (lines, 0)):
            fill(sheet, points[:5], points[5:][::-1], v)
        _line(lines, points[[*range(10), 0]], -edge, 0.6)
        _line(lines, points[:5], edge, 0.5)
