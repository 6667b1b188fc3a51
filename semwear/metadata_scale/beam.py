"""Accelerating voltage, detector and tilt out of the entries of a picture."""

import math
import re

from semwear.metadata_scale.entries import Entry
from semwear.metadata_scale.lengths import quantities

_VOLTAGE = re.compile(r"(?:sem|beam)?(?:acc(?:el(?:erat(?:ing|ion))?)?volt(?:age)?|hv|eht|(?:high|beam|gun)voltage|"
                      r"voltage|beamhv|acceleratingvoltagevalue)(?:kv|v)?")
_DETECTOR = re.compile(r"(?:image|sem)?(?:detector|detectorname|signal|signalname|signala|detectorsname|"
                       r"detectorschannel|detectortype)")
_STAGE_TILT = re.compile(r"(?:sem)?(?:stagetilt|staget|stageatt|stagepositiont|specimentilt|sampletilt|tiltalpha)")
_TILT = re.compile(r"(?:sem)?(?:tilt|tiltangle)")


def voltage_kv(entries: list[Entry]) -> float:
    """Return the accelerating voltage in kV; nan when none is stated, or several that differ.

    A number without unit is in volts from 100 on, in kilovolts up to 60: scanning instruments run at 0.1 to 60 kV
    (common practice, no source).
    """
    found = set()
    for entry in entries:
        if not _VOLTAGE.fullmatch(entry.name):
            continue
        for quantity in quantities(entry.value, entry.unit)[:1]:
            unit = quantity.unit.lower()
            if unit in ("kv", "kev") or (not unit and 0.1 <= quantity.value <= 60):
                value = quantity.value
            elif unit in ("v", "ev", "volt", "volts") or (not unit and 100 <= quantity.value <= 60_000):
                value = quantity.value / 1000.0
            else:
                continue
            if value > 0:
                found.add(round(value, 3))
    if found and max(found) - min(found) <= 0.01 * max(found):
        return max(found)
    return math.nan


def detector_name(entries: list[Entry]) -> str:
    """Return the name of the detector, "" when none is stated, or several that differ."""
    found = {}
    for entry in entries:
        value = entry.value.strip()
        if (_DETECTOR.fullmatch(entry.name) or _DETECTOR.fullmatch(entry.long_name)) and re.fullmatch(
                r"[A-Za-z][\w +()/-]{0,30}", value):
            found.setdefault(value.lower(), value)
    return next(iter(found.values())) if len(found) == 1 else ""


def tilt_deg(entries: list[Entry]) -> float:
    """Return the tilt of the specimen in degrees, nan when none is stated or its unit can't be known.

    The stage's tilt goes before any other. Without a unit, zero is zero and numbers above π/2 are degrees; the rest could
    be radians or degrees and is left out.
    """
    for pattern in (_STAGE_TILT, _TILT):
        found = set()
        for entry in entries:
            if not (pattern.fullmatch(entry.name) or pattern.fullmatch(entry.long_name)):
                continue
            for quantity in quantities(entry.value, entry.unit)[:1]:
                unit = quantity.unit.lower()
                if unit.startswith(("deg", "°")) or (not unit and (quantity.value == 0 or abs(quantity.value) > math.pi / 2)):
                    found.add(round(quantity.value, 2))
                elif unit in ("rad", "radian", "radians"):
                    found.add(round(math.degrees(quantity.value), 2))
        found = {value for value in found if abs(value) <= 90.0}
        if len(found) == 1:
            return found.pop()
    return math.nan
