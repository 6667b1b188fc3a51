"""What a data bar says: the round length of the scale bar, its label, and the other printed facts.

Names of laboratories, specimens and dates are invented. The magnification of one layout is always its own constant
display width over the field width (trade practice: scale times magnification is a constant of the instrument).
"""

import math
from dataclasses import dataclass, field

import numpy as np

MANTISSAS = (1.0, 2.0, 2.5, 3.0, 4.0, 5.0)
_MANTISSA_SHARES = (0.30, 0.24, 0.03, 0.09, 0.08, 0.26)

_LABORATORIES = ("Quenby Bench Lab", "ARDVALE SURFACES", "Tarn Works Lab", "Lab Osterhavn", "MERROW TRIBO")
_SPECIMEN_STEMS = ("LS", "liner", "seg", "TW", "Q", "bore", "honed", "strip", "AV")


@dataclass(frozen=True, kw_only=True)
class Fact:
    """One printed fact: what it is ("kv", "magnification", "pixel size", …), its text and the value it states."""

    kind: str
    text: str
    value: float | str = ""


@dataclass(frozen=True, kw_only=True)
class Wording:
    """Everything a data bar may print; ``facts`` in order of importance."""

    bar_label: str
    bar_um: float
    facts: tuple[Fact, ...] = field(default=())


def is_round(length_um: float) -> bool:
    """Say whether ``length_um`` is a mantissa of MANTISSAS times a power of ten.

    >>> is_round(250.0), is_round(0.4), is_round(7.0)
    (True, True, False)
    """
    mantissa = length_um / 10.0 ** math.floor(math.log10(length_um) + 1e-9)
    return any(math.isclose(mantissa, known, rel_tol=1e-6) for known in MANTISSAS)


def choose_bar_um(rng: np.random.Generator, pixel_size_um: float, width_px: int, low_px: float, high_px: float) -> float:
    """Return a round length (mantissa of MANTISSAS times a power of ten), µm, between ``low_px`` and ``high_px``.

    The length aimed at is uniform in the logarithm, as instruments take the nearest round number. Raises ValueError
    when no round length fits between the limits.
    """
    low, high = low_px * pixel_size_um, high_px * pixel_size_um
    candidates, shares = [], []
    for power in range(math.floor(math.log10(low)) - 1, math.ceil(math.log10(high)) + 1):
        for mantissa, share in zip(MANTISSAS, _MANTISSA_SHARES, strict=True):
            length = float(f"{mantissa * 10.0**power:.6g}")
            if low <= length <= high:
                candidates.append(length)
                shares.append(share)
    if not candidates:
        raise ValueError(f"no round bar length lies between {low:.4g} and {high:.4g} µm on a width of {width_px} px")
    shares = np.array(shares)
    return float(rng.choice(candidates, p=shares / shares.sum()))


def length_text(length_um: float, rng: np.random.Generator, micro: str, *, plain: bool = False) -> str:
    """Return a label such as ``10 µm``, ``50.0um``, ``500nm`` or ``1.00 mm`` for ``length_um``.

    ``micro`` is the sign before the m (U+00B5, U+03BC or u); ``plain`` leaves out superfluous decimals.
    """
    if length_um >= 1000 and rng.random() < 0.75:
        value, unit = length_um / 1000, "mm"
    elif length_um < 1 and rng.random() < 0.7:
        value, unit = length_um * 1000, "nm"
    else:
        value, unit = length_um, f"{micro}m"
    number = f"{value:.6g}"
    if not plain and rng.random() < 0.22 and "." not in number:
        number = f"{value:.1f}" if value >= 10 or rng.random() < 0.5 else f"{value:.2f}"
    return number + rng.choice(["", " "], p=[0.4, 0.6]) + unit


def _kv_text(rng, kv: float) -> str:
    plain = f"{kv:g}"
    return str(rng.choice([f"{plain} kV", f"{plain}kV", f"{kv:.1f} kV", f"{kv:.2f}kV", f"EHT {kv:.2f} kV",
                           f"HV: {kv:.1f} kV", f"Acc {plain} kV", f"U = {plain} kV"]))


def _magnification_text(rng, magnification: float) -> str:
    rounded = float(f"{magnification:.3g}")
    plain = f"{rounded:.0f}" if rounded >= 100 else f"{rounded:.3g}"
    forms = [f"{plain}x", f"x{plain}", f"Mag {plain} x", f"MAG: {plain}x", f"Mag = {plain} X", f"{plain} X"]
    if rounded >= 1000:
        forms += [f"{rounded / 1000:.2f} kx", f"x{rounded:,.0f}", f"Mag = {rounded / 1000:.2f} K X"]
    return str(rng.choice(forms))


def _pixel_size_text(rng, pixel_size_um: float, micro: str) -> tuple[str, float]:
    if pixel_size_um < 1 and rng.random() < 0.65:
        number = f"{pixel_size_um * 1000:.1f}"
        value, unit = float(number) / 1000, "nm"
    else:
        number = f"{pixel_size_um:.4f}"
        value, unit = float(number), f"{micro}m"
    text = rng.choice([f"Pixel size {number} {unit}", f"Pixel = {number} {unit}", f"{number} {unit}/px",
                       f"{number} {unit}/pixel", f"PixelSize: {number}{unit}"])
    return str(text), value


def _field_width_text(rng, width_um: float, micro: str) -> tuple[str, float]:
    if width_um >= 1000 and rng.random() < 0.6:
        number = f"{width_um / 1000:.3f}"
        value, unit = float(number) * 1000, "mm"
    else:
        number = f"{width_um:.0f}" if width_um >= 400 else f"{width_um:.1f}"
        value, unit = float(number), f"{micro}m"
    text = rng.choice([f"HFW {number} {unit}", f"HFW: {number} {unit}", f"Width = {number} {unit}",
                       f"Field {number} {unit}", f"FW {number}{unit}", f"View field: {number} {unit}"])
    return str(text), value


def _specimen_text(rng, specimen: str) -> str:
    if specimen:
        return specimen
    return str(rng.choice(_SPECIMEN_STEMS)) + str(rng.choice(["-", " ", ""])) + f"{rng.integers(1, 99):02d}"


def _invented(rng, kind: str, specimen: str) -> str:
    if kind == "working distance":
        distance = rng.uniform(4.5, 22)
        return str(rng.choice([f"WD {distance:.1f} mm", f"WD = {distance:.1f}mm", f"WD: {distance:.2f} mm",
                               f"{distance:.1f}mm"]))
    if kind == "date":
        year, month, day = rng.integers(2031, 2049), rng.integers(1, 13), rng.integers(1, 29)
        return str(rng.choice([f"{year}-{month:02d}-{day:02d}", f"{day:02d}.{month:02d}.{year}",
                               f"{month:02d}/{day:02d}/{year % 100:02d}"]))
    if kind == "time":
        return f"{rng.integers(7, 19):02d}:{rng.integers(0, 60):02d}"
    if kind == "spot":
        return str(rng.choice([f"Spot {rng.integers(2, 7)}.0", f"P.C. {rng.integers(20, 60)}", f"{rng.integers(1, 9)}00 pA"]))
    if kind == "vacuum":
        return str(rng.choice(["HighVac", f"{rng.integers(10, 90)} Pa", "HV mode"]))
    if kind == "laboratory":
        return str(rng.choice(_LABORATORIES))
    if kind == "number":
        return f"{rng.integers(0, 9999):04d}"
    return _specimen_text(rng, specimen)


def compose_wording(rng: np.random.Generator, *, bar_um: float, pixel_size_um: float, field_width_um: float,
                    display_width_mm: float, micro: str, kv: float, detector: str, specimen: str, scaled: bool,
                    contradiction: str = "") -> Wording:
    """Return the label and all facts that a data bar of this field may print.

    ``scaled`` False leaves out everything that tells a length (label, pixel size, field width, magnification).
    ``contradiction`` names one fact (magnification, field width, pixel size, bar label) that is to be printed wrong,
    1.25 to 2 times off; it comes first in the list so that every layout with room for one fact prints it.
    """
    wrong = float(rng.choice([1 / 2, 1 / 1.6, 1 / 1.25, 1.25, 1.6, 2.0]))
    off = {kind: wrong if kind == contradiction else 1.0
           for kind in ("magnification", "field width", "pixel size")}
    label = ""
    facts = [Fact(kind="kv", text=_kv_text(rng, kv), value=kv), Fact(kind="detector", text=detector, value=detector)]
    if rng.random() < 0.3:
        facts[1] = Fact(kind="detector", text=str(rng.choice(["Det: ", "Signal = ", "Signal "])) + detector, value=detector)
    if scaled:
        printed_um = bar_um
        if contradiction == "bar label":
            others = [bar_um * factor for factor in (0.1, 0.5, 2.0, 10.0) if is_round(bar_um * factor)]
            bar_um = printed_um = float(rng.choice(others))
        label = length_text(printed_um, rng, micro)
        magnification = display_width_mm * 1000 / field_width_um * off["magnification"]
        facts.append(Fact(kind="magnification", text=_magnification_text(rng, magnification),
                          value=float(f"{magnification:.3g}")))
        text, value = _pixel_size_text(rng, pixel_size_um * off["pixel size"], micro)
        facts.append(Fact(kind="pixel size", text=text, value=value))
        text, value = _field_width_text(rng, field_width_um * off["field width"], micro)
        facts.append(Fact(kind="field width", text=text, value=value))
    for kind in ("working distance", "date", "time", "spot", "vacuum", "laboratory", "number", "specimen"):
        facts.append(Fact(kind=kind, text=_invented(rng, kind, specimen)))
    order = rng.permutation(len(facts))
    likely = {"kv": 0.9, "magnification": 0.75, "working distance": 0.7, "detector": 0.7, "pixel size": 0.22,
              "field width": 0.3}
    chosen = [facts[i] for i in order if rng.random() < likely.get(facts[i].kind, 0.4)]
    forced = [fact for fact in facts if fact.kind == contradiction]
    chosen = forced + [fact for fact in chosen if fact.kind != contradiction]
    return Wording(bar_label=label, bar_um=bar_um if scaled else math.nan, facts=tuple(chosen))
