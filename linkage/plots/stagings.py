"""Staging: the plates over the travel, with every pick-up marked and what comes in there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linkage.answers.staging import staging as worked_out
from linkage.motion import Motion
from linkage.plots import panel, style
from linkage.plots.panel import Against
from linkage.plots.style import INK, PAPER, SMALL, SOFT, angle_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def staging(run: Motion, ax: Axes | None = None, *, against: Against | None = None, legend: bool = True) -> Axes:
    """Plot the plate angle of every shaft [deg] over the travel, with the pick-ups of slotted links and tangs.

    Parameters
    ----------
    run : Motion
    ax : matplotlib Axes, optional
        None: a new figure.
    against : {"cable", "pedal", "turn", "fraction"}, optional
        What the travel is counted in; see :func:`linkage.plots.plate_angles`.
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
    >>> run = linkage.solve(linkage.read("demo/staged.toml"))  # doctest: +SKIP
    >>> linkage.plots.staging(run)  # doctest: +SKIP
    """
    found, fine = worked_out(run), panel.closely(run)
    x, words = panel.travel_axis(fine, against)
    with style.look():
        ax = panel.ready(ax, "Staging", words, "Plate angle [°]")
        panel.over(ax, x)
        if found is None:
            ax.set_ylim(0.0, 1.0)
            panel.say(ax, "no slotted link, no tang: all shafts move together")
            return ax
        panel.lines(ax, "staging", x, fine.plate_angle, style.pens(run.rig.shaft))
        first = next(iter(run.rig.shaft))
        for at in found.pick_ups:
            if not at.taken_up:
                continue
            here = run.at(at.turn)
            place = float(panel.travel_axis(here, against)[0][0])
            ax.axvline(place, color=SOFT, linewidth=0.9, linestyle=(0, (3, 2)), zorder=1.4, gid=f"staging.{at.name}")
            ax.plot(
                [place], [at.plate_angle], "o", markersize=5.0, markerfacecolor=PAPER, markeredgecolor=INK,
                zorder=3.4, gid=f"staging.{at.name}.first",
            )  # fmt: skip
            left = place > 0.5 * (float(x[0]) + float(x[-1]))
            says = f"{', '.join(at.shafts) or at.name} picked up\n{first} at {angle_text(at.plate_angle)}"
            says += f", then × {at.ratio:.2f}" if at.ratio == at.ratio else ""
            ax.annotate(
                says, (place, at.plate_angle), (-7.0 if left else 7.0, 6.0 if left else -6.0),
                textcoords="offset points", size=SMALL, color=INK, ha="right" if left else "left",
                va="bottom" if left else "top",
            )  # fmt: skip
        panel.named(ax, legend and len(run.rig.shaft) > 1, "upper left", 0.0)
    return ax
