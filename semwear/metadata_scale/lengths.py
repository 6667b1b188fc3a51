"""Numbers with units in texts: lengths, pixel sizes, voltages, as programs and people write them."""

import math
import re
from dataclasses import dataclass

UNIT_UM: dict[str, float] = {
    "m": 1e6, "meter": 1e6, "metre": 1e6, "meters": 1e6, "metres": 1e6,
    "cm": 1e4, "centimeter": 1e4, "centimetre": 1e4,
    "mm": 1e3, "millimeter": 1e3, "millimetre": 1e3, "millimeters": 1e3, "millimetres": 1e3,
    "um": 1.0, "micron": 1.0, "microns": 1.0, "micrometer": 1.0, "micrometre": 1.0, "micrometers": 1.0,
    "micrometres": 1.0,
    "nm": 1e-3, "nanometer": 1e-3, "nanometre": 1e-3, "nanometers": 1e-3, "nanometres": 1e-3,
    "å": 1e-4, "angstrom": 1e-4, "angstroms": 1e-4, "ångström": 1e-4, "ångstrom": 1e-4,
    "pm": 1e-6, "picometer": 1e-6, "picometre": 1e-6,
}
"""Micrometres in a unit, by its usual spellings in lower case (μ and µ are both read as u)."""

NUMBER = r"[+-]?(?:\d+(?:[.,]\d+)?|\.\d+)(?:[eE][+-]?\d+)?"
_MICRO = str.maketrans({"µ": "u", "μ": "u"})


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """A number as written, with the unit behind it ("" when none) and its relative standard uncertainty by rounding."""

    value: float
    unit: str
    relative_u: float


def unit_um(unit: str) -> float | None:
    """Return the micrometres in a length unit, None for what is no length unit.

    >>> unit_um("µm"), unit_um("nm"), unit_um("px") is None
    (1.0, 0.001, True)
    """
    return UNIT_UM.get(plain_micro(unit).strip(" .[]()").lower())


def plain_micro(text: str) -> str:
    """Return a text with every spelling of the micro sign, escaped and mis-decoded ones included, as u."""
    text = text.replace("\\u00B5", "u").replace("\\u00b5", "u").replace("Âµ", "u").replace("Î¼", "u")
    return text.replace("&#181;", "u").replace("&micro;", "u").translate(_MICRO)


def rounding_u(written: str) -> float:
    """Return the relative standard uncertainty that lies in the last digit of a written number.

    Half a unit of the last digit as a rectangular distribution: u = 0.5 · unit / √3 (JCGM 100:2008, 4.3.7). Many programs
    drop trailing zeros, so that a number of one digit is taken to have two.

    >>> round(rounding_u("543.0"), 6), round(rounding_u("0.5"), 4)
    (5.3e-05, 0.0058)
    """
    mantissa = re.split("[eE]", written.lstrip("+-"))[0].replace(",", ".")
    digits = mantissa.replace(".", "").lstrip("0")
    if not digits:
        return math.inf
    digits = digits.ljust(2, "0")
    return 0.5 / math.sqrt(3.0) / int(digits)


def number(written: str) -> float | None:
    """Return a written number, decimal comma allowed; None where a comma could also part thousands.

    >>> number("0,25"), number("1.2e-07"), number("1,280")
    (0.25, 1.2e-07, None)
    """
    if re.fullmatch(r"[+-]?[1-9]\d{0,2}(,\d{3})+", written):
        return None
    try:
        value = float(written.replace(",", "."))
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def quantities(text: str, default_unit: str = "") -> list[Quantity]:
    """Return every number of a short text with its unit; numbers share the unit behind the last of them.

    Understood are "0.25 um", "0.25 x 0.30 µm", "(0.25, 0.30) um", "250nm/px". The unit of a text that gives none is
    ``default_unit``; a unit in the text goes before it.

    >>> [(q.value, q.unit) for q in quantities("0.25 x 0.30 µm")]
    [(0.25, 'um'), (0.3, 'um')]
    """
    text = " ".join(plain_micro(text[:200]).strip().strip("\"'").split())
    text = re.sub(r"(?i)(?:/|\s+per\s+)\s*(?:px|pixels?|pix)\b", "", text)
    match = re.fullmatch(
        rf"[(\[{{]?\s*({NUMBER})\s*([A-Za-zÅåÖöÄä°%]*)\.?"
        rf"(?:\s*[x×*;,]\s*({NUMBER})\s*([A-Za-zÅåÖöÄä°%]*)\.?)?\s*[)\]}}]?\s*([A-Za-zÅåÖöÄä°%]*)(?:\^?2|²)?", text)
    if not match:
        return []
    first, unit_1, second, unit_2, tail = match.groups()
    shared = tail or unit_2 or unit_1 or default_unit
    found = []
    for written, unit in ((first, unit_1 or shared), (second, unit_2 or shared)):
        value = None if written is None else number(written)
        if value is not None:
            found.append(Quantity(value=value, unit=unit, relative_u=rounding_u(written)))
    return found
