"""Files that are no micrographs: each is refused with one sentence that names the file and says what to do."""

import builtins
import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from semwear.errors import ReadError
from semwear.read import find_pictures, read_micrograph

NOISE = np.random.default_rng(5).integers(0, 256, (96, 128), dtype=np.uint8)


def refusal(path, **options) -> str:
    with pytest.raises(ReadError) as caught:
        read_micrograph(path, **options)
    message = str(caught.value)
    assert "\n" not in message
    assert message.startswith(Path(path).as_posix())
    assert message.endswith(".")
    assert ";" in message or "," in message  # what was found, and what to do
    return message


def encoded(kind: str, array=NOISE) -> bytes:
    buffer = io.BytesIO()
    if kind == "TIFF":
        tifffile.imwrite(buffer, array)
    else:
        Image.fromarray(array).save(buffer, kind)
    return buffer.getvalue()


def test_empty_file(tmp_path):
    (tmp_path / "a.tif").write_bytes(b"")
    assert "empty (0 bytes)" in refusal(tmp_path / "a.tif")


@pytest.mark.parametrize("kind", ["TIFF", "PNG", "JPEG", "BMP", "JPEG2000"])
@pytest.mark.parametrize("share", [0.02, 0.1, 0.5, 0.9, 0.98])
def test_truncated_file_is_never_read_as_a_picture(tmp_path, kind, share):
    data = encoded(kind)
    path = tmp_path / "cut.tif"
    path.write_bytes(data[: int(len(data) * share)])
    message = refusal(path)
    if kind == "TIFF" and share >= 0.5:  # its directory stands in front, and says where the pixels should end
        assert "breaks off before the picture ends" in message


@pytest.mark.parametrize("compression", ["lzw", "zlib"])
def test_truncated_compressed_tiff(tmp_path, compression):
    tifffile.imwrite(tmp_path / "a.tif", NOISE, compression=compression, rowsperstrip=8)
    data = (tmp_path / "a.tif").read_bytes()
    (tmp_path / "a.tif").write_bytes(data[: len(data) * 3 // 4])
    refusal(tmp_path / "a.tif")


@pytest.mark.parametrize("kind", ["TIFF", "PNG", "JPEG", "BMP", "JPEG2000"])
def test_damaged_bytes_give_a_picture_or_a_sentence_but_no_other_error(tmp_path, kind):
    data = encoded(kind)
    rng = np.random.default_rng(8)
    path = tmp_path / "field.tif"
    for _ in range(25):
        damaged = bytearray(data)
        for at in rng.integers(0, min(len(damaged), 600), 8):
            damaged[at] = rng.integers(0, 256)
        path.write_bytes(damaged)
        try:
            assert read_micrograph(path).pixels.ndim == 2
        except ReadError as error:
            assert "\n" not in str(error)


def test_text_renamed_tif(tmp_path):
    (tmp_path / "a.tif").write_text("This is a note about the specimen, not a picture of it.\n" * 20)
    assert "no picture of a known kind" in refusal(tmp_path / "a.tif")


def test_other_picture_kinds_are_named_as_unknown(tmp_path):
    Image.fromarray(NOISE).save(tmp_path / "a.png", format="GIF")
    assert "no picture of a known kind" in refusal(tmp_path / "a.png")


@pytest.mark.parametrize("shape", [(1, 1), (1, 20_000), (20_000, 1), (63, 500)])
@pytest.mark.parametrize("kind", ["TIFF", "PNG"])
def test_too_small(tmp_path, shape, kind):
    (tmp_path / "a.tif").write_bytes(encoded(kind, np.zeros(shape, np.uint8)))
    assert "too small" in refusal(tmp_path / "a.tif")


@pytest.mark.parametrize(("value", "words"), [(0, "black throughout"), (255, "white throughout"), (90, "one grey")])
def test_one_grey_value(tmp_path, value, words):
    (tmp_path / "a.tif").write_bytes(encoded("TIFF", np.full((96, 128), value, np.uint8)))
    assert words in refusal(tmp_path / "a.tif")


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_values_that_are_no_numbers(tmp_path, bad):
    array = NOISE.astype(np.float32)
    array[10, 10] = bad
    tifffile.imwrite(tmp_path / "a.tif", array)
    assert "no numbers" in refusal(tmp_path / "a.tif")


def test_colour_photographs(tmp_path):
    from skimage import data  # outside pictures: scikit-image's own

    for picture in (data.astronaut(), data.coffee(), data.cat()):
        Image.fromarray(picture).save(tmp_path / "a.png")
        assert "colour picture" in refusal(tmp_path / "a.png")


def test_a_data_bar_of_one_colour_makes_no_colour_picture(tmp_path):
    barred = np.repeat(NOISE[..., None], 3, axis=2)
    barred[len(barred) * 2 // 3 :] = (186, 200, 212)
    Image.fromarray(barred).save(tmp_path / "b.jpg", quality=80)
    assert read_micrograph(tmp_path / "b.jpg").pixels.shape == NOISE.shape


def test_black_and_white_only(tmp_path):
    Image.fromarray(NOISE > 128).save(tmp_path / "a.png")
    assert "only black and white" in refusal(tmp_path / "a.png")
    tifffile.imwrite(tmp_path / "a.tif", NOISE > 128)
    assert "only black and white" in refusal(tmp_path / "a.tif")


def test_png_that_unpacks_to_far_more_than_its_size_is_refused_before_unpacking(tmp_path):
    side = 60_000
    head = struct.pack(">IIBBBBB", side, side, 8, 0, 0, 0, 0)
    rows = zlib.compress(bytes(1 << 20), 9)

    def chunk(kind: bytes, content: bytes) -> bytes:
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

    (tmp_path / "a.png").write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows)
                                     + chunk(b"IEND", b""))
    assert "pixels" in refusal(tmp_path / "a.png")


def test_tiff_that_claims_far_more_pixels_than_it_holds(tmp_path):
    data = bytearray(encoded("TIFF"))
    with tifffile.TiffFile(io.BytesIO(bytes(data))) as tiff:
        places = [tiff.pages[0].tags[code].valueoffset for code in (256, 257)]
        width = tiff.pages[0].tags[256].dtype
    for place in places:
        struct.pack_into("<H" if width == 3 else "<I", data, place, 60_000)
    (tmp_path / "a.tif").write_bytes(data)
    assert "pixels" in refusal(tmp_path / "a.tif")


def test_text_bomb_in_a_png_is_refused_or_cut(tmp_path):
    text = b"note\0\0" + zlib.compress(b"a" * (200 << 20), 9)
    plain = encoded("PNG")
    chunk = struct.pack(">I", len(text)) + b"zTXt" + text + struct.pack(">I", zlib.crc32(b"zTXt" + text))
    (tmp_path / "a.png").write_bytes(plain[:33] + chunk + plain[33:])
    try:
        assert sum(map(len, read_micrograph(tmp_path / "a.png").metadata.values())) < 3 << 20
    except ReadError as error:
        assert "a.png" in str(error)


def test_no_permission(tmp_path, monkeypatch):
    # Root may read everything, so that the refusal of the operating system is played back.
    (tmp_path / "a.tif").write_bytes(encoded("TIFF"))

    def refuse(*_args, **_options):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(builtins, "open", refuse)
    monkeypatch.setattr(io, "open", refuse)
    monkeypatch.setattr(Path, "read_bytes", refuse)
    assert "no permission" in refusal(tmp_path / "a.tif")


def test_vanished_file_and_folder(tmp_path):
    (tmp_path / "session").mkdir()
    (tmp_path / "session" / "a.tif").write_bytes(encoded("TIFF"))
    found = find_pictures([tmp_path / "session"])
    (tmp_path / "session" / "a.tif").unlink()
    (tmp_path / "session").rmdir()
    (path, name), = found
    with pytest.raises(ReadError, match="no such file"):
        read_micrograph(path, file=name)


def test_folder_in_place_of_a_picture(tmp_path):
    assert "this is a folder" in refusal(tmp_path)


def test_missing_pages(tmp_path):
    (tmp_path / "a.tif").write_bytes(encoded("TIFF"))
    assert "page 3 was asked for, but the file has 1" in refusal(tmp_path / "a.tif", page=3)
    (tmp_path / "a.png").write_bytes(encoded("PNG"))
    assert "one page" in refusal(tmp_path / "a.png", page=2)


def test_stack_of_pictures_is_no_field(tmp_path):
    tifffile.imwrite(tmp_path / "a.tif", np.zeros((16, 96, 128), np.uint8), volumetric=True, tile=(16, 64, 64))
    assert "stack" in refusal(tmp_path / "a.tif")


def test_very_long_name_and_name_with_a_zero(tmp_path):
    assert "can't be opened" in refusal(tmp_path / ("n" * 300 + ".tif"))
    assert "can't be opened" in refusal("a\0b.tif")
