"""The signs of the drawing: levers, links, pivots, bores, cable, springs, arrows.

Each takes the :class:`~linkage.plots.labels.Board` of its page, draws on its axes in data
coordinates and notes on the board what it drew, so that words keep clear of it. Sizes that are not
the design's own (eyes, pivots, arrow heads) are in points of the page.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from linkage.plots.labels import Board
from linkage.plots.style import BODY, FAINT, INK, PAPER, SOFT

Floats = NDArray[np.float64]

HUB, EYE = 6.0, 3.4  # radii of a lever at its pivot and at its pin [pt]


class Stroke(NamedTuple):
    """How one position is drawn: the last of a picture solid, the others as ghosts."""

    solid: bool
    dashes: Any
    width: float
    pale: float  # share of white mixed into the colour
    weight: float  # how dear it is to write on


def strokes(count: int) -> list[Stroke]:
    """A stroke for each of ``count`` positions: first dashed, last solid, those between dotted."""
    first = Stroke(False, (0, (4.5, 2.6)), 1.0, 0.25, 0.8)
    between = Stroke(False, (0, (1.1, 1.8)), 1.1, 0.25, 0.6)
    last = Stroke(True, "-", 2.2, 0.0, 3.0)
    return [*([first] + [between] * (count - 2) if count > 1 else []), last]


def paler(colour: str, share: float) -> str:
    """A colour with a share of white mixed in."""
    from matplotlib.colors import to_hex, to_rgb

    red, green, blue = (c + share * (1.0 - c) for c in to_rgb(colour))
    return to_hex((red, green, blue))


def polyline(board: Board, points: Floats, *, weight: float, gid: str = "", **look: Any) -> None:
    """A line through points (n, 2)."""
    look = {"scalex": False, "scaley": False, "solid_capstyle": "round", **look}
    (line,) = board.ax.plot(points[:, 0], points[:, 1], **look)
    if gid:
        line.set_gid(gid)
    board.drawn(points, weight)


def lever(board: Board, hub: Floats, pin: Floats, colour: str, stroke: Stroke, gid: str) -> None:
    """An arm of a member: a tapered plate where solid, its centre line in a ghost."""
    from matplotlib.patches import Polygon

    ends = np.stack([hub, pin])
    if not stroke.solid:
        polyline(
            board, ends, weight=stroke.weight, gid=gid,
            color=paler(colour, stroke.pale), linestyle=stroke.dashes, linewidth=stroke.width, zorder=2.4,
        )  # fmt: skip
        return
    a, b = board.on_page(hub), board.on_page(pin)
    run = float(np.hypot(*(b - a)))
    hub_radius, pin_radius = HUB * board.zoom, (EYE + 1.0) * board.zoom
    lean = math.acos((hub_radius - pin_radius) / run) if run > hub_radius else 0.5 * math.pi
    along = math.atan2(b[1] - a[1], b[0] - a[0])
    back, front = np.linspace(lean, 2.0 * math.pi - lean, 24), np.linspace(-lean, lean, 12)
    outline = np.concatenate(
        [
            a + hub_radius * np.column_stack([np.cos(along + back), np.sin(along + back)]),
            b + pin_radius * np.column_stack([np.cos(along + front), np.sin(along + front)]),
        ]
    )
    board.ax.add_patch(
        Polygon(
            board.data(outline), facecolor=paler(colour, 0.72), edgecolor=colour,
            linewidth=1.2, joinstyle="round", zorder=3.0, gid=gid,
        )
    )  # fmt: skip
    board.drawn(ends, stroke.weight)
    board.drawn(board.data(outline), 1.5)


def link(board: Board, ends: Floats, stroke: Stroke, gid: str) -> None:
    """A rod-end link (2, 2): a tube with an eye at either end."""
    line = {"color": INK if stroke.solid else SOFT, "linestyle": stroke.dashes, "zorder": 3.6 if stroke.solid else 2.5}
    width = stroke.width if stroke.solid else stroke.width - 0.1
    polyline(board, ends, weight=stroke.weight, gid=gid, linewidth=width, **line)
    size = (2.0 * EYE if stroke.solid else EYE) * board.zoom
    board.ax.plot(
        ends[:, 0], ends[:, 1], linestyle="none", marker="o", markersize=size,
        markerfacecolor=PAPER, markeredgecolor=line["color"], markeredgewidth=1.2 if stroke.solid else 0.7,
        zorder=4.0 if stroke.solid else 2.6, scalex=False, scaley=False, gid=f"{gid}.eyes",
    )  # fmt: skip
    if stroke.solid:
        for end in ends:
            board.spot(end, (EYE + 1.0) * board.zoom)


def slot(board: Board, ends: Floats, stroke: Stroke, gid: str) -> None:
    """The slot of a link (2, 2), from where its pin stands at one end to where it stands at the other."""
    colour, wide = INK if stroke.solid else SOFT, (3.2 if stroke.solid else 2.4) * EYE * board.zoom
    for size, look in ((wide, colour), (wide - (2.4 if stroke.solid else 1.4), PAPER)):
        polyline(
            board, ends, weight=stroke.weight, gid=gid, color=look, linewidth=size,
            zorder=3.7 if stroke.solid else 2.55,
        )  # fmt: skip


def tang(board: Board, at: Floats, dog: float, tang: float, colours: tuple[str, str], stroke: Stroke, gid: str) -> None:
    """A pick-up tang seen end-on: the ``dog`` of what drives and the ``tang`` of what is driven, angles [rad]."""
    near, far = 9.0 * board.zoom * board.point, 15.0 * board.zoom * board.point
    for angle, colour, name in ((dog, colours[0], "dog"), (tang, colours[1], "tang")):
        way = np.array([math.cos(angle), math.sin(angle)])
        polyline(
            board, np.stack([at + near * way, at + far * way]), weight=stroke.weight, gid=f"{gid}.{name}",
            color=colour if stroke.solid else paler(colour, stroke.pale), linewidth=3.4 if stroke.solid else 1.4,
            linestyle=stroke.dashes if not stroke.solid else "-", zorder=4.55, solid_capstyle="butt",
        )  # fmt: skip


def guide(board: Board, rails: Floats) -> None:
    """The guide of a block that slides (2, 2, 2): two rails, hatched on their far sides."""
    middle = board.on_page(rails.reshape(-1, 2)).mean(axis=0)
    for rail in rails:
        polyline(board, rail, weight=1.0, color=SOFT, linewidth=1.3, zorder=1.9, solid_capstyle="butt")
        a, b = board.on_page(rail)
        run = float(np.hypot(*(b - a)))
        if run < 1.0:
            continue
        way = (b - a) / run
        out = np.array([-way[1], way[0]])
        out *= math.copysign(1.0, float(out @ (a - middle)))
        size = 4.0 * board.zoom
        for along in np.arange(0.6 * size, run, 1.2 * size):
            foot = a + along * way
            hatch = board.data(np.stack([foot, foot + size * (out - 0.7 * way)]))
            polyline(board, hatch, weight=0.2, color=SOFT, linewidth=0.7, zorder=1.8)


def block(board: Board, corners: Floats, colour: str, stroke: Stroke, gid: str) -> None:
    """A block on its guide (4, 2): filled where solid, its outline in a ghost."""
    from matplotlib.patches import Polygon

    look: dict[str, Any] = {"facecolor": paler(colour, 0.72), "edgecolor": colour, "linewidth": 1.2, "zorder": 3.0}
    if not stroke.solid:
        look |= {"facecolor": "none", "edgecolor": paler(colour, stroke.pale), "linewidth": stroke.width, "zorder": 2.4}
    board.ax.add_patch(Polygon(corners, linestyle=stroke.dashes, joinstyle="round", gid=gid, **look))
    board.drawn(np.concatenate([corners, corners[:1]]), stroke.weight)


def pivot(board: Board, at: Floats, colour: str, *, bearing: bool, ground: float | None) -> None:
    """A fixed axis seen end-on: a shaft, or a ball bearing; ``ground`` [rad] is where its sign hangs."""
    if ground is not None:
        _ground(board, at, ground, 28.0 * board.zoom)
    dot: dict[str, Any] = {
        "linestyle": "none",
        "scalex": False,
        "scaley": False,
        "marker": "o",
        "markeredgecolor": colour,
    }
    if bearing:
        board.ax.plot(*at, markersize=10.5 * board.zoom, markerfacecolor=PAPER, markeredgewidth=1.3, zorder=4.4, **dot)
        board.ax.plot(*at, markersize=4.5 * board.zoom, markerfacecolor=colour, zorder=4.5, **dot)
    else:
        board.ax.plot(*at, markersize=8.0 * board.zoom, markerfacecolor=colour, zorder=4.4, **dot)
        dot |= {"marker": "+", "markeredgecolor": PAPER}
        board.ax.plot(*at, markersize=5.0 * board.zoom, markeredgewidth=0.9, zorder=4.5, **dot)
    board.spot(at, 7.0 * board.zoom)


def anchor(board: Board, at: Floats) -> None:
    """A fixed point that a spring hangs on."""
    _ground(board, at, -0.5 * math.pi, 20.0 * board.zoom)
    board.ax.plot(
        *at,
        linestyle="none",
        marker="o",
        markersize=4.0 * board.zoom,
        color=SOFT,
        zorder=4.4,
        scalex=False,
        scaley=False,
    )
    board.spot(at, 5.0 * board.zoom)


def _ground(board: Board, at: Floats, towards: float, size: float) -> None:
    """The sign for a fixed point: a triangle on a hatched line, hanging ``towards`` an angle [rad]."""
    from matplotlib.path import Path

    rows = [(0, 0), (-0.62, -0.9), (0.62, -0.9), (0, 0), (-0.95, -0.9), (0.95, -0.9)]
    hatch = [(x - d, -0.9 - d) for x in (-0.75, -0.25, 0.25, 0.75) for d in (0.0, 0.25)]
    turn = towards + 0.5 * math.pi
    points = np.array([*rows, *hatch], float) @ np.array(
        [[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]]
    )
    longest = float(np.max(np.abs(points)))  # a marker is scaled by its furthest coordinate
    board.ax.plot(
        *at, linestyle="none", marker=Path(points, [1, 2, 2, 2, 1, 2, *([1, 2] * 4)]), markersize=size * longest / 1.15,
        markerfacecolor="none", markeredgecolor=SOFT, markeredgewidth=0.9, zorder=2.8, scalex=False, scaley=False,
    )  # fmt: skip
    base = board.on_page(at) + points[[4, 5]] * (0.5 * size / 1.15)
    board.pieces.append(np.array([[*base[0], *base[1]], [*board.on_page(at), *base.mean(axis=0)]]))
    board.weights.append(np.full(2, 2.0))


def bore(board: Board, corners: Floats) -> None:
    """A bore in section (4, 2): two walls, the body within tinted."""
    board.ax.fill(*corners.T, facecolor=BODY, edgecolor="none", zorder=0.6)
    for wall in (corners[:2], corners[2:]):
        polyline(board, wall, weight=1.0, color=SOFT, linewidth=1.6, zorder=0.8, solid_capstyle="butt")


def plate(board: Board, ends: Floats, stroke: Stroke, gid: str) -> None:
    """A throttle plate seen edge-on (2, 2)."""
    polyline(
        board, ends, weight=stroke.weight, gid=gid, color=INK if stroke.solid else SOFT, linestyle=stroke.dashes,
        linewidth=2.8 if stroke.solid else stroke.width + 0.3, zorder=2.9 if stroke.solid else 2.3,
        solid_capstyle="butt",
    )  # fmt: skip


def arrow(board: Board, points: Floats, colour: str, *, width: float = 1.1, head: float = 9.0) -> None:
    """A line through points (n, 2) with a head at its end."""
    if len(points) > 2:
        polyline(board, points[:-1], weight=0.5, color=colour, linewidth=width, zorder=4.6, solid_capstyle="butt")
    board.ax.annotate(
        "", xy=points[-1], xytext=points[-2], zorder=4.6,
        arrowprops={
            "arrowstyle": "-|>", "color": colour, "linewidth": width, "shrinkA": 0, "shrinkB": 0,
            "mutation_scale": head,
        },
    )  # fmt: skip
    board.drawn(points, 0.8)


def arc(centre: Floats, radius: float, start: float, turn: float) -> Floats:
    """Points (n, 2) along an arc from angle ``start`` through ``turn`` [rad]."""
    angles = start + turn * np.linspace(0.0, 1.0, 33)
    return np.asarray(centre + radius * np.column_stack([np.cos(angles), np.sin(angles)]))


def zigzag(board: Board, start: Floats, end: Floats, gid: str) -> None:
    """An extension spring between two points."""
    a, b = board.on_page(start), board.on_page(end)
    run = float(np.hypot(*(b - a)))
    if run < 1.0:
        return
    unit = (b - a) / run
    side = np.array([-unit[1], unit[0]])
    hook = min(9.0, 0.2 * run)
    count = max(4, int((run - 2.0 * hook) / 4.0))
    steps = np.linspace(hook, run - hook, count + 1)
    swing = np.where(np.arange(count + 1) % 2, 3.6, -3.6)
    swing[[0, -1]] = 0.0
    coils = a + steps[:, None] * unit + swing[:, None] * side
    points = board.data(np.vstack([a, coils, b]))
    polyline(board, points, weight=0.6, gid=gid, color=SOFT, linewidth=1.1, zorder=3.4)


def inner_cable(board: Board, ends: Floats, stroke: Stroke, gid: str) -> None:
    """The run of the inner cable (2, 2), from where it pulls to its casing."""
    polyline(
        board, ends, weight=1.2 if stroke.solid else 0.5, gid=gid, zorder=3.2, linestyle=stroke.dashes,
        color=INK if stroke.solid else SOFT, linewidth=1.2 if stroke.solid else 0.8,
    )  # fmt: skip


def casing(board: Board, pulled: Floats, end: Floats, axis: Floats | None, *, cut: bool) -> None:
    """The casing end of a cable that runs from ``pulled``, with an arrow for the pull.

    The casing lies along ``axis``, or in line with the cable; ``cut`` shows a break instead.
    """
    at, from_ = board.on_page(end), board.on_page(pulled)
    run = float(np.hypot(*(at - from_)))
    if run < 1.0:
        return
    way = (at - from_) / run
    reach = min(34.0, 0.8 * run)
    if reach > 12.0:
        shaft = board.data(np.stack([at - reach * way, at - 0.4 * reach * way]))
        arrow(board, shaft, INK, width=1.6, head=4.0 + 0.26 * reach)
    side = np.array([-way[1], way[0]])
    if cut:
        for shift in (0.0, 4.0):
            wave = [at + (shift + 2.0 * math.sin(0.5 * math.pi * k)) * way + 3.0 * (k - 2.0) * side for k in range(5)]
            polyline(board, board.data(np.array(wave)), weight=1.0, color=INK, linewidth=0.9, zorder=3.8)
        return
    if axis is not None and (size := float(np.hypot(*axis))) > 0.2:
        way = axis / size * math.copysign(1.0, float(axis @ way))
        side = np.array([-way[1], way[0]])
    for shift in (-2.6, 2.6):
        wall = np.stack([at + shift * side, at + shift * side + 30.0 * board.zoom * way])
        polyline(board, board.data(wall), weight=1.5, color=INK, linewidth=1.0, zorder=3.5)
    bar = np.stack([at - 5.5 * side, at + 5.5 * side])
    polyline(board, board.data(bar), weight=1.5, color=INK, linewidth=2.4, zorder=3.6, solid_capstyle="butt")


def quadrant(board: Board, rim: Floats, gid: str) -> None:
    """The rim of a cable quadrant (n, 2)."""
    polyline(board, rim, weight=0.6, gid=gid, color=INK, linewidth=1.0, zorder=2.0)


def pitch_circle(board: Board, rim: Floats) -> None:
    """A pitch circle of meshing sectors (n, 2)."""
    polyline(board, rim, weight=0.5, color=SOFT, linewidth=0.9, linestyle=(0, (9, 2, 2, 2)), zorder=2.0)


def rod(board: Board, points: Floats, colour: str) -> None:
    """A fixed axis seen from the side (2, 2): a rod with its centre line running past both ends."""
    a, b = board.on_page(points)
    run = float(np.hypot(*(b - a)))
    unit = (b - a) / run if run > 1e-6 else np.array([1.0, 0.0])
    rod = board.data(np.stack([a - 7.0 * unit, b + 7.0 * unit]))
    body: dict[str, Any] = {"color": paler(colour, 0.55), "linewidth": 4.2 * board.zoom, "solid_capstyle": "butt"}
    polyline(board, rod, weight=0.9, zorder=2.0, **body)
    chain = board.data(np.stack([a - 16.0 * unit, b + 16.0 * unit]))
    polyline(board, chain, weight=0.3, color=colour, linestyle=(0, (9, 2, 2, 2)), linewidth=0.8, zorder=2.1)


def joined(board: Board, ends: Floats) -> None:
    """A coupling between two shafts in line (2, 2)."""
    polyline(board, ends, weight=0.6, color=FAINT, linewidth=2.4, linestyle=(0, (1.5, 1.0)), zorder=1.8)


def path(board: Board, points: Floats, gid: str) -> None:
    """The way a pin takes through the travel (n, 2)."""
    polyline(board, points, weight=0.4, gid=gid, color=FAINT, linewidth=1.6, zorder=1.5)
