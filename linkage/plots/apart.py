"""Mismatch over the travel, against the limits of its four regions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from linkage.answers.mismatch import Mismatch, spread
from linkage.answers.mismatch import mismatch as worked_out
from linkage.motion import Motion
from linkage.parts import Limits
from linkage.plots import page, panel, style
from linkage.plots.labels import Board, Label
from linkage.plots.panel import Against
from linkage.plots.style import INK
from linkage.train import compared

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Floats = NDArray[np.float64]


def mismatch(run: Motion, ax: Axes | None = None, *, against: Against | None = None) -> Axes:
    """Plot the mismatch of the shafts [deg] over the travel; hatched is beyond the design's limits.

    The limits hold at the closing stop, in the first ten degrees of opening, in the middle and in the
    last ten degrees. Those above the scale are named at its top.

    Parameters
    ----------
    run : Motion
    ax : matplotlib Axes, optional
        None: a new figure.
    against : {"cable", "pedal", "turn", "fraction"}, optional
        As for :func:`plate_angles`; [mm or in], [deg] or [%].

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    ValueError
        The design has no such travel.

    Examples
    --------
    >>> import linkage
    >>> run = linkage.solve(linkage.read("demo/flat_six.toml"))  # doctest: +SKIP
    >>> linkage.plots.mismatch(run)  # doctest: +SKIP
    """
    found = worked_out(run)
    # the borders of the regions and the largest mismatch are positions of the curve themselves
    turns = np.unique([*np.linspace(*run.ends, panel.FINE), *found.regions, found.largest.turn])
    fine = run.at(turns if run.ends[0] <= run.ends[1] else turns[::-1])
    x, words = panel.travel_axis(fine, against)
    apart = spread(fine)
    borders = panel.travel_axis(run.at(found.regions), against)[0]
    with style.look():
        ax = panel.ready(ax, "Mismatch between shafts", words, "Mismatch [°]")
        panel.over(ax, x)
        if len(compared(run.rig)) < 2:
            ax.set_ylim(0.0, 1.0)
            panel.say(ax, "one shaft: nothing to compare")
            return ax
        limits = run.rig.limits
        top = 1.3 * max(float(np.max(apart)), limits.mismatch_off_idle, limits.mismatch if found.middle else 0.0)
        ax.set_ylim(0.0, max(top, 1e-3))
        board = Board(ax, page.inside(ax))
        ends = [float(x[0]), float(borders[0]), float(borders[1]), float(x[-1])]
        parts = [
            ("off_idle", ends[0], ends[1], limits.mismatch_off_idle),
            ("at_wide_open", ends[2], ends[3], limits.mismatch_at_wide_open),
        ]
        if found.middle is not None:
            parts.insert(1, ("middle", ends[1], ends[2], limits.mismatch))
        labels = [_largest(board, run, found, against), *_limits(board, parts), _at_idle(board, ends[0], limits)]
        ax.plot(x, apart, color=style.PALETTE[0], linewidth=2.2, zorder=3.2, gid="mismatch.curve")
        board.drawn(np.column_stack([x, apart]), 8.0)
        board.place(labels)
    return ax


def _largest(board: Board, run: Motion, found: Mismatch, against: Against | None) -> Label:
    at = float(panel.travel_axis(run.at(found.largest.turn), against)[0][0])
    board.ax.plot(
        at, found.largest.value, marker="o", markersize=6, color=style.PALETTE[0], markeredgecolor="white", zorder=3.4,
        gid="mismatch.largest",
    )  # fmt: skip
    board.spot((at, found.largest.value), 5.0)
    point = (at, found.largest.value)
    text = f"largest {found.largest.value:.3f}°\nat idle {found.at_idle:.3f}°"
    return Label("", text, point, point, gid="mismatch.largest.says", clear=6.0)


def _limits(board: Board, parts: list[tuple[str, float, float, float]]) -> list[Label]:
    """The limit of every region as a step, hatched above it; those above the scale only by name."""
    top = float(board.ax.get_ylim()[1])
    corners: list[tuple[float, float]] = []
    labels = []
    for region, left, right, limit in parts:
        level = min(limit, top)
        corners += [(left, level), (right, level)]
        if limit < top:
            panel.forbidden(board.ax, left, right, limit, top)
        words = f"limit {limit:g}°" if limit < top else f"limit {limit:g}°\nis off the scale"
        labels.append(Label("", words, (left, level), (right, level), gid=f"mismatch.limit.{region}"))
    steps = np.array(corners)
    board.ax.plot(*steps.T, color=INK, linewidth=1.1, linestyle=(0, (5, 2)), zorder=2.0, gid="mismatch.limits")
    board.drawn(steps, 4.0)
    return labels


def _at_idle(board: Board, x: float, limits: Limits) -> Label:
    at = (x, limits.mismatch_at_idle)
    dash: dict[str, Any] = {"marker": "_", "markersize": 12, "markeredgewidth": 2.2, "color": INK}
    board.ax.plot(*at, linestyle="none", clip_on=False, zorder=3, **dash)
    return Label("", f"limit {limits.mismatch_at_idle:g}° at idle", at, at, gid="mismatch.limit.at_idle", clear=6.0)
