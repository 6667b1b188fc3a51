"""Data bars printed over the picture; all layouts, and the distances in px between their parts, are invented."""

from tests.session_maker.sheet import Sheet


def two_lines(sheet: Sheet) -> None:
    """Print two lines of facts and a ticked bar on a black ground, white letters with a black edge."""
    bar = sheet.bar
    x, lower = int(sheet.cols * 0.06), sheet.rows - sheet.sized(36)
    upper = lower - sheet.sized(24)
    end = sheet.text(x, upper, "Acc.V   Magn    Det   WD", 255, outline_px=1)
    facts = f"{bar.kv} kV {bar.magnification}x  {bar.detector}  {bar.working_distance}"
    sheet.text(x, lower, facts, 255, outline_px=1)
    left = int(max(end, sheet.cols * 0.38)) + 18
    sheet.fill((left - 2, lower - 26, left + sheet.bar_px + 2, lower - 21), 0)
    sheet.ticked_bar(left, lower - 24, 255, max(2, bar.line_px))
    sheet.label(left + sheet.bar_px + 14, lower - 24, 255, outline_px=1)


def eleven_ticks(sheet: Sheet) -> None:
    """Print eleven ticks without a line, the first, sixth and last ones tall, their label beneath, one line of facts."""
    bar, tick_px = sheet.bar, sheet.bar.tick_px
    left, y = sheet.cols - 24 - sheet.bar_px, sheet.rows - sheet.sized(62)
    for k in range(11):
        x = left + int(round(k * sheet.bar_px / 10))
        high = tick_px + (6 if k in (0, 5, 10) else 0)
        sheet.fill((x - 1, y - high - 1, x + 2, y + high + 1), 0)
        sheet.fill((x, y - high, x + 1, y + high), 255)
    sheet.cover(left - 3, y - tick_px - 9, left + sheet.bar_px + 4, y + tick_px + 9)
    lower = y + sheet.sized(30)
    sheet.label(sheet.cols - 24, lower, 255, "rm", outline_px=1)
    facts = f"{bar.kv}kV {bar.working_distance}mm x{bar.magnification} {bar.detector} {bar.date}"
    sheet.text(20, lower, facts, 255, outline_px=1)


def white_inset(sheet: Sheet) -> None:
    """Print in a white box with a black border in a lower corner: three facts, a ticked bar, its label above."""
    bar = sheet.bar
    wide, high = sheet.bar_px + sheet.sized(230), sheet.sized(64)
    x, y = sheet.cols - wide - 2 if bar.flipped else 2, sheet.rows - high - 2
    sheet.fill((x, y, x + wide, y + high), 255, outline=0, width=2)
    sheet.cover(x, y, x + wide + 1, y + high + 1)
    facts = (f"HV = {bar.kv} kV", f"WD = {bar.working_distance} mm", f"Mag = {bar.magnification} X")
    for i, words in enumerate(facts):
        sheet.text(x + 10, y + high * (0.2 + 0.3 * i), words, 0)
    left = x + wide - sheet.bar_px - 18
    sheet.label(left + sheet.bar_px / 2, y + high * 0.28, 0, "mm")
    sheet.ticked_bar(left, int(y + high * 0.68), 0)


def black_inset(sheet: Sheet) -> None:
    """Print in a black box in a lower corner: a solid bar and its label below."""
    bar = sheet.bar
    wide, high = sheet.bar_px + 36, sheet.sized(58)
    x, y = 12 if bar.flipped else sheet.cols - wide - 12, sheet.rows - high - 12
    sheet.fill((x, y, x + wide, y + high), 0)
    sheet.cover(x, y, x + wide + 1, y + high + 1)
    left = x + 18
    sheet.fill((left, y + 12, left + sheet.bar_px - 1, y + 15 + 2 * bar.line_px), 255)
    sheet.label(left + sheet.bar_px / 2, y + high * 0.7, 255, "mm")


def bracket(sheet: Sheet) -> None:
    """Print a bracket in a lower corner with its label above, white with a black edge, and a fact in the upper left corner."""
    bar = sheet.bar
    left = 28 if bar.flipped else sheet.cols - 28 - sheet.bar_px
    y = sheet.rows - sheet.sized(30)
    for edge, grey in ((2, 0), (0, 255)):
        sheet.fill((left - edge, y - edge, left + sheet.bar_px + edge, y + 1 + edge), grey)
        for x in (left, left + sheet.bar_px):
            sheet.fill((x - edge, y - 12 - edge, x + 1 + edge, y + edge), grey)
    sheet.cover(left - 3, y - 16, left + sheet.bar_px + 5, y + 6)
    sheet.label(left + sheet.bar_px / 2, y - 28, 255, "mm", outline_px=2)
    sheet.text(12, 16, f"{bar.detector} {bar.kv} kV", 255, outline_px=1)
