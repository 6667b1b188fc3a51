"""A trained model on disk: weights, card and checksum, loaded without running code from it.

A model is a folder with ``weights.safetensors`` and ``card.json`` (plus a readable ``card.md``). The card holds all
that inference needs besides the weights: the widths of the network, the working pixel sizes, the temperatures that
calibrate its probabilities, the offsets of open valley in unworn and in worn fields, the limit of the distance from the
training fields and the factors of the intervals.
``models/default.json`` names the model that is used when none is asked for.
"""

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from semwear.errors import ModelError, plain_reason

WEIGHTS_NAME = "weights.safetensors"
CARD_NAME = "card.json"
REQUIRED_KEYS = (
    "name",
    "format",
    "widths",
    "working_pixel_sizes_um",
    "state_temperature",
    "valley_offsets",
    "hidden_limit",
    "worn_temperature",
    "distance",
    "interval",
    "weights_sha256",
)
FORMAT = 4
"""Version of the card's layout that this version of semwear writes and reads."""


@dataclass(frozen=True, kw_only=True)
class Model:
    """A loaded model: its card, its function from a normalised picture to results (see semwear.network.inference), and the
    precision that this function multiplies in (``float32`` or ``bfloat16``)."""

    folder: Path
    card: Mapping
    run: Callable[[np.ndarray], tuple]
    precision: str = "float32"

    @property
    def name(self) -> str:
        return self.card["name"]

    @property
    def sha256(self) -> str:
        return self.card["weights_sha256"]


def models_folder() -> Path:
    """Return the folder of shipped models: inside the installed package, or beside it in a source tree."""
    inside = Path(__file__).parent / "models"
    return inside if inside.is_dir() else Path(__file__).parent.parent / "models"


def default_model_folder() -> Path | None:
    """Return the folder of the default model, or None when no model is shipped."""
    pointer = models_folder() / "default.json"
    if not pointer.is_file():
        return None
    return models_folder() / json.loads(pointer.read_text(encoding="utf-8"))["name"]


def checksum(path: Path) -> str:
    """Return the SHA-256 of a file as hexadecimal text."""
    with open(path, "rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def read_card(folder: Path) -> dict:
    """Read and check a model's card; raises ModelError with what to do."""
    path = Path(folder) / CARD_NAME
    try:
        card = json.loads(path.read_text(encoding="utf-8"))
        if not isinstance(card, dict):
            raise ValueError("no object")
    except OSError as error:
        raise ModelError(
            f"{path}: no readable model card, as {plain_reason(error)}; name the folder of a trained model"
        ) from error
    except ValueError as error:
        raise ModelError(f"{path}: no readable model card, as its JSON is damaged; restore the model folder") from error
    missing = [key for key in REQUIRED_KEYS if key not in card]
    if missing:
        raise ModelError(f"{path}: the card lacks {', '.join(missing)}; train again with this version")
    if card["format"] != FORMAT:
        raise ModelError(f"{path}: card format {card['format']}, this version reads {FORMAT}; train again")
    return card


@lru_cache(maxsize=4)
def load_model(
    folder: Path | None = None, *, device: str = "cpu", single_precision: bool = False, looks: int = 1
) -> Model:
    """Load a model folder (the default one if None), checking its checksum; raises ModelError.

    On a processor with instructions for bfloat16 the network runs in that precision, unless ``single_precision`` is asked for.
    ``looks``: how often it looks at a field (1, 2 or 4; see :func:`semwear.network.inference`).
    """
    folder = default_model_folder() if folder is None else Path(folder)
    if folder is None:
        raise ModelError("no model is shipped with this installation; name one with --model")
    card = read_card(folder)
    weights = folder / WEIGHTS_NAME
    if not weights.is_file():
        raise ModelError(f"{weights}: the weights are missing; restore the model folder")
    found = checksum(weights)
    if found != card["weights_sha256"]:
        raise ModelError(f"{weights}: checksum {found[:12]}… differs from the card's; restore the model folder")
    from semwear.network import inference, load_network, reduced_precision_pays

    network = load_network(weights, tuple(card["widths"]))
    reduced = device == "cpu" and not single_precision and reduced_precision_pays()
    run = inference(network, device=device, temperature=card["state_temperature"], reduced=reduced, looks=looks)
    return Model(folder=folder, card=card, run=run, precision="bfloat16" if reduced else "float32")
