"""What the words of a data bar say: the bar's label, and facts that must agree with it.

A length in a data bar may be the bar's label, the working distance, the field width, a pixel size or an aperture.
The words before it tell them apart, in English and some other languages of Europe; a length that follows an equals sign
or a colon never labels a bar unless the word before it does. Labels are round numbers (common practice, no source).
"""

import math
import re
from dataclasses import dataclass

UNIT_UM = {"nm": 1e-3, "µm": 1.0, "mm": 1e3}
ROUND_MANTISSAS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 7.5, 8.0, 9.0)
"""First figures of the labels that instruments print (common practice, no source)."""
RARE_MANTISSA = 1.25
"""First figures of labels (12.5 µm) that few instruments print: such a label counts where a size that is printed beside it proves it."""
SMALLEST_LABEL_UM, LARGEST_LABEL_UM = 1e-3, 1e4
PIXEL_SIZES_UM = (1e-4, 20.0)
"""Pixel sizes of scanning electron micrographs, µm: a working distance makes no scale, and 900 mm/px was 900 nm/px."""

_NUMBER = r"(?P<number>[1-9]\d{0,2}(?:,\d{3})+|\d{5}(?=\s*nm)|\d{1,4}(?:[.,]\d{1,4})?)"
_UNIT = r"(?P<unit>[nN][mM]|[µuUpP][mM]|[mM][mM]|[mM]icrons?|MICRONS?)"
_LENGTH = re.compile(rf"(?<![\d.,]){_NUMBER}\s*{_UNIT}(?![A-Za-z0-9])")
_FIELD_ABROAD = r"bildbreite|feldbreite|champ|largeur|largura|ancho|anchura"
_OTHER_LENGTH = re.compile(
    r"(?:[=:]|(?<!/)\b(?:wd|w\.d\.?|hfw|vfw|hfov|vfov|fov|fw|field|width|view|size|px|pixel|apert\w*|apt|spot|dist\w*|"
    r"ap|slit|iris|spacing|pitch|gap|stage|depth|height|working|distance|step|thickness|res\w*|aa|arbeitsabstand|blende|gr[oö](?:ss|ß)e|"
    rf"diaphragme|ouverture|taille|campo|abertura|clona|pole|šířka|diafragma|{_FIELD_ABROAD}))\s*[=:.]?\s*$",
    re.IGNORECASE,
)
_BAR_WORD = re.compile(r"\b(?:scale|bar|scalebar|marker|ma(?:ß|ss)stab|[eé]chelle|escala|scala|skala)\s*(?:bar)?\s*[=:]?\s*$", re.IGNORECASE)
_WORD_BEFORE = re.compile(r"(?<![^\W_])(?P<word>[^\W\d_]{2,})\s*[.=:]?\s*$")
"""A word right before a length names it: the length of anything but the bar."""
_UNIT_OF_VALUE = re.compile(r"[kM]?[vV]|KV|[kK]?[xX×]|[kmM]?Pa|mbar|[munpµ]?[AsmS]|MM|UM|NM|deg|eV|keV|fps|px|min|sec|AM|PM|am|pm")
"""Units of other facts, which belong to the figures before them."""
_JUNK = re.compile(r"[IilTtJjHLE]+")
"""What ticks and ends of bars are read as."""
_AFTER_KV = re.compile(r"\bk\s?v\W*(?:wd)?\W*$|kv\s*$", re.IGNORECASE)
_KV = re.compile(r"(?<![\d.,])(\d{1,2}(?:[.,]\d{1,3})?)\s?k\s?v(?![a-z])", re.IGNORECASE)
_FACTOR = r"((?<!\d )\d{1,3}(?:[, ]\d{3})+|\d+(?:[.,]\d+)?)"
_NO_UNIT = r"(?!\s*(?:[nµum]m|k?v|[km]?pa|[npµu]a|[mµun]?s|deg)(?![a-z]))"
_MAGNIFICATIONS = (
    re.compile(rf"(?:mag(?!e|ing)[^\W\d]*|\bm(?!\d))\W*?{_FACTOR}\s?(k?)(?:\s?[x×])?(?![\w.,:/]){_NO_UNIT}", re.IGNORECASE),
    re.compile(rf"(?<![a-z\d])[x×]\s?{_FACTOR}\s?(k?)(?![a-z\d.,:/]){_NO_UNIT}", re.IGNORECASE),
    re.compile(rf"(?<![\d.,]){_FACTOR}\s?(k?)\s?[x×](?![a-z\d])", re.IGNORECASE),
)
_BETWEEN = re.compile(r"\d\s+[x×]\s+\d", re.IGNORECASE)
"""An x between two numbers belongs to either: then both count, so that they contradict each other."""
_LEANING = re.compile(r"(?<![\d:./-])(\d{2,6})\s+[x×](?=\d)", re.IGNORECASE)
"""Such an x read without the blank behind it ("609 X4905"): then none counts. A time ("14:51:40 x500") takes no x."""
_MISREAD = re.compile(r"0\d")
"""No magnification and no width is printed with a nought before other figures: one of them was misread."""
_STAGE = re.compile(r"(?<![a-z])x\s*[=:]?\s*[-+−–]?\s*\d+(?:[.,]\d+)?\s*(?:[nµum]m)?\s*[,;/]?\s*y(?=\s*[=:]?\s*[-+−–]?\s*\d)", re.IGNORECASE)
"""The first of a stage's two coordinates ("X 19.98 Y 26.94 mm"), which is no magnification."""
_NAME = re.compile(r"\b(?:specimen|sample|piece|part|coupon|disc|plate|liner|ring)\s?[:#]?\s?x\s?\d{1,2}(?![\w.,])", re.IGNORECASE)
"""A name that reads like a magnification ("specimen X9")."""
_FIELD_WORD = (
    r"(?:hfw|hfov|fov|fw|(?:view\s*)?field(?:\s*of\s*view)?(?:\s*width)?|view\s*field|(?:image\s*)?width|"
    rf"{_FIELD_ABROAD})"
)
_FIELD = re.compile(rf"\b{_FIELD_WORD}\s*[=:]?\s*{_NUMBER}\s*{_UNIT}(?![A-Za-z0-9])", re.IGNORECASE)
_FIELD_HEAD = re.compile(rf"^\W*{_FIELD_WORD}\W*$", re.IGNORECASE)
_PIXEL = re.compile(
    rf"\b(?:(?:image\s*)?pixel(?:\s*size)?|px(?:\s*size)?|pix\w*)\s*[=:]?\s*{_NUMBER}\s*{_UNIT}(?![A-Za-z0-9])",
    re.IGNORECASE,
)
_PER_PIXEL = re.compile(rf"(?<![\d.,]){_NUMBER}\s*{_UNIT}\s*/\s*(?:px|pix|pixel)\b", re.IGNORECASE)
_DETECTOR = re.compile(
    r"(?<![A-Za-z])(In-?\s?Lens|In-?Beam|BSE-[A-Z]{2,5}|[BS]SE?\([A-Z]{1,3}\)|SE\d?|SEI|SED|BSE\d?|BSED|BEI|BED|BEC|COMPO|"
    r"ETD|TLD|CBS|LFD|GSED|LEI|UED|USD|ESB|ASB)(?![A-Za-z0-9])"
)


@dataclass(frozen=True, kw_only=True)
class Length:
    """A length as printed: value in µm, its text, where it stands in the line, and whether it can label a bar.

    rounding_um: half a unit of the last printed decimal where that is a nought ("50.0 µm": printed to a fixed number of
    places, whatever the length), else 0: "50 µm" and "0.1 mm" are written with no more figures than the number needs, and
    the bar was drawn to it. needs_proof: whether so few instruments print such a number that it labels a bar only with proof.
    """

    um: float
    text: str
    start: int
    stop: int
    rounding_um: float
    may_label: bool
    needs_proof: bool = False


@dataclass(frozen=True, kw_only=True)
class Facts:
    """Facts printed beside the bar: NaN or "" for what is not there or not sure."""

    kv: float
    detector: str
    magnification: float
    pixel_size_um: float
    field_width_um: float


def is_round(value_um: float) -> bool:
    """Tell whether a length in µm is one of the numbers that instruments print under a bar.

    >>> [is_round(value) for value in (50.0, 0.2, 2.5, 14.4, 556.0)]
    [True, True, True, False, False]
    """
    return _begins_with(value_um, ROUND_MANTISSAS)


def _begins_with(value_um: float, mantissas: tuple[float, ...]) -> bool:
    """Tell whether a length that may stand under a bar has one of these for its first figures."""
    if not SMALLEST_LABEL_UM <= value_um <= LARGEST_LABEL_UM:
        return False
    mantissa = value_um / 10 ** math.floor(math.log10(value_um) + 1e-9)
    return any(abs(mantissa - allowed) < 1e-3 for allowed in mantissas)


def lengths_in(text: str, *, before: str = "", above: str = "") -> tuple[Length, ...]:
    """Find the lengths in one line of text (as read); before and above are the texts of the neighbours.

    >>> [(length.um, length.may_label) for length in lengths_in("WD = 9.2 mm  20 µm")]
    [(9200.0, False), (20.0, True)]
    >>> [length.may_label for length in lengths_in("Blende 60 µm  Champ 30 µm  10 µm")]
    [False, False, True]
    >>> [length.text for length in lengths_in("50 Microns")]
    ['50 µm']
    """
    text = mended(text)
    found = []
    for match in _LENGTH.finditer(text):
        number, unit = match["number"], _unit(match["unit"])
        value = _decimal(number) * UNIT_UM[unit]
        decimals = re.search(r"[.,](\d+)$", number)
        thousands = not number.startswith("0,") and re.search(r",\d{3}$", number)
        fixed = decimals and decimals[1].endswith("0") and value and not thousands
        places = len(decimals[1]) if fixed else 0
        lead = (before + "  " if match.start() == 0 or not text[: match.start()].strip() else "") + text[
            : match.start()
        ]
        # Widely spaced letters part a word.
        heads = (lead, re.sub(r"\s", "", before + text[: match.start()]))
        other = any(_OTHER_LENGTH.search(head) for head in heads) and not _BAR_WORD.search(lead)
        other |= _is_named(text[: match.start()])
        other |= unit == "mm" and bool(_AFTER_KV.search(lead))
        other |= bool(re.search(r"\d[.,]\s*$", text[: match.start()]))  # The decimals of a number that a blank parts.
        other |= bool(re.match(r"\s*(?:/|[x×]\s*[\d.]+\s*[nµum]m)", text[match.end() :]))
        other |= bool(re.search(r"[\dm]\s*[x×]\s*$", text[: match.start()]) and found)
        other |= bool(re.search(r"[^\W\d]\s*$", above)) and bool(_OTHER_LENGTH.search(above))
        rare = _begins_with(value, (RARE_MANTISSA,))
        found.append(
            Length(
                um=value,
                text=f"{number} {unit}",
                start=match.start(),
                stop=match.end(),
                rounding_um=0.5 * 10.0**-places * UNIT_UM[unit] if places else 0.0,
                may_label=not other and (rare or is_round(value)) and not re.match(r"0\d", number),
                needs_proof=rare,
            )
        )
    return tuple(found)


def _is_named(head: str) -> bool:
    """Tell whether a word of two letters or more stands right before a length, and names it as that of something else.

    No such words are those of a scale, a detector, a unit of the value before, and what the marks at a bar's ends are read as.

    >>> [_is_named(head) for head in ("WD=9 mm  Iris ", "Scale bar ", "15 kV  SE ", "15 kV ", "I ")]
    [True, False, False, False, False]
    """
    match = _WORD_BEFORE.search(head)
    if match is None or _BAR_WORD.search(head) or _JUNK.fullmatch(match["word"]):
        return False
    of_value = re.search(r"\d\s?$", head[: match.start()]) and _UNIT_OF_VALUE.fullmatch(match["word"])
    return not of_value and not _DETECTOR.search(head[match.start() :])


def _unit(text: str) -> str:
    """Return a unit as it was read, of which µ may be written as u and read as p, or the word micron, as nm, µm or mm."""
    text = text.lower()
    return "µm" if text.startswith("micron") else text.replace("u", "µ").replace("p", "µ")


def mended(text: str) -> str:
    """Undo confusions that leave no doubt beside figures and units: O for 0, l or I for 1, r for n; same length.

    >>> mended("1OO µm"), mended("lO nm"), mended("5 μm"), mended("5 jum"), mended("5 rm")
    ('100 µm', '10 nm', '5 µm', '5  µm', '5 nm')
    >>> mended("200.0.µm"), mended("0:2mm")
    ('200.0 µm', '0.2mm')
    """
    text = text.replace("μ", "µ")
    text = re.sub(r"(?<=[\d\s])(?:µu|uµ|ju|jµ|µµ|uu)(?=m(?![A-Za-z]))", " µ", text)
    text = re.sub(r"(?<=\d)[.,](?=\s?[µunUN]m(?![A-Za-z]))", " ", text)
    text = re.sub(r"(?<=\d):(?=\d+\s?(?:[nµu]m|mm)(?![A-Za-z]))", ".", text)
    text = re.sub(r"(?<=\d)(\s?)[yj](?=m(?![A-Za-z]))", r"\1µ", text)
    text = re.sub(r"(?<=\d)(\s?)r(?=m(?![A-Za-z]))", r"\1n", text)
    while True:
        new = re.sub(r"(?<=[\d.,])[Oo](?=[\dOo.,\s]*\s*(?:[nµuUmp]m|[nNuU]M))", "0", text)
        new = re.sub(r"(?<![A-Za-z\d])[lI|](?=[Oo\d.,]+\s*(?:[nµuUmp]m|[nNuU]M))", "1", new)
        if new == text:
            return new
        text = new


def places_of_figures(text: str, length: Length) -> list[int]:
    """Return the places in a line of text of the figures of a length found in it, those among them that were read as letters.

    >>> places_of_figures("x loum", lengths_in("x loum")[0])
    [2, 3]
    """
    text = mended(text)
    return [place for place in range(length.start, length.stop) if text[place : place + 1].isdigit()]


def facts_in(texts, pairs) -> Facts:
    """Collect facts from lines of text; pairs are (heading, text below it) of tables. Contradictions count as unread.

    >>> facts = facts_in(["EHT = 20.00 kV", "Mag = 1.00 K X", "Width = 556.0 nm"], [])
    >>> facts.kv, facts.magnification, facts.field_width_um
    (20.0, 1000.0, 0.556)
    """
    texts = [mended(text) for text in texts]
    kvs = {_decimal(match) for text in texts for match in _KV.findall(text)}
    magnifications, fields, pixels, detectors = set(), set(), set(), []
    for text in texts:
        text = _LEANING.sub(r"\1 ; ", _STAGE.sub("; y", _NAME.sub("; ", text)))
        for pattern in _MAGNIFICATIONS:
            hits = pattern.findall(text)
            figures = [(_own_figures(number), kilo) for number, kilo in hits if not _MISREAD.match(number)]
            # "10.000" is 10 or 10 000.
            figures = [(number, kilo) for number, kilo in figures if kilo or not re.search(r"\.\d{3}$", number)]
            magnifications |= {_decimal(number) * (1000 if kilo else 1) for number, kilo in figures}
            if hits and (pattern is _MAGNIFICATIONS[0] or not _BETWEEN.search(text)):
                break
        fields |= {_length(match) for match in _FIELD.finditer(text) if not _MISREAD.match(match["number"])}
        for pattern in (_PIXEL, _PER_PIXEL):
            pixels |= {_length(match) for match in pattern.finditer(text)}
        detectors += _DETECTOR.findall(text)
    for head, below in pairs:
        if _FIELD_HEAD.match(head) and (match := _LENGTH.search(mended(below))):
            fields.add(_length(match))
    magnifications = {value for value in magnifications if 5 <= value <= 3e6}
    pixels = {value for value in pixels if PIXEL_SIZES_UM[0] <= value <= PIXEL_SIZES_UM[1]}
    return Facts(
        kv=_single({value for value in kvs if 0 < value <= 60}),
        detector=detectors[0] if detectors else "",
        magnification=_single(magnifications),
        pixel_size_um=_single(pixels),
        field_width_um=_single({value for value in fields if value > 0}),
    )


def _own_figures(number: str) -> str:
    """Drop figures before a blank that belong to the word before: a magnification parted by blanks is round.

    >>> _own_figures("10 000"), _own_figures("50 661")
    ('10 000', '661')
    """
    return number if number.endswith("00") else number.split(" ")[-1]


def _single(values: set[float]) -> float:
    return next(iter(values)) if len(values) == 1 else float("nan")


def _length(match: re.Match) -> float:
    return _decimal(match["number"]) * UNIT_UM[_unit(match["unit"])]


def _decimal(number: str) -> float:
    """Read a number with a point or comma: a comma before three figures parts thousands, unless 0 stands before it.

    >>> _decimal("1,000"), _decimal("1,5"), _decimal("10 000"), _decimal("2.50"), _decimal("0,025")
    (1000.0, 1.5, 10000.0, 2.5, 0.025)
    """
    if not number.startswith("0,"):
        number = re.sub(r"[, ](?=\d{3}(?!\d))", "", number)
    return float(number.replace(",", "."))
