"""Command line: ``python -m tests.bearing_maker OUT --fields N --seed S``."""

import argparse
from pathlib import Path

from .folder import make_folder

parser = argparse.ArgumentParser(description="Write a label folder of simulated micrographs of honed, run ground.")
parser.add_argument("out", type=Path)
parser.add_argument("--fields", type=int, default=16)
parser.add_argument("--seed", type=int, default=0)
options = parser.parse_args()
make_folder(options.out, options.fields, options.seed)
