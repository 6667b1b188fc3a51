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

import numpy as np

from makers.layered_picture import LOOK_SHARES, LOOKS, compose, photograph
from makers.layered_surface import FINISH_SHARES, FINISHES, Sheet, draw_grooves, lay_masks
from makers.made import Made


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One picture with its truth, all drawn from rng: finish, wear, smear, look and instrument.

    pixel_size_um: 0.12 … 2.2; shape: (rows, cols). Returns Made: image and codes (rows, cols) uint8 (codes 0–3, 255
    debris), worn (rows, cols) bool, kind "finish/wear/look". The same rng state gives the same picture.
    """
    shape = (int(shape[0]), int(shape[1]))
    tiles = int(np.ceil((np.hypot(*shape) / 0.9 + 8) / 512))
    sheet = Sheet(
        rng=rng,
        pixel_size_um=float(pixel_size_um),
        shape=shape,
        bank=np.tile(rng.standard_normal((512, 512), dtype=np.float32), (tiles, tiles)),
    )
    finish = str(rng.choice(list(FINISHES), p=FINISH_SHARES))
    wear = str(rng.choice(["unworn", "polished", "smear", "scuff"], p=(0.27, 0.1, 0.46, 0.17)))
    look = str(rng.choice(list(LOOKS), p=LOOK_SHARES))
    stroke_deg = (
        float(rng.choice([0.0, 90.0]) + rng.normal(0, 2.5)) if rng.random() < 0.75 else float(rng.uniform(0, 180))
    )
    grooves = draw_grooves(sheet, finish, stroke_deg)
    lays_deg = tuple(
        float(np.median(grooves.angle_deg[grooves.lay == lay]))
        if (grooves.lay == lay).any()
        else stroke_deg + 90 + (20, -20)[lay]
        for lay in (0, 1)
    )
    masks = lay_masks(sheet, grooves, wear, stroke_deg)
    hard = rng.random() < 0.12
    noise = rng.uniform(0.15, 0.4) if hard else float(np.exp(rng.uniform(np.log(0.02), np.log(0.14))))
    picture, debris = compose(sheet, masks, grooves, look, lays_deg, stroke_deg, wear, noise, hard)
    image = photograph(sheet, picture, noise, hard)
    codes = np.zeros(shape, np.uint8)
    codes[masks.open], codes[masks.closed], codes[masks.scuffed], codes[debris] = 1, 2, 3, 255
    return Made(image=image, codes=codes, worn=masks.worn, kind=f"{finish}/{wear}/{look}")
