"""Printing a specimen's data bar on a picture, by one of the twelve layouts."""

import numpy as np

from tests.session_maker import burnt_in, strips
from tests.session_maker.data_bar import TOP_STRIP, DataBar
from tests.session_maker.sheet import Sheet

LAYOUTS = {
    0: strips.white_strip,
    1: strips.black_strip,
    2: burnt_in.two_lines,
    3: burnt_in.eleven_ticks,
    4: burnt_in.white_inset,
    5: strips.chequered_bar,
    7: strips.cells,
    8: burnt_in.black_inset,
    9: strips.interrupted_bar,
    10: strips.dotted_bar,
    11: burnt_in.bracket,
}
"""By their numbers; the strip above the picture prints the picture's serial number too."""


def imprint(picture: np.ndarray, bar: DataBar, shape: tuple[int, int], pixel_size_um: float, serial: int) -> Sheet:
    """Return the sheet of ``shape`` with ``picture`` (rows without the strip, cols) and the data bar printed on it."""
    sheet = Sheet(picture, bar, shape, pixel_size_um)
    if bar.layout == TOP_STRIP:
        strips.top_strip(sheet, serial)
    else:
        LAYOUTS[bar.layout](sheet)
    return sheet
