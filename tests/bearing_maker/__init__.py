"""Simulated secondary-electron micrographs of honed, run cylinder-liner ground, made from measured-surface statistics.

The honed ground is two-process noise with an asked material-ratio curve (``ground``), running-in is a cellular transport
of metal along the stroke (``running_in``), scuffing is torn streaks (``scuffing``), and the picture is a look-up of local
inclination, curvature and depth in tables drawn anew for every specimen (``signal``). ``python -m tests.bearing_maker``
writes a label folder. Every picture is a simulation and says so in its metadata or its data bar.
"""
