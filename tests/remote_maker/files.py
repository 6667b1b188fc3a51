"""Writing pictures: 8 and 16 bits, TIFF, PNG and JPEG, with or without the pixel size in the metadata."""

from pathlib import Path

import cv2
import numpy as np
import tifffile

from .randomness import Rng

KINDS = ("tif8", "tif16", "png8", "png16", "jpg")
KIND_WEIGHTS = (0.22, 0.22, 0.28, 0.1, 0.18)


def write_picture(folder: Path, stem: str, grey: np.ndarray, kind: str, statement: str, rng: Rng) -> str:
    """Write grey 0-1 as a file of the kind, ``statement`` as its description where TIFF carries one; return its name."""
    top = 65535 if kind.endswith("16") else 255
    values = np.clip(np.rint(grey * top), 0, top).astype(np.uint16 if top > 255 else np.uint8)
    name = f"{stem}.{kind.rstrip('0123456789')}"
    if kind.startswith("tif"):
        pack = {"compression": "zlib"} if rng.random() < 0.4 else {}
        tifffile.imwrite(folder / name, values, description=statement or "simulated micrograph", metadata=None, **pack)
    else:
        options = [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(82, 97))] if kind == "jpg" else []
        if not cv2.imwrite(str(folder / name), values, options):
            raise OSError(f"{folder / name}: could not be written")
    return name


def statement_of(pixel_um: float, shape: tuple[int, int], kind: str, rng: Rng) -> str:
    """Return a description that states the pixel size, as plain text or as OME-XML."""
    if rng.random() < 0.5:
        return f"simulated micrograph\npixel size {pixel_um:g} um"
    depth = "uint16" if kind.endswith("16") else "uint8"
    return (
        '<?xml version="1.0" encoding="UTF-8"?>'
        '<OME xmlns="http://www.openmicroscopy.org/Schemas/OME/2016-06">'
        '<Image ID="Image:0" Name="simulated micrograph">'
        f'<Pixels ID="Pixels:0" DimensionOrder="XYCZT" Type="{depth}" SizeX="{shape[1]}" SizeY="{shape[0]}" SizeC="1" '
        f'SizeZ="1" SizeT="1" PhysicalSizeX="{pixel_um:g}" PhysicalSizeXUnit="um" PhysicalSizeY="{pixel_um:g}" '
        'PhysicalSizeYUnit="um"><Channel ID="Channel:0:0" SamplesPerPixel="1"/><TiffData/></Pixels></Image></OME>'
    )


def write_mask(folder: Path, stem: str, codes: np.ndarray) -> None:
    """Write the codes as an 8-bit PNG of the same stem in the folder's ``masks``."""
    (folder / "masks").mkdir(exist_ok=True)
    if not cv2.imwrite(str(folder / "masks" / f"{stem}.png"), codes):
        raise OSError(f"{folder / 'masks' / stem}.png: could not be written")
