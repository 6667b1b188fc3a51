"""Simulated micrographs of honed and run cylinder liners, written from workshop practice; they only serve to report accuracy.

Nothing is ever tuned on these pictures. Run ``python -m tests.workshop_maker OUT --fields N --seed S``.
"""
