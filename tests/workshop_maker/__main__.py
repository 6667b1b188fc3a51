"""Command line: ``python -m tests.workshop_maker OUT --fields N --seed S``."""

import argparse
from pathlib import Path

from .write import write_folder


def main() -> None:
    parser = argparse.ArgumentParser(prog="tests.workshop_maker", description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("--fields", type=int, default=16)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    write_folder(chosen.out, chosen.fields, chosen.seed)


if __name__ == "__main__":
    main()
