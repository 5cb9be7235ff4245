"""The parts that a sheet's page is made of: headings, paragraphs, steps, tables, pictures, each with its height."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, NamedTuple

from linkage.paper.lines import SIGN
from linkage.paper.sheet import Block, Picture, Rules, Section, Steps, Table, Words, Working
from linkage.plots import labels, style
from linkage.plots.style import BAD, GOOD, GRID, HEAD, INK, PLAIN, SMALL, SOFT, WARN

if TYPE_CHECKING:
    from matplotlib.axes import Axes

#: margin of a page [pt], and leading in sizes of letter
EDGE, LEAD = 40.0, 1.3

#: colours of the verdicts; their signs differ as well
COLOURS = {"pass": GOOD, "caution": WARN, "fail": BAD}

_MM = 72.0 / 25.4  # [pt]
_GAP = 11.0  # [pt] between the columns of a table
_ROW = 4.5  # [pt] of air to a row of a table
_WHOLE = 260.0  # [pt] a table no higher than this is not broken
_HEADING = 44.0  # [pt] a column may be as wide as this for its heading's sake

Draw = Callable[["Axes", float], None]


class Part(NamedTuple):
    """A part of a page that is not broken: its height [pt] and what draws it below a height.

    ``keep`` holds it on one page with the next part; ``again`` is the heading that a table repeats
    when this part comes first on a page.
    """

    height: float
    draw: Draw
    keep: bool = False
    again: tuple[float, Draw] | None = None


def section_parts(ax: Axes, section: Section, room: float) -> list[Part]:
    """The parts of a section, its heading first; none of an empty one. ``room`` [pt] is the width."""
    blocks = [(block, parts) for block in section.blocks if (parts := _block(ax, block, room))]
    if not blocks:
        return []

    def heading(on: Axes, at: float) -> None:
        put(on, EDGE, at, section.name[:1].upper() + section.name[1:], HEAD + 0.5, weight="bold", gid="section")

    found = [Part((HEAD + 0.5) * LEAD + 4.0, heading, True)]
    for (block, parts), after in zip(blocks, (*blocks[1:], None), strict=True):
        explained = after is not None and isinstance(block, Table) and isinstance(after[0], Words)
        found += [*parts[:-1], parts[-1]._replace(keep=explained)]
        if after is not None:
            found.append(Part(5.0, lambda on, at: None, explained))
    return found


def _block(ax: Axes, block: Block, room: float) -> list[Part]:
    if isinstance(block, Table):
        return _table(ax, block, room) if block.rows else []
    if isinstance(block, Words):
        return [_words(ax, block, room)]
    if isinstance(block, Steps):
        return [_step(ax, words, number, room) for number, words in enumerate(block.steps, block.first)]
    if isinstance(block, Rules):
        parts = [_rule_of_thumb(ax, says, source, room) for says, source in block.rules]
        whole = sum(part.height for part in parts) < _WHOLE
        return [part._replace(keep=whole and i < len(parts) - 1) for i, part in enumerate(parts)]
    if isinstance(block, Working):
        return [_line(line) for line in block.lines]
    return [_picture(block, room)]


def _words(ax: Axes, block: Words, room: float) -> Part:
    left = 14.0 if block.mark else 0.0
    words = labels.wrapped(ax, block.says[:1].upper() + block.says[1:], PLAIN, room - left)

    def draw(on: Axes, at: float) -> None:
        if block.mark:
            put(on, EDGE, at, SIGN[block.mark], PLAIN + 1.0, weight="bold", colour=COLOURS[block.mark])
        put(on, EDGE + left, at, words, PLAIN)

    return Part(PLAIN * LEAD * row_count(words) + 3.0, draw)


def _step(ax: Axes, says: str, number: int, room: float) -> Part:
    words = labels.wrapped(ax, says, PLAIN, room - 42.0)

    def draw(on: Axes, at: float) -> None:
        from matplotlib.patches import Rectangle

        on.add_patch(Rectangle((EDGE, at - 9.5), 8.5, 8.5, fill=False, edgecolor=INK, linewidth=0.9))
        on.text(EDGE + 27.0, at, f"{number}", size=PLAIN, weight="bold", ha="right", va="top", color=INK)
        put(on, EDGE + 36.0, at, words, PLAIN)

    return Part(PLAIN * LEAD * row_count(words) + 5.0, draw)


def _rule_of_thumb(ax: Axes, says: str, source: str, room: float) -> Part:
    words = labels.wrapped(ax, says[:1].upper() + says[1:] + ".", PLAIN, 0.6 * room - 12.0)
    origin = labels.wrapped(ax, source, SMALL, 0.4 * room - 4.0)

    def draw(on: Axes, at: float) -> None:
        put(on, EDGE, at, words, PLAIN)
        put(on, EDGE + 0.6 * room, at - 0.5, origin, SMALL, colour=SOFT)

    return Part(max(PLAIN * row_count(words), SMALL * row_count(origin)) * LEAD + 3.0, draw)


def _line(line: str) -> Part:
    def draw(on: Axes, at: float) -> None:
        on.text(EDGE, at, line, size=SMALL + 0.3, family="monospace", va="top", color=INK)

    return Part((SMALL + 0.3) * 1.38, draw)


def _picture(block: Picture, room: float) -> Part:
    height = block.height * _MM

    def draw(on: Axes, at: float) -> None:
        figure = style.figure_of(on)
        wide, high = float(on.get_xlim()[1]), float(on.get_ylim()[1])
        inside: Axes = figure.add_axes((EDGE / wide, (at - height) / high, room / wide, height / high))
        block.draw(inside)

    return Part(height + 6.0, draw)


def _table(ax: Axes, block: Table, room: float) -> list[Part]:
    rows, widths = _columns(ax, block, room)
    first = 0 if any(rows[0]) else 1
    parts = [_row(block, row, widths, head=i + first == 0) for i, row in enumerate(rows[first:])]
    again = (parts[0].height, parts[0].draw) if first == 0 else None
    whole = sum(part.height for part in parts) < _WHOLE
    last = len(parts) - 1
    return [
        part._replace(keep=i < last and (whole or i < 2 - first or i == last - 1), again=None if i == 0 else again)
        for i, part in enumerate(parts)
    ]


def _row(block: Table, row: Sequence[str], widths: Sequence[float], *, head: bool) -> Part:
    letters, weight, colour = (SMALL, "bold", SOFT) if head else (PLAIN, "normal", INK)
    lines = max(map(row_count, row))
    height = letters * 1.22 * lines + _ROW + (5.0 if block.ruled and not head else 0.0)
    total = sum(widths) + _GAP * (len(widths) - 1)
    drop = 5.0 if block.ruled and not head else 0.0

    def draw(on: Axes, at: float) -> None:
        x = EDGE
        for cell, side, width in zip(row, block.columns, widths, strict=True):
            for j, line in enumerate(cell.split("\n"), lines - row_count(cell) if head else 0):
                on.text(
                    x + width if side == ">" else x, at - drop - letters * (0.95 + 1.22 * j), line, size=letters,
                    weight=weight, color=colour, ha="right" if side == ">" else "left", va="baseline", gid="cell",
                )  # fmt: skip
            if block.ruled and not head and not cell:
                on.plot([x, x + width], [at - height + 3.0] * 2, color=SOFT, linewidth=0.7)
            x += width + _GAP
        if head or not block.ruled:
            on.plot(
                [EDGE, EDGE + total], [at - height + 1.5] * 2, color=SOFT if head else GRID,
                linewidth=0.9 if head else 0.7, zorder=0.5,
            )  # fmt: skip

    return Part(height, draw)


def _columns(ax: Axes, block: Table, room: float) -> tuple[list[list[str]], list[float]]:
    """Cells broken so that the table fits the page, and the width of every column [pt]."""
    rows = [list(block.heading), *(list(row) for row in block.rows)]
    count = len(block.columns)

    def width(cell: str, head: bool) -> float:
        size, weight = (SMALL, "bold") if head else (PLAIN, "normal")
        return float(labels.text_size(ax, cell, size, weight)[0]) if cell else 0.0

    widths = []
    for i in range(count):
        cells = max([width(row[i], False) for row in rows[1:]], default=0.0)
        least = 2.0 * _HEADING if block.ruled and cells == 0.0 else _HEADING
        rows[0][i] = _broken(ax, rows[0][i], SMALL, max(cells, least), "bold")
        widths.append(max(cells, width(rows[0][i], True)))
    if block.ruled:
        widths = [w if any(row[i] for row in rows[1:]) else max(w, 46.0) for i, w in enumerate(widths)]
        spare = room - sum(widths) - _GAP * (count - 1)
        empty = [i for i in range(count) if not any(row[i] for row in rows[1:])]
        for i in empty:
            widths[i] += min(max(spare, 0.0) / len(empty), 90.0)
    stiff: set[int] = set()
    while (over := sum(widths) + _GAP * (count - 1) - room) > 0.0 and len(stiff) < count:
        i = max((i for i in range(count) if i not in stiff), key=lambda i: widths[i])
        wanted = max(widths[i] - max(over, 4.0), 0.7 * widths[i])
        for n, row in enumerate(rows):
            size, weight = (SMALL, "bold") if n == 0 else (PLAIN, "normal")
            row[i] = _broken(ax, row[i].replace("\n", " "), size, wanted, weight)
        before, widths[i] = widths[i], max(width(row[i], n == 0) for n, row in enumerate(rows))
        if widths[i] > before - 1.0:
            stiff.add(i)
    return rows, widths


def _broken(ax: Axes, words: str, size: float, width: float, weight: str) -> str:
    """Words in lines no wider than ``width`` [pt]; a word by itself is not broken."""
    lines: list[str] = []
    for word in words.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and labels.text_size(ax, longer, size, weight)[0] <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return "\n".join(lines)


def put(
    ax: Axes, x: float, y: float, words: str, size: float, *, weight: str = "normal", colour: str = INK, gid: str = ""
) -> None:
    """Write words below a height."""
    ax.text(x, y, words, size=size, weight=weight, color=colour, va="top", linespacing=LEAD, gid=gid or None)


def rule(ax: Axes, y: float, colour: str, width: float) -> None:
    """A line across the page."""
    wide = float(ax.get_xlim()[1])
    ax.plot([EDGE, wide - EDGE], [y, y], color=colour, linewidth=width, scalex=False, scaley=False)


def row_count(words: str) -> int:
    """How many lines words take."""
    return words.count("\n") + 1
