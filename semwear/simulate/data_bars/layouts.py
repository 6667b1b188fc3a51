"""The named families of data-bar layouts: where the bar stands, on what ground, in which shapes, with which company.

Every family is invented and randomised; none is the strip of one instrument. A family fixes what makes it a family,
the rest is drawn anew for every picture.
"""

from dataclasses import dataclass

ANY_FACE = ("sans", "sans bold", "mono", "plain", "serif", "roman", "roman bold", "plotter", "pixel", "modern sans",
            "typewriter", "sans italic", "serif bold", "mono bold", "modern", "serif italic", "roman italic",
            "sans bold italic")
PLAIN_FACES = ("sans", "plain", "mono", "plotter", "modern sans", "sans bold")
OLD_FACES = ("pixel", "plotter", "mono", "typewriter")
SOLID = ("filled", "line", "double", "hollow", "chequered", "chequered rows")
TICKED = ("end ticks", "ruler", "bracket up", "bracket down", "heavy with ticks", "gap")

BLACK, WHITE = (0.0, 0.0, 0.0), (1.0, 1.0, 1.0)
RED, YELLOW, GREEN, CYAN = (0.95, 0.1, 0.1), (1.0, 0.95, 0.1), (0.1, 0.9, 0.2), (0.1, 0.9, 0.95)


@dataclass(frozen=True, kw_only=True)
class Layout:
    """One family of layouts.

    place: below, above, middle, inset, burnt or side; ground: (lowest, highest) grey 0..1 of the strip or box, None for
    none; inks: colours to choose from; outline: chance of an outline around burnt ink; shapes: marks to choose from;
    label_at: places of the label relative to the mark (above, below, left, right, inside, far); bar_at: left, centre,
    right; text_rows: lines of other facts, lowest and highest; display_width_mm: constant behind the magnification.
    """

    name: str
    place: str
    ground: tuple[float, float] | None
    inks: tuple[tuple[float, float, float], ...]
    shapes: tuple[str, ...]
    label_at: tuple[str, ...]
    bar_at: tuple[str, ...]
    faces: tuple[str, ...]
    text_rows: tuple[int, int]
    display_width_mm: float
    outline: float = 0.0
    see_through: tuple[float, float] = (1.0, 1.0)
    separators: float = 0.0
    logo: float = 0.0
    border: float = 0.0
    bar_row_apart: bool = False


def _layout(name, place, ground, inks, shapes, label_at, bar_at, faces, text_rows, display_width_mm, **more) -> Layout:
    return Layout(name=name, place=place, ground=ground, inks=inks, shapes=shapes, label_at=label_at, bar_at=bar_at,
                  faces=faces, text_rows=text_rows, display_width_mm=display_width_mm, **more)


_DARK, _LIGHT, _GREY = (0.0, 0.14), (0.86, 1.0), (0.55, 0.75)
_W, _B = (WHITE,), (BLACK,)
_PALE = (WHITE, (0.85, 0.85, 0.85), (0.8, 0.9, 0.8))

LAYOUTS: dict[str, Layout] = {
    layout.name: layout
    for layout in (
        # Strips outside or across the picture.
        _layout("dark strip, solid bar left", "below", _DARK, _W, ("filled", "line"), ("right", "above"), ("left",),
                PLAIN_FACES, (1, 2), 118.0, logo=0.2),
        _layout("dark strip, facts then bar", "below", _DARK, _PALE, ("end ticks", "filled"), ("above",), ("right",),
                ANY_FACE, (1, 2), 152.4, separators=0.3),
        _layout("dark strip, bar in the centre", "below", _DARK, _W, ("bracket up", "filled", "end ticks"),
                ("above", "below"), ("centre",), ANY_FACE, (1, 3), 96.0),
        _layout("light strip, ticks alone", "below", _LIGHT, _B, ("ticks alone",), ("below", "right", "above"),
                ("left", "right"), ANY_FACE, (1, 2), 131.0, border=0.3),
        _layout("light strip, ended line", "below", _LIGHT, _B, ("end ticks", "heavy with ticks"), ("above", "below"),
                ("left", "centre"), ANY_FACE, (1, 2), 210.0, border=0.5, separators=0.3),
        _layout("light strip, boxed cells", "below", _LIGHT, _B, SOLID + TICKED, ("above", "right", "below"),
                ("left", "centre", "right"), PLAIN_FACES, (1, 2), 173.0, separators=1.0, border=1.0, logo=0.3),
        _layout("dark strip, broken line", "below", _DARK, _PALE, ("gap",), ("inside",), ("left", "centre", "right"),
                PLAIN_FACES, (1, 2), 240.0),
        _layout("label inside a thick bar", "below", _DARK, _W, ("filled",), ("inside",), ("left", "right"),
                ("sans bold", "sans", "plain", "mono bold"), (1, 2), 104.0),
        _layout("label far away", "below", _DARK, _PALE, ("filled", "end ticks", "ruler", "line"), ("far",),
                ("left", "right"), PLAIN_FACES, (1, 1), 88.0),
        _layout("label far away, light", "above", _LIGHT, _B, ("filled", "ticks alone", "bracket up"), ("far",),
                ("left", "right"), PLAIN_FACES, (1, 1), 143.0),
        _layout("dark strip above", "above", _DARK, _W, ("filled", "double", "end ticks"), ("below", "right", "left"),
                ("left", "centre", "right"), ANY_FACE, (1, 2), 125.0),
        _layout("light strip above", "above", _LIGHT, _B, ("line", "ruler", "chequered"), ("above", "below", "left"),
                ("left", "centre", "right"), ANY_FACE, (1, 2), 160.0, border=0.4),
        _layout("bar on its own row", "below", _DARK, _PALE, ("filled", "end ticks", "ruler"), ("right", "left", "above"),
                ("left", "centre", "right"), OLD_FACES, (1, 1), 91.0, bar_row_apart=True),
        _layout("bar on its own row, light", "below", _LIGHT, _B, ("filled", "double", "bracket down"),
                ("right", "left"), ("left", "right"), ANY_FACE, (1, 1), 297.0, bar_row_apart=True, border=0.3),
        _layout("chequered ruler strip", "below", _LIGHT, _B, ("chequered", "chequered rows"), ("above", "right", "below"),
                ("left", "centre", "right"), ANY_FACE, (0, 2), 185.0),
        _layout("grey strip", "below", _GREY, _B, SOLID + TICKED, ("above", "right", "left"), ("left", "right"),
                ("sans bold", "sans", "plain", "serif bold"), (1, 2), 112.0, border=0.5),
        _layout("tall dark strip", "below", _DARK, _W, ("end ticks", "filled", "bracket up"), ("above", "below"),
                ("right", "centre"), PLAIN_FACES, (3, 4), 139.0, logo=0.6, border=0.2),
        _layout("coloured ink on a dark strip", "below", _DARK, (RED, YELLOW, GREEN, CYAN), ("filled", "end ticks", "line"),
                ("above", "right"), ("left", "centre", "right"), ANY_FACE, (1, 2), 200.0),
        _layout("dark strip across the picture", "middle", _DARK, _W, ("filled", "end ticks", "ruler"),
                ("above", "right", "left"), ("left", "centre", "right"), ANY_FACE, (1, 2), 121.0),
        _layout("light strip across the picture", "middle", _LIGHT, _B, ("filled", "end ticks", "bracket up"),
                ("above", "right"), ("left", "centre", "right"), ANY_FACE, (1, 2), 109.0, border=0.3),
        _layout("panel at the side", "side", _DARK, _PALE, ("filled", "end ticks", "line"), ("above", "below"),
                ("centre",), PLAIN_FACES, (3, 6), 134.0, logo=0.4),
        # Boxes inside the picture.
        _layout("light box", "inset", _LIGHT, _B, ("filled", "end ticks", "line"), ("above", "below"),
                ("left", "right"), ANY_FACE, (0, 0), 101.0, border=0.4),
        _layout("dark box", "inset", _DARK, _W, ("filled", "ticks alone", "bracket up"), ("above", "below", "right"),
                ("left", "right"), ANY_FACE, (0, 0), 146.0, border=0.4),
        _layout("box with facts", "inset", _LIGHT, _B, ("filled", "end ticks", "gap"), ("above", "below"),
                ("left", "right"), PLAIN_FACES, (1, 3), 167.0, border=0.6),
        _layout("see-through box", "inset", _DARK, _W, ("filled", "end ticks", "double"), ("above", "below"),
                ("left", "right", "centre"), ANY_FACE, (0, 1), 128.0, see_through=(0.45, 0.75)),
        _layout("coloured box", "inset", _DARK, (YELLOW, CYAN, GREEN, RED), ("filled", "line"), ("above", "below"),
                ("left", "right"), PLAIN_FACES, (0, 0), 115.0, border=0.5),
        # Burnt over the picture.
        _layout("burnt bar", "burnt", None, (WHITE, BLACK), ("filled", "end ticks", "line"), ("above", "below"),
                ("left", "centre", "right"), ANY_FACE, (0, 0), 123.0, outline=0.4),
        _layout("burnt bar with outline", "burnt", None, (WHITE, BLACK), SOLID, ("above", "below", "right"),
                ("left", "centre", "right"), ANY_FACE, (0, 1), 132.0, outline=1.0),
        _layout("burnt bracket", "burnt", None, (WHITE, BLACK), ("bracket up", "bracket down"), ("above", "below", "inside"),
                ("left", "centre", "right"), ANY_FACE, (0, 1), 99.0, outline=0.6),
        _layout("burnt ticks alone", "burnt", None, _W, ("ticks alone",), ("below", "above", "right"),
                ("right", "centre", "left"), ANY_FACE, (0, 1), 137.0, outline=0.6),
        _layout("burnt row of facts", "burnt", None, _W, ("filled", "end ticks", "ruler"), ("right", "above"),
                ("left", "centre", "right"), OLD_FACES + PLAIN_FACES, (1, 1), 119.0, outline=0.7),
        _layout("burnt, facts in a far corner", "burnt", None, (WHITE, YELLOW), ("filled", "end ticks", "gap"),
                ("above", "below"), ("left", "right"), PLAIN_FACES, (1, 3), 155.0, outline=0.7),
        _layout("burnt colour", "burnt", None, (RED, YELLOW, GREEN, CYAN), ("filled", "line", "end ticks"),
                ("above", "below", "right"), ("left", "right"), ANY_FACE, (0, 0), 107.0, outline=0.4),
        _layout("burnt double bar", "burnt", None, (WHITE, BLACK), ("double", "hollow"), ("above", "below"),
                ("left", "right"), ANY_FACE, (0, 0), 180.0, outline=0.7),
    )
}
"""Every family of layouts by its name."""

NOTHING_PRINTED = "nothing printed"
"""Layout name of a picture that carries no data bar at all."""
