"""Label folders: read as drawn, and every problem found before anything is used, named with its file."""

import json
import re

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


def refused(folder) -> str:
    with pytest.raises(LabelError) as caught:
        read_labels(folder)
    return str(caught.value)


def test_zones_are_spelt_as_the_plan_reader_takes_them(folder):
    write_plan(folder, [("a.png", "S1", "In Track", 0.5), ("b.png", "S2", "OUT_of track", 0.5)])
    assert [field.worn for field in read_labels(folder)] == [True, False]
    write_plan(folder, [("a.png", "S1", "inside", 0.5), ("b.png", "S2", "out-of-track", 0.5)])
    assert "plan.csv, row 2, column zone: 'inside' isn't a zone; write in-track or out-of-track" in refused(folder)


def test_worn_is_said_by_words_or_numbers_and_anything_else_is_refused(folder):
    for word, worn in (("yes", True), ("TRUE", True), ("1", True), ("no", False), ("false", False), ("0", False)):
        (folder / "truth.csv").write_text(f"file,worn\na.png,{word}\n", encoding="utf-8")
        assert read_labels(folder)[0].worn is worn
    for word in ("nan", "partly", "0.5", "2"):
        (folder / "truth.csv").write_text(f"file,worn\nb.png,1\na.png,{word}\n", encoding="utf-8")
        assert f"truth.csv, row 3, column worn: '{word}'" in refused(folder)


def test_an_empty_cell_of_the_truth_takes_nothing_from_the_plan_and_a_contradiction_is_refused(folder):
    (folder / "truth.csv").write_text("file,zone,stage\na.png,,after\n", encoding="utf-8")
    assert read_labels(folder)[0].worn is True
    (folder / "truth.csv").write_text("file,zone\na.png,out-of-track\n", encoding="utf-8")
    assert "truth.csv, row 2, column zone: 'out-of-track' for a.png, and row 2 of plan.csv says 'in-track'" in refused(folder)


def test_a_plan_may_name_more_or_less_of_the_path_and_one_that_names_no_picture_is_refused(folder):
    write_plan(folder, [("pictures/a.png", "S1", "in-track", 0.5), (".\\b.png", "S1", "out-of-track", 0.5)])
    assert [field.specimen for field in read_labels(folder)] == ["S1", "S1"]
    write_plan(folder, [("c.png", "S1", "in-track", 0.5)])
    assert "plan.csv: no row means a picture of the folder" in refused(folder)


def test_a_picture_listed_twice_is_refused_under_whatever_path(folder):
    row = ("S1", "in-track", 0.5)
    for again in ("a.png", "pictures/a.png"):
        write_plan(folder, [("a.png", *row), ("b.png", *row), (again, "S2", "out-of-track", 0.5)])
        assert f"plan.csv, row 4, column file: {again} stands in row 2 too" in refused(folder)


def test_a_name_that_fits_several_pictures_is_refused(folder, codes):
    (folder / "deep").mkdir()
    write_pair(folder / "deep", "a", codes, seed=3)
    write_pair(folder / "deeper", "a", codes, seed=4)
    (folder / "a.png").unlink()
    assert "plan.csv, row 2, column file: a.png fits several pictures; write more of its folder path" in refused(folder)


def test_a_plan_saved_as_a_workbook_is_read(folder):
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.title = "fields"
    for row in (("file", "specimen", "zone", "pixel_size_um"), ("a.png", 12, "in-track", 0.5), ("b.png", 12, "in-track", 0.5)):
        book.active.append(row)
    book.save(folder / "plan.xlsx")
    (folder / "plan.csv").unlink()
    assert [(field.specimen, field.worn) for field in read_labels(folder)] == [("12", True)] * 2


@pytest.mark.parametrize(
    ("table", "content", "told"),
    [
        ("plan.csv", "", "plan.csv: the file is empty"),
        ("plan.csv", "file,specimen\nä.png,S1\n".encode("latin-1"), "plan.csv: the text isn't UTF-8; save it again"),
        ("plan.csv", "file,specimen\na.png,S1,x,y\n", "plan.csv, row 2: 4 cells for 2 columns"),
        ("plan.csv", "file,specimen\na.png,\n", "plan.csv, row 2, column specimen: the cell is empty"),
        ("plan.csv", "file,specimen,File\na.png,S1,b.png\n", "plan.csv, row 1, column file: the column stands there twice"),
        ("plan.csv", "file,pixel_size_um\na.png,\"0,5\"\n", "plan.csv, row 2, column pixel_size_um: '0,5' has a decimal comma"),
        ("truth.csv", "picture,worn\na.png,1\n", "truth.csv, row 1, column file: the column is missing; add it"),
        ("truth.csv", "file,worn\n,1\n", "truth.csv, row 2, column file: the cell is empty"),
        ("regions.csv", "", "regions.csv: the file is empty"),
        ("regions.csv", "file,row_px\na.png,1\n", "regions.csv, row 1, column worn: the column is missing"),
        ("regions.csv", "file,row_px,col_px,worn\na.png,x,1,1\n", "regions.csv, row 2, column row_px: 'x' is text"),
        ("regions.csv", "file,row_px,col_px,worn\na.png,,1,1\n", "regions.csv, row 2, column row_px: the cell is empty"),
        ("regions.csv", "file,row_px,col_px,worn\na.png,1,1,\n", "regions.csv, row 2, column worn: the cell is empty"),
        ("regions.csv", "file,row_px,col_px,worn\na.png,1,1,2\n", "regions.csv, row 2, column worn: '2' is neither"),
        ("regions.csv", "file,row_px,col_px,worn\nc.png,1,1,1\n", "regions.csv, row 2, column file: c.png isn't among the pictures"),
        ("regions.csv", "file,row_px,col_px,worn\na.png,1,1,1\na.png,91,5,0\n", "regions.csv, row 3: row_px 91, col_px 5 lies outside a.png"),
        ("regions.csv", "file,row_px,col_px,worn\na.png,-1,1,1\n", "regions.csv, row 2, column row_px: -1 is out of range"),
    ],
)  # fmt: skip
def test_a_table_that_cannot_be_read_right_is_refused_with_table_row_and_column(folder, table, content, told):
    (folder / table).write_bytes(content if isinstance(content, bytes) else content.encode())
    assert told in refused(folder)


TRIANGLE = [1, 1, 50, 1, 50, 50]


def write_coco(folder, **changes):
    """Polygons on a.png, whose mask goes."""
    coco = {
        "images": [{"id": 1, "file_name": "a.png"}],
        "categories": [{"id": 1, "name": "open valley"}],
        "annotations": [{"id": 3, "image_id": 1, "category_id": 1, "segmentation": [TRIANGLE]}],
    }
    (folder / "labels.json").write_text(json.dumps(coco | changes), encoding="utf-8")
    (folder / "masks" / "a.png").unlink(missing_ok=True)


def test_polygons_find_their_picture_by_path_or_name(folder):
    write_coco(folder, images=[{"id": 1, "file_name": "session/a.png", "height": 90, "width": 140}])
    assert (read_labels(folder)[0].codes == 1).any()


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"image_id": 9}, "annotation 3: image_id 9 is none of the images"),
        ({"category_id": 9}, "annotation 3: category_id 9 is none of the categories"),
        ({"category_id": [1]}, r"annotation 3: category_id \[1\] is none"),
        ({"segmentation": None}, r"annotation 3: no polygon \(segmentation\) in a.png"),
        ({"segmentation": []}, r"annotation 3: no polygon \(segmentation\) in a.png"),
        ({"segmentation": {"counts": [1], "size": [1, 1]}}, "annotation 3: run-length shape in a.png"),
        ({"segmentation": TRIANGLE}, "annotation 3: segmentation that is no list of polygons in a.png"),
        ({"segmentation": [[]]}, "annotation 3: polygon of 0 numbers"),
        ({"segmentation": [TRIANGLE, [1, 1, 50, 1, 50, 50, 7]]}, "annotation 3: polygon of 7 numbers"),
        ({"segmentation": [["a", *TRIANGLE[1:]]]}, "annotation 3: polygon with 'a' for a coordinate"),
        ({"segmentation": [[float("nan"), *TRIANGLE[1:]]]}, "annotation 3: polygon with nan for a coordinate"),
        ({"segmentation": [[1e12, *TRIANGLE[1:]]]}, "annotation 3: polygon with 1000000000000.0 for a coordinate"),
        ({"segmentation": [[1, 1, 20, 20, 40, 40]]}, "annotation 3: polygon whose corners lie on one line"),
        ({"segmentation": [[150, 1, 199, 1, 199, 50]]}, "annotation 3: a polygon lies outside a.png, which is 140 × 90 px"),
    ],
)  # fmt: skip
def test_a_shape_that_cannot_be_filled_is_refused_and_named(folder, changes, told):
    write_coco(folder, annotations=[{"id": 3, "image_id": 1, "category_id": 1, "segmentation": [TRIANGLE]} | changes])
    assert re.search(rf"labels\.json, {told}.*; \w+", refused(folder))


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"images": [{"id": 1}]}, "image number 1 has no file_name"),
        ({"images": [{"file_name": "a.png"}]}, "image number 1 has no id"),
        ({"images": ["a.png"]}, "image number 1 is no object"),
        ({"images": None}, "image number 1 is no object"),
        ({"images": [{"id": 1, "file_name": "a.png"}, {"id": 1, "file_name": "b.png"}]}, "two entries of image have the id 1"),
        ({"images": [{"id": 1, "file_name": "a.png"}, {"id": 2, "file_name": "./a.png"}]}, "a.png is listed twice"),
        ({"images": [{"id": 1, "file_name": "c.png"}]}, "it draws polygons on c.png, which isn't among the pictures"),
        ({"images": [{"id": 1, "file_name": "a.png", "height": 45, "width": 70}]}, "made for a picture of 70 × 45 px, not for a.png"),
        ({"categories": [{"id": 1}]}, "category number 1 has no name"),
        ({"categories": [{"id": 1, "name": "groove"}]}, "category 'groove' is no state; use plateau"),
        ({"annotations": [7]}, "annotation number 1 is no object"),
    ],
)  # fmt: skip
def test_a_coco_file_with_faulty_entries_is_refused_and_named(folder, changes, told):
    write_coco(folder, **changes)
    assert f"labels.json: {told}" in refused(folder)


def test_polygons_beside_a_mask_are_refused_and_an_image_merely_listed_is_not(folder, codes):
    write_coco(folder)
    cv2.imwrite(str(folder / "masks" / "a.png"), codes)
    assert "labels.json: it draws polygons on a.png, which has the mask" in refused(folder)
    write_coco(folder, annotations=[])
    cv2.imwrite(str(folder / "masks" / "a.png"), codes)
    np.testing.assert_array_equal(read_labels(folder)[0].codes, codes)
