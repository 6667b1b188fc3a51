"""``python -m training.makers.other OUT --fields N --seed S``: pictures, masks/, truth.csv, plan.csv and retention.csv."""

import argparse

from .folder import write_set


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out")
    parser.add_argument("--fields", type=int, default=12)
    parser.add_argument("--seed", type=int, default=0)
    given = parser.parse_args()
    for row in write_set(given.out, fields=given.fields, seed=given.seed):
        print(
            row["file"],
            row["layout"],
            row["zone"],
            "valley",
            row["valley_fraction"],
            "smeared",
            row["smeared_fraction"],
        )


if __name__ == "__main__":
    main()
