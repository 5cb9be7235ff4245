"""What every sheet of a template carries: title and holes above, check bars below, a register mark in every corner."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linkage.paper.plates import Plate
from linkage.paper.sheet import Figures
from linkage.paper.templates import BARS, INSET, MARGIN, ROWS, Template, Tile, hole_rows
from linkage.parts import Linkage
from linkage.plots import labels
from linkage.plots.style import INK, SMALL, SOFT

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_MM = 72.0 / 25.4  # [pt]
_THIN, _BAR = 0.4, 1.0  # widths of lines [pt]
_CROSS = 4.0  # half of a register mark's arms [mm]


def framed(ax: Axes, template: Template, tile: Tile, rig: Linkage, told: Figures, date: str) -> None:
    """Draw the frame of one sheet on axes that count in mm from the page's lower left corner."""
    _head(ax, template, tile, rig, told, date)
    _check_bars(ax, tile)
    _register(ax, tile, told)


def _head(ax: Axes, template: Template, tile: Tile, rig: Linkage, told: Figures, date: str) -> None:
    wide, high = tile.page
    room = (wide - 2.0 * MARGIN) * _MM
    part, top = template.part, high - MARGIN
    what = f"{template.kind}: {template.title}"
    off = f"{len(template.names)} off, " if isinstance(part, Plate) else ""
    facts = [
        what[:1].upper() + what[1:],
        f"{off}{told.with_unit(part.thickness)} thick" if isinstance(part, Plate) else "",
    ]
    if tile.rows * tile.columns > 1:
        facts.append(f"tile {tile.name} of {tile.columns} × {tile.rows}")
    title = labels.wrapped(ax, " · ".join(filter(None, facts)), 11.0, room, "bold", lines=1)
    _word(ax, MARGIN, top - 4.2, title, 11.0, weight="bold", gid="title")
    second = [rig.title, f"drawing {rig.drawing}" if rig.drawing else "", date]
    _word(
        ax, MARGIN, top - 8.6, labels.wrapped(ax, " · ".join(filter(None, second)), SMALL, room, lines=1), colour=SOFT
    )
    way = f"as at idle, axis towards you; {part.seen.says}" if isinstance(part, Plate) else (
        f"from the datum; {part.seen.says}"
    )  # fmt: skip
    if isinstance(part, Plate):
        way += f"; opens {part.opens}"
    if rig.seen_from and part.seen.out == (0.0, 0.0, 1.0):
        way += f"; seen from {rig.seen_from}"
    _word(ax, MARGIN, top - 12.4, labels.wrapped(ax, way, SMALL, room, lines=1), colour=SOFT)
    rows = hole_rows(template)
    for i, (name, x, y, diameter) in enumerate(rows[:ROWS]):
        at = top - 17.2 - 4.4 * i
        if i == ROWS - 1 and len(rows) > ROWS:
            _word(ax, MARGIN, at, f"and {len(rows) - i} more: see the centre-drill list")
            break
        cells = (
            (MARGIN, "left", labels.wrapped(ax, name, SMALL, 54.0 * _MM, lines=1)),
            (MARGIN + 78.0, "right", f"right {told.cell(x)}"),
            (MARGIN + 112.0, "right", f"up {told.cell(y)}"),
            (MARGIN + 116.0, "left", "" if diameter is None else f"⌀ {told.cell(diameter)}"),
        )
        for left, side, words in cells:
            ax.text(left, at, words, size=SMALL, color=INK, ha=side, va="baseline")
    bottom = tile.cell[3] + INSET
    ax.plot([MARGIN, wide - MARGIN], [bottom, bottom], color=SOFT, linewidth=_THIN, zorder=0.5)


def _check_bars(ax: Axes, tile: Tile) -> None:
    """Two bars to measure before anything is cut."""
    bottom = tile.cell[1] - INSET
    ax.plot([MARGIN, tile.page[0] - MARGIN], [bottom, bottom], color=SOFT, linewidth=_THIN, zorder=0.5)
    for i, (size, name) in enumerate(zip(BARS, ("100 mm", "4 in"), strict=True)):
        y = bottom - 6.0 - 8.0 * i
        ax.plot([MARGIN, MARGIN + size], [y, y], color=INK, linewidth=_BAR, solid_capstyle="butt", gid=f"bar {name}")
        step = size / (10.0 if i == 0 else 4.0)
        for n in range(round(size / step) + 1):
            end = n in (0, round(size / step))
            x = MARGIN + n * step
            ax.plot([x, x], [y, y + (2.4 if end else 1.4)], color=INK, linewidth=_THIN, solid_capstyle="butt")
        _word(ax, MARGIN + BARS[1] + 3.0, y - 0.2, name, weight="bold")
    _word(ax, MARGIN + BARS[1] + 18.0, bottom - 6.2, "true size: print at 100 %,")
    _word(ax, MARGIN + BARS[1] + 18.0, bottom - 10.2, "measure both bars first")


def _register(ax: Axes, tile: Tile, told: Figures) -> None:
    """A cross in a circle at every corner of the cell, and how far they are apart."""
    from matplotlib.patches import Circle

    left, bottom, right, top = tile.cell
    for x in (left, right):
        for y in (bottom, top):
            ax.plot([x - _CROSS, x + _CROSS], [y, y], color=INK, linewidth=_THIN, solid_capstyle="butt", gid="register")
            ax.plot([x, x], [y - _CROSS, y + _CROSS], color=INK, linewidth=_THIN, solid_capstyle="butt", gid="register")
            ax.add_patch(Circle((x, y), 2.0, fill=False, edgecolor=INK, linewidth=_THIN))
    apart = f"marks {told.bare(right - left)} across, {told.bare(top - bottom)} {told.units} up"
    ax.text(tile.page[0] - MARGIN, bottom - INSET - 14.2, apart, size=SMALL, color=SOFT, ha="right", va="baseline")
    if tile.columns * tile.rows == 1:
        return
    names = {"left": (-1, 0), "right": (1, 0), "below": (0, -1), "above": (0, 1)}
    for side, (i, j) in names.items():
        column, row = tile.column + i, tile.row + j
        if not (0 <= column < tile.columns and 0 <= row < tile.rows):
            continue
        x = {"left": left, "right": right}.get(side, 0.5 * (left + right))
        y = {"below": bottom, "above": top}.get(side, 0.5 * (bottom + top))
        other = tile._replace(column=column, row=row).name
        ends = ([x, x], [bottom + _CROSS, top - _CROSS]) if i else ([left + _CROSS, right - _CROSS], [y, y])
        ax.plot(*ends, color=SOFT, linewidth=_THIN, linestyle=(0, (1.0, 3.0)))
        ax.text(x, y, f" {other} ", size=SMALL, color=SOFT, ha="center", va="center",
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.5})  # fmt: skip


def _word(
    ax: Axes, x: float, y: float, words: str, size: float = SMALL, *, weight: str = "normal", colour: str = INK,
    gid: str = "",
) -> None:  # fmt: skip
    ax.text(x, y, words, size=size, weight=weight, color=colour, va="baseline", gid=gid or None)
