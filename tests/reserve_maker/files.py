"""Writing pictures: TIFF, PNG and JPEG, 8 or 16 bits, with a description that says simulated and may state the scale."""

from pathlib import Path

import numpy as np
import tifffile
from PIL import Image, PngImagePlugin

SIMULATED = "simulated micrograph, no real specimen"


def ome_xml(shape: tuple[int, int], pixel_size_um: float, bits: int) -> str:
    """Return a minimal OME-XML description that states the physical pixel size."""
    rows, cols = shape
    return (
        '<?xml version="1.0" encoding="UTF-8"?><OME xmlns="http://www.openmicroscopy.org/Schemas/OME/2016-06">'
        f'<Image ID="Image:0" Name="{SIMULATED}"><Pixels ID="Pixels:0" DimensionOrder="XYCZT" Type="uint{bits}" '
        f'SizeX="{cols}" SizeY="{rows}" SizeC="1" SizeZ="1" SizeT="1" PhysicalSizeX="{pixel_size_um:.6g}" '
        f'PhysicalSizeXUnit="um" PhysicalSizeY="{pixel_size_um:.6g}" PhysicalSizeYUnit="um">'
        '<Channel ID="Channel:0:0" SamplesPerPixel="1"/><TiffData/></Pixels></Image></OME>'
    )


def describe(shape: tuple[int, int], pixel_size_um: float, bits: int, wording: str) -> str:
    """Return a description; wording: ome, phrase (micrometres), phrase nm, or silent (no scale)."""
    if wording == "ome":
        return ome_xml(shape, pixel_size_um, bits)
    if wording == "phrase":
        return f"{SIMULATED}; pixel size {pixel_size_um:.5g} um"
    if wording == "phrase nm":
        return f"{SIMULATED}\npixel size = {pixel_size_um * 1000:.5g} nm"
    return SIMULATED


def write_picture(path: Path, grey: np.ndarray, bits: int, description: str) -> None:
    """Write grey values, (rows, cols) from 0 to 1, as the path's suffix says."""
    top = 2**bits - 1
    pixels = np.round(np.clip(grey, 0, 1) * top).astype(np.uint16 if bits == 16 else np.uint8)
    if path.suffix == ".tif":
        tifffile.imwrite(
            path,
            pixels,
            photometric="minisblack",
            description=description.encode(),
            metadata=None,
            software="reserve maker",
        )
    elif path.suffix == ".png":
        info = PngImagePlugin.PngInfo()
        info.add_text("Description", description)
        Image.fromarray(pixels).save(path, pnginfo=info, compress_level=4)
    else:
        Image.fromarray(pixels).save(path, quality=90, comment=description.encode())
