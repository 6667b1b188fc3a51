"""Simulated files say what they were told to: read back with tifffile and Pillow, and by the package's own reader."""

import json
import re
import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest
import tifffile
from PIL import Image

from semwear.metadata_scale import facts_from_metadata
from semwear.read import read_micrograph
from semwear.simulate.files import METADATA_KINDS, PRIVATE_TEXT_TAG, write_micrograph

GREY = np.random.default_rng(0).integers(0, 256, (70, 80)).astype(np.uint8)
DEEP = GREY.astype(np.uint16) * 257
COLOUR = np.stack([GREY, GREY[::-1], GREY], axis=2)
UNITS = {"nm": 1e-3, "um": 1.0, "\u00b5m": 1.0, "m": 1e6}


@pytest.mark.parametrize("suffix", [".tif", ".png"])
@pytest.mark.parametrize("image", [GREY, DEEP], ids=["8 bits", "16 bits"])
@pytest.mark.parametrize("kind", METADATA_KINDS)
def test_pixels_come_back_unchanged(tmp_path, suffix, image, kind):
    if (suffix, kind) == (".png", "ome"):
        with pytest.raises(ValueError, match="OME-XML belongs"):
            write_micrograph(tmp_path / "a.png", image, pixel_size_um=0.5, metadata=kind)
        return
    path = write_micrograph(tmp_path / f"a{suffix}", image, pixel_size_um=0.5, metadata=kind)[0]
    back = tifffile.imread(path) if suffix == ".tif" else np.array(Image.open(path))
    assert back.dtype == image.dtype and (back == image).all()


def test_colour_comes_back_unchanged(tmp_path):
    for kind in ("none", "ome", "xml"):
        path = write_micrograph(tmp_path / "a.tif", COLOUR, pixel_size_um=0.5, metadata=kind)[0]
        assert (tifffile.imread(path) == COLOUR).all()


def test_ome_xml_states_the_physical_size(tmp_path):
    path = write_micrograph(tmp_path / "a.tif", GREY, pixel_size_um=0.3125, metadata="ome")[0]
    with tifffile.TiffFile(path) as tif:
        assert tif.is_ome
        pixels = ElementTree.fromstring(tif.ome_metadata).find(".//{*}Pixels").attrib
    assert (pixels["PhysicalSizeX"], pixels["PhysicalSizeY"], pixels["PhysicalSizeXUnit"]) == ("0.3125", "0.3125", "\u00b5m")


def test_the_same_picture_becomes_the_same_bytes_and_another_one_another_uuid(tmp_path):
    """RFC 9562, version 5: a UUID made of a name by SHA-1, so that equal names give equal UUIDs."""
    contents = []
    for folder, image in (("1", GREY), ("2", GREY), ("3", GREY[::-1])):
        (tmp_path / folder).mkdir()
        path = write_micrograph(tmp_path / folder / "a.tif", image, pixel_size_um=0.5, metadata="ome")[0]
        contents.append(path.read_bytes())
    uuids = [re.search(rb"urn:uuid:([0-9a-f-]{36})", content)[1] for content in contents]
    assert contents[0] == contents[1] and uuids[0] != uuids[2] and uuids[0][14:15] == b"5"


def test_resolution_is_in_pixels_per_centimetre_and_per_metre(tmp_path):
    path = write_micrograph(tmp_path / "a.tif", GREY, pixel_size_um=0.4, metadata="resolution")[0]
    with tifffile.TiffFile(path) as tif:
        tags = tif.pages[0].tags
        assert tags["XResolution"].value[0] / tags["XResolution"].value[1] == pytest.approx(25000)
        assert tags["ResolutionUnit"].value == 3  # TIFF 6.0: 3 is centimetre
    path = write_micrograph(tmp_path / "a.png", GREY, pixel_size_um=0.4, metadata="resolution")[0]
    chunk = path.read_bytes().split(b"pHYs")[1]  # PNG specification 11.3.4.3: pixels per metre, unit 1
    assert int.from_bytes(chunk[:4], "big") == pytest.approx(2_500_000, rel=1e-6) and chunk[8] == 1


def test_without_metadata_no_number_is_a_scale(tmp_path):
    path = write_micrograph(tmp_path / "a.tif", GREY, pixel_size_um=0.4, metadata="none", kv=15.0)[0]
    with tifffile.TiffFile(path) as tif:
        assert tif.pages[0].tags["XResolution"].value == (96, 1)
        assert "ImageDescription" not in tif.pages[0].tags


@pytest.mark.parametrize("form", range(4))
def test_texts_state_the_pixel_size_with_a_unit(tmp_path, form):
    lines, markup, structured = (
        write_micrograph(tmp_path / f"{kind}.tif", GREY, pixel_size_um=0.3125, metadata=kind, form=form)[0]
        for kind in ("ini", "xml", "json"))

    def text(path):
        with tifffile.TiffFile(path) as tif:
            tags = tif.pages[0].tags
            value = tags[PRIVATE_TEXT_TAG if form % 2 else 270].value
        return value.decode() if isinstance(value, bytes) else value

    number, unit = re.search(r"^Pixel Size = (\S+) (\S+)$", text(lines).replace("\u00c2\u00b5", "\u00b5"), re.M).groups()
    assert float(number) * UNITS[unit] == pytest.approx(0.3125)
    size = ElementTree.fromstring(text(markup).replace("\u00c2", "").split("?>")[1]).find("PixelSize").attrib
    assert float(size["value"]) * UNITS[size["unit"]] == pytest.approx(0.3125)
    size = json.loads(text(structured).replace("\u00c2", ""))["pixel_size"]
    assert size["value"] * UNITS[size["unit"]] == pytest.approx(0.3125)


@pytest.mark.parametrize("suffix", [".tif", ".png", ".jpg"])
@pytest.mark.parametrize("kind", [kind for kind in METADATA_KINDS if kind != "none"])
def test_the_reader_finds_the_facts_again(tmp_path, suffix, kind):
    if (suffix, kind) in ((".png", "ome"), (".jpg", "ome"), (".jpg", "resolution"), (".png", "resolution")):
        return  # can't be written, or (pHYs) is a print density to the reader
    for form in range(4):
        path = write_micrograph(tmp_path / f"{form}{suffix}", GREY, pixel_size_um=0.3125, metadata=kind, form=form, kv=15.0,
                                detector="SE", tilt_deg=4.0)[0]
        facts = facts_from_metadata(read_micrograph(path))
        assert facts.pixel_size_um == pytest.approx(0.3125, rel=1e-4)
        if kind in ("ini", "xml", "json", "sidecar"):
            assert (facts.kv, facts.detector, facts.tilt_deg) == (15.0, "SE", 4.0)


def test_the_reader_finds_no_scale_where_none_is_stated(tmp_path):
    for suffix in (".tif", ".png", ".jpg"):
        path = write_micrograph(tmp_path / f"a{suffix}", GREY, pixel_size_um=0.4, kv=15.0, detector="SE")[0]
        assert facts_from_metadata(read_micrograph(path)).pixel_size_um is None


def test_jpeg_refuses_what_it_cannot_hold(tmp_path):
    for image, kind in ((DEEP, "none"), (GREY, "resolution"), (GREY, "ome")):
        with pytest.raises(ValueError, match="JPEG holds|OME-XML"):
            write_micrograph(tmp_path / "a.jpg", image, pixel_size_um=0.4, metadata=kind)
    with pytest.raises(ValueError, match="write .tif"):
        write_micrograph(tmp_path / "a.gif", GREY, pixel_size_um=0.4)
    assert not list(tmp_path.iterdir())
