"""Invented layouts of the data bar: where it stands, its tone, the kind of scale mark and where its label stands."""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Layout:
    """place: below, above, box (inset in a corner) or burnt (on the picture). tone: of the ground behind the marks.

    mark: filled, line, bracket, hollow, ruler or halves. label: above, below, left or right of the mark. face: sans, bold,
    mono, serif, plain (Pillow's own) or plotter (strokes). side: left, middle or right. facts: how other facts are worded.
    """

    name: str
    place: str
    tone: str
    mark: str
    label: str
    face: str
    side: str
    facts: str


LAYOUTS = tuple(
    Layout(name=name, place=place, tone=tone, mark=mark, label=label, face=face, side=side, facts=facts)
    for name, place, tone, mark, label, face, side, facts in (
        ("ebony", "below", "dark", "filled", "above", "sans", "right", "short"),
        ("chalk", "below", "light", "line", "right", "serif", "left", "long"),
        ("ledger", "below", "light", "bracket", "above", "mono", "middle", "columns"),
        ("slate", "below", "dark", "hollow", "left", "plain", "right", "long"),
        ("lintel", "above", "dark", "line", "below", "bold", "left", "columns"),
        ("card", "box", "light", "filled", "below", "bold", "right", "none"),
        ("plaque", "box", "dark", "bracket", "above", "sans", "left", "short"),
        ("ember", "burnt", "dark", "line", "above", "sans", "right", "short"),
        ("stencil", "burnt", "dark", "filled", "right", "plotter", "left", "none"),
        ("comb", "burnt", "dark", "ruler", "below", "mono", "right", "short"),
        ("domino", "below", "light", "halves", "below", "sans", "middle", "short"),
        ("gauge", "below", "dark", "ruler", "right", "serif", "left", "columns"),
    )
)
"""Layouts with a scale mark."""

UNMARKED = ("file only", "plan only")
"""Pictures without any data bar: the pixel size stands in the file's metadata, or only in the plan."""
