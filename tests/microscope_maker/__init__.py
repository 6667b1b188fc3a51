"""A simulator of electron pictures of honed, run liner sections: heights first, then what a microscope makes of them.

A section has one finish and a microscope one setting; both are kept over a specimen's fields. Lengths and heights are in µm,
depths counted downwards from the local plateau; directions are unit vectors (x along rows, y down); arrays are (rows, cols).
"""
