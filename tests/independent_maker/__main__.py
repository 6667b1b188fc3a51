"""``python -m tests.independent_maker OUT --fields N --seed S [--size 1280x960] [--style STYLE]``."""

import argparse

from .folder import write_set
from .scene import STYLES


def _size(text: str) -> tuple[int, int]:
    width, height = (int(part) for part in text.lower().split("x"))
    if not (256 <= width <= 4096 and 256 <= height <= 4096):
        raise argparse.ArgumentTypeError("width and height must be 256 to 4096 px")
    return width, height


def main() -> None:
    parser = argparse.ArgumentParser(prog="independent_maker", description=__doc__)
    parser.add_argument("out")
    parser.add_argument("--fields", type=int, default=12)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--size", type=_size, default=None)
    parser.add_argument("--style", choices=STYLES, default=None)
    given = parser.parse_args()
    rows = write_set(given.out, fields=given.fields, seed=given.seed, style=given.style, size=given.size)
    for row in rows:
        print(row["file"], row["style"], row["zone"], "valley", row["valley_fraction"], "smeared", row["smeared_fraction"])


if __name__ == "__main__":
    main()
