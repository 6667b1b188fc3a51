"""The surface as maps of what each mechanism contributes, filled in by grooves, wear events, inclusions and marks."""

from dataclasses import dataclass, field

import numpy as np


@dataclass(kw_only=True)
class Surface:
    """Maps on the picture's grid, (rows, cols) float32 unless said otherwise.

    ``before``: depth of hone grooves before wear, µm; ``depth``: depth of the open ground below the plateau after the plateau
    was worn, µm; ``slope_row``, ``slope_col``: inclination by the closed form of each feature; ``gather``: share of directions
    free for electrons; ``edge``: extra yield at edges; ``tone``: yield of the material; ``inner``: how much a point belongs to
    a groove's inside (0-1); ``covered`` (bool): displaced metal lies over a groove; ``sag``: depth of that metal, µm;
    ``crack``: how much of the light an unwelded seam takes; ``texture``: how strongly metal shows flow along the stroke;
    ``lifted``: how far displaced metal stands proud of the ground beneath it (0-1); ``scuff``: 0-1 strength of scuffing,
    0 where none; ``hidden`` (bool): what can't be assessed.
    """

    shape: tuple[int, int]
    pixel_um: float
    before: np.ndarray = field(init=False)
    depth: np.ndarray = field(init=False)
    slope_row: np.ndarray = field(init=False)
    slope_col: np.ndarray = field(init=False)
    gather: np.ndarray = field(init=False)
    edge: np.ndarray = field(init=False)
    tone: np.ndarray = field(init=False)
    inner: np.ndarray = field(init=False)
    covered: np.ndarray = field(init=False)
    sag: np.ndarray = field(init=False)
    crack: np.ndarray = field(init=False)
    texture: np.ndarray = field(init=False)
    lifted: np.ndarray = field(init=False)
    scuff: np.ndarray = field(init=False)
    hidden: np.ndarray = field(init=False)

    def __post_init__(self) -> None:
        for name in (
            "before",
            "depth",
            "slope_row",
            "slope_col",
            "edge",
            "inner",
            "sag",
            "crack",
            "texture",
            "lifted",
            "scuff",
        ):
            setattr(self, name, np.zeros(self.shape, np.float32))
        self.gather = np.ones(self.shape, np.float32)
        self.tone = np.ones(self.shape, np.float32)
        self.covered = np.zeros(self.shape, bool)
        self.hidden = np.zeros(self.shape, bool)
