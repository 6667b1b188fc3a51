"""Data bars on a strip of their own, below the picture or above it.

All layouts, and the distances in px between their parts, are invented.
"""

from tests.session_maker.data_bar import USUAL_COLS
from tests.session_maker.sheet import Sheet


def white_strip(sheet: Sheet) -> None:
    """Print on a white strip: a ticked bar at the left with its label above, facts in three columns."""
    bar = sheet.bar
    sheet.fill_strip(255)
    sheet.label(14 + sheet.bar_px / 2, sheet.row(0.27), 0, "mm")
    sheet.ticked_bar(14, int(sheet.row(0.68)), 0)
    x = max(14 + sheet.bar_px + 40, sheet.cols * 0.36)
    columns = (
        (f"HV = {bar.kv} kV", f"WD = {bar.working_distance} mm"),
        (f"Signal = {bar.detector}", f"Mag = {bar.magnification} X"),
        (bar.place, bar.date),
    )
    for i, (upper, lower) in enumerate(columns):
        sheet.text(x, sheet.row(0.28), upper, 0)
        sheet.text(x, sheet.row(0.72), lower, 0)
        x += (sheet.cols - x - 20) / (3 - i)


def black_strip(sheet: Sheet) -> None:
    """Print on a black strip: one line of facts, a ticked bar at the right with its label before it."""
    bar = sheet.bar
    sheet.fill_strip(0)
    left = sheet.cols - 16 - sheet.bar_px
    sheet.ticked_bar(left, sheet.middle, 255)
    sheet.label(left - 12, sheet.middle, 255, "rm")
    x = 12
    for words in (f"{bar.kv}kV", f"x{bar.magnification}", f"WD{bar.working_distance}mm", bar.detector):
        if x < left - 190:
            x = sheet.text(x, sheet.middle, words, 255) + 22


def chequered_bar(sheet: Sheet) -> None:
    """Print on a dark strip: two rows of five fields, black and white by turns, and the label above them."""
    bar = sheet.bar
    sheet.fill_strip(bar.grey)
    left = sheet.cols // 2 - sheet.bar_px // 2 if bar.flipped else 20
    top, high, many = sheet.middle + 6, 5, 5
    for k in range(many):
        first, last = left + round(k * sheet.bar_px / many), left + round((k + 1) * sheet.bar_px / many) - 1
        upper, lower = (255, 0) if k % 2 == 0 else (0, 255)
        sheet.fill((first, top, last, top + high), upper)
        sheet.fill((first, top + high + 1, last, top + 2 * high), lower)
    sheet.label(left + sheet.bar_px / 2, sheet.row(0.28), 255, "mm")
    sheet.text(sheet.cols - 14, sheet.row(0.3), f"{bar.detector}  {bar.kv} kV", 255, "rm")
    sheet.text(sheet.cols - 14, sheet.row(0.72), f"field {bar.field_width} µm", 255, "rm")


def top_strip(sheet: Sheet, serial: int) -> None:
    """Print above the picture, black on white or white on black: a ticked bar at the right, two lines of facts."""
    bar = sheet.bar
    ground = 255 if bar.flipped else 0
    sheet.fill_strip(ground)
    grey = 255 - ground
    left = sheet.cols - 20 - sheet.bar_px
    sheet.ticked_bar(left, int(sheet.row(0.7)), grey, max(2, bar.line_px))
    sheet.label(sheet.cols - 20 - sheet.bar_px / 2, sheet.row(0.28), grey, "mm")
    sheet.text(12, sheet.row(0.3), f"{bar.place}  No {serial:04d}", grey)
    sheet.text(12, sheet.row(0.7), f"{bar.kv} kV   {bar.working_distance} mm   {bar.detector}", grey)


def cells(sheet: Sheet) -> None:
    """Print in cells with borders, a fact in each and a solid bar in the last one."""
    bar, bottom = sheet.bar, sheet.rows
    sheet.fill((0, sheet.above, sheet.cols - 1, bottom - 1), 0, outline=200)
    right = sheet.cols - (sheet.bar_px + 44)
    facts = (
        ("HV", bar.kv + " kV"), ("mag", f"{bar.magnification} x"), ("det", bar.detector),
        ("HFW", bar.field_width + " µm"), ("WD", bar.working_distance + " mm"),
    )  # fmt: skip
    many = max(2, min(5, int(right / (118 * sheet.cols / USUAL_COLS))))
    step = right / many
    for i, (name, value) in enumerate(facts[:many]):
        sheet.line((int(i * step), sheet.above, int(i * step), bottom), 200)
        sheet.text(i * step + 10, sheet.row(0.28), name, 230)
        sheet.text(i * step + 10, sheet.row(0.72), value, 230)
    sheet.line((right, sheet.above, right, bottom), 200)
    left, top = right + 22, int(sheet.row(0.72))
    sheet.fill((left, top, left + sheet.bar_px - 1, top + 3 + bar.line_px), 255)
    sheet.label(left + sheet.bar_px / 2, sheet.row(0.32), 255, "mm")


def interrupted_bar(sheet: Sheet) -> None:
    """Print on a light or dark strip: a ticked bar at the left that its label interrupts, or precedes where it doesn't fit."""
    bar, middle = sheet.bar, sheet.middle
    ground = 235 if bar.flipped else 10
    grey = 0 if ground > 128 else 255
    sheet.fill_strip(ground)
    needed = sheet.label_width() + 16
    left, half = 18, sheet.bar_px / 2
    sheet.ticked_bar(left, middle, grey)
    if needed < 0.8 * sheet.bar_px:
        high = bar.letters_px * 0.7
        sheet.fill((left + half - needed / 2, middle - high, left + half + needed / 2, middle + high), ground)
        sheet.label(left + half, middle, grey, "mm")
    else:
        sheet.label(left + sheet.bar_px + 12, middle, grey)
    facts = f"{bar.kv} kV  {bar.detector}  WD {bar.working_distance}"
    sheet.text(sheet.cols - 12, sheet.row(0.3), facts, grey, "rm")
    sheet.text(sheet.cols - 12, sheet.row(0.72), f"pixel {bar.pixel}", grey, "rm")


def dotted_bar(sheet: Sheet) -> None:
    """Print on a dark strip: eleven dots, the first and last ones tall, their label beneath, one line of facts."""
    bar = sheet.bar
    sheet.fill_strip(bar.grey)
    left, y = sheet.cols - 26 - sheet.bar_px, int(sheet.row(0.3))
    for k in range(11):
        x = left + int(round(k * sheet.bar_px / 10))
        high = 6 if k in (0, 10) else 3
        sheet.fill((x - 1, y - high, x + 1, y + high), 255)
    sheet.label(left + sheet.bar_px, sheet.row(0.74), 255, "rm")
    facts = f"{bar.kv}kV  {bar.working_distance}mm  x{bar.magnification}  {bar.detector}"
    sheet.text(12, sheet.middle, facts, 255)
