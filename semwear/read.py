"""Pictures from files: the only module that opens a picture file.

Reads TIFF (8, 16, 32 bit, float, palette, RGB, tiled, BigTIFF, multi-page), PNG, JPEG, BMP and JPEG 2000, told apart
by their first bytes and not by their names. Sixteen bits stay sixteen bits, orientation tags are honoured, and every
tag or text that came with the picture is kept (see :mod:`semwear.picture_text`).
"""

import hashlib
import io
import os
import warnings
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from semwear.errors import ReadError
from semwear.picture_text import aspect_from_density, sidecar_texts, text_from_bytes, tiff_tag_texts

PICTURE_SUFFIXES = (".tif", ".tiff", ".btf", ".png", ".jpg", ".jpeg", ".jpe", ".bmp", ".jp2", ".j2k", ".jpx")
"""Suffixes, in lower case, of the files that a folder walk takes for pictures."""

MAX_FILE_BYTES = 1 << 30
"""Largest file that is read, bytes: a limit of this project, far above any single field."""

MAX_PIXELS = 120_000_000
"""Largest picture that is decoded, pixels: guards against small files that unpack to huge pictures."""

MIN_SIDE_PX = 64
"""Shortest side of a picture that can be a field, px."""

LUMA = (0.299, 0.587, 0.114)
"""Shares of red, green and blue in brightness (ITU-R BT.601)."""
STRONG_CHROMA, STRONG_CHROMA_SHARE = 24, 0.15
WEAK_CHROMA, WEAK_CHROMA_SHARE = 12, 0.5
"""A picture is a colour photograph when more than the share of its pixels differ by more than the chroma (of 255)
between their channels. Coloured marks on a grey micrograph stay below (common practice, no source)."""

TINT_SHARE, TINT_SPREAD, TINT_PX = 0.97, 8, 200_000
"""A picture is a tinted micrograph when this share of its pixels has, within this distance in each channel (of 255), the colour that
goes with its brightness; from how many pixels that is told."""

ONE_COLOUR = 8
"""Distance in each channel (of 255) within which pixels have one colour, as those of a tinted strip have."""


@dataclass(frozen=True, kw_only=True)
class Micrograph:
    """A picture as it came from its file, upright.

    ``pixels``: (rows, cols) grey in its native range, uint8, uint16 or float32; ``black_level`` and ``white_level``:
    the values that stand for 0 and full scale; ``rgb``: (rows, cols, 3) uint8, or None when the picture is grey
    throughout; ``metadata``: every tag or text that came along; ``pixel_aspect``: height over width of a pixel, None
    when the file does not say; ``pages``: number of pages as large as this one, small previews not counted; ``file``: the
    name that rows carry.
    """

    path: Path
    file: str
    sha256: str
    pixels: np.ndarray
    white_level: float
    black_level: float = 0.0
    rgb: np.ndarray | None = None
    metadata: dict[str, str] = field(default_factory=dict)
    pixel_aspect: float | None = None
    pages: int = 1


@dataclass(frozen=True, kw_only=True)
class _Decoded:
    """What a decoder hands over: array (rows, cols) or (rows, cols, 3), and what the file says about it."""

    array: np.ndarray
    metadata: dict[str, str]
    orientation: int = 1
    pixel_aspect: float | None = None
    pages: int = 1
    white_level: float | None = None


NOT_PICTURES = ("masks", "overlays")
"""Folders beside pictures that hold their masks or overlays; walking a folder passes them over."""


def find_pictures(paths: Iterable[str | os.PathLike]) -> list[tuple[Path, str]]:
    """Return every picture under ``paths`` with the name it goes by: the path as given, with forward slashes.

    Folders are walked, sorted by name; hidden files and folders, results folders and files without a picture's suffix
    are passed over. A path that is named itself is always returned, also when it does not exist or is no picture, so
    that reading it says what is wrong. A folder that can't be listed is returned in place of its pictures.
    """
    found: dict[str, Path] = {}
    for given in paths:
        path = Path(given)
        if not path.is_dir():
            found.setdefault(path.as_posix(), path)
            continue
        unlisted: list[Path] = []
        for folder, folders, files in os.walk(path, onerror=lambda error, _u=unlisted: _u.append(Path(error.filename))):
            folders[:] = sorted(name for name in folders if not name.startswith(".") and name not in NOT_PICTURES)
            if {"run.json", "fields.csv"} <= set(files):
                folders.clear()
                continue
            for name in sorted(files):
                if not name.startswith(".") and Path(name).suffix.lower() in PICTURE_SUFFIXES:
                    inside = Path(folder) / name
                    found.setdefault(inside.as_posix(), inside)
        for folder in unlisted:
            found.setdefault(folder.as_posix(), folder)
    return [(path, name) for name, path in found.items()]


def read_micrograph(path: str | os.PathLike, *, file: str | None = None, page: int = 1) -> Micrograph:
    """Read a picture file.

    ``file`` is the name that rows carry (the path as given when None); ``page`` is the one that is read of a file with
    several, the first is 1.
    Raises ReadError with one sentence when the file can't be read, is no picture, or can't be a micrograph: too small,
    too large, of one grey value, a colour photograph, or with values that are not numbers.
    """
    path = Path(path)
    name = path.as_posix() if file is None else file
    data = _file_bytes(path, name)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            decoded = _decode(data, name, page)
    except ReadError:
        raise
    except Exception as error:  # decoders raise errors of many kinds on damaged files
        what = " ".join(str(error).split())[:120] or type(error).__name__
        raise ReadError(f"{name}: the picture is damaged or incomplete ({what}); copy it again from the "
                        "instrument.") from error
    array = _upright(decoded.array, decoded.orientation)
    aspect = decoded.pixel_aspect
    if aspect is not None and decoded.orientation >= 5:
        aspect = 1.0 / aspect
    _check_size(array.shape, name)
    pixels, rgb, black, white = _grey(array, name)
    if pixels.min() == pixels.max():
        shade = {black: "black", white: "white"}.get(float(pixels.flat[0]), "one grey value")
        raise ReadError(f"{name}: the picture is {shade} throughout; export the micrograph again.")
    return Micrograph(
        path=path, file=name, sha256=hashlib.sha256(data).hexdigest(), pixels=pixels, black_level=black,
        white_level=decoded.white_level or white, rgb=rgb,
        metadata={**decoded.metadata, **sidecar_texts(path)}, pixel_aspect=aspect, pages=decoded.pages,
    )


def read_mask(path: str | os.PathLike) -> np.ndarray:
    """Return the codes of an index picture as they are stored, (rows, cols) uint8: palette indices or grey values.

    Raises ReadError for what is no picture of one 8-bit channel.
    """
    from PIL import Image

    name = Path(path).as_posix()
    data = _file_bytes(Path(path), name)
    try:
        with Image.open(io.BytesIO(data)) as picture:
            if picture.mode not in ("L", "P", "1"):
                raise ReadError(f"{name}: a mask has one 8-bit channel and this picture is {picture.mode}; save it as an "
                                "index PNG.")
            return np.array(picture, dtype=np.uint8)
    except (OSError, SyntaxError, ValueError) as error:
        raise ReadError(f"{name}: the mask can't be read ({' '.join(str(error).split())[:120]}); save it again.") from error


def _file_bytes(path: Path, name: str) -> bytes:
    """Return the bytes of a file within the size limit; raises ReadError."""
    try:
        if path.is_dir():
            os.listdir(path)
            raise ReadError(f"{name}: this is a folder where a picture was expected; name the pictures inside it.")
        size = path.stat().st_size
        if size > MAX_FILE_BYTES:
            raise ReadError(f"{name}: the file has {size / 1e9:.1f} GB, the limit is {MAX_FILE_BYTES / 1e9:.1f} GB; "
                            "export single fields.")
        data = path.read_bytes()
    except FileNotFoundError as error:
        raise ReadError(f"{name}: no such file; check the name, or whether the folder was moved.") from error
    except PermissionError as error:
        raise ReadError(f"{name}: no permission to read it; change its access rights.") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ReadError(f"{name}: it can't be opened ({reason}); check the name and the drive.") from error
    if not data:
        raise ReadError(f"{name}: the file is empty (0 bytes); copy it again from the instrument.")
    return data


def _decode(data: bytes, name: str, page: int) -> _Decoded:
    """Choose the decoder by the file's first bytes."""
    if data[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        return _decode_tiff(data, name, page)
    if page != 1:
        raise ReadError(f"{name}: page {page} was asked for, but this kind of file has one page; leave the page out.")
    if data[:8] == b"\x89PNG\r\n\x1a\n" or data[:3] == b"\xff\xd8\xff" or (data[:2] == b"BM" and len(data) > 26):
        return _decode_pillow(data, name)
    if data[4:12] == b"jP  \r\n\x87\n" or data[:4] == b"\xff\x4f\xff\x51":
        return _decode_pillow(data, name)
    raise ReadError(f"{name}: this is no picture of a known kind (TIFF, PNG, JPEG, BMP, JPEG 2000); export the "
                    "micrograph as TIFF or PNG.")


def _decode_tiff(data: bytes, name: str, page: int) -> _Decoded:
    """Decode one page of a TIFF with tifffile; damage that tifffile only logs counts as damage."""
    import tifffile

    with tifffile.TiffFile(io.BytesIO(data)) as tiff:
        pages = len(tiff.pages)
        if not 1 <= page <= pages:
            raise ReadError(f"{name}: page {page} was asked for, but the file has {pages}; state another page.")
        leaf = tiff.pages[page - 1].aspage()
        axes = leaf.axes.replace("S", "C")
        samples = leaf.samplesperpixel
        _check_size((leaf.imagelength, leaf.imagewidth), name)
        if leaf.imagedepth != 1 or samples > 8:
            raise ReadError(f"{name}: this is a stack of pictures and not one field; export one field as TIFF.")
        if leaf.imagelength * leaf.imagewidth * samples * leaf.bitspersample > 8 * 16 * MAX_PIXELS:
            raise ReadError(f"{name}: the picture unpacks to too many bytes; export it as 8 or 16 bit grey.")
        if leaf.bitspersample == 1:
            raise ReadError(f"{name}: the picture has only black and white and no greys; export the micrograph itself.")
        _check_strips(leaf, len(data), name)
        array = leaf.asarray()
        metadata = tiff_tag_texts(leaf, data)
        if page > 1 and tiff.pages[0].shape == leaf.shape:  # what is said once for all pages stands with the first
            metadata = {**tiff_tag_texts(tiff.pages[0], data), **metadata}
        tags = leaf.tags
        orientation = int(tags.valueof(274, 1)) if tags.valueof(274, 1) in range(1, 9) else 1
        photometric = int(leaf.photometric)
        if photometric == 3:
            palette = (np.asarray(leaf.colormap) >> 8).astype(np.uint8).T
            grey = (palette == palette[:, :1]).all()
            array, axes = (palette[:, 0][array], "YX") if grey else (palette[array], "YXC")
        elif photometric == 0:
            array = np.iinfo(array.dtype).max - array if leaf.bitspersample in (8, 16, 32) else (
                (1 << leaf.bitspersample) - 1 - array)
        if axes.startswith("C") and array.ndim == 3:
            array = np.moveaxis(array, 0, 2)
        white = None
        if leaf.bitspersample < 8 and photometric != 3:
            array = (array.astype(np.uint16) * 255 // ((1 << leaf.bitspersample) - 1)).astype(np.uint8)
        elif 8 < leaf.bitspersample < 16:
            white = float((1 << leaf.bitspersample) - 1)
        density = (leaf.tags.valueof(282), leaf.tags.valueof(283))
        alike = sum(other.shape == leaf.shape for other in tiff.pages)
        return _Decoded(array=array, metadata=metadata, orientation=orientation, pages=alike, white_level=white,
                        pixel_aspect=aspect_from_density(*density))


def _check_strips(leaf, size: int, name: str) -> None:
    """Raise ReadError when a strip or tile of the page lies beyond the end of the file."""
    ends = [offset + count for offset, count in zip(leaf.dataoffsets, leaf.databytecounts, strict=False) if count]
    if not ends or max(ends) > size:
        raise ReadError(f"{name}: the file breaks off before the picture ends; copy it again from the instrument.")


def _decode_pillow(data: bytes, name: str) -> _Decoded:
    """Decode PNG, JPEG, BMP or JPEG 2000: texts and 8 bits by Pillow, 16 bits by imagecodecs."""
    from PIL import Image, UnidentifiedImageError

    try:
        picture = Image.open(io.BytesIO(data), formats=("PNG", "JPEG", "BMP", "DIB", "JPEG2000", "MPO"))
    except UnidentifiedImageError as error:
        raise ReadError(f"{name}: the head of the picture is damaged; copy it again from the instrument.") from error
    except Image.DecompressionBombError as error:
        raise ReadError(f"{name}: the picture has far more than {MAX_PIXELS} pixels; export single fields.") from error
    with picture:
        _check_size((picture.height, picture.width), name)
        if picture.mode == "1":
            raise ReadError(f"{name}: the picture has only black and white and no greys; export the micrograph itself.")
        if picture.format == "JPEG2000":
            import imagecodecs

            array = imagecodecs.jpeg2k_decode(data)
        else:
            picture.load()  # raises on damage, and texts may stand behind the pixels
            array = _pillow_pixels(picture, data)
        metadata, orientation, density = _pillow_texts(picture)
    return _Decoded(array=array, metadata=metadata, orientation=orientation,
                    pixel_aspect=aspect_from_density(*density))


def _pillow_pixels(picture, data: bytes) -> np.ndarray:
    """Return the pixels of a loaded PNG, JPEG or BMP without loss: (rows, cols) or (rows, cols, 3)."""
    if picture.format == "PNG" and data[24] == 16:
        import imagecodecs

        return imagecodecs.png_decode(data)
    if picture.mode in ("L", "LA"):
        return np.asarray(picture.convert("L"))
    if picture.mode == "P":
        palette = np.zeros((256, 3), np.uint8)
        entries = np.array(picture.getpalette("RGB"), np.uint8).reshape(-1, 3)
        palette[: len(entries)] = entries
        grey = (palette == palette[:, :1]).all()
        return palette[:, 0][np.asarray(picture)] if grey else palette[np.asarray(picture)]
    return np.asarray(picture.convert("RGB"))


def _pillow_texts(picture) -> tuple[dict[str, str], int, tuple[object, object]]:
    """Return texts, EXIF orientation and the (x, y) density of an opened Pillow picture."""
    from PIL import ExifTags

    texts: dict[str, str] = {}
    for key, value in picture.info.items():
        if key in ("exif", "icc_profile", "photoshop", "transparency", "jfif", "jfif_version"):
            continue
        text = text_from_bytes(value) if isinstance(value, bytes) else str(value)
        if text:
            texts[str(key)] = text
    exif = picture.getexif()
    entries = [(tag, value, ExifTags.TAGS) for tag, value in exif.items()]
    entries += [(tag, value, ExifTags.TAGS) for tag, value in exif.get_ifd(0x8769).items()]
    for tag, value, names in entries:
        text = text_from_bytes(value) if isinstance(value, bytes) else str(value)
        if text and tag != 0x8769:
            texts[f"exif {names.get(tag, f'tag {tag}')}"] = text
    for number, (marker, content) in enumerate(getattr(picture, "applist", [])):
        known = content.startswith((b"JFIF", b"Exif", b"ICC_PROFILE", b"Photoshop", b"Adobe", b"http://ns.adobe.com"))
        text = "" if known or marker == "COM" else text_from_bytes(content)
        if text:
            texts[f"{marker} {number}"] = text
    density = picture.info.get("jfif_density") or picture.info.get("aspect") or picture.info.get("dpi")
    if density is None:
        density = (exif.get(282), exif.get(283))
    orientation = exif.get(274, 1)
    return texts, orientation if orientation in range(1, 9) else 1, tuple(density)


def _upright(array: np.ndarray, orientation: int) -> np.ndarray:
    """Turn and mirror an array by the orientation number of TIFF 6.0 and EXIF (1 to 8)."""
    turned = {
        1: lambda a: a, 2: lambda a: a[:, ::-1], 3: lambda a: a[::-1, ::-1], 4: lambda a: a[::-1],
        5: lambda a: a.swapaxes(0, 1), 6: lambda a: np.rot90(a, -1), 7: lambda a: np.rot90(a, 2).swapaxes(0, 1),
        8: lambda a: np.rot90(a, 1),
    }[orientation](array)
    return np.ascontiguousarray(turned)


def _check_size(shape: tuple[int, ...], name: str) -> None:
    """Raise ReadError when a picture of ``shape`` (rows, cols, ...) is too small or too large to be a field."""
    rows, cols = shape[:2]
    if min(rows, cols) < MIN_SIDE_PX:
        raise ReadError(f"{name}: {cols} × {rows} px is too small for a field; at least {MIN_SIDE_PX} px a side are "
                        "needed.")
    if rows * cols > MAX_PIXELS:
        raise ReadError(f"{name}: {cols} × {rows} px is more than the limit of {MAX_PIXELS} pixels; export single "
                        "fields.")


def _grey(array: np.ndarray, name: str) -> tuple[np.ndarray, np.ndarray | None, float, float]:
    """Return grey pixels, RGB where there is colour, and the black and white level; raises ReadError."""
    if array.ndim == 3 and array.shape[2] in (1, 2):
        array = array[..., 0]
    if array.ndim == 3 and array.shape[2] in (3, 4):
        array = array[..., :3]
    elif array.ndim != 2:
        raise ReadError(f"{name}: an array of shape {array.shape} is not one picture; export one field as grey TIFF.")
    array, black, white = _native_range(array, name)
    if array.ndim == 2:
        return array, None, black, white
    eight = array if array.dtype == np.uint8 else np.clip(
        (array.astype(np.float32) - black) * (255.0 / (white - black)), 0, 255).astype(np.uint8)
    chroma = eight.max(axis=2) - eight.min(axis=2)
    if chroma.max() == 0:
        return np.ascontiguousarray(array[..., 1]), None, black, white
    eight = _without_tint(eight)
    chroma = eight.max(axis=2) - eight.min(axis=2)
    spread = chroma if chroma.mean() < 1 else np.where(_of_one_colour(eight, chroma), 0, chroma)
    if (spread > STRONG_CHROMA).mean() > STRONG_CHROMA_SHARE or (spread > WEAK_CHROMA).mean() > WEAK_CHROMA_SHARE:
        raise ReadError(f"{name}: this is a colour picture and not an electron micrograph; give the micrograph as the "
                        "instrument saved it, in grey.")
    luma = array.astype(np.float32) @ np.array(LUMA, np.float32)
    pixels = luma if array.dtype == np.float32 else np.rint(luma).astype(array.dtype)
    return pixels, (eight if chroma.max() > WEAK_CHROMA else None), black, white


def _without_tint(eight: np.ndarray) -> np.ndarray:
    """Return a picture (rows, cols, 3) uint8 in grey but for marks in other colours, if one tint goes with every brightness in it; else as it is."""
    from scipy.ndimage import median_filter

    luma = eight.astype(np.float32) @ np.array(LUMA, np.float32)
    step = max(1, int(np.sqrt(luma.size / TINT_PX)))
    seen = luma[::step, ::step].ravel()
    level, colours = (seen / 4).astype(int), eight[::step, ::step].reshape(-1, 3) - seen[:, None]
    tint = np.zeros((64, 3), np.float32)
    found = np.unique(level)
    tint[found] = median_filter([np.median(colours[level == number], axis=0) for number in found], (9, 1), mode="nearest")
    off = np.abs(colours - tint[level]).max(axis=1)
    coloured = (np.abs(colours).max(axis=1) > TINT_SPREAD).mean()
    if coloured < STRONG_CHROMA_SHARE or (off <= TINT_SPREAD).mean() < TINT_SHARE:
        return eight
    tinted = np.abs(eight - luma[..., None] - tint[(luma / 4).astype(int)]).max(axis=2) <= 3 * TINT_SPREAD
    return np.where(tinted[..., None], np.rint(luma)[..., None], eight).astype(np.uint8)


def _of_one_colour(eight: np.ndarray, chroma: np.ndarray) -> np.ndarray:
    """Return where a picture (rows, cols, 3) has the one colour that is commonest in it, as a tinted strip has: (rows, cols) bool.

    The colours of a colour picture change with its brightness.
    """
    coloured = eight[chroma > WEAK_CHROMA].astype(np.int32)
    if not len(coloured):
        return np.zeros(chroma.shape, bool)
    cells = coloured // 8
    commonest = np.bincount(cells[:, 0] * 1024 + cells[:, 1] * 32 + cells[:, 2]).argmax()
    middle = np.array([commonest // 1024, commonest // 32 % 32, commonest % 32]) * 8 + 4
    return (np.abs(eight.astype(np.int16) - middle.astype(np.int16)) <= ONE_COLOUR).all(axis=2)


def _native_range(array: np.ndarray, name: str) -> tuple[np.ndarray, float, float]:
    """Return the array as uint8, uint16 or float32 with its black and white level.

    Sixteen-bit pictures often hold 10, 12 or 14 bits: white is the smallest full scale that holds the maximum.
    """
    if array.dtype.kind == "f":
        array = array.astype(np.float32)
        bad = int(np.count_nonzero(~np.isfinite(array)))
        if bad:
            raise ReadError(f"{name}: {bad} of {array.size} values are no numbers (NaN or infinite); export the picture as "
                            "8 or 16 bit integers.")
        low, high = float(array.min()), float(array.max())
        return array, min(low, 0.0), 1.0 if low >= 0.0 and high <= 1.0 else high
    if array.dtype == np.uint8:
        return array, 0.0, 255.0
    if array.dtype.kind not in "iu":
        raise ReadError(f"{name}: pixels of type {array.dtype} are no greys; export the picture as 8 or 16 bit grey.")
    low, high = int(array.min()), int(array.max())
    if low < 0:
        array, low, high = array.astype(np.int64) - low, 0, high - low
    if array.dtype == np.int8 or (array.dtype.itemsize == 1):
        return array.astype(np.uint8), 0.0, 255.0
    if high > 65535:
        return array.astype(np.float32), 0.0, float(high)
    white = next(level for level in (1023, 4095, 16383, 65535) if high <= level)
    return array.astype(np.uint16), 0.0, float(white)
