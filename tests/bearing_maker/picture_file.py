"""Picture files: 8- and 16-bit TIFF, PNG and JPEG, with the pixel size in the metadata where no bar states it."""

from pathlib import Path

import cv2
import numpy as np
import tifffile

OME = (
    '<?xml version="1.0" encoding="UTF-8"?><OME xmlns="http://www.openmicroscopy.org/Schemas/OME/2016-06">'
    '<Image ID="Image:0" Name="simulated"><Pixels ID="Pixels:0" DimensionOrder="XYCZT" Type="{type}" SizeX="{x}" SizeY="{y}" '
    'SizeC="1" SizeZ="1" SizeT="1" PhysicalSizeX="{size:.6g}" PhysicalSizeXUnit="{unit}" PhysicalSizeY="{size:.6g}" '
    'PhysicalSizeYUnit="{unit}"><Channel ID="Channel:0:0" SamplesPerPixel="1"/><TiffData/></Pixels></Image></OME>'
)


def write_picture(
    path: Path, grey: np.ndarray, bits: int, quality: int, description: str = "simulated micrograph"
) -> None:
    """Write grey values in 0 to 1; bits count for TIFF only, quality for JPEG only."""
    if path.suffix == ".tif":
        top, kind = (65535, np.uint16) if bits == 16 else (255, np.uint8)
        tifffile.imwrite(path, np.round(grey * top).astype(kind), description=description, metadata=None)
        return
    options = [cv2.IMWRITE_JPEG_QUALITY, quality] if path.suffix == ".jpg" else []
    if not cv2.imwrite(str(path), np.round(grey * 255).astype(np.uint8), options):
        raise OSError(f"{path}: can't be written")


def size_note(pixel_um: float, shape: tuple[int, int], bits: int, way: int) -> str:
    """Return a metadata text that states the pixel size: 0 plain µm, 1 plain nm, 2 OME in µm, 3 OME in nm."""
    if way == 0:
        return f"simulated micrograph; pixel size {pixel_um:.6g} um"
    if way == 1:
        return f"simulated micrograph; pixel size {pixel_um * 1000:.6g} nm"
    unit, size = ("nm", pixel_um * 1000) if way == 3 else ("&#181;m", pixel_um)
    return OME.format(type=f"uint{bits}", x=shape[1], y=shape[0], size=size, unit=unit)
