"""Micrographs with known answers by another hand, for calibration: doubt is measured and choices are made on them.

``python -m tests.far_maker OUT --fields N --seed S`` writes a folder. No training sees it.
"""
