"""Command line: python -m training.makers.away OUT --fields N --seed S."""

import argparse
from pathlib import Path

from .session import write_session

parser = argparse.ArgumentParser(description=__doc__)
parser.add_argument("out", type=Path)
parser.add_argument("--fields", type=int, default=24)
parser.add_argument("--seed", type=int, default=0)
if __name__ == "__main__":
    given = parser.parse_args()
    write_session(given.out, given.fields, given.seed)
