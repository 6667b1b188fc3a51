"""Height maps of honed, run surfaces in µm: grooves, plateau, graphite, running-in, closures and scuffing together.

Each groove is cut along its bent centre line with a width and a depth that sway along it, a cross-section, torn
edges, displaced rims and natural gaps. Where two grooves cross, the deeper one wins. Running-in takes the top off by
a given amount, peaks first and valleys last, so that a groove's depth below the plateau shrinks by that amount.
Closures (see `closures`) then lift the ground of a groove to about the plateau.

The contact isn't the same everywhere: its strength and the amount removed are maps.
"""

from dataclasses import dataclass, field

import numpy as np

from .closures import closed_share, draw_closures
from .finishes import section_depth
from .frame import Frame, Strip
from .noise import fractal, line_noise, patches, streaks


@dataclass(kw_only=True)
class Surface:
    """Maps of one field, all (rows, cols) float32 unless said otherwise; filled stage by stage."""

    frame: Frame
    stroke_deg: float
    lay_deg: tuple[float, float]
    worn: np.ndarray  # 0..1, where the ring ran
    contact: np.ndarray  # 0..1, how strongly smear acts
    removed_um: np.ndarray  # taken off by running-in
    open_um: np.ndarray  # groove depth below the local plateau if nothing had been closed
    depth_um: np.ndarray  # groove depth below the local plateau
    closed: np.ndarray  # 0..1, share of closing
    proud_um: np.ndarray  # height of closures above the plateau
    rim_um: np.ndarray  # height of displaced metal at groove edges
    tone: np.ndarray  # grey offset of closures
    trace: np.ndarray  # 0..1, seams and edge lines of closures
    floor: np.ndarray  # -1..1 roughness of groove floors, relative
    floor_tone: np.ndarray  # grey offset of each groove's floor, in standard deviations
    burnish: np.ndarray  # 0..1, plateau that looks like a closure and isn't one
    fine_um: np.ndarray = field(default=None)  # plateau roughness with finishing and stroke marks
    plateau_um: np.ndarray = field(default=None)  # local plateau level
    graphite: np.ndarray = field(default=None)  # 0..1
    pit_um: np.ndarray = field(default=None)  # depth of pull-outs and stroke scratches
    scuff: np.ndarray = field(default=None)  # 0..1
    scuff_um: np.ndarray = field(default=None)  # height that scuffing adds
    scuff_tone: np.ndarray = field(default=None)
    height_um: np.ndarray = field(default=None)


_GROOVE_MAPS = (
    "open_um", "depth_um", "closed", "proud_um", "rim_um", "tone", "trace", "floor", "floor_tone", "burnish",
)  # fmt: skip


def empty_surface(frame: Frame, *, stroke_deg, lay_deg, worn, contact, removed_um) -> Surface:
    """Return a surface without grooves."""
    zeros = {name: np.zeros(frame.shape, np.float32) for name in _GROOVE_MAPS}
    return Surface(
        frame=frame, stroke_deg=stroke_deg, lay_deg=lay_deg, worn=worn, contact=contact, removed_um=removed_um, **zeros
    )


def _sample_count(frame: Frame) -> tuple[float, float, int]:
    half = 1.3 * frame.half_diagonal_um
    step = max(0.7 * frame.pixel_size_um, 2 * half / 6000)
    return -half, step, int(2 * half / step) + 1


def _lines(rng, groove, start_um, step_um, count, pixel_size_um):
    """Return half widths on both sides, depth and centre of a groove along its length, float32 lines in µm."""
    at = start_um + step_um * np.arange(count, dtype=np.float32)
    length = step_um * count
    slow = line_noise(rng, count, max(3 * groove.width_um, length / 8) / step_um)
    middle = line_noise(rng, count, max(1.2 * groove.width_um, 4 * pixel_size_um) / step_um)
    half = 0.5 * groove.width_um * np.clip(1 + groove.sway * (0.35 * slow + 0.3 * middle), 0.3, 2.0)
    sides = []
    for _ in range(2):
        ragged = line_noise(rng, count, max(0.25 * groove.width_um, 2 * pixel_size_um) / step_um)
        tears = np.maximum(line_noise(rng, count, max(0.6 * groove.width_um, 3 * pixel_size_um) / step_um) - 1.0, 0)
        sides.append(np.maximum(half * (1 + groove.torn * (0.35 * ragged + 0.9 * tears)), 0.2 * half))
    shape = np.minimum(np.clip((at - groove.start_um) / (4 * groove.width_um), 0, 1),
                       np.clip((groove.stop_um - at) / (4 * groove.width_um), 0, 1))  # fmt: skip
    for gap_middle, gap_length in groove.gaps:
        distance = np.abs(at - gap_middle) - gap_length / 2
        shape = np.minimum(shape, np.clip(distance / (1.5 * groove.width_um), 0, 1))
    shape = np.sqrt(shape)
    depth = groove.depth_um * np.clip(1 + groove.sway * (0.7 * slow + 0.4 * middle), 0.2, 2.0) * shape
    squeezed = 0.25 + 0.75 * shape
    centre = groove.across_um + groove.bend_um * (at / (0.5 * length)) ** 2 + 0.06 * groove.width_um * slow
    return sides[0] * squeezed, sides[1] * squeezed, depth.astype(np.float32), centre.astype(np.float32)


def _pixels_near(groove, strip: Strip, lines, start_um: float, step_um: float):
    """Return index, along (µm), across (-1..1 inside the rims) and depth (µm) of the pixels on a groove, flat."""
    left, right, depth_line, centre_line = lines
    reach = 1.5 if groove.rim_um > 0.01 else 1.0
    widest = float(max(left.max(), right.max())) * reach
    index = strip.band(float(centre_line.min()) - widest, float(centre_line.max()) + widest)
    along = strip.along_um[index]
    at = ((along - np.float32(start_um)) * np.float32(1 / step_um)).astype(np.int32)
    offset = strip.across_um[index] - centre_line[at]
    across = offset / np.where(offset < 0, left[at], right[at])
    depth = depth_line[at]
    keep = (np.abs(across) < reach) & (depth > 0)
    return index[keep], along[keep], across[keep], depth[keep]


def _ground_um(groove, across, depth, removed):
    """Return the depth of a groove's ground below the unworn plateau; ribs inside it stay below the plateau."""
    inside = np.clip(across, -1, 1)
    ground = depth * section_depth(groove.section, groove.section_number, inside)
    if groove.section in ("double", "ribbed"):
        ribs = np.minimum(0.62 + removed, 0.85 * depth) * np.clip(5 * (1 - np.abs(inside)), 0, 1)
        ground = np.maximum(ground, ribs)
    return ground


class _Closer:
    """Closes one groove after the other as one style says; holds what is common to a field's grooves."""

    def __init__(self, rng, surface: Surface, style, samples):
        self.rng, self.surface, self.style, self.samples = rng, surface, style, samples
        frame = surface.frame
        self.contact = surface.contact.ravel()
        self.holes = patches(rng, frame.shape, max(2.2, rng.uniform(0.5, 3) / frame.pixel_size_um)).ravel()
        self.regional = _regional_closing(rng, surface, style)

    def contact_at(self, groove, along_um: float) -> float:
        """Return the contact, 0..1, at a place along a groove."""
        frame = self.surface.frame
        angle = np.radians(self.surface.lay_deg[groove.lay])
        x = along_um * np.cos(angle) - groove.across_um * np.sin(angle)
        y = along_um * np.sin(angle) + groove.across_um * np.cos(angle)
        rows, cols = frame.shape
        col = int(np.clip(x / frame.pixel_size_um + cols / 2, 0, cols - 1))
        row = int(np.clip(rows / 2 - y / frame.pixel_size_um, 0, rows - 1))
        return float(self.surface.contact[row, col])

    def close(self, groove, index, along, across, before):
        """Return ground depth, height above the plateau, closed share, tone and trace at a groove's pixels.

        None when nothing closes the groove.
        """
        style, rng = self.style, self.rng
        start_um, step_um, count = self.samples
        closures = draw_closures(
            rng, style, groove, allowed=lambda place: self.contact_at(groove, place), start_um=start_um,
            step_um=step_um, count=count, pixel_size_um=self.surface.frame.pixel_size_um,
        )  # fmt: skip
        regional = self.regional is not None and rng.random() < 0.9
        if not closures.any and not regional:
            return None
        inside = np.clip(across, -1, 1)
        after, proud = before, np.zeros_like(before)
        share, tone, trace = np.zeros_like(before), np.zeros_like(before), np.zeros_like(before)
        if closures.any:
            delta = np.radians(self.surface.stroke_deg - self.surface.lay_deg[groove.lay])
            sine = np.sin(delta) if abs(np.sin(delta)) > 0.05 else 0.05
            skew = style.skew_gain * float(np.clip(np.cos(delta) / sine, -2.5, 2.5))
            share, line, trace = closed_share(
                closures, along, inside, 0.5 * groove.width_um, skew, self.holes[index]
            )  # fmt: skip
            share *= np.clip(2 * self.contact[index], 0, 1)
            level = closures.level_um[line]
            below = np.maximum(-level, 0) + closures.sag_um[line] * (1 - inside * inside)
            below = np.minimum(np.minimum(below, 0.46), before)
            after = before * (1 - share) + below * share
            proud = np.maximum(level, 0) * share * (before > 0.1)
            tone = closures.tone[line]
        if regional:
            shut, level = self.regional[index], np.float32(style.regional_level_um)
            below = np.minimum(np.maximum(-level, 0), before)
            after = np.minimum(after, before * (1 - shut) + below * shut)
            proud = np.maximum(proud, np.maximum(level, 0) * shut * (before > 0.1))
            tone = np.where(shut > share, np.float32(style.regional_tone), tone)
            share = np.maximum(share, shut)
            edge = np.exp(-np.square((np.abs(across) - 1) / 0.1)) * shut
            trace = np.maximum(trace, style.trace * edge)
        return after, proud, share, tone, trace


def cut_grooves(rng, surface: Surface, grooves, style) -> None:
    """Cut `grooves` into `surface`, worn by its maps, and close them as `style` says (no closure when None)."""
    frame = surface.frame
    samples = _sample_count(frame)
    strips = [Strip(frame, direction) for direction in surface.lay_deg]
    flat = {name: getattr(surface, name).reshape(-1) for name in (*_GROOVE_MAPS, "worn", "removed_um")}
    roughness = [
        streaks(rng, frame.shape, direction, rng.uniform(3, 30), rng.uniform(0.7, 2.5)).ravel()
        for direction in surface.lay_deg
    ]
    closer = _Closer(rng, surface, style, samples) if style is not None else None
    for groove in grooves:
        lines = _lines(rng, groove, *samples, frame.pixel_size_um)
        index, along, across, depth = _pixels_near(groove, strips[groove.lay], lines, *samples[:2])
        if index.size == 0:
            continue
        removed = flat["removed_um"][index]
        if groove.rim_um > 0.01:
            bump = np.clip(1 - np.abs(np.abs(across) - 1.12) / 0.3, 0, 1) * np.minimum(depth, 1)
            rim = groove.rim_um * bump * (0.5 + 0.5 * np.clip(roughness[1 - groove.lay][index] + 0.5, 0, 2))
            flat["rim_um"][index] = np.maximum(flat["rim_um"][index], rim * (1 - flat["worn"][index]))
        before = np.maximum(_ground_um(groove, across, depth, removed) - removed, 0)
        closed = closer.close(groove, index, along, across, before) if closer is not None else None
        after = before if closed is None else closed[0]
        better = before > flat["open_um"][index]
        flat["open_um"][index] = np.maximum(flat["open_um"][index], before)
        flat["depth_um"][index] = np.maximum(flat["depth_um"][index], after)
        flat["floor"][index] = np.where(better, roughness[groove.lay][index], flat["floor"][index])
        tone_of_floor = np.float32(rng.standard_normal())
        flat["floor_tone"][index] = np.where(better, tone_of_floor, flat["floor_tone"][index])
        if closed is not None:
            _, proud, share, tone, trace = closed
            inside = (share > 0.02) & (before > 0.05)
            at = index[inside]
            flat["closed"][at] = np.maximum(flat["closed"][at], share[inside])
            flat["proud_um"][at] = np.maximum(flat["proud_um"][at], proud[inside])
            flat["tone"][at] = tone[inside]
            flat["trace"][at] = np.maximum(flat["trace"][at], trace[inside])


def _regional_closing(rng, surface: Surface, style):
    """Return where all grooves are shut together, 0..1 flat float32, or None when the style has no such places."""
    if style is None or style.regional <= 0:
        return None
    frame, pixel = surface.frame, surface.frame.pixel_size_um
    side = min(frame.shape)
    if style.regional_kind == 0:
        width = np.clip(rng.uniform(3, 60) / pixel, 4, 0.5 * side)
        noise = streaks(rng, frame.shape, surface.stroke_deg, width * rng.uniform(4, 20), width)
    elif style.regional_kind == 1:
        noise = fractal(rng, frame.shape, rng.uniform(0.15, 0.5) * side, octaves=5, gain=rng.uniform(0.3, 0.6))
    else:
        noise = patches(rng, frame.shape, np.clip(rng.uniform(3, 20) / pixel, 4, 0.2 * side))
    limit = np.quantile(noise[::4, ::4], 1 - min(style.regional, 0.98))
    soft = np.float32(rng.uniform(0.03, 0.3))
    shut = np.clip((noise - np.float32(limit)) / soft + 0.5, 0, 1)
    return (shut * np.clip(2 * surface.contact, 0, 1)).ravel().astype(np.float32)


def add_plateau(rng, surface: Surface, finish, *, marks_um: float) -> None:
    """Give the surface its plateau level, fine roughness, finishing marks and, where worn, stroke marks."""
    frame, pixel = surface.frame, surface.frame.pixel_size_um
    shape = frame.shape
    level = rng.uniform(*finish.waviness_um) * patches(rng, shape, rng.uniform(0.2, 0.8) * min(shape))
    surface.plateau_um = level - surface.removed_um
    rms = rng.uniform(*finish.plateau_rms_um)
    width = max(rng.uniform(0.3, 2.0) / pixel, 0.7)
    marks = np.zeros(shape, np.float32)
    for direction in surface.lay_deg:
        marks += rng.uniform(0.2, 1.0) * streaks(rng, shape, direction, rng.uniform(20, 250) / pixel, width)
    fresh = rms * (0.7 * marks + rng.uniform(0.1, 0.8) * fractal(rng, shape, max(3 / pixel, 2), octaves=3))
    if surface.worn.any():
        width = max(float(np.exp(rng.uniform(np.log(0.3), np.log(4)))) / pixel, 0.7)
        stroke = streaks(rng, shape, surface.stroke_deg, rng.uniform(30, 400) / pixel, width)
        if rng.random() < 0.6:
            stroke = 0.7 * stroke + 0.7 * streaks(
                rng, shape, surface.stroke_deg + rng.normal(0, 1.5), rng.uniform(20, 200) / pixel, 2.5 * width
            )
        kept = rng.uniform(0.0, 0.7)  # finishing marks that survive
        run = kept * fresh + marks_um * stroke + 0.3 * rms * patches(rng, shape, 1.5)
        fresh = fresh * (1 - surface.worn) + run * surface.worn
    limit = 0.4
    surface.fine_um = limit * np.tanh(fresh / limit)


def compose_height(rng, surface: Surface) -> None:
    """Put the maps together into `height_um`: rough floors, and closures with a texture of their own.

    A closure keeps none, some or more of the plateau's fine texture, and may have ripples across the stroke (folds),
    streaks along it, or a grain of its own, of 0.15 µm at the most.
    """
    shape, pixel = surface.frame.shape, surface.frame.pixel_size_um
    roughness = float(np.exp(rng.uniform(np.log(0.003), np.log(0.15))))
    rough = roughness * np.clip(surface.floor, -2, 2) * np.minimum(surface.depth_um, 4.0) * (1 - surface.closed)
    fine = surface.fine_um * np.clip(1 - surface.depth_um / 1.5, 0.15, 1)
    look_closed = np.maximum(surface.closed, surface.burnish)
    if look_closed.any():
        kept = float(rng.choice([0.0, 1.0, rng.uniform(0, 1.6)]))
        own_um = float(rng.choice([0.0, rng.uniform(0, 0.15)]))
        kind = rng.integers(3)
        size = max(float(np.exp(rng.uniform(np.log(0.5), np.log(6)))) / pixel, 1.0)
        if kind == 0:
            own = streaks(rng, shape, surface.stroke_deg + 90, 4 * size, size)
        elif kind == 1:
            own = streaks(rng, shape, surface.stroke_deg, 8 * size, 0.7 * size)
        else:
            own = patches(rng, shape, size)
        fine = fine * (1 - look_closed * (1 - kept)) + own_um * np.tanh(own) * look_closed
    surface.height_um = (
        surface.plateau_um + fine + surface.rim_um * (1 - surface.worn) + surface.proud_um
        - surface.depth_um + rough - surface.pit_um + surface.scuff_um
        - 0.12 * surface.trace
    ).astype(np.float32)  # fmt: skip
