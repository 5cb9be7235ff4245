"""The sheets of the templates, drawn: true size, register marks, check bars, the part and its words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from linkage.answers import Answer
from linkage.paper.lines import fixed
from linkage.paper.outlines import Outline, arcs
from linkage.paper.plates import Mark, Pattern, Plate
from linkage.paper.practice import Practice
from linkage.paper.sheet import Figures
from linkage.paper.sheet_pages import Paper, pages
from linkage.paper.templates import BARS, INSET, MARGIN, Template, Tile, drill_list, hole_rows, tiles
from linkage.parts import SIGN, Linkage
from linkage.plots import labels, style
from linkage.plots.style import INK, SMALL, SOFT

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.path import Path

_MM = 72.0 / 25.4  # [pt]
_CUT, _THIN, _BAR = 0.8, 0.4, 1.0  # widths of lines [pt]
_CROSS = 4.0  # half of a register mark's arms [mm]
_CENTRE = (0, (9.0, 2.0, 1.5, 2.0))
_ROWS = 14


def sheets(
    answer: Answer, listed: Sequence[Template], practice: Practice, *, paper: Paper = "a4", date: str = ""
) -> list[Figure]:
    """The pages: the list of parts and holes, then every part at true size.

    Parameters
    ----------
    answer : Answer
    listed : sequence of Template
    practice : Practice
    paper : str
        ``"a4"`` or ``"letter"``.
    date : str

    Returns
    -------
    list of matplotlib Figure
        The templates are drawn at true size [mm].
    """
    first = pages(drill_list(answer, listed, practice, paper=paper, date=date), paper)
    rig = answer.run.rig
    told = Figures(rig.units, fractions=practice.fractions)
    return [
        *first,
        *(page(template, tile, rig, told, date=date) for template in listed for tile in tiles(template, paper)),
    ]


def page(template: Template, tile: Tile, rig: Linkage, told: Figures, *, date: str = "") -> Figure:
    """Draw one sheet of a part at true size.

    Parameters
    ----------
    template : Template
    tile : Tile
        The page [mm] and what lies on it.
    rig : Linkage
        For the title.
    told : Figures
        How lengths are written.
    date : str

    Returns
    -------
    matplotlib Figure
    """
    wide, high = tile.page
    figure = style.figure(wide / 25.4, high / 25.4)
    with style.look({"pdf.fonttype": 42}):
        ax: Axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        ax.set_axis_off()
        ax.set(xlim=(0.0, wide), ylim=(0.0, high))
        _head(ax, template, tile, rig, told, date)
        _check_bars(ax, tile)
        _register(ax, tile, told)
        if isinstance(template.part, Plate):
            _plate(ax, template.part, tile, told)
        else:
            _pattern(ax, template.part, tile, told)
    return figure


def curve(around: Outline, tile: Tile) -> Path:
    """A closed outline as a path of the page [mm], its arcs as curves."""
    from matplotlib.path import Path

    points = [tile.on_page(*around[0][:2])]
    codes: list[Any] = [Path.MOVETO]
    for _, end, arc in arcs(around):
        if arc is None:
            points.append(tile.on_page(*end[:2]))
            codes.append(Path.LINETO)
            continue
        first, last = math.degrees(arc.start), math.degrees(arc.start + arc.sweep)
        piece = Path.arc(min(first, last), max(first, last))
        steps = np.asarray(piece.vertices, float)[:: 1 if arc.sweep > 0.0 else -1]
        points += [
            tile.on_page(arc.centre[0] + arc.radius * float(x), arc.centre[1] + arc.radius * float(y))
            for x, y in steps[1:]
        ]
        codes += [Path.CURVE4] * (len(steps) - 1)
    return Path([*points, points[0]], [*codes, Path.CLOSEPOLY])


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
    for i, (name, x, y, diameter) in enumerate(rows[:_ROWS]):
        at = top - 17.2 - 4.4 * i
        if i == _ROWS - 1 and len(rows) > _ROWS:
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


def _plate(ax: Axes, part: Plate, tile: Tile, told: Figures) -> None:
    from matplotlib.patches import PathPatch

    inside = _window(ax, tile)
    patch = PathPatch(
        curve(part.around, tile), facecolor="none", edgecolor=INK, linewidth=_CUT, gid="outline", zorder=3
    )
    ax.add_patch(patch)
    patch.set_clip_path(inside)
    _hole(ax, tile, 0.0, 0.0, part.hub, inside)
    _label(ax, tile, 0.0, 0.0, part.free, 0.5 * part.hub + part.edge, f"pivot ⌀ {told.bare(part.hub)}")
    for hole in part.holes:
        _hole(ax, tile, hole.x, hole.y, hole.diameter, inside)
        _line(ax, tile, (0.0, 0.0), (hole.x, hole.y), inside)
        out = math.atan2(hole.y, hole.x)
        says = f"{hole.name} ⌀ {told.bare(hole.diameter)}\nradius {told.bare(hole.radius)}, {fixed(hole.angle)}°"
        _label(ax, tile, hole.x, hole.y, out, 0.5 * hole.diameter + part.edge, says)
    _turn(ax, part, tile)


def _turn(ax: Axes, part: Plate, tile: Tile) -> None:
    """An arrow in the way the part opens, round its pivot on the side without arms."""
    radius = 0.5 * part.hub + 0.55 * part.edge
    turn = np.linspace(part.free - 0.6, part.free + 0.6, 30)[:: int(SIGN[part.opens])]
    points = np.array([tile.on_page(radius * math.cos(t), radius * math.sin(t)) for t in turn])
    ax.plot(*points.T, color=SOFT, linewidth=0.8, zorder=2)
    arrow = {"arrowstyle": "-|>", "color": SOFT, "linewidth": 0.8, "shrinkA": 0, "shrinkB": 0, "mutation_scale": 6}
    ax.annotate("", xy=points[-1], xytext=points[-4], arrowprops=arrow, zorder=2)


def _pattern(ax: Axes, part: Pattern, tile: Tile, told: Figures) -> None:
    inside = _window(ax, tile)
    left, bottom, right, top = tile.cell
    x, y = tile.on_page(0.0, 0.0)
    for points in (([x, x], [bottom, top]), ([left, right], [y, y])):
        (line,) = ax.plot(*points, color=SOFT, linewidth=_THIN, linestyle=_CENTRE, zorder=0.6)
        line.set_clip_path(inside)
    for mark in part.marks:
        _hole(ax, tile, mark.x, mark.y, mark.diameter, inside)
        at = tile.on_page(mark.x, mark.y)
        if left - INSET <= at[0] <= right + INSET and bottom - INSET <= at[1] <= top + INSET:
            _mark_label(ax, tile, mark, at, told)


def _mark_label(ax: Axes, tile: Tile, mark: Mark, at: tuple[float, float], told: Figures) -> None:
    """The words of a mark, on the side where the sheet has room."""
    right = at[0] < 0.5 * (tile.cell[0] + tile.cell[2])
    reach = 0.5 * (mark.diameter or 4.0) + 2.0
    size = "" if mark.diameter is None else f" ⌀ {told.bare(mark.diameter)}"
    words = f"{mark.name}{size}\n{told.bare(mark.x)}, {told.bare(mark.y)}"
    ax.text(
        at[0] + (reach if right else -reach), at[1] + 1.2, words, size=SMALL, color=INK, va="bottom",
        ha="left" if right else "right", linespacing=1.15, gid="label",
    )  # fmt: skip


def _hole(ax: Axes, tile: Tile, x: float, y: float, diameter: float | None, inside: Any) -> None:
    from matplotlib.patches import Circle

    at = tile.on_page(x, y)
    reach = 3.0 if diameter is None else 0.5 * diameter + 2.0
    if diameter is not None:
        circle = Circle(at, 0.5 * diameter, fill=False, edgecolor=INK, linewidth=_CUT, zorder=3, gid="hole")
        ax.add_patch(circle)
        circle.set_clip_path(inside)
    for dx, dy in ((reach, 0.0), (0.0, reach)):
        (line,) = ax.plot(
            [at[0] - dx, at[0] + dx], [at[1] - dy, at[1] + dy], color=INK, linewidth=_THIN, zorder=3, gid="centre",
            solid_capstyle="butt",
        )  # fmt: skip
        line.set_clip_path(inside)


def _line(ax: Axes, tile: Tile, start: tuple[float, float], end: tuple[float, float], inside: Any) -> None:
    ends = np.array([tile.on_page(*start), tile.on_page(*end)])
    (line,) = ax.plot(*ends.T, color=SOFT, linewidth=_THIN, linestyle=_CENTRE, zorder=1)
    line.set_clip_path(inside)


def _label(ax: Axes, tile: Tile, x: float, y: float, out: float, reach: float, words: str) -> None:
    """Words beyond a boss, away from the pivot."""
    px, py = tile.on_page(x, y)
    c, s = math.cos(out), math.sin(out)
    ax.text(
        px + (reach + 2.0) * c, py + (reach + 2.0) * s, words, size=SMALL, color=INK, linespacing=1.15, gid="label",
        ha="left" if c > 0.35 else "right" if c < -0.35 else "center",
        va="bottom" if s > 0.35 else "top" if s < -0.35 else "center",
    )  # fmt: skip


def _window(ax: Axes, tile: Tile) -> Any:
    """The drawing's own part of the page, which its lines do not leave."""
    from matplotlib.patches import Rectangle

    left, bottom, right, top = tile.cell
    window = Rectangle(
        (left - INSET, bottom - INSET), right - left + 2.0 * INSET, top - bottom + 2.0 * INSET,
        facecolor="none", edgecolor="none",
    )  # fmt: skip
    ax.add_patch(window)
    return window


def _word(
    ax: Axes, x: float, y: float, words: str, size: float = SMALL, *, weight: str = "normal", colour: str = INK,
    gid: str = "",
) -> None:  # fmt: skip
    ax.text(x, y, words, size=size, weight=weight, color=colour, va="baseline", gid=gid or None)
