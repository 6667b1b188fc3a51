"""Files of simulated micrographs: TIFF, PNG and JPEG, with or without metadata that state the pixel size.

Metadata are written in the open forms that a reader must know: OME-XML (the Open Microscopy Environment's schema),
key lines, XML, JSON, resolution tags (TIFF 6.0, section 8; PNG pHYs) and a text file beside the picture. Every file says
that it is simulated.
"""

import hashlib
import json
from pathlib import Path
from xml.sax.saxutils import quoteattr

import numpy as np

METADATA_KINDS = ("none", "ome", "ini", "xml", "json", "resolution", "sidecar")
"""Ways to state the pixel size in a file; ``none`` states nothing at all."""

SUFFIXES = (".tif", ".png", ".jpg")
PRIVATE_TEXT_TAG = 65010
"""TIFF tag (in the range left to private use by TIFF 6.0) that holds the text in half of the TIFF files."""

MARK = "simulated micrograph, invented laboratory"
DOTS_PER_INCH_OF_PAPER = 96
"""Print density written into files whose resolution states nothing about the specimen."""


def write_micrograph(path: Path, image: np.ndarray, *, pixel_size_um: float, metadata: str = "none", kv: float = np.nan,
                     detector: str = "", tilt_deg: float = np.nan, form: int = 0, jpeg_quality: int = 92) -> list[Path]:
    """Write ``image`` and return the files written (the sidecar text included).

    image: (rows, cols) or (rows, cols, 3), uint8 or uint16; the suffix of ``path`` chooses TIFF, PNG or JPEG.
    ``metadata`` is one of METADATA_KINDS; ``form`` (any integer) chooses among the wordings of a kind. Facts that are
    nan or "" are left out. Square pixels. The same picture under the same name becomes the same bytes.

    Raises ValueError for what the file type can't hold: 16 bits or a specimen's resolution in JPEG, OME-XML outside TIFF.

    >>> import tempfile
    >>> target = Path(tempfile.mkdtemp()) / "field.tif"
    >>> [written.name for written in write_micrograph(target, np.zeros((4, 5), np.uint8), pixel_size_um=0.5)]
    ['field.tif']
    """
    path = Path(path)
    suffix = path.suffix.lower().replace(".tiff", ".tif").replace(".jpeg", ".jpg")
    if metadata not in METADATA_KINDS or suffix not in SUFFIXES:
        raise ValueError(f"{path.name}, {metadata!r}: write {', '.join(SUFFIXES)} with {', '.join(METADATA_KINDS)}")
    if suffix == ".jpg" and (image.dtype != np.uint8 or metadata == "resolution"):
        raise ValueError(f"{path.name}: JPEG holds neither 16 bits nor a specimen's resolution; write .tif or .png")
    if suffix != ".tif" and metadata == "ome":
        raise ValueError(f"{path.name}: OME-XML belongs into .tif")
    facts = _stated(pixel_size_um, kv, detector, tilt_deg, form)
    text = {"ini": _key_lines, "sidecar": _key_lines, "xml": _xml, "json": _json}.get(metadata, lambda _: "")(facts)
    written = [path]
    if metadata == "sidecar":
        beside = path.with_suffix(".txt")
        beside.write_text(text, encoding="utf-8")
        written.append(beside)
        text = ""
    if suffix == ".tif":
        _write_tiff(path, image, pixel_size_um, metadata, text, form)
    else:
        _write_with_pillow(path, image, pixel_size_um, metadata, text, jpeg_quality)
    return written


def _stated(pixel_size_um: float, kv: float, detector: str, tilt_deg: float, form: int) -> dict:
    unit, factor = [("\u00b5m", 1.0), ("nm", 1000.0), ("m", 1e-6), ("um", 1.0)][form % 4]
    stated = {"Status": MARK, "Pixel Size": (f"{pixel_size_um * factor:.7g}", unit)}
    if not np.isnan(kv):
        stated["Accelerating Voltage"] = (f"{kv:g}", "kV")
    if detector:
        stated["Detector"] = detector
    if not np.isnan(tilt_deg):
        stated["Stage Tilt"] = (f"{tilt_deg:.2f}", "deg")
    return stated


def _key_lines(facts: dict) -> str:
    lines = ["[Micrograph]"]
    for key, value in facts.items():
        lines.append(f"{key} = {value if isinstance(value, str) else ' '.join(value)}")
    return "\n".join(lines) + "\n"


def _xml(facts: dict) -> str:
    lines = ['<?xml version="1.0" encoding="UTF-8"?>', "<Micrograph>"]
    for key, value in facts.items():
        name = key.replace(" ", "")
        if isinstance(value, str):
            lines.append(f"  <{name} value={quoteattr(value)}/>")
        else:
            lines.append(f"  <{name} value={quoteattr(value[0])} unit={quoteattr(value[1])}/>")
    return "\n".join([*lines, "</Micrograph>"])


def _json(facts: dict) -> str:
    content = {key.lower().replace(" ", "_"): value if isinstance(value, str) else {"value": float(value[0]), "unit": value[1]}
               for key, value in facts.items()}
    return json.dumps(content, ensure_ascii=False, indent=1)


def _write_tiff(path: Path, image: np.ndarray, pixel_size_um: float, metadata: str, text: str, form: int) -> None:
    import uuid

    import tifffile

    options: dict = {"photometric": "rgb" if image.ndim == 3 else "minisblack", "compression": "zlib", "software": MARK,
                     "predictor": True, "resolution": (DOTS_PER_INCH_OF_PAPER,) * 2, "resolutionunit": "INCH"}
    if metadata == "ome":
        options |= {"ome": True, "metadata": {
            "axes": "YXS" if image.ndim == 3 else "YX", "Name": MARK,
            # Made of name and pixels: the writer's own is new in every run, and the same seed writes the same files.
            "UUID": str(uuid.uuid5(uuid.NAMESPACE_OID, f"{path.name} {hashlib.sha256(image.tobytes()).hexdigest()}")),
            "PhysicalSizeX": pixel_size_um, "PhysicalSizeXUnit": "\u00b5m",
            "PhysicalSizeY": pixel_size_um, "PhysicalSizeYUnit": "\u00b5m"}}
    else:
        options["metadata"] = None
    if metadata == "resolution":
        options |= {"resolution": (1e4 / pixel_size_um,) * 2, "resolutionunit": "CENTIMETER"}
    if text and form % 2:
        options["extratags"] = [(PRIVATE_TEXT_TAG, 2, 0, text.encode() + b"\0", True)]
    elif text:
        options["description"] = text.encode()
    tifffile.imwrite(path, image, **options)


def _write_with_pillow(path: Path, image: np.ndarray, pixel_size_um: float, metadata: str, text: str,
                       jpeg_quality: int) -> None:
    from PIL import Image
    from PIL.PngImagePlugin import PngInfo

    picture = Image.fromarray(image)
    if path.suffix.lower() != ".png":
        picture.save(path, "JPEG", quality=jpeg_quality, comment=(text or MARK).encode())
        return
    info = PngInfo()
    info.add_text("Software", MARK)
    if text:
        info.add_itxt("Description", text)
    options = {"dpi": (25400 / pixel_size_um,) * 2} if metadata == "resolution" else {}
    picture.save(path, "PNG", pnginfo=info, optimize=False, compress_level=6, **options)
