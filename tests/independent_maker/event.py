"""Style ``event``: the surface is made grit by grit, then the ring truncates it and carries metal along the stroke.

A honing grit moves at the peripheral speed around the bore and at plus or minus the axial speed along it, so its
groove lies half the hone angle from the circumference. A cut lowers the surface to the grit's outline, and part of the
metal goes to ridges beside it. In the track, plateaus and ridges are cut to a level; a sweep along the stroke keeps an
account of metal per unit width: what is rubbed off is carried, and pays for the lips that close a groove.
"""

import cv2
import numpy as np

from .scene import (
    VALLEY_DEPTH_UM,
    FieldFacts,
    Picture,
    band,
    blobs,
    codes_from_depths,
    debris,
    flakes,
    fractal,
    pits,
    reach_px,
    scuff_map,
    spread_places,
    stains,
    streaks,
)

CAP_THICKNESS_UM = 0.6


def grit_direction_deg(stroke_deg: float, axial_speed: float, peripheral_speed: float) -> float:
    """Direction of a grit's path on the unrolled bore; the sign of the axial speed tells the stroke's sense.

    >>> round(grit_direction_deg(90.0, 1.0, 1.0), 6), round(grit_direction_deg(90.0, -1.0, 1.0), 6)
    (45.0, 135.0)
    """
    return float((stroke_deg - 90 + np.degrees(np.arctan2(axial_speed, peripheral_speed))) % 180)


def _cut(height, deepest, shape, pixel, rng, *, direction, offset_um, width_um, depth_um, span_um, ridge, fade_um=0.0):
    """One grit passes: cut to its outline, throw up ridges; ``deepest`` notes depth of hone grooves."""
    half = width_um / 2
    rim = half * (1.5 if ridge else 1.0)
    index, across, along = band(
        shape, direction_deg=direction, offset_px=offset_um / pixel, half_width_px=max(rim / pixel, 1.0),
        span_px=(span_um[0] / pixel, span_um[1] / pixel),
    )
    if not index.size:
        return
    across, along = across * pixel, along * pixel
    phase = rng.uniform(0, 6.28, 3)
    chatter = 1 + 0.10 * np.sin(along / 37 + phase[0]) + 0.07 * np.sin(along / 11.3 + phase[1])
    enter, leave = max(8 * width_um, fade_um), max(5 * width_um, fade_um)
    chatter *= np.clip((along - span_um[0]) / enter, 0, 1) * np.clip((span_um[1] - along) / leave, 0, 1)
    u = across / half + 0.06 * np.sin(along / 23 + phase[2])
    lean = rng.uniform(-0.35, 0.35)
    power = rng.uniform(1.2, 3.0)
    inside = np.abs(u) < 1
    depth = depth_um * chatter * np.clip(1 - np.abs(u) ** power, 0, 1) * (1 + lean * u)
    old = height[index]
    new = np.where(inside, np.minimum(old, -depth), old)
    if ridge:
        crest = ridge * depth_um * chatter * np.clip(1 - np.abs(np.abs(u) - 1.2) / 0.28, 0, 1) * (1 + np.sign(u) * lean)
        new = np.where(inside, new, old + crest)
        deepest[index] = np.maximum(deepest[index], np.where(inside, depth, 0))
    height[index] = new


def _hone(field: FieldFacts, rng):
    """Cut all grits; return height, depth of hone grooves (µm, both below nominal) and depths of either lay."""
    finish, shape, pixel = field.finish, field.shape, field.pixel_size_um
    height = 0.03 * fractal(shape, rng, slope=1.3, longest_px=30 / pixel).ravel()
    by_lay = [np.zeros(height.size, np.float32), np.zeros(height.size, np.float32)]
    reach = reach_px(shape) * pixel
    directions = [
        grit_direction_deg(finish.stroke_deg, sense * finish.axial_speed_m_per_min, finish.peripheral_speed_m_per_min)
        for sense in (1, -1)
    ]
    events = []
    per_um = 0 if field.without_valleys else -np.log(1 - finish.valley_target) / (finish.groove_width_um * 1.1)
    for place in rng.permutation(spread_places(per_um * 2 * reach, reach, rng)):
        width = float(np.clip(finish.groove_width_um * np.exp(rng.normal(0, 0.45)), 3, 50))
        depth = float(np.clip(width / 2 * finish.groove_slope * rng.uniform(0.5, 1.0) + VALLEY_DEPTH_UM, 0.7, 10))
        events.append((len(events) % 2 if rng.random() < 0.6 else int(rng.random() > finish.balance), float(place), width * 1.15, depth))
    for lay, place, width, depth in events:
        start = rng.uniform(-1.0, 0.6) * 4000 if rng.random() < 0.35 else -1e6
        _cut(height, by_lay[lay], shape, pixel, rng, direction=directions[lay] + rng.normal(0, 0.7),
             offset_um=place, width_um=width, depth_um=depth,
             span_um=(start, start + rng.exponential(4000) + 600) if start > -1e5 else (-1e6, 1e6), ridge=rng.uniform(0.08, 0.3))
    height = np.minimum(height, rng.uniform(0.04, 0.3) + 0.04 * rng.standard_normal(height.size, dtype=np.float32))
    spacing = max(rng.uniform(2.5, 6), 1.5 * pixel)
    for _ in range(int(2 * reach / spacing * 1.6)):
        width = max(rng.uniform(0.8, 3.5), 1.2 * pixel)
        _cut(height, None, shape, pixel, rng, direction=directions[int(rng.random() < 0.5)] + rng.normal(0, 1.2),
             offset_um=rng.uniform(-reach, reach), width_um=width, depth_um=rng.exponential(0.07) + 0.02,
             span_um=(-1e6, 1e6), ridge=0)
    return height.reshape(shape), [depth.reshape(shape) for depth in by_lay]


def sweep_metal(depth_um, removed_um, span_um, rows_order, step_um: float, supply_um2: float):
    """Carry metal along the rows and close grooves with lips; the account is kept per column.

    Args: depth below the plateau and metal rubbed off (rows, cols) µm; ``span_um`` (rows, cols): how far a lip begun
    at that rim may reach; the order of rows; the row step; metal carried in at the first row, µm² per unit width.
    Returns: closed (rows, cols) bool, metal used and metal available, µm² summed over columns.
    """
    carried = np.full(depth_um.shape[1], supply_um2, np.float32)
    gone = np.zeros_like(carried)
    allowed = np.zeros_like(carried)
    closed = np.zeros(depth_um.shape, bool)
    used = 0.0
    available = float(carried.sum())
    for row in rows_order:
        gain = removed_um[row] * step_um
        carried += gain
        available += float(gain.sum())
        open_here = depth_um[row] >= VALLEY_DEPTH_UM
        entering = open_here & (gone == 0)
        allowed[entering] = span_um[row][entering]
        gone = np.where(open_here, gone + step_um, 0)
        cost = np.minimum(depth_um[row], CAP_THICKNESS_UM) * step_um
        lip = open_here & (gone <= allowed) & (carried >= cost)
        allowed[open_here & ~lip] = 0
        carried[lip] -= cost[lip]
        used += float(cost[lip].sum())
        closed[row] = lip
    return closed, used, available


def _smear(field: FieldFacts, rng, depth_um, removed_um):
    """Turn the picture so that the stroke runs down the rows, sweep both ways, turn back; return closed and account."""
    rows, cols = field.shape
    pixel = field.pixel_size_um
    turn = field.finish.stroke_deg - 90.0
    side = int(np.ceil(np.hypot(rows, cols))) if abs(turn) > 15 else max(rows, cols) + int(0.3 * max(rows, cols))
    matrix = cv2.getRotationMatrix2D((cols / 2, rows / 2), -turn, 1.0)
    matrix[:, 2] += (side - cols) / 2, (side - rows) / 2
    turned = [cv2.warpAffine(layer, matrix, (side, side), flags=cv2.INTER_LINEAR) for layer in (depth_um, removed_um)]
    angle = np.radians(field.finish.hone_angle_deg / 2)
    typical = field.finish.groove_width_um * 1.1 / max(np.cos(angle), 0.2)
    coarse = (max(side // 4, 8), max(side // 4, 8))
    luck = streaks(coarse, rng, direction_deg=90, length_px=60 / pixel / 4 + 1, width_px=7 / pixel / 4 + 0.5)
    clump = streaks(coarse, rng, direction_deg=90, length_px=150 / pixel / 4 + 1, width_px=40 / pixel / 4 + 0.5)
    luck = (0.75 * luck + 0.65 * clump) / np.hypot(0.75, 0.65)
    luck = cv2.resize(luck, (side, side), interpolation=cv2.INTER_CUBIC)
    ragged = rng.standard_normal(side, dtype=np.float32)[None, :] * 0.12
    threshold = np.quantile(luck[::4, ::4], 1 - min(field.closed_share, 0.999))
    span = np.clip((luck - threshold) * 2.2 + 0.35 + ragged, 0, None) * typical * (luck + 0.25 > threshold)
    if field.closed_share > 0.9:
        span = span + 4 * typical
    supply = 12.0 * typical * CAP_THICKNESS_UM
    order = range(side) if rng.random() < 0.5 else range(side - 1, -1, -1)
    closed, used, available = sweep_metal(turned[0], turned[1], span, order, pixel, supply)
    back = cv2.warpAffine(closed.astype(np.float32), matrix, (cols, rows), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
    return back > 0.5, used * pixel, available * pixel


def _horizon_escape(height_um, pixel, rng, azimuths: int, toward: float, asymmetry: float):
    """Share of emitted electrons that leave towards the sky, sampled over random azimuths; detector side favoured."""
    small = height_um.astype(np.float32)
    total = np.zeros_like(small)
    weight_sum = 0.0
    start = rng.uniform(0, 2 * np.pi)
    for number in range(azimuths):
        azimuth = start + 2 * np.pi * (number + rng.uniform(-0.3, 0.3)) / azimuths
        horizon = np.zeros_like(small)
        for distance in (1.0, 2.2, 4.5, 9.0, 18.0):
            step_px = max(distance / max(pixel, 0.35), 1.0)
            move = np.float32([[1, 0, step_px * np.cos(azimuth)], [0, 1, -step_px * np.sin(azimuth)]])
            ahead = cv2.warpAffine(small, move, small.shape[::-1], flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP,
                                   borderMode=cv2.BORDER_REPLICATE)
            np.maximum(horizon, (ahead - small) / np.float32(step_px * pixel), out=horizon)
        weight = 1 + asymmetry * np.cos(azimuth - toward)
        total += weight / (1 + horizon**2 * 2.0)
        weight_sum += weight
    return total / weight_sum


def _emit(field: FieldFacts, rng, height_um, carbon):
    """Signal of a detector to one side: yield by tilt, escape, penetration at edges, and composition."""
    finish, pixel = field.finish, field.pixel_size_um
    toward = rng.uniform(0, 2 * np.pi)
    slope_row, slope_col = np.gradient(height_um, pixel)
    secant = np.sqrt(1 + slope_row**2 + slope_col**2)
    facing = -(slope_col * np.cos(toward) - slope_row * np.sin(toward)) / secant
    # Kanaya and Okayama 1972, range of electrons in iron, µm
    range_um = 0.0276 * 55.85 * finish.kv**1.67 / (26**0.89 * 7.87)
    spread = max(range_um / 2.5 / pixel, 0.4)
    convex = height_um - cv2.GaussianBlur(height_um, (0, 0), spread * 1.6)
    backscatter = 0.28 - 0.22 * carbon
    if finish.detector == "BSE":
        escape = _horizon_escape(height_um, pixel, rng, 6, toward, 0.1)
        signal = backscatter / 0.28 * (1 + rng.uniform(0.4, 0.9) * facing) * (0.2 + 0.8 * escape**2) + rng.uniform(0.08, 0.2) * np.tanh(3 * convex)
        return cv2.GaussianBlur(signal.astype(np.float32), (0, 0), spread)
    escape = _horizon_escape(height_um, pixel, rng, 10, toward, rng.uniform(0.3, 0.9))
    yielded = np.minimum(secant, 2.5) ** rng.uniform(0.9, 1.3)
    signal = yielded * (0.35 + 0.65 * backscatter / 0.28) * escape ** rng.uniform(1.0, 2.2)
    signal *= 1 + rng.uniform(0.2, 0.6) * facing
    signal += rng.uniform(0.1, 0.5) * np.tanh(2.5 * np.clip(convex, 0, None))
    return signal.astype(np.float32)


def make_event(field: FieldFacts, rng: np.random.Generator) -> Picture:
    """Make one field of style ``event``; facts hold the account of carried metal (µm³)."""
    finish, shape, pixel = field.finish, field.shape, field.pixel_size_um
    height, by_lay = _hone(field, rng)
    hone_depth = np.maximum(*by_lay)
    closed = np.zeros(shape, bool)
    facts = {"metal_used_um3": 0.0, "metal_available_um3": 0.0, "speed_ratio": finish.axial_speed_m_per_min / finish.peripheral_speed_m_per_min}
    if field.worn:
        pressure = streaks(shape, rng, direction_deg=finish.stroke_deg, length_px=600 / pixel, width_px=20 / pixel)
        level = -field.wear_um * np.clip(1 + 0.15 * pressure, 0.3, 2)
        fine = streaks(shape, rng, direction_deg=finish.stroke_deg, length_px=120 / pixel, width_px=max(1.2 / pixel, 0.8))
        removed = np.clip(height - level, 0, None)
        height = np.minimum(height, level - 0.05 * np.clip(fine + 0.4, 0, None))
    else:
        level, removed = np.zeros(shape, np.float32), None
    before = np.where(hone_depth > 0, hone_depth + level, 0)
    depth = before.copy()
    if field.worn and field.closed_share > 0:
        closed, used, available = _smear(field, rng, before, removed.astype(np.float32))
        closed &= before >= VALLEY_DEPTH_UM
        facts.update(metal_used_um3=used, metal_available_um3=available)
        wrinkle = streaks(shape, rng, direction_deg=finish.stroke_deg, length_px=18 / pixel, width_px=3 / pixel)
        core = cv2.GaussianBlur(closed.astype(np.float32), (0, 0), max(1.5 / pixel, 0.8))
        seam = np.exp(-(((core - 0.5) / 0.12) ** 2)) * np.clip(0.6 + 0.6 * wrinkle, 0, 1.2)
        residual = np.clip(0.12 + 0.09 * wrinkle + 0.08 * core + 0.25 * seam, 0.01, 0.45)
        depth = np.where(closed, residual, before)
        height = np.where(closed, level - residual, height)
    valley = depth >= VALLEY_DEPTH_UM
    floor = blobs(shape, rng, size_px=max(2.5 / pixel, 3)) + 0.6 * fractal(shape, rng, slope=1, longest_px=8 / pixel)
    height = height + np.where(valley, 0.09 * finish.floor_roughness * np.clip(depth - 0.5, 0, 1.5) * floor, 0)
    carbon = finish.residue * valley * np.clip(depth - 0.8, 0, 1) * np.clip(0.55 + 0.5 * floor, 0, 1)
    for _ in range(field.stroke_scratches):
        _cut_scratch(height, shape, pixel, rng, finish.stroke_deg)
    lamellae, holes = flakes(field, rng), pits(field, rng)
    visible = ~closed
    height = height - 0.7 * lamellae * visible - 1.3 * cv2.GaussianBlur(holes.astype(np.float32), (0, 0), max(0.5 / pixel, 0.5))
    carbon = np.maximum(carbon, lamellae * visible)
    torn = scuff_map(field, rng)
    if torn.any():
        tear = streaks(shape, rng, direction_deg=finish.stroke_deg, length_px=25 / pixel, width_px=3.5 / pixel)
        scale = fractal(shape, rng, slope=1.4, longest_px=25 / pixel)
        shred = streaks(shape, rng, direction_deg=finish.stroke_deg, length_px=8 / pixel, width_px=max(1.5 / pixel, 1))
        height = np.where(torn, level - 0.3 + 0.5 * tear + 0.45 * np.tanh(1.5 * scale) + 0.2 * shred, height)
        carbon = carbon * ~torn
    loose = debris(field, rng)
    lump = cv2.GaussianBlur(loose.astype(np.float32), (0, 0), max(1.2 / pixel, 0.8))
    waviness = 0.25 * fractal(shape, rng, slope=2.2, longest_px=600 / pixel)
    signal = _emit(field, rng, (height + waviness + 3 * lump).astype(np.float32), np.clip(carbon, 0, 1).astype(np.float32))
    signal = signal * (1 - 0.22 * stains(field, rng)) * (1 + 0.35 * loose)
    hidden = cv2.dilate(loose.astype(np.uint8), np.ones((3, 3), np.uint8), iterations=max(1, int(1.5 / pixel))) > 0
    codes = codes_from_depths(before, depth, closed, torn, hidden)
    areas = tuple(float((lay > VALLEY_DEPTH_UM).sum()) for lay in by_lay)
    return Picture(signal=signal, codes=codes, lay_areas_px=areas, facts=facts)


def _cut_scratch(height, shape, pixel, rng, stroke_deg):
    reach = reach_px(shape) * pixel
    start = rng.uniform(-reach, reach * 0.6)
    flat = height.reshape(-1)
    _cut(flat, None, shape, pixel, rng, fade_um=0.2 * reach, direction=stroke_deg + rng.normal(0, 0.6), offset_um=rng.uniform(-reach, reach) * 0.8,
         width_um=max(rng.uniform(1.5, 7), 1.5 * pixel), depth_um=rng.uniform(0.4, 1.6),
         span_um=(start, start + rng.uniform(0.3, 2) * reach), ridge=0)
