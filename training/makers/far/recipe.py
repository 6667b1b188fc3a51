"""What is common to the fields of one specimen: hone, wear, beam and picture size. Lengths in µm, angles in degrees."""

from dataclasses import dataclass

import numpy as np

LIMIT_UM = 0.5  # depth that makes a groove an open valley


@dataclass
class Hone:
    lays: list
    angle: float | None
    cover: list  # share of the ground taken by each lay's grooves
    width: float  # median width of grooves
    spread: float
    slope: float  # depth over width
    wall: float  # run of the upper 0.5 µm of a wall
    power: float  # 1 is a V, 4 a trough
    strands: float
    meander: float
    torn: float  # unevenness of rims, in groove half-widths
    clumped: float
    stopped: float  # share of grooves that end inside the field
    faint: float  # faint marks for each groove
    finish: float  # height of finishing marks


@dataclass
class Wear:
    depth: float  # metal worn off the plateau
    closed: float  # share of groove length that closes
    bands: float  # how much the closing keeps to bands along the stroke
    one_lay: float
    whole: float  # how much it goes by whole grooves
    reach: float  # correlation length along the groove, in groove widths
    ragged: float  # unevenness of the moved metal's front
    gain: float  # high: abrupt covers; low: lips that taper
    sides: tuple
    kinds: list
    marks: float
    burnish: float
    film: float
    scratches: int
    scuff: float  # share of the field aimed at


@dataclass
class Beam:
    detector: str
    kv: float
    azimuth: float
    shading: float
    rims: float
    starving: float
    floor: float  # tone step of floors
    floor_grain: float
    faint: float  # tone of marks too shallow to be grooves
    grain: float
    blur: float
    noise: float
    gamma: float
    mean: float
    spread: float
    drift: float
    jitter: float


@dataclass
class Specimen:
    name: str
    shape: tuple
    pixel: float
    stroke: float
    tilt: float
    hone: Hone
    wear: Wear
    beam: Beam
    graphite: float
    graphite_size: float
    handling: int
    debris: float


def log_uniform(rng, low, high):
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def draw_hone(rng, stroke, pixel):
    # Included angles of 30-60 degrees are usual, 140-150 for helical slide honing (from memory, no source).
    angle = float(rng.choice([rng.uniform(28, 66), rng.uniform(66, 118), rng.uniform(118, 150)], p=[0.62, 0.18, 0.2]))
    across = stroke + 90 + rng.normal(0, 0.8)
    lays = [(across - angle / 2) % 180, (across + angle / 2) % 180]
    total = rng.uniform(0.1, 0.42)
    balance = rng.beta(5, 5)
    cover = [total * balance, total * (1 - balance)]
    if rng.random() < 0.08:
        lays, cover, angle = lays[:1], [min(total, 0.3)], None
    return Hone(
        lays=lays,
        angle=angle,
        cover=cover,
        width=max(log_uniform(rng, 4, 20), 4.2 * pixel),
        spread=rng.uniform(0.25, 0.65),
        slope=log_uniform(rng, 0.08, 0.28),
        wall=rng.uniform(0.12, 0.4),
        power=log_uniform(rng, 1.2, 5),
        strands=rng.uniform(0, 0.8),
        meander=float(rng.choice([0, rng.uniform(0.1, 0.6)])),
        torn=log_uniform(rng, 0.01, 0.1),
        clumped=float(rng.choice([0, rng.uniform(0.3, 1)])),
        stopped=rng.uniform(0, 0.5),
        faint=log_uniform(rng, 0.3, 4),
        finish=log_uniform(rng, 0.015, 0.12),
    )


KINDS = ("flush", "burnished", "dark", "scaly", "porous", "sunken", "outlined", "streaked")


def draw_wear(rng, scuffs):
    sides = ((1.0, 0, 0), (0, 0, 1.0), (0.5, 0.5, 0), (0.35, 0.3, 0.35))
    scuff = 0.0
    if scuffs:
        scuff = float(
            rng.choice([rng.uniform(0.02, 0.1), rng.uniform(0.1, 0.35), rng.uniform(0.35, 0.85)], p=[0.4, 0.4, 0.2])
        )
    return Wear(
        depth=rng.uniform(0, 0.5),
        closed=rng.uniform(0.06, 0.7),
        bands=float(rng.choice([0, rng.uniform(0.4, 2)])),
        one_lay=float(rng.choice([0, rng.uniform(0.5, 1.5)], p=[0.75, 0.25])),
        whole=float(rng.choice([rng.uniform(0, 0.5), rng.uniform(0.8, 2)])),
        reach=log_uniform(rng, 0.8, 12),
        ragged=log_uniform(rng, 0.04, 0.5),
        gain=log_uniform(rng, 0.5, 8),
        sides=sides[rng.integers(len(sides))],
        kinds=list(rng.choice(KINDS, size=rng.integers(1, 4), replace=False)),
        marks=log_uniform(rng, 0.02, 0.14),
        burnish=rng.uniform(0, 0.07),
        film=float(rng.choice([0, rng.uniform(0.03, 0.25)])),
        scratches=int(rng.choice([0, 2, 5, 12])),
        scuff=scuff,
    )


def draw_beam(rng, pixel):
    back = rng.random() < 0.25
    look = "dark" if back else rng.choice(["dark", "bright", "textured"], p=[0.45, 0.2, 0.35])
    floor = {
        "dark": rng.uniform(-0.22, -0.08),
        "bright": rng.uniform(0.08, 0.18),
        "textured": rng.choice([-1, 1]) * rng.uniform(0.05, 0.08),
    }[look]
    plain = look == "textured"
    return Beam(
        detector="BSE" if back else "SE",
        kv=float(rng.choice([10, 15, 20] if back else [3, 5, 10, 15, 20])),
        azimuth=rng.uniform(0, 360),
        shading=rng.uniform(0.0, 0.15) if back else log_uniform(rng, 0.35 if plain else 0.12, 0.65),
        rims=0.0 if back else log_uniform(rng, 0.5 if plain else 0.1, 1.2),
        starving=rng.uniform(0.0, 0.05) if back else rng.uniform(0.02, 0.2),
        floor=floor,
        floor_grain=log_uniform(rng, 0.2 if plain else 0.03, 0.35),
        faint=rng.uniform(0.02, 0.06) * (1 if look == "bright" else -1),
        grain=log_uniform(rng, 0.01, 0.05),
        blur=rng.uniform(0.35, 1.1),
        noise=log_uniform(rng, 0.012, 0.09),
        gamma=rng.uniform(0.8, 1.25),
        mean=rng.uniform(0.34, 0.62),
        spread=rng.uniform(0.09, 0.19),
        drift=rng.uniform(0, 0.08),
        jitter=float(rng.choice([0, rng.uniform(0.1, 0.5)], p=[0.7, 0.3])),
    )


def draw_specimen(rng, name, scuffs):
    pixel = round(log_uniform(rng, 0.15, 1.8), 4)
    width = int(rng.choice([900, 960, 1024, 1100, 1200, 1280, 1300]))
    height = int(width * rng.choice([0.7, 0.75, 0.8]))
    stroke = float(rng.choice([0, 90, rng.uniform(0, 180)], p=[0.3, 0.45, 0.25]) + rng.normal(0, 1.5)) % 180
    return Specimen(
        name=name,
        shape=(height, width),
        pixel=pixel,
        stroke=stroke,
        tilt=float(rng.choice([0, 0, 0, 2, 3])),
        hone=draw_hone(rng, stroke, pixel),
        wear=draw_wear(rng, scuffs),
        beam=draw_beam(rng, pixel),
        graphite=log_uniform(rng, 0.004, 0.06),
        graphite_size=log_uniform(rng, 12, 70),
        handling=int(rng.choice([0, 0, 1, 4])),
        debris=float(rng.choice([0, rng.uniform(0.2, 2)])),
    )
