"""General-purpose networks and semwear's own, trained on the same samples for the same time, for models/README.md.

    python training/peers.py --shards FOLDER --out FOLDER --seconds 480     # train them, so long each
    python training/table.py …                                             # measure all side by side

All start from random weights. The general-purpose ones are torchvision's, with four states; they have no other output.
"""

import argparse
import tomllib
from pathlib import Path

import torch
from loop import train_for
from store import Store, shard_feeder
from torch import nn
from torchvision.models.segmentation import deeplabv3_mobilenet_v3_large, lraspp_mobilenet_v3_large

from semwear.network import FieldNetwork, save_weights

PEERS = {
    "lraspp_mobilenet_v3_large": lraspp_mobilenet_v3_large,
    "deeplabv3_mobilenet_v3_large": deeplabv3_mobilenet_v3_large,
}
OWN = "semwear_same_budget"


class Peer(nn.Module):
    """A torchvision segmentation network behind the trainer's interface (grey picture repeated to three channels)."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.inner = PEERS[name](weights=None, weights_backbone=None, num_classes=4)

    def forward(self, image: torch.Tensor):
        return self.inner(image.expand(-1, 3, -1, -1))["out"], None, None, None, None


def untrained(name: str, widths) -> nn.Module:
    """Return a network of the comparison with random weights."""
    return FieldNetwork(tuple(widths)) if name == OWN else Peer(name)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--shards", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=480.0, help="for each network")
    parser.add_argument("--names", nargs="*", default=[OWN, *PEERS])
    parser.add_argument("--device", default="cuda" if torch.cuda.is_available() else "cpu")
    given = parser.parse_args()
    settings = tomllib.loads(Path(__file__).with_name("settings.toml").read_text(encoding="utf-8"))
    given.out.mkdir(parents=True, exist_ok=True)
    for name in given.names:
        torch.manual_seed(1)
        plan, device = settings["training"], torch.device(given.device)
        store = Store(device, plan["store_samples"] // 4 if device.type == "cuda" else None)
        refill = shard_feeder(store, given.shards)
        refill()
        network = train_for(
            given.seconds, untrained(name, settings["network"]["widths"]), store=store, settings=plan, refill=refill,
            folder=Path(__file__).parent / "runs" / name,
        )  # fmt: skip
        save_weights(network, given.out / f"{name}.safetensors")


if __name__ == "__main__":
    main()
