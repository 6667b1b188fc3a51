"""Maker of training fields from one-dimensional stories: every groove is a straight strip, a grey cross-section and a
story along it (open, closed, open), laid into the picture at its lay's angle."""

import math
from dataclasses import dataclass, replace

import numpy as np

from .made import Made
from .strips_frame import Frame, line, log_uniform
from .strips_groove import Canvas, Groove, Style, cut_groove, draw_style, draw_tiles
from .strips_ground import draw_burnish, draw_debris, draw_films, draw_flakes, draw_ground, draw_scratches, draw_spots
from .strips_picture import take_picture
from .strips_scuff import draw_scuffing
from .strips_story import Wear, draw_wear, tell


@dataclass(frozen=True, kw_only=True)
class Track:
    """The worn side of a track edge along the stroke: signed distance in px, positive where the ring ran."""

    shape: tuple[int, int]
    stroke: float
    side: float
    place: float
    wiggle: np.ndarray

    def inside(self, along: np.ndarray, across: np.ndarray) -> np.ndarray:
        """Distance from stroke coordinates (px from the picture's middle)."""
        index = np.clip(along + self.wiggle.size / 2, 0, self.wiggle.size - 1).astype(np.int32)
        return self.side * (across - np.float32(self.place) - self.wiggle[index])

    def picture(self) -> np.ndarray:
        """Distance at every pixel of the picture."""
        height, width = self.shape
        x = np.arange(width, dtype=np.float32)[None, :] - np.float32((width - 1) / 2)
        y = np.arange(height, dtype=np.float32)[:, None] - np.float32((height - 1) / 2)
        cos, sin = np.float32(math.cos(self.stroke)), np.float32(math.sin(self.stroke))
        return self.inside(x * cos + y * sin, y * cos - x * sin)

    def canvas(self, frame: Frame):
        """The same for columns and rows of a lay's canvas."""
        rows, columns = frame.size
        turn = frame.angle - self.stroke
        cos, sin = np.float32(math.cos(turn)), np.float32(math.sin(turn))

        def worn(u: np.ndarray, r: np.ndarray) -> np.ndarray:
            du, dr = u - np.float32((columns - 1) / 2), (r - np.float32((rows - 1) / 2)).astype(np.float32)
            return self.inside(du * cos - dr * sin, du * sin + dr * cos)

        return worn


def _finish(rng: np.random.Generator, pixel_size_um: float, reach: float) -> dict:
    """Widths, depths and crowding of the field's grooves; `reach` is the picture's shorter side in px."""
    field_um = reach * pixel_size_um
    typical = min(log_uniform(rng, 2.2, 45), log_uniform(rng, 0.025, 0.3) * field_um)
    typical = max(typical, 2.4 * pixel_size_um, 2.0)
    plateaued = rng.random() < 0.5
    return {
        "width": typical,
        "spread": rng.uniform(0.1, 0.7),
        "depth": log_uniform(rng, 0.8, 6),
        "shallow": rng.uniform(0, 0.15) if plateaued else rng.uniform(0.05, 0.45),
        "area": float(rng.choice([log_uniform(rng, 0.03, 0.12), rng.uniform(0.08, 0.3)], p=[0.35, 0.65])),
        "tilt": log_uniform(rng, 0.001, 0.05),
        "curve": float(rng.choice([0.0, log_uniform(rng, 0.001, 0.009)], p=[0.65, 0.35])),
        "strands": float(rng.choice([0.0, rng.uniform(0.1, 0.7)], p=[0.7, 0.3])),
        "gaps": float(rng.choice([0.0, rng.uniform(0.05, 0.5)], p=[0.6, 0.4])),
    }


def _grooves(
    rng: np.random.Generator,
    frame: Frame,
    finish: dict,
    share: float,
    wear: Wear | None,
    pixel_size_um: float,
    stroke: float,
) -> list[Groove]:
    """The grooves of one lay; `share` scales their area."""
    rows, columns = frame.size
    width = finish["width"] / pixel_size_um
    turn = frame.angle - stroke
    across = math.sin(turn)
    number = min(int(rng.poisson(finish["area"] * share * rows / width * math.exp(-(finish["spread"] ** 2) / 2))), 220)
    if number == 0 and share > 0.5:
        number = 1
    comb = rng.random() < 0.3
    places = (np.arange(number) + rng.uniform(0, 1, number)) / max(number, 1) if comb else rng.uniform(0, 1, number)
    bow = line(rng, columns, columns / rng.uniform(0.5, 4)) * finish["curve"] * columns * 0.5
    grooves = []
    for place in places:
        row = float(place) * rows
        own = width * rng.lognormal(0, finish["spread"])
        own = min(max(own, 2.0, 2 / pixel_size_um), 60 / pixel_size_um, 0.4 * min(frame.shape))
        faint = rng.random() < finish["shallow"] * (1.0 if wear is None else 0.5)
        depth = rng.uniform(0.2, 0.42) if faint else min(max(finish["depth"] * rng.lognormal(0, 0.5), 0.62), 10)
        if faint:
            own = max(1.5, min(own * rng.uniform(0.2, 0.6), 5 / pixel_size_um))
        elif rng.random() < 0.04:
            depth = rng.uniform(0.5, 0.62)
        first, last = frame.visible(row, own + (abs(finish["tilt"]) + finish["curve"]) * columns * 0.5 + 4)
        if last - first < 5:
            continue
        u = np.arange(first, last, dtype=np.float64)
        middle = row + rng.normal(0, finish["tilt"]) * (u - columns / 2) * 0.5 + bow[first:last]
        half = own / 2 * (1 + rng.uniform(0, 0.15) * line(rng, u.size, max(own * rng.uniform(3, 30), 8)))
        if rng.random() < finish["gaps"] * (1.0 if wear is None else 0.4):
            half = half * _tapered(rng, u.size, own)
        events = []
        if wear is not None and not faint:
            slope = 1 / across if abs(across) > 0.1 else 0.0
            cross = columns / 2 - (row - rows / 2) * math.cos(turn) * slope
            events = tell(rng, wear, first, last, own, (cross, slope))
        strands = int(rng.integers(2, 5)) if rng.random() < finish["strands"] and own > 8 else 1
        rank = int(np.clip(rng.integers(20, 200) + 8 * depth, 1, 255))
        offsets = (np.arange(strands) - (strands - 1) / 2) / strands
        for offset in offsets:
            fan = offset * own * (1 + rng.normal(0, 0.3) * (u - u[0]) / columns * (strands > 1))
            thin = half if strands == 1 else half / strands * rng.uniform(0.6, 0.95)
            grooves.append(
                Groove(first=first, middle=middle + fan, half=thin, depth=depth, rank=rank, events=list(events))
            )
        if strands == 1 and rng.random() < 0.08:
            fork = rng.choice([-1, 1]) * rng.uniform(0.02, 0.12) * np.maximum(u - rng.uniform(first, last), 0)
            grooves.append(
                Groove(first=first, middle=middle + fork, half=half * 0.8, depth=depth, rank=rank, events=list(events))
            )
    return sorted(grooves, key=lambda groove: groove.rank)


def _tapered(rng: np.random.Generator, count: int, width: float) -> np.ndarray:
    """Ends that run out to a point: the groove was cut no further."""
    u = np.arange(count)
    keep = np.ones(count)
    run = width * rng.uniform(2, 8) + 6
    for _ in range(int(rng.integers(1, 3))):
        end, way = rng.uniform(0, count), rng.choice([-1, 1])
        if rng.random() < 0.5:
            keep = np.minimum(keep, np.clip((u - end) * way / run, 0, 1))
        else:
            keep = np.minimum(keep, np.clip((np.abs(u - end) - width * rng.uniform(1, 6)) / run, 0, 1))
    return np.sqrt(keep)


def _lay(
    rng: np.random.Generator,
    frame: Frame,
    finish: dict,
    share: float,
    style: Style,
    wear: Wear | None,
    track: Track | None,
    pixel_size_um: float,
    stroke: float,
) -> Canvas:
    canvas = Canvas(frame=frame)
    grooves = _grooves(rng, frame, finish, share, wear, pixel_size_um, stroke)
    if not grooves:
        return canvas
    tallest = max(2 * float(np.max(groove.half)) for groove in grooves)
    rows = int(1.6 * tallest + 4 * style.rim_width + 2 * style.edge + 80)
    tiles = draw_tiles(rng, frame, stroke, rows, finish["width"] / pixel_size_um, pixel_size_um)
    worn = track.canvas(frame) if track is not None else None
    for groove in grooves:
        cut_groove(rng, canvas, groove, style, tiles, stroke, worn)
    return canvas


def _join(scene: np.ndarray, canvases: list[Canvas]) -> tuple[np.ndarray, np.ndarray]:
    """Both lays over the plateau: at a crossing the groove that was cut later lies on top."""
    greys = [canvas.frame.to_picture(canvas.grey) for canvas in canvases]
    stays = [1 - canvas.frame.to_picture(canvas.alpha) for canvas in canvases]
    codes = [canvas.frame.to_picture(canvas.codes, nearest=True) for canvas in canvases]
    ranks = [canvas.frame.to_picture(canvas.rank, nearest=True) for canvas in canvases]
    second = ranks[1] >= ranks[0]
    upper = np.where(second, codes[1], codes[0])
    lower = np.where(second, codes[0], codes[1])
    thin = np.where(second, stays[1], stays[0]) > 0.5
    # A cover that lets the picture below through does not hide an open groove that it crosses.
    truth = np.where((upper == 0) | ((upper == 2) & (lower == 1) & thin), lower, upper)
    over = np.where(second, greys[0] * stays[1] + greys[1], greys[1] * stays[0] + greys[0])
    return scene * stays[0] * stays[1] + over, truth.astype(np.uint8)


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """Draw one field."""
    reach = float(min(shape))
    stroke = math.radians(float(rng.choice([0.0, 90.0])) + rng.normal(0, 4))
    if rng.random() < 0.25:
        stroke = rng.uniform(0, math.pi)
    hone = math.radians(rng.uniform(140, 150) if rng.random() < 0.12 else rng.uniform(20, 140))
    lays = tuple(stroke + math.pi / 2 + sign * hone / 2 for sign in (-1, 1))
    light = rng.uniform(-math.pi, math.pi)
    backscatter = rng.random() < 0.3

    zone = str(rng.choice(["unworn", "worn", "edge"], p=[0.29, 0.51, 0.2]))
    track = None
    worn = np.full(shape, zone == "worn")
    if zone == "edge":
        length = int(2 * math.hypot(*shape))
        wiggle = line(rng, length, length / rng.uniform(2, 20)) * rng.uniform(0, 0.012) * reach
        track = Track(
            shape=shape,
            stroke=stroke,
            side=rng.choice([-1.0, 1.0]),
            place=rng.uniform(-0.35, 0.35) * reach,
            wiggle=wiggle,
        )
        worn = track.picture() > 0
    ran = zone != "unworn"

    finish = _finish(rng, pixel_size_um, reach)
    blur = float(rng.choice([0.0, rng.uniform(0.4, 1.2), rng.uniform(1.2, 3.0)], p=[0.3, 0.5, 0.2]))
    blur = min(blur, 0.2 * finish["width"] / pixel_size_um)
    scene = draw_ground(rng, shape, pixel_size_um, stroke, lays, worn)
    if rng.random() < 0.3:
        draw_flakes(rng, scene, pixel_size_um)
    if rng.random() < (0.5 if ran else 0.25):
        draw_scratches(rng, scene, pixel_size_um, stroke, deep=False)

    styles = [draw_style(rng, pixel_size_um, math.cos(light - lays[0] - math.pi / 2), backscatter, blur)]
    styles.append(styles[0])
    if rng.random() < 0.15:
        styles[1] = draw_style(rng, pixel_size_um, math.cos(light - lays[1] - math.pi / 2), backscatter, blur)
    if zone == "worn" and styles[0].family != "rims" and rng.random() < 0.5:
        polish = rng.uniform(0.1, 0.8)
        styles = [replace(style, rims=(style.rims[0] * polish, style.rims[1] * polish)) for style in styles]
    scuffed = ran and rng.random() < 0.27
    smeared = ran and rng.random() < (0.7 if scuffed else 0.97)
    wears = (None, None)
    if smeared:
        wears = draw_wear(rng, styles[0].tone, styles[0].family == "rims", reach, float(scene.std()))

    bands = next((wear.bands for wear in wears if wear is not None and wear.bands), ())
    if ran and rng.random() < (0.4 if bands else 0.12):
        # Polished bands without closed grooves are drawn as well, so that polish alone tells nothing.
        chance = ((rng.uniform(-0.4, 0.4) * reach, log_uniform(rng, 0.02, 0.3) * reach),)
        draw_burnish(rng, scene, stroke, bands or chance, worn)
    bare = rng.random() < 0.075
    balance = [(1.0, 1.0), (1.0, rng.uniform(0.1, 0.8)), (rng.uniform(0.1, 0.8), 1.0), (1.6, 0.0), (0.0, 1.6)]
    shares = (0.0, 0.0) if bare else balance[int(rng.choice(5, p=[0.5, 0.18, 0.18, 0.07, 0.07]))]
    if wears[0] is not None and 0.0 in shares:
        wears = (wears[0], wears[0]) if wears[0].share > 0 or wears[0].bands or wears[0].whole else (wears[1], wears[1])
    canvases = [
        _lay(rng, Frame(shape=shape, angle=lay), finish, share, style, wear, track, pixel_size_um, stroke)
        for lay, share, style, wear in zip(lays, shares, styles, wears, strict=True)
    ]
    scene, codes = _join(scene, canvases)
    codes[(codes == 2) & ~worn] = 1

    if rng.random() < (0.35 if ran else 0.15):
        draw_films(rng, scene, pixel_size_um, stroke)
    if rng.random() < (0.2 if ran else 0.06):
        draw_scratches(rng, scene, pixel_size_um, stroke, deep=True)
    if scuffed:
        draw_scuffing(rng, scene, codes, worn, pixel_size_um, stroke)
    if rng.random() < 0.3:
        draw_spots(rng, scene, pixel_size_um)
    if rng.random() < 0.2:
        draw_debris(rng, scene, codes, pixel_size_um, light)
    kind = "bare" if bare else zone
    kind += "_smeared" if smeared and not bare else ""
    kind += "_scuffed" if scuffed else ""
    return Made(image=take_picture(rng, scene.astype(np.float32), light, blur), codes=codes, worn=worn, kind=kind)
