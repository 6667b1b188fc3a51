"""The data bars' layouts: all invented, none an instrument's own.

place: a strip under the picture (dark or light), a boxed inset, or burnt over the picture. bar: filled, ticked line,
bracket or a hollow box. side: where the label stands against the bar. unit: how lengths are written.
"""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Layout:
    name: str
    place: str
    bar: str
    side: str
    unit: str
    letters_px: int
    face: str
    at: str
    words: str


LAYOUTS = (
    Layout(name="dark strip, filled", place="dark", bar="filled", side="right", unit="µm", letters_px=22, face="sans",
           at="left", words="{specimen}  {kv:g} kV  {detector}  SIMULATED"),
    Layout(name="light strip, ticks", place="light", bar="ticks", side="above", unit="um", letters_px=17, face="plain",
           at="right", words="simulated | {detector} | {kv:.1f}kV"),
    Layout(name="inset, bracket", place="inset", bar="bracket", side="above", unit="µm", letters_px=24, face="sans",
           at="right", words="simulated"),
    Layout(name="burnt, filled", place="burnt", bar="filled", side="above", unit="µm", letters_px=30, face="bold",
           at="right", words="sim. {specimen}"),
    Layout(name="burnt, ticks", place="burnt", bar="ticks", side="below", unit="um", letters_px=20, face="stroke",
           at="left", words="SIMULATED {kv:g}kV"),
    Layout(name="dark strip, bracket", place="dark", bar="bracket", side="below", unit="mm", letters_px=16, face="mono",
           at="right", words="SIMULATED PICTURE   E0={kv:g} keV   {specimen}"),
    Layout(name="light strip, hollow box", place="light", bar="hollow", side="left", unit="µm", letters_px=28, face="sans",
           at="right", words="simulated {specimen}"),
    Layout(name="inset, filled", place="inset", bar="filled", side="below", unit="nm", letters_px=14, face="plain",
           at="left", words="simulated"),
    Layout(name="dark strip, line", place="dark", bar="line", side="above", unit="µm", letters_px=36, face="bold",
           at="left", words="SIM  {kv:g} kV"),
    Layout(name="light strip, filled", place="light", bar="filled", side="below", unit="mm", letters_px=12, face="mono",
           at="left", words="simulated; beam {kv:g} kV; signal {detector}; sample {specimen}"),
    Layout(name="dark strip, ticks beside", place="dark", bar="ticks", side="left", unit="um", letters_px=19, face="stroke",
           at="right", words="SIMULATED  {specimen}  {detector}"),
)  # fmt: skip


def length_text(length_um: float, layout: Layout) -> str:
    """Return a length as the layout writes it; nm only for short bars and mm only for long ones.

    Two of the faces have no µ.
    """
    unit = layout.unit
    if unit == "nm" and length_um <= 20:
        return f"{length_um * 1000:.0f} nm"
    if unit == "mm" and length_um >= 100:
        return f"{length_um / 1000:g} mm"
    return f"{length_um:g} {'um' if unit == 'um' or layout.face in ('plain', 'stroke') else 'µm'}"
