"""What a data bar says: the label of its scale bar, and the texts around it that are not the label."""

import numpy as np

ROUND_LENGTHS = (1, 2, 5, 10, 20, 25, 30, 40, 50, 100, 200, 250, 300, 400, 500)
ODD_LENGTHS = (1.2, 1.5, 2.5, 3, 4, 6, 7.5, 8, 12, 15, 60, 75, 80, 120, 150, 600, 750, 0.8, 1000)


def choose_length_um(pixel_size_um: float, width_px: int, *, odd: bool, rng: np.random.Generator) -> float:
    """Choose a length that spans 8–38 % of the width, from the round ones or, with ``odd``, from the others as well."""
    lengths = np.array(ROUND_LENGTHS + ODD_LENGTHS if odd else ROUND_LENGTHS, float)
    spans = lengths / pixel_size_um / width_px
    fit = lengths[(spans > 0.08) & (spans < 0.38) & (lengths / pixel_size_um > 50)]
    return float(rng.choice(fit)) if fit.size else float(lengths[np.argmin(np.abs(spans - 0.2))])


def write_length(length_um: float, *, ascii_only: bool, rng: np.random.Generator) -> str:
    """Write a length as data bars do: '10 µm', '10.0um', '500 nm', '0.1 mm' …

    >>> write_length(12.0, ascii_only=True, rng=np.random.default_rng(1)).replace(" ", "") in ("12um", "12.0um", "12.00um")
    True
    """
    gap = str(rng.choice([" ", ""], p=(0.62, 0.38)))
    micro = "um" if ascii_only else str(rng.choice(["µm", "um", "μm"], p=(0.66, 0.22, 0.12)))
    if length_um >= 100 and rng.random() < 0.2:
        return f"{length_um / 1000:g}{gap}mm"
    if length_um <= 2 and rng.random() < 0.5:
        return f"{length_um * 1000:.0f}{gap}nm"
    whole = f"{length_um:g}"
    if rng.random() < 0.25 and length_um < 100 and length_um == round(length_um, 1):
        whole = f"{length_um:.1f}" if rng.random() < 0.75 else f"{length_um:.2f}"
    return f"{whole}{gap}{micro}"


def other_texts(specimen, ascii_only: bool, rng: np.random.Generator) -> list[str]:
    """Voltage, working distance, magnification, detector, date, number: a few of them, in some order and spelling."""
    kv, distance = specimen.kv, rng.uniform(6, 22)
    shown_width_mm = float(rng.choice([100, 120, 127, 295]))
    times = shown_width_mm * 1000 / (specimen.pixel_size_um * specimen.shape[1])
    times = float(f"{times:.3g}") if times < 1000 else round(times, -1)
    cross = "x" if ascii_only else "×"
    year, month, day = rng.integers(1994, 2025), rng.integers(1, 13), rng.integers(1, 29)
    spellings = [
        (f"{kv:g} kV", f"{kv:.1f}kV", f"HV {kv:.2f} kV", f"U = {kv:g} kV", f"{kv:.0f}KV", f"HV: {kv:.1f} kV"),
        (f"WD {distance:.1f} mm", f"WD{distance:.0f}mm", f"WD = {distance:.1f} mm", f"WD: {distance:.2f} mm", f"{distance:.1f}mm"),
        (f"x{times:.0f}", f"X {times:,.0f}", f"{times:.0f} {cross}", f"Mag {times:.0f}X", f"MAG: {times / 1000:.2f} k{cross}"),
        (f"{specimen.detector}", f"Det: {specimen.detector}", f"Signal {specimen.detector}", f"{specimen.detector}I"),
        (f"{day:02d}/{month:02d}/{year}", f"{year}-{month:02d}-{day:02d}", f"{day:02d}.{month:02d}.{year % 100:02d} {rng.integers(8, 18)}:{rng.integers(10, 60)}"),
        (f"{rng.integers(1, 9999):04d}", f"#{rng.integers(1, 400)}", specimen.name, "Liner section", f"Spot {rng.uniform(2, 6):.1f}"),
        (f"Tilt {specimen.tilt_deg:g}", "High vac", f"{rng.integers(5, 60)} us", f"I = {rng.integers(20, 900)} pA"),
    ]  # fmt: skip
    count = int(rng.integers(2, 7))
    keep = rng.permutation(len(spellings))[:count] if rng.random() < 0.3 else np.arange(len(spellings))[:count]
    return [str(rng.choice(spellings[int(item)])) for item in keep]
