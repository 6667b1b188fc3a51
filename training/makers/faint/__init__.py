"""Micrographs whose states differ faintly but to be seen, from heights, slopes and signals in closed form."""

import numpy as np

from ..made import Made
from .beam import signal
from .camera import take
from .ground import codes, empty, paint, places
from .hone import cut, lays
from .matter import debris, graphite, stains, torn
from .scene import draw_scene, draw_settings, draw_view
from .texture import clouds, roughness, scratches
from .track import run


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field of that many rows and columns of pixels with sides of pixel_size_um, in µm."""
    rows, cols = shape
    scene = draw_scene(rng, pixel_size_um, min(shape) * pixel_size_um)
    reach = 0.5 * float(np.hypot(rows, cols)) * pixel_size_um
    col_um = ((np.arange(cols, dtype=np.float32) - cols / 2) * pixel_size_um)[None, :].astype(np.float32)
    row_um = ((np.arange(rows, dtype=np.float32) - rows / 2) * pixel_size_um)[:, None].astype(np.float32)
    turn = np.radians(scene.across_deg)
    across_um = col_um * np.float32(np.cos(turn)) + row_um * np.float32(np.sin(turn))
    stroke_um = row_um * np.float32(np.cos(turn)) - col_um * np.float32(np.sin(turn))

    track = run(rng, reach_um=reach, wear=scene.wear, smear=scene.smear)
    worn = track.ran[places(across_um, reach)]
    grooves = cut(
        rng, lay_deg=lays(scene.across_deg, scene.included_deg), covers=scene.covers, widths_um=scene.widths_um,
        reach_um=reach, pixel_size_um=pixel_size_um,
    )  # fmt: skip
    ground = empty(shape)
    ragged = clouds(rng, shape, rng.uniform(3, 10)) * (pixel_size_um * rng.uniform(0.3, 1.2))
    place = np.where(worn, places(across_um + ragged, reach), places(across_um, reach))
    for groove in grooves:
        paint(rng, ground, groove, track, place=place, across_deg=scene.across_deg, pixel_size_um=pixel_size_um)
    truth = codes(ground)
    truth[(truth == 2) & ~worn] = 0  # a ragged closure's foot on the far side of the border is no moved metal

    # Fine texture: finer on what was worn, finest on what was burnished, coarse on floors
    open_ = np.clip(ground.depth_um / 0.5, 0, 1)
    col_slope, row_slope = ground.along_col.copy(), ground.along_row.copy()
    along = scene.across_deg + 90
    left = np.where(worn, np.float32(rng.uniform(0.1, 0.8)), np.float32(1)) * (1 - 0.7 * open_) * (1 - 0.9 * ground.closed)
    fine = max(1.2 * pixel_size_um, rng.uniform(0.5, 2.0))
    families = [(lay, 1.0) for lay in lays(scene.across_deg, scene.included_deg)]
    if scene.wear != "none":
        families.append((along + rng.normal(0, 1), 0.0))
    for lay, everywhere in families:
        _, by_col, by_row = scratches(
            rng, col_um, row_um, along_deg=lay, spacing_um=fine * np.exp(rng.uniform(1, 3.5)), width_um=fine,
            depth_um=min(0.4, 0.1 * fine * np.exp(rng.uniform(-2.5, 0.8))),
        )  # fmt: skip
        weight = left if everywhere else worn * (1 - open_)
        col_slope += by_col * weight
        row_slope += by_row * weight
    grain = np.exp(rng.uniform(np.log(0.004), np.log(0.03)))
    rough = grain * (1 + rng.uniform(0.5, 5.0) * open_) * (1 - 0.7 * ground.closed * (1 - open_))
    col_slope += rough * roughness(rng, shape, grain_px=rng.uniform(0.6, 1.6), stretch=1.0, along_deg=0.0)
    row_slope += rough * roughness(rng, shape, grain_px=rng.uniform(0.6, 1.6), stretch=rng.uniform(1, 4), along_deg=along)

    view = draw_view(rng, scene.theme)
    lines = roughness(rng, shape, grain_px=0.8, stretch=8.0, along_deg=along)
    bright = ground.lip * rng.choice([-1.0, 1.0, 1.0]) * rng.uniform(0.03, 0.2)
    bright = bright + ground.closed * (1 - open_) * (rng.uniform(-0.03, 0.03) + lines * rng.uniform(0.0, 0.03))
    carbon = view.carbon * open_ * np.clip(0.75 + 0.25 * clouds(rng, shape, 12.0), 0, 1)
    if rng.random() < 0.4:
        carbon = np.maximum(carbon, 0.8 * graphite(rng, shape, pixel_size_um=pixel_size_um, per_mm2=rng.uniform(20, 250)))
    if rng.random() < 0.3:
        bright = bright - rng.uniform(0.02, 0.12) * stains(rng, shape, rng.choice([1.0, 5.0]), along)

    if scene.scuff and worn.any():
        where, ridge = torn(
            rng, across_um=across_um, stroke_um=stroke_um, ran=worn, heavy=scene.scuff == 2, pixel_size_um=pixel_size_um, reach_um=reach
        )
        chips = roughness(rng, shape, grain_px=rng.uniform(0.8, 2.0), stretch=rng.uniform(1.5, 6), along_deg=along)
        strength = rng.uniform(0.6, 1.3)
        for slope, share in ((col_slope, np.cos(turn)), (row_slope, np.sin(turn))):
            slope[where] = strength * (ridge * share + 0.12 * chips)[where]
        for map_ in (ground.narrow, ground.edge, carbon):
            map_[where] = 0
        bright = np.where(where, 0.10 * np.maximum(chips, -1) + rng.uniform(-0.08, 0.1), bright)
        truth[where] = 3
    picture = signal(view, ground, col_slope, row_slope, carbon=carbon, bright=bright)
    groove_px = float(np.median([groove.section.width_um for groove in grooves])) / pixel_size_um if grooves else 5.0
    settings = draw_settings(rng, scene.theme, groove_px)
    if rng.random() < 0.35:
        lump, relief = debris(rng, shape, int(rng.integers(1, 7)), pixel_size_um)
        beside = np.roll(lump, rng.integers(-3, 4, 2), (0, 1)) & ~lump
        picture = np.where(lump, picture.mean() + picture.std() * (1.5 + relief), picture - beside * 0.8 * picture.std()).astype(np.float32)
        truth[lump] = 255
    image = take(rng, picture, truth, settings)
    state = scene.wear + "-smear" * bool((truth == 2).any()) + "-scuff" * bool((truth == 3).any())
    return Made(image=image, codes=truth, worn=worn, kind=f"{scene.theme}-{state}")
