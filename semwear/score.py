"""The network over a whole field: pixel states, worn regions, distance from the training fields, intervals.

The network always sees a known physical scale. A field is brought to the working pixel size nearest to its own on a
ratio scale (the sizes step by √2, so that a picture is enlarged or reduced by less than 1.2), normalised over its
assessed pixels, and run in one piece, or in overlapping tiles blended linearly where it is large. Probabilities go
back to the picture's own grid before the states are decided, so that codes and fractions belong to the pixels that
the user sees.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from semwear.metrics import fractions
from semwear.model import Model
from semwear.network import STATES, WORN_STRIDE_PX
from semwear.prepare import PreparedField, resample
from semwear.terms import REGION_SIZE_UM, MaskCode
from semwear.worn_sides import pooled_logits

TILE_PX = 1536
"""Largest side that is run in one piece, in working pixels (a multiple of 32)."""
OVERLAP_PX = 192
"""Overlap of neighbouring tiles, in working pixels (a multiple of 32)."""
HALF_SEEN_SHARE, HALF_SEEN_AREA = 0.5, 0.02
"""Valley that is half seen beside what is counted, as a share of that and of the assessed area, from which a field is
flagged (this project's own limits)."""
GROOVE_SHARE_MAX = 0.45
"""Share of open and smeared valley from which a field is flagged: at the lower core limit valleys take 15 to 30 % of a honed
surface (common values, from memory), and on the calibration fields 0.42 at most."""
TESTED_PIXEL_UM = (0.1, 2.0)
"""Pixel sizes between which networks are trained and tested, µm; training goes on a little beyond them."""
INPUT_LIMIT = 6.0
"""Normalised grey values beyond this are clipped before the network sees them."""


@dataclass(frozen=True, kw_only=True)
class Scores:
    """What the network says of one field.

    codes: (rows, cols) uint8 mask codes on the picture's own grid; probabilities: (4, rows, cols) float32 on the working
    grid, with assessed_working (rows, cols) bool beside it; regions: dicts with the keys of the regions table except
    ``file``; distance: above 1 the field is unlike the training fields; margins: how far the 95 % interval of the
    valley, smeared and scuffed fraction reaches below and above it, (below, above) of each.
    """

    codes: np.ndarray
    probabilities: np.ndarray
    assessed_working: np.ndarray
    working_pixel_size_um: float
    regions: tuple[dict, ...]
    distance: float
    margins: tuple[tuple[float, float], ...]
    flags: tuple[str, ...]


def working_pixel_size(pixel_size_um: float, sizes_um) -> float:
    """Return the working pixel size nearest to a field's own on a ratio scale, µm.

    >>> working_pixel_size(0.62, (0.25, 0.35, 0.5, 0.71, 1.0))
    0.71
    """
    sizes = np.asarray(sizes_um, dtype=float)
    return float(sizes[np.argmin(np.abs(np.log(sizes / pixel_size_um)))])


def normalise(image: np.ndarray, assessed: np.ndarray) -> np.ndarray:
    """Return the picture with median 0 and robust spread 1 over its assessed pixels, 0 elsewhere, float32.

    The spread is 1.4826 times the median absolute deviation, or the standard deviation where that is zero.
    A picture without contrast comes back as zeros.
    """
    sample = image[assessed][:: max(1, int(assessed.sum()) // 50_000)]
    if sample.size == 0:
        return np.zeros(image.shape, np.float32)
    centre = np.median(sample)
    spread = 1.4826 * np.median(np.abs(sample - centre)) or float(sample.std())
    if not spread:
        return np.zeros(image.shape, np.float32)
    scaled = np.subtract(image, np.float32(centre), dtype=np.float32)
    scaled *= np.float32(1.0 / spread)
    np.clip(scaled, -INPUT_LIMIT, INPUT_LIMIT, out=scaled)
    scaled *= assessed
    return scaled


def network_input(prepared: PreparedField, working_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the (rows, cols) float32 picture for the network and its assessed mask at the working pixel size."""
    image = resample(prepared.image, prepared.pixel_size_um, working_um, order=1)
    assessed = prepared.assessed
    if image.shape != assessed.shape:
        assessed = cv2.resize(assessed.view(np.uint8), image.shape[::-1], interpolation=cv2.INTER_NEAREST).view(bool)
    return normalise(image, assessed), assessed


def score_field(prepared: PreparedField, model: Model) -> Scores:
    """Run a model over a prepared field; see :class:`Scores`."""
    card = model.card
    working_um = working_pixel_size(prepared.pixel_size_um, card["working_pixel_sizes_um"])
    image, assessed = network_input(prepared, working_um)
    probabilities, worn_logits, kind, embedding, hidden = run_tiled(model.run, image)
    prepared, assessed = without_hidden(prepared, assessed, hidden, card["hidden_limit"])
    regions = tuple(score_regions(worn_logits, prepared, working_um, card["worn_temperature"]))
    offsets = field_offsets(card, regions)
    codes = decide_states(probabilities, prepared.assessed, offsets)
    distance = training_distance(embedding, kind, card["distance"])
    doubted = doubted_shares(probabilities, assessed, offsets)
    shares = fractions(codes)
    raised = {
        "unlike the training fields": distance > 1,
        "valley half seen": valley_half_seen(shares[1], doubted[0, 1]),
        "too much valley": too_much_valley(shares),
        "pixel size untested": not TESTED_PIXEL_UM[0] <= prepared.pixel_size_um <= TESTED_PIXEL_UM[1],
    }
    return Scores(
        codes=codes,
        probabilities=probabilities,
        assessed_working=assessed,
        working_pixel_size_um=working_um,
        regions=regions,
        distance=distance,
        margins=interval_margins(doubted, card["interval"]),
        flags=tuple(flag for flag, holds in raised.items() if holds),
    )


def field_offsets(card, regions) -> tuple[float, ...]:
    """Return what is added to the states' log-probabilities on this field before the most probable one is taken, four floats.

    The card's ``valley_offsets`` for unworn and for worn fields, weighed by the mean probability that the field's regions are
    worn, go to the valley; nothing without regions. In unworn fields the plateau wins pixels that are in doubt between it and a
    groove, so that valleys come out too small; where a ring ran, what is left of a groove comes out too large.
    """
    offsets = [0.0] * STATES
    if regions:
        worn = float(np.mean([region["worn_probability"] for region in regions]))
        by_wear = card["valley_offsets"]
        offsets[MaskCode.OPEN_VALLEY] = by_wear["unworn"] * (1 - worn) + by_wear["worn"] * worn
    return tuple(offsets)


def without_hidden(prepared: PreparedField, assessed: np.ndarray, hidden: np.ndarray, limit: float):
    """Return the field and its working mask with the pixels that debris or charging hides taken out of the assessed area.

    assessed, hidden: (rows, cols) bool and probability on the working grid; limit: of that probability.
    """
    covered = hidden > limit
    if not covered.any():
        return prepared, assessed
    own = cv2.resize(covered.view(np.uint8), prepared.assessed.shape[::-1], interpolation=cv2.INTER_NEAREST).view(bool)
    return replace(prepared, assessed=prepared.assessed & ~own), assessed & ~covered


def run_tiled(run, image: np.ndarray):
    """Run the network in one piece, or in overlapping tiles blended linearly; same results as ``run``."""
    rows, cols = image.shape
    if max(rows, cols) <= TILE_PX:
        return run(image)
    step = TILE_PX - OVERLAP_PX
    pieces = [(top, left) for top in _starts(rows, step) for left in _starts(cols, step)]
    total, hidden = np.zeros((STATES, rows, cols), np.float32), np.zeros((rows, cols), np.float32)
    weight = np.zeros((rows, cols), np.float32)
    cells = (-(-rows // WORN_STRIDE_PX), -(-cols // WORN_STRIDE_PX))
    worn, worn_weight = np.zeros(cells, np.float32), np.zeros(cells, np.float32)
    kinds, embeddings, areas = [], [], []
    for top, left in pieces:
        tile = image[top : top + TILE_PX, left : left + TILE_PX]
        probabilities, logits, kind, embedding, covered = run(tile)
        window, place = _window(tile.shape), np.s_[..., top : top + TILE_PX, left : left + TILE_PX]
        total[place] += probabilities * window
        hidden[place] += covered * window
        weight[place] += window
        cell_row, cell_col = top // WORN_STRIDE_PX, left // WORN_STRIDE_PX
        high, wide = min(logits.shape[0], cells[0] - cell_row), min(logits.shape[1], cells[1] - cell_col)
        worn[cell_row : cell_row + high, cell_col : cell_col + wide] += logits[:high, :wide]
        worn_weight[cell_row : cell_row + high, cell_col : cell_col + wide] += 1
        kinds.append(kind)
        embeddings.append(embedding)
        areas.append(tile.size)
    areas = np.asarray(areas, float) / np.sum(areas)
    embedding = np.tensordot(areas, embeddings, 1)
    return total / weight, worn / worn_weight, float(np.dot(areas, kinds)), embedding, hidden / weight


def _starts(length: int, step: int) -> list[int]:
    """First pixels of tiles along one axis, all multiples of 32 so that the grids of the tiles coincide."""
    return list(range(0, max(1, length - OVERLAP_PX), step))


def _window(shape: tuple[int, int]) -> np.ndarray:
    """Weight of a tile's pixels, growing linearly from its edges over the overlap, (rows, cols) float32 > 0."""
    ramps = []
    for length in shape:
        position = np.arange(length, dtype=np.float32) + 1
        ramps.append(np.minimum(1.0, np.minimum(position, position[::-1]) / OVERLAP_PX))
    return np.outer(*ramps).astype(np.float32)


def decide_states(probabilities: np.ndarray, assessed: np.ndarray, offsets=(0.0, 0.0, 0.0, 0.0)) -> np.ndarray:
    """Return the most probable state on the picture's own grid, uint8 mask codes, 255 where not assessed.

    probabilities: (4, rows, cols) on the working grid; assessed: (rows, cols) bool on the picture's own grid; offsets:
    added to the log-probabilities first (see :func:`field_offsets`).
    """
    rows, cols = assessed.shape
    best = None
    codes = np.zeros((rows, cols), np.uint8)
    for state, plane in enumerate(probabilities):
        own = plane
        if offsets[state]:
            own = own * np.float32(np.exp(offsets[state]))
        if own.shape != (rows, cols):
            own = cv2.resize(own, (cols, rows), interpolation=cv2.INTER_LINEAR)
        if best is None:
            best = own
        else:
            np.copyto(codes, np.uint8(state), where=own > best)
            best = cv2.max(best, own)
    np.copyto(codes, np.uint8(MaskCode.NOT_ASSESSED), where=~assessed)
    return codes


def score_regions(worn_logits: np.ndarray, prepared: PreparedField, working_um: float, temperature: float):
    """Return one dict a region that is at least half assessed: position, size and probability of being worn.

    Regions are squares of ``REGION_SIZE_UM`` side laid edge to edge and centred on the micrograph without its data bar.
    Where that is narrower than one region, a region reaches right across it, and its size is that shorter side. The
    probability is the logistic function of the region's mean worn logit, pooled with those of its side of the field (see
    semwear.worn_sides), over the temperature.
    """
    rows, cols = prepared.assessed.shape
    pixel = prepared.pixel_size_um
    whole_px = REGION_SIZE_UM / pixel
    down, across = (_extent(prepared.picture.any(axis=axis)) for axis in (1, 0))
    size_px = min(whole_px, np.ptp(down), np.ptp(across))
    logits = cv2.resize(
        worn_logits[: max(1, round(rows * pixel / working_um / WORN_STRIDE_PX)),
                    : max(1, round(cols * pixel / working_um / WORN_STRIDE_PX))],
        (max(1, cols // 4), max(1, rows // 4)), interpolation=cv2.INTER_LINEAR,
    )  # fmt: skip
    share = cv2.resize(prepared.assessed.view(np.uint8) * np.uint8(255), logits.shape[::-1], interpolation=cv2.INTER_AREA)
    known = share.astype(np.float32) / 255
    regions, means = [], []
    for top, bottom in _edges(*down, whole_px):
        for left, right in _edges(*across, whole_px):
            window = np.s_[
                round(top / rows * logits.shape[0]) : max(1, round(bottom / rows * logits.shape[0])),
                round(left / cols * logits.shape[1]) : max(1, round(right / cols * logits.shape[1])),
            ]
            assessed = float(known[window].mean())
            if assessed < 0.5:
                continue
            means.append(float(np.average(logits[window], weights=known[window])))
            regions.append(
                {
                    "row_px": (top + bottom) / 2,
                    "col_px": (left + right) / 2,
                    "size_um": REGION_SIZE_UM if size_px == whole_px else float(size_px * pixel),
                    "size_px": float(size_px),
                    "assessed_fraction": assessed,
                }
            )
    if regions:
        places = np.array([(region["row_px"], region["col_px"]) for region in regions]) / whole_px
        weights = np.array([region["assessed_fraction"] for region in regions])
        for region, logit in zip(regions, pooled_logits(places, np.array(means), weights), strict=True):
            region["worn_probability"] = float(1 / (1 + np.exp(-logit / temperature)))
    return regions


def _extent(picture: np.ndarray) -> tuple[int, int]:
    """First place along an axis where the picture is, (length,) bool, and the one after its last."""
    places = np.flatnonzero(picture)
    return int(places[0]), int(places[-1]) + 1


def _edges(first: int, end: int, size_px: float) -> list[tuple[float, float]]:
    """Edges of whole regions centred between two places along one axis, in pixels; one region where none fits."""
    count = int((end - first) // size_px)
    if count == 0:
        return [(float(first), float(end))]
    start = first + (end - first - count * size_px) / 2
    return [(start + index * size_px, start + (index + 1) * size_px) for index in range(count)]


def training_distance(embedding: np.ndarray, kind: float, distance: dict) -> float:
    """Return the distance of a field from the training fields, in units of the stated limit (above 1: unlike them).

    The larger of two measures: the Mahalanobis distance of the embedding in the leading principal components of the
    training fields' embeddings (after Lee et al., 2018, arXiv 1807.03888), and how far the network's own answer "this
    is no liner surface" lies beyond its limit. Each is divided by the limit that the model's card states.
    """
    centred = (np.asarray(embedding) - distance["mean"]) @ np.asarray(distance["whitening"])
    mahalanobis = float(np.sqrt(np.mean(centred**2)))
    kind_measure = float(np.exp((distance["kind_limit"] - kind) / distance["kind_scale"]))
    return max(mahalanobis / distance["mahalanobis_limit"], kind_measure)


def doubted_shares(probabilities: np.ndarray, assessed: np.ndarray, offsets=(0.0, 0.0, 0.0, 0.0)) -> np.ndarray:
    """Return what the network doubts of the valley, smeared and scuffed fraction, either way, (3, 2) float.

    probabilities: (4, rows, cols) and assessed: (rows, cols) bool on the working grid; offsets: of the decision (see
    :func:`decide_states`). First the doubt about what was found: the sum of 1 − p over the pixels given to the state,
    by which the fraction may be too large. Then what may have been missed: the sum of p over all others. Both are shares
    of the assessed area, NaN where nothing is assessed. Every other row and column is counted.
    """
    counted = assessed[::2, ::2]
    count = np.count_nonzero(counted)
    if not count:
        return np.full((3, 2), np.nan)
    planes = [np.ascontiguousarray(plane[::2, ::2]) for plane in probabilities]
    weighted = [
        plane * np.float32(np.exp(offset)) if offset else plane for plane, offset in zip(planes, offsets, strict=True)
    ]
    best = cv2.max(cv2.max(weighted[0], weighted[1]), cv2.max(weighted[2], weighted[3]))
    rows, inside = [], counted.astype(np.float32)
    for plane, own in zip(planes[1:], weighted[1:], strict=True):
        found = (own >= best) & counted
        held = float(np.vdot(plane, found.astype(np.float32)))
        rows.append((np.count_nonzero(found) - held, float(np.vdot(plane, inside)) - held))
    return np.asarray(rows) / count


def valley_half_seen(found: float, half_seen: float) -> bool:
    """True when the valley that is half seen beside what is counted makes the valley fraction hardly known.

    found: valley fraction; half_seen: doubted share above it (see :func:`doubted_shares`). Where only the rims of grooves
    show, the ground between them is half seen, and the fraction is far too low.
    """
    return bool(half_seen > HALF_SEEN_AREA and half_seen > HALF_SEEN_SHARE * found)


def too_much_valley(shares: np.ndarray) -> bool:
    """True when more of the area counts as grooves, open or smeared, than a honed surface holds; shares: of the states (4,).

    A finishing stone leaves scratches shallower than the depth from which a groove is a valley, and where they lie dense and
    dark they are taken for valleys.
    """
    return bool(shares[1] + shares[2] > GROOVE_SHARE_MAX)


def interval_margins(doubted: np.ndarray, interval: dict) -> tuple[tuple[float, float], ...]:
    """Return how far the 95 % intervals of the three fractions reach below and above them, (below, above) of each.

    Both are the doubted share of that side (see :func:`doubted_shares`) times the state's factor in the model's card,
    fitted on fields that the network was not trained on. With a factor of 1 the interval just holds what the
    probabilities of all pixels add up to; more is needed since the pixels of a field are wrong together.

    >>> interval_margins(np.array([[0.01, 0.02], [0.0, 0.01], [0.0, 0.0]]), {"valley": 3, "smeared": 4, "scuffed": 5})
    ((0.03, 0.06), (0.0, 0.04), (0.0, 0.0))
    """
    return tuple(
        (float(interval[state] * below), float(interval[state] * above))
        for state, (below, above) in zip(("valley", "smeared", "scuffed"), doubted, strict=True)
    )
