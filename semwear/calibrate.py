"""One pixel size out of what is given, what the metadata state and what the scale bar shows, or a refusal.

The order is given → file metadata → scale bar. Where two exist they must agree within their uncertainties, or the field
is flagged; past 5 % it is refused: an unknown or contradicted scale is never guessed.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from semwear.errors import ScaleError
from semwear.metadata_scale import StatedFacts, agree, facts_from_metadata
from semwear.metadata_scale.facts import CALIBRATION_RELATIVE_U, CONTRADICTION
from semwear.read import Micrograph

if TYPE_CHECKING:
    from semwear.data_bar import DataBar

PLAUSIBLE_UM = (1e-4, 20.0)
"""Pixel sizes that a scanning electron micrograph can have, µm; which of them can be measured is for prepare to say."""

SQUARE_WITHIN = 0.005
"""Pixels count as square when height over width differs from 1 by less: 0.5 % of a length, the spread of scales."""

ASPECT_LIMITS = (0.7, 1.4)
"""Height over width of pixels that are resampled; outside it the statement is more likely wrong than the pixels."""

BEAM_TOLERANCE = 0.02
"""Relative difference of voltages or magnifications that printing and rounding explain."""


@dataclass(frozen=True, kw_only=True)
class Calibration:
    """The scale of a micrograph and what is known about its beam.

    ``pixel_size_um``: side of a pixel along a row; ``pixel_height_um``: along a column; ``pixel_size_u_um``: standard
    uncertainty by reading and rounding (how well the microscope was calibrated is not part of it);
    ``pixel_size_source``: ``given``, ``file metadata`` or ``scale bar``; ``bar_label`` and ``bar_px``: the scale bar as
    read, "" and nan when none was; ``kv``, ``detector``, ``tilt_deg``: nan or "" when not known.
    """

    pixel_size_um: float
    pixel_size_u_um: float
    pixel_size_source: str
    pixel_height_um: float
    bar_label: str
    bar_px: float
    kv: float
    detector: str
    tilt_deg: float
    flags: tuple[str, ...]
    data_bar: "DataBar"

    @property
    def is_square(self) -> bool:
        """Whether the pixels are square within SQUARE_WITHIN."""
        return abs(self.pixel_height_um / self.pixel_size_um - 1.0) < SQUARE_WITHIN


@dataclass(frozen=True, kw_only=True)
class _Source:
    """One source of the pixel size: its published name, value, standard uncertainty and words for messages."""

    name: str
    um: float
    u_um: float
    words: str


def calibrate(micrograph: Micrograph, *, given_pixel_size_um: float | None = None) -> Calibration:
    """Return the calibration of a micrograph.

    ``given_pixel_size_um`` is the user's or the plan's; it is still held against metadata and bar. Raises ScaleError when
    there is no scale, when sources differ by more than 5 %, or when the scale is impossible.
    """
    from semwear.data_bar import read_data_bar

    if given_pixel_size_um is not None and not (math.isfinite(given_pixel_size_um) and given_pixel_size_um > 0):
        raise ScaleError(f"{micrograph.file}: the given pixel size is {given_pixel_size_um}; give a positive number of µm.")
    stated = facts_from_metadata(micrograph)
    data_bar = read_data_bar(micrograph)
    return combine(micrograph, stated, data_bar, given_pixel_size_um=given_pixel_size_um)


def combine(micrograph: Micrograph, stated: StatedFacts, data_bar: "DataBar", *,
            given_pixel_size_um: float | None = None) -> Calibration:
    """Return the calibration from metadata and data bar that are read already; raises ScaleError as calibrate does."""
    flags: set[str] = set()
    sources = _sources(stated, data_bar, given_pixel_size_um)
    if not sources:
        because = "; ".join(filter(None, (stated.reason, data_bar.reason)))
        raise ScaleError(f"{micrograph.file}: the scale is unknown: {because}; give the pixel size in the plan's "
                         "column pixel_size_um, or by --pixel-size-um where all pictures have the same.")
    chosen = sources[0]
    for other in sources[1:]:
        if abs(other.um / chosen.um - 1.0) > CONTRADICTION:
            raise ScaleError(f"{micrograph.file}: the scales contradict each other: {chosen.words}, but {other.words}; find "
                             "out which is right and correct the other, or leave the field out.")
        if not agree(chosen.um, chosen.u_um, other.um, other.u_um):
            flags.add("scale disagreement")
    flags |= _unsettled_metadata(micrograph, stated, chosen) | _contradicted_bar(micrograph, data_bar, chosen)
    low, high = PLAUSIBLE_UM
    if not low <= chosen.um <= high:
        raise ScaleError(f"{micrograph.file}: {chosen.words}, outside {low:g} to {high:g} µm that an electron micrograph can "
                         "have; give the right pixel size.")
    aspect = pixel_aspect(micrograph, stated)
    if abs(aspect - 1.0) >= SQUARE_WITHIN:
        if not ASPECT_LIMITS[0] <= aspect <= ASPECT_LIMITS[1]:
            raise ScaleError(f"{micrograph.file}: the file says that its pixels are {aspect:.3g} times as high as wide; "
                             "export the picture with square pixels.")
        flags.add("non-square pixels")
    else:
        aspect = 1.0
    if stated.rescaled:
        flags.add("rescaled picture")
    flags |= _data_bar_disagreement(stated, data_bar, chosen, micrograph.pixels.shape[1])
    return Calibration(
        pixel_size_um=chosen.um, pixel_size_u_um=chosen.u_um, pixel_size_source=chosen.name,
        pixel_height_um=chosen.um * aspect, bar_label=data_bar.bar_label, bar_px=data_bar.bar_px,
        kv=stated.kv if math.isfinite(stated.kv) else data_bar.kv, detector=stated.detector or data_bar.detector,
        tilt_deg=stated.tilt_deg, flags=tuple(sorted(flags)), data_bar=data_bar,
    )


def _sources(stated: StatedFacts, data_bar: "DataBar", given_um: float | None) -> list[_Source]:
    """Return the sources of the pixel size that exist, in the order in which they are believed."""
    found = []
    if given_um is not None:
        found.append(_Source(name="given", um=given_um, u_um=given_um * CALIBRATION_RELATIVE_U,
                             words=f"the given pixel size is {given_um:.4g} µm"))
    if stated.pixel_size_um is not None:
        found.append(_Source(name="file metadata", um=stated.pixel_size_um, u_um=stated.pixel_size_u_um,
                             words=f"the file metadata state {stated.pixel_size_um:.4g} µm ({stated.source_text})"))
    if not data_bar.reason and data_bar.bar_px > 0 and data_bar.bar_um > 0:
        um = data_bar.bar_um / data_bar.bar_px
        found.append(_Source(name="scale bar", um=um, u_um=um * data_bar.bar_u_px / data_bar.bar_px,
                             words=f"the scale bar gives {um:.4g} µm ({data_bar.bar_label} over {data_bar.bar_px:.1f} px)"))
    return found


def _unsettled_metadata(micrograph: Micrograph, stated: StatedFacts, chosen: _Source) -> set[str]:
    """Hold metadata that could not be settled by themselves against the chosen scale; raises ScaleError.

    Metadata that contradict themselves, or speak of a picture of another width, must still hold one statement that the
    chosen scale bears out: as it stands (a crop), or scaled by the ratio of the widths.
    """
    if stated.pixel_size_um is not None or not stated.candidates:
        return {"scale disagreement"} if stated.disagreement else set()
    columns = micrograph.pixels.shape[1]
    possible = [one.um for one in stated.candidates]
    possible += [one.um * one.columns_px / columns for one in stated.candidates if one.columns_px]
    if all(abs(um / chosen.um - 1.0) > CONTRADICTION for um in possible):
        raise ScaleError(f"{micrograph.file}: {chosen.words}, but no statement in the file agrees: {stated.reason}; find out "
                         "which is right.")
    return {"scale disagreement"} if stated.disagreement else set()


def _contradicted_bar(micrograph: Micrograph, data_bar: "DataBar", chosen: _Source) -> set[str]:
    """Hold a scale bar that another bar contradicts against the chosen scale, which must bear it out; raises ScaleError."""
    if math.isnan(data_bar.contradicted_um):
        return set()
    if abs(data_bar.contradicted_um / chosen.um - 1.0) > CONTRADICTION:
        raise ScaleError(f"{micrograph.file}: {chosen.words}, but the scale bar doesn't agree: {data_bar.reason}; find out "
                         "which is right.")
    return {"scale disagreement"}


def pixel_aspect(micrograph: Micrograph, stated: StatedFacts) -> float:
    """Return height over width of a pixel: by the metadata, else by the file's densities, else 1."""
    if stated.pixel_size_um is not None and stated.pixel_height_um is not None:
        return stated.pixel_height_um / stated.pixel_size_um
    return micrograph.pixel_aspect or 1.0


def _data_bar_disagreement(stated: StatedFacts, data_bar: "DataBar", chosen: _Source, columns: int) -> set[str]:
    """Return the flag for a data bar whose printed voltage, magnification, pixel size or field width contradicts."""
    pairs = [(stated.kv, data_bar.kv, BEAM_TOLERANCE), (stated.magnification, data_bar.magnification, BEAM_TOLERANCE),
             (chosen.um, data_bar.printed_pixel_size_um, CONTRADICTION),
             (chosen.um * columns, data_bar.printed_field_width_um, CONTRADICTION)]
    differ = any(math.isfinite(first) and math.isfinite(second) and abs(second - first) > limit * first
                 for first, second, limit in pairs)
    return {"data bar disagreement"} if differ else set()
