"""Pictures of the pedal and of what must move along: the pedal's side view, the opening underfoot, the followers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.answers import followers as following
from linkage.answers.pedal import pedal_report, turn_at_share
from linkage.motion import CrankPedal, Motion
from linkage.plots import loads, panel, style
from linkage.plots.labels import wrapped
from linkage.plots.style import A4, FAINT, HEAD, INK, PALETTE, SMALL, SOFT
from linkage.quantities import own_scale, own_unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

_POSES = ((0.0, "at rest", "-"), (0.5, "half-way", (0, (5, 2))), (1.0, "wide open", (0, (1.2, 1.4))))


def pedal_view(run: Motion, ax: Axes | None = None) -> Axes:
    """Draw the pedal in its own side view: at rest, half-way and at wide open, its stop and the floor.

    Only a pedal that is drawn with its pivot, arms and casing end has such a view; for others the picture says so.

    Parameters
    ----------
    run : Motion
        Lengths are drawn in the design's own unit [mm or in].
    ax : matplotlib Axes, optional
        None: a new figure.

    Returns
    -------
    matplotlib Axes
    """
    units = run.rig.units
    with style.look():
        ax = panel.ready(ax, "The pedal, its own side view", own_unit(units, "length"), "")
        foot, report = run.pedal_line, pedal_report(run)
        if not isinstance(foot, CrankPedal) or run.rig.pedal is None or report is None:
            return panel.told(ax, "only a pedal with a pivot, arms and a casing end of its own has a view of its own")
        size, arm, casing = own_scale(units, "length"), foot.line.arm, foot.line.casing.centre
        pivot = np.array(arm.centre[:2], float) / size
        end = np.array(casing[:2], float) / size
        pad_angle = _pad_angle(run)
        last = np.radians(report.turn) if report.turn is not None and np.isfinite(report.turn) else 0.0

        def pad_at(turn: float) -> Floats:
            at = pad_angle + foot.sense * turn
            return pivot + float(foot.radius) / size * np.array([np.cos(at), np.sin(at)])

        for i, (share, name, dashes) in enumerate(_POSES if last > 0.0 else _POSES[:1]):
            turn = share * last
            pin = np.array(closure.pin(arm, *foot.pose(np.float64(turn)))[:2], float) / size
            pad, colour = pad_at(turn), PALETTE[0] if i == 0 else SOFT
            ax.plot(
                *np.stack([pad, pivot, pin]).T, color=colour, linestyle=dashes, linewidth=3.0 if i == 0 else 1.6,
                label=name, gid=f"pedal.{i}", solid_capstyle="round",
            )  # fmt: skip
            ax.plot(*np.stack([end, pin]).T, color=PALETTE[1], linestyle=dashes, linewidth=1.1, gid=f"cable.{i}")
            half = 0.12 * (pad - pivot)  # the foot presses square to the arm, on a pad along it
            ax.plot(*np.stack([pad - half, pad + half]).T, color=colour, linewidth=7.0 if i == 0 else 4.0, alpha=0.8)
        arc = np.array([pad_at(turn) for turn in np.linspace(0.0, max(last, 0.02), 40)])
        ax.plot(*arc.T, color=FAINT, linewidth=1.0, zorder=1.0)
        for place, name, mark in ((foot.stop, "pedal stop", "^"), (foot.room, "floor", "s")):
            if place is not None:
                at = pad_at(float(place) / float(foot.radius))
                ax.plot(*at, marker=mark, markersize=7.0, color=INK, linestyle="none", label=name, gid=name)
        ax.plot(*pivot, marker="o", markersize=8.0, markerfacecolor="white", color=INK, zorder=4.0)
        ax.plot(*end, marker="s", markersize=6.0, color=PALETTE[1], linestyle="none", label="casing end", zorder=4.0)
        ax.set_aspect("equal", adjustable="datalim")
        ax.margins(0.08)
        ax.legend(loc="best", fontsize=SMALL, framealpha=0.9, edgecolor="none", facecolor="white")
    return ax


def underfoot(run: Motion, ax: Axes | None = None) -> Axes:
    """Plot the opening of the first-named shaft over the pad's travel [%], against a straight line.

    Dashed: the same over the cable's travel, where a cable takes it. Parameters as of :func:`pedal_view`.
    """
    with style.look():
        ax = panel.ready(ax, "What the foot feels open", "Pad travel, free play taken up [%]", "Opened [%]")
        share = np.linspace(0.0, 1.0, 101)
        turns = turn_at_share(run, share)
        if not np.all(np.isfinite(turns)):
            return panel.told(ax, "no pedal takes this linkage to wide open")
        name = next(iter(run.rig.shaft))
        one, other = style.pens(["pad", "cable"]).values()
        ax.plot([0.0, 100.0], [0.0, 100.0], color=FAINT, linewidth=1.0)
        told = [(turns, "over the pad", one)]
        if run.by_cable:
            told.append((run.turn_at_fraction(share), "over the cable", other))
        for at, words, pen in told:
            angle = run.at(at).plate_angle[name]
            ax.plot(
                100.0 * share, 100.0 * (angle - angle[0]) / (angle[-1] - angle[0]), color=pen.colour,
                linestyle=pen.dashes, linewidth=pen.width, label=words, gid=f"curve.{words}",
            )  # fmt: skip
        ax.set(xlim=(-1.5, 101.5), ylim=(-3.0, 103.0))
        ax.legend(loc="upper left", fontsize=SMALL, framealpha=0.9, edgecolor="none", facecolor="white")
    return ax


def followers(run: Motion, ax: Axes | None = None) -> Axes:
    """Plot what share of its stroke every follower has done over the travel [%], a mark at 10, 50 and 90 %.

    Parameters as of :func:`pedal_view`.
    """
    with style.look():
        ax = panel.ready(ax, "What moves along", "Travel [%]", "Stroke done [%]")
        found = following.followers(run)
        if not found:
            return panel.told(ax, "the design names no follower: add a table [follower.NAME]")
        fine = panel.closely(run)
        ax.plot([0.0, 100.0], [0.0, 100.0], color=FAINT, linewidth=1.0)
        size, unit = own_scale(run.rig.units, "length"), own_unit(run.rig.units, "length")
        pens = style.pens(found)
        for name, at in found.items():
            pen = pens[name]
            told = f"{at.stroke:.1f}°" if at.unit == "deg" else f"{at.stroke / size:.{1 if size == 1.0 else 2}f} {unit}"
            done = following.stroke(fine, run.rig.follower[name]) / max(at.stroke, 1e-12)
            ax.plot(
                100.0 * fine.fraction, 100.0 * done, color=pen.colour, linestyle=pen.dashes, linewidth=pen.width,
                label=f"{name}, {told}", gid=f"curve.{name}",
            )  # fmt: skip
            places = [(100.0 * one.fraction, 100.0 * one.share) for one in at.done]
            ax.plot(*np.array(places).T, color=pen.colour, marker=pen.marker, markersize=5.0, linestyle="none")
        ax.set(xlim=(-1.5, 101.5), ylim=(-3.0, 108.0))
        ax.legend(loc="upper left", fontsize=SMALL, framealpha=0.9, edgecolor="none", facecolor="white")
    return ax


def footwell(run: Motion) -> Figure:
    """Draw the pedal, the opening underfoot, the effort and the followers on an A4 page.

    Parameters
    ----------
    run : Motion
        Lengths and forces in the design's own unit [mm or in, N or lbf].

    Returns
    -------
    matplotlib Figure

    Examples
    --------
    >>> import linkage
    >>> run = linkage.solve(linkage.read("demo/pedal_box.toml"))  # doctest: +SKIP
    >>> linkage.plots.save(linkage.plots.footwell(run), "footwell.pdf")  # doctest: +SKIP
    """
    figure = style.figure(*A4)
    with style.look():
        wide, high = 0.395, 0.355
        places = [figure.add_axes((x, y, wide, high)) for y in (0.545, 0.075) for x in (0.075, 0.565)]
        heading = figure.text(0.03, 0.965, "", size=HEAD + 3.0, weight="bold", color=INK, va="top", gid="title")
        heading.set_text(wrapped(places[0], run.rig.title, HEAD + 3.0, 72.0 * A4[0] * 0.9, "bold", lines=1))
    pedal_view(run, places[0])
    underfoot(run, places[1])
    loads.effort(run, places[2], against="pedal" if run.pedal is not None else None)
    followers(run, places[3])
    return figure


def _pad_angle(run: Motion) -> float:
    """Angle of the pad's arm at rest [rad]."""
    pedal = run.rig.pedal
    assert pedal is not None
    assert pedal.pivot is not None
    pad = pedal.arm["pad"]
    if pad.pin is None:
        return float(np.radians(run.train.dims["pedal.arm.pad.angle"]))
    return float(np.arctan2(pad.pin[1] - pedal.pivot[1], pad.pin[0] - pedal.pivot[0]))
