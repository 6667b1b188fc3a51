"""Simulated height maps of one specimen: in the track and out of it, and one that reaches across the whole track.

The heights are those of the simulated surface. An optical instrument adds noise and loses points on steep walls, which
both are put in; the bore's curvature and a tilt of the fixture are added as form.
"""

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from semwear.simulate.scene import SimulatedField, simulate_field

BORE_RADIUS_MM = 60.0
NOISE_UM = 0.02
STEEPEST_DEG = 35.0
"""Slope from which the instrument loses points here (an invented instrument)."""


@dataclass(frozen=True, kw_only=True)
class SimulatedHeights:
    """One simulated map: heights (rows, cols) float64 µm with NaN for lost points, the step, and the true figures.

    ``worn_volume_mm3`` is what was worn off inside the map, nan where the map shows one zone only.
    """

    heights_um: np.ndarray
    pixel_size_um: float
    worn_volume_mm3: float
    valley_fraction: float


def measured_heights(
    field: SimulatedField, seed: int, *, coarser: int = 1, tilt_um_per_mm: float = 1.5
) -> SimulatedHeights:
    """Return a simulated field as an optical instrument would give it, with form, noise and lost points.

    ``coarser``: points of the field averaged to one along each side. The bore curves across the field's stroke. The same
    field and seed give the same map.
    """
    rng = np.random.default_rng((seed, 31))
    rows, cols = (side // coarser for side in field.height_um.shape)
    blocks = field.height_um[: rows * coarser, : cols * coarser].astype(float).reshape(rows, coarser, cols, coarser)
    step_um = field.pixel_size_um * coarser
    return SimulatedHeights(
        heights_um=_instrument(rng, blocks.mean(axis=(1, 3)), step_um, field.stroke_deg, tilt_um_per_mm),
        pixel_size_um=step_um, worn_volume_mm3=math.nan,
        valley_fraction=float(field.facts["valley_fraction"]),
    )  # fmt: skip


def heights_across_track(
    seed: int,
    *,
    family: str = "plateaued",
    depth_um: float = 1.0,
    shape: tuple[int, int] = (240, 480),
    pixel_size_um: float = 2.5,
    hone_angle_deg: float = 46.0,
) -> SimulatedHeights:
    """Return a map across a whole track of parabolic section; the stroke runs along the columns.

    The ring wore off ``depth_um`` in the middle of the track, which spans half of the map's width: the true volume is
    known exactly, grooves and all, since material is taken evenly from whatever height there was.
    """
    rng = np.random.default_rng((seed, 32))
    field = simulate_field(
        np.random.default_rng((seed, 33)), family=family, renderer="slope", pixel_size_um=pixel_size_um, shape=shape,
        worn=False, severity=0.3, scuffed=False, stroke_deg=90.0, hone_angle_deg=hone_angle_deg, tilt_deg=0.0, bits=8,
    )  # fmt: skip
    across = (np.arange(shape[1]) - 0.5 * (shape[1] - 1)) * pixel_size_um
    half = 0.25 * shape[1] * pixel_size_um
    worn = np.broadcast_to(depth_um * np.clip(1 - np.square(across / half), 0, None), shape)
    return SimulatedHeights(
        heights_um=_instrument(rng, field.height_um.astype(float) - worn, pixel_size_um, 90.0, 1.5),
        pixel_size_um=pixel_size_um, worn_volume_mm3=float(worn.sum()) * pixel_size_um**2 * 1e-9,
        valley_fraction=float(field.facts["valley_fraction"]),
    )  # fmt: skip


def write_height_pair(
    out: Path, specimen: str, in_track: SimulatedField, out_of_track: SimulatedField, seed: int, *, coarser: int = 2
) -> dict[str, SimulatedHeights]:
    """Write SPECIMEN_in-track.x3p and SPECIMEN_out-of-track.x3p into a folder, and return the maps by file name.

    The maps show the very surfaces of the two fields, so that valley share by height can be set against the micrographs.
    """
    out.mkdir(parents=True, exist_ok=True)
    made = {}
    for place, (zone, field) in enumerate((("in-track", in_track), ("out-of-track", out_of_track))):
        name = f"{specimen}_{zone}.x3p"
        made[name] = measured_heights(field, 2 * seed + place, coarser=coarser)
        write_heights(out / name, made[name], comment="simulated surface, no measurement")
    return made


def _instrument(rng, heights_um: np.ndarray, step_um: float, stroke_deg: float, tilt_um_per_mm: float) -> np.ndarray:
    """Return the heights with bore form, tilt, noise and lost points."""
    rows, cols = heights_um.shape
    down, along = np.meshgrid((np.arange(rows) - rows / 2) * step_um, (np.arange(cols) - cols / 2) * step_um, indexing="ij")
    turn = math.radians(stroke_deg)
    across = along * math.sin(turn) + down * math.cos(turn)
    form = np.square(across) / (2000 * BORE_RADIUS_MM) + 1e-3 * tilt_um_per_mm * (along + 0.6 * down)
    slope_down, slope_along = np.gradient(heights_um, step_um)
    steep = np.hypot(slope_down, slope_along) > math.tan(math.radians(STEEPEST_DEG))
    lost = (steep & (rng.random(heights_um.shape) < 0.7)) | (rng.random(heights_um.shape) < 0.001)
    return np.where(lost, np.nan, heights_um + form + rng.normal(0, NOISE_UM, heights_um.shape))


def write_heights(path: Path, simulated: SimulatedHeights, *, comment: str = "simulated") -> None:
    """Write a map as ISO 25178-72 (.x3p); heights are stored as whole nanometres, 32 µm up and down at most."""
    from datetime import UTC, datetime

    import x3pio

    step_m = simulated.pixel_size_um * 1e-6
    metadata = x3pio.Metadata(
        date=datetime(2026, 1, 1, tzinfo=UTC), creator="simulated",
        instrument=x3pio.Instrument("simulated", "simulated", "", ""),
        probing_system=x3pio.ProbingSystem(x3pio.ProbingType.SOFTWARE, "simulated surface"), comment=comment,
    )  # fmt: skip
    x3pio.write(
        path, simulated.heights_um * 1e-6, x_scale=step_m, y_scale=step_m, metadata=metadata,
        z_type=x3pio.DataType.INT16, z_scale=1e-9,
    )  # fmt: skip
