"""Pictures of the forces: closing torque with each spring away, effort both ways, link forces, lost motion.

All are worked out afresh at closely spaced positions. Where the design lacks what a picture needs,
the picture says what to add.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from linkage.answers import forces as worked
from linkage.answers import lost_motion as rocking
from linkage.answers import springs
from linkage.motion import Motion
from linkage.plots import style
from linkage.plots.panel import Against, closely, forbidden, over, ready, told, travel_axis
from linkage.plots.style import INK, SMALL, SOFT
from linkage.quantities import own_scale, own_unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Floats = NDArray[np.float64]


def return_torque(run: Motion, ax: Axes | None = None, *, against: Against | None = None, legend: bool = True) -> Axes:
    """Plot the closing torque at every shaft, all springs on and each one away in turn.

    [N.mm or lbf.in], friction taken off. Heavy: all springs. Thin: one spring away. Hatched: below
    nothing, where the throttles do not come back.

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
    >>> run = linkage.solve(linkage.read("demo/flat_six.toml"))  # doctest: +SKIP
    >>> linkage.plots.return_torque(run)  # doctest: +SKIP
    """
    fine = closely(run)
    x, words = travel_axis(fine, against)
    size, unit = own_scale(run.rig.units, "torque"), own_unit(run.rig.units, "torque")
    with style.look():
        ax = ready(ax, "Closing torque, each spring away", words, f"Closing torque [{unit}]")
        over(ax, x)
        if lacking := worked.lacks(run.rig):
            return told(ax, lacking)
        curves = _torques(fine, size)
        for (shaft, lost), torque in curves.items():
            pen, whole = style.pens(run.rig.shaft)[shaft], lost is None
            ax.plot(
                x, torque, color=pen.colour, linestyle=pen.dashes if whole else "-", linewidth=2.2 if whole else 0.9,
                alpha=1.0 if whole else 0.75, label=shaft if whole else None, zorder=2.6 if whole else 2.3,
                gid=f"curve.{shaft}" + ("" if whole else f".without.{lost}"),
            )  # fmt: skip
        lowest = min(float(np.nanmin(torque, initial=0.0)) for torque in curves.values())
        top = ax.get_ylim()[1]
        ax.set_ylim(min(1.1 * lowest, -0.07 * top), top)
        _mark_least(ax, x, curves, 2 if run.rig.units == "in" else 0)
        _below_nothing(ax, "here a throttle stays open")
        if legend:
            ax.plot([], [], color=SOFT, linewidth=0.9, label="one spring away")
            _legend(ax)
    return ax


def _torques(fine: Motion, size: float) -> dict[tuple[str, str | None], Floats]:
    """Closing torque by shaft and by the spring that is away (None: all on), in units of ``size`` N.mm."""
    friction, found = springs.friction_at_driver(fine), {}
    for lost in (None, *fine.rig.spring):
        kept = [name for name in fine.rig.spring if name != lost]
        pull = springs.closing_at_driver(fine, springs.spring_torque(fine, kept))
        for shaft in fine.rig.shaft:
            torque = springs.closing_at_shaft(fine, shaft, pull, friction) / size
            found[shaft, lost] = np.where(np.isfinite(torque), torque, np.nan)
    return found


def _mark_least(ax: Axes, x: Floats, curves: Mapping[tuple[str, str | None], Floats], digits: int) -> None:
    """Mark the lowest place of all curves with a spring away, and name it."""
    known = {key: y for key, y in curves.items() if key[1] is not None and not np.all(np.isnan(y))}
    if not known:
        return
    (shaft, lost), y = min(known.items(), key=lambda item: float(np.nanmin(item[1])))
    at = int(np.nanargmin(y))
    value, place = float(y[at]), float(x[at])
    shown = f"{value:.{digits}f}".replace("-", "−")
    ax.plot([place], [value], "o", color=INK, markersize=4.5, zorder=3.2, gid="least")
    low, high = ax.get_ylim()
    right, below = place > float(np.mean(x)), value > low + 0.15 * (high - low)
    ax.annotate(
        f"least: {shaft} without {lost}, {shown}", (place, value),
        (-7.0 if right else 7.0, -6.0 if below else 6.0), textcoords="offset points", size=SMALL, color=INK,
        ha="right" if right else "left", va="top" if below else "bottom", zorder=3.3,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.85},
    )  # fmt: skip


def effort(run: Motion, ax: Axes | None = None, *, against: Against | None = None, legend: bool = True) -> Axes:
    """Plot what it takes to open, and what is left on the way back: the loop between is friction.

    Pedal force, or cable tension without a pedal [N or lbf], or torque at the driver without a cable
    [N.mm or lbf.in]. Parameters as of :func:`return_torque`.
    """
    fine = closely(run)
    x, words = travel_axis(fine, against)
    title, what, unit, curves = _effort(fine)
    with style.look():
        ax = ready(ax, title, words, f"{what} [{unit}]")
        over(ax, x)
        if lacking := worked.lacks(run.rig):
            return told(ax, lacking)
        going, back = curves
        known = np.isfinite(going) & np.isfinite(back)
        if not np.any(known):
            return told(ax, "The cable has no lever arm that opens the throttles: see the direction of its pull.")
        ax.fill_between(x, back, going, where=known, facecolor=style.BODY, edgecolor="none", zorder=1.0)
        one, other = style.PALETTE[0], style.PALETTE[1]
        for y, colour, dashes, label, way in (
            (going, one, "-", "opening", 1), (back, other, (0, (5, 2)), "coming back", -1)
        ):  # fmt: skip
            ax.plot(x, y, color=colour, linestyle=dashes, linewidth=2.2, label=label, gid=f"curve.{label}")
            _arrow(ax, x, y, colour, way)
        if np.any(going[known] - back[known] > 0.0):
            third = len(x) // 3
            ax.annotate(
                "lost to friction", (x[third], 0.5 * (going[third] + back[third])), size=SMALL, color=SOFT,
                ha="center", va="center",
            )  # fmt: skip
        ax.set_ylim(0.0, 1.15 * max(float(np.nanmax(going[known])), 1e-9))
        if legend:
            _legend(ax, "lower right")
    return ax


def _effort(fine: Motion) -> tuple[str, str, str, tuple[Floats, Floats]]:
    units = fine.rig.units
    foot, rising = worked.pedal_force(fine)
    pull, left = worked.cable_tension(fine)
    if foot is not None and rising is not None:
        words, curves = ("Pedal force", "Force at the pad"), (foot, rising)
    elif pull is not None and left is not None:
        words, curves = ("Cable tension", "Tension of the inner cable"), (pull, left)
    else:
        size = own_scale(units, "torque")
        both = worked.opening_torque(fine) / size, worked.closing_torque(fine) / size
        return f"Torque at {fine.rig.driver}", "Torque", own_unit(units, "torque"), both
    size = own_scale(units, "force")
    return (
        f"{words[0]}, opening and coming back",
        words[1],
        own_unit(units, "force"),
        (
            curves[0] / size,
            curves[1] / size,
        ),
    )


def _arrow(ax: Axes, x: Floats, y: Floats, colour: str, way: int) -> None:
    """A head on the curve at its middle, the way it is run through."""
    middle = len(x) // 2
    start, end = middle - 3 * way, middle + 3 * way
    if np.isfinite(y[[start, end]]).all():
        ax.annotate(
            "", (x[end], y[end]), (x[start], y[start]), zorder=3.0,
            arrowprops={"arrowstyle": "-|>", "color": colour, "linewidth": 0.0, "mutation_scale": 16.0},
        )  # fmt: skip


def link_forces(run: Motion, ax: Axes | None = None, *, against: Against | None = None, legend: bool = True) -> Axes:
    """Plot the force in every link while opening [N or lbf], pull above nothing, push below.

    Parameters as of :func:`return_torque`.
    """
    fine = closely(run)
    x, words = travel_axis(fine, against)
    size, unit = own_scale(run.rig.units, "force"), own_unit(run.rig.units, "force")
    with style.look():
        ax = ready(ax, "Force in the links, opening", words, f"Force [{unit}]")
        over(ax, x)
        if lacking := worked.lacks(run.rig):
            return told(ax, lacking)
        if not run.rig.link:
            return told(ax, "there is no link")
        found = springs.loads(fine, springs.spring_torque(fine), opening=True).link
        _lines(ax, x, {name: np.where(np.isfinite(f), f, np.nan) / size for name, f in found.items()})
        ax.axhline(0.0, color=INK, linewidth=1.0)
        low, high = ax.get_ylim()
        span = high - low
        ax.set_ylim(min(low, -0.12 * span), max(high, 0.12 * span))
        for says, up in (("pulled", 3.0), ("pushed", -3.0)):
            ax.annotate(
                says, (1.0, 0.0), (-3.0, up), xycoords=("axes fraction", "data"), textcoords="offset points",
                size=SMALL, color=SOFT, ha="right", va="bottom" if up > 0.0 else "top",
            )  # fmt: skip
        if legend:
            _legend(ax)
    return ax


def lost_motion(run: Motion, ax: Axes | None = None) -> Axes:
    """Plot how far every plate can be rocked with the driver held [deg], at idle and at its largest.

    Parameters
    ----------
    run : Motion
    ax : matplotlib Axes, optional
        None: a new figure.

    Returns
    -------
    matplotlib Axes
    """
    with style.look():
        ax = ready(ax, "Lost motion at the plates, driver held", "Rock from side to side [°]", "")
        found = rocking.lost_motion(run)
        if found is None:
            return told(ax, rocking.lacks(run.rig))
        names = list(run.rig.shaft)
        rows = np.arange(len(names), dtype=float)
        most = np.array([found.largest[name].value for name in names])
        idle = np.array([found.at_idle[name] for name in names])
        for off, values, colour, hatch, label in (
            (-0.19, most, style.PALETTE[0], "", "largest"), (0.19, idle, style.PALETTE[5], "///", "at idle")
        ):  # fmt: skip
            ax.barh(
                rows + off, np.nan_to_num(values, posinf=0.0), 0.34, color=colour, hatch=hatch, edgecolor="white",
                linewidth=0.0, label=label,
            )  # fmt: skip
            for name, row, value in zip(names, rows + off, values, strict=True):
                sprung = label == "largest" and found.taken_up is not None and found.taken_up[name]
                says = f"{value:.2f}°" if np.isfinite(value) else "no bound"
                says += ", sprung to one side" if sprung else ""
                place = (value if np.isfinite(value) else 0.0, row)
                ax.annotate(says, place, (4.0, 0.0), textcoords="offset points", size=SMALL, va="center")
        ax.axvline(rocking.LOST, color=INK, linewidth=1.0, linestyle=(0, (4, 2.5)))
        ax.annotate(
            f"above {rocking.LOST:g}° worth mending", (rocking.LOST, 0.0), (3.0, 3.0),
            xycoords=("data", "axes fraction"), textcoords="offset points", size=SMALL, color=SOFT, va="bottom",
        )  # fmt: skip
        ax.set_yticks(rows, names)
        ax.set_ylim(len(names) - 0.1 + 0.05 * len(names), -0.75 - 0.05 * len(names))
        finite = most[np.isfinite(most)]
        ax.set_xlim(0.0, 1.4 * max(float(np.max(finite, initial=0.0)), 1.4 * rocking.LOST))
        ax.grid(False, axis="y")
        ax.legend(loc="upper right", ncols=2, fontsize=SMALL, framealpha=0.9, edgecolor="none", facecolor="white")
    return ax


def _lines(ax: Axes, x: Floats, curves: Mapping[str, Floats]) -> None:
    for name, pen in style.pens(curves).items():
        ax.plot(
            x, curves[name], color=pen.colour, linestyle=pen.dashes, linewidth=pen.width, label=name,
            marker=pen.marker, markersize=5.0, markeredgecolor="white", markevery=(8, 30), gid=f"curve.{name}",
        )  # fmt: skip


def _below_nothing(ax: Axes, words: str) -> None:
    """Hatch what lies below nothing and name it."""
    low = ax.get_ylim()[0]
    forbidden(ax, *ax.get_xlim(), low, 0.0)
    ax.axhline(0.0, color=INK, linewidth=1.0)
    ax.annotate(
        words, (0.99, 0.0), (0.0, -3.0), xycoords=("axes fraction", "data"), textcoords="offset points",
        size=SMALL, color=INK, ha="right", va="top",
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.9},
    )  # fmt: skip


def _legend(ax: Axes, where: Literal["best", "lower right"] = "best") -> None:
    names = len(ax.get_legend_handles_labels()[1])
    ax.legend(
        loc=where, ncols=1 if names <= 4 else 2, fontsize=SMALL, framealpha=0.9, edgecolor="none", facecolor="white"
    )
