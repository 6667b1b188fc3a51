"""Time from file to row and mask for full-size fields, scale reading included, on one core.

    python tests/benchmarks/time_per_field.py [--fields 8] [--seed 5] [--geometry-only]

Simulates fields of 960 × 1280 px into a temporary folder, measures one to load what has to be loaded once, then times the
others one by one. The aim is 1.5 s a field on average.
"""

import argparse
import os
import tempfile
import time
from pathlib import Path

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

import cv2  # noqa: E402 - after the limits on threads
import numpy as np  # noqa: E402

from semwear.pipeline import Settings, measure_file  # noqa: E402
from semwear.read import find_pictures  # noqa: E402
from semwear.results import write_mask  # noqa: E402
from semwear.simulate.session import simulate_session  # noqa: E402

AIM_S = 1.5


def main() -> None:
    """Print the time of every field and the mean."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--fields", type=int, default=8)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--geometry-only", action="store_true")
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    settings = Settings(geometry_only=chosen.geometry_only)
    with tempfile.TemporaryDirectory() as folder:
        session = Path(folder) / "session"
        simulate_session(session, chosen.fields + 1, chosen.seed)
        first, *others = (path for path, _ in find_pictures([session / "pictures"]))
        measure_file(first, settings=settings)
        seconds, processor_s = [], time.process_time()
        for path in others:
            started = time.perf_counter()
            result = measure_file(path, settings=settings)
            if result.measured:
                write_mask(Path(folder) / "masks" / f"{path.stem}.png", result.codes)
            seconds.append(time.perf_counter() - started)
            print(f"{path.name}: {result.row['status']} in {seconds[-1]:.2f} s")
        processor_s = (time.process_time() - processor_s) / len(others)
    mean_s = float(np.mean(seconds))
    verdict = "within" if mean_s <= AIM_S else "beyond"
    print(f"mean {mean_s:.2f} s a field ({processor_s:.2f} s of processor time), {verdict} the aim of {AIM_S} s")


if __name__ == "__main__":
    main()
