"""Layouts of data bars, all made up for this maker: where the bar lies, how it looks, and what stands beside it."""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Layout:
    """One layout.

    ``place``: footer, header, inset, burnt or none; ``ground`` and ``ink``: grey 0-1; ``bar``: filled, ticks or bracket;
    ``label``: above, below, left or right of the bar; ``side``: which end of the strip or corner of the picture; ``unit``:
    auto (µm or nm), um, mm; ``halo``: whether burnt ink has a rim of the opposite grey.
    """

    name: str
    place: str
    ground: float
    ink: float
    bar: str
    label: str
    side: str
    unit: str
    face: str
    texts: tuple[str, ...]
    frame: bool = False
    halo: bool = False
    note: str = "SIMULATED"


LAYOUTS = (
    Layout(name="dark footer", place="footer", ground=0.0, ink=1.0, bar="ticks", label="right", side="left", unit="auto",
           face="DejaVuSans", texts=("{kv:g} kV", "{detector}", "{specimen}", "field {field} µm")),
    Layout(name="light footer", place="footer", ground=1.0, ink=0.0, bar="filled", label="above", side="right", unit="auto",
           face="DejaVuSans", texts=("{specimen}", "{detector}", "{kv:.1f} kV")),
    Layout(name="grey footer", place="footer", ground=0.22, ink=0.95, bar="bracket", label="below", side="right", unit="um",
           face="DejaVuSansMono", texts=("U={kv:g}kV", "det={detector}", "tilt={tilt:g}"), frame=True),
    Layout(name="header", place="header", ground=0.05, ink=0.9, bar="filled", label="left", side="right", unit="auto",
           face="DejaVuSans-Bold", texts=("{specimen}", "{kv:g} kV")),
    Layout(name="light inset", place="inset", ground=1.0, ink=0.0, bar="ticks", label="above", side="right", unit="auto",
           face="DejaVuSerif", texts=(), frame=True),
    Layout(name="dark inset", place="inset", ground=0.0, ink=1.0, bar="filled", label="right", side="left", unit="um",
           face="plain", texts=()),
    Layout(name="burnt bracket", place="burnt", ground=0.0, ink=1.0, bar="bracket", label="above", side="right", unit="auto",
           face="DejaVuSans-Bold", texts=(), halo=True),
    Layout(name="burnt black", place="burnt", ground=1.0, ink=0.0, bar="filled", label="below", side="left", unit="auto",
           face="DejaVuSans", texts=(), halo=True),
    Layout(name="burnt strokes", place="burnt", ground=0.0, ink=1.0, bar="ticks", label="below", side="left", unit="um",
           face="strokes", texts=()),
    Layout(name="paper footer", place="footer", ground=0.86, ink=0.1, bar="ticks", label="left", side="left", unit="mm",
           face="DejaVuSansMono", texts=("{detector} {kv:g}kV", "{specimen}")),
    Layout(name="stroke header", place="header", ground=0.0, ink=1.0, bar="bracket", label="right", side="left", unit="um",
           face="strokes", texts=("{kv:g} kV", "{detector}")),
    Layout(name="nanometre footer", place="footer", ground=0.0, ink=0.85, bar="filled", label="below", side="left", unit="nm",
           face="DejaVuSerif", texts=("{specimen}", "{kv:g} kV", "{tilt:g}° tilt"), frame=True),
)  # fmt: skip
BARE = Layout(name="none", place="none", ground=0, ink=0, bar="filled", label="above", side="left", unit="auto", face="plain",
              texts=())  # fmt: skip


def lengths_um(pixel_um: float, columns: int) -> list[float]:
    """Return the round lengths (1, 2 or 5 times a power of ten) whose bar takes 7 to 30 % of the picture's width.

    >>> lengths_um(0.25, 1200)
    [50.0]
    >>> lengths_um(0.2, 1600)
    [50.0]
    """
    round_ones = [float(f"{step}e{power}") for power in range(-1, 4) for step in (1, 2, 5)]
    return [one for one in round_ones if 0.07 <= one / pixel_um / columns <= 0.30]


def label_of(length_um: float, unit: str) -> str:
    """Return the label of a bar. Nanometres are used up to 20 µm only.

    >>> [label_of(20, unit) for unit in ("auto", "um", "mm", "nm")]
    ['20 µm', '20 um', '0.02 mm', '20000 nm']
    >>> label_of(200, "nm")
    '200 µm'
    """
    if unit == "nm" and length_um <= 20:
        return f"{length_um * 1000:.0f} nm"
    if unit == "mm":
        return f"{length_um / 1000:g} mm"
    return f"{length_um:g} {'um' if unit == 'um' else 'µm'}"
