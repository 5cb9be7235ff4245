"""A fit before and after: how the throttles open and how far they stand apart, on one page."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from linkage.answers.mismatch import spread
from linkage.motion import Motion
from linkage.parts import Wish
from linkage.plots import panel, style
from linkage.plots.labels import wrapped
from linkage.plots.style import GOOD, HEAD, INK, PLAIN, SMALL, SOFT
from linkage.train import compared

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

_NAMES = ("as drawn", "fitted")
_SIZE = (10.6, 4.4)  # [in]


def before_after(before: Motion, after: Motion, *, wish: Wish | None = None) -> Figure:
    """Draw what a fit changed: progression, mismatch, and the mismatch of the fitted one by itself.

    Parameters
    ----------
    before, after : Motion
        The design as drawn and as fitted; plate angles in [deg], travel in [%].
    wish : Wish, optional
        Wished points and limits are drawn in.

    Returns
    -------
    matplotlib Figure

    Examples
    --------
    >>> import linkage
    >>> found = linkage.fit(linkage.read("demo/slow_opening_wish.toml"))  # doctest: +SKIP
    >>> runs = [linkage.solve(c.rig) for c in (found.start, found.best)]  # doctest: +SKIP
    >>> linkage.plots.before_after(*runs, wish=found.wish)  # doctest: +SKIP
    """
    runs = [panel.closely(run) for run in (before, after)]
    with style.look():
        figure, (left, middle, right) = three_abreast(before.rig.title)
        opening(left, runs, wish, _NAMES)
        _apart(middle, runs, _NAMES, None)
        _apart(right, runs[1:], _NAMES[1:], None if wish is None else wish.mismatch)
        right.set_title("The fitted one, closer", loc="left", fontsize=HEAD, fontweight="bold", color=INK)
    return figure


def three_abreast(title: str) -> tuple[Figure, tuple[Axes, Axes, Axes]]:
    """A headed figure with three places for curves beside each other."""
    figure = style.figure(*_SIZE)
    left, middle, right = (figure.add_axes((x, 0.15, 0.247, 0.65)) for x in (0.065, 0.4, 0.735))
    heading = figure.text(0.015, 0.965, "", size=HEAD, weight="bold", color=INK, va="top", gid="heading")
    heading.set_text(wrapped(left, title, HEAD, 72.0 * _SIZE[0] - 20.0, "bold", lines=1))
    return figure, (left, middle, right)


def opening(ax: Axes, runs: list[Motion], wish: Wish | None, names: tuple[str, ...]) -> None:
    """Share of the opening over the share of the travel of named runs, with the points wished for."""
    panel.ready(ax, "How it opens", "Travel [%]", "Opened [%]")
    pens = style.pens(names)
    for name, run in zip(names, runs, strict=True):
        angle = next(iter(run.plate_angle.values()))
        opened = 100.0 * (angle - angle[0]) / (angle[-1] - angle[0])
        panel.lines(ax, "opening", 100.0 * run.fraction, {name: opened}, {name: pens[name]})
    ax.plot([0.0, 100.0], [0.0, 100.0], color=style.FAINT, linewidth=0.9, zorder=1.0, gid="opening.even")
    for share, wished in (wish.progression if wish is not None else None) or ():
        at = (100.0 * share, 100.0 * wished)
        ax.plot(*at, marker="x", markersize=9, markeredgewidth=2.0, color=INK, linestyle="none", gid="opening.wished")
    if wish is not None and wish.progression:
        ax.text(0.97, 0.04, "crosses: wished", transform=ax.transAxes, size=SMALL, color=SOFT, ha="right")
    panel.over(ax, np.array([0.0, 100.0]))
    ax.legend(loc="upper left", fontsize=SMALL)


def _apart(ax: Axes, runs: list[Motion], names: tuple[str, ...], limit: float | None) -> None:
    """Mismatch over the share of the travel."""
    panel.ready(ax, "Mismatch between shafts", "Travel [%]", "Mismatch [°]")
    panel.over(ax, np.array([0.0, 100.0]))
    if len(compared(runs[0].rig)) < 2:
        panel.say(ax, "one shaft: nothing to compare")
        return
    pens = style.pens(_NAMES)
    most = 0.0
    for name, run in zip(names, runs, strict=True):
        apart = spread(run)
        most = max(most, float(np.max(apart)))
        panel.lines(ax, "mismatch", 100.0 * run.fraction, {name: apart}, {name: pens[name]})
    if limit is not None:
        ax.axhline(limit, color=GOOD, linewidth=1.1, linestyle=(0, (5, 2)), zorder=2.0, gid="mismatch.wished")
        ax.annotate(
            f"wished {limit:g}°", (2.0, limit), xytext=(0.0, 3.0), textcoords="offset points", size=PLAIN, color=GOOD
        )
    ax.set_ylim(0.0, max(1.35 * max(most, limit or 0.0), 1e-3))
    if len(names) > 1:
        ax.legend(loc="upper right", fontsize=SMALL)
