"""Fields of thousands of small stamps, as an engraver would work them up: hairlines, chained dabs, dragged plates."""

from types import SimpleNamespace

import numpy as np

from makers.made import Made
from makers.stamped_bank import grain, log_uniform, shifted, soften, streaks
from makers.stamped_chains import engrave, lay_chains
from makers.stamped_covers import KINDS, Covers, close_band, close_chain
from makers.stamped_picture import expose
from makers.stamped_scuff import bands, debris, graphite, scratches, spots, stains, torn_look


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field; pixel_size_um in µm, shape (rows, cols)."""
    scene = draw_scene(rng, pixel_size_um, shape)
    marks, ground = draw_ground(rng, scene)
    tone, foot = np.zeros(shape, np.float32), np.zeros(shape, np.uint8)
    chains = draw_chains(rng, scene)
    scene.finest = float(np.median([chain.width for chain in chains])) if chains else 20.0  # px
    for chain in chains:
        engrave(rng, scene, chain, tone, foot)
    covers = Covers(shape)
    if scene.smears and chains:
        close_grooves(rng, scene, covers, chains, foot)
    picture = compose(rng, scene, ground, marks, tone, foot, covers)
    codes = foot.copy()
    codes[(foot > 0) & (covers.shut > 0)] = 2
    if scene.scuffs:
        torn = bands(rng, scene)
        cover = soften(torn.astype(np.float32), max(0.5, rng.choice([0, 0, 0.4, 0.8]) / scene.px))
        picture += cover * (0.5 + torn_look(rng, scene, torn) - picture)
        codes[torn > 0] = 3
    if rng.random() < 0.3:
        picture *= stains(rng, scene)
    if rng.random() < 0.25:
        picture = debris(rng, scene, picture, codes)
    return Made(image=expose(rng, scene, picture), codes=codes, worn=scene.worn, kind=scene.kind)


def draw_scene(rng, px, shape):
    """Everything that is fixed for one picture."""
    bse = rng.random() < 0.25
    stroke = rng.choice([0.0, np.pi / 2]) + rng.normal(0, 0.05) if rng.random() < 0.75 else rng.uniform(0, np.pi)
    light = rng.uniform(0, 2 * np.pi)
    relief = rng.uniform(0.0, 0.05) if bse else log_uniform(rng, 0.02, 0.25)
    floor = rng.choice([-1, 1, 0], p=[0.62, 0.2, 0.18]) * rng.uniform(0.12, 0.32)
    textured = False
    if floor == 0:
        floor, relief, textured = rng.normal(0, 0.03), max(relief, 0.16), True
    look = SimpleNamespace(
        light=np.array([np.cos(light), np.sin(light)]),
        relief=relief,
        floor=floor,
        wall=rng.uniform(0.1, 0.9),
        strands=rng.choice([0, 0.5, 3, 8]),
        bowl=rng.random() < 0.5,
        rough=log_uniform(rng, 0.015, 0.13),
        dabs=rng.choice([0, 0, 1, 4, 10]),
        floor_kinds=list(rng.choice(["dab", "dash", "scale", "chip", "crescent"], int(rng.integers(1, 3)))),
        stretch=log_uniform(rng, 1.3, 12),
        chips=rng.choice([0, 0, 0.5, 2, 5]),
        graphite=rng.choice([0, 0, 0.2, 0.8]),
        rim=0 if rng.random() < 0.3 else rng.uniform(0.04, 0.12 if bse else 0.3),
        rim_um=log_uniform(rng, 0.15, 1.2),
        rim_gap=rng.choice([-3, -0.8, 0, 0.5]),
        starve_depth=rng.choice([4, 7, 99]),
        halo=rng.uniform(0.0, 1.0),
    )
    if textured:  # with neither tone nor slope towards the light a groove would be lost
        look.rough, look.rim = max(look.rough, 0.08), max(look.rim, 0.13)
    worn = draw_worn(rng, shape, stroke)
    fate = rng.random()
    smears = bool(worn.any() and fate < 0.9)
    scuffs = bool(worn.any() and (rng.random() < 0.3))
    few = int(rng.integers(1, 4))
    style = rng.random()
    scene = SimpleNamespace(
        px=px,
        shape=shape,
        bse=bse,
        stroke=stroke,
        look=look,
        worn=worn,
        smears=smears,
        scuffs=scuffs,
        contrast=rng.uniform(0.7, 1.2),
        hone=np.deg2rad(rng.uniform(20, 150)),
        bare=rng.random() < 0.08,
        bend=rng.normal(0, 0.03) if rng.random() < 0.3 else 0.0,
        wave=rng.uniform(0, 0.8) if rng.random() < 0.3 else 0.0,
        jitter=log_uniform(rng, 0.005, 0.12),
        chipped=log_uniform(rng, 0.1, 1.6),
        fine=rng.uniform(0.15, 0.5),
        fan=rng.choice([0.002, 0.01, 0.04]),
        cluster=rng.choice([0, 0, 0.4, 0.8]),
        ends=rng.choice([0, 0.1, 0.4]) if not smears else rng.choice([0, 0, 0.06]),
        forks=rng.choice([0, 0, 0.15]),
        depths=(0.6, 10) if style < 0.4 else (0.2, 4) if style < 0.8 else (0.2, 10),
        brushed=rng.choice([0, 0, 0.06, 0.15]),
        kinds=list(rng.choice(KINDS, few, replace=False)),
        share=rng.uniform(0.03, 0.25) if rng.random() < 0.3 else rng.uniform(0.25, 0.85),
        whole=rng.choice([0, 0, 0.15, 0.5]),
        cover_length=log_uniform(rng, 0.5, 10),
        cover_spread=rng.uniform(0.2, 0.9),
        cover_tone=rng.choice([0.0, -0.08, 0.08]) + rng.normal(0, 0.015),
        cover_tone_spread=rng.choice([0.0, 0.01, 0.04]),
        cover_rise=rng.choice([0.0, 0.05, 0.15, 0.3]) * rng.uniform(0.6, 1.2),
        seam=rng.choice([-1, 1], p=[0.8, 0.2]) * rng.uniform(0.06, 0.2),
        trace=rng.choice([0.0, 0.5, 1.0]),
        rim_trace=rng.choice([-1, 1]) * rng.uniform(0.04, 0.14),
        slant=rng.uniform(-0.6, 0.6),
        drawn=rng.random() < 0.6,
        tip=rng.choice(["dash", "dab", "scale", "chip"]),
        backward=rng.random() < 0.5,
        mark_keep=rng.choice([0.0, 0.3, 0.8]),
        kind="",
    )
    if scene.kinds == ["silted"]:
        scene.kinds = ["silted", "cap"]
    scene.kind = " ".join(["bse" if bse else "se"] + ["bare"] * scene.bare + ["smears"] * smears + ["scuffs"] * scuffs)
    return scene


def draw_worn(rng, shape, stroke):
    fate = rng.random()
    if fate < 0.8:
        return np.full(shape, fate > 0.25)
    y, x = np.mgrid[: shape[0], : shape[1]]
    off = (y - shape[0] / 2) * np.cos(stroke) - (x - shape[1] / 2) * np.sin(stroke)
    return (off > rng.uniform(-0.3, 0.3) * min(shape)) ^ (rng.random() < 0.5)


def lay_angles(scene):
    """The two lays about the direction across the stroke, rad."""
    return scene.stroke + np.pi / 2 + scene.hone / 2, scene.stroke + np.pi / 2 - scene.hone / 2


def draw_chains(rng, scene):
    if scene.bare:
        return []
    cover = log_uniform(rng, 0.07, 0.6)
    split = rng.choice([0.5, rng.uniform(0.1, 0.5), 0.0], p=[0.5, 0.35, 0.15])
    width = log_uniform(rng, 2.5, 45)
    field = min(scene.shape) * scene.px
    width = float(np.clip(width, 0.008 * field, 0.25 * field))
    spread = rng.uniform(0.1, 0.7)
    chains = []
    for lay, (angle, part) in enumerate(zip(lay_angles(scene), (1 - split, split), strict=True)):
        if part:
            chains += lay_chains(rng, scene, lay, angle, cover * part, width * log_uniform(rng, 0.7, 1.4), spread)
    order = rng.permutation(len(chains)) if rng.random() < 0.7 else np.arange(len(chains))
    chains = [chains[i] for i in order]
    if chains and max(chain.depth for chain in chains) < 0.6:
        for chain in chains[::2]:
            chain.depth = 0.8
    return chains


def draw_ground(rng, scene):
    """Finishing marks, and the plateau's tone with what looks like grooves but is not; both about 0."""
    shape, px = scene.shape, scene.px
    marks = np.zeros(shape, np.float32)
    strength = scene.contrast * log_uniform(rng, 0.006, 0.05) * (0.6 if scene.bse else 1)
    for angle in lay_angles(scene):
        for _ in range(int(rng.integers(0, 3))):
            thin = max(log_uniform(rng, 0.25, 2.5) / px, 1.0)
            hair = streaks(rng, shape, angle + rng.normal(0, 0.03), thin * log_uniform(rng, 15, 200), thin)
            marks += strength * rng.uniform(0.4, 1) * (hair if rng.random() < 0.5 else np.minimum(hair, 0.5) * 1.2)
    ground = np.zeros(shape, np.float32)
    for _ in range(int(rng.integers(1, 3))):
        ground += log_uniform(rng, 0.004, 0.03) * grain(rng, shape, max(1.2, log_uniform(rng, 0.2, 4) / px))
    ground += log_uniform(rng, 0.004, 0.03) * grain(rng, shape, max(6.0, log_uniform(rng, 8, 80) / px))
    if rng.random() < 0.35:
        graphite(rng, scene, ground)
    if rng.random() < 0.3:
        scratches(rng, scene, ground)
    if rng.random() < 0.15:
        spots(rng, scene, ground)
    return marks, ground


def close_grooves(rng, scene, covers, chains, foot):
    if rng.random() < 0.18:
        along = np.array([np.cos(scene.stroke), np.sin(scene.stroke)])
        y, x = np.mgrid[: scene.shape[0], : scene.shape[1]].astype(np.float32)
        off = (y - scene.shape[0] / 2) * along[0] - (x - scene.shape[1] / 2) * along[1]
        side = 0.5 * (abs(scene.shape[0] * along[0]) + abs(scene.shape[1] * along[1]))
        half = side * rng.uniform(0.1, 0.6)
        ragged = 0.15 * half * streaks(rng, scene.shape, scene.stroke, 40 / scene.px, max(2, half * 0.2))
        middle = rng.uniform(-0.6, 0.6) * side
        close_band(rng, scene, covers, foot, (np.abs(off - middle) + ragged < half) & scene.worn)
    only = -1 if rng.random() < 0.76 else rng.choice([chain.lay for chain in chains])
    for chain in chains:
        if chain.depth >= 0.5 and only in (-1, chain.lay) and rng.random() < 0.9:
            close_chain(rng, scene, covers, chain, scene.share * rng.uniform(0.6, 1.4))
    covers.alpha *= scene.worn
    covers.rise *= scene.worn
    covers.lines *= scene.worn
    covers.shut &= scene.worn.astype(np.uint8)


def compose(rng, scene, ground, marks, tone, foot, covers):
    """Plateau, grooves and moved metal on one canvas around 0.5."""
    px, shape, look = scene.px, scene.shape, scene.look
    worn = soften(scene.worn.astype(np.float32), 3.0 / px if scene.worn.any() and not scene.worn.all() else 0)
    rubbed = np.zeros(shape, np.float32)
    if scene.worn.any():
        strength = scene.contrast * log_uniform(rng, 0.008, 0.05)
        for _ in range(int(rng.integers(1, 4))):
            thin = max(log_uniform(rng, 0.2, 2.5) / px, 1.0)
            rubbed += (
                strength
                * rng.uniform(0.3, 1)
                * streaks(rng, shape, scene.stroke, thin * log_uniform(rng, 20, 300), thin)
            )
        rubbed = worn * (rubbed + rng.choice([0, 0.03, -0.03]))
    marks = marks * (1 - worn * rng.uniform(0.1, 0.9))
    soft = min(scene.brushed * 6 / px, 4)
    inside = soften(foot.astype(np.float32), max(soft, 0.5))
    tone = soften(tone * scene.contrast, soft)
    if look.halo > 0.5 and not scene.bse:
        tone = tone + 0.25 * (look.halo - 0.5) * (soften(inside, min(3 / px, 12)) - inside) * (1 - inside)
    fine = grain(rng, shape, max(1.2, log_uniform(rng, 0.2, 1.2) / px))
    tone = tone + inside * fine * (0.7 * look.rough if look.rough > 0.075 or rng.random() < 0.6 else 0.008)
    surface = ground + marks + rubbed
    picture = surface * (1 - inside * rng.uniform(0.6, 1)) + tone
    if covers.alpha.any():
        drag = rng.choice([0.0, 0.02, 0.06]) * scene.contrast
        plain = rng.uniform(0.2, 1) * ground + rubbed * rng.uniform(0.2, 1.6) + scene.mark_keep * marks
        plain += covers.tone * scene.contrast
        if drag:
            thin = max(log_uniform(rng, 0.3, 2) / px, 1.0)
            plain += drag * streaks(rng, shape, scene.stroke, thin * 25, thin)
        if rng.random() < 0.3:
            plain += rng.uniform(0.02, 0.07) * grain(rng, shape, max(1.2, log_uniform(rng, 0.3, 2) / px))
        alpha = soften(covers.alpha, 0.5)
        picture += alpha * (plain - picture)
        rise = soften(covers.rise, max(0.6, 0.15 / px))
        reach = max(1.0, min(log_uniform(rng, 0.3, 1) / px, 4))
        picture += rise - shifted(rise, *(-look.light * reach))
        picture += soften(covers.lines, 0.6) * alpha * scene.contrast
    return picture + np.float32(0.5)
