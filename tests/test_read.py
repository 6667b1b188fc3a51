"""Reading pictures, checked against files that tifffile, Pillow and imagecodecs (outside this project) write."""

import hashlib
import io

import imagecodecs
import numpy as np
import pytest
import tifffile
from PIL import Image, PngImagePlugin

from semwear.read import PICTURE_SUFFIXES, find_pictures, read_micrograph

ROWS, COLS = 96, 128


def ramp(top: int, dtype) -> np.ndarray:
    """A picture whose grey says where it is, so that turns, mirrors and lost bits show; not square."""
    rows, cols = np.mgrid[:ROWS, :COLS]
    return np.rint((rows * COLS + cols) / (ROWS * COLS - 1) * top).astype(dtype)


EIGHT = ramp(255, np.uint8)
SIXTEEN = ramp(65535, np.uint16)
FLOAT = ramp(1_000_000, np.float32) / np.float32(1_000_000)


@pytest.mark.parametrize(("array", "options"), [
    (EIGHT, {}),
    (SIXTEEN, {}),
    (FLOAT, {}),
    (EIGHT, {"compression": "lzw"}),
    (SIXTEEN, {"compression": "zlib", "predictor": True}),
    (SIXTEEN, {"tile": (32, 48)}),
    (EIGHT, {"bigtiff": True}),
    (SIXTEEN, {"byteorder": ">"}),
    (EIGHT, {"rowsperstrip": 7}),
])
def test_every_usual_tiff_comes_back_bit_for_bit(tmp_path, array, options):
    opening = {key: options.pop(key) for key in ("bigtiff", "byteorder") if key in options}
    with tifffile.TiffWriter(tmp_path / "field.tif", **opening) as tiff:
        tiff.write(array, photometric="minisblack", **options)
    micrograph = read_micrograph(tmp_path / "field.tif")
    assert micrograph.pixels.dtype == array.dtype
    np.testing.assert_array_equal(micrograph.pixels, array)
    assert micrograph.white_level == {"u1": 255.0, "u2": 65535.0, "f4": 1.0}[array.dtype.str[1:]]
    assert micrograph.rgb is None


def test_palette_tiff_gives_the_greys_of_its_palette(tmp_path):
    backwards = np.repeat(np.arange(255, -1, -1, dtype=np.uint16)[None] * 257, 3, axis=0)
    tifffile.imwrite(tmp_path / "field.tif", EIGHT, photometric="palette", colormap=backwards)
    np.testing.assert_array_equal(read_micrograph(tmp_path / "field.tif").pixels, 255 - EIGHT)


def test_white_is_zero_tiff_is_turned_to_black_is_zero(tmp_path):
    tifffile.imwrite(tmp_path / "field.tif", SIXTEEN, photometric="miniswhite")
    np.testing.assert_array_equal(read_micrograph(tmp_path / "field.tif").pixels, 65535 - SIXTEEN)


@pytest.mark.parametrize("planar", ["contig", "separate"])
def test_rgb_tiff_of_equal_channels_is_grey(tmp_path, planar):
    axis = 0 if planar == "separate" else 2
    tifffile.imwrite(tmp_path / "field.tif", np.stack([EIGHT] * 3, axis=axis), photometric="rgb", planarconfig=planar)
    micrograph = read_micrograph(tmp_path / "field.tif")
    np.testing.assert_array_equal(micrograph.pixels, EIGHT)
    assert micrograph.rgb is None


def test_signed_and_32_bit_integers_keep_their_differences(tmp_path):
    signed = SIXTEEN.astype(np.int32) - 32768
    tifffile.imwrite(tmp_path / "signed.tif", signed.astype(np.int16))
    np.testing.assert_array_equal(read_micrograph(tmp_path / "signed.tif").pixels, SIXTEEN)
    wide = SIXTEEN.astype(np.uint32) * 200
    tifffile.imwrite(tmp_path / "wide.tif", wide)
    micrograph = read_micrograph(tmp_path / "wide.tif")
    assert micrograph.pixels.dtype == np.float32
    np.testing.assert_array_equal(micrograph.pixels, wide.astype(np.float32))
    assert micrograph.white_level == wide.max()


def test_twelve_bits_in_sixteen_have_a_twelve_bit_white(tmp_path):
    tifffile.imwrite(tmp_path / "field.tif", SIXTEEN >> 4)
    assert read_micrograph(tmp_path / "field.tif").white_level == 4095.0


def test_first_page_unless_told(tmp_path):
    with tifffile.TiffWriter(tmp_path / "field.tif") as tiff:
        tiff.write(EIGHT, photometric="minisblack", description="Pixel Size = 250 nm", metadata=None)
        tiff.write(255 - EIGHT, photometric="minisblack", metadata=None)
        tiff.write(EIGHT[::2, ::2][:, :64].repeat(2, 0), photometric="minisblack", metadata=None)
    first, second = (read_micrograph(tmp_path / "field.tif", page=page) for page in (1, 2))
    assert first.pages == second.pages == 2  # the third, of another size, is no field of this series
    assert first.metadata["ImageDescription"] == second.metadata["ImageDescription"] == "Pixel Size = 250 nm"
    assert "ImageDescription" not in read_micrograph(tmp_path / "field.tif", page=3).metadata  # of another size
    np.testing.assert_array_equal(first.pixels, EIGHT)
    np.testing.assert_array_equal(second.pixels, 255 - EIGHT)


@pytest.mark.parametrize("suffix", ["png", "bmp", "jp2"])
def test_lossless_pictures_come_back_bit_for_bit(tmp_path, suffix):
    path = tmp_path / f"field.{suffix}"
    if suffix == "jp2":
        path.write_bytes(imagecodecs.jpeg2k_encode(EIGHT, level=0))
    else:
        Image.fromarray(EIGHT).save(path)
    np.testing.assert_array_equal(read_micrograph(path).pixels, EIGHT)


@pytest.mark.parametrize("suffix", ["png", "jp2"])
def test_sixteen_bits_are_not_crushed(tmp_path, suffix):
    path = tmp_path / f"field.{suffix}"
    path.write_bytes(imagecodecs.png_encode(SIXTEEN) if suffix == "png" else imagecodecs.jpeg2k_encode(SIXTEEN, level=0))
    micrograph = read_micrograph(path)
    assert micrograph.pixels.dtype == np.uint16
    np.testing.assert_array_equal(micrograph.pixels, SIXTEEN)


def test_sixteen_bit_colour_png_keeps_sixteen_bit_greys(tmp_path):
    (tmp_path / "field.png").write_bytes(imagecodecs.png_encode(np.stack([SIXTEEN] * 3, axis=2)))
    np.testing.assert_array_equal(read_micrograph(tmp_path / "field.png").pixels, SIXTEEN)


def test_jpeg_is_within_its_own_loss(tmp_path):
    Image.fromarray(EIGHT).save(tmp_path / "field.jpg", quality=95)
    difference = read_micrograph(tmp_path / "field.jpg").pixels.astype(int) - EIGHT
    assert np.abs(difference).max() <= 6


def test_palette_png_and_transparent_png_give_their_greys(tmp_path):
    Image.fromarray(EIGHT).convert("P").save(tmp_path / "palette.png")
    np.testing.assert_array_equal(read_micrograph(tmp_path / "palette.png").pixels, EIGHT)
    Image.fromarray(np.dstack([EIGHT] * 3 + [np.full_like(EIGHT, 255)])).save(tmp_path / "alpha.png")
    np.testing.assert_array_equal(read_micrograph(tmp_path / "alpha.png").pixels, EIGHT)


def test_kind_is_told_by_content_and_not_by_name(tmp_path):
    Image.fromarray(EIGHT).save(tmp_path / "field.tif", format="PNG")
    np.testing.assert_array_equal(read_micrograph(tmp_path / "field.tif").pixels, EIGHT)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["tif", "png"])
def test_orientation_tags_are_honoured_as_pillow_does(tmp_path, orientation, kind):
    from PIL import ImageOps

    exif = Image.Exif()
    exif[274] = orientation
    Image.fromarray(EIGHT).save(tmp_path / "field.png", exif=exif)
    with Image.open(tmp_path / "field.png") as picture:
        upright = np.asarray(ImageOps.exif_transpose(picture))
    tifffile.imwrite(tmp_path / "field.tif", EIGHT, extratags=[(274, 3, 1, orientation, True)])
    np.testing.assert_array_equal(read_micrograph(tmp_path / f"field.{kind}").pixels, upright)


def test_coloured_marks_keep_the_colours_beside_the_greys(tmp_path):
    rgb = np.stack([EIGHT] * 3, axis=2)
    rgb[80:90, 10:60] = (255, 0, 0)
    Image.fromarray(rgb).save(tmp_path / "field.png")
    micrograph = read_micrograph(tmp_path / "field.png")
    np.testing.assert_array_equal(micrograph.rgb, rgb)
    assert micrograph.pixels[85, 30] == 76  # 0.299 · 255, ITU-R BT.601
    assert micrograph.pixels[10, 10] == EIGHT[10, 10]


@pytest.mark.parametrize("suffix", ["png", "jpg"])
def test_a_tinted_micrograph_is_read_in_grey(tmp_path, suffix):
    """A duotone (sepia and the like) has one colour for every brightness, so that grey loses nothing; marks keep theirs."""
    scale = np.asarray(EIGHT, np.float64)[..., None] / 255
    tinted = np.rint(255 * scale ** (0.9, 1.0, 1.3)).astype(np.uint8)
    tinted[80:90, 20:40] = (255, 0, 0)
    Image.fromarray(tinted).save(tmp_path / f"field.{suffix}", quality=92)
    micrograph = read_micrograph(tmp_path / f"field.{suffix}")
    luma = tinted @ (0.299, 0.587, 0.114)
    assert np.abs(micrograph.pixels - luma).mean() < 3
    assert np.ptp(micrograph.rgb[:70].astype(int), axis=2).mean() < 1
    assert np.ptp(micrograph.rgb[85, 30].astype(int)) > 200


def test_checksum_is_that_of_the_files_bytes(tmp_path):
    tifffile.imwrite(tmp_path / "field.tif", EIGHT)
    expected = hashlib.sha256((tmp_path / "field.tif").read_bytes()).hexdigest()
    assert read_micrograph(tmp_path / "field.tif").sha256 == expected


def test_tags_and_texts_of_a_tiff_are_kept(tmp_path):
    private = "[Scan]\nPixelWidth=1.2e-07\nTemperatur=21 °C\n"
    tifffile.imwrite(tmp_path / "field.tif", EIGHT, description="pixel size: 0.25 um", software="made for a test",
                     resolution=(256, 256), resolutionunit="inch", metadata=None,
                     extratags=[(50001, 7, len(private.encode("latin-1")), private.encode("latin-1"), True),
                                (50002, 2, None, "kV=15", True)])
    metadata = read_micrograph(tmp_path / "field.tif").metadata
    assert metadata["ImageDescription"] == "pixel size: 0.25 um"
    assert metadata["Software"] == "made for a test"
    assert metadata["tag 50001"] == private.strip()
    assert metadata["tag 50002"] == "kV=15"
    assert metadata["XResolution"].split()[0] == "256"


def test_ome_xml_is_kept_whole(tmp_path):
    tifffile.imwrite(tmp_path / "field.ome.tif", EIGHT, metadata={"axes": "YX", "PhysicalSizeX": 0.25})
    assert 'PhysicalSizeX="0.25"' in read_micrograph(tmp_path / "field.ome.tif").metadata["ImageDescription"]


def test_texts_of_png_and_jpeg_are_kept(tmp_path):
    info = PngImagePlugin.PngInfo()
    info.add_text("Description", "pixel size 0.5 µm")
    info.add_itxt("Operator note", "Körnung 120", "de", "Notiz")
    Image.fromarray(EIGHT).save(tmp_path / "field.png", pnginfo=info)
    png = read_micrograph(tmp_path / "field.png").metadata
    assert png["Description"] == "pixel size 0.5 µm"
    assert png["Operator note"] == "Körnung 120"
    exif = Image.Exif()
    exif[270] = "field width 300 um"
    Image.fromarray(EIGHT).save(tmp_path / "field.jpg", comment="HV 15 kV", exif=exif)
    jpeg = read_micrograph(tmp_path / "field.jpg").metadata
    assert jpeg["comment"] == "HV 15 kV"
    assert jpeg["exif ImageDescription"] == "field width 300 um"


def test_sidecars_are_kept_when_they_hold_keys_and_values(tmp_path):
    Image.fromarray(EIGHT).save(tmp_path / "field.png")
    (tmp_path / "field.txt").write_text("PixelSize=0.25 um\nkV=15\n", encoding="utf-16")
    (tmp_path / "field.png.xml").write_text("<a><PixelWidth unit='um'>0.25</PixelWidth></a>")
    (tmp_path / "field-png.hdr").write_text("[Main]\nMagnification=1000\n")
    (tmp_path / "field.csv").write_text("x,y,z\n1,2,3\n4,5,6\n")
    (tmp_path / "other.txt").write_text("PixelSize=9 um\n")
    sidecars = {key for key in read_micrograph(tmp_path / "field.png").metadata if key.startswith("sidecar")}
    assert sidecars == {"sidecar field.txt", "sidecar field.png.xml", "sidecar field-png.hdr"}


def test_pixel_aspect_is_height_over_width_and_turns_with_the_picture(tmp_path):
    # JFIF densities are pixels per length, so that 75 across and 68 down make a pixel 75/68 as high as it is wide.
    buffer = io.BytesIO()
    Image.fromarray(EIGHT).save(buffer, "JPEG")
    data = bytearray(buffer.getvalue())
    at = data.index(b"JFIF\0") + 7
    data[at:at + 5] = bytes([0, 0, 75, 0, 68])
    (tmp_path / "field.jpg").write_bytes(data)
    assert read_micrograph(tmp_path / "field.jpg").pixel_aspect == pytest.approx(75 / 68)
    for orientation, expected in ((1, 1.25), (6, 0.8)):
        tifffile.imwrite(tmp_path / "field.tif", EIGHT, resolution=(500, 400),
                         extratags=[(274, 3, 1, orientation, True)])
        assert read_micrograph(tmp_path / "field.tif").pixel_aspect == pytest.approx(expected)
    Image.fromarray(EIGHT).save(tmp_path / "field.bmp")
    Image.fromarray(EIGHT).save(tmp_path / "field.png")
    assert read_micrograph(tmp_path / "field.png").pixel_aspect is None


def test_folders_are_walked_and_named_as_given(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name in ("b/two.tif", "b/one.PNG", "a/one.png", "b/.hidden.png", "b/one.txt", ".cache/three.png",
                 "old results/small/one.png", "b/masks/one.png", "old results/fields.csv", "old results/run.json", "b/Ölfilm übermäßig.jpg"):
        (tmp_path / name).parent.mkdir(exist_ok=True, parents=True)
        (tmp_path / name).write_bytes(b"")
    assert [name for _, name in find_pictures(["b", "a", "a/one.png", "missing.tif"])] == [
        "b/one.PNG", "b/two.tif", "b/Ölfilm übermäßig.jpg", "a/one.png", "missing.tif"]
    assert [name for _, name in find_pictures(["."])] == [
        "a/one.png", "b/one.PNG", "b/two.tif", "b/Ölfilm übermäßig.jpg"]
    assert all(path.suffix.lower() in PICTURE_SUFFIXES for path, _ in find_pictures([tmp_path]))
