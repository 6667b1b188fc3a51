"""What each choice of the training recipe does to the figures on samples from a maker that it never saw.

    python training/ablation.py --shards FOLDER --validation-shards FOLDER… --out ablation.csv --seconds 150

Every variant is trained from the same seed for the same time and differs from the full recipe in one thing.
The validation shards are of the held-out family and renderer; nothing is chosen by them here, they are reported.
"""

import argparse
import csv
import tomllib
from pathlib import Path

import torch
from loop import train_for
from store import Store, shard_feeder, shard_validation

from semwear.network import FieldNetwork

FIRST_FOUR = ("simulated/", "painted/", "milled/", "layered/", "no liner")
VARIANTS = {
    "full recipe": {},
    "its slope renderer only": {"keep": lambda group: "/slope/" in group or group.startswith("no liner")},
    "package's simulator only": {"keep": lambda group: group.startswith(("simulated/", "no liner"))},
    "four makers": {"keep": lambda group: group.startswith(FIRST_FOUR)},
    "without the package's simulator": {"keep": lambda group: not group.startswith("simulated/")},
    "no albumentations": {"keep": lambda group: not group.endswith("/augmented")},
    "no Dice term": {"settings": {"dice_weight": 0.0}},
    "AdamW alone": {"settings": {"muon": False, "learning_rate": 3.0e-3}},
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--shards", type=Path, required=True)
    parser.add_argument("--validation-shards", type=Path, nargs="+", required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=150.0, help="for each variant")
    parser.add_argument("--names", nargs="*", default=list(VARIANTS))
    parser.add_argument("--device", default="cuda" if torch.cuda.is_available() else "cpu")
    given = parser.parse_args()
    device = torch.device(given.device)
    settings = tomllib.loads(Path(__file__).with_name("settings.toml").read_text(encoding="utf-8"))
    watched = {}
    for folder in given.validation_shards:
        store = Store(device)
        shard_feeder(store, folder)()
        watched[folder.name] = shard_validation(store)
    for name in given.names:
        variant = VARIANTS[name]
        store = Store(device, settings["training"]["store_samples"] // 4 if device.type == "cuda" else None)
        refill = shard_feeder(store, given.shards, variant.get("keep", lambda group: True))
        refill()
        torch.manual_seed(1)
        network = train_for(
            given.seconds, FieldNetwork(tuple(settings["network"]["widths"])), store=store, refill=refill,
            settings=settings["training"] | variant.get("settings", {}),
            folder=Path(__file__).parent / "runs" / f"ablation {name}",
        )  # fmt: skip
        for maker, validate in watched.items():
            row = {"variant": name, "samples": len(store), "maker": maker} | validate(network)
            new = not given.out.exists()
            with open(given.out, "a", newline="", encoding="utf-8") as stream:
                writer = csv.DictWriter(stream, row)
                if new:
                    writer.writeheader()
                writer.writerow(row)
            print(row, flush=True)


if __name__ == "__main__":
    main()
