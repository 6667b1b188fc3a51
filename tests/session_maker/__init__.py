"""The session maker: a simulator of whole sessions of electron micrographs of honed, run liner sections, with exact truth.

Everything in its pictures is simulated and invented. A session is a row of specimens of six fields each, three out of the
track and three in it; a specimen keeps its finish, its instrument's setting and its data bar. Lengths are in µm unless a
name ends in ``_px``; heights count upwards from the plateau; arrays are (rows, cols); directions are degrees from the
picture's rows, anticlockwise as seen. The faces that letters are printed in are those installed, so that files are the same
for the same seed on machines with the same fonts.
"""
