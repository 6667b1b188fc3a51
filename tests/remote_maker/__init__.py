"""Simulated secondary-electron micrographs of honed, run cylinder-liner surfaces, for reporting accuracy only.

Every groove is an object of its own: a cross-section swept along a slightly wandering line, with depth, width, floor and
rim that drift along its length. Wear events are objects too, drawn per groove and per stretch from a Markov chain, and
scuffing is a marked cluster process. Grey values come from a statistical electron model per surface point.

Run ``python -m tests.remote_maker OUT --fields N --seed S``. All pictures are plainly marked as simulated.
"""
