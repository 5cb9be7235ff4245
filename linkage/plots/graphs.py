"""Curves over the travel: plate angles, mismatch, progression, open area, gain, transmission angles.

All are worked out afresh at closely spaced positions, whatever the motion's own number.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from linkage.answers import airflow, joints
from linkage.answers.progression import TABLE
from linkage.answers.progression import progression as worked_out
from linkage.answers.verdict import CAUTION_BAND
from linkage.motion import Motion
from linkage.plots import panel, style
from linkage.plots.labels import Board, Label, text_size
from linkage.plots.page import inside, size_of
from linkage.plots.panel import Against
from linkage.plots.style import INK, SMALL, SOFT, angle_text
from linkage.quantities import own_scale, own_unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def plate_angles(run: Motion, ax: Axes | None = None, *, against: Against | None = None, legend: bool = True) -> Axes:
    """Plot the plate angle of every shaft [deg] over the travel, with the stops that hold its ends.

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

    Raises
    ------
    ValueError
        The design has no such travel.

    Examples
    --------
    >>> import linkage
    >>> run = linkage.solve(linkage.read("demo/flat_six.toml"))  # doctest: +SKIP
    >>> linkage.plots.plate_angles(run, against="fraction")  # doctest: +SKIP
    """
    fine = panel.closely(run)
    x, words = panel.travel_axis(fine, against)
    with style.look():
        ax = panel.ready(ax, "Plate angle", words, "Plate angle [°]")
        panel.lines(ax, "plate_angles", x, fine.plate_angle, style.pens(run.rig.shaft))
        height = _stops(ax, run)
        panel.over(ax, x)
        panel.named(ax, legend and len(run.rig.shaft) > 1, "lower right", height)
    return ax


def _stops(ax: Axes, run: Motion) -> float:
    """The shafts' own stops as levels, and which of them holds either end; returns the height of idle [-]."""
    shafts = run.rig.shaft
    idle = {name: shaft.plate_angle.idle for name, shaft in shafts.items()}
    wide_open = {name: shaft.plate_angle.wide_open for name, shaft in shafts.items()}
    low, high = min(idle.values()), max(wide_open.values())
    for level in {*idle.values(), *wide_open.values()}:
        ax.axhline(
            level, color=SOFT, linewidth=0.8, linestyle=(0, (2, 2)), zorder=1.2, gid=f"plate_angles.stop.{level:g}"
        )
    point = (high - low + 1.0) / max(size_of(ax)[1] - 30.0, 30.0)
    bottom, top = low - 15.0 * point, high + 15.0 * point
    ax.set_ylim(bottom, top)
    ends = (run.travel.closing_holds, run.travel.opening_holds)
    closing, opening = (f"{run.travel.stops[int(i)].name} holds" if i >= 0 else "a dead point first" for i in ends)
    rows = (
        (_levels("wide-open", wide_open), opening, 0.0, high, 2.5),
        (_levels("idle", idle), closing, 1.0, low, -2.5),
    )
    for says, holds, x, level, up in rows:
        longer = f"{says} ({holds})"
        fits = text_size(ax, longer, SMALL)[0] < size_of(ax)[0] - 6.0
        ax.annotate(
            longer if fits else says, (x, level), (2.0 if x == 0.0 else -2.0, up), xycoords=("axes fraction", "data"),
            textcoords="offset points", size=SMALL, color=SOFT, ha="left" if x == 0.0 else "right",
            va="bottom" if up > 0.0 else "top",
        )  # fmt: skip
    return (low - bottom) / (top - bottom)


def _levels(kind: str, at: Mapping[str, float]) -> str:
    """Stops of one kind in words, equal ones told once."""
    each = sorted(set(at.values()))
    if len(each) == 1:
        return f"{kind} stop{'s' if len(at) > 1 else ''} {angle_text(each[0])}"
    if len(at) > 3:
        return f"{kind} stops {angle_text(each[0])} to {angle_text(each[-1])}"
    return f"{kind} stops: " + ", ".join(f"{name} {angle_text(level)}" for name, level in at.items())


def progression(run: Motion, ax: Axes | None = None, *, legend: bool = True) -> Axes:
    """Plot the first-named shaft's plate angle [deg] over its travel [%], beside a straight line.

    The points are those of the progression table: 0, 10, 25, 50, 75, 90 and 100 % of the travel.

    Parameters
    ----------
    run : Motion
    ax : matplotlib Axes, optional
        None: a new figure.
    legend : bool
        Explain the two lines.

    Returns
    -------
    matplotlib Axes

    Examples
    --------
    >>> import linkage
    >>> run = linkage.solve(linkage.read("demo/flat_six.toml"))  # doctest: +SKIP
    >>> linkage.plots.progression(run)  # doctest: +SKIP
    """
    fine, table = panel.closely(run), worked_out(run)
    angle = fine.plate_angle[table.shaft]
    with style.look():
        counted = "Cable travel [%]" if run.by_cable else "Travel [%]"
        ax = panel.ready(ax, f"Progression of {table.shaft}", counted, "Plate angle [°]")
        low, high = float(np.min(angle)), float(np.max(angle))
        ax.set_xlim(-3.0, 103.0)
        ax.set_xticks([100.0 * share for share in TABLE])
        ax.set_ylim(low - 0.08 * (high - low + 1.0), high + 0.08 * (high - low + 1.0))
        pen = style.pens(run.rig.shaft)[table.shaft]
        line = np.array([[0.0, angle[0]], [100.0, angle[-1]]])
        ax.plot(*line.T, color=SOFT, linewidth=1.0, linestyle=(0, (5, 2.5)), label="straight line")
        curve = np.column_stack([100.0 * fine.fraction, angle])
        ax.plot(*curve.T, color=pen.colour, linewidth=2.0, label="this linkage", gid="progression.curve")
        at = np.array([[100.0 * row.fraction, row.plate_angle] for row in table.table])
        ax.plot(
            *at.T,
            linestyle="none",
            marker="o",
            markersize=5,
            color=pen.colour,
            markeredgecolor="white",
            gid="progression.table",
        )
        board = Board(ax, inside(ax))
        panel.named(ax, legend, "upper left")
        if legend:
            board.written(ax.get_legend())
        if table.ratio is not None:
            board.written(
                ax.annotate(
                    f"gain at wide open / at idle: {table.ratio:.2f}", (1.0, 0.0), (-3.0, 4.0), color=SOFT, size=SMALL,
                    xycoords="axes fraction", textcoords="offset points", ha="right", va="bottom",
                    gid="progression.ratio",
                )
            )  # fmt: skip
        for drawn in (line, curve):
            board.drawn(drawn, 3.0)
        points = [(float(x), float(y)) for x, y in at]
        board.place(
            [Label("", angle_text(y), (x, y), (x, y), gid=f"progression.at.{x:g}", clear=4.0) for x, y in points]
        )
    return ax


def open_area(run: Motion, ax: Axes | None = None, *, against: Against | None = None, legend: bool = True) -> Axes:
    """Plot the open area of every shaft's bores [% of the bore] over the travel.

    Shafts without a bore in the design have no curve. Parameters as of :func:`plate_angles`; the
    travel in [mm or in], [deg] or [%].

    References
    ----------
    See :mod:`linkage.answers.airflow`.
    """
    fine = panel.closely(run)
    x, words = panel.travel_axis(fine, against)
    known = {name: 100.0 * a for name, a in airflow.open_area_fractions(fine).items() if a is not None}
    with style.look():
        ax = panel.ready(ax, "Open area", words, "Open area [% of the bore]")
        panel.lines(ax, "open_area", x, known, style.pens(run.rig.shaft))
        ax.set_ylim(0.0, 105.0)
        panel.over(ax, x)
        if not known:
            panel.say(ax, "no bore is given")
        panel.named(ax, legend and len(known) > 1, "upper left")
    return ax


def gain(run: Motion, ax: Axes | None = None, *, against: Against | None = None, legend: bool = True) -> Axes:
    """Plot the gain of every shaft over the travel: degrees of plate per unit of cable travel.

    [deg/mm or deg/in]; degrees per degree of driver turn where no cable takes the travel. Near a dead
    centre of the cable the gain has no bound and the curve leaves the picture. Parameters as of
    :func:`plate_angles`.
    """
    fine = panel.closely(run)
    x, words = panel.travel_axis(fine, against)
    scale = own_scale(run.rig.units, "length") if run.by_length else 1.0
    unit = own_unit(run.rig.units, "length") if run.by_length else "°"
    unit += "" if run.by_cable else " of driver"
    curves = {name: np.where(np.isfinite(g), g * scale, np.nan) for name, g in fine.gain.items()}
    with style.look():
        ax = panel.ready(ax, "Gain", words, f"Plate turn per travel [°/{unit}]")
        panel.lines(ax, "gain", x, curves, style.pens(run.rig.shaft))
        every = np.concatenate(list(curves.values()))
        every = every[np.isfinite(every)]
        if every.size:
            high = min(float(np.max(every)), 4.0 * float(np.median(np.abs(every))))
            ax.set_ylim(min(0.0, 1.15 * max(float(np.min(every)), -high)), 1.18 * high if high > 0.0 else 1.0)
        panel.over(ax, x)
        panel.named(ax, legend and len(curves) > 1, "best")
    return ax


def transmission(run: Motion, ax: Axes | None = None, *, against: Against | None = None, legend: bool = True) -> Axes:
    """Plot the transmission angle of every link [deg] over the travel; 90 is best, 0 and 180 are dead.

    Hatched: beyond the design's limit. Between the limit and the dashed line: a caution. Parameters as
    of :func:`plate_angles`.
    """
    fine = panel.closely(run)
    x, words = panel.travel_axis(fine, against)
    limit = run.rig.limits.transmission_angle
    curves = joints.transmission_angles(fine)
    with style.look():
        ax = panel.ready(ax, "Transmission angle of the links", words, "Link to driven arm [°]")
        panel.over(ax, x)
        ax.set_ylim(0.0, 180.0)
        ax.set_yticks(range(0, 181, 30))
        for low, high, edge in ((0.0, limit, limit), (180.0 - limit, 180.0, 180.0 - limit)):
            panel.forbidden(ax, *ax.get_xlim(), low, high)
            ax.axhline(edge, color=INK, linewidth=1.0)
        for edge in (limit + CAUTION_BAND, 180.0 - limit - CAUTION_BAND):
            ax.axhline(edge, color=SOFT, linewidth=0.9, linestyle=(0, (4, 2.5)))
        panel.lines(ax, "transmission", x, curves, style.pens(curves))
        panel.named(ax, legend and bool(curves), "best")
        panel.name_band(ax, f"binds: above {180.0 - limit:g}°", 180.0 - 0.5 * limit)
        panel.name_band(ax, f"binds: below {limit:g}°", 0.5 * limit)
        if not curves:
            panel.say(ax, "there is no link")
    return ax
