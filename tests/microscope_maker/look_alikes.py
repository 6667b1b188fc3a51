"""What is no open valley and may look like one: graphite, pull-outs, scratches along the stroke, films; and debris."""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.microscope_maker.frame import Frame


@dataclass(frozen=True, kw_only=True)
class Matter:
    """(rows, cols) float: graphite and pull-outs, 0-1; film in optical thickness."""

    graphite: np.ndarray
    pull: np.ndarray
    film: np.ndarray


def draw_look_alikes(
    f: Frame, z: np.ndarray, codes: np.ndarray, weight: np.ndarray, worn: bool
) -> tuple[np.ndarray, Matter, np.ndarray]:  # fmt: skip
    """Return the heights with all of them, µm, the matter, and where debris lies, (rows, cols) bool."""
    r = f.rng
    graphite, pull = _graphite(f), _pull_outs(f)
    g = cv2.GaussianBlur(graphite, (0, 0), max(0.5, 0.3 / f.px)).astype(np.float32) / 255
    p = cv2.GaussianBlur(pull, (0, 0), max(0.5, 0.4 / f.px)).astype(np.float32) / 255
    off = codes != 3
    g, p = g * off, p * off
    g *= np.clip(0.75 + 0.4 * f.noise(6, 6), 0.1, 1)  # metal dragged over some of it
    z = z - g * r.uniform(0.1, 0.9) - p * (r.uniform(0.8, 3.5) + 0.5 * f.noise(2, 2))
    _scratch(f, z, codes, worn)
    film = _films(f, weight, worn)
    z, debris = _debris(f, z)
    return z.astype(np.float32), Matter(graphite=g, pull=p, film=film), debris


def _graphite(f: Frame) -> np.ndarray:
    """Return flakes in section, (rows, cols) uint8: 8-60 µm long [C]; a specimen shows them in every field or in none."""
    r, (rows, cols) = f.rng, f.shape
    drawn = np.zeros(f.shape, np.uint8)
    if f.own["flaky"].random() >= 0.75:
        return drawn
    per_flake = f.own["area a flake"].choice([6000, 15000, 40000])
    for _ in range(min(int(r.poisson(f.width * f.height / per_flake)), 250)):
        n = 7
        a = r.uniform(0, np.pi) + np.cumsum(r.normal(0, 0.35, n))
        step = r.uniform(8, 60) / n / f.px
        course = np.stack([np.cumsum(np.cos(a)), np.cumsum(np.sin(a))], 1) * step
        pts = course + [r.uniform(0, cols), r.uniform(0, rows)]
        wide = r.uniform(0.8, 3.2) / f.px
        for i in range(n - 1):
            pen = max(1, int(round(wide * (1 - 0.7 * abs(i - 2.5) / 3))))
            one, other = (tuple(int(c * 8) for c in pts[j]) for j in (i, i + 1))
            cv2.line(drawn, one, other, 255, pen, cv2.LINE_AA, 3)
    return drawn


def _pull_outs(f: Frame) -> np.ndarray:
    r, (rows, cols) = f.rng, f.shape
    drawn = np.zeros(f.shape, np.uint8)
    if r.random() < 0.5:
        for _ in range(min(int(r.poisson(f.width * f.height / r.choice([15000, 50000]))), 80)):
            c, rad = [r.uniform(0, cols), r.uniform(0, rows)], r.lognormal(np.log(4), 0.5) / f.px
            a = np.linspace(0, 2 * np.pi, 14, endpoint=False)
            rr = rad * np.clip(1 + 0.2 * r.normal(0, 1, 14), 0.5, 1.6)
            pts = np.stack([c[0] + rr * np.cos(a), c[1] + rr * r.uniform(0.7, 1.6) * np.sin(a)], 1)
            cv2.fillPoly(drawn, [np.round(pts * 8).astype(np.int32)], 255, cv2.LINE_AA, 3)
    return drawn


def _scratch(f: Frame, z: np.ndarray, codes: np.ndarray, worn: bool) -> None:
    """Cut scratches along the stroke into the plateau of ``z``; a track has more of them."""
    r, u, v = f.rng, f.across, f.along
    many = r.poisson((5 if worn else 1.2) * r.uniform(0, 1.6) * max(0.5, f.width / 400))
    for _ in range(min(int(many), 25)):
        w, u0 = r.uniform(1.0, 5.5), r.uniform(float(u.min()), float(u.max()))
        idx = np.flatnonzero(np.abs(u - u0).ravel() < 2 * w + 6)
        if idx.size < 20:
            continue
        uu, vv = u.ravel()[idx] - u0, v.ravel()[idx]
        lean = np.tan(r.normal(0, 0.015))
        e = np.abs(uu - lean * (vv - f.height / 2) - f.line(vv, 120)) / (w / 2)
        length, v0 = r.uniform(0.3, 2.0) * f.height, r.uniform(0, f.height)
        on = np.clip((length / 2 - np.abs(vv - v0)) / 15, 0, 1)
        form = np.clip(1 - e**2, 0, 1) - 0.12 * np.exp(-(((e - 1.3) / 0.3) ** 2))
        dz = r.uniform(0.2, 1.3) * on * form * (0.8 + 0.25 * f.line(vv, 20))
        z.ravel()[idx] -= dz * (codes.ravel()[idx] == 0)


def _films(f: Frame, weight: np.ndarray, worn: bool) -> np.ndarray:
    """Return stains, and in the track patches of oil or tribofilm, in optical thickness."""
    r = f.rng
    film = np.zeros(f.shape, np.float32)
    if r.random() < 0.45:
        n = f.noise(r.uniform(20, 90), r.uniform(20, 90)) + 0.25 * f.noise(6, 6)
        at = r.uniform(0.7, 1.6)
        film += r.uniform(0.1, 0.5) * (np.clip((n - at) * 4, 0, 1) + 0.5 * np.exp(-(((n - at) / 0.08) ** 2)))
    if worn and f.own["tribofilm"].random() < 0.55:
        thick = f.own["tribofilm's thickness"].uniform(0.05, 0.3)
        film += thick * weight * np.clip(f.noise(5, 30) + 0.4 * f.noise(2, 10) - r.uniform(0, 1), 0, 1)
    return film


def _debris(f: Frame, z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    r, (rows, cols) = f.rng, f.shape
    drawn = np.zeros(f.shape, np.uint8)
    if r.random() < 0.2:
        for _ in range(int(r.integers(1, 6))):
            c, rad = [r.uniform(0, cols), r.uniform(0, rows)], max(r.uniform(1.5, 8) / f.px, 2.5)
            a = np.linspace(0, 2 * np.pi, 9, endpoint=False)
            rr = rad * np.clip(1 + 0.3 * r.normal(0, 1, 9), 0.5, 1.6)
            pts = np.stack([c[0] + rr * np.cos(a), c[1] + rr * np.sin(a)], 1)
            cv2.fillPoly(drawn, [np.round(pts).astype(np.int32)], 255)
        high = cv2.distanceTransform(drawn, cv2.DIST_L2, 3) * f.px
        z = z + np.sqrt(np.maximum(high, 0)) * 1.5 * (1 + 0.15 * f.noise(1, 1))
    return z, drawn > 0
