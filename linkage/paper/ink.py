"""Shapes drawn by matplotlib on a sheet whose axes count points, for PDF and for film."""

from __future__ import annotations

import functools
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from linkage.paper.shapes import Bar, Curve, Dot, Place, Shape, Spot, Words
from linkage.plots.style import PAPER

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def sheet(wide: float, high: float) -> Axes:
    """Axes that fill a new page [pt], without scales: data coordinates are points of the page."""
    from linkage.plots import style

    made: Figure = style.figure(wide / 72.0, high / 72.0)
    ax: Axes = made.add_axes((0.0, 0.0, 1.0, 1.0))
    ax.set_axis_off()
    ax.set(xlim=(0.0, wide), ylim=(0.0, high))
    return ax


def draw(ax: Axes, shapes: Iterable[Shape]) -> None:
    """Put shapes that stand still on a sheet, each over those before it."""
    for level, artist in enumerate(artists(shapes), len(ax.get_children())):
        artist.set_zorder(level)
        ax.add_artist(artist)


def artists(shapes: Iterable[Shape]) -> list[Artist]:
    """What matplotlib draws for shapes that stand still, one or more artists each."""
    found: list[Artist] = []
    for shape in shapes:
        if isinstance(shape, Bar):
            ends = (_fixed(shape.start), _fixed(shape.end))
            found.append(_line(ends, shape.colour, shape.width, shape.dashes, "butt" if shape.blunt else "round"))
        elif isinstance(shape, Dot):
            found.append(_dot(shape))
        elif isinstance(shape, Curve):
            found += _curve(shape)
        else:
            found.append(_words(shape))
    return found


def _fixed(spot: Spot) -> Place:
    assert not isinstance(spot, str), "let the picture stand still first"
    return spot


def _line(places: tuple[Place, ...], colour: str, width: float, dashes: tuple[float, ...], cap: str) -> Artist:
    from matplotlib.lines import Line2D

    across, up = zip(*places, strict=True)
    look: dict[str, Any] = {"solid_capstyle": cap, "dash_capstyle": "butt", "solid_joinstyle": "round"}
    if dashes:  # matplotlib counts dashes in line widths, the shapes in points
        look["linestyle"] = (0, tuple(dash / width for dash in dashes))
    return Line2D(across, up, color=colour, linewidth=width, **look)


def _dot(shape: Dot) -> Artist:
    from matplotlib.patches import Circle

    edge = shape.colour or "none"
    return Circle(_fixed(shape.at), shape.radius, facecolor=shape.fill, edgecolor=edge, linewidth=shape.width)


def _curve(shape: Curve) -> list[Artist]:
    from matplotlib.patches import Polygon

    found: list[Artist] = []
    if shape.fill:
        found.append(Polygon(shape.places, closed=True, facecolor=shape.fill, edgecolor="none"))
    if shape.colour:
        found.append(_line(shape.places, shape.colour, shape.width, shape.dashes, "butt"))
    return found


def _words(shape: Words) -> Artist:
    from matplotlib.patheffects import withStroke
    from matplotlib.text import Text

    side = {"start": "left", "middle": "center", "end": "right"}[shape.align]
    return Text(
        *shape.at, readable(shape.text), fontsize=shape.size, color=shape.colour, ha=side, va="baseline",
        weight="bold" if shape.bold else "normal", rotation=90.0 if shape.upright else 0.0, rotation_mode="anchor",
        parse_math=False, path_effects=[withStroke(linewidth=2.2, foreground=PAPER)] if shape.halo else None,
    )  # fmt: skip


def readable(text: str) -> str:
    """A text in letters that the sheets' own font has; ``?`` for others, nothing for controls."""
    from linkage.paper.markup import printable

    return "".join(c if ord(c) in _letters() else "?" for c in printable(text))


def width_of(text: str, size: float, *, bold: bool = False) -> float:
    """Width [pt] of a line of text as it is printed, but for the kerning of pairs."""
    return size * sum(_advance(c, bold) for c in readable(text))


def wrapped(text: str, size: float, wide: float, *, bold: bool = False, most: int = 0) -> list[str]:
    """A text in lines no wider than ``wide`` [pt]; of more than ``most`` lines (0: any) the rest is cut off."""
    lines: list[str] = []
    for word in _words_within(text, size, wide, bold=bold):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_of(longer, size, bold=bold) <= wide:
            lines[-1] = longer
        else:
            lines.append(word)
    if most and len(lines) > most:
        last = lines[most - 1]
        while last and width_of(f"{last} …", size, bold=bold) > wide:
            last = last[:-1].rstrip()
        lines = [*lines[: most - 1], f"{last} …".strip()]
    return lines


def trimmed(text: str, size: float, wide: float) -> str:
    """A text in one line no wider than ``wide`` [pt], its end cut off where it is longer."""
    text = readable(text)
    if width_of(text, size) <= wide:
        return text
    while text and width_of(f"{text}…", size) > wide:
        text = text[:-1].rstrip()
    return f"{text}…"


def _words_within(text: str, size: float, wide: float, *, bold: bool) -> list[str]:
    """Words of a text, those wider than a line broken up."""
    found = []
    for word in readable(text).split():
        while width_of(word, size, bold=bold) > wide and len(word) > 1:
            share = max(1, int(len(word) * wide / width_of(word, size, bold=bold)))
            while share > 1 and width_of(word[:share], size, bold=bold) > wide:
                share -= 1
            found.append(word[:share])
            word = word[share:]
        found.append(word)
    return found


@functools.cache
def _advance(letter: str, bold: bool) -> float:
    """How far a letter moves the pen, of its size."""
    font = _font(bold)
    font.set_size(100.0, 72.0)
    return float(font.load_char(ord(letter)).linearHoriAdvance) / 65536.0 / 100.0


@functools.cache
def _font(bold: bool) -> Any:
    from matplotlib.font_manager import findfont
    from matplotlib.ft2font import FT2Font

    return FT2Font(findfont("DejaVu Sans:bold" if bold else "DejaVu Sans", fallback_to_default=False))


@functools.cache
def _letters() -> frozenset[int]:
    return frozenset(_font(False).get_charmap()) & frozenset(_font(True).get_charmap())
