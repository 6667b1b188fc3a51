"""An independent maker of simulated micrographs, to calibrate on: it shares no code with the makers of training fields.

Three styles differ in kind: ``event`` (kinematic, grit by grit, with carried metal), ``section`` (drawn grooves with
profiles and discrete closures, painted) and ``hybrid`` (sums of filtered noise closed by morphology, lit by normals).
No training looks at what it makes; probabilities, decisions and limits are calibrated on it. Run ``python -m tests.independent_maker OUT --fields N --seed S``.
"""
