"""Make simulated training samples in shards, with a pool of processes.

    python training/make_shards.py OUT --samples 20000 --seed 1 [--processes P] [--renderers NAME …] [--families NAME …]

Every sample follows from (seed, index) alone, so shards can be made in any order, by any number of processes, and a
run that was stopped goes on where it was. Samples are at working pixel sizes and ready for the network. The held-out
family and renderer of the simulator are left out unless named.
"""

import argparse
import contextlib
import os
import tomllib
from concurrent.futures import ProcessPoolExecutor, as_completed
from itertools import count
from pathlib import Path

import numpy as np

SETTINGS = Path(__file__).with_name("settings.toml")
UNSEEN = 255


def make_shard(out: Path, shard: int, seed: int, size: int, settings: dict, families, renderers) -> int:
    """Write one shard of ``size`` samples; return how many were written (0 when it exists)."""
    import cv2
    from samples import join, save

    cv2.setNumThreads(1)
    path = out / f"shard_{shard:06d}.npz"
    if path.exists():
        return 0
    parts = [make_sample(seed, shard * size + number, settings, families, renderers) for number in range(size)]
    save(join(parts), path)
    return size


def make_sample(seed: int, index: int, settings: dict, families=None, renderers=None):
    """Return one sample (a :class:`samples.Samples` of length 1) that follows from (seed, index).

    A drawn picture that can't be prepared (all but wholly charged, say) is drawn again.
    """
    from semwear.errors import RefusedError

    sample, attempt = None, count()
    while sample is None:
        with contextlib.suppress(RefusedError):
            sample = _draw_sample(np.random.default_rng([seed, index, next(attempt)]), settings, families, renderers)
    return sample


def _draw_sample(rng: np.random.Generator, settings: dict, families, renderers):
    from augment import instrument_chain
    from negatives import negative
    from samples import UNKNOWN, Samples, pieces, prepared_array, to_bytes

    from semwear.score import network_input, working_pixel_size
    from semwear.simulate.scene import FAMILIES, HELD_OUT_FAMILY, HELD_OUT_RENDERER, RENDERERS, simulate_field

    simulation, sizes_um = settings["simulation"], settings["network"]["working_pixel_sizes_um"]
    crop_px = simulation["crop_px"]
    low, high = simulation["pixel_size_um"]
    pixel_size_um = float(np.exp(rng.uniform(np.log(low), np.log(high))))
    working_um = working_pixel_size(pixel_size_um, sizes_um)
    side = int(np.ceil(crop_px * working_um / pixel_size_um)) + 2
    chain = instrument_chain(int(rng.integers(2**31))) if rng.random() < simulation["augment_share"] else None
    if rng.random() < simulation["negative_share"]:
        pixels = negative(rng, crop_px)
        pixels = chain(image=pixels)["image"] if chain else pixels
        image, _ = network_input(prepared_array(pixels, working_um), working_um)
        return Samples(
            image=to_bytes(image)[None],
            codes=np.full((1, crop_px, crop_px), UNKNOWN, np.uint8),
            worn=np.full((1, crop_px // 16, crop_px // 16), UNKNOWN, np.uint8),
            kind=np.zeros(1, np.uint8),
            group=np.array(["no liner surface"]),
        )
    families = families or [name for name in FAMILIES if name != HELD_OUT_FAMILY]
    renderers = renderers or [name for name in RENDERERS if name != HELD_OUT_RENDERER]
    for _ in range(simulation["tries"]):
        field = simulate_field(
            rng,
            family=families[rng.integers(len(families))],
            renderer=renderers[rng.integers(len(renderers))],
            pixel_size_um=pixel_size_um,
            severity=float(rng.beta(1.4, 1.0)),
            shape=(side, side),
        )
        if rng.random() < worth(field, simulation):
            break
    pixels = field.image
    if chain is not None:
        if pixels.dtype == np.uint16:
            pixels = (pixels >> 8).astype(np.uint8)
        pixels = chain(image=pixels)["image"]
    assessed = None
    if rng.random() < 0.15:  # a burnt-in mark or inset somewhere
        assessed = np.ones(pixels.shape, bool)
        top, left = rng.integers(0, side, 2)
        assessed[top : top + int(rng.integers(10, side // 4)), left : left + int(rng.integers(20, side // 2))] = False
    prepared = prepared_array(pixels, pixel_size_um, assessed)
    worn = field.worn.astype(np.uint8)
    whole = pieces(
        prepared,
        field.codes,
        worn,
        sizes_um=sizes_um,
        crop_px=crop_px,
        group=f"{field.family}/{field.renderer}/{'augmented' if chain else 'plain'}",
    )
    return Samples(**{name: getattr(whole, name)[:1] for name in vars(whole)})


def worth(field, simulation: dict) -> float:
    """Probability of keeping a field instead of drawing another.

    Closed grooves are rare, and the hardest to learn; fields whose boundaries can't be seen teach little.
    """
    seen = 1.0
    if "visible_from" in simulation:
        low, full = simulation["visible_from"], simulation["visible_full"]
        seen = max((visibility(field.image, field.codes) - low) / (full - low), simulation["keep_unseen"])
    return min(seen, 1.0) * _rarity(field, simulation)


def _rarity(field, simulation: dict) -> float:
    if field.facts["smeared_fraction"] > 0.004:
        return 1.0
    return simulation["keep_open"] if field.facts["valley_fraction"] > 0.01 else simulation["keep_bare"]


def visibility(pixels: np.ndarray, codes: np.ndarray) -> float:
    """Return how far the boundaries of valleys, smear and scuffing stand out of a picture.

    Mean grey-level gradient on the boundary of a state over the median gradient of the plateau, both after smoothing by
    1.5 px; the least over the states that cover 0.3 % or more, infinite where there is none.
    """
    import cv2

    smooth = cv2.GaussianBlur(pixels.astype(np.float32), (0, 0), 1.5)
    gradient = np.hypot(cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1))
    plateau = gradient[codes == 0]
    level = max(float(np.median(plateau)) if plateau.size else 1.0, 1e-6)
    found = [np.inf]
    for state in (1, 2, 3):
        inside = (codes == state).astype(np.uint8)
        if inside.mean() >= 0.003:
            edge = cv2.morphologyEx(inside, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)).astype(bool) & (codes != UNSEEN)
            found.append(float(gradient[edge].mean()) / level)
    return min(found)


def make_shards(out: Path, *, samples: int, seed: int, processes: int, settings: dict, families=None, renderers=None):
    """Make all shards that are missing in a folder; prints the rate as it goes."""
    out.mkdir(parents=True, exist_ok=True)
    per_shard = settings["simulation"]["shard_samples"]
    total, made = -(-samples // per_shard), 0
    with ProcessPoolExecutor(processes) as pool:
        futures = [
            pool.submit(make_shard, out, shard, seed, per_shard, settings, families, renderers)
            for shard in range(total)
        ]
        for done, future in enumerate(as_completed(futures), 1):
            made += future.result()
            if done % max(1, total // 20) == 0:
                print(f"shards {done}/{total}, {made} samples made", flush=True)
    return made


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--samples", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=os.cpu_count())
    parser.add_argument("--renderers", nargs="*")
    parser.add_argument("--families", nargs="*")
    parser.add_argument("--clear", action="store_true", help="the second stage's samples: boundaries that can be seen")
    parser.add_argument("--settings", type=Path, default=SETTINGS)
    given = parser.parse_args()
    settings = tomllib.loads(given.settings.read_text(encoding="utf-8"))
    if given.clear:
        settings["simulation"] |= settings["clear"]
    make_shards(
        given.out, samples=given.samples, seed=given.seed, processes=given.processes, settings=settings,
        families=given.families, renderers=given.renderers,
    )  # fmt: skip


if __name__ == "__main__":
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    main()
