"""A sketch of every throttle shaft at idle: its bore, its plate, its levers, and the angle between them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from linkage.motion import Motion
from linkage.paper.bench_levers import from_plate, plate_line
from linkage.paper.plates import Plate, plates
from linkage.paper.practice import Practice
from linkage.paper.sheet import Picture
from linkage.parts import SIGN, Shaft
from linkage.plots.style import BODY, FAINT, INK, PALETTE, PLAIN, SMALL, SOFT

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_ROW = 55.0  # height of a row of sketches [mm]
_MOST = 4  # sketches beside each other
_REACH = 19.0  # length of the longest lever of a sketch [mm]
_BORE = 12.0  # half width of a bore without a size [mm]


def sketches(run: Motion, practice: Practice) -> Picture | None:
    """Every shaft that has levers, seen with its axis towards you; None where there is none."""
    found: dict[str, list[Plate]] = {}
    for plate in plates(run.train, practice):
        if isinstance(run.rig.members[plate.member], Shaft) and plate.holes:
            found.setdefault(plate.member, []).append(plate)
    if not found:
        return None
    rows = math.ceil(len(found) / _MOST)

    def draw(ax: Axes) -> None:
        box = ax.get_window_extent()
        per_mm = ax.figure.dpi / 25.4
        wide, high = float(box.width) / per_mm, float(box.height) / per_mm
        ax.set_axis_off()
        ax.set(xlim=(0.0, wide), ylim=(0.0, high))
        across = min(len(found), _MOST)
        for i, (name, listed) in enumerate(found.items()):
            middle = (wide * (i % across + 0.5) / across, high - _ROW * (i // across) - 0.43 * _ROW)
            _sketch(ax, run, name, listed, practice, middle)

    return Picture(_ROW * rows, draw)


def _sketch(ax: Axes, run: Motion, name: str, listed: list[Plate], practice: Practice, at: tuple[float, float]) -> None:
    from matplotlib.patches import Circle

    shaft = run.rig.shaft[name]
    holes = [hole for plate in listed for hole in plate.holes]
    idle = run.at(run.ends[0])
    turned = float(idle.member_turn[name][0])
    longest = max(hole.radius for hole in holes)
    scale = _REACH / longest
    half = min(0.5 * shaft.bore * scale if shaft.bore else _BORE, 20.0)
    line = plate_line(shaft, float(idle.plate_angle[name][0]), practice)
    _bore(ax, at, practice.bore_direction(name), half)
    _ray(ax, at, line, half, width=3.0, colour=INK)
    _ray(ax, at, line + 180.0, half, width=3.0, colour=INK)
    for hole in holes:
        angle = hole.angle + turned
        tip = _ray(ax, at, angle, hole.radius * scale, width=2.2, colour=PALETTE[0], dashes=(0, (4, 1.4)))
        ax.add_patch(Circle(tip, 1.3, facecolor="white", edgecolor=PALETTE[0], linewidth=1.3, zorder=5))
    hole = max(holes, key=lambda h: bool(h.carries) * 1000.0 + h.radius)
    _angle(ax, at, line, hole.angle + turned, 0.62 * hole.radius * scale)
    ax.add_patch(Circle(at, 1.6, facecolor=INK, edgecolor="white", linewidth=0.6, zorder=6))
    _opening(ax, at, SIGN[shaft.opens])
    told = f"opens {shaft.opens}" + (f", angle to {hole.name}" if len(holes) > 1 else "")
    ax.text(at[0], at[1] - 0.5 * _ROW, name, size=SMALL, weight="bold", color=INK, ha="center", va="bottom")
    ax.text(at[0], at[1] - 0.51 * _ROW, told, size=SMALL, color=SOFT, ha="center", va="top")


def _bore(ax: Axes, at: tuple[float, float], direction: float, half: float) -> None:
    from matplotlib.patches import Polygon

    along = np.array([math.cos(math.radians(direction)), math.sin(math.radians(direction))])
    side = np.array([-along[1], along[0]])
    corners = [np.array(at) + half * s * side + 20.0 * a * along for s, a in ((1, 1), (1, -1), (-1, -1), (-1, 1))]
    ax.add_patch(Polygon(corners, facecolor=BODY, edgecolor="none", zorder=0.5))
    for first, last in ((0, 1), (2, 3)):
        ax.plot(*np.array([corners[first], corners[last]]).T, color=FAINT, linewidth=1.2, zorder=0.8)


def _ray(
    ax: Axes, at: tuple[float, float], angle: float, size: float, *, width: float, colour: str, dashes: object = "-"
) -> tuple[float, float]:
    tip = (at[0] + size * math.cos(math.radians(angle)), at[1] + size * math.sin(math.radians(angle)))
    ax.plot(
        [at[0], tip[0]],
        [at[1], tip[1]],
        color=colour,
        linewidth=width,
        linestyle=dashes,
        solid_capstyle="butt",
        zorder=3,
    )
    return tip


def _angle(ax: Axes, at: tuple[float, float], line: float, lever: float, radius: float) -> None:
    """An arc from the plate's line ccw to the lever, from that end of the plate that makes it least."""
    sweep = from_plate(lever, line)
    start = lever - sweep
    turn = np.radians(np.linspace(start, lever, 40))
    ax.plot(at[0] + radius * np.cos(turn), at[1] + radius * np.sin(turn), color=SOFT, linewidth=0.9, zorder=4)
    tip = turn[-1]
    ax.annotate(
        "", xy=(at[0] + radius * math.cos(tip), at[1] + radius * math.sin(tip)),
        xytext=(at[0] + radius * math.cos(turn[-4]), at[1] + radius * math.sin(turn[-4])),
        arrowprops={"arrowstyle": "-|>", "color": SOFT, "linewidth": 0.9, "shrinkA": 0, "shrinkB": 0,
                    "mutation_scale": 6},
        zorder=4,
    )  # fmt: skip
    middle = math.radians(start + 0.5 * sweep)
    away = radius + 4.0
    ax.text(
        at[0] + away * math.cos(middle), at[1] + away * math.sin(middle), f"{sweep:.1f}°", size=PLAIN, weight="bold",
        color=INK, ha="center", va="center", zorder=7,
        bbox={"boxstyle": "round,pad=0.1", "facecolor": "white", "edgecolor": "none", "alpha": 0.85},
    )  # fmt: skip


def _opening(ax: Axes, at: tuple[float, float], sense: float) -> None:
    """An arrow in the way the shaft opens, about its centre."""
    turn = np.radians(np.linspace(250.0, 290.0, 20))[:: int(sense)]
    x, y = at[0] + 22.5 * np.cos(turn), at[1] + 22.5 * np.sin(turn)
    ax.plot(x, y, color=PALETTE[1], linewidth=1.4, zorder=4)
    ax.annotate(
        "", xy=(x[-1], y[-1]), xytext=(x[-4], y[-4]),
        arrowprops={"arrowstyle": "-|>", "color": PALETTE[1], "linewidth": 1.4, "shrinkA": 0, "shrinkB": 0,
                    "mutation_scale": 9},
        zorder=4,
    )  # fmt: skip
