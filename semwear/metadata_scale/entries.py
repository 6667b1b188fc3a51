"""Keys with values out of the texts that came with a picture: INI, XML, JSON, OME-XML, key lines and plain phrases."""

import json
import re
import xml.etree.ElementTree as ElementTree
from dataclasses import dataclass
from functools import cached_property

MAX_ENTRIES = 20_000
"""Most keys that are looked at in one text."""

MAX_KEY = 80
"""Characters of a key that are looked at: longer ones are no names of quantities."""

MAX_VALUE = 200
"""Characters of a value that are looked at."""

BARE_TAGS = re.compile(
    r"(?:exif )?(?:New)?(?:Subfile(?:Type)?|Image(?:Width|Length|Height)|BitsPerSample|Compression|Photometric\w*|"
    r"[XY]Resolution|ResolutionUnit|RowsPerStrip|PlanarConfiguration|SamplesPerPixel|Orientation|ExifImage\w+|ColorSpace|"
    r"DateTime\w*|[XY]Position|Predictor|SampleFormat|FillOrder|Tile(?:Width|Length)|(?:Min|Max)SampleValue|PageNumber)"
    r"|dpi|aspect|jfif_\w+|gamma|srgb|progressive\w*|bmp\w*|compression")
"""Tags of the picture's own storage: no statement about the specimen (the resolution tags are read apart)."""


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One key with its value, the unit that stands beside it, and where it was found."""

    source: str
    section: str
    key: str
    value: str
    unit: str = ""

    def __post_init__(self):
        object.__setattr__(self, "value", " ".join(self.value[:MAX_VALUE].split()))

    @cached_property
    def name(self) -> str:
        """The key in lower case, letters and digits only: ``Pixel Size (nm)`` → ``pixelsize``."""
        return compact(_KEY_UNIT.sub("", self.key[:MAX_KEY]))

    @cached_property
    def long_name(self) -> str:
        """The section's last word and the key, letters only: for ``X`` in ``PixelSize`` → ``pixelsizex``."""
        return compact(re.split(r"[/.\\]", self.section[-MAX_KEY:])[-1]) + self.name


_KEY_UNIT = re.compile(r"(?:[(\[<]\s*|(?<=[a-z])[_/ ,]\s*(?:in )?)(m|mm|[uµμ]m|nm|pm|Å|microns?|k?V|deg|°)\s*[)\]>]?$"
                       r"|(?<=[a-z])(Um|Nm|Mm)$")


def compact(text: str) -> str:
    """Return a key without unit in brackets, case, spaces and punctuation.

    >>> compact("Pixel Size (nm)"), compact("Stage at T"), compact("IMAGE_PIXEL_SIZE")
    ('pixelsize', 'stageatt', 'imagepixelsize')
    """
    text = re.sub(r"[(\[<].*?[)\]>]", "", text)
    return re.sub(r"[^0-9a-zåäöµ]", "", text.lower())


def key_unit(key: str) -> str:
    """Return a unit that a key names at its end: ``Pixel Size (nm)``, ``pixel_size_um``, ``PixelSize/um``; else "".

    >>> key_unit("Pixel Size (nm)"), key_unit("pixel_size_um"), key_unit("hfw_px"), key_unit("Album")
    ('nm', 'um', '', '')
    """
    match = _KEY_UNIT.search(key[:MAX_KEY])
    return (match.group(1) or match.group(2).lower()) if match else ""


def entries_of(source: str, text: str) -> list[Entry]:
    """Return the entries of one text; a text of no known form gives its phrases, or nothing."""
    stripped = text.lstrip("\ufeff \r\n\t")
    if stripped.startswith("<"):
        found = _xml_entries(source, stripped)
        if found:
            return found[:MAX_ENTRIES]
    if stripped.startswith("{"):
        try:
            return _json_entries(source, json.loads(stripped))[:MAX_ENTRIES]
        except (ValueError, RecursionError):
            pass
    return _line_entries(source, stripped)[:MAX_ENTRIES]


def all_entries(metadata: dict[str, str]) -> list[Entry]:
    """Return the entries of every text in a picture's metadata; a text's own name counts as a key too."""
    found: list[Entry] = []
    for source, text in metadata.items():
        if BARE_TAGS.fullmatch(source):
            continue
        found += entries_of(source, text)
        if len(text) <= 80 and "\n" not in text:
            found.append(Entry(source=source, section="", key=source.removeprefix("exif "), value=text.strip(),
                               unit=key_unit(source)))
    return found


def _line_entries(source: str, text: str) -> list[Entry]:
    """Entries of key lines: ``key = value``, ``key: value``, ``key<tab>value``, ``$KEY value``, many split by | or ;."""
    found = []
    section = ""
    for line in re.split(r"[\r\n]+|(?<=\S)\s*\|\s*(?=\S)|;\s+(?=[A-Za-z])", text):
        line = line.strip().lstrip("#;%/ ")
        if re.fullmatch(r"\[[^\[\]=]{1,60}\]", line):
            section = line[1:-1]
            continue
        match = (re.match(r"([^=:\t]{1,60}?)\s*=\s*(.+)", line) or re.match(r"([^:\t]{1,60}?)\s*:\s+(.+)", line)
                 or re.match(r"([A-Za-z][^:\t]{1,60}?)\s*:\s*(.+)", line)
                 or re.match(r"([^\t]{1,60}?)\t+(.+)", line)
                 or re.match(r"\$+(?:[A-Z]{2}_)?(\w+)\s+(.+)", line)
                 or re.fullmatch(r'"?([A-Za-z][\w .()\[\]/µ-]{0,59}?)"?\s*[,;]\s*"?([^,;"]{1,80}?)"?', line))
        if match:
            key = match.group(1).strip().strip("\"'")
            value = match.group(2).strip().rstrip(",;").strip("\"'")
            found.append(Entry(source=source, section=section, key=key, value=value, unit=key_unit(key)))
    return found


def _xml_entries(source: str, text: str) -> list[Entry]:
    """Entries of XML: elements, attributes, and elements that hold name and value or value and unit. [] when no XML.

    Texts that declare entities are left alone: nothing that a microscope writes needs them, and they can be bombs.
    """
    if "<!ENTITY" in text or "<!DOCTYPE" in text:
        return []
    end = text.rfind(">")
    try:
        root = ElementTree.fromstring(text[: end + 1])
    except (ElementTree.ParseError, ValueError):
        return []
    found: list[Entry] = []
    stack = [(root, "")]
    while stack and len(found) < MAX_ENTRIES:
        element, path = stack.pop()
        tag = _local(element.tag)
        attributes = {_local(key): value for key, value in element.attrib.items()}
        children = {_local(child.tag).lower(): (child.text or "").strip() for child in element}
        lower = {key.lower(): value for key, value in attributes.items()}
        key = lower.get("name") or lower.get("key") or lower.get("label") or lower.get("id") or children.get("name") or tag
        unit = lower.get("unit") or lower.get("units") or children.get("unit") or children.get("units") or ""
        value = (element.text or "").strip() or lower.get("value") or children.get("value") or ""
        if value:
            found.append(Entry(source=source, section=path, key=key, value=value, unit=unit or key_unit(key)))
        for name, content in attributes.items():
            beside = attributes.get(f"{name}Unit") or attributes.get(f"{name}Units") or ""
            if not beside and _local(root.tag) == "OME" and name.startswith("PhysicalSize"):
                beside = "µm"  # the default unit of the OME schema
            found.append(Entry(source=source, section=f"{path}/{tag}", key=name, value=content,
                               unit=beside or unit or key_unit(name)))
        stack += [(child, f"{path}/{key}") for child in reversed(element)]
    return found


def _local(tag: object) -> str:
    """Return an XML name without its namespace."""
    return str(tag).rsplit("}", 1)[-1]


def _json_entries(source: str, node: object) -> list[Entry]:
    """Entries of parsed JSON: leaves by their path; ``{"value": …, "unit": …}`` counts as one leaf."""
    found: list[Entry] = []
    stack: list[tuple[str, str, object]] = [("", "", node)]
    while stack and len(found) < MAX_ENTRIES:
        section, key, here = stack.pop()
        if isinstance(here, dict):
            lower = {str(name).lower(): value for name, value in here.items()}
            unit = lower.get("unit", lower.get("units", ""))
            if "value" in lower and isinstance(unit, str) and not isinstance(lower["value"], dict | list):
                found.append(Entry(source=source, section=section, key=key, value=str(lower["value"]),
                                   unit=unit or key_unit(key)))
            inner = f"{section}/{key}".strip("/")
            stack += [(inner, str(name), value) for name, value in reversed(here.items())]
        elif isinstance(here, list):
            plain = here and len(here) <= 4 and all(isinstance(value, int | float) for value in here)
            if plain:
                found.append(Entry(source=source, section=section, key=key, unit=key_unit(key),
                                   value=" x ".join(repr(value) for value in here[:2])))
            else:
                stack += [(section, key, value) for value in reversed(here[:100])]
        elif here is not None:
            value = repr(here) if isinstance(here, float) else str(here)
            found.append(Entry(source=source, section=section, key=key, value=value, unit=key_unit(key)))
    return found
