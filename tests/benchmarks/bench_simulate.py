"""Time of simulated fields on one core; run with `python tests/benchmarks/bench_simulate.py [FIELDS]`."""

import sys
import time

import cv2
import numpy as np

from semwear.simulate import RENDERERS, simulate_field


def main(count: int) -> None:
    """Print the mean and largest processor time of a field by size, and by renderer at the smaller size."""
    cv2.setNumThreads(1)
    simulate_field(0, shape=(384, 384))
    for shape, number in (((384, 384), count), ((960, 1280), max(count // 8, 3))):
        seconds = []
        for seed in range(number):
            start = time.process_time()
            simulate_field(seed, shape=shape)
            seconds.append(time.process_time() - start)
        print(
            f"{shape[0]} x {shape[1]}: mean {np.mean(seconds):.3f} s, largest {np.max(seconds):.3f} s, {number} fields"
        )
    for renderer in RENDERERS:
        start = time.process_time()
        for seed in range(count // 2):
            simulate_field(seed, shape=(384, 384), renderer=renderer)
        print(f"{renderer}: mean {(time.process_time() - start) / (count // 2):.3f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
