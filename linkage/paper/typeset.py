"""Typesetting: paragraphs, tables and lists as pictures that stack and stand side by side on a page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from linkage.answers import Word
from linkage.paper.approval_tables import Table
from linkage.paper.ink import width_of, wrapped
from linkage.paper.lines import SIGN
from linkage.paper.shapes import Align, Curve, Picture, Shape, Words, moved
from linkage.plots.style import BAD, FAINT, GOOD, GRID, INK, SOFT, WARN

#: colours of the verdicts; their signs differ as well
COLOUR = {"pass": GOOD, "caution": WARN, "fail": BAD}

#: sizes of letter [pt]: of a heading, of text, of a table, of what stands beside
HEAD, TEXT, CELL, SMALL = 9.5, 8.4, 7.9, 7.0

#: the signs of the verdicts in their colours
COLOURS = {SIGN[word]: colour for word, colour in COLOUR.items()}

_LEAD = 1.3  # leading, in sizes of letter
_ROW = 1.31  # the same in a table
_GAP = 9.0  # between columns of a table
_RISE = 0.27  # of the size: from the foot of a line to its baseline


def stacked(parts: Sequence[Picture], gap: float = 0.0) -> Picture:
    """Pictures one below the other, flush left."""
    high = sum(part.high for part in parts) + gap * max(len(parts) - 1, 0)
    shapes: list[Shape] = []
    top = high
    for part in parts:
        shapes += moved(part, 0.0, top - part.high)
        top -= part.high + gap
    return Picture(max((part.wide for part in parts), default=0.0), high, tuple(shapes))


def beside(parts: Sequence[Picture], gap: float = 0.0, *, middle: bool = False) -> Picture:
    """Pictures side by side, level at their tops, or about their ``middle``."""
    high = max((part.high for part in parts), default=0.0)
    shapes: list[Shape] = []
    left = 0.0
    for part in parts:
        shapes += moved(part, left, (0.5 if middle else 1.0) * (high - part.high))
        left += part.wide + gap
    return Picture(left - gap, high, tuple(shapes))


def blank(wide: float, high: float) -> Picture:
    """Air."""
    return Picture(wide, high, ())


def rule(wide: float, *, colour: str = INK, width: float = 0.7) -> Picture:
    """A line across."""
    return Picture(wide, width, (Curve(((0.0, 0.5 * width), (wide, 0.5 * width)), colour, width),))


def paragraph(
    text: str, wide: float, size: float = TEXT, *, colour: str = INK, bold: bool = False, most: int = 0
) -> Picture:
    """A text in lines no wider than ``wide`` [pt], of ``most`` lines at the most (0: any number)."""
    lines = wrapped(text, size, wide, bold=bold, most=most)
    lead = _LEAD * size
    high = lead * len(lines)
    shapes = [
        Words((0.0, high - lead * (i + 1) + _RISE * size), line, size, colour, bold) for i, line in enumerate(lines)
    ]
    return Picture(wide, high, tuple(shapes))


def fitted(text: str, wide: float, size: float, least: float) -> Picture:
    """A bold text in one line where a ``least`` size of letter allows it, else in a few."""
    while size > least and width_of(text, size, bold=True) > wide:
        size -= 0.2
    return paragraph(text, wide, size, bold=True, most=4)


def heading(text: str, wide: float) -> Picture:
    """The head of a section: bold, on a line."""
    return stacked([paragraph(text, wide, HEAD, bold=True), rule(wide, colour=INK, width=0.8)], 1.5)


def marked(word: Word, text: str, wide: float, size: float = TEXT, *, most: int = 0) -> Picture:
    """A paragraph behind the sign of a verdict."""
    indent = 1.5 * size
    body = paragraph(text, wide - indent, size, most=most)
    sign = Words((0.1 * size, body.high - (_LEAD - _RISE) * size), SIGN[word], 1.1 * size, COLOUR[word], True)
    return Picture(wide, body.high, (sign, *moved(body, indent, 0.0)))


def bullets(texts: Sequence[str], wide: float, size: float = TEXT) -> Picture:
    """Paragraphs behind a dash each."""
    found = []
    for text in texts:
        body = paragraph(text, wide - 9.0, size)
        dash = Words((0.0, body.high - (_LEAD - _RISE) * size), "–", size, SOFT)
        found.append(Picture(wide, body.high, (dash, *moved(body, 9.0, 0.0))))
    return stacked(found, 1.5)


@dataclass(frozen=True)
class Rows:
    """A table set in type: its head and every row as a picture of their own, that a page may break between."""

    head: Picture
    rows: tuple[Picture, ...]
    foot: tuple[Picture, ...]

    @property
    def whole(self) -> Picture:
        """The table in one piece."""
        return stacked([self.head, *self.rows, *self.foot])


def set_table(
    table: Table,
    wide: float,
    *,
    size: float = CELL,
    fixed: Mapping[int, float] | None = None,
    colours: Mapping[int, str | Mapping[str, str]] | None = None,
    gap: float = _GAP,
) -> Rows:
    """Set a table in type, its columns of words taking what room the others leave.

    ``fixed`` gives columns a width [pt], ``colours`` another colour, or one for each text; ``gap`` [pt] is
    between columns.
    """
    columns = _widths([table.head, *table.rows], table.columns, wide, size, fixed or {}, gap)
    head = [heading(table.title, wide)] if table.title else []
    if any(table.head):
        names = _row(table.head, table.columns, columns, size - 0.7, dict.fromkeys(range(len(columns)), SOFT), gap)
        head += [names, rule(wide, colour=FAINT, width=0.6)]
    rows = []
    for i, cells in enumerate(table.rows):
        line = [_row(cells, table.columns, columns, size, colours or {}, gap)]
        if i < len(table.rows) - 1:
            line.append(rule(wide, colour=GRID, width=0.5))
        rows.append(stacked(line))
    foot = (stacked([blank(wide, 2.0), paragraph(table.note, wide, size, colour=SOFT)]),) if table.note else ()
    return Rows(stacked(head), tuple(rows), foot)


def _row(
    cells: Sequence[str],
    columns: str,
    widths: Sequence[float],
    size: float,
    colours: Mapping[int, str | Mapping[str, str]],
    gap: float,
) -> Picture:
    lines = [wrapped(cell, size, wide) or [""] for cell, wide in zip(cells, widths, strict=True)]
    lead = _ROW * size
    high = lead * max(map(len, lines)) + 1.0
    shapes: list[Shape] = []
    left = 0.0
    for column, (texts, side, wide) in enumerate(zip(lines, columns, widths, strict=True)):
        align: Align = "start" if side == "<" else "end"
        x = left if side == "<" else left + wide
        colour = colours.get(column, INK)
        for i, text in enumerate(texts):
            if text:
                y = high - 0.5 - lead * (i + 1) + (_ROW - 1.03) * size
                ink = colour if isinstance(colour, str) else colour.get(text, INK)
                shapes.append(Words((x, y), text, size, ink, bold=not isinstance(colour, str), align=align))
        left += wide + gap
    return Picture(left - gap, high, tuple(shapes))


def _widths(
    rows: Sequence[Sequence[str]], columns: str, wide: float, size: float, fixed: Mapping[int, float], gap: float
) -> list[float]:
    """Width of every column: as wide as its cells, words giving way where the page is too narrow."""
    natural = [fixed.get(i) or max(width_of(row[i], size) for row in rows) + 0.5 for i in range(len(columns))]
    spare = wide - sum(natural) - gap * (len(columns) - 1)
    if spare >= 0.0:
        free = [i for i, side in enumerate(columns) if side == "<" and i not in fixed]
        natural[free[0] if free else 0] += spare
        return natural
    words = [i for i, side in enumerate(columns) if side == "<" and i not in fixed] or list(range(len(columns)))
    while spare < -0.01:  # the widest columns of words give way together
        widest = max(natural[i] for i in words)
        at = [i for i in words if natural[i] > widest - 0.01]
        lower = max((natural[i] for i in words if natural[i] <= widest - 0.01), default=0.0)
        step = min(widest - max(lower, 0.0), -spare / len(at))
        if widest - step < 3.0 * size:
            words = list(range(len(columns)))
            step = min(step, max(widest - 3.0 * size, 1.0))
        for i in at:
            natural[i] -= step
        spare += step * len(at)
    return natural
