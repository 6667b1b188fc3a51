"""The ground of one field: height, materials and states, from the honed bore to what the ring left of it.

Height is in µm over the plateau, up positive. A state is read off the height: open where the groove is still 0.5 µm deep,
smeared where moved metal filled a groove that was 0.5 µm deep to less than that.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .grooves import DEPTH_LIMIT_UM, Lay, draw_lay, frame, wander
from .specimen import Specimen

NOT_ASSESSED = 255


@dataclass(frozen=True, kw_only=True)
class Ground:
    """One field before the microscope; all arrays (rows, cols).

    height_um: float32; depth_um: float32 depth of the open grooves; codes: uint8; flake: float32 0..1, graphite and
    the carbon in pull-outs; moved: uint8 kind of smear; torn: float32 0..1 scuffed; grain: float32 0..1 debris; film: float32 around 0, stain; void: bool beyond the specimen's edge.
    """

    height_um: np.ndarray
    depth_um: np.ndarray
    codes: np.ndarray
    flake: np.ndarray
    moved: np.ndarray
    torn: np.ndarray
    grain: np.ndarray
    film: np.ndarray
    void: np.ndarray
    lay_areas_px: tuple[int, int]
    honed_valley_fraction: float
    worn: bool


def cloud(shape, size_px: float, rng) -> np.ndarray:
    """Return smooth random ground of unit spread with features of about ``size_px``, (rows, cols) float32."""
    size_px = max(size_px, 1.0)
    small = (max(int(np.ceil(shape[0] / size_px)), 2) + 2, max(int(np.ceil(shape[1] / size_px)), 2) + 2)
    seed = rng.standard_normal(small, dtype=np.float32)
    if small[0] >= shape[0] and small[1] >= shape[1]:
        return seed[: shape[0], : shape[1]]
    return cv2.resize(seed, shape[::-1], interpolation=cv2.INTER_CUBIC) * 1.25


def streaks(specimen: Specimen, direction_deg: float, width_um: float, length_um: float, rng) -> np.ndarray:
    """Return random ground of unit spread drawn out along a direction, (rows, cols) float32."""
    mapping, (across, along) = frame(direction_deg, specimen.shape)
    thin, long = max(width_um / specimen.pixel_size_um, 1.0), max(length_um / specimen.pixel_size_um, 2.0)
    seed = rng.standard_normal((int(across / thin) + 4, int(along / long) + 4), dtype=np.float32)
    shrink = np.diag([1 / long, 1 / thin]) @ mapping + np.array([[0, 0, 1.5], [0, 0, 1.5]])
    return cv2.warpAffine(
        seed, shrink, specimen.shape[::-1], flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REFLECT
    )


def draw_ground(specimen: Specimen, *, worn: bool, rng: np.random.Generator) -> Ground:
    """Draw one field of the specimen, in the track (worn) or outside it."""
    shape, pixel = specimen.shape, specimen.pixel_size_um
    severity = float(np.clip(rng.normal(1, 0.12), 0.7, 1.3))
    bands = wander(2048, 2048 * 70 / (np.hypot(*shape) * pixel), rng)
    lays = [draw_lay(specimen, which, worn=worn, severity=severity, bands=bands, rng=rng) for which in (0, 1)]
    honed = np.maximum(lays[0].honed_um, lays[1].honed_um)
    lowered = np.maximum(honed - lays[0].loss_um, 0)
    depth = np.maximum(lays[0].worn_um, lays[1].worn_um)
    named = np.where(lays[0].kind > 0, lays[0].kind, lays[1].kind)
    moved = np.where((depth < DEPTH_LIMIT_UM) & (lowered >= 0.08), named, 0).astype(np.uint8)
    codes = np.zeros(shape, np.uint8)
    codes[depth >= DEPTH_LIMIT_UM] = 1
    codes[(depth < DEPTH_LIMIT_UM) & (lowered >= DEPTH_LIMIT_UM) & (named > 0)] = 2
    height = -depth + _finish(specimen, lays, depth, worn, rng)
    torn = np.zeros(shape, np.float32)
    if worn and specimen.closed_share > 0:
        dragged = streaks(specimen, specimen.stroke_deg, rng.uniform(0.9, 2.2), rng.uniform(8, 40), rng)
        height += np.where(moved > 0, rng.uniform(0.03, 0.1) * np.clip(dragged, -2, 2), 0)
    if worn and specimen.scuff_share > 0:
        torn, height = _scuff(specimen, height, severity, rng)
        scuffed = torn >= 0.5
        codes[scuffed], moved[scuffed] = 3, 0
        depth = np.where(scuffed, 0, depth)
    height += _scratches(specimen, worn, rng)
    flake, pits = _inclusions(specimen, rng)
    pits[codes == 1] = 0
    height -= pits * (1 - torn)
    flake = np.maximum(flake, np.clip(pits * rng.uniform(0.2, 0.5), 0, 0.9))
    if worn:
        covered = (moved > 0) & (moved != 5)
        flake[covered] = 0
    grain, debris_height = _debris(specimen, worn, rng)
    codes[grain > 0.5] = NOT_ASSESSED
    height += debris_height
    film = cloud(shape, rng.uniform(40, 150) / pixel, rng) * (0.5 if worn else 0.25)
    if worn and rng.random() < 0.4:
        film = film + 0.6 * np.clip(
            streaks(specimen, specimen.stroke_deg, rng.uniform(15, 50), rng.uniform(150, 500), rng), -1.5, 1.5
        )
    void = _beyond_edge(shape, rng)
    codes[void] = NOT_ASSESSED
    return Ground(
        height_um=height.astype(np.float32), depth_um=depth.astype(np.float32), codes=codes, flake=flake * (1 - 0.8 * torn),
        moved=moved, torn=torn, grain=grain, film=film, void=void, lay_areas_px=(lays[0].area_px, lays[1].area_px),
        honed_valley_fraction=float(np.mean(honed >= DEPTH_LIMIT_UM)), worn=worn,
    )  # fmt: skip


def _finish(specimen: Specimen, lays: list[Lay], depth, worn: bool, rng) -> np.ndarray:
    """Finishing marks of both lays, burrs, and roughness: torn base honing below the lands, polish or stroke marks on them."""
    shape, pixel = specimen.shape, specimen.pixel_size_um
    marks = sum(
        np.minimum(streaks(specimen, specimen.lays_deg[which], rng.uniform(0.8, 2.0), rng.uniform(80, 300), rng), 1.0)
        for which in (0, 1)
    )
    polish = rng.uniform(0.1, 0.5) if worn else 1.0
    height = np.clip(specimen.marks_um * polish * marks, -0.33, 0.2)
    if worn:
        along = streaks(specimen, specimen.stroke_deg, rng.uniform(0.7, 2.5), rng.uniform(60, 250), rng)
        height += np.clip(rng.uniform(0.02, 0.1) * along, -0.2, 0.15)
    rough = cloud(shape, rng.uniform(0.6, 1.6) / pixel, rng)
    rough = rough * min(1.0, 1.2 / pixel)
    below = np.clip((depth - 0.15) / 0.45, 0, 1)
    owner = lays[1].worn_um > lays[0].worn_um
    drawn = [streaks(specimen, specimen.lays_deg[which], 1.4, rng.uniform(10, 60), rng) for which in (0, 1)]
    mix = rng.uniform(0.35, 0.9)
    dragged = mix * np.where(owner, drawn[1], drawn[0]) + (1.15 - mix) * rough
    land = specimen.land_rough_um * (0.6 if worn else 1.0)
    height = height * (1 - below) + rough * land * (1 - below) + specimen.floor_rough_um * dragged * below
    for lay in lays:
        height += lay.burr_um * (depth < 0.3) * (0.7 + 0.5 * rough)
    return height


def _scuff(specimen: Specimen, height, severity: float, rng) -> tuple[np.ndarray, np.ndarray]:
    """Torn and ploughed streaks along the stroke: their share of the field and the height with them."""
    field = streaks(specimen, specimen.stroke_deg, rng.uniform(18, 60), rng.uniform(250, 900), rng)
    field += 0.25 * streaks(specimen, specimen.stroke_deg, 6, 40, rng)
    limit = float(np.quantile(field[::4, ::4], 1 - min(specimen.scuff_share * severity, 0.6)))
    torn = np.clip((field - limit) / 0.1 + 0.5, 0, 1).astype(np.float32)
    ploughed = 0.9 * streaks(specimen, specimen.stroke_deg, 2.2, 80, rng) + 0.5 * streaks(
        specimen, specimen.stroke_deg, 7, 160, rng
    )
    ripped = np.maximum(streaks(specimen, specimen.stroke_deg, rng.uniform(2, 4), rng.uniform(5, 16), rng), -0.3)
    pulled = -1.1 * np.clip(cloud(specimen.shape, 9.0 / specimen.pixel_size_um, rng) - 1.1, 0, 1.2)
    scar = rng.uniform(0.4, 0.75) * ploughed + rng.uniform(0.15, 0.5) * ripped + pulled - 0.2
    return torn, height * (1 - torn) + (scar + 0.12 * height) * torn


def _scratches(specimen: Specimen, worn: bool, rng) -> np.ndarray:
    """Scratches along the stroke, told from grooves by direction only; plateau in the truth."""
    shape, pixel = specimen.shape, specimen.pixel_size_um
    relief = np.zeros(shape, np.float32)
    width_mm = shape[1] * pixel / 1000
    count = rng.poisson(specimen.wrong_way_scratches_per_mm * width_mm * (1.6 if worn else 0.4))
    for _ in range(min(int(count), 40)):
        middle = rng.uniform(0, 1, 2) * (shape[1], shape[0])
        turn = np.deg2rad(specimen.stroke_deg + rng.normal(0, 1.2))
        run = rng.uniform(0.1, 0.8) * max(shape) * np.array([np.cos(turn), -np.sin(turn)])
        thick = max(int(round(rng.uniform(1.0, 4.5) / pixel)), 1)
        line = np.zeros(shape, np.float32)
        ends = [tuple(int(round(16 * value)) for value in middle + side * run) for side in (-0.5, 0.5)]
        cv2.line(line, ends[0], ends[1], float(rng.uniform(0.3, 1.1)), thick, cv2.LINE_AA, 4)
        np.maximum(relief, line, out=relief)
    return -cv2.GaussianBlur(relief, (0, 0), 0.8) if count else relief


def _inclusions(specimen: Specimen, rng) -> tuple[np.ndarray, np.ndarray]:
    """Graphite flakes (0..1) and pits (µm): pull-outs of flakes, or the pores of a sprayed coat."""
    shape, pixel = specimen.shape, specimen.pixel_size_um
    flake, pits = np.zeros(shape, np.uint8), np.zeros(shape, np.uint8)
    ground_mm2 = shape[0] * shape[1] * pixel**2 / 1e6
    if specimen.metal == "flake iron":
        for _ in range(min(int(rng.poisson(rng.uniform(40, 260) * ground_mm2)), 500)):
            length, turn, bend = rng.gamma(3, 12) / pixel, rng.uniform(0, 2 * np.pi), rng.normal(0, 0.25)
            steps = np.arange(9)
            path = np.cumsum(np.stack([np.cos(turn + bend * steps), np.sin(turn + bend * steps)], 1) * length / 8, 0)
            points = (
                path
                + rng.uniform(0, 1, 2) * (shape[1], shape[0])
                + np.cumsum(rng.normal(0, 0.025 * length, path.shape), 0)
            )
            thick = max(int(round(rng.uniform(0.6, 2.2) / pixel)), 1)
            out = pits if rng.random() < 0.2 else flake
            cv2.polylines(out, [np.round(points * 8).astype(np.int32)], False, 255, thick, cv2.LINE_AA, 3)
    elif specimen.metal == "porous coat":
        for _ in range(min(int(rng.poisson(rng.uniform(30, 200) * ground_mm2)), 500)):
            radius = max(rng.gamma(2.5, 1.6) / pixel, 1.2)
            middle = tuple(int(8 * value) for value in rng.uniform(0, 1, 2) * (shape[1], shape[0]))
            axes = (int(8 * radius * rng.uniform(0.8, 1.6)), int(8 * radius))
            cv2.ellipse(pits, middle, axes, float(rng.uniform(0, 180)), 0, 360, 255, -1, cv2.LINE_AA, 3)
    flake = cv2.GaussianBlur(flake, (0, 0), 0.7).astype(np.float32) / 255
    pits = cv2.GaussianBlur(pits, (0, 0), 0.5 + 0.3 / pixel).astype(np.float32) / 255 * rng.uniform(1.2, 3.0)
    return flake, pits


def _debris(specimen: Specimen, worn: bool, rng) -> tuple[np.ndarray, np.ndarray]:
    """Loose particles: cover (0..1) and height in µm. They hide the surface."""
    shape, pixel = specimen.shape, specimen.pixel_size_um
    cover = np.zeros(shape, np.uint8)
    if rng.random() < 0.3:
        return cover.astype(np.float32), cover.astype(np.float32)
    ground_mm2 = shape[0] * shape[1] * pixel**2 / 1e6
    for _ in range(min(int(rng.poisson(rng.uniform(4, 60 if worn else 25) * ground_mm2 + 1)), 160)):
        radius, middle = max(rng.gamma(2.0, 1.6) / pixel, 1.5), rng.uniform(0, 1, 2) * (shape[1], shape[0])
        turn = np.sort(rng.uniform(0, 2 * np.pi, 9))
        reach = radius * rng.uniform(0.6, 1.3, 9)
        points = middle + np.stack([np.cos(turn) * reach, np.sin(turn) * reach], 1)
        cv2.fillPoly(cover, [np.round(points * 8).astype(np.int32)], 255, cv2.LINE_AA, 3)
    solid = cover.astype(np.float32) / 255
    return solid, cv2.GaussianBlur(solid, (0, 0), max(0.8 / pixel, 0.7)) * rng.uniform(1.0, 3.5)


def _beyond_edge(shape, rng) -> np.ndarray:
    """Now and then the specimen ends in the picture."""
    void = np.zeros(shape, bool)
    if rng.random() < 0.03:
        edge = rng.uniform(0.03, 0.15) * shape[1] + 3 * wander(shape[0], 30, rng) + wander(shape[0], 3, rng)
        void = np.arange(shape[1])[None, :] < edge[:, None]
        void = void if rng.random() < 0.5 else void[:, ::-1]
    return np.ascontiguousarray(void)
