"""The pages of a sheet, drawn: A4 or letter, the same bytes for the same sheet."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from io import BytesIO
from typing import TYPE_CHECKING, Literal, NamedTuple

from linkage.paper.lines import SIGN
from linkage.paper.sheet import Block, Picture, Rules, Section, Sheet, Steps, Table, Words, Working
from linkage.plots import labels, style
from linkage.plots.style import BAD, GOOD, GRID, HEAD, INK, PLAIN, SMALL, SOFT, WARN

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Paper = Literal["a4", "letter"]

#: width and height of the papers, upright [mm]
PAPERS: dict[str, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}

POINT = 25.4 / 72.0  # [mm]

_EDGE = 40.0  # margin [pt]
_LEAD = 1.3  # leading, in sizes of letter
_GAP = 11.0  # [pt] between the columns of a table
_ROW = 4.5  # [pt] of air to a row of a table
_WHOLE = 260.0  # [pt] a table no higher than this is not broken
_HEADING = 44.0  # [pt] a column may be as wide as this for its heading's sake
_COLOURS = {"pass": GOOD, "caution": WARN, "fail": BAD}
_SETTINGS = {"pdf.fonttype": 42, "font.monospace": ["DejaVu Sans Mono"]}
_METADATA = {"CreationDate": None, "Creator": None, "Producer": None}


Draw = Callable[["Axes", float], None]


class _Part(NamedTuple):
    """A part of a page that is not broken: its height [pt] and what draws it below a height.

    ``keep`` holds it on one page with the next part; ``again`` is the heading that a table repeats
    when this part comes first on a page.
    """

    height: float
    draw: Draw
    keep: bool = False
    again: tuple[float, Draw] | None = None


def pdf(figures: Iterable[Figure]) -> bytes:
    """One PDF of several pages, without a date in it."""
    from matplotlib.backends.backend_pdf import PdfPages

    buffer = BytesIO()
    with style.look(_SETTINGS), PdfPages(buffer, metadata=_METADATA) as pages:
        for figure in figures:
            pages.savefig(figure)
    return buffer.getvalue()


def pages(sheet: Sheet, paper: Paper = "a4", *, sideways: bool = False) -> list[Figure]:
    """Draw the pages of a sheet.

    Parameters
    ----------
    sheet : Sheet
    paper : str
        ``"a4"`` or ``"letter"``.
    sideways : bool
        Landscape.

    Returns
    -------
    list of matplotlib Figure
    """
    wide, high = (side / POINT for side in PAPERS[paper])
    size = (high, wide) if sideways else (wide, high)
    with style.look(_SETTINGS):
        figures = _filled(sheet, size)
        for number, figure in enumerate(figures, 1):
            _foot(figure.axes[0], sheet, number, len(figures))
    return figures


def _filled(sheet: Sheet, size: tuple[float, float]) -> list[Figure]:
    figures = [_page(size)]
    room = size[0] - 2.0 * _EDGE
    at = _head(figures[0].axes[0], sheet)
    floor = _EDGE + _foot_height(figures[0].axes[0], sheet)
    for section in sheet.sections:
        parts = _section(figures[0].axes[0], section, room)
        if not parts:
            continue
        fresh = section.fresh and at < size[1] - _EDGE - 60.0
        for i, part in enumerate(parts):
            if at - _together(parts[i:]) < floor or (fresh and i == 0):
                figures.append(_page(size))
                at = _running_head(figures[-1].axes[0], sheet)
                if part.again is not None:
                    part.again[1](figures[-1].axes[0], at)
                    at -= part.again[0]
            part.draw(figures[-1].axes[0], at)
            at -= part.height
        at -= 9.0
    return figures


def _together(parts: Sequence[_Part]) -> float:
    """Height of the first of the parts and of all that it is kept with."""
    height = 0.0
    for part in parts:
        height += part.height
        if not part.keep:
            break
    return height


def _page(size: tuple[float, float]) -> Figure:
    figure = style.figure(size[0] / 72.0, size[1] / 72.0)
    ax: Axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    ax.set_axis_off()
    ax.set(xlim=(0.0, size[0]), ylim=(0.0, size[1]))
    return figure


def _head(ax: Axes, sheet: Sheet) -> float:
    """Kind, title, facts and stamp at the top of the first page; returns the height below them."""
    wide, top = float(ax.get_xlim()[1]), float(ax.get_ylim()[1]) - _EDGE
    room = wide - 2.0 * _EDGE
    _put(ax, _EDGE, top, sheet.kind.upper(), PLAIN, weight="bold", colour=SOFT)
    top -= PLAIN * _LEAD + 3.0
    title = labels.wrapped(ax, sheet.title, 15.0, room, "bold", lines=2)
    _put(ax, _EDGE, top, title, 15.0, weight="bold")
    top -= 15.0 * _LEAD * _rows(title) + 3.0
    for fact in sheet.facts:
        words = labels.wrapped(ax, fact, SMALL, room)
        _put(ax, _EDGE, top, words, SMALL, colour=SOFT)
        top -= SMALL * _LEAD * _rows(words)
    top -= 5.0
    _rule(ax, top, INK, 1.2)
    top -= 10.0
    if sheet.stamp is not None:
        word, says = sheet.stamp
        sign = f"{SIGN[word]}  {word.upper()}"
        colour = _COLOURS[word]
        frame = {"boxstyle": "round,pad=0.35", "facecolor": "white", "edgecolor": colour, "linewidth": 1.6}
        size = labels.text_size(ax, sign, HEAD, "bold")[0]
        ax.text(
            _EDGE + 4.0, top - 9.0, sign, size=HEAD, weight="bold", color=colour, va="center", bbox=frame, gid="stamp"
        )
        words = labels.wrapped(ax, says[:1].upper() + says[1:], PLAIN, room - size - 28.0)
        height = PLAIN * _LEAD * _rows(words)
        _put(ax, _EDGE + size + 24.0, top - 9.0 + 0.5 * height, words, PLAIN)
        top -= max(22.0, height + 6.0)
    return top - 6.0


def _running_head(ax: Axes, sheet: Sheet) -> float:
    top = float(ax.get_ylim()[1]) - _EDGE
    room = float(ax.get_xlim()[1]) - 2.0 * _EDGE
    _put(ax, _EDGE, top, labels.wrapped(ax, f"{sheet.kind} · {sheet.title}", SMALL, room, lines=1), SMALL, colour=SOFT)
    _rule(ax, top - SMALL * _LEAD - 2.0, SOFT, 0.8)
    return top - SMALL * _LEAD - 14.0


SOFT = SOFT


def _foot_height(ax: Axes, sheet: Sheet) -> float:
    words = labels.wrapped(ax, sheet.foot, SMALL - 0.5, float(ax.get_xlim()[1]) - 2.0 * _EDGE - 70.0)
    return (SMALL - 0.5) * _LEAD * _rows(words) + 10.0


def _foot(ax: Axes, sheet: Sheet, number: int, count: int) -> None:
    wide = float(ax.get_xlim()[1])
    words = labels.wrapped(ax, sheet.foot, SMALL - 0.5, wide - 2.0 * _EDGE - 70.0)
    top = _EDGE + (SMALL - 0.5) * _LEAD * _rows(words)
    _rule(ax, top + 4.0, SOFT, 0.8)
    _put(ax, _EDGE, top, words, SMALL - 0.5, colour=SOFT, gid="foot")
    ax.text(
        wide - _EDGE, top, f"page {number} of {count}" + (f"\n{sheet.date}" if sheet.date else ""),
        size=SMALL, color=SOFT, ha="right", va="top", linespacing=_LEAD,
    )  # fmt: skip


def _section(ax: Axes, section: Section, room: float) -> list[_Part]:
    blocks = [parts for block in section.blocks if (parts := _block(ax, block, room))]
    if not blocks:
        return []

    def heading(on: Axes, at: float) -> None:
        _put(on, _EDGE, at, section.name[:1].upper() + section.name[1:], HEAD + 0.5, weight="bold", gid="section")

    found = [_Part((HEAD + 0.5) * _LEAD + 4.0, heading, True)]
    for i, parts in enumerate(blocks):
        found += parts
        if i < len(blocks) - 1:
            found.append(_Part(5.0, lambda on, at: None))
    return found


def _block(ax: Axes, block: Block, room: float) -> list[_Part]:
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


def _words(ax: Axes, block: Words, room: float) -> _Part:
    left = 14.0 if block.mark else 0.0
    words = labels.wrapped(ax, block.says[:1].upper() + block.says[1:], PLAIN, room - left)

    def draw(on: Axes, at: float) -> None:
        if block.mark:
            _put(on, _EDGE, at, SIGN[block.mark], PLAIN + 1.0, weight="bold", colour=_COLOURS[block.mark])
        _put(on, _EDGE + left, at, words, PLAIN)

    return _Part(PLAIN * _LEAD * _rows(words) + 3.0, draw)


def _step(ax: Axes, says: str, number: int, room: float) -> _Part:
    words = labels.wrapped(ax, says, PLAIN, room - 42.0)

    def draw(on: Axes, at: float) -> None:
        from matplotlib.patches import Rectangle

        on.add_patch(Rectangle((_EDGE, at - 9.5), 8.5, 8.5, fill=False, edgecolor=INK, linewidth=0.9))
        on.text(_EDGE + 27.0, at, f"{number}", size=PLAIN, weight="bold", ha="right", va="top", color=INK)
        _put(on, _EDGE + 36.0, at, words, PLAIN)

    return _Part(PLAIN * _LEAD * _rows(words) + 5.0, draw)


def _rule_of_thumb(ax: Axes, says: str, source: str, room: float) -> _Part:
    words = labels.wrapped(ax, says[:1].upper() + says[1:] + ".", PLAIN, 0.6 * room - 12.0)
    origin = labels.wrapped(ax, source, SMALL, 0.4 * room - 4.0)

    def draw(on: Axes, at: float) -> None:
        _put(on, _EDGE, at, words, PLAIN)
        _put(on, _EDGE + 0.6 * room, at - 0.5, origin, SMALL, colour=SOFT)

    return _Part(max(PLAIN * _rows(words), SMALL * _rows(origin)) * _LEAD + 3.0, draw)


def _line(line: str) -> _Part:
    def draw(on: Axes, at: float) -> None:
        on.text(_EDGE, at, line, size=SMALL + 0.3, family="monospace", va="top", color=INK)

    return _Part((SMALL + 0.3) * 1.38, draw)


def _picture(block: Picture, room: float) -> _Part:
    height = block.height / POINT

    def draw(on: Axes, at: float) -> None:
        figure = style.figure_of(on)
        wide, high = float(on.get_xlim()[1]), float(on.get_ylim()[1])
        inside: Axes = figure.add_axes((_EDGE / wide, (at - height) / high, room / wide, height / high))
        block.draw(inside)

    return _Part(height + 6.0, draw)


def _table(ax: Axes, block: Table, room: float) -> list[_Part]:
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


def _row(block: Table, row: Sequence[str], widths: Sequence[float], *, head: bool) -> _Part:
    letters, weight, colour = (SMALL, "bold", SOFT) if head else (PLAIN, "normal", INK)
    lines = max(map(_rows, row))
    height = letters * 1.22 * lines + _ROW + (5.0 if block.ruled and not head else 0.0)
    total = sum(widths) + _GAP * (len(widths) - 1)
    drop = 5.0 if block.ruled and not head else 0.0

    def draw(on: Axes, at: float) -> None:
        x = _EDGE
        for cell, side, width in zip(row, block.columns, widths, strict=True):
            for j, line in enumerate(cell.split("\n"), lines - _rows(cell) if head else 0):
                on.text(
                    x + width if side == ">" else x, at - drop - letters * (0.95 + 1.22 * j), line, size=letters,
                    weight=weight, color=colour, ha="right" if side == ">" else "left", va="baseline", gid="cell",
                )  # fmt: skip
            if block.ruled and not head and not cell:
                on.plot([x, x + width], [at - height + 3.0] * 2, color=SOFT, linewidth=0.7)
            x += width + _GAP
        if head or not block.ruled:
            on.plot(
                [_EDGE, _EDGE + total], [at - height + 1.5] * 2, color=SOFT if head else GRID,
                linewidth=0.9 if head else 0.7, zorder=0.5,
            )  # fmt: skip

    return _Part(height, draw)


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
        empty = block.ruled and cells == 0.0
        rows[0][i] = _broken(ax, rows[0][i], SMALL, max(cells, 2.0 * _HEADING if empty else _HEADING), "bold")
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


def _put(
    ax: Axes, x: float, y: float, words: str, size: float, *, weight: str = "normal", colour: str = INK, gid: str = ""
) -> None:
    ax.text(x, y, words, size=size, weight=weight, color=colour, va="top", linespacing=_LEAD, gid=gid or None)


def _rule(ax: Axes, y: float, colour: str, width: float) -> None:
    wide = float(ax.get_xlim()[1])
    ax.plot([_EDGE, wide - _EDGE], [y, y], color=colour, linewidth=width, scalex=False, scaley=False)


def _rows(words: str) -> int:
    return words.count("\n") + 1
