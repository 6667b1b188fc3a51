"""Published formulae of beam and specimen that the renderers rest on.

Sources: range of electrons, Kanaya and Okayama, J. Phys. D 5 (1972) 43; backscatter coefficient, the polynomial of
Reuter (1972) as printed in Goldstein et al., Scanning Electron Microscopy and X-Ray Microanalysis; growth of the
secondary yield with the tilt of the surface as a power of the secant, n near 1 for iron (Goldstein et al.); shot
noise from counting electrons, N = i t / e.
"""

import numpy as np

ELEMENTARY_CHARGE_C = 1.602176634e-19
"""Charge of an electron, C (exact in the SI)."""


def electron_range_um(kv: float, *, atomic_mass=55.85, atomic_number=26, density_g_cm3=7.87) -> float:
    """Return the range of beam electrons in µm; the defaults are iron.

    R = 0.0276 A E^1.67 / (Z^0.89 rho), Kanaya and Okayama (1972).

    >>> [round(electron_range_um(kv), 2) for kv in (5, 10, 15, 20)]
    [0.16, 0.5, 0.99, 1.6]
    """
    return 0.0276 * atomic_mass * kv**1.67 / (atomic_number**0.89 * density_g_cm3)


def backscatter_coefficient(atomic_number: float) -> float:
    """Return the share of beam electrons that leave a flat specimen again (Reuter's polynomial).

    >>> round(backscatter_coefficient(26), 2), round(backscatter_coefficient(6), 2)
    (0.28, 0.06)
    """
    z = atomic_number
    return -0.0254 + 0.016 * z - 1.86e-4 * z**2 + 8.3e-7 * z**3


def tilt_yield(slope, *, exponent: float = 1.0):
    """Return the secondary yield over that of a level surface, sec(theta)^n with slope = tan(theta).

    >>> round(float(tilt_yield(np.tan(np.radians(27)))), 2)
    1.12
    """
    return (1.0 + np.square(slope)) ** (0.5 * exponent)


def electrons_per_pixel(current_pa: float, dwell_us: float) -> float:
    """Return the number of beam electrons that one pixel gets.

    >>> round(electrons_per_pixel(100, 10))
    6242
    """
    return current_pa * 1e-12 * dwell_us * 1e-6 / ELEMENTARY_CHARGE_C
