"""Data bars in many invented layouts, burnt into simulated micrographs with exact truth."""

from semwear.simulate.data_bars.layouts import LAYOUTS, NOTHING_PRINTED
from semwear.simulate.data_bars.printing import CONTRADICTIONS, PrintedMicrograph, print_data_bar

__all__ = ["CONTRADICTIONS", "LAYOUTS", "NOTHING_PRINTED", "PrintedMicrograph", "print_data_bar"]
