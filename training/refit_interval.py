"""Fit the intervals of a finished model anew, on calibration fields, and write them into its card; weights stay.

    python training/refit_interval.py --model models/NAME --calibration-labels FOLDER…

The calibration fields are those of training/train.py: the simulator's with the finish or the renderer that training
leaves out, and the labelled pictures named here, which nobody trained on.
"""

import argparse
import json
import sys
from pathlib import Path

from evaluation import known_from_labels
from fields import CALIBRATION_SEED, simulated_fields
from finish import fit_interval, measure_again

from semwear.errors import SemwearError
from semwear.labels import read_labels
from semwear.model import CARD_NAME, FORMAT, load_model


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--model", type=Path, required=True, help="model folder; its card is written anew")
    parser.add_argument("--calibration-labels", type=Path, nargs="*", default=[], help="labelled pictures, never trained on")
    parser.add_argument("--calibration-fields", type=int, default=120, help="simulated fields beside them")
    given = parser.parse_args()
    path = given.model / CARD_NAME
    # Factors of 1 first: a card of the format before this one holds what this version can't read.
    card = json.loads(path.read_text(encoding="utf-8"))
    card |= {"format": FORMAT, "interval": dict.fromkeys(("valley", "smeared", "scuffed"), 1.0)}
    path.write_text(json.dumps(card, indent=1, ensure_ascii=False), encoding="utf-8")
    calibration = simulated_fields(given.calibration_fields, CALIBRATION_SEED, held_out=True)
    calibration += known_from_labels(field for folder in given.calibration_labels for field in read_labels(folder))
    card["interval"] = fit_interval(calibration, load_model(given.model))
    result = measure_again(given.model, card, calibration)
    print(card["interval"])
    print(json.dumps(result.summary(), indent=1))


if __name__ == "__main__":
    try:
        main()
    except SemwearError as error:
        sys.exit(str(error))
