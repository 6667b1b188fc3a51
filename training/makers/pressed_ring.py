"""A ring runs over honed ground: it carries metal into grooves until they are bridged, and may seize.

Frame: rows along the stroke, columns across it. Metal is carried per stroke line as height × length (µm²).
"""

import cv2
import numpy as np

from makers.pressed_hone import OPEN_UM, grain, line_noise, spread


def draw_law(rng):
    """How metal is moved in one field."""
    kind = rng.choice(["groove", "patch", "even", "band"], p=[0.3, 0.25, 0.25, 0.2])
    one_lay = rng.random() < 0.15
    side = rng.integers(2)
    return {
        "kind": str(kind),
        "by_groove": rng.uniform(0.25, 0.8) if kind == "groove" or rng.random() < 0.2 else 0.0,
        "groove_rest": rng.choice([0.0, 0.1, 0.4]),
        "along": rng.choice([0.0, spread(rng, 0.5, 30)], p=[0.3, 0.7]),
        "along_sharp": spread(rng, 2, 40),
        "lay": (1.0 if not one_lay or side == 0 else 0.0, 1.0 if not one_lay or side == 1 else 0.0),
        "share": min(spread(rng, 0.15, 1.8), 0.97),
        "bridge": bool(rng.random() < 0.7),
        "lid_um": spread(rng, 0.3, 2.0),
        "way": rng.choice(["forth", "both", "back"], p=[0.3, 0.5, 0.2]),
        "tongue_um": spread(rng, 0.6, 25),
        "tongue_sigma": spread(rng, 0.1, 1.2),
        "holes": rng.choice([0.0, spread(rng, 0.01, 0.2)], p=[0.65, 0.35]),
        "hole_um": spread(rng, 0.6, 6),
        "cracks": bool(rng.random() < 0.15),
        "fill": rng.choice([0.0, rng.uniform(0.2, 0.8)], p=[0.6, 0.4]),
    }


def _give(rng, ground, pixel, law, where):
    """Readiness of each place to take metal, patches, bands and holes included."""
    shape = ground.cut.shape
    give = ground.give * where
    if law["kind"] == "patch":
        size = spread(rng, 10, 250) / pixel
        lump = grain(rng, shape, size * spread(rng, 1, 6), size)
        give *= np.clip((lump - np.float32(rng.uniform(-0.9, 0.4))) * 4 + 0.5, 0, 1)
    if law["kind"] == "band":
        wide = spread(rng, 15, 400) / pixel
        band = line_noise(rng, shape[1], wide / 2) - rng.uniform(-0.8, 0.4)
        tongue = max(law["tongue_um"] / pixel, 1)
        ragged = grain(rng, shape, tongue * 5, tongue) * np.float32(rng.uniform(0.02, 0.4))
        give *= np.clip((band.astype(np.float32)[None, :] + ragged) * np.float32(spread(rng, 1, 12)) + 0.5, 0, 1)
    if law["holes"]:
        size = max(law["hole_um"] / pixel, 1.5)
        level = np.float32(np.quantile(rng.standard_normal(2000), 1 - law["holes"]))
        give *= grain(rng, shape, size * spread(rng, 1, 2.5), size) < level
    if law["cracks"]:
        size = spread(rng, 4, 30) / pixel
        thin = max(0.35 * pixel * 1.6, 0.3) / (size * pixel)
        give *= np.abs(grain(rng, shape, size, size * 2)) > np.float32(min(thin, 0.12))
    return give


def press(rng, ground, pixel, law, where):
    """Strokes until the wanted share of valley ground is closed. Returns (closed, remaining depth µm, stroke number)."""
    cut = ground.cut
    valley = cut >= OPEN_UM
    total = int((valley & where).sum())
    stamp = np.zeros(cut.shape, np.uint8)
    if total == 0:
        return np.zeros(cut.shape, bool), cut, stamp
    give = _give(rng, ground, pixel, law, where)
    lid = np.float32(law["lid_um"])
    toll = np.minimum(cut, lid) if law["bridge"] else cut
    price = np.where(valley, toll * pixel / np.maximum(give, 1e-3), 0).astype(np.float32)
    price[(give < 0.05) & valley] = 1e6
    tongues = max(law["tongue_um"] / pixel, 1.0)
    cap = np.exp(np.float32(law["tongue_sigma"]) * grain(rng, cut.shape, tongues * spread(rng, 2, 30), tongues))
    supply = np.where(valley, 0, cap * np.float32(pixel / spread(rng, 3, 60))).astype(np.float32)
    # Load grows from stroke to stroke, so closures grow from lips to bridges to whole grooves.
    load = 0.25 * ground.width * (lid if law["bridge"] else float(np.median(cut[valley])))
    landed = ~valley
    rows = cut.shape[0]
    reachable = max(int((valley & (give >= 0.05)).sum()), 1)
    goal = min(law["share"] * total, 0.95 * reachable)
    for stroke in range(7):
        back = law["way"] == "back" or (law["way"] == "both" and stroke % 2 == 1)
        order = range(rows - 1, -1, -1) if back else range(rows)
        limit, fresh = cap * np.float32(load), supply * np.float32(load)
        toll_now = np.where(landed, 0, price)
        carried = limit[rows - 1 if back else 0] * rng.random(cut.shape[1], dtype=np.float32)
        can = np.empty(cut.shape, bool)
        for i in order:
            ok = carried >= toll_now[i]
            carried = np.minimum(carried - toll_now[i] * ok + fresh[i], limit[i])
            can[i] = ok
        stamp[can & ~landed] = stroke + 1
        landed |= can
        done = int((landed & valley & where).sum())
        if done >= goal:
            break
        load *= 1.7 if done > 0.3 * goal else 2.6
    closed = (landed & valley & where).astype(np.uint8)
    # Slits and crumbs finer than the picture's grain shut or break off.
    closed = cv2.medianBlur(closed, 5 if 0.5 / pixel > 2.5 else 3) * (valley & where)
    box = np.ones((3, 3), np.uint8)
    beside = cv2.dilate((valley & (closed == 0)).astype(np.uint8), box, iterations=2)
    sliver = (closed > cv2.morphologyEx(closed, cv2.MORPH_OPEN, box)) & (beside > 0)
    closed = (closed > 0) & ~sliver
    depth = np.where(closed, 0, cut)
    if law["fill"]:  # metal on floors that stay open
        size = spread(rng, 3, 80) / pixel
        part = np.clip(grain(rng, cut.shape, size * spread(rng, 1, 8), size) + 0.5, 0, 1) * np.float32(law["fill"])
        depth = np.where(
            valley & where & (give >= 0.05),
            np.where(closed, 0, np.maximum(cut * (1 - part), np.minimum(cut, 0.8))),
            depth,
        )
    return closed, depth, stamp


def lone(closed, depth):
    """Closed ground that touches no open groove, which nothing but a trace can tell."""
    count, parts = cv2.connectedComponents(closed.astype(np.uint8))
    near = cv2.dilate((depth >= OPEN_UM).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    alone = np.ones(count, bool)
    alone[np.unique(parts[near & closed])] = False
    alone[0] = False
    return alone[parts]


def cover_height(rng, closed, pixel, stamp):
    """Height of closed ground (µm about the plateau, within 0.42): recess or cap, folds, roughness, a trace at the rims."""
    shape = closed.shape
    height = np.full(shape, np.float32(rng.uniform(-0.3, 0.25) * rng.choice([0.1, 1.0])), np.float32)
    size = spread(rng, 1, 40) / pixel
    height += np.float32(rng.choice([0.0, spread(rng, 0.02, 0.2)])) * grain(rng, shape, size * 3, size)
    if rng.random() < 0.5:
        height += np.float32(spread(rng, 0.02, 0.12) * rng.choice([-1, 1])) * stamp
    rough = rng.choice([0.0, spread(rng, 0.01, 0.15)], p=[0.4, 0.6])
    if rough:
        streak = spread(rng, 1, 25)
        rough = min(rough, 0.02 * streak)  # grains without a direction would read as a rough floor
        size = max(spread(rng, 0.3, 3) / pixel, 1)
        height += np.float32(rough) * grain(rng, shape, size * streak, size)
    # Only covers broad enough to have an inside show two rim lines; narrow ones would read as a groove again.
    inside = cv2.erode(closed.astype(np.uint8), np.ones((3, 3), np.uint8))
    inside = cv2.erode(inside, np.ones((3, 3), np.uint8))
    reach = cv2.dilate(inside, np.ones((5, 5), np.uint8)).astype(bool)
    outline = closed & reach & ~cv2.dilate(inside, np.ones((3, 3), np.uint8)).astype(bool)
    trace = np.float32(spread(rng, 0.05, 0.3))
    fickle = np.clip(0.7 + 0.6 * grain(rng, shape, 30 / pixel, 15 / pixel), 0.15, 1)
    height = np.clip(height, -0.42, 0.42)
    return np.where(outline, np.minimum(height, -trace * fickle), height)


def _avalanche(rng, shape, keep, ignite, start):
    """Directed spreading of seizure down the rows of a coarse lattice: a site tears if a torn neighbour upstream infects it."""
    rows, cols = shape
    torn = np.zeros(shape, np.float32)
    state = rng.random(cols) < start
    draws = rng.random((rows, 3, cols))
    for i in range(rows):
        left, right = np.roll(state, 1), np.roll(state, -1)
        state = (state & (draws[i, 0] < keep)) | ((left | right) & (draws[i, 1] < keep * 0.32)) | (draws[i, 2] < ignite)
        torn[i] = state
    return torn


def scuff(rng, shape, pixel, where):
    """Adhesion along the stroke. Returns (torn, softness 0–1, relief µm)."""
    site_across, site_along = max(spread(rng, 1.2, 12), 2 * pixel), max(spread(rng, 4, 60), 3 * pixel)
    lattice = (int(shape[0] * pixel / site_along) + 6, int(shape[1] * pixel / site_across) + 6)
    goal = spread(rng, 0.02, 0.9)
    keep = rng.uniform(0.75, 0.97)
    band = line_noise(rng, lattice[1], spread(rng, 1, 20))
    level = np.quantile(band, 1 - np.clip(goal * rng.uniform(1.0, 2.5), 0.05, 1))
    allowed = (band >= level).astype(np.float32)
    best = np.zeros(lattice, np.float32)
    for trial in range(4):
        torn = _avalanche(rng, lattice, keep, 0.002 * 4**trial, goal) * allowed
        best = np.maximum(best, torn[::-1] if rng.random() < 0.5 else torn)
        if best.mean() >= goal * 0.8:
            break
    grid = np.array([[pixel / site_across, 0, 2 + rng.random()], [0, pixel / site_along, 2 + rng.random()]])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    body = cv2.warpAffine(best, grid, (shape[1], shape[0]), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    tooth = max(spread(rng, 0.8, 6) / pixel, 1.0)
    body += np.float32(rng.uniform(0.1, 0.35)) * grain(rng, shape, tooth * spread(rng, 2, 12), tooth)
    torn = (body > 0.5) & where
    _, parts, stats, _ = cv2.connectedComponentsWithStats(cv2.medianBlur(torn.astype(np.uint8), 5))
    long = stats[:, cv2.CC_STAT_HEIGHT] * pixel >= min(spread(rng, 10, 40), 0.3 * shape[0] * pixel)
    long[0] = False
    torn = long[parts]
    _, parts, stats, _ = cv2.connectedComponentsWithStats((~torn).astype(np.uint8))
    crumb = stats[:, cv2.CC_STAT_AREA] * pixel**2 < spread(rng, 10, 200)
    crumb[0] = False
    torn = (torn | crumb[parts]) & where

    coarse = max(spread(rng, 1.5, 12) / pixel, 1.5)
    fine = max(spread(rng, 0.2, 1.2) / pixel, 1.0)
    power = spread(rng, 0.4, 2.2)
    relief = grain(rng, shape, coarse * spread(rng, 8, 60), coarse) * np.float32(rng.uniform(0.1, 1))
    tear = grain(rng, shape, coarse * spread(rng, 1, 4), coarse)
    if rng.random() < 0.6:  # scales: each rises slowly and breaks off at its downstream edge
        phase = np.arange(shape[0], dtype=np.float32)[:, None] / np.float32(coarse * spread(rng, 2, 8)) + 1.2 * tear
        tear = np.abs(phase % 1.0) * 2 - 1
    relief += tear * np.float32(rng.uniform(0.1, 1))
    relief += grain(rng, shape, fine * spread(rng, 1, 10), fine) * np.float32(rng.uniform(0.2, 0.7))
    relief *= np.float32(power)
    relief += np.float32(rng.uniform(-0.8, 0.8))
    if rng.random() < 0.4:  # transferred lumps
        size = spread(rng, 3, 25) / pixel
        relief += np.clip(grain(rng, shape, size * 2.5, size) - 1, 0, 2) * np.float32(spread(rng, 0.5, 3))
    soft = torn.astype(np.float32)
    blur = rng.choice([0.0, spread(rng, 0.3, 1.0) / pixel])
    if blur > 0.4:
        soft = cv2.GaussianBlur(soft, (0, 0), min(blur, 3.0))
    return torn, soft, relief
