"""Grits cut a flat ground: the honed height map. Frame: rows along the stroke, columns across it; lengths in µm."""

from dataclasses import dataclass

import cv2
import numpy as np

OPEN_UM = 0.5  # depth below the plateau from which ground counts as valley


@dataclass
class Ground:
    """cut: depth of grooves (µm, 0 on plateau); rise: ploughed rims (µm); fine: finishing marks (µm, ±);
    give: how readily each groove's ground takes moved metal (0 never, 1 normal); width: typical groove width (µm)."""

    cut: np.ndarray
    rise: np.ndarray
    fine: np.ndarray
    give: np.ndarray
    width: float


def spread(rng, low, high):
    """Log-uniform draw."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def grain(rng, shape, along, across):
    """Smooth noise of about unit variance; correlation lengths in pixels along rows' axis and columns' axis."""
    along, across = max(along, 1.0), max(across, 1.0)
    rows, cols = int(shape[0] / along) + 4, int(shape[1] / across) + 4
    seed = rng.standard_normal((rows, cols), dtype=np.float32)
    if along == 1.0 and across == 1.0:
        return seed[: shape[0], : shape[1]]
    shift_r, shift_c = rng.random(2)
    grid = np.array([[1 / across, 0, 1 + shift_c], [0, 1 / along, 1 + shift_r]], np.float64)
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    out = cv2.warpAffine(seed, grid, (shape[1], shape[0]), flags=flags, borderMode=cv2.BORDER_REFLECT_101)
    return out * np.float32(1.25)


def line_noise(rng, n, scale):
    """1-D noise of unit variance; correlation length in samples."""
    raw = rng.standard_normal((1, n), dtype=np.float32)
    if scale > 0.5:
        raw = cv2.GaussianBlur(raw, (0, 0), sigmaX=min(scale, n / 6), sigmaY=0.1)
    return (raw / max(float(raw.std()), 1e-6)).ravel()


def _give_table(rng, count, n, pixel, width, law):
    """(groove, place) how readily metal lands: per groove and along each groove at a drawn scale."""
    table = np.ones((count, n), np.float32)
    if law["by_groove"]:
        table *= np.where(rng.random((count, 1)) < law["by_groove"], 1.0, law["groove_rest"]).astype(np.float32)
        table *= np.exp(rng.normal(0, 0.3, (count, 1))).astype(np.float32)
    if law["along"]:
        scale = law["along"] * width / pixel
        noise = grain(rng, (count, n), 1.0, max(scale, 2.0))
        edge = np.float32(rng.normal(-0.3, 0.4))
        table *= 1 / (1 + np.exp(np.clip(-(noise - edge) * law["along_sharp"], -30, 30)))
    return table


def _gate(rng, count, n, pixel, widths, ends):
    """(groove, place) depth factor: near 1, falling to 0 where a groove ends or is interrupted."""
    factor = 1 + 0.1 * grain(rng, (count, n), 1.0, 80 / pixel)
    if ends > 0:
        length = spread(rng, 60, 900) / pixel
        level = float(np.quantile(rng.standard_normal(400), ends))
        noise = grain(rng, (count, n), 1.0, length)
        sharp = np.clip(length * pixel / (widths[:, None] * rng.uniform(0.4, 2.0)), 2, 60).astype(np.float32)
        factor *= np.clip((noise - level) * sharp + 0.5, 0, 1)
    return factor.astype(np.float32)


def _profile(rng, offset, half, depth, pixel, style):
    """Depth (µm) over the offsets (µm) from a groove's middle; the wall is steep enough for 0.5 µm to fall at the rim."""
    x = 1 - np.abs(offset) / half
    reach = max(0.6, 1.1 * pixel)
    wall = rng.uniform(0.15, 0.95) if depth > OPEN_UM else 1.0
    if depth > OPEN_UM:
        wall = min(wall, reach / (half * 0.637 * np.arcsin(min(OPEN_UM / depth, 1.0))))
    shape = np.sin(np.pi / 2 * np.clip(x / max(wall, 0.03), 0, 1))
    belly = rng.uniform(0.0, 0.5) * np.clip(x, 0, 1)
    body = shape * (0.65 + belly)
    if depth > 1.2 and rng.random() < style["strands"]:
        count = rng.integers(2, 6)
        wave = 0.5 + 0.5 * np.cos(offset / half * np.pi * count + rng.uniform(0, 6))
        body *= 1 - rng.uniform(0.1, 0.45) * wave
    if style["floor_lines"] and depth > 0.9:
        lines = line_noise(rng, offset.size, rng.uniform(1, 4))
        body *= 1 + style["floor_lines"] * np.clip(lines, -2, 2) * shape
    out = depth * body
    return np.where((depth > 0.8) & (shape > 0.9), np.maximum(out, 0.62), out)


def _lay(rng, shape, pixel, beta, grooves, style, law, sway, slip):
    """One family of parallel cuts at angle beta (rad from the direction across the stroke)."""
    rows, cols = shape
    along = (np.arange(rows, dtype=np.float32) - rows / 2)[:, None]
    across = (np.arange(cols, dtype=np.float32) - cols / 2)[None, :]
    reach = int(np.hypot(rows, cols) / 2) + 8
    v = np.float32(np.cos(beta)) * across + np.float32(np.sin(beta)) * along
    iv = (v + np.float32(reach)).astype(np.int32)
    bend = np.zeros(2 * reach, np.float32)
    if style["bend"]:
        place = (np.arange(2 * reach) - reach) / reach
        bend += (style["bend"] * rng.normal() * place**2 * reach * 0.1).astype(np.float32)
        bend += line_noise(rng, 2 * reach, spread(rng, 30, 300) / pixel) * np.float32(style["bend"] * 2 / pixel)
    u = np.float32(np.cos(beta)) * along - np.float32(np.sin(beta)) * across
    u += bend[iv]
    fold = 3
    n = 2 * fold * (reach + 40)
    iu = np.clip((u + np.float32(reach + 40)) * fold, 0, n - 1).astype(np.int32)
    step = pixel / fold

    fine1 = line_noise(rng, n, style["fine_um"] / step) * np.float32(style["fine_depth"])
    fine = np.clip(fine1, -0.35, 0.35)[iu]
    if not len(grooves):
        return np.zeros(shape, np.float32), None, fine, None
    if sway is not None:
        iu = np.clip(iu + (sway * fold).astype(np.int32), 0, n - 1)
    centres, widths, depths = grooves
    depth1, rise1 = np.zeros(n, np.float32), np.zeros(n, np.float32)
    owner = np.zeros(n, np.int32)
    for k in range(len(centres)):
        half, rim = widths[k] / 2, style["rim_um"]
        middle = (centres[k] / pixel + reach + 40) * fold
        far = (half + 3 * rim) / step + 2
        lo, hi = max(int(middle - far), 0), min(int(middle + far) + 1, n)
        if hi - lo < 2:
            continue
        offset = (np.arange(lo, hi) - middle) * step
        depth = _profile(rng, offset, half, depths[k], pixel, style)
        win = depth >= depth1[lo:hi]
        owner[lo:hi][win] = k
        depth1[lo:hi] = np.maximum(depth1[lo:hi], depth)
        side = 1 + style["rim_bias"] * np.sign(offset)
        height = (
            style["rim"]
            * min(depths[k], 2.5)
            * (1.0 if depths[k] > OPEN_UM else 0.3)
            * side
            * np.exp(-(((np.abs(offset) - half - rim) / rim) ** 2))
        )
        rise1[lo:hi] = np.maximum(rise1[lo:hi], height * (np.abs(offset) > half))
    depth1 = cv2.blur(depth1[None], (fold, 1)).ravel()
    gate = _gate(rng, len(centres), 2 * reach, pixel, widths, style["ends"])
    # Strands of one groove end at different places, and moved metal reaches along it unevenly.
    strand = line_noise(rng, n, 0.12 * float(np.median(widths)) / step) * np.float32(style["fray"] * np.median(widths))
    lag = np.clip(strand / pixel, -2 * reach, 2 * reach).astype(np.int32)[iu]
    first = owner[iu] * np.int32(2 * reach)
    factor = gate.ravel()[first + np.clip(iv + lag, 0, 2 * reach - 1)]
    cut = depth1[iu] * factor
    rise = rise1[iu] * factor
    table = _give_table(rng, len(centres), 2 * reach, pixel, float(np.median(widths)), law)
    return cut, rise, fine, table.ravel()[first + np.clip(iv + slip + lag // 3, 0, 2 * reach - 1)]


def _grooves(rng, extent, pixel, share, style, must):
    """Centres, widths, depths (µm) of one family covering about `share` of the ground."""
    least = max(2.0, 1.7 * pixel)
    mean = np.clip(style["width"], least, max(extent / 4, least * 1.2))
    count = int(np.clip(rng.poisson(share * extent * 1.5 / mean), 0, 900))
    if count == 0 and not must:
        return ()
    count = max(count, 1)
    widths = np.clip(mean * np.exp(rng.normal(0, style["width_sigma"], count)), least, min(70, max(extent / 3, 3)))
    depths = style["depth"] * np.exp(rng.normal(0, style["depth_sigma"], count)) * (widths / mean) ** 0.5
    depths = np.clip(depths, 0.75, np.minimum(10, np.maximum(0.38 * widths, 0.8)))
    faint = rng.random(count) < style["faint"]
    depths[faint] = rng.uniform(0.1, 0.32, faint.sum())
    centres = rng.uniform(-0.75, 0.75, count) * extent
    if must:
        centres[0] = rng.uniform(-0.25, 0.25) * extent
        depths[0] = max(depths[0], 0.8)
    if style["groups"]:
        hubs = rng.uniform(-0.75, 0.75, max(count // 6, 1)) * extent
        centres[1:] = (rng.choice(hubs, count) + rng.normal(0, style["groups"] * mean, count))[1:]
    return centres, widths, depths


def draw_style(rng, pixel, field_um):
    """Finish of one field."""
    width = spread(rng, 2, 45)
    width = min(width, max(field_um / 5, 3))
    helical = rng.random() < 0.2
    return {
        "hone_deg": rng.uniform(120, 150) if helical else spread(rng, 20, 120),
        "width": width,
        "width_sigma": rng.uniform(0.05, 0.7),
        "depth": max(width * spread(rng, 0.04, 0.25), spread(rng, 0.8, 2.5)),
        "depth_sigma": rng.uniform(0.05, 0.6),
        "share": spread(rng, 0.1, 0.75),
        "balance": rng.choice([0.5, rng.uniform(0.1, 0.9), 0.0, 1.0], p=[0.4, 0.45, 0.075, 0.075]),
        "faint": rng.choice([0.0, rng.uniform(0.05, 0.4)]),
        "groups": rng.choice([0.0, rng.uniform(0.5, 2.5)], p=[0.7, 0.3]),
        "strands": rng.choice([0.0, rng.uniform(0.2, 1.0)]),
        "floor_lines": rng.choice([0.0, rng.uniform(0.05, 0.25)]),
        "rim": rng.choice([0.0, spread(rng, 0.02, 0.25)], p=[0.3, 0.7]),
        "rim_bias": rng.uniform(-0.9, 0.9),
        "rim_um": max(spread(rng, 0.3, 2.0), 0.6 * pixel),
        "bend": rng.choice([0.0, spread(rng, 0.03, 0.5)], p=[0.6, 0.4]),
        "ragged": rng.choice([0.0, spread(rng, 0.05, 0.8)], p=[0.4, 0.6]),
        "ends": rng.choice([0.0, rng.uniform(0.03, 0.35)], p=[0.6, 0.4]),
        "fray": spread(rng, 0.1, 1.3),
        "fine_um": spread(rng, 0.15, 2.0),
        "fine_depth": spread(rng, 0.01, 0.16),
    }


def hone(rng, shape, pixel, bare, law):
    """A honed ground; law says how grooves will take moved metal."""
    field = float(np.hypot(*shape)) * pixel
    style = draw_style(rng, pixel, min(shape) * pixel)
    cut, rise = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    fine, give = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    sway = None
    if style["ragged"]:
        size = spread(rng, 0.5, 8) / pixel
        sway = grain(rng, shape, size, size) * np.float32(
            min(style["ragged"] / pixel, 0.15 * style["width"] / pixel, 0.13 * size)
        )
    tongue = style["width"] * spread(rng, 0.05, 0.6) / pixel
    slip = grain(rng, shape, tongue * spread(rng, 3, 20), tongue) * np.float32(
        style["width"] * spread(rng, 0.05, 1) / pixel
    )
    slip = slip.astype(np.int32)
    half = np.deg2rad(style["hone_deg"]) / 2
    order = rng.permutation([0, 1])
    must = not bare
    for side in order:
        weight = style["balance"] if side else 1 - style["balance"]
        fans = 1 + int(rng.random() < 0.45)
        for _ in range(fans):
            beta = half * (1 if side else -1) + np.deg2rad(rng.normal(0, 0.4 if fans == 1 else 2.0))
            grooves = () if bare else _grooves(rng, field, pixel, style["share"] * weight / fans, style, must)
            must = must and not len(grooves)
            c, r, f, g = _lay(rng, shape, pixel, beta, grooves, style, law, sway, slip)
            fine += f * np.float32(0.3 + 0.7 * (weight > 0.05)) / np.float32(np.sqrt(fans))
            if g is None:
                continue
            rise *= c < 0.1
            rise = np.maximum(rise, r)
            g *= np.float32(law["lay"][side])
            give = np.where(c > cut, g, give)
            cut = np.maximum(cut, c)
    fine *= np.clip(0.8 + 0.5 * grain(rng, shape, 40 / pixel, 40 / pixel), 0.1, 1.6)
    rise = np.minimum(rise, 0.45) * (cut < OPEN_UM)
    return Ground(cut=cut, rise=rise, fine=np.clip(fine, -0.4, 0.4), give=give, width=style["width"])
