"""The words, mask codes, flags and columns of semwear: declared here once, used everywhere.

Tables, documentation and the report are made from these declarations.

Direction convention, everywhere: a direction in a picture is in degrees in [0, 180), 0 along a row (to the right),
growing anticlockwise as seen on the screen, so that 90 is along a column. Arrays are (row, col), row 0 on top.

Stroke: the sliding direction, on a liner the bore's axis. Lay: the direction of a family of hone grooves. Hone angle: the
included angle between the two lays, bisected by the circumference, the direction across the stroke, so that tan(angle / 2) =
axial speed / peripheral speed; the same texture quoted about the bore's axis is 180° minus that. Zone: in-track, where the ring
ran, or out-of-track, never touched.
"""

from dataclasses import dataclass
from enum import IntEnum

VALLEY_DEPTH_UM = 0.5
"""Depth below the local plateau from which a groove counts as an open valley, µm (this project's own limit)."""

REGION_SIZE_UM = 64.0
"""Side of the square region that gets a worn probability, µm."""


class MaskCode(IntEnum):
    """State of a pixel, as stored in mask pictures.

    Plateau: within ``VALLEY_DEPTH_UM`` of the local plateau, finishing and running-in marks included. Open valley: a hone
    groove's ground at least that far below it, between its two rims. Smeared: the footprint of a groove that moved metal has
    closed to within that depth (folds, bridges, burnished caps). Scuffed: torn or ploughed by adhesion, in streaks along the
    stroke. Not assessed: data bar and burnt-in marks, beyond the specimen's edge, charging or clipping that hides the surface,
    debris. Graphite flakes and pull-outs, scratches along the stroke, stains, films, shading and shadows beside debris are
    not open valley.
    """

    PLATEAU = 0
    OPEN_VALLEY = 1
    SMEARED = 2
    SCUFFED = 3
    NOT_ASSESSED = 255


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of a table: its name, type, unit and meaning."""

    name: str
    kind: type
    unit: str
    meaning: str


def _columns(*rows: tuple[str, type, str, str]) -> tuple[Column, ...]:
    return tuple(Column(name=name, kind=kind, unit=unit, meaning=meaning) for name, kind, unit, meaning in rows)


FIELD_COLUMNS = _columns(
    ("file", str, "", "picture, relative path as given"),
    ("sha256", str, "", "checksum of the file: which pixels were measured"),
    ("status", str, "", "measured or refused"),
    ("reason", str, "", "why the field was refused and what to do"),
    ("pixel_size_um", float, "µm", "side of a pixel along a row"),
    ("pixel_size_u_um", float, "µm", "standard uncertainty of the pixel size"),
    ("pixel_size_source", str, "", "file metadata, scale bar or given"),
    ("field_width_um", float, "µm", "width of the assessed picture"),
    ("field_height_um", float, "µm", "height of the assessed picture"),
    ("specimen", str, "", "from the plan"),
    ("zone", str, "", "in-track or out-of-track, from the plan"),
    ("stage", str, "", "before or after the test, from the plan"),
    ("valley_fraction", float, "1", "open valley, share of the assessed area"),
    ("smeared_fraction", float, "1", "smeared, share of the assessed area"),
    ("scuffed_fraction", float, "1", "scuffed, share of the assessed area"),
    ("plateau_fraction", float, "1", "plateau, share of the assessed area"),
    ("not_assessed_fraction", float, "1", "not assessed, share of the micrograph without its data bar"),
    ("worn_score", float, "1", "mean probability that a region is worn"),
    ("worn_fraction", float, "1", "share of regions with probability of being worn >= 0.5"),
    ("hone_angle_deg", float, "°", "included angle between the lays, bisected by the direction across the stroke"),
    ("lay_1_deg", float, "°", "direction of the lay with more groove length, anticlockwise from the picture's rows"),
    ("lay_2_deg", float, "°", "direction of the other lay, anticlockwise from the picture's rows"),
    ("groove_balance", float, "1", "groove length of the weaker lay over that of the stronger"),
    ("groove_length_density_per_mm", float, "mm/mm²", "open groove length per assessed area"),
    ("groove_width_um", float, "µm", "median width of open grooves"),
    ("groove_continuity", float, "1", "open length / (open + smeared) length along the traced grooves"),
    ("valley_retention", float, "1", "valley fraction over the reference's, or groove continuity: see retention_basis"),
    ("valley_retention_low", float, "1", "lower end of the 95 % interval"),
    ("valley_retention_high", float, "1", "upper end of the 95 % interval"),
    ("retention_basis", str, "", "reference, or continuity (an upper bound: valleys worn shallow leave no trace)"),
    ("flags", str, "", "semicolon-separated names from the list of flags"),
    # Beyond the core columns: what comparing like with like and the intervals need.
    ("kv", float, "kV", "accelerating voltage, from the plan or the picture"),
    ("detector", str, "", "detector, from the plan or the picture"),
    ("tilt_deg", float, "°", "tilt of the specimen, from the plan or the picture"),
    ("stroke_deg", float, "°", "stroke direction used, anticlockwise from the picture's rows"),
    ("stroke_source", str, "", "plan, option, or bisector of the lays"),
    ("valley_fraction_low", float, "1", "lower end of the 95 % interval of valley_fraction"),
    ("valley_fraction_high", float, "1", "upper end of the 95 % interval of valley_fraction"),
    ("smeared_fraction_low", float, "1", "lower end of the 95 % interval of smeared_fraction"),
    ("smeared_fraction_high", float, "1", "upper end of the 95 % interval of smeared_fraction"),
    ("scuffed_fraction_low", float, "1", "lower end of the 95 % interval of scuffed_fraction"),
    ("scuffed_fraction_high", float, "1", "upper end of the 95 % interval of scuffed_fraction"),
    ("training_distance", float, "1", "distance from the training fields; above 1 the field is unlike them"),
)

REGION_COLUMNS = _columns(
    ("file", str, "", "picture, relative path as given"),
    ("row_px", float, "px", "row of the region's centre in the picture's own pixels"),
    ("col_px", float, "px", "column of the region's centre in the picture's own pixels"),
    ("size_um", float, "µm", "side of the square region"),
    ("size_px", float, "px", "side of the square region in the picture's own pixels"),
    ("assessed_fraction", float, "1", "share of the region that is assessed"),
    ("worn_probability", float, "1", "probability that the region is worn"),
)

FLAGS: dict[str, str] = {
    "scale disagreement": "two sources of the pixel size differ by more than their uncertainties, by 5 % at most",
    "data bar disagreement": "magnification or voltage printed in the data bar contradicts the metadata",
    "rescaled picture": "the metadata speak of a picture of another width; the pixel size was scaled by the ratio",
    "non-square pixels": "the pixels were not square and the picture was resampled",
    "out of focus": "edges are blurred over more than 0.6 of the narrowest groove asked for",
    "clipped": "a sizeable share of the pixels is black or white clipped",
    "too noisy": "noise is too strong for the contrast of the picture",
    "charging": "bright bands or blooming from charging hide part of the surface",
    "too few grooves": "fewer grooves in the field than the figures need",
    "field too wide": "pixels are too coarse to resolve the grooves",
    "field too narrow": "the field is too small to hold a fair sample of grooves",
    "no lay found": "no hone lay was found; no retention is given",
    "one lay only": "only one lay was found; hone angle and balance are not given",
    "stroke off bisector": "the stated stroke is more than 10° off the bisectors of the two lays; hone angle is not given",
    "stroke from lays": "stroke direction was taken as the bisector of the lays",
    "no reference": "no reference field of the specimen exists; continuity is given as an upper bound",
    "reference unlike field": "reference fields differ in field width or beam setting: left out, unless they were asked for by --mix-settings",
    "reference left out": "a reference field was left out: out of focus, no lay, too much or half seen valley, or unlike the training fields",
    "reference without valleys": "the reference has no valleys, so that a ratio is undefined",
    "more valley than reference": "the field shows clearly more valley than its reference: they may not be one surface",
    "same picture twice": "another file shows the same picture, in whatever format; this one counts in no mean and serves as no reference",
    "more pages": "the file holds more than one page, and only the first was measured",
    "plan disagreement": "voltage, detector or tilt in the plan contradicts the picture",
    "scuffing": "scuffed area is present",
    "valley half seen": "much more valley is half seen than is counted for sure; the valley fraction may be far off",
    "pixel size untested": "the pixel size lies outside 0.1 to 2 µm, for which the network was trained and tested",
    "tilted": "the specimen was tilted by more than 15°: lengths across the axis of tilt look shorter, and the hone angle is off",
    "too much valley": "more than 45 % of the area counts as grooves; scratches shallower than 0.5 µm are probably among them",
    "unlike the training fields": "the picture differs from everything the network was trained on; verdict and intervals withheld",
}
"""Every flag that a row can carry, with its meaning."""


def join_flags(flags) -> str:
    """Return flags as the text of the ``flags`` column, sorted, each once.

    Raises KeyError for a flag that is not on the published list.

    >>> join_flags(["clipped", "charging", "clipped"])
    'charging;clipped'
    """
    unknown = set(flags) - set(FLAGS)
    if unknown:
        raise KeyError(f"not on the published list of flags: {sorted(unknown)}")
    return ";".join(sorted(set(flags)))
