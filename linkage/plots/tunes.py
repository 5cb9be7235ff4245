"""A bench tuning: the mismatch as read, as estimated, and as it is to be after the adjustments."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from linkage.answers.mismatch import REGION
from linkage.answers.sensitivities import sensitivities
from linkage.motion import Motion
from linkage.plots import panel, style
from linkage.plots.style import INK, SMALL, SOFT
from linkage.search.estimate import COVERAGE
from linkage.search.tune import Tuning

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Floats = NDArray[np.float64]

_FINE = 121
_SPARE, _KEY = 0.06, 0.24  # of the scale, free above and, for the key, below


def tuned(tuning: Tuning, ax: Axes | None = None) -> Axes:
    """Plot how far every shaft's plates stand from the first-named shaft's [deg], over that shaft's plate angle [deg].

    Points are the readings, their bars two standard deviations, crossed out where they were left out. The solid
    curve is the linkage as estimated, in its band of uncertainty (two standard deviations); the dashed one
    what the adjustments make of it. Hatched is beyond the limits; a cross off the scale stands at its edge,
    with its value in the key.

    Parameters
    ----------
    tuning : Tuning
    ax : matplotlib Axes, optional
        None: a new figure.

    Returns
    -------
    matplotlib Axes

    Examples
    --------
    >>> import linkage
    >>> rig = linkage.read("demo/bench_job.toml")  # doctest: +SKIP
    >>> linkage.plots.tuned(linkage.tune(rig, "demo/bench_job_readings.csv"))  # doctest: +SKIP
    """
    first, *others = tuning.run.rig.shaft
    found, after = _over_readings(tuning), _between_stops(tuning.advice.adjusted)
    with style.look():
        ax = panel.ready(ax, "Mismatch on the bench", f"Plate angle of {first} [°]", f"Plate less that of {first} [°]")
        pens = style.pens(others)
        room = 2.0 * tuning.run.rig.limits.mismatch_off_idle
        reach = [-room, room]
        for name in others:
            pen = pens[name]
            x, y = found.plate_angle[first], found.plate_angle[name] - found.plate_angle[first]
            within = _within(tuning, found, first, name)
            ax.fill_between(x, y - within, y + within, color=pen.colour, alpha=0.16, linewidth=0.0, zorder=1.5)
            ax.plot(x, y, color=pen.colour, linewidth=2.0, label=f"{name}, as estimated", gid=f"tuned.found.{name}")
            reach += [float(np.min(y - within)), float(np.max(y + within))]
            if not tuning.advice.stop:
                x, y = after.plate_angle[first], after.plate_angle[name] - after.plate_angle[first]
                ax.plot(
                    x, y, color=pen.colour, linewidth=1.6, linestyle=(0, (4, 2)), label=f"{name}, adjusted",
                    gid=f"tuned.after.{name}",
                )  # fmt: skip
                reach += [float(np.min(y)), float(np.max(y))]
            reach += _points(ax, tuning, first, name, pen)
        low, high = min(reach), max(reach)
        ax.set_ylim(low - _KEY * (high - low), high + _SPARE * (high - low))
        for name in others:
            _left_out(ax, tuning, first, name, (low, high))
        ends = [*found.plate_angle[first][[0, -1]], *after.plate_angle[first][[0, -1]]]
        panel.over(ax, np.array([min(ends), max(ends)]))
        _limits(ax, tuning, after.plate_angle[first])
        ax.axhline(0.0, color=SOFT, linewidth=0.8, zorder=1.2)
        ax.legend(loc="lower center", fontsize=SMALL, ncols=3, columnspacing=1.6)
    return ax


def _between_stops(run: Motion) -> Motion:
    return run.at(np.linspace(*run.ends, _FINE))


def _over_readings(tuning: Tuning) -> Motion:
    """The linkage as estimated, from the first to the last turn at which it stood or could stand."""
    run = tuning.advice.found
    turns = [*tuning.estimate.turn[np.isfinite(tuning.estimate.turn)], *run.ends]
    low, high = min(turns), max(turns)
    return run.at(np.linspace(low, high, _FINE) if run.ends[0] <= run.ends[1] else np.linspace(high, low, _FINE))


def _within(tuning: Tuning, run: Motion, first: str, name: str) -> Floats:
    """Uncertainty of the difference where the first shaft stands at an angle, two standard deviations [deg]."""
    by = sensitivities(run)
    rows = {d.path: i for i, d in enumerate(by.dimensions)}
    listed = [rows[d.path] for d in tuning.estimate.dimensions]
    ratio = run.plate_speed[name] / run.plate_speed[first]
    slope = by.plate_angle[name][listed] - ratio * by.plate_angle[first][listed]
    variance = np.einsum("in,ij,jn->n", slope, tuning.estimate.covariance, slope)
    return np.asarray(COVERAGE * np.sqrt(np.maximum(variance, 0.0)))


def _pairs(tuning: Tuning, first: str, name: str, *, bad: bool) -> list[tuple[float, float]]:
    """Plate of the first shaft and how far the other was read from it, at the rows where both were read."""
    out = {(r.row, r.shaft) for b in tuning.estimate.bad for r in (b.reading, *b.or_else)}
    read = {(r.row, r.shaft): r.value for r in tuning.estimate.expected.used if r.what == "plate"}
    return [
        (read[row, first], value - read[row, first])
        for (row, shaft), value in read.items()
        if shaft == name and (row, first) in read and bad == bool({(row, first), (row, name)} & out)
    ]


def _points(ax: Axes, tuning: Tuning, first: str, name: str, pen: style.Pen) -> list[float]:
    """The readings of both shafts at one position; returns how far they reach."""
    pairs = _pairs(tuning, first, name, bad=False)
    bar = COVERAGE * 2.0**0.5 * tuning.noise.plate
    if pairs:
        here = np.array(pairs)
        ax.errorbar(
            here[:, 0], here[:, 1], yerr=bar, fmt=pen.marker, markersize=5.0, color=pen.colour, ecolor=style.FAINT,
            elinewidth=1.0, markeredgecolor="white", markeredgewidth=0.6, zorder=3, label=f"{name}, read",
        )  # fmt: skip
    return [y + side for _, y in pairs for side in (-bar, bar)]


def _left_out(ax: Axes, tuning: Tuning, first: str, name: str, scale: tuple[float, float]) -> None:
    """Crosses where a bad reading was; at the edge where it is off the scale."""
    for x, y in _pairs(tuning, first, name, bad=True):
        ax.plot(
            x, min(max(y, scale[0]), scale[1]), marker="x", markersize=7.0, markeredgewidth=1.8, color=INK,
            linestyle="none", zorder=3.2, label=f"{name}, left out: {style.angle_text(y)}", gid=f"tuned.bad.{name}",
        )  # fmt: skip


def _limits(ax: Axes, tuning: Tuning, along: Floats) -> None:
    """The limits of the regions on either side, hatched beyond."""
    limits, (low, high) = tuning.run.rig.limits, (float(along[0]), float(along[-1]))
    early, late = min(low + REGION, high), max(high - REGION, low)
    parts = [(low, early, limits.mismatch_off_idle), (late, high, limits.mismatch_at_wide_open)]
    if early < late:
        parts.insert(1, (early, late, limits.mismatch))
    for left, right, limit in parts:
        for side, end in zip((-1.0, 1.0), ax.get_ylim(), strict=True):
            if limit < abs(end):
                panel.forbidden(ax, left, right, side * limit, end)
                ax.plot([left, right], [side * limit] * 2, color=INK, linewidth=1.1, linestyle=(0, (5, 2)), zorder=2)
    ax.plot(
        [low, low], [-limits.mismatch_at_idle, limits.mismatch_at_idle], linestyle="none", marker="_", markersize=12,
        markeredgewidth=2.2, color=INK, label=f"limit {limits.mismatch_at_idle:g}° at idle", zorder=3,
    )  # fmt: skip
