"""Valley retention, smear and scuff from scanning electron micrographs of honed, run liner sections.

The order of the work is in :mod:`semwear.pipeline`; the words, columns and codes are in :mod:`semwear.terms`.
Importing the package is cheap: torch, matplotlib and OCR are imported by the stage that needs them.
"""

__version__ = "0.1.0"
