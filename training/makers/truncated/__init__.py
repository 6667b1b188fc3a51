"""Fields whose wear is truncation and whose groove width tells its depth.

A hone of grooves with gently sloped walls is cut from the top, the local plateau is taken anew from the cut, and only then
metal moves (smear) and tears (scuffing); the truth is read from the height map, the picture drawn from it."""

from dataclasses import replace

import cv2
import numpy as np

from ..made import Made
from .electrons import draw_beam, secondaries
from .exposure import debris, expose, jitter, stain
from .frame import noise
from .hone import draw_hone
from .iron import draw_graphite, draw_pull_outs_um
from .recipe import Recipe, draw_recipe
from .scuff import draw_scuff, tear
from .smear import close_grooves, draw_smear
from .wear import VALLEY_DEPTH_UM, wear_down

__all__ = ["make", "make_from"]


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field."""
    return make_from(rng, draw_recipe(rng, pixel_size_um, shape))


def make_from(rng: np.random.Generator, recipe: Recipe) -> Made:
    """One field of a known recipe; hone, surface and microscope have streams of their own, so that one hone can be drawn
    unworn and worn."""
    hone_rng, wear_rng, iron_rng, beam_rng = rng.spawn(4)
    pixel = recipe.pixel_size_um
    honed = draw_hone(hone_rng, recipe)
    worn = wear_down(wear_rng, recipe, honed)
    height, depth, albedo = worn.height_um, worn.depth_um, np.ones(recipe.shape, np.float32)
    gloss = crack = np.zeros(recipe.shape, np.float32)
    floor = np.minimum(depth, 1.5)
    height = height + floor * noise(iron_rng, recipe.shape, (2.2, 2.2)) * min(
        recipe.wall * pixel * iron_rng.uniform(0.03, 0.35), 0.2
    )
    if recipe.worn:
        smear = draw_smear(wear_rng, recipe, honed.lays)
        height, depth, metal = close_grooves(replace(worn, height_um=height), smear)
        gloss, crack = wear_rng.uniform(0.9, 2.4) * smear.gloss * metal, smear.crack * metal
    codes = np.where(depth >= VALLEY_DEPTH_UM, 1, np.where(worn.depth_um >= VALLEY_DEPTH_UM, 2, 0)).astype(np.uint8)
    if recipe.scuff:
        scuff = draw_scuff(wear_rng, recipe)
        torn = scuff.torn & worn.worn
        height = tear(height, worn.plateau_um, scuff, torn)
        albedo *= 1 + 0.16 * scuff.shade * torn
        codes[torn] = 3
    graphite = draw_graphite(iron_rng, recipe) * np.where(worn.worn, iron_rng.uniform(0.3, 1), 1)
    height = height - draw_pull_outs_um(iron_rng, recipe) - 0.2 * graphite * min(4 * recipe.wall * pixel, 1)
    beam = draw_beam(beam_rng)
    heap, dirt = debris(beam_rng, recipe.shape, pixel)
    height = height + heap * pixel * 0.7
    signal = secondaries(height, worn.plateau_um - height, beam, pixel)
    low, high = np.percentile(signal[::3, ::3], [8, 92])
    contrast = float(np.clip((high - low) / 2.8, 0.008, 0.25))
    signal *= (albedo + contrast * gloss - 0.3 * crack) * stain(beam_rng, recipe.shape, contrast)
    signal *= 1 - beam_rng.uniform(0.25, 0.6) * graphite
    signal = np.where(dirt, signal * beam_rng.uniform(0.9, 1.35), signal)
    image, hidden = expose(beam_rng, signal)
    if beam_rng.random() < 0.1:
        image = jitter(beam_rng, image)
    codes[hidden | (cv2.dilate(dirt.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0)] = 255
    kind = " ".join([recipe.finish, recipe.section, "worn" if recipe.worn else "unworn"] + ["dense"] * recipe.dense)
    return Made(image=image, codes=codes, worn=worn.worn, kind=kind)
