"""Texts that came with a picture: tags, comments and sidecar files, decoded leniently and kept within bounds."""

import re
from pathlib import Path

SIDECAR_SUFFIXES = (".txt", ".ini", ".xml", ".json", ".hdr", ".csv")
"""Suffixes of text files of the picture's own name that may speak about it."""

MAX_TEXT_BYTES = 1 << 20
"""Longest text that is kept, bytes: a limit of this project."""

MAX_NUMBERS = 16
"""Most numbers of a numeric tag that are kept."""

STRUCTURAL_TAGS = frozenset({
    273, 279, 288, 289, 301, 318, 319, 320, 324, 325, 330, 347, 519, 520, 521, 34377, 34665, 34675,
})
"""TIFF tags that only tell where and how pixels are stored; they say nothing about the specimen."""

FIRST_PRIVATE_TAG = 32768
"""TIFF 6.0: tags from here on are private; they are kept by number, from their raw bytes."""


def text_from_bytes(value: bytes) -> str:
    """Return bytes as text when they are text, else "".

    UTF-8 is tried first, then UTF-16 where every other byte is zero, then Latin-1. Numbers in front of or behind a text
    (some instruments store both in one tag) are cut off.

    >>> text_from_bytes(b"Pixel Size = 0.5 \\xb5m\\x00")
    'Pixel Size = 0.5 µm'
    """
    value = value[:MAX_TEXT_BYTES]
    if value[:8] in (b"UNICODE\0", b"ASCII\0\0\0"):  # EXIF UserComment
        value = value[8:]
    if len(value) >= 4 and value[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return _printable(value.decode("utf-16", errors="ignore"))
    sample = value[:400]
    if len(sample) >= 8 and sample[1::2].count(0) > 0.4 * len(sample[1::2]) and sample[::2].count(0) < 3:
        return _printable(value.decode("utf-16-le", errors="ignore"))
    try:
        text = value.decode("utf-8")
    except UnicodeDecodeError:
        text = value.decode("latin-1")
    return _printable(text)


def _printable(text: str) -> str:
    """Return the readable part of a text: all of it, or its long runs of printable characters among bytes."""
    text = text.strip("\0 \r\n\t")
    if not text:
        return ""
    odd = sum(1 for character in text[:4000] if not (character.isprintable() or character in "\r\n\t"))
    if odd == 0:
        return text
    runs = re.findall(r"[\x20-\x7e\xa0-\u04ff\u2000-\u22ff\r\n\t]{16,}", text)
    return "\n".join(runs).strip() if sum(map(len, runs)) > 0.3 * len(text) else ""


def tiff_tag_texts(page, data: bytes) -> dict[str, str]:
    """Return the tags of a tifffile page as texts: baseline tags by name, private ones as ``tag <number>``."""
    texts: dict[str, str] = {}
    for tag in page.tags:
        if tag.code in STRUCTURAL_TAGS:
            continue
        private = tag.code >= FIRST_PRIVATE_TAG
        name = f"tag {tag.code}" if private else tag.name
        text = ""
        if int(tag.dtype) in (1, 2, 6, 7) and (private or tag.valuebytecount > 8):  # BYTE, ASCII, SBYTE, UNDEFINED
            text = text_from_bytes(data[tag.valueoffset:tag.valueoffset + min(tag.valuebytecount, MAX_TEXT_BYTES)])
        else:
            value = tag.value
            if isinstance(value, str):
                text = value.strip("\0 \r\n\t")[:MAX_TEXT_BYTES]
            elif isinstance(value, bytes):
                text = text_from_bytes(value)
            elif isinstance(value, (tuple, list)):
                text = " ".join(str(part) for part in value[:MAX_NUMBERS])
            elif isinstance(value, (int, float)):
                text = str(int(value)) if isinstance(value, int) else repr(value)
        if text:
            texts[name] = text
    return texts


def aspect_from_density(horizontal: object, vertical: object) -> float | None:
    """Return height over width of a pixel from its horizontal and vertical density (pixels per any length).

    Densities are numbers or (numerator, denominator). None when they are missing, zero, or further apart than 2 to 1.

    >>> round(aspect_from_density(75, 68), 3)
    1.103
    """
    values = []
    for density in (horizontal, vertical):
        try:
            number = density[0] / density[1] if isinstance(density, tuple) else float(density)
        except (TypeError, ZeroDivisionError, IndexError, ValueError):
            return None
        values.append(number)
    if min(values) <= 0:
        return None
    aspect = values[0] / values[1]
    return aspect if 0.5 <= aspect <= 2.0 else None


def sidecar_texts(path: Path) -> dict[str, str]:
    """Return the texts of sidecar files (same name, a suffix of SIDECAR_SUFFIXES) that look like keys with values.

    Tried are ``name.txt``, ``name.tif.txt`` and ``name-tif.txt`` for a picture ``name.tif``. What can't be read is left
    out: a sidecar never stops a picture from being read.
    """
    texts: dict[str, str] = {}
    stems = (path.stem, path.name, f"{path.stem}-{path.suffix[1:]}")
    for stem in stems:
        for suffix in SIDECAR_SUFFIXES:
            for candidate in (path.with_name(stem + suffix), path.with_name(stem + suffix.upper())):
                try:
                    if candidate == path or not candidate.is_file() or candidate.stat().st_size > MAX_TEXT_BYTES:
                        continue
                    text = text_from_bytes(candidate.read_bytes())
                except (OSError, ValueError):
                    continue
                if looks_like_keys_and_values(text):
                    texts[f"sidecar {candidate.name}"] = text
    return texts


def looks_like_keys_and_values(text: str) -> bool:
    """Tell whether a text is a list of keys with values, XML or JSON, and not a table or prose.

    >>> looks_like_keys_and_values("PixelSize=0.25 um\\nkV=15"), looks_like_keys_and_values("a, b, c\\n1, 2, 3")
    (True, False)
    """
    stripped = text.lstrip("\ufeff \r\n\t")
    if stripped[:1] in ("<", "{"):
        return True
    lines = [line.strip()[:300] for line in stripped.splitlines() if line.strip()][:500]
    paired = [line for line in lines if re.fullmatch(r"\[.*\]|[#;].*", line)
              or re.match(r"[\w$ ./()\[\]µ°%-]{1,60}\s*[=:]\s*\S?", line)
              or re.match(r"\$+\w+\s+\S", line)
              or re.fullmatch(r'"?[\w .()/µ-]{1,60}"?\s*[,;\t]\s*"?[^,;\t"]{1,80}"?', line)
              or re.fullmatch(r"[A-Z]{2,3}_[A-Z0-9_]+", line)]
    return bool(lines) and len(paired) >= 0.6 * len(lines)
