"""Write a label folder: python -m tests.leading_maker OUT --fields N --seed S."""

import argparse
from pathlib import Path

from tests.leading_maker.folder import write_folder


def main() -> None:
    """Read the command line and write the folder."""
    parser = argparse.ArgumentParser(description="Simulated micrographs of honed, run sections, one signal leading.")
    parser.add_argument("out", type=Path, help="folder to write")
    parser.add_argument("--fields", type=int, default=40, help="number of pictures, four to a specimen")
    parser.add_argument("--seed", type=int, default=1, help="same seed, same files")
    asked = parser.parse_args()
    write_folder(asked.out, asked.fields, asked.seed)


if __name__ == "__main__":
    main()
