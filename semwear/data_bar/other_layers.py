"""What the same print says in another layer of ink: a label that has more figures there, or a decimal point, isn't sure.

A figure or a point that one layer has lost may be plain to see in another one, which was refused for another reason.
"""

import re

from semwear.data_bar.label_point import Label


def reads_otherwise(label: Label, others: list[Label]) -> str:
    """Return the text of another reading of the same print with a figure or a decimal point that the label lacks, or without a 1
    that the label begins with, which may be an outline or a stroke beside it; or ""."""
    return next((other.length.text for other in others if _lies_over(label, other) and _speaks_against(label, other)), "")


def _speaks_against(label: Label, other: Label) -> bool:
    """Tell whether a reading has the label's figures and a point besides, or a figure before them that is no stroke, or lacks a 1
    before them alone."""
    number, more = (one.length.text.split()[0].replace(",", ".") for one in (label, other))
    if label.length.text.split()[1] != other.length.text.split()[1] or number == more:
        return False
    pointed = "." in more and "." not in number and more.replace(".", "") == number
    # A tick or a rule right before a label reads as 1.
    return pointed or number == f"1{more}" or bool(re.fullmatch(rf"[2-9]\d*{re.escape(number)}", more))


def _lies_over(label: Label, other: Label) -> bool:
    """Tell whether two lines of different layers cover each other in the picture, in half of the smaller one."""
    one, two = _box(label), _box(other)
    rows = min(one[1], two[1]) - max(one[0], two[0])
    cols = min(one[3], two[3]) - max(one[2], two[2])
    least = min((box[1] - box[0]) * (box[3] - box[2]) for box in (one, two))
    return label.ink is not other.ink and rows > 0 and cols > 0 and rows * cols >= 0.5 * least


def _box(label: Label) -> tuple[int, int, int, int]:
    """Return the rows and columns of a label's line in the picture."""
    line, ink = label.printed.line, label.ink
    return line.row_0 + ink.row_0, line.row_1 + ink.row_0, line.col_0 + ink.col_0, line.col_1 + ink.col_0
