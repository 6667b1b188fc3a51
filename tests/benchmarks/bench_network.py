"""Network plus geometry beside a general-purpose network on the same 1280 × 960 picture, in one run.

    python tests/benchmarks/bench_network.py [--threads 2] [--repeats 9]

Ours: from the prepared field to states on the picture's own grid, regions, lays and traced grooves, at a working pixel
size equal to the picture's. Theirs: the bare forward pass of torchvision's lraspp_mobilenet_v3_large. The runs take
turns, so that a change of the machine's speed meets both; medians and the median of the ratios are printed.
"""

import argparse
import sys
import time
from pathlib import Path

import cv2
import numpy as np
import torch
from torchvision.models.segmentation import lraspp_mobilenet_v3_large

from semwear.model import load_model
from semwear.pipeline import segment
from semwear.simulate import simulate_field

sys.path.insert(0, str(Path(__file__).parents[2] / "training"))
from samples import prepared_array  # noqa: E402


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--threads", type=int, default=2)
    parser.add_argument("--repeats", type=int, default=9)
    given = parser.parse_args()
    torch.set_num_threads(given.threads)
    cv2.setNumThreads(given.threads)
    model = load_model()
    field = simulate_field(11, shape=(960, 1280), pixel_size_um=0.5, worn=True, family="plateaued")
    prepared = prepared_array(field.image, 0.5)
    peer = lraspp_mobilenet_v3_large(weights=None, weights_backbone=None, num_classes=4).eval()
    picture = torch.rand(1, 3, 960, 1280)

    def ours() -> None:
        segment(prepared, model=model)

    def theirs() -> None:
        with torch.inference_mode():
            peer(picture)

    times = {"ours": [], "theirs": []}
    for repeat in range(given.repeats + 1):
        for name, run in (("ours", ours), ("theirs", theirs)):
            started = time.perf_counter()
            run()
            if repeat:
                times[name].append(time.perf_counter() - started)
    for name, values in times.items():
        print(f"{name}: median {np.median(values):.3f} s, least {min(values):.3f} s, most {max(values):.3f} s")
    print(f"ours / theirs: median {np.median(np.divide(times['ours'], times['theirs'])):.2f}")


if __name__ == "__main__":
    main()
