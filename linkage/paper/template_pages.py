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
from linkage.paper.snail_plate import SnailPlate
from linkage.paper.template_frame import framed
from linkage.paper.templates import INSET, Template, Tile, drill_list, tiles
from linkage.parts import SIGN, Linkage
from linkage.plots import style
from linkage.plots.style import INK, SMALL, SOFT

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.path import Path

_CUT, _THIN = 0.8, 0.4  # widths of lines [pt]
_CENTRE = (0, (9.0, 2.0, 1.5, 2.0))


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
        framed(ax, template, tile, rig, told, date)
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


def _plate(ax: Axes, part: Plate, tile: Tile, told: Figures) -> None:
    from matplotlib.patches import PathPatch

    inside = _window(ax, tile)
    patch = PathPatch(
        curve(part.around, tile), facecolor="none", edgecolor=INK, linewidth=_CUT, gid="outline", zorder=3
    )
    ax.add_patch(patch)
    patch.set_clip_path(inside)
    if isinstance(part, SnailPlate):
        _groove(ax, part, tile, inside)
    _hole(ax, tile, 0.0, 0.0, part.hub, inside)
    _label(ax, tile, 0.0, 0.0, part.free, 0.5 * part.hub + part.edge, f"pivot ⌀ {told.bare(part.hub)}")
    for hole in part.holes:
        _hole(ax, tile, hole.x, hole.y, hole.diameter, inside)
        _line(ax, tile, (0.0, 0.0), (hole.x, hole.y), inside)
        out = math.atan2(hole.y, hole.x)
        says = f"{hole.name} ⌀ {told.bare(hole.diameter)}\nradius {told.bare(hole.radius)}, {fixed(hole.angle)}°"
        _label(ax, tile, hole.x, hole.y, out, 0.5 * hole.diameter + part.edge, says)
    _turn(ax, part, tile)


def _groove(ax: Axes, part: SnailPlate, tile: Tile, inside: Any) -> None:
    """The bottom of the groove, from where the cable leaves at idle to its anchor."""
    points = np.array([tile.on_page(x, y) for x, y in part.bottom])
    (line,) = ax.plot(*points.T, color=INK, linewidth=_THIN, linestyle=(0, (6, 2)), zorder=3, gid="groove")
    line.set_clip_path(inside)
    x, y = part.bottom[len(part.bottom) // 2]
    at = tile.on_page(0.62 * x, 0.62 * y)
    ax.text(*at, "bottom of\nthe groove", size=SMALL, color=INK, ha="center", va="center", gid="label")


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
