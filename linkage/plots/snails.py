"""A snail quadrant before and after: how the throttles open, the moment arm, and the groove at true shape."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from linkage.answers.quadrant import quadrant_report
from linkage.motion import Motion
from linkage.parts import Wish
from linkage.plots import panel, style
from linkage.plots.fits import opening, three_abreast
from linkage.plots.style import INK, SMALL, SOFT
from linkage.quantities import own_scale, own_unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_NAMES = ("as drawn", "snail")
_CUSP = "#b3261e"


def snail(before: Motion, after: Motion, *, wish: Wish | None = None) -> Figure:
    """Draw a snail quadrant against what was there: progression, moment arm, and the groove.

    Parameters
    ----------
    before, after : Motion
        The design as drawn and with its snail quadrant; turns [deg], lengths in the design's unit [mm or in].
    wish : Wish, optional
        Wished points are drawn in.

    Returns
    -------
    matplotlib Figure

    Examples
    --------
    >>> import linkage
    >>> found = linkage.snail(linkage.read("demo/snail.toml"))  # doctest: +SKIP
    >>> linkage.plots.snail(found.before, found.after, wish=found.wish)  # doctest: +SKIP
    """
    runs = [panel.closely(run) for run in (before, after)]
    with style.look():
        figure, (left, middle, right) = three_abreast(after.rig.title)
        opening(left, runs, wish, _NAMES)
        _arms(middle, runs)
        _groove(right, after)
    return figure


def _arms(ax: Axes, runs: list[Motion]) -> None:
    """Moment arm over the driver's turn, with the points of the profile."""
    rig = runs[1].rig
    scale, unit = own_scale(rig.units, "length"), own_unit(rig.units, "length")
    panel.ready(ax, "Moment arm of the cable", f"Turn of {rig.driver} [°]", f"Moment arm [{unit}]")
    pens = style.pens(_NAMES)
    most = 0.0
    for name, run in zip(_NAMES, runs, strict=True):
        if run.cable_arm is not None:
            arm = np.abs(run.cable_arm) / scale
            most = max(most, float(np.max(arm)))
            panel.lines(ax, "arm", run.turn, {name: arm}, {name: pens[name]})
    assert rig.cable is not None
    for point in (rig.cable.profile or {}).values():
        ax.plot(point.turn, point.moment_arm / scale, marker="o", markersize=4, color=INK, linestyle="none", zorder=4)
    panel.over(ax, runs[1].turn)
    ax.set_ylim(0.0, 1.3 * most)
    ax.legend(loc="upper right", fontsize=SMALL)


def _groove(ax: Axes, run: Motion) -> None:
    """The groove as at idle, seen along the driver's axis, its axis, and the cusps."""
    report = quadrant_report(run)
    assert report is not None
    scale, unit = own_scale(run.rig.units, "length"), own_unit(run.rig.units, "length")
    panel.ready(ax, "The groove, as at idle", f"[{unit}]", f"[{unit}]")
    found = report.groove
    x, y = found.bottom(run.ends, 65).T[:2] / scale
    ax.plot(x, y, color=INK, linewidth=1.4, gid="groove")
    ax.plot(0.0, 0.0, marker="+", markersize=11, color=INK, linestyle="none")
    ax.plot(x[-1], y[-1], marker="o", markersize=5, markerfacecolor="none", color=SOFT, linestyle="none", gid="anchor")
    for first, last in report.cusps:
        at = found.along(math.radians(first), math.radians(max(last, first + 1e-3)))
        cx, cy = found.places(at)
        ax.plot(cx / scale, cy / scale, color=_CUSP, linewidth=2.6, gid="cusp")
    says = "cusp: no groove can be cut" if report.cusps else "no cusp"
    colour = _CUSP if report.cusps else SOFT
    ax.text(0.97, 0.04, says, transform=ax.transAxes, size=SMALL, color=colour, ha="right", gid="says")
    ax.set_aspect("equal", adjustable="datalim")
