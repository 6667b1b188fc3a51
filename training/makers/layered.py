"""Pictures of honed, run surfaces as layers of material: a texture for each state, blended through ragged masks.

The idea: a picture is not computed from a height map but laid down as a restorer would paint it. Plateau, groove floor,
smeared metal and torn metal are materials with their own texture statistics (mottling, line fields along the lay or the
stroke, granular or carbon-filled floors, tribofilm patches). Masks with torn edges blend them; relief lines come from an
emboss of the masks under a light from any side. Grooves follow a renewal process across each lay, with random ends,
forks, wiggle and overlaps. Smear comes from bands along the stroke that close what they cross, and from closures along
single grooves: caps, bridges, one-sided lips, folds with a seam, feathered ends, long stretches.

Hone lays at ± half the hone angle about the circumference: two bands of grooves at random places (Puente León, CIRP
Annals 51 (2002) 503). Folds that interrupt grooves: Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548. Graphite dark in
either electron mode: backscatter coefficient of iron 0.28, of carbon 0.06 (Reuter's fit). Ranges of sizes, contrasts and
shares are common practice, no source.
"""

from dataclasses import dataclass, field

import cv2
import numpy as np

from makers.made import Made

POINTS = 40  # points along each edge of a groove's outline

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

# Finishes: share of area of valley, median width µm, length µm, spread of gaps (gamma shape), included angle °.
FINISHES = {
    "dense": ((0.2, 0.42), (4, 16), (300, 4000), (1.0, 5.0), (25, 75)),
    "plateau": ((0.04, 0.2), (6, 26), (150, 3000), (0.7, 2.5), (25, 75)),
    "few deep": ((0.02, 0.1), (10, 34), (300, 4000), (0.7, 2.0), (20, 90)),
    "slide": ((0.05, 0.28), (3, 14), (200, 3000), (0.8, 3.0), (110, 150)),
    "fine": ((0.05, 0.25), (2, 6), (60, 800), (0.8, 3.0), (25, 120)),
    "unequal": ((0.05, 0.3), (4, 22), (150, 3000), (0.7, 2.5), (20, 150)),
    "bare": ((0.0, 0.0), (4, 10), (100, 500), (1.0, 2.0), (25, 120)),
}
FINISH_SHARES = (0.18, 0.24, 0.13, 0.13, 0.1, 0.16, 0.06)


@dataclass(frozen=True, kw_only=True)
class _Sheet:
    """The picture's grid in µm about its centre, and a bank of white noise that every texture is drawn from."""

    rng: np.random.Generator
    pixel_size_um: float
    shape: tuple[int, int]
    bank: np.ndarray  # square float32, zero mean, unit variance, wide enough for the whole picture at one value a pixel

    def noise(self, across_um: float, along_um: float | None = None, angle_deg: float | None = None, smooth: bool = False) -> np.ndarray:
        """Noise (rows, cols) float32, about unit variance, correlated over across_um × along_um, long side at angle_deg."""
        rng, pixel = self.rng, self.pixel_size_um
        along_um = across_um if along_um is None else along_um
        angle = np.deg2rad(rng.uniform(0, 180) if angle_deg is None else angle_deg)
        fade = min(1.0, across_um / pixel) ** 0.5
        if max(across_um, along_um) < 1.2 * pixel:
            return self.white() * np.float32(fade)
        step = max(1, min(int(across_um / pixel / 3), int(along_um / pixel / 3), 8))  # coarse noise on a coarse grid
        pixel *= step
        u, v = pixel / max(along_um, 0.9 * pixel), pixel / max(across_um, 0.9 * pixel)
        rows, cols = (-(-side // step) for side in self.shape)
        turn = np.array([[u * np.cos(angle), -u * np.sin(angle)], [v * np.sin(angle), v * np.cos(angle)]])
        corners = turn @ (np.array([[-1, -1, 1, 1], [-1, 1, -1, 1]]) * [[cols / 2], [rows / 2]])
        reach, side = np.abs(corners).max(axis=1) + 2, self.bank.shape[0]
        shift = rng.uniform(np.minimum(reach, side / 2), np.maximum(side - reach, side / 2 + 1e-3)) - turn @ (cols / 2, rows / 2)
        way = cv2.INTER_CUBIC if smooth else cv2.INTER_LINEAR
        warped = cv2.warpAffine(self.bank, np.c_[turn, shift], (cols, rows), flags=way | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_WRAP)
        if step > 1:
            warped = cv2.resize(warped, (cols * step, rows * step), interpolation=cv2.INTER_LINEAR)[: self.shape[0], : self.shape[1]]
        return warped * np.float32(1.4 * fade)

    def white(self) -> np.ndarray:
        """White noise (rows, cols) float32, unit variance: a piece of the bank."""
        top, left = (self.rng.integers(0, self.bank.shape[axis] - self.shape[axis] + 1) for axis in (0, 1))
        return self.bank[top : top + self.shape[0], left : left + self.shape[1]]

    def fractal(self, size_um: float, octaves: int = 3, fall: float = 0.6) -> np.ndarray:
        """Mottling: octaves of noise from size_um down, about unit variance."""
        total, norm = np.zeros(self.shape, np.float32), 0.0
        for octave in range(octaves):
            total += np.float32(fall**octave) * self.noise(size_um / 2.1**octave)
            norm += fall ** (2 * octave)
        return total * np.float32(norm**-0.5)

    def blur(self, array: np.ndarray, sigma_um: float, least_px: float = 0.35) -> np.ndarray:
        sigma = max(sigma_um / self.pixel_size_um, least_px)
        return cv2.GaussianBlur(array, (0, 0), min(sigma, 12.0), borderType=cv2.BORDER_REPLICATE)

    def across(self, angle_deg: float) -> np.ndarray:
        """Distance (rows, cols) float32 from the line through the centre at angle_deg, µm."""
        angle = np.deg2rad(angle_deg)
        rows, cols = self.shape
        x = (np.arange(cols, dtype=np.float32) - cols / 2) * np.float32(self.pixel_size_um * np.sin(angle))
        y = (np.arange(rows, dtype=np.float32) - rows / 2) * np.float32(self.pixel_size_um * np.cos(angle))
        return x[None, :] + y[:, None]


@dataclass(kw_only=True)
class _Grooves:
    """Grooves as arrays, one entry each: lay angle °, offset across µm, ends µm, width µm, slope, bow, wiggle, taper µm."""

    angle_deg: np.ndarray
    offset_um: np.ndarray
    start_um: np.ndarray
    end_um: np.ndarray
    width_um: np.ndarray
    slope: np.ndarray
    pivot_um: np.ndarray
    bow_per_um: np.ndarray
    wiggle: np.ndarray  # (n, 2, 3) amplitude µm, wavelength µm, phase of two waves
    taper_um: np.ndarray
    lay: np.ndarray
    narrowing: tuple[float, float, float, float] = field(default=(0.0, 0.0, 1.0, 1.0))  # stroke °, edge µm, side, factor

    def __len__(self) -> int:
        return self.width_um.size

    def outline(self, sheet: _Sheet, which: np.ndarray, from_um: np.ndarray, to_um: np.ndarray, *, low: np.ndarray, high: np.ndarray, slant: np.ndarray, former: bool) -> np.ndarray:
        """Outlines (m, 2 × POINTS, 2) int32 in sixteenths of a pixel of grooves `which` between from_um and to_um.

        low, high: edges across in half widths (-1 … 1); slant: shift of the ends from edge to edge in half widths;
        former: the width before wear, whatever has become of it.
        """
        u = np.linspace(0, 1, POINTS)[None, :]
        k = which
        edges = []
        for side in (low, high):
            s = from_um[:, None] + u * (to_um - from_um)[:, None] + (side * slant * self.width_um[k] / 2)[:, None]
            centre = self.offset_um[k, None] + self.slope[k, None] * (s - self.pivot_um[k, None]) + self.bow_per_um[k, None] * s**2
            for wave in range(2):
                size, length, phase = (self.wiggle[k, wave, i][:, None] for i in range(3))
                centre = centre + size * np.sin(2 * np.pi * s / length + phase)
            inside = np.minimum(s - self.start_um[k, None], self.end_um[k, None] - s) / self.taper_um[k, None]
            half = self.width_um[k, None] / 2 * np.sqrt(np.clip(inside, 0, 1))
            half = half * (1 + 0.18 * np.sin(2 * np.pi * s / (0.37 * self.wiggle[k, 0, 1][:, None]) + self.wiggle[k, 1, 2][:, None]))
            angle = np.deg2rad(self.angle_deg[k])[:, None]
            stroke, edge, way, factor = self.narrowing
            if not former and factor < 1:
                turn = angle - np.deg2rad(stroke)
                ran = way * (s * -np.sin(turn) + centre * np.cos(turn) - edge) > 0
                half = np.where(ran, half * factor, half)
            half = np.maximum(half - 0.5 * sheet.pixel_size_um, 0.12 * sheet.pixel_size_um)
            t = centre + side[:, None] * half
            x = sheet.shape[1] / 2 + (s * np.cos(angle) + t * np.sin(angle)) / sheet.pixel_size_um
            y = sheet.shape[0] / 2 + (-s * np.sin(angle) + t * np.cos(angle)) / sheet.pixel_size_um
            edges.append(np.stack([x, y], axis=-1))
        return np.round(16 * np.concatenate([edges[0], edges[1][:, ::-1]], axis=1)).astype(np.int32)


def _draw_grooves(sheet: _Sheet, finish: str, stroke_deg: float) -> _Grooves:
    """Grooves of both lays by renewal across each lay and along each groove line."""
    rng, pixel = sheet.rng, sheet.pixel_size_um
    share, width, length, gap_shape, angles = (rng.uniform(*limits) for limits in FINISHES[finish])
    width = float(np.exp(rng.uniform(*np.log(FINISHES[finish][1]))))
    if rng.random() < 0.9:
        width = max(width, rng.uniform(2.2, 5) * pixel)
    reach, farthest = 0.5 * pixel * float(np.hypot(*sheet.shape)) + 20, rng.uniform(0.5, 3) * pixel * min(sheet.shape)
    balance = rng.uniform(0.0, 0.3) if finish == "unequal" else rng.uniform(0.35, 0.65)
    if finish == "unequal" and rng.random() < 0.35:
        balance = 0.0
    turn, spread = rng.normal(0, 1.5), abs(rng.normal(0, 0.8))
    bow = rng.normal(0, 2e-5) if rng.random() < 0.3 else 0.0
    fill, ragged_width = rng.uniform(0.55, 1.0), rng.uniform(0.15, 0.6)
    chosen_wiggle, blunt = rng.uniform(0.0, 0.12) * width, rng.uniform(0.3, 8)
    parts = []
    for lay, part in enumerate((balance, 1 - balance)):
        if share * part < 0.004:
            continue
        spacing = max(min(width * fill * np.exp(ragged_width**2 / 2) / (share * part), max(farthest, 2.5 * width)), 2 * reach / 120)
        count = int(2 * reach / spacing * 1.6) + 6
        offsets = -reach - spacing * rng.random() + np.cumsum(rng.gamma(gap_shape, spacing / gap_shape, count))
        offsets = offsets[offsets < reach]
        for offset in offsets:
            s = -reach - rng.random() * length
            while s < reach:
                run = rng.gamma(2.0, length / 2.0) + 2 * width
                if s + run > -reach:
                    parts.append((lay, offset, s, s + run, 0.0, 0.0))
                    if rng.random() < 0.07:
                        pivot = s + run * rng.random()
                        parts.append((lay, offset, pivot, pivot + rng.gamma(2.0, 40 + 5 * width), rng.choice((-1, 1)) * rng.uniform(0.03, 0.15), pivot))
                s += run + rng.exponential(length * (1 - fill) / fill + 1)
    parts = parts[:: max(1, len(parts) // 280)]
    rng.shuffle(parts)
    lay, offset, start, end, slope, pivot = np.array(parts or np.zeros((0, 6)), float).reshape(-1, 6).T
    n = lay.size
    widths = np.clip(width * np.exp(rng.normal(0, ragged_width, n)), max(2.0, 1.7 * pixel), 50)
    start, end = np.maximum(start, -reach - 60), np.minimum(end, reach + 60)
    waves_um = np.maximum(rng.uniform(60, 600, (n, 2)), (end - start)[:, None] / 6)
    wiggle = np.stack([np.abs(rng.normal(0, chosen_wiggle, (n, 2))), waves_um, rng.uniform(0, 6.3, (n, 2))], axis=-1)
    half = angles / 2
    lays_deg = stroke_deg + 90 + np.where(lay == 0, half, -half) + turn + rng.normal(0, spread, n)
    taper = np.maximum(widths * blunt * rng.uniform(0.4, 1.6, n), 0.5)
    return _Grooves(angle_deg=lays_deg, offset_um=offset, start_um=start, end_um=end, width_um=widths, slope=slope, pivot_um=pivot, bow_per_um=np.full(n, bow), wiggle=wiggle, taper_um=taper, lay=lay.astype(int))


def _fill(sheet: _Sheet, outlines: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Outlines drawn one over the other with their values: (rows, cols) uint16."""
    drawn = np.zeros(sheet.shape, np.uint16)
    for outline, value in zip(outlines, values, strict=True):
        cv2.fillPoly(drawn, [outline], int(value), lineType=cv2.LINE_8, shift=4)
    return drawn


def _closures(sheet: _Sheet, grooves: _Grooves, stroke_deg: float) -> tuple[np.ndarray, ...]:
    """Closures along single grooves: groove, ends µm, edges in half widths, slant; sorted by groove, and whether folded."""
    rng = sheet.rng
    lay_liking = np.array([1.0, rng.choice([1.0, 1.0, 0.15])])[:: rng.choice((-1, 1))]
    strength = np.exp(rng.uniform(np.log(0.2), np.log(2.5)))
    favoured = rng.dirichlet(np.full(5, 0.8))
    pitch = np.exp(rng.uniform(np.log(60), np.log(250)))
    reach = 0.5 * sheet.pixel_size_um * float(np.hypot(*sheet.shape))
    first, last = np.maximum(grooves.start_um, -reach), np.minimum(grooves.end_um, reach)
    counts = rng.poisson(strength * lay_liking[grooves.lay] * np.maximum(last - first, 0) / pitch + 0.15)
    which = np.repeat(np.arange(len(grooves)), np.minimum(counts, 10))
    n = which.size
    kind = rng.choice(5, n, p=favoured)  # cap, bridge, long stretch, one-sided lip, feathered end
    shortest, longest = np.array([(1.0, 8), (0.6, 1.8), (8, 50), (3, 20), (3, 12)]).T
    size = np.maximum(grooves.width_um[which] * rng.uniform(shortest[kind], longest[kind]), 4 * sheet.pixel_size_um)
    low_end, high_end = first[which] - 0.3 * size, last[which] - 0.7 * size
    start = low_end + rng.random(n) * np.maximum(high_end - low_end, 0)
    at_end = np.where(rng.random(n) < 0.5, grooves.start_um[which] - 1, grooves.end_um[which] - size)
    start = np.where(kind == 4, at_end, start)
    end, left = start + size, rng.random(n) < 0.5
    low = np.where((kind == 3) & ~left, rng.uniform(-0.35, 0.4, n), -1.15)
    high = np.where((kind == 3) & left, rng.uniform(-0.4, 0.35, n), 1.15)
    folded = ((kind == 0) | (kind == 2)) & (rng.random(n) < 0.4)
    turn = np.deg2rad(grooves.angle_deg[which] - stroke_deg)
    slant = np.clip(-1 / np.tan(np.where(np.abs(np.sin(turn)) < 0.2, 0.2, turn)), -2, 2) * rng.uniform(0, 1, which.size)
    return which, start, end, low, high, slant, folded


@dataclass(kw_only=True)
class _Masks:
    """What lies where: all (rows, cols). label: groove + 1; seam: fold lines; ghost: grooves worn to a faint trace."""

    label: np.ndarray
    open: np.ndarray
    closed: np.ndarray
    ghost: np.ndarray
    scuffed: np.ndarray
    seam: np.ndarray
    worn: np.ndarray


def _lay_masks(sheet: _Sheet, grooves: _Grooves, wear: str, stroke_deg: float) -> _Masks:
    """Draw grooves, wear, closures, bands and scuffing; edges torn by a noisy displacement of the drawn outlines."""
    rng, pixel, shape = sheet.rng, sheet.pixel_size_um, sheet.shape
    rows, cols = shape
    n, worn = len(grooves), np.full(shape, wear != "unworn")
    if wear != "unworn":
        edge, way, factor = -1e6, 1.0, rng.uniform(0.6, 1.0) if rng.random() < 0.5 else 1.0
        if rng.random() < 0.17:
            edge, way = rng.uniform(-0.3, 0.3) * pixel * min(shape), rng.choice((-1.0, 1.0))
            worn = way * (sheet.across(stroke_deg) + rng.uniform(0, 3) * sheet.noise(8, 120, stroke_deg) - edge) > 0
        grooves.narrowing = (stroke_deg, edge, way, factor)
    tear_um = min(rng.choice([0.15, 0.4, 0.9, 1.6]) * rng.uniform(0.5, 1.2), 0.09 * float(np.median(grooves.width_um)) if n else 1.0)
    grain_um = tear_um * rng.uniform(1.5, 5) + 0.6 * pixel
    move = [np.float32(tear_um / pixel) * (sheet.noise(grain_um, smooth=True) + 0.5 * sheet.noise(0.4 * grain_um)) for _ in range(2)]
    x, y = np.meshgrid(np.arange(cols, dtype=np.float32), np.arange(rows, dtype=np.float32))
    x, y = x + move[0], y + move[1]
    every, ones = np.arange(n), np.ones(n)
    common = {"low": -ones, "high": ones, "slant": 0 * ones}
    now = _fill(sheet, grooves.outline(sheet, every, grooves.start_um, grooves.end_um, former=False, **common), every + 1)
    label = cv2.remap(now, x, y, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE)
    before = label
    nothing = np.zeros(shape, bool)
    closed, scuffed, seam = nothing, nothing.copy(), np.zeros(shape, np.float32)
    if wear in ("smear", "scuff") and n:
        if grooves.narrowing[3] < 1:
            former = _fill(sheet, grooves.outline(sheet, every, grooves.start_um, grooves.end_um, former=True, **common), every + 1)
            before = cv2.remap(former, x, y, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE)
        way = rng.choice(3, p=(0.3, 0.4, 0.3))  # bands, closures, both
        stroke_px = np.float32(min(rng.uniform(0.2, 3), 0.2 * float(np.median(grooves.width_um))) / pixel) * sheet.noise(rng.uniform(0.8, 3), rng.uniform(3, 15), stroke_deg)
        if way != 0:
            which, start, end, low, high, slant, folded = _closures(sheet, grooves, stroke_deg)
            drawn = _fill(sheet, grooves.outline(sheet, which, start, end, low=low, high=high, slant=slant, former=True), which + 1)
            mx, my = x + stroke_px * np.float32(np.cos(np.deg2rad(stroke_deg))), y - stroke_px * np.float32(np.sin(np.deg2rad(stroke_deg)))
            drawn = cv2.remap(drawn, mx, my, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE)
            closed = (drawn == before) & (before > 0)
            if folded.any():
                f, where = folded, rng.uniform(-0.5, 0.5, folded.sum())
                lines = grooves.outline(sheet, which[f], start[f], end[f], low=where, high=where, slant=slant[f], former=True)
                cv2.polylines(seam, list(lines[:, :POINTS]), False, 1.0, thickness=1, lineType=cv2.LINE_AA, shift=4)
                seam = cv2.remap(seam, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        if way != 1:
            wide_um = np.exp(rng.uniform(np.log(8), np.log(80))) + 6 * pixel
            press = sheet.noise(wide_um, rng.uniform(8, 60) * wide_um, stroke_deg, smooth=True) + rng.choice([0.02, 0.06, 0.15]) * sheet.noise(rng.uniform(1, 4), rng.uniform(4, 30), stroke_deg)
            yields = np.r_[0.0, (rng.random(n) < rng.uniform(0.4, 1.0)) * 1.0].astype(np.float32)
            band = press + 0.5 * yields[before] > rng.uniform(0.4, 1.5)
            closed = closed | (band & (yields[before] > 0))
        closed = (cv2.medianBlur(closed.astype(np.uint8), 3 if pixel > 0.6 else 5) > 0) & (before > 0) & worn
    if wear == "scuff":
        wide_um = np.exp(rng.uniform(np.log(6), np.log(60))) + 4 * pixel
        tear = sheet.noise(wide_um, rng.uniform(6, 40) * wide_um, stroke_deg, smooth=True) + 0.3 * sheet.noise(rng.uniform(2, 6), rng.uniform(10, 50), stroke_deg)
        scuffed = (cv2.medianBlur((tear > rng.uniform(0.5, 1.9)).astype(np.uint8), 5) > 0) & worn
    faint = np.r_[False, rng.random(n) < (rng.uniform(0, 0.4) if wear != "unworn" and rng.random() < 0.4 else 0.0)]
    ghost = faint[label] & worn & ~closed
    closed &= ~faint[before]
    opened = (label > 0) & ~closed & ~ghost
    label = np.where(closed, before, label)
    return _Masks(label=label, open=opened & ~scuffed, closed=closed & ~scuffed, ghost=ghost & ~scuffed, scuffed=scuffed, seam=seam * closed, worn=worn)


def _blots(sheet: _Sheet, count: int, size_um: tuple[float, float], stretch: float, angle_deg: float | None = None) -> np.ndarray:
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


def _flakes(sheet: _Sheet, density: float) -> np.ndarray:
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
        cv2.fillPoly(drawn, [np.round(16 * np.r_[xy + aside, (xy - aside)[::-1]]).astype(np.int32)], 1.0, lineType=cv2.LINE_AA, shift=4)
    return drawn


def _plateau(sheet: _Sheet, rough: float, lays_deg: tuple[float, float], stroke_deg: float, worn: np.ndarray, run: bool) -> np.ndarray:
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
            ran = ran + np.maximum(np.abs(sheet.noise(rng.uniform(0.8, 4), 900, stroke_deg)) - 1.6, 0) * np.float32(rng.uniform(-2.5, 2.5))
        tex = np.where(worn, tex * kept + ran * np.float32(rough * rng.uniform(0.2, 1.0)), tex)
    return tex


def _floor(sheet: _Sheet, level: float, masks: _Masks, grooves: _Grooves) -> np.ndarray:
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
        angles = [float(np.median(grooves.angle_deg[grooves.lay == lay])) if (grooves.lay == lay).any() else 0.0 for lay in (0, 1)]
        lined = [sheet.noise(rng.uniform(0.4, 1.8), rng.uniform(20, 150), angle) for angle in angles]
        second = np.r_[False, grooves.lay == 1][masks.label]
        floor += strength * np.where(second, lined[1], lined[0])
    elif style == 2:
        floor += strength * sheet.fractal(rng.uniform(2, 10), 4, 0.75)
    elif style == 3:
        filled = np.clip(sheet.fractal(rng.uniform(6, 40), 3) * 2 + rng.uniform(-1, 2), 0, 1)
        floor = floor * (1 - filled) + filled * (floor.dtype.type(level - rng.uniform(0.0, 0.4)) + 0.3 * strength * sheet.noise(0.6))
    else:
        grains = np.maximum(sheet.noise(rng.uniform(0.6, 2.5), smooth=True) - 1.0, 0)
        floor += 2.5 * strength * grains + 0.4 * strength * sheet.noise(0.5)
    return floor


def _compose(sheet: _Sheet, masks: _Masks, grooves: _Grooves, look: str, lays_deg: tuple[float, float], stroke_deg: float, wear: str) -> tuple[np.ndarray, np.ndarray]:
    """All layers blended into one picture in units of contrast, and the mask of debris."""
    rng, pixel = sheet.rng, sheet.pixel_size_um
    level, rim, emboss, rough, film, carbon = (rng.uniform(*limits) for limits in LOOKS[look])
    f32 = np.float32
    picture = tex = _plateau(sheet, rough, lays_deg, stroke_deg, masks.worn, wear != "unworn")
    soft = rng.uniform(0.08, 0.5)
    has_closed, has_scuff = masks.closed.any(), masks.scuffed.any()
    opened = sheet.blur(masks.open.astype(np.float32), soft)
    floor = _floor(sheet, level, masks, grooves)
    picture = tex + opened * (floor - tex)
    wall_um = rng.uniform(0.25, 1.6)
    wall_px = max(wall_um / pixel, 0.6)
    height = -masks.open.astype(np.float32)
    if masks.ghost.any():
        faint = f32(rng.uniform(0.06, 0.16))
        picture += faint * sheet.blur(masks.ghost.astype(np.float32), 1.0) * floor
        height -= 0.5 * faint * masks.ghost
    if has_closed:
        closed = sheet.blur(masks.closed.astype(np.float32), soft)
        unrest = float(tex[::4, ::4].std())
        kind = rng.choice(4, p=(0.5, 0.17, 0.2, 0.13))  # brighter, darker, floor shining through, texture and rims alone
        shift = (rng.uniform(0.08, 0.35) + unrest * rng.uniform(0.3, 1.5)) * (1.0, -0.7, 0.0, 0.0)[kind]
        shifts = np.r_[0.0, shift * rng.uniform(0.6, 1.3, len(grooves))].astype(np.float32)
        streaks = sheet.noise(rng.uniform(0.5, 3), rng.uniform(15, 120), stroke_deg)
        smear = shifts[masks.label] + streaks * f32(rng.uniform(0.4, 1.6) * rough) + f32(rng.uniform(0.1, 0.5)) * tex
        smear += sheet.noise(rng.uniform(4, 15), rng.uniform(10, 60), stroke_deg) * f32(rng.uniform(0, 0.6) * rough)
        if kind == 2:
            smear += f32(np.sign(level) * min(rng.uniform(0.08, 0.25) + unrest * rng.uniform(0.3, 1.0), 0.05 + 0.4 * abs(level)))
        picture += closed * (smear - picture)
        footprint = sheet.blur((masks.closed | masks.open).astype(np.float32), max(0.35, 0.6 * wall_um))
        trace = 4 * footprint * (1 - footprint) * np.clip(0.9 + 0.6 * sheet.noise(rng.uniform(3, 12)), 0, 1.4)
        picture += closed * trace * f32((rng.uniform(0.1, 0.45) + unrest * (1.2 if kind == 3 else 0.5)) * rng.choice((-1.0, 1.0), p=(0.6, 0.4)))
        picture -= masks.seam * f32(rng.uniform(0.2, 0.8))
        height += masks.closed * (f32(rng.uniform(-0.3, 0.25)) + f32(rng.uniform(0, 0.12)) * streaks)
    if has_scuff:
        torn = sheet.noise(rng.uniform(0.8, 3), rng.uniform(8, 80), stroke_deg) * f32(rng.uniform(0.15, 0.5))
        torn += sheet.fractal(rng.uniform(2, 8), 3, 0.8) * f32(rng.uniform(0.1, 0.45))
        pits = sheet.noise(rng.uniform(2, 8), rng.uniform(6, 40), stroke_deg, smooth=True)
        torn += np.where(pits > rng.uniform(0.8, 1.8), f32(-rng.uniform(0.2, 0.9)), f32(0)) + np.where(pits < -rng.uniform(1, 2), f32(rng.uniform(0, 0.7)), f32(0))
        torn += f32(rng.uniform(-0.35, 0.4))
        scuff = sheet.blur(masks.scuffed.astype(np.float32), 2 * soft)
        picture += scuff * (torn - picture)
        height += masks.scuffed * torn * f32(rng.uniform(0.2, 0.8))
    edge = sheet.blur(masks.open.astype(np.float32), wall_um, 0.6)
    lines = 4 * edge * (1 - edge)
    shape = np.clip(f32(0.8) + f32(rng.uniform(0, 0.8)) * sheet.noise(rng.uniform(2, 20)), 0, 2)
    outside = edge < 0.5 if rng.random() < 0.5 else True
    picture += f32(rim) * lines * shape * np.where(outside, f32(1), f32(0.35))
    if emboss > 0.03:
        height = sheet.blur(height, wall_um, 0.6)
        light = rng.uniform(0, 2 * np.pi)
        slope = cv2.Sobel(height, cv2.CV_32F, 1, 0, ksize=3) * f32(np.cos(light) / 8) + cv2.Sobel(height, cv2.CV_32F, 0, 1, ksize=3) * f32(np.sin(light) / 8)
        picture += f32(emboss * 2.5 * wall_px) * slope
    return _lookalikes(sheet, picture, film, carbon, rough, stroke_deg)


def _lookalikes(sheet: _Sheet, picture: np.ndarray, film: float, carbon: float, rough: float, stroke_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """Add what is not a valley: graphite, pull-outs, stains, films, scratches along the stroke; debris is returned as a mask."""
    rng, f32 = sheet.rng, np.float32
    if rng.random() < 0.3:
        flakes = sheet.blur(_flakes(sheet, np.exp(rng.uniform(np.log(0.3), np.log(8)))), rng.uniform(0.05, 0.4))
        picture = picture + flakes * (f32(carbon) - picture)
    if rng.random() < 0.15:
        picture += _blots(sheet, rng.poisson(6), (1.5, 12), 2.5) * f32(rng.uniform(-1.0, -0.3))
    if film > 0.15 and rng.random() < 0.6:
        patch = sheet.fractal(rng.uniform(8, 80), 3) if rng.random() < 0.5 else sheet.noise(rng.uniform(5, 25), rng.uniform(30, 200), stroke_deg)
        patch = np.clip((patch - f32(rng.uniform(-0.3, 1.2))) * f32(rng.uniform(0.8, 6)), 0, 1)
        tint = f32(rng.uniform(-0.5, 0.35) * film) + sheet.noise(rng.uniform(0.6, 3)) * f32(0.5 * rough)
        picture += patch * (tint - f32(0.25) * picture)
    if rng.random() < 0.2:
        picture += sheet.blur(_blots(sheet, rng.poisson(4), (15, 120), 3), rng.uniform(1, 8)) * f32(rng.uniform(-0.6, 0.4))
    if rng.random() < 0.2:
        fine = np.zeros(sheet.shape, np.float32)
        way = np.array([np.cos(np.deg2rad(stroke_deg)), -np.sin(np.deg2rad(stroke_deg))])
        for _ in range(rng.integers(1, 9)):
            middle, long = rng.uniform(0, 1, 2) * sheet.shape[::-1], rng.uniform(20, 800) / sheet.pixel_size_um * way
            ends = np.round(16 * np.stack([middle - long / 2, middle + long / 2])).astype(int)
            thick = max(1, round(rng.uniform(0.5, 3.5) / sheet.pixel_size_um))
            cv2.line(fine, ends[0].tolist(), ends[1].tolist(), float(rng.uniform(0.4, 1)), min(thick, 20), cv2.LINE_AA, 4)
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


def _photograph(sheet: _Sheet, picture: np.ndarray, hard: bool) -> tuple[np.ndarray, str]:
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
        picture = picture + cv2.GaussianBlur(rng.normal(0, 1, (rows, 1)).astype(np.float32), (0, 0), rng.uniform(1, 20)) * f32(rng.uniform(0.1, 0.8))
    if rng.random() < 0.12:
        picture = picture + rng.normal(0, rng.uniform(0.02, 0.12), (rows, 1)).astype(np.float32)
    if rng.random() < 0.08:
        jitter = x * f32(cols / 2) + f32(cols / 2 - 0.5) * 0 + f32((cols - 1) / 2) - x * f32(0.5) + rng.normal(0, rng.uniform(0.1, 0.6), (rows, 1)).astype(np.float32)
        picture = cv2.remap(picture, jitter.astype(np.float32), np.repeat(np.arange(rows, dtype=np.float32)[:, None], cols, 1), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    grain = sheet.white()[:, ::-1]
    if rng.random() < 0.3:
        grain = cv2.GaussianBlur(grain, (0, 0), rng.uniform(0.4, 0.8)) * f32(1.8)
    amount = np.exp(rng.uniform(np.log(0.02), np.log(0.14))) if not hard else rng.uniform(0.15, 0.4)
    picture += grain * f32(amount) * np.sqrt(np.clip(1 + 0.6 * picture, 0.2, 2.5))
    middle, spread = cv2.meanStdDev(picture[::3, ::3])
    scale = float(np.exp(rng.uniform(np.log(14), np.log(55)))) if not hard else rng.uniform(7, 20)
    grey = (picture - f32(middle[0, 0])) * f32(scale / max(spread[0, 0], 0.1)) + f32(rng.uniform(60, 190))
    grey = np.clip(grey, 0, 255)
    if rng.random() < 0.35:
        table = 255 * (np.arange(256) / 255) ** np.exp(rng.normal(0, 0.3))
        grey = cv2.LUT(grey.astype(np.uint8), table.astype(np.uint8)).astype(np.float32)
    after = rng.choice(["as taken", "smoothed", "median", "sharpened", "posterised", "print", "jpeg"], p=(0.5, 0.09, 0.06, 0.1, 0.05, 0.08, 0.12))
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
        dots = np.sin(2 * np.pi / pitch * (np.arange(cols)[None, :] + np.arange(rows)[:, None])).astype(np.float32) * np.sin(2 * np.pi / pitch * (np.arange(cols)[None, :] - np.arange(rows)[:, None])).astype(np.float32)
        grey = cv2.GaussianBlur(f32(rng.uniform(20, 60)) + grey * f32(rng.uniform(0.5, 0.8)) + dots * f32(rng.uniform(0, 10)), (0, 0), 0.6) + sheet.noise(2 * sheet.pixel_size_um) * 2
    grey = np.clip(grey, 0, 255).astype(np.uint8)
    if after == "jpeg":
        grey = cv2.imdecode(cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(35, 92))])[1], cv2.IMREAD_GRAYSCALE)
    return grey, str(after)


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One picture with its truth, all drawn from rng: finish, wear, smear, look and instrument.

    pixel_size_um: 0.12 … 2.2; shape: (rows, cols). Returns Made: image and codes (rows, cols) uint8 (codes 0–3, 255
    debris), worn (rows, cols) bool, kind "finish/wear/look". The same rng state gives the same picture.
    """
    shape = (int(shape[0]), int(shape[1]))
    tiles = int(np.ceil((np.hypot(*shape) / 0.9 + 8) / 512))
    sheet = _Sheet(rng=rng, pixel_size_um=float(pixel_size_um), shape=shape, bank=np.tile(rng.standard_normal((512, 512), dtype=np.float32), (tiles, tiles)))
    finish = str(rng.choice(list(FINISHES), p=FINISH_SHARES))
    wear = str(rng.choice(["unworn", "polished", "smear", "scuff"], p=(0.27, 0.1, 0.46, 0.17)))
    look = str(rng.choice(list(LOOKS), p=LOOK_SHARES))
    stroke_deg = float(rng.choice([0.0, 90.0]) + rng.normal(0, 2.5)) if rng.random() < 0.75 else float(rng.uniform(0, 180))
    grooves = _draw_grooves(sheet, finish, stroke_deg)
    lays_deg = tuple(float(np.median(grooves.angle_deg[grooves.lay == lay])) if (grooves.lay == lay).any() else stroke_deg + 90 + (20, -20)[lay] for lay in (0, 1))
    masks = _lay_masks(sheet, grooves, wear, stroke_deg)
    picture, debris = _compose(sheet, masks, grooves, look, lays_deg, stroke_deg, wear)
    image, _ = _photograph(sheet, picture, hard=rng.random() < 0.12)
    codes = np.zeros(shape, np.uint8)
    codes[masks.open], codes[masks.closed], codes[masks.scuffed], codes[debris] = 1, 2, 3, 255
    return Made(image=image, codes=codes, worn=masks.worn, kind=f"{finish}/{wear}/{look}")
