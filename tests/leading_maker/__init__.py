"""A simulator of electron pictures of honed, run liner sections in which one signal of six leads each picture.

Grooves are laid strip by strip, closures are laid into them, scuffing runs along the stroke; the field is then seen by the
side of the detector, openness, edges, matter, charging and the texture of each state. Lengths are in µm, angles in radians
from the picture's rows towards its lower edge unless a name says degrees; arrays are (rows, cols).
"""
