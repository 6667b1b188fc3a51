"""Write a label folder of simulated micrographs: ``python -m tests.reserve_maker OUT --fields N --seed S``."""

import argparse
from pathlib import Path

import cv2

from tests.reserve_maker.folder import make_folder


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.reserve_maker", description=__doc__)
    parser.add_argument("out", type=Path, help="folder to write; made if it isn't there")
    parser.add_argument("--fields", type=int, default=8, help="number of pictures; four a specimen")
    parser.add_argument("--seed", type=int, default=0, help="the same seed gives the same files")
    options = parser.parse_args()
    cv2.setNumThreads(1)
    make_folder(options.out, fields=options.fields, seed=options.seed)


if __name__ == "__main__":
    main()
