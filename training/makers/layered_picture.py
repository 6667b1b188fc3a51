"""The picture of the layered maker: materials blended through the masks, look-alikes, and the instrument."""

import cv2
import numpy as np

from makers.layered_surface import Grooves, Masks, Sheet

# Looks: floor level, bright rim, emboss, texture, film, graphite level, each a range (plateau = 0, strong contrast = 1).
LOOKS = {
    "backscatter": ((-1.3, -0.5), (0.0, 0.2), (0.0, 0.2), (0.05, 0.14), (0.1, 0.5), (-1.5, -0.8)),
    "in-lens": ((-0.45, 0.25), (0.5, 1.2), (0.0, 0.25), (0.08, 0.25), (0.1, 0.5), (-0.9, -0.3)),
    "side": ((-0.5, 0.1), (0.0, 0.4), (0.5, 1.3), (0.08, 0.22), (0.0, 0.3), (-0.8, -0.2)),
    "films": ((-0.8, -0.1), (0.1, 0.5), (0.05, 0.3), (0.08, 0.22), (0.4, 1.0), (-0.9, -0.3)),
    "mixed": ((-1.1, -0.25), (0.1, 0.9), (0.1, 0.7), (0.08, 0.3), (0.0, 0.5), (-1.2, -0.3)),
    "light floor": ((0.3, 0.9), (0.0, 0.7), (0.1, 0.6), (0.08, 0.22), (0.0, 0.4), (-1.0, -0.3)),
}
LOOK_SHARES = (0.18, 0.16, 0.17, 0.14, 0.25, 0.1)


def _blots(
    sheet: Sheet, count: int, size_um: tuple[float, float], stretch: float, angle_deg: float | None = None
) -> np.ndarray:
    """Irregular patches (rows, cols) float32 0 … 1: star-shaped outlines of random radii, long side at angle_deg if given."""
    rng, pixel = sheet.rng, sheet.pixel_size_um
    drawn = np.zeros(sheet.shape, np.float32)
    turn = np.linspace(0, 2 * np.pi, 25)[:-1]
    for _ in range(min(count, 60)):
        size = np.exp(rng.uniform(*np.log(size_um))) / 2
        rough = 1 + sum(rng.normal(0, 0.3 / wave) * np.cos(wave * turn + rng.uniform(0, 6.3)) for wave in (2, 3, 5, 7))
        long = 1 + (stretch - 1) * rng.random()
        a = np.deg2rad(rng.uniform(0, 180) if angle_deg is None else angle_deg)
        u, v = size * rough * np.cos(turn) * long**0.5, size * rough * np.sin(turn) / long**0.5
        place = rng.uniform(0, 1, 2) * sheet.shape[::-1]
        xy = place + np.stack([u * np.cos(a) + v * np.sin(a), -u * np.sin(a) + v * np.cos(a)], axis=-1) / pixel
        cv2.fillPoly(drawn, [np.round(16 * xy).astype(np.int32)], 1.0, lineType=cv2.LINE_AA, shift=4)
    return drawn


def _flakes(sheet: Sheet, density: float) -> np.ndarray:
    """Graphite flakes cut by the surface: short bent dark lines, (rows, cols) float32 0 … 1; density per (100 µm)²."""
    rng, pixel = sheet.rng, sheet.pixel_size_um
    drawn = np.zeros(sheet.shape, np.float32)
    area = sheet.shape[0] * sheet.shape[1] * pixel**2 / 1e4
    size, along = rng.uniform(8, 50), np.linspace(0, 1, 7)
    for _ in range(min(rng.poisson(density * area), 150)):
        length = size * rng.uniform(0.3, 1.6)
        heading = rng.uniform(0, 6.3) + np.cumsum(rng.normal(0, 0.35, 7))
        steps = length / 7 / pixel * np.stack([np.cos(heading), np.sin(heading)], axis=-1)
        xy = rng.uniform(0, 1, 2) * sheet.shape[::-1] + np.cumsum(steps, axis=0)
        broad = np.maximum(rng.uniform(0.5, 2.2) * np.sin(np.pi * np.clip(along, 0.06, 0.94)), 0.1) / pixel / 2
        aside = np.stack([-np.sin(heading), np.cos(heading)], axis=-1) * broad[:, None]
        cv2.fillPoly(
            drawn,
            [np.round(16 * np.r_[xy + aside, (xy - aside)[::-1]]).astype(np.int32)],
            1.0,
            lineType=cv2.LINE_AA,
            shift=4,
        )
    return drawn


def _plateau(
    sheet: Sheet, rough: float, lays_deg: tuple[float, float], stroke_deg: float, worn: np.ndarray, run: bool
) -> np.ndarray:
    """Plateau: mottling and finishing marks along the lays; where the ring ran, polished and marked along the stroke."""
    rng = sheet.rng
    tex = sheet.fractal(rng.uniform(0.8, 4), 2) * np.float32(rough * rng.uniform(0.2, 1.0))
    tex += sheet.noise(rng.uniform(8, 40)) * np.float32(rough * rng.uniform(0, 0.6))
    for lay in lays_deg:
        marks = sheet.noise(rng.uniform(0.4, 2.5), rng.uniform(40, 400), lay)
        if rng.random() < 0.5:
            marks = np.maximum(np.abs(marks) - 1.0, 0) * np.float32(rng.choice((-1.5, 1.5)))
        tex += marks * np.float32(rough * rng.uniform(0, 1.0))
    if run:
        kept = np.float32(rng.uniform(0.25, 1.0))
        ran = sheet.noise(rng.uniform(0.4, 3), rng.uniform(60, 800), stroke_deg)
        if rng.random() < 0.4:
            ran = ran + np.maximum(np.abs(sheet.noise(rng.uniform(0.8, 4), 900, stroke_deg)) - 1.6, 0) * np.float32(
                rng.uniform(-2.5, 2.5)
            )
        tex = np.where(worn, tex * kept + ran * np.float32(rough * rng.uniform(0.2, 1.0)), tex)
    return tex


def _floor(sheet: Sheet, level: float, masks: Masks, grooves: Grooves) -> np.ndarray:
    """Groove floors: a level for each groove, a cross-section, and granular, lined, mottled, filled or patchy material."""
    rng, pixel = sheet.rng, sheet.pixel_size_um
    spread = rng.uniform(0.05, 0.35)
    levels = np.r_[0.0, level * np.exp(rng.normal(0, spread, len(grooves)))].astype(np.float32)
    widths = np.r_[1.0, grooves.width_um].astype(np.float32)
    deep = cv2.distanceTransform(masks.open.astype(np.uint8), cv2.DIST_L2, 3) * np.float32(pixel)
    deep = np.minimum(deep / (np.float32(rng.uniform(0.15, 0.55)) * widths[masks.label] + np.float32(0.5 * pixel)), 1)
    start = np.float32(rng.uniform(0.45, 1.0) if rng.random() < 0.7 else rng.uniform(1.0, 1.4))
    floor = levels[masks.label] * (start + (1 - start) * deep)
    strength = np.float32(rng.uniform(0.05, 0.35) * (0.4 + abs(level)))
    style = rng.choice(5)
    if style == 0:
        floor += strength * sheet.noise(rng.uniform(0.4, 1.6))
    elif style == 1:
        angles = [
            float(np.median(grooves.angle_deg[grooves.lay == lay])) if (grooves.lay == lay).any() else 0.0
            for lay in (0, 1)
        ]
        lined = [sheet.noise(rng.uniform(0.4, 1.8), rng.uniform(20, 150), angle) for angle in angles]
        second = np.r_[False, grooves.lay == 1][masks.label]
        floor += strength * np.where(second, lined[1], lined[0])
    elif style == 2:
        floor += strength * sheet.fractal(rng.uniform(2, 10), 4, 0.75)
    elif style == 3:
        filled = np.clip(sheet.fractal(rng.uniform(6, 40), 3) * 2 + rng.uniform(-1, 2), 0, 1)
        floor = floor * (1 - filled) + filled * (
            floor.dtype.type(level - rng.uniform(0.0, 0.4)) + 0.3 * strength * sheet.noise(0.6)
        )
    else:
        grains = np.maximum(sheet.noise(rng.uniform(0.6, 2.5), smooth=True) - 1.0, 0)
        floor += 2.5 * strength * grains + 0.4 * strength * sheet.noise(0.5)
    return floor


def compose(
    sheet: Sheet,
    masks: Masks,
    grooves: Grooves,
    look: str,
    lays_deg: tuple[float, float],
    stroke_deg: float,
    wear: str,
    noise: float,
    hard: bool,
) -> tuple[np.ndarray, np.ndarray]:
    """All layers blended into one picture in units of contrast, and the mask of debris."""
    rng, pixel = sheet.rng, sheet.pixel_size_um
    level, rim, emboss, rough, film, carbon = (rng.uniform(*limits) for limits in LOOKS[look])
    f32 = np.float32
    picture = tex = _plateau(sheet, rough, lays_deg, stroke_deg, masks.worn, wear != "unworn")
    unrest = float(np.hypot(tex[::4, ::4].std(), 0.6 * noise))
    seen, need = abs(level) + 0.7 * rim + 0.7 * emboss, 0.3 + 1.3 * unrest
    if seen < need and not hard:  # a groove that nobody can see is no truth
        level, rim, emboss = (value * need / seen for value in (level, rim, emboss))
    soft = rng.uniform(0.08, 0.5)
    has_closed, has_scuff = masks.closed.any(), masks.scuffed.any()
    opened = sheet.blur(masks.open.astype(np.float32), soft)
    floor = _floor(sheet, level, masks, grooves)
    if wear != "unworn" and rng.random() < 0.4:  # floors lifted in bands along the stroke
        floor *= np.where(
            masks.worn, np.clip(f32(0.85) + f32(0.25) * sheet.noise(rng.uniform(10, 60), 300, stroke_deg), 0.6, 1), 1
        )
    picture = tex + opened * (floor - tex)
    wall_um = rng.uniform(0.25, 1.6)
    wall_px = max(wall_um / pixel, 0.6)
    height = -masks.open.astype(np.float32)
    if masks.ghost.any():
        faint = f32(rng.uniform(0.06, 0.16))
        picture += faint * sheet.blur(masks.ghost.astype(np.float32), 1.0) * floor
        height -= 0.5 * faint * masks.ghost
    if has_closed:
        closed = sheet.blur(masks.closed.astype(np.float32), soft * rng.choice([1.0, 1.0, 3.0]))
        kind = rng.choice(
            4, p=(0.4, 0.15, 0.26, 0.19)
        )  # brighter, darker, floor shining through, texture and rims alone
        shift = (rng.uniform(0.06, 0.3) + unrest * rng.uniform(0.3, 1.3)) * (1.0, -0.7, 0.0, 0.0)[kind]
        shifts = np.r_[0.0, shift * rng.uniform(0.6, 1.3, len(grooves))].astype(np.float32)
        streaks = sheet.noise(rng.uniform(0.5, 3), rng.uniform(15, 120), stroke_deg)
        smear = shifts[masks.label] + streaks * f32(rng.uniform(0.4, 1.6) * rough) + f32(rng.uniform(0.1, 0.5)) * tex
        smear += sheet.noise(rng.uniform(4, 15), rng.uniform(10, 60), stroke_deg) * f32(rng.uniform(0, 0.6) * rough)
        if kind == 2:
            smear += f32(
                np.sign(level) * min(rng.uniform(0.08, 0.25) + unrest * rng.uniform(0.3, 1.0), 0.05 + 0.4 * abs(level))
            )
        picture += closed * (smear - picture)
        footprint = sheet.blur((masks.closed | masks.open).astype(np.float32), max(0.35, 0.6 * wall_um))
        trace = 4 * footprint * (1 - footprint) * np.clip(0.9 + 0.6 * sheet.noise(rng.uniform(3, 12)), 0, 1.4)
        picture += (
            closed
            * trace
            * f32(
                (rng.uniform(0.1, 0.45) + unrest * (1.2 if kind == 3 else 0.5)) * rng.choice((-1.0, 1.0), p=(0.6, 0.4))
            )
        )
        if rng.random() < 0.5:  # the flap's own edge over what stays open
            picture += closed * opened * f32(4 * rng.uniform(0.15, 0.7) * rng.choice((-1, 1)))
        picture -= masks.seam * f32(rng.uniform(0.2, 0.8))
        height += masks.closed * (f32(rng.uniform(-0.3, 0.25)) + f32(rng.uniform(0, 0.12)) * streaks)
    if has_scuff:
        torn = sheet.noise(rng.uniform(0.8, 3), rng.uniform(8, 80), stroke_deg) * f32(rng.uniform(0.15, 0.5))
        torn += sheet.fractal(rng.uniform(2, 8), 3, 0.8) * f32(rng.uniform(0.1, 0.45))
        pits = sheet.noise(rng.uniform(2, 8), rng.uniform(6, 40), stroke_deg, smooth=True)
        torn += np.where(pits > rng.uniform(0.8, 1.8), f32(-rng.uniform(0.2, 0.9)), f32(0)) + np.where(
            pits < -rng.uniform(1, 2), f32(rng.uniform(0, 0.7)), f32(0)
        )
        torn += f32(rng.uniform(-0.35, 0.4))
        scuff = sheet.blur(masks.scuffed.astype(np.float32), 2 * soft)
        picture += scuff * (torn - picture)
        height += masks.scuffed * torn * f32(rng.uniform(0.2, 0.8))
    edge = sheet.blur(masks.open.astype(np.float32), wall_um, 0.6)
    lines = 4 * edge * (1 - edge)
    shape = np.clip(f32(0.8) + f32(rng.uniform(0, 0.8)) * sheet.noise(rng.uniform(2, 20)), 0, 2)
    rim *= 1 if rng.random() < 0.9 else -1  # a dark line at the rim now and then
    outside = edge < 0.5 if rng.random() < 0.5 else True
    picture += f32(rim) * lines * shape * np.where(outside, f32(1), f32(0.35))
    if emboss > 0.03:
        height = sheet.blur(height, wall_um, 0.6)
        light = rng.uniform(0, 2 * np.pi)
        slope = cv2.Sobel(height, cv2.CV_32F, 1, 0, ksize=3) * f32(np.cos(light) / 8) + cv2.Sobel(
            height, cv2.CV_32F, 0, 1, ksize=3
        ) * f32(np.sin(light) / 8)
        picture += f32(emboss * 2.5 * wall_px) * slope
    return _lookalikes(sheet, picture, film, carbon, rough, stroke_deg)


def _lookalikes(
    sheet: Sheet, picture: np.ndarray, film: float, carbon: float, rough: float, stroke_deg: float
) -> tuple[np.ndarray, np.ndarray]:
    """Add what is not a valley: graphite, pull-outs, stains, films, scratches along the stroke; debris is returned as a mask."""
    rng, f32 = sheet.rng, np.float32
    if rng.random() < 0.3:
        flakes = sheet.blur(_flakes(sheet, np.exp(rng.uniform(np.log(0.3), np.log(8)))), rng.uniform(0.05, 0.4))
        picture = picture + flakes * (f32(carbon) - picture)
    if rng.random() < 0.15:
        picture += _blots(sheet, rng.poisson(6), (1.5, 12), 2.5) * f32(rng.uniform(-1.0, -0.3))
    if film > 0.15 and rng.random() < 0.6:
        patch = (
            sheet.fractal(rng.uniform(8, 80), 3)
            if rng.random() < 0.5
            else sheet.noise(rng.uniform(5, 25), rng.uniform(30, 200), stroke_deg)
        )
        patch = np.clip((patch - f32(rng.uniform(-0.3, 1.2))) * f32(rng.uniform(0.8, 6)), 0, 1)
        tint = f32(rng.uniform(-0.5, 0.35) * film) + sheet.noise(rng.uniform(0.6, 3)) * f32(0.5 * rough)
        picture += patch * (tint - f32(0.25) * picture)
    if rng.random() < 0.2:
        picture += sheet.blur(_blots(sheet, rng.poisson(4), (15, 120), 3), rng.uniform(1, 8)) * f32(
            rng.uniform(-0.6, 0.4)
        )
    if rng.random() < 0.2:
        fine = np.zeros(sheet.shape, np.float32)
        way = np.array([np.cos(np.deg2rad(stroke_deg)), -np.sin(np.deg2rad(stroke_deg))])
        for _ in range(rng.integers(1, 9)):
            middle, long = rng.uniform(0, 1, 2) * sheet.shape[::-1], rng.uniform(20, 800) / sheet.pixel_size_um * way
            ends = np.round(16 * np.stack([middle - long / 2, middle + long / 2])).astype(int)
            thick = max(1, round(rng.uniform(0.5, 3.5) / sheet.pixel_size_um))
            cv2.line(
                fine, ends[0].tolist(), ends[1].tolist(), float(rng.uniform(0.4, 1)), min(thick, 20), cv2.LINE_AA, 4
            )
        picture += sheet.blur(fine, 0.3) * f32(rng.choice((-1, 1)) * rng.uniform(0.15, 0.7))
    debris = np.zeros(sheet.shape, bool)
    if rng.random() < 0.2:
        pieces = _blots(sheet, 1 + rng.poisson(2), (3 + 4 * sheet.pixel_size_um, 25), 3)
        debris = pieces > 0.5
        shade = np.roll(sheet.blur(pieces, 1.5), rng.integers(-4, 5, 2), (0, 1))
        lump = sheet.blur(pieces, 2.0) * f32(rng.uniform(0.3, 1.3)) + f32(0.3) * sheet.fractal(3, 2)
        picture += f32(-rng.uniform(0, 0.6)) * shade
        picture = np.where(debris, lump, picture)
    return picture, debris


def photograph(sheet: Sheet, picture: np.ndarray, noise: float, hard: bool) -> np.ndarray:
    """The instrument: beam, shading, charging, noise, grey scale, and what later became of the picture."""
    rng, f32 = sheet.rng, np.float32
    rows, cols = sheet.shape
    beam = rng.uniform(0.3, 0.9) if not hard else rng.uniform(0.9, 2.0)
    stretch = np.exp(rng.normal(0, 0.15))
    picture = cv2.GaussianBlur(picture, (0, 0), beam * stretch, sigmaY=beam / stretch, borderType=cv2.BORDER_REPLICATE)
    x, y = np.linspace(-1, 1, cols, dtype=np.float32)[None, :], np.linspace(-1, 1, rows, dtype=np.float32)[:, None]
    a, b, c, d = (f32(value) for value in rng.normal(0, rng.choice([0.03, 0.12, 0.3]), 4))
    picture = picture * (1 + 0.3 * a * x) + a * x + b * y + c * x * y + d * (x * x + y * y)
    if rng.random() < 0.08:
        picture = picture + cv2.GaussianBlur(
            rng.normal(0, 1, (rows, 1)).astype(np.float32), (0, 0), rng.uniform(1, 20)
        ) * f32(rng.uniform(0.1, 0.8))
    if rng.random() < 0.12:
        picture = picture + rng.normal(0, rng.uniform(0.02, 0.12), (rows, 1)).astype(np.float32)
    if rng.random() < 0.08:
        along = np.arange(cols, dtype=np.float32) + rng.normal(0, rng.uniform(0.1, 0.6), (rows, 1)).astype(np.float32)
        down = np.repeat(np.arange(rows, dtype=np.float32)[:, None], cols, 1)
        picture = cv2.remap(picture, along, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    grain = sheet.white()[:, ::-1]
    if rng.random() < 0.3:
        grain = cv2.GaussianBlur(grain, (0, 0), rng.uniform(0.4, 0.8)) * f32(1.8)
    picture += grain * f32(noise) * np.sqrt(np.clip(1 + 0.6 * picture, 0.2, 2.5))
    middle, spread = cv2.meanStdDev(picture[::3, ::3])
    scale = float(np.exp(rng.uniform(np.log(14), np.log(55)))) if not hard else rng.uniform(7, 20)
    grey = (picture - f32(middle[0, 0])) * f32(scale / max(spread[0, 0], 0.1)) + f32(rng.uniform(60, 190))
    grey = np.clip(grey, 0, 255)
    if rng.random() < 0.35:
        table = 255 * (np.arange(256) / 255) ** np.exp(rng.normal(0, 0.3))
        grey = cv2.LUT(grey.astype(np.uint8), table.astype(np.uint8)).astype(np.float32)
    after = rng.choice(
        ["as taken", "smoothed", "median", "sharpened", "posterised", "print", "jpeg"],
        p=(0.5, 0.09, 0.06, 0.1, 0.05, 0.08, 0.12),
    )
    if after == "smoothed":
        grey = cv2.GaussianBlur(grey, (0, 0), rng.uniform(0.7, 1.6))
    elif after == "median":
        grey = cv2.medianBlur(grey.astype(np.uint8), int(rng.choice([3, 5])))
    elif after == "sharpened":
        grey = grey + f32(rng.uniform(0.5, 2.0)) * (grey - cv2.GaussianBlur(grey, (0, 0), rng.uniform(0.8, 2.5)))
    elif after == "posterised":
        step = f32(rng.uniform(8, 24))
        grey = np.round(grey / step) * step
    elif after == "print":
        pitch = rng.uniform(2.2, 5)
        dots = np.sin(2 * np.pi / pitch * (np.arange(cols)[None, :] + np.arange(rows)[:, None])).astype(
            np.float32
        ) * np.sin(2 * np.pi / pitch * (np.arange(cols)[None, :] - np.arange(rows)[:, None])).astype(np.float32)
        grey = (
            cv2.GaussianBlur(
                f32(rng.uniform(20, 60)) + grey * f32(rng.uniform(0.5, 0.8)) + dots * f32(rng.uniform(0, 10)),
                (0, 0),
                0.6,
            )
            + sheet.noise(2 * sheet.pixel_size_um) * 2
        )
    grey = np.clip(grey, 0, 255).astype(np.uint8)
    if after == "jpeg":
        grey = cv2.imdecode(
            cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(35, 92))])[1], cv2.IMREAD_GRAYSCALE
        )
    return grey
