"""The page of a drawing: its scale, heading, key, scale bar, frame and notes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from linkage.plots import labels as words
from linkage.plots.labels import Board
from linkage.plots.style import HEAD, INK, PAPER, PLAIN, SMALL, SOFT, figure_of
from linkage.plots.symbols import Stroke
from linkage.plots.views import View

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.legend import Legend

Floats = NDArray[np.float64]

_LINE = 1.25  # leading, in sizes of letter
_BAR = 33.0  # [pt] height of the strip with the scale bar and the frame

#: left free for labels beside and above the linkage [pt]
MARGIN = (62.0, 26.0)


def height_for(content: Floats, width: float) -> float:
    """Height [in] of a figure ``width`` wide that a drawing of ``content`` (n, 2) fills."""
    span = np.ptp(content, axis=0)
    wide = 72.0 * width - 2.0 * MARGIN[0] - 16.0
    high = wide * float(span[1]) / max(float(span[0]), 1e-9) + 2.0 * MARGIN[1] + 96.0
    return float(np.clip(high / 72.0, 3.6, 0.72 * width))


def lay_out(
    ax: Axes,
    content: Floats,
    *,
    heading: str,
    key: Sequence[tuple[str, Stroke]],
    notes: str,
    view: View,
    unit: str,
    margin: tuple[float, float],
) -> Board:
    """Scale the axes so that ``content`` (n, 2) stands clear of heading, key, bar and notes.

    ``margin`` [pt] is left free for labels beside and above the content.
    """
    ax.set_axis_off()
    ax.set_aspect("auto")  # an equal aspect may have shrunk the box
    ax.apply_aspect()
    wide, high = size_of(ax)
    lines = words.wrapped(ax, heading, HEAD, wide - 8.0, "bold", lines=2)
    ax.text(
        4.0 / wide, 1.0 - 3.0 / high, lines,
        transform=ax.transAxes, size=HEAD, weight="bold", va="top", linespacing=_LINE, gid=f"{view.name}.heading",
    )  # fmt: skip
    top = 6.0 + HEAD * _LINE * (lines.count("\n") + 1)
    legend = _key(ax, key, top / high)
    top += 17.0 if legend is not None else 2.0
    told = notes if high > 260.0 else notes.partition(". ")[0].rstrip(".") + "." * bool(notes)
    small = words.wrapped(ax, told, SMALL, wide - 8.0)
    ax.text(
        4.0 / wide, 3.0 / high, small,
        transform=ax.transAxes, size=SMALL, color=SOFT, va="bottom", linespacing=_LINE, gid=f"{view.name}.notes",
    )  # fmt: skip
    foot = 5.0 + SMALL * _LINE * (small.count("\n") + 1) if small else 3.0
    room = (2.0, foot + _BAR, wide - 2.0, high - top)
    _fit(ax, content, room, (min(margin[0], 0.16 * wide), min(margin[1], 0.12 * high)))
    board = Board(ax, room)
    _scale_bar(board, view, unit, foot)
    _frame(board, view, foot)
    if legend is not None:
        board.written(legend)
    return board


def filled(ax: Axes, content: Floats) -> Board:
    """Scale axes so that ``content`` (n, 2) fills them, with nothing written beside it."""
    ax.set_axis_off()
    wide, high = size_of(ax)
    room = (2.0, 2.0, wide - 2.0, high - 2.0)
    _fit(ax, content, room, (0.0, 0.0))
    return Board(ax, room)


def size_of(ax: Axes) -> tuple[float, float]:
    """Width and height of the axes' box [pt]."""
    figure = figure_of(ax)
    if figure.get_layout_engine() is not None:
        figure.draw_without_rendering()
    extent = ax.get_window_extent()
    return float(extent.width) * 72.0 / figure.dpi, float(extent.height) * 72.0 / figure.dpi


def inside(ax: Axes) -> tuple[float, float, float, float]:
    """The axes' own box for the words of a curve: left, bottom, right, top [pt]."""
    wide, high = size_of(ax)
    return 3.0, 3.0, wide - 3.0, high - 3.0


def _fit(ax: Axes, content: Floats, room: tuple[float, float, float, float], margin: tuple[float, float]) -> None:
    wide, high = size_of(ax)
    low, top = np.min(content, axis=0), np.max(content, axis=0)
    span = np.maximum(top - low, 1e-6 + 1e-3 * float(np.max(top - low)))
    free = np.array([room[2] - room[0] - 2 * margin[0], room[3] - room[1] - 2 * margin[1]])
    per_point = float(np.max(span / np.maximum(free, 40.0)))  # data units in a point of the page
    middle = 0.5 * (low + top)
    centre = np.array([0.5 * (room[0] + room[2]), 0.5 * (room[1] + room[3])])
    corner = middle - centre * per_point
    ax.set_xlim(corner[0], corner[0] + wide * per_point)
    ax.set_ylim(corner[1], corner[1] + high * per_point)
    ax.set_aspect("equal", adjustable="datalim")
    ax.apply_aspect()


def _key(ax: Axes, key: Sequence[tuple[str, Stroke]], down: float) -> Legend | None:
    from matplotlib.lines import Line2D

    if len(key) < 2:
        return None
    handles = [
        Line2D([], [], color=INK, linestyle=stroke.dashes, linewidth=stroke.width, label=name) for name, stroke in key
    ]
    return ax.legend(
        handles=handles, loc="upper left", bbox_to_anchor=(2.0 / size_of(ax)[0], 1.0 - down), ncols=len(key),
        fontsize=SMALL, borderpad=0.2, borderaxespad=0.0, columnspacing=1.6, handlelength=2.6, frameon=False,
    )  # fmt: skip


def _scale_bar(board: Board, view: View, unit: str, foot: float) -> None:
    """A bar of a round length, about a fifth of the page, with its length written."""
    wide, _ = size_of_page(board)
    per_point = float(np.ptp(board.ax.get_xlim())) / wide
    wish = 0.2 * wide * per_point
    power = 10.0 ** np.floor(np.log10(wish))
    round_length = power * max(step for step in (1.0, 2.0, 5.0, 10.0) if step * power <= wish * 1.0001)
    y = foot + 9.0
    ends = board.data(np.array([[8.0, y], [8.0 + round_length / per_point, y]]))
    board.ax.plot(
        *ends.T, color=INK, linewidth=1.2, marker="|", markersize=8, markeredgewidth=1.2, solid_capstyle="butt",
        scalex=False, scaley=False, gid=f"{view.name}.scale_bar",
    )  # fmt: skip
    x, y = board.data(np.array([[14.0 + round_length / per_point, y]]))[0]
    board.ax.text(x, y, f"{round_length:g} {unit}", size=PLAIN, va="center", gid=f"{view.name}.scale_bar.length")


def _frame(board: Board, view: View, foot: float) -> None:
    """The directions of the design's frame at the lower right corner, the third one a dot in a circle."""
    wide, _ = size_of_page(board)
    across, upward = (-1.0 if name.startswith("-") else 1.0 for name in view.axes[:2])
    origin = np.array([wide - (44.0 if across > 0 else 20.0), foot + (5.0 if upward > 0 else 27.0)])
    for step, name in ((np.array([across, 0.0]), view.axes[0]), (np.array([0.0, upward]), view.axes[1])):
        tip, word = board.data(np.stack([origin + 17.0 * step, origin + 23.0 * step]))
        board.ax.annotate(
            "", xy=tip, xytext=board.data(origin[None])[0],
            arrowprops={
                "arrowstyle": "-|>", "color": SOFT, "linewidth": 1.0, "shrinkA": 0, "shrinkB": 0, "mutation_scale": 7,
            },
        )  # fmt: skip
        board.ax.text(word[0], word[1], name.lstrip("-"), size=SMALL, color=SOFT, ha="center", va="center")
    at = board.data(origin[None])[0]
    for mark, size in (("o", 6.5), (".", 2.5)):
        board.ax.plot(
            *at, marker=mark, markersize=size, markerfacecolor=PAPER if mark == "o" else SOFT, markeredgecolor=SOFT,
            linestyle="none", scalex=False, scaley=False,
        )  # fmt: skip
    word = board.data((origin - np.array([9.0 * across, 0.0]))[None])[0]
    board.ax.text(word[0], word[1], view.axes[2], size=SMALL, color=SOFT, ha="center", va="center")
    board.boxes.append((float(origin[0]) - 34.0, foot, float(origin[0]) + 34.0, foot + _BAR))


def size_of_page(board: Board) -> tuple[float, float]:
    extent = board.ax.get_window_extent()
    return float(extent.width) / board.per_point, float(extent.height) / board.per_point


def say_left_out(board: Board, view: View, names: Sequence[str]) -> None:
    """Say above the scale bar what the page had no room for."""
    if not names:
        return
    wide, _ = size_of_page(board)
    foot = board.room[1] - _BAR
    text = "No room for: " + "; ".join(names)
    if words.text_size(board.ax, text, SMALL)[0] > wide - 90.0:
        text = f"{len(names)} label{'s' if len(names) > 1 else ''} left out"
    x, y = board.data(np.array([[8.0, foot + 25.0]]))[0]
    board.ax.text(x, y, text, size=SMALL, color=SOFT, va="center", gid=f"{view.name}.left_out")
