"""Command line: ``python -m tests.remote_maker OUT --fields N --seed S``."""

import argparse
from pathlib import Path

import cv2

from .label_folder import make_folder


def main() -> None:
    """Read the arguments and write the folder; one thread, so that the same seed gives the same bytes."""
    parser = argparse.ArgumentParser(prog="python -m tests.remote_maker", description=__doc__)
    parser.add_argument("out", type=Path, help="label folder to write")
    parser.add_argument("--fields", type=int, default=40, help="number of pictures")
    parser.add_argument("--seed", type=int, default=1, help="the same seed gives the same folder")
    given = parser.parse_args()
    cv2.setNumThreads(1)
    make_folder(given.out, given.fields, given.seed)


if __name__ == "__main__":
    main()
