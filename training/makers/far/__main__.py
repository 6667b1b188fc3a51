"""python -m training.makers.far OUT --fields N --seed S"""

import argparse

from .session import write_session


def main():
    parser = argparse.ArgumentParser(description="Write micrographs with known answers.")
    parser.add_argument("out")
    parser.add_argument("--fields", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    write_session(given.out, given.fields, given.seed)


if __name__ == "__main__":
    main()
