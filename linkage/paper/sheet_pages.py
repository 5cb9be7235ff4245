"""The pages of a sheet, drawn: A4 or letter, the same bytes for the same sheet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from io import BytesIO
from typing import TYPE_CHECKING, Literal

from linkage.paper.lines import SIGN
from linkage.paper.sheet import Sheet
from linkage.paper.sheet_parts import COLOURS, EDGE, LEAD, Part, put, row_count, rule, section_parts
from linkage.plots import labels, style
from linkage.plots.style import HEAD, INK, PLAIN, SMALL, SOFT

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Paper = Literal["a4", "letter"]

#: width and height of the papers, upright [mm]
PAPERS: dict[str, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}

POINT = 25.4 / 72.0  # [mm]

_SETTINGS = {"pdf.fonttype": 42, "font.monospace": ["DejaVu Sans Mono"]}
_METADATA = {"CreationDate": None, "Creator": None, "Producer": None}


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
    room = size[0] - 2.0 * EDGE
    at = _head(figures[0].axes[0], sheet)
    floor = EDGE + _foot_height(figures[0].axes[0], sheet)
    for section in sheet.sections:
        parts = section_parts(figures[0].axes[0], section, room)
        if not parts:
            continue
        fresh = section.fresh and at < size[1] - EDGE - 60.0
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


def _together(parts: Sequence[Part]) -> float:
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
    wide, top = float(ax.get_xlim()[1]), float(ax.get_ylim()[1]) - EDGE
    room = wide - 2.0 * EDGE
    put(ax, EDGE, top, sheet.kind.upper(), PLAIN, weight="bold", colour=SOFT)
    top -= PLAIN * LEAD + 3.0
    title = labels.wrapped(ax, sheet.title, 15.0, room, "bold", lines=2)
    put(ax, EDGE, top, title, 15.0, weight="bold")
    top -= 15.0 * LEAD * row_count(title) + 3.0
    for fact in sheet.facts:
        words = labels.wrapped(ax, fact, SMALL, room)
        put(ax, EDGE, top, words, SMALL, colour=SOFT)
        top -= SMALL * LEAD * row_count(words)
    top -= 5.0
    rule(ax, top, INK, 1.2)
    top -= 10.0
    if sheet.stamp is not None:
        word, says = sheet.stamp
        sign = f"{SIGN[word]}  {word.upper()}"
        colour = COLOURS[word]
        frame = {"boxstyle": "round,pad=0.35", "facecolor": "white", "edgecolor": colour, "linewidth": 1.6}
        size = labels.text_size(ax, sign, HEAD, "bold")[0]
        ax.text(
            EDGE + 4.0, top - 9.0, sign, size=HEAD, weight="bold", color=colour, va="center", bbox=frame, gid="stamp"
        )
        words = labels.wrapped(ax, says[:1].upper() + says[1:], PLAIN, room - size - 28.0)
        height = PLAIN * LEAD * row_count(words)
        put(ax, EDGE + size + 24.0, top - 9.0 + 0.5 * height, words, PLAIN)
        top -= max(22.0, height + 6.0)
    return top - 6.0


def _running_head(ax: Axes, sheet: Sheet) -> float:
    top = float(ax.get_ylim()[1]) - EDGE
    room = float(ax.get_xlim()[1]) - 2.0 * EDGE
    put(ax, EDGE, top, labels.wrapped(ax, f"{sheet.kind} · {sheet.title}", SMALL, room, lines=1), SMALL, colour=SOFT)
    rule(ax, top - SMALL * LEAD - 2.0, SOFT, 0.8)
    return top - SMALL * LEAD - 14.0


SOFT = SOFT


def _foot_height(ax: Axes, sheet: Sheet) -> float:
    words = labels.wrapped(ax, sheet.foot, SMALL, float(ax.get_xlim()[1]) - 2.0 * EDGE - 92.0)
    return SMALL * LEAD * row_count(words) + 10.0


def _foot(ax: Axes, sheet: Sheet, number: int, count: int) -> None:
    wide = float(ax.get_xlim()[1])
    words = labels.wrapped(ax, sheet.foot, SMALL, wide - 2.0 * EDGE - 92.0)
    top = EDGE + SMALL * LEAD * row_count(words)
    rule(ax, top + 4.0, SOFT, 0.8)
    put(ax, EDGE, top, words, SMALL, colour=SOFT, gid="foot")
    ax.text(
        wide - EDGE, top, f"page {number} of {count}" + (f"\n{sheet.date}" if sheet.date else ""),
        size=SMALL, color=SOFT, ha="right", va="top", linespacing=LEAD,
    )  # fmt: skip
