"""The key to the lines of a picture, in as many columns as it takes to fit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Literal

from linkage.plots.style import SMALL, Pen, figure_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Place = Literal["upper left", "lower right", "best"]


def fitted(
    ax: Axes,
    handles: Sequence[Any],
    names: Sequence[str],
    where: Place,
    box: tuple[float, float, float, float],
    room: tuple[float, float],
) -> None:
    """Write a key no larger than ``room`` [pt] at a place in a ``box`` of the axes; what does not fit is counted."""
    from matplotlib.lines import Line2D

    blank = Line2D([], [], linestyle="none")
    for kept in range(len(names), 0, -1):
        left_out = len(names) - kept
        shown = [*names[:kept], f"and {left_out} more"] if left_out else list(names)
        lines = [*handles[:kept], blank] if left_out else list(handles)
        for columns in range(1, len(shown) + 1):
            legend = ax.legend(
                lines, shown, loc=where, bbox_to_anchor=box, ncols=columns, handlelength=2.8, columnspacing=1.4,
                fontsize=SMALL, framealpha=0.9, edgecolor="none", facecolor="white",
            )  # fmt: skip
            extent, point = legend.get_window_extent(), figure_of(ax).dpi / 72.0
            if extent.width > room[0] * point:
                break
            if extent.height <= room[1] * point:
                return


def handles(pens: Mapping[str, Pen]) -> list[Any]:
    """A sample of every pen's line."""
    from matplotlib.lines import Line2D

    return [
        Line2D(
            [], [], color=pen.colour, linestyle=pen.dashes, linewidth=pen.width, marker=pen.marker, markersize=5.0,
            markeredgecolor="white", markeredgewidth=0.6,
        )
        for pen in pens.values()
    ]  # fmt: skip
