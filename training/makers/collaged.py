"""Training fields made as a collage: distances to lines decide the states, random textures decide the looks.

The tones of the states are drawn independently of each other and only kept far enough apart to be seen.
"""

import cv2
import numpy as np

from makers.collaged_groove import Sheet, draw_wear, lay_groove
from makers.collaged_marks import debris, flakes, scratches, stains
from makers.collaged_picture import finish_picture
from makers.collaged_scuff import scuff
from makers.collaged_texture import fractal, log_uniform, programme, standard, stretched
from makers.made import Made


def make(rng, *, pixel_size_um, shape):
    px, shape = float(pixel_size_um), (int(shape[0]), int(shape[1]))
    stroke = rng.choice([0.0, np.pi / 2], p=[0.5, 0.5]) + rng.normal(0, 0.06)
    if rng.random() < 0.25:
        stroke = rng.uniform(0, np.pi)
    run = rng.choice(["unworn", "smear", "scuff"], p=[0.26, 0.54, 0.20])
    sheet = Sheet(shape, px, stroke)
    y, x = np.indices(shape, dtype=np.float32)
    across = (x * np.float32(-np.sin(stroke)) + y * np.float32(np.cos(stroke))) * np.float32(px)
    sheet.maps["across"] = across.ravel()
    worn, soft_worn = track(rng, across, run, sheet)
    wear = None
    if run == "smear" or (run == "scuff" and rng.random() < 0.6):
        wear = draw_wear(rng, sheet, worn, across)
    look = draw_look(rng, sheet)
    finish = hone(rng, sheet, look, wear)
    if wear is not None and run == "smear":
        ground = (sheet["open"] + sheet["closed"])[worn.ravel()]
        for _ in range(2):  # a smeared field shows grooves and smear
            if ground.mean() > 0.04 and sheet["closed"][worn.ravel()].sum() > 0.06 * ground.sum():
                break
            sheet.clear()
            wear.where, wear.share = "runs", rng.uniform(0.25, 0.6)
            finish = hone(rng, sheet, look, wear)
            ground = (sheet["open"] + sheet["closed"])[worn.ravel()]
    picture, codes = compose(rng, sheet, look, worn, soft_worn)
    if run == "scuff" or (run == "smear" and rng.random() < 0.04):
        picture, codes = scuff(rng, sheet, picture, codes, worn, look["contrast"])
    picture, codes = debris(rng, sheet, picture, codes)
    image = finish_picture(rng, picture, px, stroke, look["contrast"])
    return Made(image=image, codes=codes, worn=worn, kind=f"collaged {finish} {run}")


def track(rng, across, run, sheet):
    """Where the ring ran: nowhere, everywhere, or on one side of an edge along the stroke."""
    shape = across.shape
    if run == "unworn":
        return np.zeros(shape, bool), np.zeros(shape, np.float32)
    if rng.random() > 0.27:
        return np.ones(shape, bool), np.ones(shape, np.float32)
    low, high = float(across.min()), float(across.max())
    edge = rng.uniform(0.25, 0.75) * (high - low) + low
    wave = stretched(rng, shape, max(shape) / 2, max(shape) / 4, sheet.stroke) * np.float32((high - low) * 0.008)
    inside = (across + wave - np.float32(edge)) * np.float32(rng.choice([-1, 1]))
    width = np.float32(max(sheet.px, (high - low) * log_uniform(rng, 0.002, 0.05)))
    return inside > 0, np.clip(inside / width + 0.5, 0, 1).astype(np.float32)


def draw_look(rng, sheet):
    """The tones of plateau and open valley, drawn apart: contrast is valley minus plateau in grey (0–1)."""
    kind = rng.choice(["dark", "bright", "texture"], p=[0.62, 0.2, 0.18])
    contrast = log_uniform(rng, 0.1, 0.4) * (-1 if kind == "dark" else 1)
    if kind == "texture":
        contrast = rng.uniform(-0.08, 0.08)
    shown = max(abs(contrast), 0.13)
    grain = max(log_uniform(rng, 0.3, 4) / sheet.px, 1.5)
    return {
        "kind": kind,
        "contrast": contrast,
        "shown": shown,
        "plateau_spread": shown * log_uniform(rng, 0.04, 0.4),
        "valley_spread": shown * (log_uniform(rng, 0.7, 1.4) if kind == "texture" else log_uniform(rng, 0.05, 0.8)),
        "rim": shown * (rng.uniform(0.7, 1.8) if kind == "texture" else rng.uniform(0, 1.3) * (rng.random() < 0.75)),
        "emboss": shown * (rng.uniform(0.5, 1.5) if kind == "texture" else rng.uniform(0, 1.2) * (rng.random() < 0.6)),
        "edge_noise": fractal(rng, sheet.shape, grain * 2, 1.0, 0.0).ravel(),
    }


def groove_style(rng, px, reach):
    ragged = log_uniform(rng, 0.05, 0.6) * (rng.random() < 0.5)
    return {
        "bend": log_uniform(rng, 0.3, 4) * (rng.random() < 0.35),
        "wave": reach * log_uniform(rng, 0.3, 4),
        "uneven": rng.uniform(0, 0.15),
        "ends": rng.choice([0.0, 0.06, 0.2], p=[0.5, 0.3, 0.2]),
        "ragged": ragged,
        "rim_um": log_uniform(rng, 0.15, 1.5),
        "rim_in": rng.uniform(0.6, 1.5),
        "rim_side": rng.uniform(-0.9, 0.9),
        "rim_noise": rng.uniform(0, 0.8),
        "floor_spread": rng.uniform(0, 0.25),
        "wall": rng.normal(0, 0.35),
        "bowl": rng.normal(0, 0.4),
        "lines": rng.uniform(0.1, 0.7) * (rng.random() < 0.5),
        "line_grain": log_uniform(rng, 0.05, 0.4),
        "faint": log_uniform(rng, 0.08, 0.32),
        "newer": rng.random() < 0.6,
        "slope": log_uniform(rng, 0.1, 1),
        "soft": 0.0 if rng.random() < 0.6 else rng.uniform(0, 0.5),
    }


def hone(rng, sheet, look, wear):
    """Lay the grooves of one finish; returns its name."""
    px, shape = sheet.px, sheet.shape
    reach = float(np.hypot(*shape)) * px
    finish = str(
        rng.choice(["bare", "plateaued", "single-stage", "helical", "brushed"], p=[0.08, 0.34, 0.28, 0.12, 0.18])
    )
    hone_angle = np.deg2rad(rng.uniform(20, 90) if finish != "helical" else rng.uniform(110, 150))
    if rng.random() < 0.15:
        hone_angle = np.deg2rad(rng.uniform(20, 150))
    middle = sheet.stroke + np.pi / 2
    balance = rng.choice([0.5, 0.3, 0.1, 0.0], p=[0.55, 0.2, 0.1, 0.15])
    if rng.random() < 0.5:
        balance = 1 - balance
    style = groove_style(rng, px, reach)
    if finish == "brushed":
        style |= {"rim_um": log_uniform(rng, 0.8, 3), "slope": rng.uniform(0.6, 1.2), "soft": rng.uniform(0.2, 0.8)}
    if wear is not None:
        style["ends"] *= 0.4
    target = log_uniform(rng, 0.12, 0.6) if finish != "plateaued" else log_uniform(rng, 0.08, 0.35)
    side = min(shape) * px
    low = max(2.0, 2.2 * px)
    widest = float(np.clip(log_uniform(rng, 6, 60), low * 1.3, max(0.4 * side, low * 1.4)))
    scatter, jitter = log_uniform(rng, 1.2, 4), np.deg2rad(log_uniform(rng, 0.3, 3))
    area, drawn, plan = 0.0, 0, []
    weak_share = rng.uniform(0, 0.5) if finish != "bare" else 1.0
    while area < target and drawn < 170:
        lay = int(rng.random() < balance)
        width = float(np.clip(widest * scatter ** -abs(rng.normal()), low, widest))
        drawn += 1
        weak = rng.random() < weak_share
        depth = log_uniform(rng, 0.2, 0.42) if weak else log_uniform(rng, 0.65, 10)
        if weak:
            width = max(low * 0.7, width * rng.uniform(0.2, 0.8))
        strands = int(rng.integers(2, 5)) if rng.random() < 0.12 else 1
        angle = middle + (lay - 0.5) * hone_angle + rng.normal(0, jitter)
        off = rng.uniform(-0.5, 0.5) * reach * 0.95
        for k in range(strands):
            place = off + k * width * rng.uniform(1.0, 1.6) / strands
            plan.append(
                (lay, angle + rng.normal(0, 0.003) * (k > 0), place, width / (strands if strands > 1 else 1), depth)
            )
        if rng.random() < 0.05:
            plan.append(
                (lay, angle + rng.choice([-1, 1]) * rng.uniform(0.02, 0.1), off, width * rng.uniform(0.4, 1), depth)
            )
        area += 0.0 if weak else width / side * 0.75
        if finish == "bare" and drawn > 12:
            break
    if finish == "bare" and rng.random() < 0.4:
        plan = plan[:2]
    y0, x0 = (shape[0] - 1) / 2, (shape[1] - 1) / 2
    for lay, angle, off, width, depth in plan:
        if width < 2.0 * px and depth >= 0.5:
            width = 2.0 * px
        origin = (x0 - np.sin(angle) * off / px, y0 + np.cos(angle) * off / px)
        lay_groove(rng, sheet, look, wear, lay, angle, origin, width, depth, style)
    marks = np.zeros(shape, np.float32)
    for lay in (0, 1):
        fine = max(log_uniform(rng, 0.3, 2.5) / px, 1.0)
        part = stretched(rng, shape, fine * log_uniform(rng, 30, 300), fine, middle + (lay - 0.5) * hone_angle)
        marks += part * np.float32(balance if lay else 1 - balance)
    sheet.maps["marks"] = standard(marks)
    return finish


def compose(rng, sheet, look, worn, soft_worn):
    """Paste plateau, valley and closed ground over each other; the picture (grey, plateau near 0) and the codes."""
    shape, px, shown = sheet.shape, sheet.px, np.float32(look["shown"])
    flat = {name: values.reshape(shape) for name, values in sheet.maps.items()}
    base = programme(rng, shape, px, rng.uniform(0, np.pi)) * np.float32(look["plateau_spread"])
    if rng.random() < 0.3:
        base = emboss(base, rng.uniform(0, 2 * np.pi))
        base *= np.float32(look["plateau_spread"] / max(float(base.std()), 1e-6))
    fine = shown * np.float32(log_uniform(rng, 0.03, 0.4))
    softened = np.float32(rng.uniform(0.2, 1.0))
    marks = sheet["marks"] * fine * (1 - softened * soft_worn)
    grain = max(log_uniform(rng, 0.3, 3) / px, 1.0)
    stroke_marks = stretched(rng, shape, grain * log_uniform(rng, 20, 200), grain, sheet.stroke)
    rubbed = shown * np.float32(log_uniform(rng, 0.05, 0.4)) * stroke_marks
    rubbed += shown * np.float32(rng.normal(0, 0.25))
    ground = base + marks + rubbed * soft_worn
    rough = float(cv2.meanStdDev(ground)[1][0, 0])
    calm = np.float32(min(1.0, 0.45 * shown / max(rough, 1e-6)))
    base, rubbed, ground, rough = base * calm, rubbed * calm, ground * calm, np.float32(rough * calm)
    for add in (flakes, scratches, stains):
        ground = ground + add(rng, sheet, shown, worn)
    valley = programme(rng, shape, px, rng.uniform(0, np.pi), streak=(1, 3)) * np.float32(look["valley_spread"])
    valley += np.float32(look["contrast"]) + shown * np.float32(0.8) * np.tanh(flat["floor"])
    if rng.random() < 0.25:
        patch = stretched(rng, shape, 20 / px + 2, 6 / px + 2, sheet.stroke + rng.uniform(-1, 1))
        valley -= shown * np.float32(rng.uniform(0.3, 1)) * np.clip(patch - 0.8, 0, 1)
    opened = flat["open"]
    closed = flat["closed"] * (1 - opened)
    covered = cover_look(rng, sheet, look, base + rubbed, flat)
    tone = np.clip(flat["tone"], -1.2, 1.2) * shown * np.float32(0.6)
    same = tone * np.sign(look["contrast"])
    covered += np.where(same > 0, tone * np.float32(0.5), tone)
    picture = ground * (1 - closed) + covered * closed
    left = np.maximum(opened, flat["residue"] * (1 - opened))
    picture = picture * (1 - left) + valley * left
    picture += np.float32(look["rim"]) * flat["rim"]
    gain = np.float32(max(look["rim"], 0.5 * shown))
    picture += (gain + (max(gain, 3 * rough) - gain) * flat["lonely"]) * flat["trace"] * (1 - opened)
    lonely = (flat["lonely"] * closed) > 0.5
    if lonely.any():  # a groove closed all along the field keeps a trace that can be seen
        change = picture[lonely] - ground[lonely]
        if abs(float(change.mean())) + 0.5 * float(change.std()) < 0.9 * rough:
            picture += np.float32(rng.choice([-1, 1]) * rng.uniform(0.7, 1.2) * rough) * flat["lonely"] * closed
    bump = np.float32(rng.uniform(0, 0.4) * (rng.random() < 0.5))
    height = np.tanh(-flat["depth"] * np.float32(rng.uniform(0.2, 1))) + bump * closed
    picture += np.float32(look["emboss"]) * emboss(height, rng.uniform(0, 2 * np.pi))
    if rng.random() < 0.3:
        shut = cv2.GaussianBlur(closed, (0, 0), max(1.0, 0.4 / px))
        outline = 4 * shut * (1 - shut) * (closed > 0.01)
        picture += shown * np.float32(rng.normal(0, 0.5)) * outline
    codes = np.zeros(shape, np.uint8)
    codes[(closed > 0.5) & worn] = 2
    codes[opened >= 0.5] = 1
    return picture, codes


def emboss(height, direction):
    """Slope towards the detector, soft-limited."""
    dx = cv2.Sobel(height, cv2.CV_32F, 1, 0, ksize=3, scale=0.25)
    dy = cv2.Sobel(height, cv2.CV_32F, 0, 1, ksize=3, scale=0.25)
    slope = dx * np.float32(np.cos(direction)) + dy * np.float32(np.sin(direction))
    return np.tanh(slope * 2).astype(np.float32)


def cover_look(rng, sheet, look, ground, flat):
    """What closed ground looks like: plateau dragged along the stroke, in two variants chosen cover by cover."""
    variants = []
    for _ in range(2):
        reach = log_uniform(rng, 5, 60) / sheet.px
        pull = log_uniform(rng, 1, 6) if rng.random() < 0.6 else 1.0
        c, s = np.cos(sheet.stroke), np.sin(sheet.stroke)
        squeeze = np.eye(2) - (1 - 1 / pull) * np.outer((c, s), (c, s))
        centre = np.array([sheet.shape[1] / 2, sheet.shape[0] / 2])
        shift = centre - squeeze @ centre + reach * np.array((c, s))
        matrix = np.column_stack([squeeze, shift])
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        dragged = cv2.warpAffine(ground, matrix, sheet.shape[::-1], flags=flags, borderMode=cv2.BORDER_REFLECT)
        kind = rng.choice(["same", "smooth", "streaked", "rough"], p=[0.35, 0.25, 0.25, 0.15])
        if kind == "smooth":
            dragged = cv2.GaussianBlur(dragged, (0, 0), max(1.0, log_uniform(rng, 0.5, 3) / sheet.px))
        elif kind == "streaked":
            grain = max(log_uniform(rng, 0.4, 3) / sheet.px, 1.2)
            dragged = dragged * np.float32(0.5)
            dragged += stretched(rng, sheet.shape, grain * log_uniform(rng, 5, 40), grain, sheet.stroke) * np.float32(
                look["shown"] * rng.uniform(0.1, 0.35)
            )
        elif kind == "rough":
            dragged = dragged + programme(rng, sheet.shape, sheet.px, sheet.stroke, layers=(1, 1)) * np.float32(
                look["shown"] * rng.uniform(0.1, 0.35)
            )
        variants.append(dragged)
    return np.where(flat["look"] > 0.5, variants[1], variants[0])
