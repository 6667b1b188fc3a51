"""Small fields drawn for the tests of whole runs: two lays of dark grooves with bright rims on a noisy plateau."""

from pathlib import Path

import numpy as np
import tifffile


def drawn_field(seed: int, *, shape=(360, 480), pixel_size_um=0.8, lays_deg=(22.0, 158.0), closed_share=0.0):
    """Return a drawn field, (rows, cols) uint8: grooves of 7 to 12 µm every 45 µm or so along each lay.

    ``closed_share`` of every groove's length is left out in pieces, as if metal had been moved over it.
    """
    generator = np.random.default_rng(seed)
    row, col = np.mgrid[: shape[0], : shape[1]].astype(float)
    right_um, up_um = (col - shape[1] / 2) * pixel_size_um, -(row - shape[0] / 2) * pixel_size_um
    reach_um = float(np.hypot(*shape)) * pixel_size_um / 2
    picture = np.full(shape, 132.0)
    for lay_deg in lays_deg:
        lay = np.deg2rad(lay_deg)
        along_um = right_um * np.cos(lay) + up_um * np.sin(lay)
        across_um = -right_um * np.sin(lay) + up_um * np.cos(lay)
        for middle_um in np.arange(-reach_um, reach_um, 45.0) + generator.uniform(-12, 12):
            half_um = generator.uniform(3.5, 6.0)
            distance_um = np.abs(across_um - middle_um)
            piece = np.floor((along_um + generator.uniform(0, 60)) / 60).astype(int)
            closed = generator.random(200)[piece % 200] < closed_share
            picture[(distance_um < half_um) & ~closed] = 78
            picture[(np.abs(distance_um - half_um) < 0.8) & ~closed] = 196
    return np.clip(picture + generator.normal(0, 7, shape), 0, 255).astype(np.uint8)


def write_session(folder: Path, *, fields: int = 2) -> Path:
    """Write a session of one specimen, in and out of the track, with its plan; return the plan's path."""
    lines = ["file,specimen,zone,pixel_size_um,kv"]
    for zone, closed in (("in-track", 0.5), ("out-of-track", 0.0)):
        (folder / zone).mkdir(parents=True, exist_ok=True)
        for number in range(fields):
            picture = drawn_field(10 * number + int(10 * closed), closed_share=closed)
            tifffile.imwrite(folder / zone / f"{number}.tif", picture)
            lines.append(f"{zone}/{number}.tif,S1,{zone},0.8,10")
    plan = folder / "plan.csv"
    plan.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return plan
