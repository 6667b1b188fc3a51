"""The surface of the layered maker: grooves by renewal, and masks of what lies where, with torn edges."""

from dataclasses import dataclass, field

import cv2
import numpy as np

POINTS = 40  # points along each edge of a groove's outline

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
class Sheet:
    """The picture's grid in µm about its centre, and a bank of white noise that every texture is drawn from."""

    rng: np.random.Generator
    pixel_size_um: float
    shape: tuple[int, int]
    bank: np.ndarray  # square float32, zero mean, unit variance, wide enough for the whole picture at one value a pixel

    def noise(
        self, across_um: float, along_um: float | None = None, angle_deg: float | None = None, smooth: bool = False
    ) -> np.ndarray:
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
        shift = rng.uniform(np.minimum(reach, side / 2), np.maximum(side - reach, side / 2 + 1e-3)) - turn @ (
            cols / 2,
            rows / 2,
        )
        way = cv2.INTER_CUBIC if smooth else cv2.INTER_LINEAR
        warped = cv2.warpAffine(
            self.bank, np.c_[turn, shift], (cols, rows), flags=way | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_WRAP
        )
        if step > 1:
            warped = cv2.resize(warped, (cols * step, rows * step), interpolation=cv2.INTER_LINEAR)[
                : self.shape[0], : self.shape[1]
            ]
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
class Grooves:
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
    narrowing: tuple[float, float, float, float] = field(
        default=(0.0, 0.0, 1.0, 1.0)
    )  # stroke °, edge µm, side, factor

    def __len__(self) -> int:
        return self.width_um.size

    def outline(
        self,
        sheet: Sheet,
        which: np.ndarray,
        from_um: np.ndarray,
        to_um: np.ndarray,
        *,
        low: np.ndarray,
        high: np.ndarray,
        slant: np.ndarray,
        former: bool,
    ) -> np.ndarray:
        """Outlines (m, 2 × POINTS, 2) int32 in sixteenths of a pixel of grooves `which` between from_um and to_um.

        low, high: edges across in half widths (-1 … 1); slant: shift of the ends from edge to edge in half widths;
        former: the width before wear, whatever has become of it.
        """
        u = np.linspace(0, 1, POINTS)[None, :]
        k = which
        edges = []
        for side in (low, high):
            s = from_um[:, None] + u * (to_um - from_um)[:, None] + (side * slant * self.width_um[k] / 2)[:, None]
            centre = (
                self.offset_um[k, None]
                + self.slope[k, None] * (s - self.pivot_um[k, None])
                + self.bow_per_um[k, None] * s**2
            )
            for wave in range(2):
                size, length, phase = (self.wiggle[k, wave, i][:, None] for i in range(3))
                centre = centre + size * np.sin(2 * np.pi * s / length + phase)
            inside = np.minimum(s - self.start_um[k, None], self.end_um[k, None] - s) / self.taper_um[k, None]
            half = self.width_um[k, None] / 2 * np.sqrt(np.clip(inside, 0, 1))
            half = half * (
                1
                + 0.18 * np.sin(2 * np.pi * s / (0.37 * self.wiggle[k, 0, 1][:, None]) + self.wiggle[k, 1, 2][:, None])
            )
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


def draw_grooves(sheet: Sheet, finish: str, stroke_deg: float) -> Grooves:
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
        spacing = max(
            min(width * fill * np.exp(ragged_width**2 / 2) / (share * part), max(farthest, 2.5 * width)),
            2 * reach / 120,
        )
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
                        parts.append(
                            (
                                lay,
                                offset,
                                pivot,
                                pivot + rng.gamma(2.0, 40 + 5 * width),
                                rng.choice((-1, 1)) * rng.uniform(0.03, 0.15),
                                pivot,
                            )
                        )
                s += run + rng.exponential(length * (1 - fill) / fill + 1)
                offset += rng.normal(0, 0.5 * spacing)  # only a closed groove goes on in the same line
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
    return Grooves(
        angle_deg=lays_deg,
        offset_um=offset,
        start_um=start,
        end_um=end,
        width_um=widths,
        slope=slope,
        pivot_um=pivot,
        bow_per_um=np.full(n, bow),
        wiggle=wiggle,
        taper_um=taper,
        lay=lay.astype(int),
    )


def _fill(sheet: Sheet, outlines: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Outlines drawn one over the other with their values: (rows, cols) uint16."""
    drawn = np.zeros(sheet.shape, np.uint16)
    for outline, value in zip(outlines, values, strict=True):
        cv2.fillPoly(drawn, [outline], int(value), lineType=cv2.LINE_8, shift=4)
    return drawn


def _closures(sheet: Sheet, grooves: Grooves, stroke_deg: float) -> tuple[np.ndarray, ...]:
    """Closures along single grooves: groove, ends µm, edges in half widths, slant; sorted by groove, and whether folded."""
    rng = sheet.rng
    lay_liking = np.array([1.0, rng.choice([1.0, 1.0, 0.15])])[:: rng.choice((-1, 1))]
    strength = np.exp(rng.uniform(np.log(0.2), np.log(2.0)))
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
class Masks:
    """What lies where: all (rows, cols). label: groove + 1; seam: fold lines; ghost: grooves worn to a faint trace."""

    label: np.ndarray
    open: np.ndarray
    closed: np.ndarray
    ghost: np.ndarray
    scuffed: np.ndarray
    seam: np.ndarray
    worn: np.ndarray


def lay_masks(sheet: Sheet, grooves: Grooves, wear: str, stroke_deg: float) -> Masks:
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
    tear_um = min(
        rng.choice([0.15, 0.4, 0.9, 1.6]) * rng.uniform(0.5, 1.2),
        0.09 * float(np.median(grooves.width_um)) if n else 1.0,
    )
    grain_um = tear_um * rng.uniform(1.5, 5) + 0.6 * pixel
    torn_here = np.float32(tear_um / pixel) * np.clip(0.7 + 0.5 * sheet.noise(rng.uniform(8, 40)), 0.1, 2)
    move = [torn_here * (sheet.noise(grain_um, smooth=True) + 0.5 * sheet.noise(0.4 * grain_um)) for _ in range(2)]
    x, y = np.meshgrid(np.arange(cols, dtype=np.float32), np.arange(rows, dtype=np.float32))
    x, y = x + move[0], y + move[1]
    every, ones = np.arange(n), np.ones(n)
    common = {"low": -ones, "high": ones, "slant": 0 * ones}
    now = _fill(
        sheet, grooves.outline(sheet, every, grooves.start_um, grooves.end_um, former=False, **common), every + 1
    )
    label = cv2.remap(now, x, y, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE)
    before = label
    nothing = np.zeros(shape, bool)
    closed, scuffed, seam = nothing, nothing.copy(), np.zeros(shape, np.float32)
    if wear in ("smear", "scuff") and n:
        if grooves.narrowing[3] < 1:
            former = _fill(
                sheet, grooves.outline(sheet, every, grooves.start_um, grooves.end_um, former=True, **common), every + 1
            )
            before = cv2.remap(former, x, y, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE)
        way = rng.choice(3, p=(0.3, 0.4, 0.3))  # bands, closures, both
        stroke_px = np.float32(
            min(rng.uniform(0.2, 3), 0.2 * float(np.median(grooves.width_um))) / pixel
        ) * sheet.noise(rng.uniform(0.8, 3), rng.uniform(3, 15), stroke_deg)
        if way != 0:
            which, start, end, low, high, slant, folded = _closures(sheet, grooves, stroke_deg)
            drawn = _fill(
                sheet,
                grooves.outline(sheet, which, start, end, low=low, high=high, slant=slant, former=True),
                which + 1,
            )
            mx, my = (
                x + stroke_px * np.float32(np.cos(np.deg2rad(stroke_deg))),
                y - stroke_px * np.float32(np.sin(np.deg2rad(stroke_deg))),
            )
            drawn = cv2.remap(drawn, mx, my, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE)
            closed = (drawn == before) & (before > 0)
            if folded.any():
                f, where = folded, rng.uniform(-0.5, 0.5, folded.sum())
                lines = grooves.outline(
                    sheet, which[f], start[f], end[f], low=where, high=where, slant=slant[f], former=True
                )
                cv2.polylines(seam, list(lines[:, :POINTS]), False, 1.0, thickness=1, lineType=cv2.LINE_AA, shift=4)
                seam = cv2.remap(seam, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        if way != 1:
            wide_um = np.exp(rng.uniform(np.log(8), np.log(80))) + 6 * pixel
            press = sheet.noise(wide_um, rng.uniform(8, 60) * wide_um, stroke_deg, smooth=True) + rng.choice(
                [0.02, 0.06, 0.15]
            ) * sheet.noise(rng.uniform(1, 4), rng.uniform(4, 30), stroke_deg)
            yields = np.r_[0.0, (rng.random(n) < rng.uniform(0.4, 1.0)) * 1.0].astype(np.float32)
            band = press + 0.5 * yields[before] > rng.uniform(0.4, 1.5)
            closed = closed | (band & (yields[before] > 0))
        closed = (cv2.medianBlur(closed.astype(np.uint8), 3 if pixel > 0.6 else 5) > 0) & (before > 0) & worn
    if wear == "scuff":
        wide_um = np.exp(rng.uniform(np.log(6), np.log(60))) + 4 * pixel
        tear = sheet.noise(wide_um, rng.uniform(6, 40) * wide_um, stroke_deg, smooth=True) + 0.3 * sheet.noise(
            rng.uniform(2, 6), rng.uniform(10, 50), stroke_deg
        )
        scuffed = (cv2.medianBlur((tear > rng.uniform(0.5, 1.9)).astype(np.uint8), 5) > 0) & worn
    faint = np.r_[False, rng.random(n) < (rng.uniform(0, 0.4) if wear != "unworn" and rng.random() < 0.4 else 0.0)]
    ghost = faint[label] & worn & ~closed
    closed &= ~faint[before]
    opened = (label > 0) & ~closed & ~ghost
    if closed.any():  # slivers that stay open beside a closure are closed with it
        beside = cv2.dilate(closed.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
        sliver = opened & beside & (cv2.medianBlur(opened.astype(np.uint8), 3 if pixel > 0.6 else 5) == 0) & worn
        closed, opened = closed | sliver, opened & ~sliver
    label = np.where(closed & (before > 0), before, label)
    return Masks(
        label=label,
        open=opened & ~scuffed,
        closed=closed & ~scuffed,
        ghost=ghost & ~scuffed,
        scuffed=scuffed,
        seam=seam * closed,
        worn=worn,
    )
