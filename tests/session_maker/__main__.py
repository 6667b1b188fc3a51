"""Write a label folder: python -m tests.session_maker OUT --specimens N --seed S."""

import argparse
from pathlib import Path

from tests.session_maker.folder import write_folder


def main() -> None:
    """Read the command line and write the folder."""
    parser = argparse.ArgumentParser(description="Simulated sessions of micrographs of honed, run sections.")
    parser.add_argument("out", type=Path, help="folder to write")
    parser.add_argument("--specimens", type=int, default=16, help="number of specimens, six pictures each")
    parser.add_argument("--seed", type=int, default=1, help="same seed, same files")
    asked = parser.parse_args()
    write_folder(asked.out, asked.specimens, asked.seed)


if __name__ == "__main__":
    main()
