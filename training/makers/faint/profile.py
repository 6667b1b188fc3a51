"""The groove's cross-section in closed form: two smooth walls, their slope and their curvature."""

from dataclasses import dataclass

import numpy as np

STEEPEST_DEG, FLATTEST_DEG = 27.0, 6.0


@dataclass(frozen=True)
class Section:
    """depth_um and width_um (rim to rim) of a groove; half_um from its middle to the middle of a wall; wall_um the length
    over which a wall turns."""

    depth_um: float
    width_um: float
    half_um: float
    wall_um: float

    def at(self, lateral_um: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Share of the depth (0 to 1), its first derivative in 1/µm and its second in 1/µm² at distances from the middle in µm."""
        up = np.tanh((lateral_um + self.half_um) / self.wall_um)
        down = np.tanh((lateral_um - self.half_um) / self.wall_um)
        scale = 0.5 / np.tanh(self.half_um / self.wall_um)
        bend_up, bend_down = 1 - up * up, 1 - down * down
        return (
            scale * (up - down),
            scale / self.wall_um * (bend_up - bend_down),
            -2 * scale / self.wall_um**2 * (up * bend_up - down * bend_down),
        )


def section(depth_um: float, width_um: float, wall_deg: float) -> Section:
    """A groove of that depth and width in µm whose walls are at their steepest wall_deg; a wall too gentle to fit into half
    the width is steepened until it does, so that the floor is always reached."""
    steep = np.tan(np.radians(wall_deg))
    wall = depth_um / (2 * steep)
    for _ in range(8):  # the two walls overlap in narrow grooves: what their sum loses in depth is given back by the scale
        wall = min(wall, width_um / 4)
        half = width_um / 2 - wall
        ratio = half / wall
        wall = depth_um / (2 * steep) * (1 - 1 / np.cosh(min(2 * ratio, 50.0)) ** 2) / np.tanh(ratio)
    wall = min(wall, width_um / 4)
    return Section(depth_um, width_um, width_um / 2 - wall, wall)


def drawn_section(rng: np.random.Generator, width_um: float, bold: float) -> Section:
    """A groove of that width in µm; bold, 0 to 1, moves the depth from what gentle walls give to what steep ones do."""
    deepest = min(10.0, 0.5 * width_um * np.tan(np.radians(STEEPEST_DEG)) * 0.72)
    gentle = max(0.2, 0.5 * width_um * np.tan(np.radians(FLATTEST_DEG)) * 0.8)
    depth = np.exp(np.log(gentle) + (np.log(max(deepest, gentle)) - np.log(gentle)) * np.clip(rng.normal(bold, 0.2), 0, 1))
    if rng.random() < 0.88:
        depth = max(depth, min(rng.uniform(0.7, 1.2), 1.1 * deepest))
    least = np.degrees(np.arctan(depth / (0.5 * width_um)))
    return section(float(depth), width_um, float(min(STEEPEST_DEG, max(FLATTEST_DEG, least) * rng.uniform(1.1, 1.6))))
