"""The axes of a curve: travel along the foot, lines that are told apart, bands that a limit forbids."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from linkage import turns
from linkage.motion import Motion
from linkage.plots import key, style
from linkage.plots.key import Place
from linkage.plots.page import size_of
from linkage.plots.style import INK, PLAIN, SMALL, SOFT, Pen
from linkage.quantities import own_scale

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Floats = NDArray[np.float64]
Against = Literal["cable", "pedal", "turn", "fraction"]

#: positions to a curve
FINE = 181

_MARKS_EVERY = 30


def closely(run: Motion) -> Motion:
    """The same motion at closely spaced positions, and on either side of every kink."""
    first, last = run.ends
    if not run.kinks:
        return run.at(np.linspace(first, last, FINE))
    turns = np.unique([*np.linspace(first, last, FINE), *(end for piece in run.pieces() for end in piece)])
    return run.at(turns if first <= last else turns[::-1])


def travel_axis(run: Motion, against: Against | None) -> tuple[Floats, str]:
    """Travel as the curves count it, and the words for it with the unit.

    None: cable travel where the design has a cable that takes it, else the share of the travel.
    """
    units = run.rig.units
    if against is None:
        against = "cable" if run.by_cable else "fraction"
    if against == "fraction":
        return 100.0 * run.fraction, "Travel [%]"
    if against == "turn":
        rig, driver = run.rig, run.rig.driver
        words = f"{turns.word_of(rig, driver).capitalize()} of {driver} from drawn"
        unit = turns.unit_of(rig, driver).replace("deg", "°")
        return run.turn / turns.scale_of(rig, driver), f"{words} [{unit}]"
    found = {"cable": run.cable, "pedal": run.pedal}.get(against)
    if against not in ("cable", "pedal"):
        raise ValueError(f'against: must be "cable", "pedal", "turn" or "fraction", got {against!r}')
    if found is None:
        raise ValueError(f'against: this design has no {against}; use "fraction" or "turn"')
    words = "Cable travel" if against == "cable" else "Pedal travel"
    if against == "cable" and found[-1] < 0.0:
        found, words = -found, "Cable paid out"
    return np.asarray(found / own_scale(units, "length")), style.with_unit(words, units)


def ready(ax: Axes | None, title: str, across: str, up: str) -> Axes:
    ax = style.axes(ax)
    style.dress(ax)
    ax.set_title(title, loc="left", fontsize=style.HEAD, fontweight="bold", color=INK)
    ax.set_xlabel(across, fontsize=style.PLAIN, color=INK)
    ax.set_ylabel(up, fontsize=style.PLAIN, color=INK)
    return ax


def lines(ax: Axes, of: str, x: Floats, curves: Mapping[str, Floats], pens: Mapping[str, Pen]) -> None:
    """One line a name, with its own colour, dashes and marks, the marks of one beside those of another."""
    for i, (name, y) in enumerate(curves.items()):
        pen = pens[name]
        ax.plot(
            x, y, color=pen.colour, linestyle=pen.dashes, linewidth=pen.width, label=name, gid=f"{of}.{name}",
            marker=pen.marker, markersize=5.0, markeredgecolor="white", markeredgewidth=0.6,
            markevery=(5 + (7 * i) % _MARKS_EVERY, _MARKS_EVERY), zorder=2.5 + 0.01 * i,
        )  # fmt: skip


def over(ax: Axes, x: Floats) -> None:
    """Let the scale run over the travel and no further."""
    low, high = float(np.min(x)), float(np.max(x))
    spare = 0.015 * (high - low) if high > low else 1.0
    ax.set_xlim(low - spare, high + spare)


def named(ax: Axes, wanted: bool, where: Place, height: float = 0.0) -> None:
    """Name the curves above a ``height`` [-] of the axes."""
    if wanted:
        handles, names = ax.get_legend_handles_labels()
        wide, high = size_of(ax)
        key.fitted(ax, handles, names, where, (0.0, height, 1.0, 1.0 - height), (0.98 * wide, 0.42 * high))


def forbidden(ax: Axes, left: float, right: float, low: float, high: float) -> None:
    """Hatch what a limit forbids."""
    ax.fill_between(
        [left, right], low, high, facecolor="none", edgecolor=style.FAINT, hatch="////", linewidth=0.0, zorder=0.5
    )


def name_band(ax: Axes, words: str, level: float) -> None:
    """Write on a band where the key is not; nowhere if it is everywhere."""
    legend = ax.get_legend()
    for x, align in ((0.5, "center"), (0.02, "left"), (0.98, "right")):
        text = ax.annotate(
            words, (x, level), xycoords=("axes fraction", "data"), size=SMALL, color=INK, ha=align, va="center",
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5, "alpha": 0.9},
        )  # fmt: skip
        if legend is None or not text.get_window_extent().overlaps(legend.get_window_extent()):
            return
        text.remove()


def say(ax: Axes, words: str) -> None:
    ax.text(0.5, 0.5, words, transform=ax.transAxes, ha="center", va="center", size=style.PLAIN, color=SOFT)


def told(ax: Axes, words: str) -> Axes:
    """Say in a picture without curves why it is empty, in lines that fit it; no scales, they would mean nothing."""
    say(ax, "\n".join(textwrap.wrap(words[:1].upper() + words[1:], 40)))
    ax.texts[-1].set_fontsize(PLAIN)
    ax.set_xticks([])
    ax.set_yticks([])
    ax.set_xlabel("")
    ax.set_ylabel("")
    return ax
