"""Grooves followed one by one at places pictured before and after: survived, narrowed, smeared over, gone.

The mask of the picture after is laid on that before (semwear.compare.registration). The open grooves before are told
apart by their lay: what of the open area holds a line of some length along the lay is a groove of that lay. Each
groove's footprint is then looked up in the mask after. Retention at the place is open area after over open area before,
over the ground that both pictures assess; no reference area is needed.
"""

import math
from dataclasses import dataclass, field

import cv2
import numpy as np

from semwear.compare.registration import Registration, lay_on, register
from semwear.terms import MaskCode

SURVIVED_SHARE = 0.75
"""Share of a groove's open area still open from which it survived (this project's own limit)."""
CLOSED_SHARE = 0.25
"""Share still open up to which a groove is closed: smeared over or gone; between the two it is narrowed."""
SMEARED_SHARE = 0.3
"""Share of a closed groove's footprint that is smeared from which it was smeared over; gone below."""
LEAST_LENGTH_UM = 25.0
"""Length along the lay from which open ground counts as a groove that can be followed."""


@dataclass(frozen=True, kw_only=True)
class FollowedGroove:
    """One groove: lay index, centre (row, col) in the picture before, area before, shares after, and its :func:`fate`."""

    lay: int
    row_px: float
    col_px: float
    open_before_um2: float
    open_share: float
    smeared_share: float
    fate: str


@dataclass(frozen=True, kw_only=True)
class SpotResult:
    """One place followed: retention without area average, grooves by fate; ``reason`` says why there is none."""

    specimen: str
    spot: str
    file_before: str
    file_after: str
    registration: Registration | None = None
    open_before_um2: float = math.nan
    open_after_um2: float = math.nan
    smeared_after_um2: float = math.nan
    grooves: tuple[FollowedGroove, ...] = field(default_factory=tuple)
    reason: str = ""

    @property
    def retention(self) -> float:
        """Open area after over open area before; nan when the place couldn't be followed."""
        return self.open_after_um2 / self.open_before_um2 if self.open_before_um2 > 0 else math.nan

    def count(self, fate: str) -> int:
        """Return the number of grooves of one fate."""
        return sum(groove.fate == fate for groove in self.grooves)


def follow_spot(
    codes_before: np.ndarray,
    codes_after: np.ndarray,
    *,
    pixel_before_um: float,
    pixel_after_um: float,
    lays_deg: tuple[float, ...],
    specimen: str = "",
    spot: str = "",
    file_before: str = "",
    file_after: str = "",
) -> SpotResult:
    """Return what became of the grooves of one place.

    codes_before, codes_after: (rows, cols) uint8 mask codes; pixels are square; lays_deg: directions of the lays in the
    picture before, 0 to 2 of them. Unbelievable fits and places without open grooves give a reason and no figures.
    """
    named = {"specimen": specimen, "spot": spot, "file_before": file_before, "file_after": file_after}
    before, after = np.asarray(codes_before, np.uint8), np.asarray(codes_after, np.uint8)
    if not (before == MaskCode.OPEN_VALLEY).any():
        return SpotResult(**named, reason="no open valley before the test")
    found = register(
        footprint(before),
        footprint(after),
        first_pixel_um=pixel_before_um,
        second_pixel_um=pixel_after_um,
        first_mask=before != MaskCode.NOT_ASSESSED,
        second_mask=after != MaskCode.NOT_ASSESSED,
    )
    if not found.is_believed:
        return SpotResult(**named, registration=found, reason=found.reason)
    laid = lay_on(before.shape, after, found.matrix, outside=int(MaskCode.NOT_ASSESSED))
    both = (before != MaskCode.NOT_ASSESSED) & (laid != MaskCode.NOT_ASSESSED)
    area_um2 = pixel_before_um**2
    return SpotResult(
        **named,
        registration=found,
        open_before_um2=float(((before == MaskCode.OPEN_VALLEY) & both).sum() * area_um2),
        open_after_um2=float(((laid == MaskCode.OPEN_VALLEY) & both).sum() * area_um2),
        smeared_after_um2=float(((laid == MaskCode.SMEARED) & both).sum() * area_um2),
        grooves=tuple(_followed(before, laid, both, pixel_before_um, lays_deg)),
    )


def footprint(codes: np.ndarray) -> np.ndarray:
    """Return the grooves' footprints, float32: open valley 1, smeared 0.8, everything else 0."""
    return ((codes == MaskCode.OPEN_VALLEY) + 0.8 * (codes == MaskCode.SMEARED)).astype(np.float32)


def grooves_of_lay(open_ground: np.ndarray, direction_deg: float, pixel_size_um: float) -> np.ndarray:
    """Return labels, (rows, cols) int32, of the grooves along one direction; 0 where there is none.

    open_ground: bool. A morphological opening with a line of LEAST_LENGTH_UM along the direction keeps a lay's grooves and
    takes the other's away except at crossings.
    """
    length = max(3, round(LEAST_LENGTH_UM / pixel_size_um))
    line = np.zeros((length, length), np.uint8)
    middle, reach = (length - 1) / 2, (length - 1) / 2
    across, down = math.cos(math.radians(direction_deg)) * reach, -math.sin(math.radians(direction_deg)) * reach
    ends = [(round(middle - across), round(middle - down)), (round(middle + across), round(middle + down))]
    cv2.line(line, ends[0], ends[1], 1, 1)
    # Beyond the picture's edge nothing is open: otherwise the other lay's grooves would fit the line there.
    outside = {"borderType": cv2.BORDER_CONSTANT, "borderValue": 0}
    kept = cv2.dilate(cv2.erode(open_ground.astype(np.uint8), line, **outside), line, **outside)
    return cv2.connectedComponents(kept, connectivity=8)[1]


def _followed(before, laid, both, pixel_size_um: float, lays_deg) -> list[FollowedGroove]:
    grooves = []
    open_before = before == MaskCode.OPEN_VALLEY
    for lay, direction in enumerate(lays_deg):
        if not math.isfinite(direction):
            continue
        labels = np.where(both, grooves_of_lay(open_before, direction, pixel_size_um), 0)
        count = int(labels.max()) + 1
        area = np.bincount(labels.ravel(), minlength=count)
        still_open = np.bincount(labels[laid == MaskCode.OPEN_VALLEY], minlength=count)
        smeared = np.bincount(labels[laid == MaskCode.SMEARED], minlength=count)
        rows, cols = np.indices(labels.shape)
        row_sum = np.bincount(labels.ravel(), weights=rows.ravel(), minlength=count)
        col_sum = np.bincount(labels.ravel(), weights=cols.ravel(), minlength=count)
        least_px = max(8.0, LEAST_LENGTH_UM / pixel_size_um)
        for label in range(1, count):
            if area[label] < least_px:
                continue
            open_share, smeared_share = still_open[label] / area[label], smeared[label] / area[label]
            grooves.append(
                FollowedGroove(
                    lay=lay,
                    row_px=float(row_sum[label] / area[label]),
                    col_px=float(col_sum[label] / area[label]),
                    open_before_um2=float(area[label] * pixel_size_um**2),
                    open_share=float(open_share),
                    smeared_share=float(smeared_share),
                    fate=fate(float(open_share), float(smeared_share)),
                )
            )
    return grooves


def fate(open_share: float, smeared_share: float) -> str:
    """Return what became of a groove from the shares of its footprint that are open and smeared.

    >>> fate(0.9, 0.1), fate(0.5, 0.4), fate(0.1, 0.8), fate(0.1, 0.0)
    ('survived', 'narrowed', 'smeared over', 'gone')
    """
    if open_share >= SURVIVED_SHARE:
        return "survived"
    if open_share > CLOSED_SHARE:
        return "narrowed"
    return "smeared over" if smeared_share >= SMEARED_SHARE else "gone"
