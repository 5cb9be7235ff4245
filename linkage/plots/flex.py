"""Pictures of what gives: the plates as the engine rocks, the shafts as they wind up.

Both are worked out afresh. Where the design lacks what a picture needs, the picture says what to add.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from linkage.answers import rocking as rolling
from linkage.answers import twist as winding
from linkage.answers.rolled import rolled
from linkage.answers.winding import Wound, twisted
from linkage.motion import Motion
from linkage.parts import SIGN
from linkage.plots import key, style
from linkage.plots.page import size_of
from linkage.plots.panel import Against, closely, over, ready, told, travel_axis
from linkage.plots.style import INK, SMALL, SOFT
from linkage.quantities import own_scale

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Floats = NDArray[np.float64]


def rocking(run: Motion, ax: Axes | None = None, *, against: Against | None = None, legend: bool = True) -> Axes:
    """Plot what the engine's roll moves every plate [deg], the pedal held, over the travel.

    Heavy: exact, rolled to + and to -. Thin and dotted: by first order. Dashed across: what is allowed.

    Parameters
    ----------
    run : Motion
    ax : matplotlib Axes, optional
        None: a new figure.
    against : {"cable", "pedal", "turn", "fraction"}, optional
        What the travel is counted in: cable or pedal travel [mm or in], driver turn [deg] or share
        [%]. Left out: cable travel, or the share where no cable takes it.
    legend : bool
        Name the shafts.

    Returns
    -------
    matplotlib Axes

    Examples
    --------
    >>> import linkage
    >>> run = linkage.solve(linkage.read("demo/body_mounted.toml"))  # doctest: +SKIP
    >>> linkage.plots.rocking(run)  # doctest: +SKIP
    """
    fine = closely(run)
    x, words = travel_axis(fine, against)
    with style.look():
        ax = ready(ax, "Plates as the engine rocks", words, "Plate moved, pedal held [°]")
        if run.rig.rocking is None or rolling.lacks(run.rig):
            return told(ax, rolling.lacks(run.rig))
        over(ax, x)
        degrees, rates, pens = run.rig.rocking.degrees, rolling.plate_rates(fine), style.pens(run.rig.shaft)
        most = 1.3 * run.rig.limits.rocking
        for side in (1.0, -1.0):
            angles = rolling.rolled_plates(fine, rolled(fine, side * degrees), side * degrees)
            sign = "plus" if side > 0.0 else "minus"
            for i, (name, angle) in enumerate(angles.items()):
                pen, moved = pens[name], angle - fine.plate_angle[name]
                ax.plot(
                    x, moved, color=pen.colour, linestyle=pen.dashes, linewidth=pen.width,
                    label=name if side > 0.0 else None, gid=f"curve.{name}.{sign}", marker=pen.marker, markersize=5.0,
                    markeredgecolor="white", markevery=(5 + 9 * i % 30, 30), zorder=2.5,
                )  # fmt: skip
                ax.plot(
                    x, side * degrees * rates[name], color=pen.colour, linestyle=":", linewidth=1.0, zorder=2.2,
                    gid=f"first.{name}.{sign}",
                )  # fmt: skip
                most = max(most, float(np.nanmax(np.abs(moved), initial=0.0)))
        ax.set_ylim(-1.15 * most, 1.15 * most)
        ax.axhline(0.0, color=INK, linewidth=0.9)
        for limit in (run.rig.limits.rocking, -run.rig.limits.rocking):
            ax.axhline(limit, color=SOFT, linewidth=0.9, linestyle=(0, (4, 2.5)), gid="limit")
        for side in (1.0, -1.0):
            middle = next(iter(run.rig.shaft))
            line = next(one for one in ax.get_lines() if one.get_gid() == f"curve.{middle}.{_sign(side)}")
            at = len(x) // 2
            place = float(np.asarray(line.get_ydata(), float)[at])
            up = place >= 0.0
            if np.isfinite(place):
                ax.annotate(
                    f"rolled {side * degrees:+g}°".replace("-", "−"), (float(x[at]), place), (0.0, -7.0 if up else 7.0),
                    textcoords="offset points", size=SMALL, color=INK, ha="center", va="top" if up else "bottom",
                    bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.85},
                )  # fmt: skip
        if legend and len(run.rig.shaft) > 1:
            _named(ax, dotted="first order")
    return ax


def _sign(side: float) -> str:
    return "plus" if side > 0.0 else "minus"


def _named(ax: Axes, *, dotted: str, above: float = 0.0) -> None:
    """Name the curves above a height [-] of the axes."""
    ax.plot([], [], color=SOFT, linestyle=":", linewidth=1.0, label=dotted)
    handles, names = ax.get_legend_handles_labels()
    wide, high = size_of(ax)
    key.fitted(ax, handles, names, "best", (0.0, above, 1.0, 1.0 - above), (0.98 * wide, 0.42 * high))


def twist(run: Motion, ax: Axes | None = None, *, legend: bool = True) -> Axes:
    """Plot how far every shaft and tube is wound up along its stations [deg over mm or in].

    Heavy: at idle, foot off, against the stop that the shaft stands on. Thin and dotted: opening, just
    before wide open, against what drives it. Round: a plate. Square: what holds it at idle. Below nothing: behind.

    Parameters
    ----------
    run : Motion
    ax : matplotlib Axes, optional
        None: a new figure.
    legend : bool
        Name the members.

    Returns
    -------
    matplotlib Axes

    Examples
    --------
    >>> import linkage
    >>> run = linkage.solve(linkage.read("demo/long_shaft.toml"))  # doctest: +SKIP
    >>> linkage.plots.twist(run)  # doctest: +SKIP
    """
    size = own_scale(run.rig.units, "length")
    with style.look():
        words = style.with_unit("Station along the axis, from the pivot", run.rig.units)
        ax = ready(ax, "Shafts wound up", words, "Twist, opening counts up [°]")
        report = winding.twist(run)
        if report is None:
            return told(ax, winding.lacks(run.rig))
        wide_open = twisted(run.at(run.ends[1]), "opening")
        pens = style.pens(report.idle.members)
        for name, wound in report.idle.members.items():
            pen, sense = pens[name], _opening(run, name)
            for which, found, place in (("rest", wound, "-"), ("open", wide_open.members[name], ":")):
                turned, rest = sense * _against(found), which == "rest"
                ax.plot(
                    found.station / size, turned, color=pen.colour, linestyle=pen.dashes if rest else place,
                    linewidth=2.2 if rest else 1.2, label=name if rest else None, gid=f"curve.{name}.{which}",
                    zorder=2.4,
                )  # fmt: skip
                plates = [i for i, grip in enumerate(found.grips) if grip.startswith("plate ")]
                ax.plot(
                    found.station[plates] / size, turned[plates], "o", color=pen.colour, markeredgecolor="white",
                    markersize=7.0 if rest else 4.5, zorder=2.8, gid=f"plates.{name}.{which}",
                )  # fmt: skip
            held = wound.grips.index(wound.held)
            ax.plot(
                wound.station[held] / size, 0.0, "s", color=pen.colour, markeredgecolor="white", markersize=9.0,
                zorder=3.0, gid=f"held.{name}",
            )  # fmt: skip
        ax.axhline(0.0, color=INK, linewidth=0.9)
        low, high = ax.get_ylim()
        spare = 0.12 * max(high - low, 0.02)
        ax.set_ylim(low - spare, high + spare)
        says = f"at idle, foot off: plates {report.apart_at_idle:.3f}° apart by twist"
        ax.text(0.01, 0.02, says, transform=ax.transAxes, size=SMALL, color=SOFT, va="bottom", gid="apart")
        if legend:
            _named(ax, dotted="opening, at wide open", above=0.12)
    return ax


def _opening(run: Motion, member: str) -> float:
    """Which turn (+1 ccw) opens a member."""
    if member in run.rig.shaft:
        return SIGN[run.rig.shaft[member].opens]
    return float(np.nan_to_num(run.train.opens * run.train.sense[member])) or 1.0


def _against(wound: Wound) -> Floats:
    """Twist of every grip against what holds the member, at the first position [deg, ccw]."""
    return np.asarray(wound.twist[:, 0] - wound.twist[wound.grips.index(wound.held), 0])
