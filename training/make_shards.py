"""Make simulated training samples in shards, with a pool of processes.

    python training/make_shards.py OUT --samples 100000 --seed 1 [--processes P] [--makers NAME …]

Every sample follows from (seed, index) alone, so shards can be made in any order, by any number of processes, and a
run that was stopped goes on where it was. Samples are at working pixel sizes and ready for the network. Makers are the
modules and folders of training/makers; "held out" is the package's own simulator with the family and the renderer that training
leaves out, for looking at only.
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
HELD_OUT = "held out"


def make_shard(out: Path, shard: int, seed: int, size: int, settings: dict, makers=None) -> int:
    """Write one shard of ``size`` samples; return how many were written (0 when it exists)."""
    import cv2
    from samples import join, save

    cv2.setNumThreads(1)
    path = out / f"shard_{shard:06d}.npz"
    if path.exists():
        return 0
    parts = [make_sample(seed, shard * size + number, settings, makers) for number in range(size)]
    save(join(parts), path)
    return size


def make_sample(seed: int, index: int, settings: dict, makers=None):
    """Return one sample (a :class:`samples.Samples` of length 1) that follows from (seed, index).

    A drawn picture that can't be prepared (all but wholly charged, say) is drawn again.
    """
    from semwear.errors import RefusedError

    sample, attempt = None, count()
    while sample is None:
        with contextlib.suppress(RefusedError):
            sample = _draw_sample(np.random.default_rng([seed, index, next(attempt)]), settings, makers)
    return sample


def _draw_sample(rng: np.random.Generator, settings: dict, makers):
    from augment import instrument_chain
    from samples import pieces, prepared_array

    from semwear.score import working_pixel_size

    simulation, sizes_um = settings["simulation"], settings["network"]["working_pixel_sizes_um"]
    crop_px = simulation["crop_px"]
    low, high = simulation["pixel_size_um"]
    pixel_size_um = float(np.exp(rng.uniform(np.log(low), np.log(high))))
    side = int(np.ceil(crop_px * working_pixel_size(pixel_size_um, sizes_um) / pixel_size_um)) + 2
    chain = instrument_chain(int(rng.integers(2**31))) if rng.random() < simulation["augment_share"] else None
    name = _drawn_maker(rng, simulation["maker_shares"], makers)
    if rng.random() < simulation["negative_share"]:
        return _negative_sample(rng, name, pixel_size_um, side, chain, settings)
    made = _make(name, rng, pixel_size_um, (side, side))
    pixels = chain(image=made.image)["image"] if chain else made.image
    assessed = None
    if rng.random() < 0.15:  # a burnt-in mark or inset somewhere
        assessed = np.ones(pixels.shape, bool)
        top, left = rng.integers(0, side, 2)
        assessed[top : top + int(rng.integers(10, side // 4)), left : left + int(rng.integers(20, side // 2))] = False
    whole = pieces(
        prepared_array(pixels, pixel_size_um, assessed),
        made.codes,
        made.worn.astype(np.uint8),
        sizes_um=sizes_um,
        crop_px=crop_px,
        group=f"{name}/{made.kind}/{'augmented' if chain else 'plain'}",
    )
    return _first(whole)


def _drawn_maker(rng: np.random.Generator, shares: dict, makers) -> str:
    if makers:
        return makers[rng.integers(len(makers))]
    names = list(shares)
    weights = np.array([shares[name] for name in names], float)
    return names[rng.choice(len(names), p=weights / weights.sum())]


def _make(name: str, rng: np.random.Generator, pixel_size_um: float, shape: tuple[int, int]):
    from importlib import import_module

    if name == HELD_OUT:
        from makers import simulated

        from semwear.simulate.scene import FAMILIES, HELD_OUT_FAMILY, HELD_OUT_RENDERER, TRAINING_RENDERERS

        of_family = rng.random() < 0.5
        return simulated.make(
            rng, pixel_size_um=pixel_size_um, shape=shape,
            families=(HELD_OUT_FAMILY,) if of_family else FAMILIES,
            renderers=TRAINING_RENDERERS if of_family else (HELD_OUT_RENDERER,),
        )  # fmt: skip
    return import_module(f"makers.{name}").make(rng, pixel_size_um=pixel_size_um, shape=shape)


def _negative_sample(rng: np.random.Generator, name: str, pixel_size_um: float, side: int, chain, settings: dict):
    """A picture that shows no liner surface: drawn, a piece of a photograph, or a liner surface made impossible."""
    from negatives import negative, photograph_piece, spoilt
    from samples import UNKNOWN, Samples, prepared_array, to_bytes

    from semwear.score import network_input

    crop_px = settings["simulation"]["crop_px"]
    way = rng.random()
    if way < 0.15:
        pixels = spoilt(rng, _make(name, rng, pixel_size_um, (side, side)).image)
        pixels = pixels[:crop_px, :crop_px] if side >= crop_px else np.pad(pixels, (0, crop_px - side), mode="symmetric")
    else:
        pixels = photograph_piece(rng, crop_px) if way < 0.35 else negative(rng, crop_px)
    pixels = chain(image=pixels)["image"] if chain else pixels
    working_um = float(rng.choice(settings["network"]["working_pixel_sizes_um"]))
    image, _ = network_input(prepared_array(pixels, working_um), working_um)
    return Samples(
        image=to_bytes(image)[None],
        codes=np.full((1, crop_px, crop_px), UNKNOWN, np.uint8),
        worn=np.full((1, crop_px // 16, crop_px // 16), UNKNOWN, np.uint8),
        kind=np.zeros(1, np.uint8),
        group=np.array(["no liner surface"]),
    )


def _first(samples):
    from samples import Samples

    return Samples(**{name: getattr(samples, name)[:1] for name in vars(samples)})


def make_shards(out: Path, *, samples: int, seed: int, processes: int, settings: dict, makers=None):
    """Make all shards that are missing in a folder; prints the rate as it goes."""
    out.mkdir(parents=True, exist_ok=True)
    per_shard = settings["simulation"]["shard_samples"]
    total, made = -(-samples // per_shard), 0
    with ProcessPoolExecutor(processes) as pool:
        futures = [pool.submit(make_shard, out, shard, seed, per_shard, settings, makers) for shard in range(total)]
        for done, future in enumerate(as_completed(futures), 1):
            made += future.result()
            if done % max(1, total // 100) == 0:
                print(f"shards {done}/{total}, {made} samples made", flush=True)
    return made


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--samples", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=os.cpu_count())
    parser.add_argument("--makers", nargs="*", help="instead of the settings' mixture")
    parser.add_argument("--settings", type=Path, default=SETTINGS)
    given = parser.parse_args()
    settings = tomllib.loads(given.settings.read_text(encoding="utf-8"))
    make_shards(
        given.out, samples=given.samples, seed=given.seed, processes=given.processes, settings=settings,
        makers=given.makers,
    )  # fmt: skip


if __name__ == "__main__":
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    main()
