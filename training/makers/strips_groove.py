"""Grooves as strips: a grey cross-section and a story along, drawn in the lay's straightened frame."""

import math
from dataclasses import dataclass, field

import numpy as np

from .strips_frame import Frame, line, log_uniform, sheet
from .strips_story import Event, Look

FAMILIES = ("dark", "bright", "lit", "double", "rims", "core", "free", "vee")


@dataclass(frozen=True, kw_only=True)
class Style:
    """The field's cross-section; widths in px, greys in units of the field's groove contrast."""

    family: str
    profile: np.ndarray
    rim_width: float
    rims: tuple[float, float]
    edge: float
    opacity: float
    striation: float
    grain: float
    blotch: float
    ragged: float
    tone: float
    blur: float


@dataclass(kw_only=True)
class Tiles:
    """Textures of one lay's frame: along the groove, along the stroke, grain, blobs, scales."""

    striation: np.ndarray
    streak: np.ndarray
    grain: np.ndarray
    blob: np.ndarray
    scale: np.ndarray


@dataclass(kw_only=True)
class Canvas:
    """One lay: premultiplied grey, opacity, mask codes and the order in which grooves were cut."""

    frame: Frame
    grey: np.ndarray = field(init=False)
    alpha: np.ndarray = field(init=False)
    codes: np.ndarray = field(init=False)
    rank: np.ndarray = field(init=False)

    def __post_init__(self) -> None:
        size = self.frame.size
        self.grey, self.alpha = np.zeros(size, np.float32), np.zeros(size, np.float32)
        self.codes, self.rank = np.zeros(size, np.uint8), np.zeros(size, np.uint8)


@dataclass(kw_only=True)
class Groove:
    """One groove: middle line and half widths (px) from column `first` on, depth in µm, and its closed stretches."""

    first: int
    middle: np.ndarray
    half: np.ndarray
    depth: float
    rank: int
    events: list[Event]


def draw_style(rng: np.random.Generator, pixel_size_um: float, light: float, backscatter: bool, blur: float) -> Style:
    """One cross-section; `light` −1…1 says from which wall the detector looks."""
    family = str(rng.choice(FAMILIES, p=[0.24, 0.12, 0.14, 0.08, 0.1, 0.1, 0.12, 0.1]))
    x = np.linspace(-1, 1, 1025)
    sign = 1.0 if rng.random() < 0.25 else -1.0
    power = rng.uniform(1, 6)
    bowl = 1 - np.abs(x) ** power
    side = math.copysign(1.0, light) if abs(light) > 0.05 else rng.choice([-1.0, 1.0])
    profile = {
        "dark": -(0.55 + 0.45 * bowl),
        "bright": 0.55 + 0.45 * bowl,
        "lit": side * np.tanh(x * rng.uniform(1.2, 6)) - rng.uniform(0, 0.4),
        "double": sign * (0.3 + 0.7 * (np.abs(x) > rng.uniform(0.4, 0.75))),
        "rims": np.full_like(x, rng.uniform(-0.2, 0.12)),
        "core": sign * (0.4 + 0.6 * np.exp(-((x / rng.uniform(0.15, 0.4)) ** 2))),
        "free": sign * np.interp(x, np.linspace(-1, 1, 7), rng.uniform(0.1, 1, 7)),
        "vee": sign * (0.45 + 0.55 * (1 - np.abs(x - rng.uniform(-0.4, 0.4)))),
    }[family]
    profile = profile + rng.uniform(0, 0.25) * np.interp(x, np.linspace(-1, 1, 9), rng.standard_normal(9))
    if family != "rims":
        profile = profile / max(np.abs(profile).mean(), 0.2)
        profile = np.clip(profile, -1.7, 1.7)
        weak = np.abs(profile) < 0.25
        profile = np.where(weak & (np.abs(x) > 0.8), np.where(profile < 0, -0.45, 0.45), profile)
        profile = np.convolve(np.pad(profile, 12, "edge"), np.ones(25) / 25, "valid")
    strong = family == "rims"
    amplitude = rng.uniform(0.6, 1.2) if strong else float(rng.choice([0.0, rng.uniform(0.1, 1.0)], p=[0.3, 0.7]))
    amplitude *= -1 if rng.random() < 0.12 else 1
    if backscatter and not strong:
        amplitude *= 0.2
    lean = light * rng.uniform(0, 0.8)
    return Style(
        family=family,
        profile=profile.astype(np.float32),
        rim_width=max(0.8, rng.uniform(0.25, 1.2) / pixel_size_um),
        rims=(amplitude * (1 + lean), amplitude * (1 - lean)),
        edge=max(1.0, float(rng.choice([rng.uniform(0.1, 0.5), rng.uniform(0.5, 1.2)], p=[0.7, 0.3])) / pixel_size_um),
        opacity=rng.uniform(0.75, 1.0),
        striation=float(rng.choice([rng.uniform(0, 0.1), rng.uniform(0.1, 0.5)])),
        grain=float(rng.choice([rng.uniform(0, 0.08), rng.uniform(0.08, 0.4)]))
        if not strong
        else rng.uniform(0.2, 0.5),
        blotch=float(rng.choice([0.0, rng.uniform(0.1, 0.7)], p=[0.6, 0.4])),
        ragged=float(rng.choice([rng.uniform(0, 0.2), rng.uniform(0.2, 0.6)], p=[0.7, 0.3])) / pixel_size_um,
        tone=float(profile.mean()),
        blur=blur,
    )


def draw_tiles(
    rng: np.random.Generator, frame: Frame, stroke: float, rows: int, width: float, pixel_size_um: float
) -> Tiles:
    """Textures `rows` high and as long as the frame; stroke in radians, width of a groove in px."""
    columns = frame.size[1]
    turned = Frame(shape=(rows, columns), angle=stroke - frame.angle)
    fine = max(1.0, rng.uniform(0.2, 1.2) / pixel_size_um)
    lines, points = np.arange(rows, dtype=np.float32)[:, None], np.arange(columns, dtype=np.float32)[None, :]
    along = points * np.float32(math.cos(turned.angle)) + lines * np.float32(math.sin(turned.angle))
    pitch = max(width * rng.uniform(0.25, 1.2), 4.0)
    bent = turned.noise(rng, pitch * 2, pitch * 0.4)
    phase = np.mod(along / np.float32(pitch) + bent * np.float32(0.6), 1.0)
    return Tiles(
        striation=sheet(rng, rows, columns, rng.uniform(8, 60) * fine, max(1.0, width * rng.uniform(0.03, 0.15))),
        streak=turned.noise(rng, rng.uniform(6, 40) * fine, fine),
        grain=sheet(rng, rows, columns, fine, fine),
        blob=sheet(rng, rows, columns, max(width * 0.35, 2), max(width * 0.25, 2)),
        scale=(phase - 0.5) * 2,
    )


def closed(
    rng: np.random.Generator, event: Event, u: np.ndarray, off: np.ndarray, v: np.ndarray, half: float, cot: float, cut
) -> tuple[np.ndarray, np.ndarray, float]:
    """Closedness 0–1, grey of the closed metal and what depth remains, for columns `u` of one strip. `cut(tile)` gives a
    texture's part; `cot` is columns per row of a line along the stroke."""
    look: Look = event.look
    middle, reach = (event.start + event.stop) / 2, (event.stop - event.start) / 2
    x = (u - middle)[None, :] - (off * np.float32(cot) if event.slanted or "slanted" in look.ends else 0.0)
    depths = []
    for end, outward in zip(look.ends, (-1.0, 1.0), strict=True):
        inside = reach - outward * x
        if end == "tongue":
            inside = inside + rng.uniform(-0.8, 1.2) * half * (1 - v * v)
        elif end == "ragged":
            inside = inside + rng.uniform(0.1, 0.5) * half * cut("blob")
        elif end == "feather":
            inside = inside + min(rng.uniform(0.3, 1.5) * half, reach) * cut("streak")
        fray = half * rng.uniform(0.05, 0.3)
        depths.append(inside + fray * (cut("streak") if rng.random() < 0.5 else cut("blob")))
    inside = np.minimum(depths[0], depths[1])
    grey = np.full(off.shape, np.float32(look.tone))
    left = 0.0
    shape = look.shape
    if shape == "lip":
        edge = rng.uniform(-0.6, 0.7) + rng.uniform(0.05, 0.35) * line(rng, u.size, max(half * rng.uniform(0.4, 3), 3))
        inside = np.minimum(inside, (edge[None, :] - v * rng.choice([-1, 1])) * half)
    elif shape == "feather":
        inside = np.minimum(inside, (cut("streak") + rng.uniform(0.0, 1.2)) * half * 0.4 + inside * 0.15)
    elif shape == "porous":
        inside = np.minimum(inside, (cut("blob") + rng.uniform(0.7, 1.6)) * half * 0.3)
    elif shape == "cracked":
        crack = max(1.0, half * rng.uniform(0.06, 0.15))
        inside = np.minimum(inside, np.abs(cut("blob") - rng.uniform(-0.5, 0.5)) * half * 0.3 - crack)
    elif shape == "scaly":
        inside = inside + cut("scale") * half * 0.5
    closedness = np.clip(0.5 + inside / np.float32(1.5), 0, 1)
    if shape == "fold":
        seam = rng.uniform(-0.5, 0.5) + 0.25 * line(rng, u.size, max(half * rng.uniform(0.5, 3), 3))
        thin = max(0.7, 0.05 * half)
        grey -= rng.uniform(0.4, 1.0) * rng.choice([1, 1, -1]) * np.exp(-(((v - seam[None, :]) * half / thin) ** 2))
    elif shape == "filled":
        left = rng.uniform(0.08, 0.28)
    elif shape == "half_filled":
        left = rng.uniform(0.6, 0.85)
    for name, weight in (("streak", look.streak), ("grain", look.grain), ("scale", look.scale)):
        if weight > 0.02:
            grey += np.float32(weight) * cut(name)
    grey += 4 * look.outline * closedness * (1 - closedness)
    return closedness, grey, left


def cut_groove(
    rng: np.random.Generator, canvas: Canvas, groove: Groove, style: Style, tiles: Tiles, stroke: float, worn
) -> None:
    """Draw one groove into its lay's canvas. `worn(columns, rows)` gives the distance inside the worn ground in px, or is
    None where everything is worn."""
    count = groove.middle.size
    if count < 4:
        return
    faint = groove.depth < 0.5
    half = float(np.max(groove.half))
    ragged = np.minimum(style.ragged, 0.12 * groove.half)
    bends = log_uniform(rng, 2, max(3, 3 * half)), log_uniform(rng, 2, max(3, 3 * half))
    top = np.maximum(groove.half + ragged * line(rng, count, bends[0]), 0)
    low = np.maximum(groove.half + ragged * line(rng, count, bends[1]), 0)
    reach = int(max(top.max(), low.max()) + 2 * style.rim_width + style.edge + 3)
    base = np.rint(groove.middle).astype(np.int32)
    steps = np.arange(-reach, reach + 1, dtype=np.int32)[:, None]
    off = steps - (groove.middle - base).astype(np.float32)[None, :]
    out = np.maximum(off - low[None, :], -off - top[None, :]).astype(np.float32)
    v = np.clip(off / np.maximum(np.where(off > 0, low[None, :], top[None, :]), 0.3), -1, 1).astype(np.float32)
    rows_of_tile = tiles.grain.shape[0]
    shift = int(rng.integers(0, max(1, rows_of_tile - steps.size)))
    first = groove.first

    def cut(name: str, start: int = 0, stop: int = count) -> np.ndarray:
        return getattr(tiles, name)[shift : shift + steps.size, first + start : first + stop]

    floor = style.profile[((v + 1) * 512).astype(np.int32)] * np.float32(rng.uniform(0.85, 1.15))
    for name, weight in (("striation", style.striation), ("grain", style.grain), ("blob", -abs(style.blotch))):
        if abs(weight) > 0.02:
            texture = np.maximum(cut(name) - 0.8, 0) if name == "blob" else cut(name)
            floor = floor + np.float32(weight) * texture
    presence = np.clip(np.minimum(top, low), 0, 1)[None, :]
    alpha = np.clip(0.5 - out / np.float32(style.edge), 0, 1) * presence * np.float32(style.opacity)
    rim = np.where(off < 0, np.float32(style.rims[0]), np.float32(style.rims[1])) * presence
    rim = rim * np.exp(-(((out - 0.6 * style.rim_width) / style.rim_width) ** 2))
    if faint:
        weight = np.float32(0.05 + 0.35 * groove.depth)
        alpha, rim = alpha * weight, rim * weight * 0.8
    else:
        deep = 0.8 + 0.35 * math.tanh((groove.depth - 0.5) / 2)
        floor, rim = floor * np.float32(deep), rim * np.float32(deep)
    grey = alpha * floor + rim
    inside = out < 0
    codes = inside.astype(np.uint8)
    if faint:
        codes[:] = 0
    cot = 1 / math.tan(stroke - canvas.frame.angle) if abs(math.sin(stroke - canvas.frame.angle)) > 0.1 else 0.0
    cot = float(np.clip(cot, -3, 3))
    thin = max(0.9, 0.4 * style.rim_width, 0.9 * style.blur)
    for event in [] if faint else groove.events:
        extra = (3 + abs(cot)) * half + 4
        start, stop = int(max(event.start - extra - first, 0)), int(min(event.stop + extra - first, count))
        if stop - start < 3:
            continue
        part = slice(start, stop)
        u = np.arange(first + start, first + stop, dtype=np.float32)
        closedness, metal, left = closed(
            rng, event, u, off[:, part], v[:, part], half, cot, lambda name, a=start, b=stop: cut(name, a, b)
        )
        if worn is not None:
            closedness = closedness * np.clip(worn(u[None, :], (base[None, part] + steps)) / 1.5 - 1.5, 0, 1)
        cover = event.look.cover
        shut = np.clip(0.5 - (out[:, part] - event.look.spill) / np.float32(style.edge), 0, 1) * presence[:, part]
        new_alpha, new_grey = shut * cover, shut * cover * metal
        if event.look.rims:
            lines = np.exp(-((out[:, part] / np.float32(thin)) ** 2)) * presence[:, part]
            new_grey = new_grey + lines * np.float32(event.look.rims)
        if event.look.outline and cover < 0.6:
            new_grey = new_grey + 2 * event.look.outline * closedness * (1 - closedness) * shut
        if left:
            new_alpha = np.maximum(new_alpha, shut * 0.6)
            new_grey = new_grey * (1 - left) + left * grey[:, part]
        grey[:, part] += closedness * (new_grey - grey[:, part])
        alpha[:, part] += closedness * (new_alpha - alpha[:, part])
        if left < 0.5:
            now = (closedness >= 0.5) & inside[:, part]
            codes[:, part][now] = 2
    rows, columns = canvas.grey.shape
    index = np.clip(base[None, :] + steps, 0, rows - 1) * columns + (first + np.arange(count))[None, :]
    flat_grey, flat_alpha = canvas.grey.ravel(), canvas.alpha.ravel()
    stay = 1 - alpha
    flat_grey[index] = flat_grey[index] * stay + grey
    flat_alpha[index] = 1 - (1 - flat_alpha[index]) * stay
    if not faint:
        flat_codes, flat_rank = canvas.codes.ravel(), canvas.rank.ravel()
        before = flat_codes[index]
        through = (codes == 2) & (before == 1) & (alpha < 0.5)
        flat_codes[index] = np.where((codes == 0) | through, before, codes)
        flat_rank[index] = np.where(codes > 0, groove.rank, flat_rank[index])
