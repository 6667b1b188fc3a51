"""The faces that data bars are lettered in: free fonts, of those that are installed."""

from functools import lru_cache
from pathlib import Path

import matplotlib
from PIL import ImageFont

FACES = (
    "DejaVuSans", "DejaVuSans-Bold", "DejaVuSansMono", "DejaVuSerif", "DejaVuSansCondensed", "DejaVuSansMono-Bold",
    "LiberationSans-Regular", "LiberationSans-Bold", "LiberationMono-Regular", "LiberationSerif-Regular",
    "LiberationSansNarrow-Regular", "LiberationSans-Italic", "LiberationSansNarrow-Bold", "LiberationMono-Bold",
    "LiberationSerif-Bold",
)  # fmt: skip
"""Own choice."""


@lru_cache
def installed_faces() -> tuple[str, ...]:
    """Return the files of the faces that are installed, in the order of ``FACES``; where none is, those that come with
    matplotlib."""
    found = [path for path in (_installed(face) for face in FACES) if path]
    shipped = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    return tuple(found or [str(shipped / f"{face}.ttf") for face in FACES if (shipped / f"{face}.ttf").is_file()])


def _installed(face: str) -> str:
    """Return a face's file as the drawing library finds it, empty where there is none."""
    try:
        return str(ImageFont.truetype(f"{face}.ttf", 12).path)
    except OSError:
        return ""


@lru_cache(maxsize=64)
def font(file: str, size_px: int) -> ImageFont.FreeTypeFont:
    """Return a face in a size."""
    return ImageFont.truetype(file, size_px)
