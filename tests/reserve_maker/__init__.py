"""Reserve maker: simulated micrographs of honed and run liner surfaces that serve to report accuracy and nothing else.

Kinematics first. Single abrasive grains plough a height map along the helical paths of a honing head, a finishing stone
sinks until its bearing area carries it, a counterface then presses the surface in small steps and lays the metal that it
moves over the next groove downstream, and junctions that seize grow along the stroke. A secondary-electron picture is
formed from the resulting heights. All truth is read off the heights, never off the picture.

``python -m tests.reserve_maker OUT --fields N --seed S`` writes a label folder.
"""
