"""The model beside general-purpose networks and classical pipelines on the same fields, as a table for models/README.md.

    python training/table.py --model models/NAME --labels FOLDER… [--peers FOLDER] [--write models/README.md]

Every method gets the same prepared field at the same working pixel size. Peers are torchvision's networks and our own as trained by
peers.py for the same time (FOLDER holds NAME.safetensors); classical pipelines know open valleys only. Times are of one field from
prepared picture to states, on this machine, as many threads as torch takes.
"""

import argparse
import platform
from pathlib import Path

import numpy as np
import torch
from classical import MASKS, as_predictor
from evaluation import evaluate, known_from_labels, model_predictor
from peers import OWN, PEERS, untrained
from safetensors.torch import load_file

from semwear.labels import read_labels
from semwear.lay import find_lays
from semwear.model import load_model
from semwear.network import parameter_count
from semwear.results import write_whole
from semwear.score import decide_states, network_input, working_pixel_size
from semwear.segment_geometric import segment_geometric

BEGIN, END = "<!-- table begins -->", "<!-- table ends -->"
COLUMNS = ("iou_valley", "iou_smeared", "iou_scuffed", "mae_valley", "mae_smeared", "mae_scuffed", "seconds_per_field")


def peer_predictor(name: str, weights: Path, card):
    network, sizes_um = untrained(name, card["widths"]), card["working_pixel_sizes_um"]
    network.load_state_dict(load_file(weights))
    network.eval()

    def predict(prepared, stroke_deg=None) -> dict:
        image, _ = network_input(prepared, working_pixel_size(prepared.pixel_size_um, sizes_um))
        rows, cols = image.shape
        padded = np.pad(image, ((0, -rows % 32), (0, -cols % 32)), mode="reflect")
        with torch.inference_mode():
            logits = network(torch.from_numpy(padded)[None, None])[0][0, :, :rows, :cols]
        return {"codes": decide_states(torch.softmax(logits, 0).numpy(), prepared.assessed)}

    return predict, parameter_count(network)


def geometric(prepared, stroke_deg=None) -> dict:
    found = segment_geometric(prepared, lays=find_lays(prepared, stroke_deg=stroke_deg))
    return {"codes": np.where(prepared.assessed & (found.codes == 255), 0, found.codes).astype(np.uint8)}


def methods(model, peers: Path | None) -> dict:
    """Return (predict, number of parameters) by name."""
    found = {f"semwear, {model.name}": (model_predictor(model), model.card["parameters"])}
    for name in (OWN, *PEERS):
        if peers and (peers / f"{name}.safetensors").is_file():
            found[name.replace("_same_budget", ", same budget")] = peer_predictor(
                name, peers / f"{name}.safetensors", model.card
            )
    found["semwear, geometry alone"] = (geometric, 0)
    return found | {name: (as_predictor(method), 0) for name, method in MASKS.items()}


def table(model, fields, peers: Path | None) -> str:
    lines = [
        "| method | parameters | " + " | ".join(column.replace("_", " ") for column in COLUMNS) + " |",
        "|---" * (len(COLUMNS) + 2) + "|",
    ]
    for name, (predict, parameters) in methods(model, peers).items():
        summary = evaluate(fields, predict).summary()
        classical = name in MASKS
        cells = [
            "–" if classical and ("smeared" in column or "scuffed" in column) else f"{summary[column]:.3f}"
            for column in COLUMNS
        ]
        lines.append(f"| {name} | {parameters or '–'} | " + " | ".join(cells) + " |")
        print(lines[-1], flush=True)
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--model", type=Path, required=True)
    parser.add_argument("--labels", type=Path, nargs="+", required=True)
    parser.add_argument("--peers", type=Path)
    parser.add_argument("--write", type=Path, help="page to put the table into, between its marks")
    given = parser.parse_args()
    torch.set_num_threads(2)
    model = load_model(given.model)
    fields = known_from_labels([field for folder in given.labels for field in read_labels(folder)])
    made = table(model, fields, given.peers)
    note = f"\n\n{len(fields)} fields of {', '.join(folder.name for folder in given.labels)}; two threads, {platform.machine()}.\n"
    if given.write:
        page = given.write.read_text(encoding="utf-8")
        before, after = page.split(BEGIN)[0], page.split(END)[1]
        write_whole(given.write, f"{before}{BEGIN}\n{made}{note}{END}{after}".encode())


if __name__ == "__main__":
    main()
