"""A simulator of secondary-electron pictures of honed, run liner sections in which all moved metal is a thin sheet.

The ground is a Poisson process of hone grooves; wear cuts it off at a level; the ring's metal lies on it as sheets with
outlines of their own, and scuffing is a pile of torn sheets along the stroke. The picture is made by reciprocity: the
surface is seen from above and lit by a sky that is brighter on the detector's side. Directions are in degrees,
anticlockwise from the picture's rows; heights in µm above the local plateau; arrays are (row, col).
"""
