"""Finishes: the populations that grooves of a honed bore are drawn from.

Ranges: groove depth 1-10 µm, width 5-50 µm, included angles of 30-60° or, helical slide honing, 140-150° (from memory, as
the laboratory's list of trade figures gives them); walls slope 6-27°. Two bands of grooves placed at random at two angles:
Puente León, CIRP Annals 51 (2002) 503.
"""

from dataclasses import dataclass

Range = tuple[float, float]

DEPTH_UM: Range = (1.0, 10.0)
WIDTH_UM: Range = (5.0, 50.0)
USUAL_ANGLE_DEG: Range = (30.0, 60.0)
HELICAL_ANGLE_DEG: Range = (140.0, 150.0)
WALL_DEG: Range = (6.0, 27.0)


@dataclass(frozen=True, kw_only=True)
class Finish:
    """One way of honing: ranges a specimen draws its own medians from.

    ``deep_share``: share of grooves from the first, deep process; ``gap_um``: mean distance between neighbouring lines of a
    lay; ``length_um``: mean length of a groove; ``powers``: sharpness of the sections; ``mark_um``: depth of the faint
    marks that the last stones leave on the plateau.
    """

    name: str
    width_um: Range
    fine_width_um: Range
    deep_share: Range
    wall_deg: Range
    gap_um: Range
    length_um: Range
    powers: Range
    mark_um: Range
    angle_deg: Range = USUAL_ANGLE_DEG


FINISHES = (
    Finish(
        name="single-stage",
        width_um=(10, 17), fine_width_um=(6, 9), deep_share=(0.5, 0.8), wall_deg=(11, 20), gap_um=(36, 76),
        length_um=(500, 1800), powers=(1.1, 2.4), mark_um=(0.06, 0.2),
    ),
    Finish(
        name="plateau",
        width_um=(16, 30), fine_width_um=(6, 10), deep_share=(0.45, 0.75), wall_deg=(11, 21), gap_um=(64, 130),
        length_um=(900, 4000), powers=(1.3, 3.5), mark_um=(0.03, 0.13),
    ),
    Finish(
        name="very fine",
        width_um=(6.5, 9.5), fine_width_um=(5.2, 6.5), deep_share=(0.5, 0.9), wall_deg=(18, 25), gap_um=(20, 42),
        length_um=(200, 900), powers=(1.3, 2.6), mark_um=(0.02, 0.1),
    ),
    Finish(
        name="helical",
        width_um=(10, 20), fine_width_um=(6, 9), deep_share=(0.4, 0.8), wall_deg=(10, 20), gap_um=(44, 95),
        length_um=(700, 3000), powers=(1.2, 3.0), mark_um=(0.03, 0.12), angle_deg=HELICAL_ANGLE_DEG,
    ),
    Finish(
        name="coarse and sparse",
        width_um=(24, 38), fine_width_um=(8, 14), deep_share=(0.5, 0.8), wall_deg=(9, 18), gap_um=(90, 150),
        length_um=(800, 3000), powers=(1.2, 5.0), mark_um=(0.05, 0.18),
    ),
)  # fmt: skip
FINISH_WEIGHTS = (0.26, 0.28, 0.16, 0.16, 0.14)
