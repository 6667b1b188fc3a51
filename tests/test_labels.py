"""Label folders: read as drawn, and every problem found before anything is used, named with its file."""

import json

import cv2
import numpy as np
import pytest
from PIL import Image

from semwear.labels import LabelError, fingerprint, leaks, read_labels


def write_pair(folder, name, codes, *, grey=None, seed=0):
    rng = np.random.default_rng(seed)
    grey = rng.integers(60, 190, codes.shape).astype(np.uint8) if grey is None else grey
    (folder / "masks").mkdir(exist_ok=True, parents=True)
    cv2.imwrite(str(folder / f"{name}.png"), grey)
    cv2.imwrite(str(folder / "masks" / f"{name}.png"), codes)


def write_plan(folder, rows):
    lines = ["file,specimen,zone,pixel_size_um"] + [",".join(map(str, row)) for row in rows]
    (folder / "plan.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


@pytest.fixture
def codes():
    codes = np.zeros((90, 140), np.uint8)
    codes[20:30] = 1
    codes[30:34, 50:] = 2
    codes[80:] = 255
    return codes


@pytest.fixture
def folder(tmp_path, codes):
    write_pair(tmp_path, "a", codes, seed=1)
    write_pair(tmp_path, "b", codes[::-1], seed=2)
    write_plan(tmp_path, [("a.png", "S1", "in-track", 0.5), ("b.png", "S2", "out-of-track", 0.5)])
    return tmp_path


def test_masks_scale_zone_and_specimen_come_with_their_pictures(folder, codes):
    one, two = read_labels(folder)
    np.testing.assert_array_equal(one.codes, codes)
    assert (one.specimen, one.worn, two.specimen, two.worn) == ("S1", True, "S2", False)
    assert one.calibration.pixel_size_um == 0.5


def test_regions_are_read_by_picture(folder):
    (folder / "regions.csv").write_text("file,row_px,col_px,worn\na.png,20,30,1\na.png,60,100,0\n", encoding="utf-8")
    one, two = read_labels(folder)
    np.testing.assert_array_equal(one.regions, [[20, 30, 1], [60, 100, 0]])
    assert len(two.regions) == 0


def test_polygons_fill_the_pixels_inside_them(tmp_path):
    """A rectangle from edge 10 to 30 and 5 to 15 covers 20 × 10 pixels (closed form, pixel-edge coordinates)."""
    cv2.imwrite(str(tmp_path / "p.png"), np.random.default_rng(1).integers(60, 190, (70, 90)).astype(np.uint8))
    ring = [10, 5, 29.99, 5, 29.99, 14.99, 10, 14.99]
    coco = {
        "images": [{"id": 7, "file_name": "p.png"}],
        "categories": [{"id": 1, "name": "open_valley"}],
        "annotations": [{"image_id": 7, "category_id": 1, "segmentation": [ring]}],
    }
    (tmp_path / "labels.json").write_text(json.dumps(coco), encoding="utf-8")
    write_plan(tmp_path, [("p.png", "S1", "in-track", 0.5)])
    codes = read_labels(tmp_path)[0].codes
    assert abs(int((codes == 1).sum()) - 200) <= 30
    assert codes[10, 20] == 1 and codes[2, 20] == 0 and codes[10, 35] == 0


def test_palette_masks_give_their_indices_and_colour_masks_are_refused(folder, codes):
    """Pillow's own palette PNG; the palette's colours say nothing."""
    picture = Image.fromarray(codes).convert("L")
    picture = Image.frombytes("P", picture.size, picture.tobytes())
    picture.putpalette([200, 10, 10] * 256)
    picture.save(folder / "masks" / "a.png")
    np.testing.assert_array_equal(read_labels(folder)[0].codes, codes)
    picture.convert("RGB").save(folder / "masks" / "a.png")
    with pytest.raises(LabelError, match="index PNG"):
        read_labels(folder)


def test_all_problems_of_a_folder_are_listed_at_once(folder, codes):
    write_pair(folder, "small", codes[:50], grey=np.random.default_rng(3).integers(60, 190, (90, 140)).astype(np.uint8))
    strange = codes.copy()
    strange[0, 0] = 9
    write_pair(folder, "strange", strange, seed=4)
    cv2.imwrite(str(folder / "alone.png"), np.random.default_rng(8).integers(60, 190, (90, 140)).astype(np.uint8))
    cv2.imwrite(str(folder / "masks" / "orphan.png"), codes)
    rows = [(f"{name}.png", "S1", "in-track", 0.5) for name in ("a", "b", "small", "strange", "alone")]
    write_plan(folder, rows)
    with pytest.raises(LabelError) as caught:
        read_labels(folder)
    message = str(caught.value)
    assert "small.png: the mask is 140 × 50 px and its picture 140 × 90" in message
    assert "strange.png: unknown code 9" in message
    assert "alone.png: no mask of the same name" in message
    assert "orphan.png: a mask without a picture" in message


def test_one_state_only_no_scale_and_no_folder_are_refused(tmp_path):
    write_pair(tmp_path, "a", np.zeros((80, 100), np.uint8))
    write_plan(tmp_path, [("a.png", "S1", "in-track", 0.5)])
    with pytest.raises(LabelError, match="one state only"):
        read_labels(tmp_path)
    (tmp_path / "plan.csv").unlink()
    with pytest.raises(LabelError, match=r"a\.png"):
        read_labels(tmp_path)
    with pytest.raises(LabelError, match="no such folder"):
        read_labels(tmp_path / "nowhere")


def test_the_same_or_nearly_the_same_picture_on_both_sides_is_found(tmp_path, codes):
    rng = np.random.default_rng(9)
    smooth = cv2.GaussianBlur(rng.normal(size=codes.shape), (0, 0), 4)
    grey = (127 + 60 * smooth / np.abs(smooth).max()).astype(np.uint8)
    other = (127 + 60 * np.roll(smooth[::-1], 40, 1) / np.abs(smooth).max()).astype(np.uint8)
    noisy = np.clip(grey + rng.normal(0, 2, grey.shape), 0, 255).astype(np.uint8)
    for name, picture in (("a", grey), ("b", noisy), ("c", other)):
        write_pair(tmp_path, name, codes, grey=picture)
    write_plan(tmp_path, [(f"{name}.png", name, "in-track", 0.5) for name in "abc"])
    a, b, c = read_labels(tmp_path)
    assert "same picture" in leaks([a], [a])[0]
    assert "near-duplicates" in leaks([a], [b])[0]
    assert leaks([a, b], [c]) == []


def test_fingerprints_of_unlike_pictures_differ_in_about_half_their_bits():
    """Independent random bits differ in half of 256 places on average, standard deviation 8 (binomial)."""
    rng = np.random.default_rng(2)
    one, two = (fingerprint(rng.integers(0, 255, (160, 170)).astype(np.uint8)) for _ in range(2))
    assert 96 < (one ^ two).bit_count() < 160


def test_regions_mark_squares_of_their_own_size_and_leave_the_rest_to_the_field(tmp_path):
    """Closed form: 64 µm at 2 µm a pixel are 32 px, from 16 px before the centre to 16 px behind it."""
    codes = np.zeros((90, 140), np.uint8)
    codes[20:30] = 1
    write_pair(tmp_path, "a", codes)
    (tmp_path / "plan.csv").write_text("file,specimen,pixel_size_um\na.png,S1,2\n", encoding="utf-8")
    (tmp_path / "regions.csv").write_text("file,row_px,col_px,worn\na.png,40,60,1\n", encoding="utf-8")
    worn = read_labels(tmp_path)[0].worn_map()
    assert (worn[24:56, 44:76] == 1).all() and (worn == 1).sum() == 32 * 32
    assert (worn[worn != 1] == 255).all()
