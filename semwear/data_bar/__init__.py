"""The data bar: strips, boxes and burnt-in marks, the scale bar and its label, and the facts printed beside it."""

from semwear.data_bar.read import DataBar, read_data_bar

__all__ = ["DataBar", "read_data_bar"]
