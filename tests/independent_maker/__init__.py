"""An independent maker of simulated micrographs: a held-out family that shares no code with the package's own simulator.

Three styles differ in kind: ``event`` (kinematic, grit by grit, with carried metal), ``section`` (drawn grooves with
profiles and discrete closures, painted) and ``hybrid`` (sums of filtered noise closed by morphology, lit by normals).
No training and no tuning may look at what it makes. Run ``python -m tests.independent_maker OUT --fields N --seed S``.
"""
