"""A maker of micrograph files with known answers, sharing no code with semwear nor with the other makers.

It is used for reporting only: it shows how semwear does on pictures drawn from another idea of the surface, of the
secondary-electron picture and of the data bar. ``python -m tests.other_maker OUT --fields N --seed S`` writes a folder.
"""
