"""Statements about the pixel size in the entries and resolution tags of a picture.

Every statement becomes a Candidate; which of them count is decided in :mod:`semwear.metadata_scale.facts`.

A number without a unit is taken as metres, the unit of the SI, only when nothing else makes sense: a pixel between
``PLAUSIBLE_UM`` in metres while the same number in millimetres, micrometres or nanometres would not be; or, where
millimetres would also do, another number in the same text that can only be SI (a voltage above 100, a working distance
of a fraction of a metre). With a stated magnification the unit is the one that makes the magnified field as large as a
screen or print (``DISPLAY_UM``): the units lie a factor of a thousand apart, display widths a factor of 25.
"""

import math
import re
from dataclasses import dataclass

from semwear.metadata_scale.entries import Entry
from semwear.metadata_scale.lengths import NUMBER, Quantity, number, plain_micro, quantities, rounding_u, unit_um

PLAUSIBLE_UM = (0.001, 20.0)
"""Pixel sizes that a statement without a unit may mean, µm."""

DISPLAY_UM = (0.04e6, 1.0e6)
"""Width of a magnified field on the screen or print that magnification refers to: 4 cm to 1 m, in µm (common practice;
conventions differ between instruments, so nothing finer is assumed)."""

TAG_LIMITS_UM = (0.0001, 20.0)
"""Pixel sizes that a resolution tag may mean for a specimen, µm; print densities give far larger ones."""

PRINT_DENSITIES_PER_INCH = (
    25, 50, 60, 72, 75, 90, 96, 100, 120, 144, 150, 180, 200, 220, 240, 250, 256, 266, 300, 350, 360, 400, 450, 480, 500,
    600, 720, 800, 900, 1000, 1200, 1440, 1800, 2000, 2400, 2540, 2700, 2880, 3000, 3200, 3600, 4000, 4800, 5400, 6400,
    7200, 9600, 12800,
)
"""Usual densities of screens, prints and scanners, per inch (common practice, no source)."""

_PREFIX = r"(?:image|picture|sem|micrograph|field|scan|beam|specimen|sample|real|physical|calibrated|effective)?"
_PIXEL_X = re.compile(
    _PREFIX + r"(?:(?:x|h|hor|horizontal|lateral)?(?:pixel|px|pix)(?:size|width|spacing|pitch|dimensions?|length)"
    r"(?:x|h|hor|horizontal|width|xy)?|(?:pixelsize|pixel|scale)perpixelx?|physicalsizex|(?:size|width)perpixel|"
    r"(?:um|microns?|micrometers?|micrometres?|nm|nanometers?|nanometres?)perpixel|mpp|mppx|scalingx|"
    r"(?:image|pixel|picture)scale|scale)")
_PIXEL_Y = re.compile(
    _PREFIX + r"(?:(?:y|v|ver|vert|vertical)(?:pixel|px|pix)(?:size|height|spacing|pitch)|"
    r"(?:pixel|px|pix)(?:height|(?:size|spacing|pitch)(?:y|v|ver|vertical|height))|physicalsizey|mppy|scalingy)")
_FIELD_X = re.compile(
    _PREFIX + r"(?:h|hor|horz|horizontal|x)?(?:fieldwidth|fieldsize|fieldsizex|fieldofview|fieldofviewx|fieldofviewwidth|fov|"
    r"fovx|viewfield|viewfieldx|hfw|hfov|imagewidth|scanwidth|scansizex)(?:x|h|hor|horizontal)?")
_NOT_FIELD = ("fieldsize", "fieldsizey")
_PIXELS_X = re.compile(
    _PREFIX + r"(?:imagewidth|resolutionx|imageresolutionx|xresolution|width|sizex|pixelsx|xpixels|datasize|imagesize|size|"
    r"storeresolution|fullsize|imageresolution|resolution|columns|cols|samplesperline|pixelsperline|imagepixels|widthpx|"
    r"widthpixels|imagewidthpx|framesize|scansize)")
_UNITS = re.compile(_PREFIX + r"(?:pixelsize|pixel|scale|length|spatial)?(?:x)?units?")
_BAR_LABEL = re.compile(r"(?:image)?(?:micronmarker|scalebar(?:label|size|length)?|micronbar(?:label|length)|barlabel)")
_BAR_PX = re.compile(r"(?:image)?(?:micronbar|scalebar(?:px|pixels|lengthpx|widthpx)|barpx|barpixels)(?:px|pixels)?")
_MAGNIFICATION = re.compile(_PREFIX + r"(?:mag|magnification|indicatedmag(?:nification)?)")

_PHRASES = (
    (re.compile(rf"(?<![\w.])({NUMBER}) ?([a-zA-ZåÅ]+) ?(?:/|per) ?(?:px|pix|pixels?)\b", re.I), "per pixel"),
    (re.compile(rf"(?<![\w.])({NUMBER}) ?(?:px|pix|pixels?) ?(?:/|per) ?([a-zA-ZåÅ]+)\b", re.I), "per length"),
    (re.compile(rf"(?<![\w.])({NUMBER}) ?(?:px|pix|pixels?) ?(?:=|is|equals) ?({NUMBER}) ?([a-zA-ZåÅ]+)\b", re.I),
     "pixels are"),
    (re.compile(rf"(?<![\w.])({NUMBER}) ?([a-zA-ZåÅ]+) ?(?:=|is|equals) ?({NUMBER}) ?(?:px|pix|pixels?)\b", re.I),
     "length is"),
    (re.compile(rf"\b(?:pixel|px) ?(?:size|width|spacing|pitch) (?:(?:is|of|was) )?({NUMBER}) ?([a-zA-ZåÅ]+)\b(?! ?[x×*])", re.I),
     "per pixel"),
    (re.compile(rf"\b(?:hfw|hfov|fov|(?:field|image|scan) width|field of view) (?:(?:is|of|was) )?({NUMBER}) ?([a-zA-ZåÅ]+)\b"
                r"(?! ?[x×*])", re.I), "per field"),
)
"""A length per pixel, pixels per length, "20 px = 5 µm", "5 µm = 20 px", "pixel size 0.2 µm" and "field width 300 µm", anywhere
in a text."""


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """One statement about the pixel size.

    ``um``: size along a row; ``height_um``: along a column, None when not stated; ``relative_u``: relative standard
    uncertainty by the rounding of the written number; ``statement``: the words as they stand; ``columns_px``: the width
    in pixels that the same text gives for its picture, None when it gives none; ``rows_px`` likewise.
    """

    um: float
    height_um: float | None
    relative_u: float
    statement: str
    columns_px: int | None = None
    rows_px: int | None = None


def candidates_of(entries: list[Entry], columns_px: int) -> list[Candidate]:
    """Return the candidates in the entries of ONE text about a picture of ``columns_px`` columns."""
    if not entries:
        return []
    stated = _stated_pixels(entries)
    columns = stated[0] if stated else None
    settled = _Unitless(entries, columns or columns_px)
    found: list[Candidate] = []
    heights = [length for entry in entries if _PIXEL_Y.fullmatch(entry.name) or _PIXEL_Y.fullmatch(entry.long_name)
               for length in settled.lengths(entry, field=False)]
    for entry in entries:
        names = (entry.name, entry.long_name)
        if any(map(_PIXEL_X.fullmatch, names)):
            found += _pixel_candidates(entry, settled, heights, stated)
        elif any(name not in _NOT_FIELD and _FIELD_X.fullmatch(name) for name in names):
            for um, relative_u in settled.lengths(entry, field=True)[:1]:
                found.append(_candidate(entry, um / (columns or columns_px), None, relative_u, stated))
    return found + _bar_candidates(entries, stated)


def _pixel_candidates(entry: Entry, settled: "_Unitless", heights: list, stated) -> list[Candidate]:
    """Candidates of an entry whose key speaks of a pixel's size, or of a scale per pixel."""
    if re.fullmatch(r".*scale", entry.name) and not re.search(r"(?i)(/|per|=)\s*(px|pix|pixel|[\d.]+)", entry.value):
        return []
    if re.search(r"(?i)(?:px|pix|pixels?)\s*(?:/|per)\s*", entry.value):
        return []  # pixels per length: a phrase, read apart
    lengths = settled.lengths(entry, field=False)
    if not lengths:
        return []
    um, relative_u = lengths[0]
    height = lengths[1][0] if len(lengths) > 1 else heights[0][0] if heights else None
    return [_candidate(entry, um, height, relative_u, stated)]


def _candidate(entry: Entry, um: float, height: float | None, relative_u: float, stated) -> Candidate:
    unit = f" {entry.unit}" if entry.unit and not re.search(r"[A-Za-zµμÅ]\s*$", entry.value) else ""
    return Candidate(um=um, height_um=height, relative_u=relative_u, columns_px=stated[0] if stated else None,
                     rows_px=stated[1] if stated else None,
                     statement=f"{entry.source}: {entry.key.strip()} = {entry.value.strip()[:60]}{unit}")


def _stated_pixels(entries: list[Entry]) -> tuple[int, int | None] | None:
    """Return the (columns, rows) in pixels that a text gives for its picture; None when it gives none, or several."""
    found: set[tuple[int, int | None]] = set()
    rows: set[int] = set()
    for entry in entries:
        if entry.unit and unit_um(entry.unit):
            continue
        whole = re.fullmatch(r"\(?(\d{2,6})(?:\s*(?:px|pixels)?\s*[*x×, ]\s*(\d{2,6}))?\s*(?:px|pixels)?\)?", entry.value)
        if not whole:
            continue
        if _PIXELS_X.fullmatch(entry.name) and (whole.group(2) or entry.name not in ("size", "resolution", "imagesize")):
            found.add((int(whole.group(1)), int(whole.group(2)) if whole.group(2) else None))
        elif re.fullmatch(_PREFIX + r"(?:imageheight|resolutiony|height|sizey|rows|lines|pixelsy)", entry.name):
            rows.add(int(whole.group(1)))
    if len({columns for columns, _ in found}) != 1:
        return None
    columns = found.pop() if len(found) == 1 else max(found, key=lambda pair: pair[1] or 0)
    return (columns[0], columns[1] or (rows.pop() if len(rows) == 1 else None))


class _Unitless:
    """What one text says about the unit of its numbers without unit."""

    def __init__(self, entries: list[Entry], columns_px: int):
        self.columns_px = columns_px
        self.magnification = magnification_of(entries)
        self.is_si = any(map(_is_si, entries))
        units = {entry.value.strip() for entry in entries if _UNITS.fullmatch(entry.name) and unit_um(entry.value)}
        self.unit = units.pop() if len(units) == 1 else ""

    def lengths(self, entry: Entry, *, field: bool) -> list[tuple[float, float]]:
        """Return (µm, relative standard uncertainty) of the lengths in an entry; [] when the unit can't be known."""
        found = []
        perpixel = re.match(r"(um|micron|micromet|mpp|nm|nanomet)", entry.name)
        default = entry.unit or (("nm" if perpixel.group(1)[0] == "n" else "um") if perpixel else "")
        for quantity in quantities(entry.value, default):
            factor = unit_um(quantity.unit) if quantity.unit else self._factor(quantity, field)
            if factor is None or quantity.value <= 0:
                break
            found.append((quantity.value * factor, quantity.relative_u))
        return found

    def _factor(self, quantity: Quantity, field: bool) -> float | None:
        """Return the micrometres of the unit that a number without unit can only have, else None."""
        if self.unit:
            return unit_um(self.unit)
        pixels = self.columns_px if field else 1
        low, high = PLAUSIBLE_UM
        plausible = [factor for factor in (1e6, 1e3, 1.0, 1e-3) if low <= quantity.value * factor / pixels <= high]
        if not math.isnan(self.magnification):
            width = quantity.value * (1 if field else self.columns_px) * self.magnification
            plausible = [factor for factor in plausible if DISPLAY_UM[0] <= width * factor <= DISPLAY_UM[1]]
            return plausible[0] if len(plausible) == 1 else None
        if 1e6 in plausible and (plausible == [1e6] or self.is_si):
            return 1e6
        return None


def _is_si(entry: Entry) -> bool:
    """Tell whether an entry without unit can only be in volts, or only in metres: then its text is written in SI."""
    value = number(entry.value.strip())
    if value is None or entry.unit:
        return False
    if re.fullmatch(r"(?:hv|eht|(?:acc\w*|beam|high)?voltage)", entry.name):
        return 100.0 <= abs(value) <= 60_000.0
    return bool(re.fullmatch(r"(?:free)?(?:wd|workingdistance)", entry.name)) and 0.0005 <= value <= 0.2


def magnification_of(entries: list[Entry]) -> float:
    """Return the magnification that a text states, nan when none or several.

    "500.00 K X", "1,000x", "1000" and "20 kx" are understood.
    """
    found = set()
    for entry in entries:
        match = re.fullmatch(rf"[x×]?\s*({NUMBER}|\d{{1,3}},\d{{3}})\s*([kK])?\s*[xX×]?", entry.value.strip())
        if match and _MAGNIFICATION.fullmatch(entry.name):
            written = match.group(1).replace(",", "") if re.fullmatch(r"\d{1,3},\d{3}", match.group(1)) else match.group(1)
            value = number(written)
            if value and value > 1:
                found.add(value * (1000.0 if match.group(2) else 1.0))
    return found.pop() if len(found) == 1 else math.nan


def _bar_candidates(entries: list[Entry], stated) -> list[Candidate]:
    """Candidates from a text that states the label of a scale bar and its length in pixels."""
    labels = [(entry, quantity) for entry in entries if _BAR_LABEL.fullmatch(entry.name)
              for quantity in quantities(entry.value, entry.unit) if unit_um(quantity.unit)]
    pixels = [(entry, int(entry.value)) for entry in entries
              if _BAR_PX.fullmatch(entry.name) and re.fullmatch(r"\d{1,5}", entry.value.strip())]
    if len(labels) != 1 or len(pixels) != 1 or pixels[0][1] < 5:
        return []
    (entry, label), (_, length_px) = labels[0], pixels[0]
    found = _candidate(entry, label.value * unit_um(label.unit) / length_px, None, 0.5 / math.sqrt(3.0) / length_px, stated)
    return [Candidate(**{**found.__dict__, "statement": f"{found.statement} over {length_px} px"})]


def phrase_candidates(source: str, text: str, columns_px: int) -> list[Candidate]:
    """Return candidates from phrases such as "0.25 µm/px", "4 pixels per micron", "20 px = 5 µm" or "pixel size 0.25 µm" in a
    text about a picture of ``columns_px`` columns."""
    found = []
    plain = re.sub(r"\s+", lambda gap: "\n" if "\n" in gap.group() else " ", plain_micro(text[:200_000]))
    for pattern, kind in _PHRASES:
        for match in pattern.finditer(plain):
            groups = match.groups()
            if kind == "pixels are":
                pixels, length, unit = groups
            elif kind == "length is":
                length, unit, pixels = groups
            else:
                pixels, length = (groups[0], "1") if kind == "per length" else ("1", groups[0])
                pixels = str(columns_px) if kind == "per field" else pixels
                unit = groups[1]
            factor, length_value, pixel_value = unit_um(unit), number(length), number(pixels)
            if not factor or not length_value or not pixel_value or min(length_value, pixel_value) <= 0:
                continue
            relative_u = rounding_u(pixels if kind == "per length" else length)
            if kind in ("pixels are", "length is") and pixel_value != 1:
                relative_u = math.hypot(relative_u, 0.5 / math.sqrt(3.0) / pixel_value)
            found.append(Candidate(um=length_value * factor / pixel_value, height_um=None, relative_u=relative_u,
                                   statement=f"{source}: {match.group(0).strip()[:60]}"))
    return found


def resolution_candidate(metadata: dict[str, str]) -> Candidate | None:
    """Return the candidate of the resolution tags, None when they are missing, a print density or implausible.

    The unit is the resolution unit of TIFF 6.0 (2 inch, 3 centimetre), or, where that says none, a length unit that the
    description gives under the key ``unit``. The density of PNG and JPEG is read per inch, as Pillow gives it.
    """
    across, down = (_rational(metadata.get(key, "")) for key in ("XResolution", "YResolution"))
    if not across or not down:
        pair = re.fullmatch(rf"\(({NUMBER}), ({NUMBER})\)", metadata.get("dpi", ""))
        if not pair:
            return None
        across, down = (float(density) for density in pair.groups())
        if not across or not down:
            return None
    description = metadata.get("ImageDescription", "")
    named = re.search(r"(?:^|\n)\s*unit\s*=\s*(\S+)", plain_micro(description))
    unit = {"2": 25_400.0, "3": 10_000.0}.get(metadata.get("ResolutionUnit", "2"))
    if named and unit_um(named.group(1)):
        unit = unit_um(named.group(1))
    if unit is None or any(abs(across * 25_400.0 / unit / usual - 1) < 0.005 for usual in PRINT_DENSITIES_PER_INCH):
        return None
    um, height = unit / across, unit / down
    if not all(TAG_LIMITS_UM[0] <= size <= TAG_LIMITS_UM[1] for size in (um, height)):
        return None
    return Candidate(um=um, height_um=height, relative_u=0.0,
                     statement=f"resolution tag: {across:.6g} px per {unit:g} µm")


def _rational(text: str) -> float:
    """Return a tag's rational "numerator denominator" as a number, 0.0 when there is none."""
    parts = [number(part) for part in text.split()]
    if not parts or None in parts[:2]:
        return 0.0
    return parts[0] / parts[1] if len(parts) > 1 and parts[1] else (parts[0] if len(parts) == 1 else 0.0)
