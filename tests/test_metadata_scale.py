"""Pixel sizes out of metadata: each text states a size that a reader can work out by hand; the number beside it is that.

Files are written by tifffile and Pillow, outside this project. Texts are invented, in the manner of INI, XML, JSON and key
lists; no instrument's own file is copied.
"""

import json
import math
import time

import numpy as np
import pytest
import tifffile
from PIL import Image, PngImagePlugin

from semwear.metadata_scale import facts_from_metadata
from semwear.read import read_micrograph

ROWS, COLS = 96, 128
PICTURE = np.random.default_rng(3).integers(0, 256, (ROWS, COLS), dtype=np.uint8)


def facts(tmp_path, *, description=None, private=None, resolution=None, unit=None, sidecar=None, array=PICTURE):
    extra = []
    if private is not None:
        content = private.encode("latin-1", errors="xmlcharrefreplace")
        extra.append((50123, 7, len(content), content, True))
    if description is not None:
        description = description.encode("latin-1")
    options = {} if resolution is None else {"resolution": resolution, "resolutionunit": unit}
    tifffile.imwrite(tmp_path / "field.tif", array, description=description, metadata=None, extratags=extra, **options)
    if sidecar is not None:
        (tmp_path / "field.txt").write_text(sidecar, encoding="utf-8")
    return facts_from_metadata(read_micrograph(tmp_path / "field.tif"))


@pytest.mark.parametrize(("text", "expected_um"), [
    ("pixel size: 0.250 um", 0.25),
    ("Pixel Size = 250.0 nm\r\nMode = 3", 0.25),
    ("Image Pixel Size = 543.0 pm", 0.000543),
    ("PixelSize=0,250 µm", 0.25),
    ("Pixel Width (nm)\t250.0", 0.25),
    ("pixel_size_um = 0.250", 0.25),
    ("pixelSizeNm: 250.0", 0.25),
    ("[Scan]\nPixelWidth=2.50e-07\nPixelHeight=2.50e-07\n", 0.25),
    ("PixelSizeX=2.500e-06\nHV=15000.0\nWD=0.0101", 2.5),
    ("PixelSize=250.00\nMagnification=4000", 0.25),  # nm: 128 px · 250 nm · 4000 = 12.8 cm; in µm it would be 128 m
    ("Field width: 32.00 µm", 0.25),
    ("HFW = 32.00 um", 0.25),
    ("[Beam]\nHorFieldsize=3.2000e-05", 0.25),
    ("Field of view = 32.00 x 24.00 um", 0.25),
    ("Horizontal Field Width\t0.03200 mm", 0.25),
    ("scale 0.250 µm/px", 0.25),
    ("Resolution: 4.000 pixels per micron", 0.25),
    ("4.000 px/µm", 0.25),
    ("pixel size 0.2500 um", 0.25),
    ("15 kV, pixel size is 250.0 nm, 30 µs", 0.25),
    ("taken at 15 kV with a field width of 32.00 µm", 0.25),
    ("HFW 32.00 µm  WD 10.1 mm", 0.25),
    ("1 px = 0.250 µm", 0.25),
    ("scale: 400 px = 100.0 µm", 0.25),
    ("10.00 µm = 40 pixels", 0.25),
    ("Pixelsize X [nm]: 250.0", 0.25),
    ("<m><PixelSize x='0.2500' y='0.2500' unit='um'/></m>", 0.25),
    ("Objective = 20|MPP = 0.2500", 0.25),
    ("microns per pixel: 0.2500", 0.25),
    ("<meta><PixelWidth unit='m'>2.50e-07</PixelWidth></meta>", 0.25),
    ("<m><Scan><PixelSize><X><Value>250.0</Value><Unit>nm</Unit></X></PixelSize></Scan></m>", 0.25),
    ("<m><Item name='Pixel Size' value='0.2500' unit='um'/></m>", 0.25),
    (json.dumps({"scan": {"pixelSize": {"value": 0.2501, "unit": "um"}}}), 0.2501),
    (json.dumps({"pixel_size_um": [0.2501, 0.2501]}), 0.2501),
    ("PixelSizeUnit=nm\nPixelSize=250.0", 0.25),
    ("$AB_MAG 3000\n$$AC_MICRON_BAR 40\n$$AC_MICRON_MARKER 10um", 0.25),
])
@pytest.mark.parametrize("where", ["description", "private", "sidecar"])
def test_pixel_size_is_read_wherever_and_however_it_is_stated(tmp_path, text, expected_um, where):
    if where == "sidecar" and text[0] not in "<{":
        text += "\nnote: made for a test\nsubject: a plain picture"
    found = facts(tmp_path, **{where: text})
    assert found.reason == ""
    assert found.pixel_size_um == pytest.approx(expected_um, rel=1e-9)
    assert 0 < found.pixel_size_u_um < 0.05 * expected_um
    assert found.source_text


@pytest.mark.parametrize("text", [
    "PixelSize=0.25",  # µm? Nothing says so.
    "PixelSize=2.0e-06",  # metres, or millimetres of a nanometre scale
    "PixelSize=250",
    "FIB Pixel Size = 250.0 nm",  # another beam's
    "Camera Pixel Size = 6.5 um",
    "Stage field size X = 0.500 mm",
    "Cursor Width = 4.170 µm",
    "ResolutionX=1280",
    "Resolution = 300",
    "Aperture Size = 20.00 µm",
    "The pixel size was not recorded",
    "Pixel Size = unknown",
    "Pixel Size = -0.25 um",
    "Pixel Size = 0.0 fm",
    "Scale = 2.5",
    "WD = 6.2 mm",
    "Magnification = 1000",  # says nothing once a picture is rescaled
])
def test_texts_that_state_no_pixel_size_give_none(tmp_path, text):
    found = facts(tmp_path, private=text)
    assert found.pixel_size_um is None
    assert found.reason


def test_ome_xml_round_trip_through_tifffile(tmp_path):
    tifffile.imwrite(tmp_path / "a.ome.tif", PICTURE, metadata={
        "axes": "YX", "PhysicalSizeX": 0.2504, "PhysicalSizeXUnit": "µm", "PhysicalSizeY": 0.2754,
        "PhysicalSizeYUnit": "µm"})
    found = facts_from_metadata(read_micrograph(tmp_path / "a.ome.tif"))
    assert (found.pixel_size_um, found.pixel_height_um) == (0.2504, 0.2754)
    tifffile.imwrite(tmp_path / "b.ome.tif", PICTURE, metadata={
        "axes": "YX", "PhysicalSizeX": 250.4, "PhysicalSizeXUnit": "nm"})
    assert facts_from_metadata(read_micrograph(tmp_path / "b.ome.tif")).pixel_size_um == pytest.approx(0.2504)
    tifffile.imwrite(tmp_path / "c.ome.tif", PICTURE, metadata={"axes": "YX", "PhysicalSizeX": 0.2504})
    # The OME schema's default unit is µm.
    assert facts_from_metadata(read_micrograph(tmp_path / "c.ome.tif")).pixel_size_um == pytest.approx(0.2504)


def test_tifffile_resolution_with_unit_in_the_description_round_trips(tmp_path):
    found = facts(tmp_path, description="slices=1\nunit=um\n", resolution=(1 / 0.2504, 1 / 0.2504), unit="none")
    assert found.pixel_size_um == pytest.approx(0.2504, rel=1e-6)


@pytest.mark.parametrize(("resolution", "unit", "width_um", "height_um"), [
    ((40_000, 40_000), "centimeter", 0.25, 0.25),
    ((50_800, 50_800), "inch", 0.5, 0.5),
    ((40_000, 32_000), "centimeter", 0.25, 0.3125),
])
def test_resolution_tags_count_when_plausible_for_a_specimen(tmp_path, resolution, unit, width_um, height_um):
    """A centimetre is 10,000 µm and an inch 25,400 µm (its definition), over the pixels in it."""
    found = facts(tmp_path, resolution=resolution, unit=unit)
    assert found.pixel_size_um == pytest.approx(width_um)
    assert found.pixel_height_um == pytest.approx(height_um)


@pytest.mark.parametrize("density", [25, 72, 72.009, 96, 150, 256, 300, 600, 1200, 2400, 4800, 9600])
@pytest.mark.parametrize("unit", ["inch", "centimeter"])
def test_print_and_scan_densities_are_no_scale(tmp_path, density, unit):
    per_unit = density if unit == "inch" else density / 2.54
    assert facts(tmp_path, resolution=(per_unit, per_unit), unit=unit).pixel_size_um is None


def test_density_of_png_counts_alike(tmp_path):
    for density, expected_um in ((50_800, 0.5), (300, None), (4800, None)):
        Image.fromarray(PICTURE).save(tmp_path / "a.png", dpi=(density, density))
        found = facts_from_metadata(read_micrograph(tmp_path / "a.png")).pixel_size_um
        assert found == (None if expected_um is None else pytest.approx(expected_um, rel=1e-4))


def test_resolution_without_unit_is_no_scale(tmp_path):
    assert facts(tmp_path, resolution=(4, 4), unit="none").pixel_size_um is None


def test_png_and_jpeg_texts(tmp_path):
    info = PngImagePlugin.PngInfo()
    info.add_itxt("Pixel Size", "0.250 µm")
    Image.fromarray(PICTURE).save(tmp_path / "a.png", pnginfo=info)
    assert facts_from_metadata(read_micrograph(tmp_path / "a.png")).pixel_size_um == pytest.approx(0.25)
    Image.fromarray(PICTURE).save(tmp_path / "a.jpg", comment="PixelSize=250.0 nm; HV=15 kV")
    found = facts_from_metadata(read_micrograph(tmp_path / "a.jpg"))
    assert (found.pixel_size_um, found.kv) == (pytest.approx(0.25), 15.0)


def test_statement_about_a_wider_picture_is_scaled_when_the_picture_was_rescaled(tmp_path):
    text = "Store resolution = 256 * 192\nPixel Size = 250.0 nm"
    found = facts(tmp_path, private=text)
    assert found.pixel_size_um == pytest.approx(0.5)  # 256/128 · 0.25 µm
    assert found.rescaled
    # A field width is the same field however many pixels show it.
    found = facts(tmp_path, private="ImageSize=256x192\nHFW=32.00 um")
    assert found.pixel_size_um == pytest.approx(0.25)


def test_statement_about_a_wider_picture_is_not_used_when_the_picture_may_be_a_crop(tmp_path):
    found = facts(tmp_path, private="Store resolution = 256 * 96\nPixel Size = 250.0 nm")
    assert found.pixel_size_um is None
    assert "256 px wide" in found.reason
    assert len(found.candidates) == 1


def test_contradicting_statements_give_no_pixel_size(tmp_path):
    found = facts(tmp_path, description="Pixel Size = 250.0 nm", private="HFW = 40.00 um")  # 0.3125 µm
    assert found.pixel_size_um is None
    assert found.disagreement
    assert "contradict" in found.reason
    assert sorted(round(one.um, 4) for one in found.candidates) == [0.25, 0.3125]


def test_statements_further_apart_than_their_uncertainties_are_marked(tmp_path):
    near = facts(tmp_path, description="Pixel Size = 250.0 nm", private="Field width = 32.05 um")  # 0.16 % apart
    assert (near.pixel_size_um, near.disagreement) == (pytest.approx(0.25, rel=0.002), False)
    apart = facts(tmp_path, description="Pixel Size = 250.0 nm", private="Field width = 32.80 um")  # 2.5 % apart
    assert apart.disagreement
    assert apart.pixel_size_um is not None


def test_non_square_pixels_are_stated_with_both_sides(tmp_path):
    found = facts(tmp_path, private="PixelSizeX = 250.0 nm\nPixelSizeY = 275.0 nm")
    assert (found.pixel_size_um, found.pixel_height_um) == (pytest.approx(0.25), pytest.approx(0.275))


def test_uncertainty_is_that_of_the_last_written_digit_and_the_calibration(tmp_path):
    # JCGM 100:2008 4.3.7: half a unit of the last digit over √3; 0.25 % beside it (see CALIBRATION_RELATIVE_U).
    found = facts(tmp_path, private="Pixel Size = 0.25 um")
    assert found.pixel_size_u_um / 0.25 == pytest.approx(math.hypot(0.005 / 0.25 / math.sqrt(3), 0.0025))


@pytest.mark.parametrize(("text", "kv", "detector", "tilt", "magnification"), [
    ("EHT = 15.00 kV\nSignal A = SE2\nStage at T = 3.0 °\nMag = 1.50 K X", 15.0, "SE2", 3.0, 1500.0),
    ("[Beam]\nHV=15000.0\n[Detectors]\nName=ETD\n[Stage]\nStageT=0.0", 15.0, "ETD", 0.0, math.nan),
    ("AcceleratingVoltage=15000 Volt\nSignalName=SE\nTilt=0.1", 15.0, "SE", math.nan, math.nan),
    ("$AB_ACCEL_VOLT 15.00\n$AB_MAG 1500\n$AB_TITLE a", 15.0, "", math.nan, 1500.0),
    ("<m><HighVoltage unit='V'>15000</HighVoltage><Detector>BSE</Detector><StageTilt unit='rad'>0.0523599</StageTilt>"
     "<Magnification>1,500x</Magnification></m>", 15.0, "BSE", 3.0, 1500.0),
    ("HV = 5 kV\nAccelerating Voltage = 15 kV", math.nan, "", math.nan, math.nan),
    ("EHT Target = 20.00 kV\nCollector Voltage = 300 V\nVPSE detector = Absent\nGun Tilt X = 1.0 %", math.nan, "",
     math.nan, math.nan),
])
def test_voltage_detector_tilt_and_magnification(tmp_path, text, kv, detector, tilt, magnification):
    found = facts(tmp_path, private=text)
    np.testing.assert_equal((found.kv, found.detector, found.tilt_deg, found.magnification),
                            (kv, detector, tilt, magnification))


@pytest.mark.parametrize("text", [
    "<!DOCTYPE a [<!ENTITY b 'PixelSize'>]><a><PixelSize unit='nm'>250</PixelSize></a>",
    "<a><b>" * 20_000, "{" * 100_000, '{"a":' * 5000, "=" * 50_000, "[x" * 9000, "1 " * 200_000, "\x00\x01\x02" * 500,
    "Pixel Size = " + "9" * 5000 + " nm", "Pixel Size = 1e999 um", "$" * 100_000, "a:" * 100_000,
    "1 px" + " " * 300_000 + "!", "Pixel Size = 1" + " " * 100_000 + "!", "=1" + "(" * 300_000, '{"' + "(" * 300_000 + '": 1}',
    "1 " * 3 + "\n" * 300_000, "Pixel Size = 1" + "\t" * 300_000 + "x", "1,1," * 100_000, "1a" * 100_000, "pixel" * 100_000,
])
def test_hostile_texts_give_no_pixel_size_and_no_error(tmp_path, text):
    start = time.process_time()
    assert facts(tmp_path, private=text, sidecar=text).pixel_size_um is None
    assert time.process_time() - start < 4.0
