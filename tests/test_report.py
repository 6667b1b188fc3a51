"""The report and the overlay: self-contained, complete, safe against odd names, and drawn where the states are."""

import re
from html.parser import HTMLParser

import numpy as np
import pytest
from PIL import Image

from semwear.area_fraction import area_fraction
from semwear.measure import empty_row
from semwear.overlay import LEAST_WIDTH_PX, STYLES, draw_overlay
from semwear.plots import overview_svg
from semwear.report import build_report, group_table, summary_sentences
from semwear.terms import FLAGS, MaskCode

RUN = {
    "semwear": "0.1.0", "started": "2026-01-02T03:04:05+00:00", "ended": "2026-01-02T03:04:09+00:00", "seconds": 4.0,
    "complete": True, "pictures": 3, "measured": 2, "refused": 1, "taken_over": 0, "paths": ["session"], "plan": "",
    "settings": {"pixel_size_um": None, "stroke_deg": 90.0}, "model": {}, "python": "3.11", "system": "test",
    "packages": {"numpy": "2.0"},
}  # fmt: skip


def measured_row(file, valley, **further):
    known = {"status": "measured", "specimen": "A1", "zone": "in-track", "stage": "after", "valley_fraction": valley,
             "smeared_fraction": 0.04, "scuffed_fraction": 0.0, "plateau_fraction": 0.96 - valley}  # fmt: skip
    return empty_row(file, **known | further)


@pytest.fixture
def rows():
    return [
        measured_row("a/1.tif", 0.12, valley_retention=0.6, valley_retention_low=0.5, valley_retention_high=0.7,
                     retention_basis="reference", flags="clipped;stroke from lays"),
        measured_row("a/<b> & 'c'.tif", 0.2, valley_retention=0.9, retention_basis="continuity", flags="no reference"),
        empty_row("bad.tif", status="refused", reason="bad.tif: the file is empty; copy it again"),
    ]  # fmt: skip


class Outline(HTMLParser):
    """Collects what a browser would see, and checks that tags close in order."""

    VOID = {"meta", "img", "input", "br", "link"}

    def __init__(self):
        super().__init__()
        self.open, self.sections, self.outside, self.text = [], [], [], ""

    def handle_starttag(self, tag, attributes):
        values = dict(attributes)
        if tag not in self.VOID:
            self.open.append(tag)
        if tag == "section":
            self.sections.append(values)
        self.outside += [
            value for name, value in values.items()
            if name in ("src", "href") and not value.startswith(("#", "data:"))
        ]  # fmt: skip

    def handle_startendtag(self, tag, attributes):
        pass

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text += data


def outline(html) -> Outline:
    parser = Outline()
    parser.feed(html)
    assert parser.open == []
    return parser


def test_report_is_one_well_formed_file_that_asks_for_nothing_from_outside(rows, tmp_path):
    Image.new("RGB", (40, 30), (90, 90, 90)).save(tmp_path / "1.webp")
    html = build_report(rows, RUN, {"a/1.tif": tmp_path / "1.webp"})
    seen = outline(html)
    assert seen.outside == []
    assert "@import" not in html and "url(" not in html.replace("url(#", "")
    assert html.count('src="data:image/webp;base64,') == 1


def test_every_field_has_a_section_with_figures_flags_and_their_meaning(rows):
    seen = outline(build_report(rows, RUN, {}))
    assert [section["data-flags"] for section in seen.sections] == [
        "clipped;stroke from lays",
        "no reference",
        "refused",
    ]
    for words in ("12.0 %", "0.60 (0.50 to 0.70)", "at most 0.90", "bad.tif: the file is empty", FLAGS["clipped"]):
        assert words in seen.text


def test_names_with_markup_are_shown_and_not_obeyed(rows):
    html = build_report(rows, RUN, {})
    assert "<b>" not in html and "&lt;b&gt; &amp;" in html


def test_report_states_method_limits_cautions_and_where_it_comes_from(rows):
    text = outline(build_report(rows, RUN, {})).text
    for words in ("How it was measured", "What it can't tell", "high voltage", "X-rays", "Solvents", "licensed",
                  "upper bound", "circumference", "numpy 2.0", "by geometry alone"):  # fmt: skip
        assert words in text


def test_table_by_group_is_mean_and_interval_over_fields(rows):
    group = group_table(rows)[0]
    found = area_fraction([0.12, 0.2])
    assert group["fields"] == 2 and group["name"] == "A1, in-track, after"
    assert group["means"][0] == f"{100 * found.mean:.1f} % (0.0 to {100 * found.high:.1f})"  # a share isn't below 0


def test_the_span_of_retentions_is_told_with_their_intervals(rows):
    """0.60 alone would read as if it were known to two figures; its interval is 0.50 to 0.70."""
    assert "is 0.60 in one field, its 95 % interval 0.50 to 0.70." in " ".join(summary_sentences(rows, RUN))


def test_figure_is_drawn_for_measured_fields_and_empty_without_any(rows):
    svg = overview_svg(rows)
    assert svg.startswith("<svg") and "valley retention" in svg and "A1, in-track, after" in svg
    assert overview_svg(rows[2:]) == ""


def test_figure_takes_names_in_any_script_and_with_dollars():
    assert "試料" in overview_svg([measured_row("a.tif", 0.1, specimen="試料 $x_1$ & <c>")])


def drawn(svg, colour):
    """Return the marks, as (x, y), and the intervals, as (left, right, y), that the figure draws in a colour."""
    panel = svg[: svg.index('id="legend_1"')]
    marks = re.findall(rf'<use [^>]*x="([\d.]+)" y="([\d.]+)" style="fill: {colour}', panel)
    lines = re.findall(rf'd="M ([\d.]+) ([\d.]+) L ([\d.]+) \2[^"]*"[^>]*stroke: {colour}', panel.replace("\n", ""))
    return [(float(x), float(y)) for x, y in marks], [(float(a), float(b), float(y)) for a, y, b in lines]


def test_every_field_of_a_group_has_its_interval_on_a_line_of_its_own_in_the_order_of_the_rows():
    # Three fields whose marks and intervals would lie over each other on one line; the second has the least valley.
    fields = [
        measured_row(f"{n}.tif", valley, valley_fraction_low=0.02, valley_fraction_high=0.4, smeared_fraction_low=0.01,
                     smeared_fraction_high=0.3, scuffed_fraction_low=0.0, scuffed_fraction_high=0.1)
        for n, valley in enumerate((0.2, 0.1, 0.3))
    ]  # fmt: skip
    svg = overview_svg(fields)
    heights = []
    for colour in ("#2b7bba", "#b8960c", "#d55e00"):
        marks, lines = drawn(svg, colour)
        assert [y for _, y in marks] == [y for _, _, y in lines]
        assert all(left <= x <= right for (x, _), (left, right, _) in zip(marks, lines, strict=True))
        heights += [y for _, y in marks]
    across = [x for x, _ in drawn(svg, "#2b7bba")[0]]
    assert across[1] < across[0] < across[2]  # the order of the rows, not of the values
    assert min(np.diff(heights)) > 4  # downwards, in points: a mark is 4.5 high


def test_marks_at_zero_are_whole_and_stand_free_of_the_axis():
    svg = overview_svg([measured_row("a.tif", 0.1)])
    left = float(re.search(r'id="patch_2">\s*<path d="M ([\d.]+) ', svg)[1])  # the panel's ground, from its left corner
    (x, _), *_ = drawn(svg, "#d55e00")[0]
    assert x - left > 4.5 / 2  # half of a mark, in points
    assert not re.search(r"clip-path[^>]*>\s*<use", svg)


@pytest.fixture
def blocks():
    """A field of 300 × 480 pixels with one block of each state."""
    codes = np.zeros((300, 480), np.uint8)
    for place, code in enumerate((1, 2, 3, 255)):
        codes[100:180, 40 + 110 * place : 110 + 110 * place] = code
    return codes


def test_outlines_run_along_the_edges_of_their_states_in_their_colours(blocks):
    overlay = draw_overlay(np.full(blocks.shape, 0.5), blocks, picture=np.ones(blocks.shape, bool), pixel_size_um=0.5,
                           title="a.tif")  # fmt: skip
    scale = LEAST_WIDTH_PX / 480
    top = next(row for row in range(overlay.shape[0]) if overlay[row, 0, 0] < 50)  # below the light title strip
    for code, style in STYLES.items():
        coloured = (overlay[top : top + round(300 * scale)] == style.colour).all(axis=2)
        row, col = np.nonzero(coloured)
        left = 40 + 110 * (int(code) - 1)
        assert row.size > 50
        assert abs(row.min() / scale - 100) < 2 and abs(row.max() / scale - 180) < 2
        assert abs(col.min() / scale - left) < 2 and abs(col.max() / scale - (left + 70)) < 2
    assert overlay.shape[1] == LEAST_WIDTH_PX and 0 < top < 60


@pytest.mark.parametrize(("code", "tinted"), [(1, False), (2, True), (3, True)])
def test_worn_area_and_not_its_islands_is_tinted_with_the_micrograph_showing_through(code, tinted):
    codes = np.zeros((600, 960), np.uint8)
    codes[100:500, 100:860] = code
    codes[200:400, 300:660] = 0  # an island, whose outline looks the same from both sides
    grey = np.full(codes.shape, 80, np.uint8)
    grey[:, 480:] = 160
    overlay = draw_overlay(grey, codes, picture=np.ones(codes.shape, bool), pixel_size_um=0.5, title="a.tif").astype(
        int
    )
    top = next(row for row in range(overlay.shape[0]) if overlay[row, 0, 0] < 50)
    field = overlay[top : top + 600]
    area, island, outside = field[110:190, 110:850], field[210:390, 310:650], field[10:90]
    warm = area[..., 0] - area[..., 2]  # both colours hold far more red than blue; the micrograph is grey
    assert (warm > 10).all() if tinted else (warm == 0).all()
    assert not np.ptp(island, axis=2).any() and not np.ptp(outside, axis=2).any()
    steps = [np.median(part[:, -300:, 1]) - np.median(part[:, :300, 1]) for part in (area, outside)]
    assert steps[0] > 0.75 * steps[1] > 0  # at least three quarters of the step in grey are left


def test_legend_shows_the_tints_of_smeared_and_scuffed(blocks):
    overlay = draw_overlay(np.full(blocks.shape, 0.5), blocks, picture=np.ones(blocks.shape, bool), pixel_size_um=0.5,
                           title="a.tif")  # fmt: skip
    red, green, blue = overlay[-26:].astype(int).transpose(2, 0, 1)
    faint = (red - blue > 10) & (red - blue < 120)  # between the grey ground and the full colour of an outline
    assert (faint & (red - green < 10)).sum() > 30  # yellow: as much green as red
    assert (faint & (red - green > 10)).sum() > 30  # orange


@pytest.mark.parametrize("level", [0, 128, 255])
def test_what_is_not_assessed_is_seen_to_be_ruled_on_any_ground(level):
    """Debris is white, what lies beyond the edge black: lines that differ by a fifth of full scale are seen (own limit)."""
    grey = np.full((600, 960), level, np.uint8)
    grey[:40], grey[40:80] = 0, 255  # the picture's own black and white, so that it isn't stretched
    codes = np.zeros(grey.shape, np.uint8)
    codes[100:300] = MaskCode.NOT_ASSESSED
    overlay = draw_overlay(grey, codes, picture=np.ones(codes.shape, bool), pixel_size_um=0.5, title="a.tif")
    top = next(row for row in range(overlay.shape[0]) if overlay[row, 0, 0] < 50)
    hatched, plain = overlay[top + 110 : top + 290, :, 0], overlay[top + 310 : top + 590, :, 0]
    assert not np.ptp(plain) and (hatched == level).mean() > 0.5
    assert np.ptp(hatched) > 0.2 * 255


def test_styles_differ_in_lightness_and_in_line_as_well_as_in_hue():
    lightness = sorted(float(np.dot(style.colour, (0.2126, 0.7152, 0.0722))) for style in STYLES.values())  # Rec. 709
    assert min(np.diff(lightness)) > 40
    assert len({(style.dash, style.gap) for style in STYLES.values()}) == 3
    assert len({style.rulings for style in STYLES.values()}) == 3


def test_scale_bar_has_the_length_that_its_label_says(blocks):
    # 480 px of 0.5 µm are 240 µm wide; the longest round length under 22 % of that is 50 µm: 100 px, drawn twice as large.
    overlay = draw_overlay(np.full(blocks.shape, 0.5), blocks, picture=np.ones(blocks.shape, bool), pixel_size_um=0.5,
                           title="a.tif")  # fmt: skip
    footer = overlay[-20:, overlay.shape[1] // 2 :].max(axis=2) < 60
    runs = [len(max(re.findall("1+", "".join(map(str, line.astype(int)))), key=len, default="")) for line in footer]
    assert max(runs) == 200


def test_large_and_small_and_oblong_fields_are_drawn_at_readable_size():
    for shape, aspect in (((64, 64), 1.0), ((3000, 6000), 1.0), ((900, 300), 1.0), ((300, 600), 1.3)):
        codes = np.zeros(shape, np.uint8)
        codes[10:20] = MaskCode.OPEN_VALLEY
        overlay = draw_overlay(np.zeros(shape), codes, picture=np.ones(shape, bool), pixel_size_um=1.0,
                               pixel_height_um=aspect, title="t" * 300, subtitle="A1 · in-track")  # fmt: skip
        assert 960 <= overlay.shape[1] <= 1800
        drawn_height = shape[0] * aspect * overlay.shape[1] / shape[1]
        assert drawn_height < overlay.shape[0] < drawn_height + 200
