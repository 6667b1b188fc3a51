"""Train a model, from scratch on simulated fields or further from a shipped model on labelled pictures.

    python training/train.py --out models/NAME --shards FOLDER                 # from scratch, on shards
    python training/train.py --out models/NAME --shards FOLDER --from models/BASE    # further, on shards
    python training/train.py --labels FOLDER… --out models/NAME --from models/BASE   # further, on labelled pictures
    python training/train.py --out models/NAME --shards NEW --replay-shards OLD --from models/BASE   # gently, on a new maker
    python training/train.py --out models/smoke --quick --device cpu             # smoke run, minutes on two cores

All settings are in training/settings.toml. The run keeps its checkpoint, log.csv and learning curves in
training/runs/NAME and goes on from there when started again; --seconds stops it in time to be continued. A run of the
same name with other labels, shards, settings, base or seed is refused; more time, more steps and more shards are not.
A model that got worse on the held-out pictures is written and marked "worse", and never becomes the default.
"""

import argparse
import hashlib
import json
import sys
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import several_gpus
import torch
from curves import draw_learning_curves
from evaluation import evaluate, known_from_labels, model_predictor
from fields import CALIBRATION_SEED, RETEST_SEED, maker_fields, simulated_fields
from finish import finish, write_card
from loop import Trainer, check_made_from
from make_shards import make_sample
from samples import Samples, from_label, join, load
from store import Store, shard_feeder, shard_validation

from semwear.errors import SemwearError
from semwear.labels import LabelError, LabelledField, leaks, read_labels
from semwear.model import WEIGHTS_NAME, load_model, read_card
from semwear.network import FieldNetwork, load_network
from semwear.results import write_whole
from semwear.simulate.scene import HELD_OUT_FAMILY, HELD_OUT_RENDERER

HERE = Path(__file__).parent
LEFT_OPEN = ("steps", "report_steps", "checkpoint_seconds", "store_samples", "compiled", "kept_share")
"""Settings that may change while a run goes on: how long, how often it reports, on what machine, and what comes after."""


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--labels", type=Path, nargs="*", default=[], help="folders of labelled pictures")
    parser.add_argument(
        "--validation-labels", type=Path, nargs="*", default=[], help="folders held out for before/after"
    )
    parser.add_argument("--shards", type=Path, help="folder of simulated shards (make_shards.py); may still be growing")
    parser.add_argument("--replay-shards", type=Path, help="shards of before, mixed in so that nothing is forgotten")
    parser.add_argument("--validation-shards", type=Path, help="shards that are only looked at, for the log")
    parser.add_argument(
        "--calibration-labels", type=Path, nargs="*", default=[], help="labelled pictures to calibrate on, never trained on"
    )
    parser.add_argument("--weights", type=Path, help="don't train: finish a model folder from these weights")
    parser.add_argument("--facts", type=Path, help="with --weights: facts.json of the run that trained them, for the card")
    parser.add_argument("--out", type=Path, required=True, help="model folder to write, e.g. models/NAME")
    parser.add_argument("--from", dest="base", type=Path, help="model folder to start from")
    parser.add_argument("--steps", type=int, help="instead of the settings' number of steps")
    parser.add_argument("--minutes", type=float, default=float("inf"), help="of training in all; the learning rate runs out with them")
    parser.add_argument("--seconds", type=float, default=float("inf"), help="stop in time and keep the checkpoint")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--device", choices=("auto", "cpu", "cuda"), default="auto")
    parser.add_argument("--quick", action="store_true", help="a smoke run: few samples, few steps")
    parser.add_argument("--calibration-fields", type=int, default=120)
    parser.add_argument("--settings", type=Path, default=HERE / "settings.toml")
    return parser.parse_args()


def split_by_specimen(fields: list, seed: int) -> tuple[list, list]:
    """A quarter of the specimens (at least one, where there are two or more) is held out, whole."""
    specimens = sorted({field.specimen for field in fields})
    if len(specimens) < 2:
        return fields, []
    held = set(np.random.default_rng(seed).permutation(specimens)[: max(1, len(specimens) // 4)])
    return [f for f in fields if f.specimen not in held], [f for f in fields if f.specimen in held]


def labelled_sides(given: argparse.Namespace) -> tuple[list, list]:
    training = [field for folder in given.labels for field in read_labels(folder)]
    held_out = [field for folder in given.validation_labels for field in read_labels(folder)]
    if training and not held_out:
        training, held_out = split_by_specimen(training, given.seed)
        if not held_out:
            print("one specimen only: nothing can be held out, so before and after are not compared on new pictures")
    found = leaks(training, held_out)
    if found:
        raise LabelError("\n".join(found))
    return training, held_out


def made_from(given: argparse.Namespace, settings: dict, plan: dict, training: list[LabelledField], base: dict | None) -> dict:
    """Return by name what decides the weights of a run, ``base`` being the card of the model that it starts from.

    Labels count by what they say of the pictures that are trained on, so that another split is another run; shards by
    their folder, because more of them may arrive.
    """
    origin = {
        "labels": _labels_hash(training) if training else "",
        "base weights": base["weights_sha256"] if base else "",
        "seed": given.seed,
        "quick": bool(given.quick),
        "shards": str(given.shards.resolve()) if given.shards else "",
        "replay shards": str(given.replay_shards.resolve()) if given.replay_shards else "",
    }
    if not given.shards:  # simulated samples are made on the way
        origin["settings of simulation"] = json.dumps([settings["simulation"], settings["quick"]["samples"]], sort_keys=True)
    decisive = settings["network"] | {"crop_px": settings["simulation"]["crop_px"]} | plan
    return origin | {f"setting {name}": value for name, value in decisive.items() if name not in LEFT_OPEN}


def main() -> None:
    given = arguments()
    several_gpus.join()
    processes = several_gpus.count()
    settings = tomllib.loads(given.settings.read_text(encoding="utf-8"))
    device = torch.device(("cuda" if torch.cuda.is_available() else "cpu") if given.device == "auto" else given.device)
    fine_tuned = bool(given.base) and (bool(given.replay_shards) or not given.shards)
    plan = training_plan(given, settings, fine_tuned=fine_tuned)
    training, held_out = labelled_sides(given)
    card = read_card(given.base) if given.base else None
    origin = made_from(given, settings, plan, training, card)
    folder = HERE / "runs" / given.out.name
    checkpoint = folder / "checkpoint.pt"
    if checkpoint.exists() and not given.weights:  # said before time goes into samples
        check_made_from(checkpoint, torch.load(checkpoint, map_location="cpu", weights_only=True).get("made_from"), origin)
    stock = gather_samples(given, settings, plan, training, device)
    network = first_network(given, settings, card)
    trainer = Trainer(
        network=network, store=stock.store, settings=plan, folder=folder, seed=given.seed, refill=stock.refill, replay=stock.replay,
        validate=validation(given, device), freeze_normalisation=fine_tuned, seconds=given.seconds,
        whole_seconds=60 * given.minutes, made_from=origin,
    )  # fmt: skip
    if given.weights:
        trainer.network = load_network(given.weights, tuple(settings["network"]["widths"]))
    elif not trained_to_the_end(trainer):
        return
    if fine_tuned:
        blend(trainer.network, load_network(given.base / WEIGHTS_NAME, tuple(card["widths"])), plan["kept_share"])
    experience = stock.experience + first_shards(given)
    known = known_from_labels(held_out)
    calibration = calibration_fields(given, settings, training, fine_tuned=fine_tuned)
    facts = {"held_out": kept_apart(given, settings, held_out, with_makers=not (fine_tuned or given.quick))}
    if given.facts:
        facts |= json.loads(given.facts.read_text(encoding="utf-8"))
    elif given.weights:
        facts = {"started_from": f"{given.weights.name}, whose training no facts.json describes"} | facts
    else:
        batch = plan["batch"] * processes
        facts = facts_of_training(given, settings, trainer, training, experience, card, batch=batch) | facts
        write_whole(folder / "facts.json", json.dumps(facts, indent=1).encode())  # for finishing on another machine
    finish(
        trainer.network, given.out, settings=settings, calibration=calibration, experience=join(experience), facts=facts,
        inherited=card if fine_tuned else None,
    )  # fmt: skip
    if fine_tuned:
        compare_with_base(given, known, simulated_fields(16, RETEST_SEED, held_out=False))


def training_plan(given: argparse.Namespace, settings: dict, *, fine_tuned: bool) -> dict:
    """Return the settings of the training itself; a smoke run has few steps, and few fields to calibrate on, too."""
    plan = settings["training"] | (settings["fine_tuning"] if fine_tuned else {})
    if given.quick:
        plan |= {"steps": settings["quick"]["steps"], "batch": settings["quick"]["batch"], "report_steps": 10}
        given.calibration_fields = 12
    if given.steps:
        plan["steps"] = given.steps
    return plan


@dataclass(kw_only=True)
class Stock:
    """What a training learns from: samples on the device, older ones mixed in, and those that the finish looks at again."""

    store: Store
    replay: Store | None
    refill: Callable[[], None]  # adds the shards that have arrived since
    experience: list[Samples]  # without those of shards


def gather_samples(
    given: argparse.Namespace, settings: dict, plan: dict, training: list[LabelledField], device: torch.device
) -> Stock:
    """Return the samples of labels and shards; without shards, simulated ones are made."""
    sizes_um, crop_px = settings["network"]["working_pixel_sizes_um"], settings["simulation"]["crop_px"]
    capacity = plan["store_samples"] if given.shards and device.type == "cuda" else None
    store, replay, refill = Store(device, capacity), None, lambda: None
    experience: list[Samples] = [from_label(field, sizes_um=sizes_um, crop_px=crop_px) for field in training]
    for samples in experience:
        store.add(samples)
    if given.shards:
        refill = shard_feeder(store, given.shards)
        refill()
        if given.replay_shards:
            replay = Store(device)
            shard_feeder(replay, given.replay_shards)()
    elif given.base or given.quick or not training:
        made = simulated_samples(given, settings)
        experience.append(made)
        if given.base:
            replay = Store(device)
        (replay if given.base else store).add(made)
    if not len(store):
        raise LabelError("no samples yet; wait for the first shards, or give --labels")
    return Stock(store=store, replay=replay, refill=refill, experience=experience)


def simulated_samples(given: argparse.Namespace, settings: dict) -> Samples:
    """Make the samples that labels are mixed with, or those of a smoke run; a training from scratch needs shards or labels."""
    if not (given.base or given.quick):
        raise LabelError("nothing to train on; give --labels, or --shards made by training/make_shards.py")
    count = settings["fine_tuning"]["replay_samples"] if given.base else settings["quick"]["samples"]
    print(f"making {count} simulated samples")
    return join([make_sample(given.seed, index, settings) for index in range(count)])


def first_network(given: argparse.Namespace, settings: dict, card: dict | None) -> torch.nn.Module:
    """Return the network that training starts from: the base's, or one of random weights."""
    if given.base:
        return load_network(given.base / WEIGHTS_NAME, tuple(card["widths"]))
    network = FieldNetwork(tuple(settings["network"]["widths"]))
    torch.manual_seed(given.seed)
    return network.apply(_initialise)


def validation(given: argparse.Namespace, device: torch.device) -> Callable[[torch.nn.Module], dict]:
    """Return the function that looks at a network for the log; without validation shards it sees nothing."""
    if not given.validation_shards:
        return lambda network: {}
    watched = Store(device)
    shard_feeder(watched, given.validation_shards)()
    return shard_validation(watched)


def trained_to_the_end(trainer: Trainer) -> bool:
    """Train and draw the curves; return whether the run is over and this process is the one that finishes it."""
    process = several_gpus.number()
    complete = trainer.run()
    several_gpus.leave()
    if process:
        return False
    draw_learning_curves(trainer.folder / "log.csv", trainer.folder / "learning_curves.png")
    if not complete:
        print("stopped in time; start the same command again to go on")
    return complete


def first_shards(given: argparse.Namespace) -> list[Samples]:
    """Return the first shards of each folder, as many as the finish needs."""
    folders = filter(None, (given.shards, given.replay_shards))
    return [load(path) for folder in folders for path in sorted(folder.glob("shard_*.npz"))[:60]]


def calibration_fields(given: argparse.Namespace, settings: dict, training: list[LabelledField], *, fine_tuned: bool) -> list:
    """Return the fields with known answers that the finish is calibrated on."""
    fields = simulated_fields(given.calibration_fields, CALIBRATION_SEED, held_out=True)
    fields += known_from_labels(field for folder in given.calibration_labels for field in read_labels(folder))
    if fine_tuned:
        fields += known_from_labels(training)
    elif not given.quick:
        fields += maker_fields(*(settings["calibration"][key] for key in ("makers", "fields_each")), CALIBRATION_SEED)
    return fields


def facts_of_training(
    given: argparse.Namespace, settings: dict, trainer: Trainer, training: list[LabelledField], experience: list[Samples],
    card: dict | None, *, batch: int,
) -> dict:  # fmt: skip
    """Return what the card is to say of a training; ``card`` is that of the model it started from, if any."""
    on_gpu = trainer.store.device.type == "cuda"
    return {
        "seed": given.seed,
        "steps": trainer.figures.get("step"),
        "batch": batch,
        "samples": len(trainer.store),
        "labelled_fields": len(training),
        "labelled_specimens": len({field.specimen for field in training}),
        "started_from": str(given.base.name) if given.base else "random weights",
        "earlier": earlier_training(card) if card else {},
        "device": torch.cuda.get_device_name() if on_gpu else "cpu",
        "final_training_loss": trainer.figures.get("loss"),
        "families": sorted({group for part in experience for group in np.unique(part.group).tolist()}),
        "data_sha256": _data_hash(experience),
        "settings": settings,
    }


def kept_apart(given: argparse.Namespace, settings: dict, held_out: list, *, with_makers: bool) -> dict[str, list[str]]:
    """Return what the weights were calibrated or judged on and never trained on, by kind, for the card."""
    folders = [*given.calibration_labels, *given.validation_labels]
    return {
        "of the simulator": [f"{HELD_OUT_FAMILY} surfaces", f"the {HELD_OUT_RENDERER} renderer"],
        "makers": list(settings["calibration"]["makers"]) if with_makers else [],
        "labels": sorted({folder.name for folder in folders}),
        "specimens": sorted({field.specimen for field in held_out}),
    }


def earlier_training(card: dict) -> dict:
    """Return how the model that a training starts from was trained: its steps and batches don't count among the new ones."""
    known = card.get("training", {})
    kept = ("seed", "steps", "batch", "samples", "labelled_fields", "started_from", "earlier")
    return {"model": card["name"]} | {name: known[name] for name in kept if name in known}


def compare_with_base(given: argparse.Namespace, held_out: list, old: list) -> None:
    """Print and record before / after on the held-out new pictures and on the old families; mark a worse model."""
    card = read_card(given.out)
    figures = {}
    for name, fields in (("held-out new pictures", held_out), ("old families", old)):
        if not fields:
            continue
        before = evaluate(fields, model_predictor(load_model(given.base))).summary()
        after = evaluate(fields, model_predictor(load_model(given.out))).summary()
        figures[name] = {"before": before, "after": after}
        for state in ("valley", "smeared", "scuffed"):
            print(f"{name}: IoU {state} {before[f'iou_{state}']:.3f} → {after[f'iou_{state}']:.3f}, "
                  f"fraction error {before[f'mae_{state}']:.4f} → {after[f'mae_{state}']:.4f}")  # fmt: skip
    judged = figures.get("held-out new pictures") or figures["old families"]
    worse = mean_gain(judged["before"], judged["after"]) < 0
    card["evaluation"] = figures
    card["status"] = "worse than the model it started from; not made the default" if worse else "candidate"
    write_card(given.out, card)
    write_whole(given.out / "before_after.json", json.dumps(figures, indent=1).encode())
    print(f"status: {card['status']}")


def blend(tuned: torch.nn.Module, base: torch.nn.Module, kept_share: float) -> None:
    """Draw a tuned network's weights back towards those that it started from, in place.

    A few labelled pictures teach the network their looks and some of their chance; the mean of both networks' weights
    keeps the first and forgets less (Wortsman et al., 2022, arXiv 2109.01903).
    """
    base = base.to(next(tuned.parameters()).device).state_dict()
    mixed = {
        name: torch.lerp(value, base[name], kept_share) if value.is_floating_point() else value
        for name, value in tuned.state_dict().items()
    }
    tuned.load_state_dict(mixed)


def mean_gain(before: dict, after: dict) -> float:
    """Mean change of IoU over the states that have one on both sides (a state that is nowhere has none)."""
    changes = [after[f"iou_{state}"] - before[f"iou_{state}"] for state in ("valley", "smeared", "scuffed")]
    return float(np.nanmean(changes))


def _initialise(module: torch.nn.Module) -> None:
    if isinstance(module, torch.nn.Conv2d):
        torch.nn.init.kaiming_normal_(module.weight, nonlinearity="relu")


def _labels_hash(fields: list[LabelledField]) -> str:
    digest = hashlib.sha256()
    for field in fields:
        said = (field.micrograph.sha256, field.calibration.pixel_size_um, field.specimen, field.codes.shape)
        for part in (repr(said).encode(), field.codes.tobytes(), field.worn_map().tobytes()):
            digest.update(part)
    return digest.hexdigest()


def _data_hash(parts: list[Samples]) -> str:
    digest = hashlib.sha256()
    for part in parts:
        digest.update(part.image.tobytes())
        digest.update(part.codes.tobytes())
    return digest.hexdigest()


if __name__ == "__main__":
    try:
        main()
    except SemwearError as error:
        sys.exit(str(error))
