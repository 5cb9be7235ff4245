"""Pictures of a sweep: a figure against a dimension, a map over two dimensions, the front of two figures.

They are drawn from the sweep's even sample of all candidates, and from those it kept.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from linkage.parts import Linkage
from linkage.plots import panel, style
from linkage.plots.style import FAINT, INK, PALETTE, SMALL, SOFT
from linkage.search.choose import Aim, aims
from linkage.search.figures import VERDICTS
from linkage.search.headings import columns_of, kinds
from linkage.search.swept import Sweep

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Floats = NDArray[np.float64]

_DASHES: tuple[Any, ...] = ("-", (0, (5, 2)), (0, (1, 1.5)), (0, (6, 1.5, 1, 1.5)), (0, (10, 3)), (0, (3, 1.2)))
_CELLS = 48  # to a side of a map, at most
_CLOUD = 20_000  # points of a cloud, at most
_FAIL = VERDICTS.index("fail")

#: limits of the design that are drawn, by figure
_LIMITS = {
    "mismatch_at_idle": "mismatch_at_idle",
    "mismatch_off_idle": "mismatch_off_idle",
    "mismatch_middle": "mismatch",
    "mismatch_last": "mismatch_at_wide_open",
    "transmission_angle": "transmission_angle",
    "toggle_margin_closing": "toggle_margin",
    "toggle_margin_opening": "toggle_margin",
    "tilt": "tilt",
    "wide_open_shortfall": "wide_open_shortfall",
}


def sweep_picture(found: Sweep, ax: Axes | None = None, *, by: str = "mismatch", over: Sequence[str] = ()) -> Axes:
    """Draw what a sweep most asks for: its front if it chose one, a map over two dimensions, or one curve.

    Parameters
    ----------
    found : Sweep
    ax : matplotlib Axes, optional
        None: a new figure.
    by : str
        The figure drawn, perhaps with the way in which it is better: ``"cable_travel:high"``.
    over : sequence of str
        One varied dimension or two; left out: the one, or the two, that there are, or of more the one that moves the
        figure most.

    Returns
    -------
    matplotlib Axes
    """
    if not over and len(found.choice.aims) > 1:
        return sweep_front(found, ax)
    name = _aim(found, by).name
    if not over:
        paths = found.variation.paths
        moves = found.influences().get(name, {})
        most = max(paths, key=lambda path: moves[path].index or 0.0 if path in moves else 0.0)
        over = paths if len(paths) == 2 else (most,)
    if len(over) == 2:
        return sweep_map(found, by, over[0], over[1], ax)
    return sweep_curve(found, by, over[0], ax)


def sweep_curve(found: Sweep, figure: str, path: str, ax: Axes | None = None) -> Axes:
    """Draw a figure against a varied dimension: every candidate of the sample, those that fail apart, and the best.

    ``figure`` may say the way in which it is better: ``"cable_travel:high"``. Axes in the design's own unit
    [mm or in] and [deg].
    """
    aim = _aim(found, figure)
    figure = aim.name
    x, y = _column(found, path, of_sample=True), _column(found, figure, of_sample=True)
    with style.look():
        ax = panel.ready(ax, _words(figure), _head(found, path), _head(found, figure))
        _cloud(ax, found, x, y)
        at, best = _best_along(x, y, aim)
        if at.size > 1:
            ax.plot(at, best, color=INK, linewidth=1.6, label="the best of each part", gid="sweep.best")
        _room(ax, x, y, aim)
        limit, (low, high) = _limit_of(found.rig, figure), ax.get_ylim()
        if limit is not None and low < limit < high:
            ax.axhline(
                limit, color=INK, linestyle=(0, (5, 2.5)), linewidth=1.0, label=f"limit {limit:g}", gid="sweep.limit"
            )
        _key(ax)
    return ax


def sweep_map(found: Sweep, figure: str, across: str, up: str, ax: Axes | None = None) -> Axes:
    """Draw a figure as a map over two varied dimensions, the best of each cell, with the design's limits as lines.

    Hatched: where no candidate passes every check. ``figure`` may say the way in which it is better:
    ``"cable_travel:high"``. Axes in the design's own unit [mm or in] and [deg].
    """
    aim = _aim(found, figure)
    figure = aim.name
    x, y = (_column(found, name, of_sample=True) for name in (across, up))
    ex, ey = _cells(x), _cells(y)
    i, j = (np.clip(np.searchsorted(e, v, side="right") - 1, 0, len(e) - 2) for e, v in ((ex, x), (ey, y)))
    seen, good = np.zeros((len(ey) - 1, len(ex) - 1), bool), np.zeros((len(ey) - 1, len(ex) - 1), bool)
    passes = found.of_sample("verdict") != _FAIL
    seen[j, i], good[j[passes], i[passes]] = True, True
    cell = _best_in(found, aim, i, j, seen.shape)
    with style.look():
        own = ax is None
        ax = panel.ready(ax, _words(figure), _head(found, across), _head(found, up))
        if own:  # room for the names of the limits below
            ax.set_position((0.095, 0.25, 0.88, 0.65))
        ax.grid(False)
        shown = ax.pcolormesh(ex, ey, np.ma.masked_invalid(cell), cmap="cividis", gid="sweep.map", rasterized=True)
        bar = style.figure_of(ax).colorbar(shown, ax=ax, pad=0.02)
        bar.set_label(_head(found, figure), fontsize=SMALL, color=INK)
        bar.ax.tick_params(labelsize=SMALL)
        for n, m in zip(*np.nonzero(seen & ~good), strict=True):
            box = (ex[m], ex[m + 1], ex[m + 1], ex[m]), (ey[n], ey[n], ey[n + 1], ey[n + 1])
            ax.fill(*box, facecolor="none", edgecolor="white", hatch="////", linewidth=0.0, alpha=0.6)
        middle = [0.5 * (e[1:] + e[:-1]) for e in (ex, ey)]
        drawn = [name for name in _LIMITS if min(seen.shape) > 1]
        names = {name: _best_in(found, _aim(found, name), i, j, seen.shape) for name in drawn}
        _limit_lines(ax, found.rig, middle, names)
        says = "the best of each cell" + ("; hatched: no candidate passes" if np.any(seen & ~good) else "")
        ax.set_title(says, loc="right", fontsize=SMALL, fontweight="normal", color=SOFT)
    return ax


def _aim(found: Sweep, figure: str) -> Aim:
    """A figure by its name, and the way in which it is better."""
    return aims([figure], kinds(found.rig, found.variation.paths))[0]


def _best_in(found: Sweep, aim: Aim, i: NDArray[np.intp], j: NDArray[np.intp], shape: tuple[int, int]) -> Floats:
    """The best of a figure in every cell of a map, ``nan`` where no candidate has it."""
    z = _column(found, aim.name, of_sample=True)
    sign = -1.0 if aim.better == "high" else 1.0
    cell = np.full(shape, np.inf)
    known = np.isfinite(z)
    np.minimum.at(cell, (j[known], i[known]), sign * z[known])
    return np.asarray(np.where(np.isfinite(cell), sign * cell, np.nan))


def _limit_lines(ax: Axes, rig: Linkage, middle: Sequence[Floats], cells: Mapping[str, Floats]) -> None:
    """The lines on a map where figures come to their limits, each with its own dashes."""
    from matplotlib.lines import Line2D
    from matplotlib.patheffects import withStroke

    edge = [withStroke(linewidth=2.8, foreground=INK)]
    key: list[Line2D] = []
    for figure, cell in cells.items():
        limit = _limit_of(rig, figure)
        if limit is None or not np.any(cell < limit) or not np.any(cell > limit):
            continue
        dashes = _DASHES[len(key) % len(_DASHES)]
        lines = ax.contour(
            *middle, np.ma.masked_invalid(cell), levels=[limit], colors=["white"], linewidths=1.4, linestyles=[dashes]
        )
        lines.set(path_effects=edge, gid=f"sweep.limit.{figure}")
        says = f"{_words(figure).lower()} {limit:g}"
        key.append(Line2D([], [], color="white", linestyle=dashes, linewidth=1.4, path_effects=edge, label=says))
    if key:
        ax.legend(
            handles=key, loc="upper center", bbox_to_anchor=(0.55, -0.13), ncols=3, fontsize=SMALL, frameon=False,
            title="limits", title_fontsize=SMALL,
        )  # fmt: skip


def sweep_front(found: Sweep, ax: Axes | None = None, *, figures: Sequence[str] = ()) -> Axes:
    """Draw the front of two figures among all candidates; of three, the third by the size of the points.

    Parameters
    ----------
    found : Sweep
        With a front, or any with ``figures``.
    ax : matplotlib Axes, optional
        None: a new figure.
    figures : sequence of str
        Two or three figures; left out, those of the sweep's own front. In [deg], and the design's own unit [mm or in].
    """
    if figures:
        found = found.front(*figures)
    names = [aim.name for aim in found.choice.aims] or [name.partition(":")[0] for name in figures]
    better = {aim.name: "more" if aim.better == "high" else "less" for aim in found.choice.aims}
    heads = [f"{_head(found, name)}, {better.get(name, 'less')} is better" for name in names]
    x, y = (_column(found, name, of_sample=True) for name in names[:2])
    fx, fy = (_column(found, name) for name in names[:2])
    with style.look():
        ax = panel.ready(ax, f"The front of {'two' if len(names) == 2 else 'three'} figures", heads[0], heads[1])
        _cloud(ax, found, x, y)
        size: Any = 36.0
        if len(names) == 2:
            order = np.argsort(fx, kind="stable")
            ax.plot(fx[order], fy[order], color=INK, linewidth=1.0, gid="sweep.front_line")
        elif len(fx):
            third = _column(found, names[2])
            size = 8.0 + 70.0 * (third - np.min(third)) / (float(np.ptp(third)) or 1.0)
            says = f"size of the points: {heads[2]}"
            ax.text(1.0, -0.085, says, transform=ax.transAxes, size=SMALL, color=SOFT, ha="right", va="top")
            ax.xaxis.set_label_coords(0.0, -0.09)
            ax.xaxis.label.set_horizontalalignment("left")
        ax.scatter(
            fx, fy, s=size, color=PALETTE[1], edgecolor="white", linewidth=0.6, zorder=3, label="the front",
            gid="sweep.front",
        )  # fmt: skip
        near = found.of_sample("verdict") != _FAIL
        _frame(ax, fx, fy, x[near], y[near])
        _key(ax)
    return ax


def _cloud(ax: Axes, found: Sweep, x: Floats, y: Floats) -> None:
    """The candidates of the sample, those that fail a check apart."""
    fails = found.of_sample("verdict") == _FAIL
    thin = np.arange(0, len(x), max(1, -(-len(x) // _CLOUD)))
    for rows, colour, mark, name in ((fails, FAINT, "x", "fails a check"), (~fails, PALETTE[5], "o", "passes")):
        here = thin[rows[thin]]
        if here.size:
            ax.plot(
                x[here], y[here], linestyle="none", marker=mark, markersize=2.6, color=colour, alpha=0.6, label=name,
                gid=f"sweep.{name}", rasterized=len(here) > 2000,
            )  # fmt: skip


def _column(found: Sweep, name: str, *, of_sample: bool = False) -> Floats:
    """A column in the design's own unit."""
    size = {column.name: column.size for column in columns_of(found.rig, found.variation.paths)}
    return np.asarray((found.of_sample(name) if of_sample else found[name]) / size[name])


def _head(found: Sweep, name: str) -> str:
    heading = {column.name: column.heading for column in columns_of(found.rig, found.variation.paths)}[name]
    words = _words(name) if name not in found.variation.paths else name
    return heading.replace(name, words, 1).replace("[deg]", "[°]")


def _words(name: str) -> str:
    text = name.replace("_", " ").replace("gap:", "gap of ").replace("length:", "length of ")
    return text[:1].upper() + text[1:]


def _limit_of(rig: Linkage, figure: str) -> float | None:
    return float(getattr(rig.limits, _LIMITS[figure])) if figure in _LIMITS else None


def _cells(values: Floats) -> Floats:
    """Edges of a map's cells: about every level if there are few, else even parts."""
    levels = np.unique(values)
    if len(levels) == 1:
        return np.array([levels[0] - 0.5, levels[0] + 0.5])
    if len(levels) <= _CELLS:
        middle = 0.5 * (levels[1:] + levels[:-1])
        return np.concatenate([2.0 * levels[:1] - middle[:1], middle, 2.0 * levels[-1:] - middle[-1:]])
    return np.asarray(np.linspace(levels[0], levels[-1], _CELLS + 1))


def _best_along(x: Floats, y: Floats, aim: Aim) -> tuple[Floats, Floats]:
    """The best of a figure in every part of a dimension."""
    known = np.isfinite(y)
    if not known.any():
        return np.empty(0), np.empty(0)
    x, y = x[known], y[known]
    edges = _cells(x)
    part = np.clip(np.searchsorted(edges, x, side="right") - 1, 0, len(edges) - 2)
    sign = -1.0 if aim.better == "high" else 1.0
    best = np.full(len(edges) - 1, np.inf)
    np.minimum.at(best, part, sign * y)
    used = np.isfinite(best)
    return np.asarray(0.5 * (edges[1:] + edges[:-1]))[used], np.asarray(sign * best[used])


def _room(ax: Axes, x: Floats, y: Floats, aim: Aim) -> None:
    """Scales that show the better nine tenths of the candidates well, wild ones aside."""
    known = y[np.isfinite(y)]
    panel.over(ax, x)
    if known.size:
        low, high = np.quantile(known, (0.0, 0.9) if aim.better == "low" else (0.1, 1.0))
        spare = 0.08 * (high - low) or 1.0
        ax.set_ylim(low - spare, high + spare)
    else:
        ax.set_ylim(0.0, 1.0)
        panel.say(ax, "no candidate has it")


def _frame(ax: Axes, fx: Floats, fy: Floats, x: Floats, y: Floats) -> None:
    """Scales that show the front, and of the cloud what is near it."""
    if not len(fx):
        ax.set(xlim=(0.0, 1.0), ylim=(0.0, 1.0))
        panel.say(ax, "no candidate is left")
        return
    for values, cloud, put in ((fx, x, ax.set_xlim), (fy, y, ax.set_ylim)):
        cloud = cloud[np.isfinite(cloud)]
        low, high = float(np.min(values)), float(np.max(values))
        reach = max(high - low, 1e-9)
        if cloud.size:
            low, high = (
                max(low - 0.5 * reach, min(low, float(np.min(cloud)))),
                min(high + 0.5 * reach, max(high, float(np.max(cloud)))),
            )
        spare = 0.06 * (high - low) or 1.0
        put(low - spare, high + spare)


def _key(ax: Axes) -> None:
    """Names beside the title, where no candidate lies."""
    if ax.get_legend_handles_labels()[0]:
        ax.legend(
            loc="lower right", bbox_to_anchor=(1.0, 0.995), ncols=4, fontsize=SMALL, frameon=False, handlelength=1.4,
            columnspacing=1.2, borderaxespad=0.0,
        )  # fmt: skip
