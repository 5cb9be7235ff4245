"""Pictures of what moves a real linkage off the drawing: tolerance, heat, clearance, the air of the plates.

All are worked out afresh. Where the design lacks what a picture needs, the picture says what to add.
"""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from linkage.answers import clearance as clearances
from linkage.answers import flow, tolerance
from linkage.answers import heat as warmth
from linkage.answers.clearance import Gap, Part
from linkage.answers.mismatch import spread
from linkage.answers.stacks import stack_up
from linkage.motion import Motion
from linkage.plots import style
from linkage.plots.geometry import linkage_view
from linkage.plots.labels import Board, Label
from linkage.plots.page import inside
from linkage.plots.panel import closely, over, ready, told
from linkage.plots.style import BAD, INK, PALETTE, SMALL, SOFT
from linkage.plots.views import VIEWS, View, ViewName, flat, view_named
from linkage.quantities import own_scale
from linkage.train import compared

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Floats = NDArray[np.float64]

_BARS = 12  # dimensions shown in a ranking


def tolerance_shares(run: Motion, ax: Axes | None = None, *, links_set: bool = True) -> Axes:
    """Plot how far each dimension's tolerance moves the mismatch [deg] where it is largest, largest first.

    Parameters
    ----------
    run : Motion
    ax : matplotlib Axes, optional
        None: a new figure.
    links_set : bool
        With every link set on the bench at idle; else as the parts come.

    Returns
    -------
    matplotlib Axes

    Examples
    --------
    >>> import linkage
    >>> run = linkage.solve(linkage.read("demo/flat_six.toml"))  # doctest: +SKIP
    >>> linkage.plots.tolerance_shares(run)  # doctest: +SKIP
    """
    how = "links set at idle" if links_set else "parts as they come"
    with style.look():
        ax = ready(ax, "What moves the mismatch", "Moves the mismatch by plus or minus [°]", "")
        if lacking := tolerance.lacks(run.rig):
            return told(ax, lacking)
        stacks = stack_up(tolerance.links_fitted(run) if links_set else run, links_set=links_set)
        place = stacks.governs
        if not place.shares:
            return told(ax, "No tolerance of this design moves the mismatch.")
        shown = [share for share in place.shares[:_BARS] if share.moves > 0.01 * place.shares[0].moves]
        rows = np.arange(len(shown))[::-1]
        moves = np.array([share.moves for share in shown])
        most = float(moves[0])
        ax.barh(rows, 2.0 * moves, left=-moves, height=0.62, color=PALETTE[0], zorder=2.0, gid="bars")
        ax.plot([0.0, 0.0], [-0.6, len(shown) - 0.4], color=INK, linewidth=0.9, zorder=2.5)
        for row, share in zip(rows, shown, strict=True):
            ax.annotate(
                f"{100.0 * share.share:.0f} %", (share.moves, row), (4.0, 0.0), textcoords="offset points",
                size=SMALL, va="center", color=INK,
            )  # fmt: skip
        ax.set_xlim(-1.22 * most, 1.22 * most)
        ax.set_ylim(-0.6 - 0.22 * len(shown), len(shown) - 0.4)
        ax.set_yticks(rows, [_short(share.dimension.path) for share in shown], fontsize=SMALL)
        ax.grid(False, axis="y")
        says = (
            f"{how[:1].upper()}{how[1:]}. {place.between[0]} against {place.between[1]} "
            f"at {100.0 * place.fraction:.0f} % of the travel. "
            f"Root sum square {stacks.largest.rss:.2f}°, worst case {stacks.largest.worst_case:.2f}°. "
            "Percent: share of the variance."
        )
        ax.text(0.01, 0.02, textwrap.fill(says, 56), transform=ax.transAxes, size=SMALL, color=SOFT, va="bottom")
        _room_for_names(ax)
    return ax


def _short(path: str) -> str:
    """``shaft.left.arm.drive.radius`` as ``left.drive radius``."""
    parts = path.split(".")
    if parts[0] == "link":
        return f"link {parts[1]}, {parts[-1]}"
    if "arm" in parts:
        return f"{parts[1]}.{parts[3]}, {parts[-1]}"
    return f"{parts[1]}, {' '.join(parts[2:])}"


def _room_for_names(ax: Axes) -> None:
    """Move the left edge of the axes in until the names beside it stand on the page."""
    page = style.figure_of(ax)
    left = min((label.get_window_extent().x0 for label in ax.get_yticklabels()), default=0.0)
    box, width = ax.get_position(), float(page.bbox.width)
    if left < page.bbox.x0 + 4.0:
        shift = (page.bbox.x0 + 6.0 - left) / width
        ax.set_position((box.x0 + shift, box.y0, box.width - shift, box.height))


def hot_and_cold(run: Motion, ax: Axes | None = None) -> Axes:
    """Plot the mismatch [deg] cold and hot over the travel [%], each between its own stops.

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
        ax = ready(ax, "Mismatch hot and cold", "Travel [%]", "Mismatch [°]")
        if lacking := warmth.lacks(run.rig):
            return told(ax, lacking)
        report = warmth.heat(run)
        assert report is not None
        if report.hot is None:
            return told(ax, f"Grown by the heat, {report.jams}.")
        if len(compared(run.rig)) < 2:
            return told(ax, "One shaft: nothing to compare.")
        ax.set_xlim(-1.5, 101.5)
        curves = []
        for name, state, colour, dashes in (
            ("cold", report.cold, PALETTE[0], "-"), ("hot", report.hot, PALETTE[1], (0, (5, 2)))
        ):  # fmt: skip
            fine = closely(state.run)
            curve = np.column_stack([100.0 * fine.fraction, spread(fine)])
            ax.plot(*curve.T, color=colour, linestyle=dashes, linewidth=2.2, label=name, gid=f"curve.{name}")
            curves.append((name, state, curve, colour))
        ax.set_ylim(0.0, max(1.3 * max(float(np.max(curve[:, 1])) for _, _, curve, _ in curves), 0.1))
        board = Board(ax, inside(ax))
        labels = []
        for name, state, curve, colour in curves:
            board.drawn(curve, 8.0)
            top = (100.0 * state.mismatch.largest.fraction, state.mismatch.largest.value)
            idle = (0.0, state.mismatch.at_idle)
            ax.plot(*np.transpose([top, idle]), "o", color=colour, markeredgecolor="white", markersize=6, clip_on=False)
            labels.append(Label("", f"{name}: largest {top[1]:.3f}°", top, top, colour, f"{name}.largest", clear=6.0))
            labels.append(Label("", f"{name}: {idle[1]:.3f}° at idle", idle, idle, colour, f"{name}.idle", clear=6.0))
        board.place(labels)
    return ax


def air_apart(run: Motion, ax: Axes | None = None) -> Axes:
    """Plot how far the air of each shaft's plates stands off their mean [%] over the travel [%].

    Parameters
    ----------
    run : Motion
    ax : matplotlib Axes, optional
        None: a new figure.

    Returns
    -------
    matplotlib Axes

    References
    ----------
    See :mod:`linkage.answers.flow`.
    """
    with style.look():
        ax = ready(ax, "Air per plate, off the mean", "Travel [%]", "Off the mean of all plates [%]")
        if lacking := flow.lacks(run.rig):
            return told(ax, lacking)
        fine = closely(run)
        report = flow.air_flow(fine)
        assert report is not None
        each = np.stack([air / run.rig.shaft[name].plates for name, air in report.flow.items()])
        mean = np.mean(each, axis=0)
        with np.errstate(divide="ignore", invalid="ignore"):
            off = np.where(np.isnan(report.spread_percent), np.nan, 100.0 * (each / mean - 1.0))
        x, pens = 100.0 * fine.fraction, style.pens(run.rig.shaft)
        for i, name in enumerate(report.flow):
            pen = pens[name]
            ax.plot(
                x, off[i], color=pen.colour, linestyle=pen.dashes, linewidth=pen.width, label=name, gid=f"curve.{name}",
                marker=pen.marker, markersize=5.0, markeredgecolor="white", markevery=(5 + 7 * i % 30, 30),
            )  # fmt: skip
        over(ax, x)
        most = max(float(np.nanmax(np.abs(off), initial=0.0)), 0.5)
        ax.set_ylim(-1.45 * most, 1.45 * most)
        ax.axhline(0.0, color=SOFT, linewidth=0.8)
        idle = [f"{by:.3f}° at {name}" for name, by in report.one_percent.items() if by is not None]
        if idle:
            words = textwrap.fill(f"one percent of the idle air: {', '.join(idle)}", 84)
            ax.text(0.01, 0.02, words, transform=ax.transAxes, size=SMALL, color=SOFT, va="bottom", gid="one_percent")
        ax.legend(loc="upper left", ncols=4, fontsize=SMALL, framealpha=0.9, edgecolor="none", facecolor="white")
    return ax


def least_gap(run: Motion, ax: Axes | None = None, *, view: ViewName | None = None) -> Axes:
    """Draw the linkage where two parts come nearest [mm or in], both at their thickness, and mark the place.

    Parameters
    ----------
    run : Motion
    ax : matplotlib Axes, optional
        Its box should have its final size. None: a new figure.
    view : {"front", "plan", "side"}, optional
        Left out: the one that shows the gap best.

    Returns
    -------
    matplotlib Axes
        Data coordinates are the design's own length unit [mm or in].
    """
    report = None if clearances.lacks(run.rig) else clearances.clearance(run)
    if report is None:
        with style.look():
            lacking = clearances.lacks(run.rig) or "No two parts of this design can come nearer."
            return told(ready(ax, "Clearance", "", ""), lacking)
    least = report.least
    seen = view_named(view or _best_view(least))
    ax = linkage_view(run, ax, at=(least.fraction,), view=seen.name, labels=False)
    with style.look():
        units = run.rig.units
        board = Board(ax, inside(ax))
        lines = clearances.centre_lines(run.at(least.turn))
        for part in clearances.parts_of(run):
            if part.name in least.between:
                _thick(ax, seen, part, lines[part.name], units)
        one, two = flat(seen, least.points, units)
        ax.plot(*np.stack([one, two]).T, color=BAD, linewidth=1.4, marker="o", markersize=4, zorder=6.2, gid="gap")
        middle = 0.5 * (one + two)
        ax.plot(*middle, "o", markersize=26, markerfacecolor="none", markeredgecolor=BAD, markeredgewidth=1.6,
                zorder=6.3, gid="place")  # fmt: skip
        at = (float(middle[0]), float(middle[1]))
        body = f"and {least.between[1]}\n{_gap_words(least, units)}\nat {100.0 * least.fraction:.0f} % of the travel"
        _note_all(board)
        board.place([Label(least.between[0], body, at, at, BAD, gid="least", clear=15.0)])
    return ax


def _best_view(gap: Gap) -> ViewName:
    """The view in which the line of the gap shows longest; the front if that shows most of it."""
    one, two = np.array(gap.points)
    seen = {name: float(np.hypot(*flat(view, two - one, "mm"))) for name, view in VIEWS.items()}
    best = max(VIEWS, key=lambda name: seen[name])
    return VIEWS[best].name if seen[best] > 1.3 * seen["front"] + 1e-6 else "front"


def _thick(ax: Axes, view: View, part: Part, line: tuple[Floats, Floats], units: str) -> None:
    """A part as the round-ended bar that it counts as."""
    from matplotlib.patches import Polygon

    radius = 0.5 * (part.thickness or 0.0) / own_scale(units, "length")
    start, end = flat(view, line[0][0], units), flat(view, line[1][0], units)
    angle = float(np.arctan2(*(end - start)[::-1]))
    turn = np.linspace(-0.5 * np.pi, 0.5 * np.pi, 19)
    round_end = np.column_stack([np.cos(angle + turn), np.sin(angle + turn)]) * radius
    outline = np.vstack([end + round_end, start - round_end])
    ax.add_patch(
        Polygon(outline, closed=True, facecolor=PALETTE[4], edgecolor=BAD, alpha=0.45, linewidth=1.0, zorder=4.6,
                gid=f"part.{part.name}")
    )  # fmt: skip


def _note_all(board: Board) -> None:
    """Tell a board what stands on the axes already, so that no word hides it."""
    ax = board.ax
    for line in ax.get_lines():
        if line.get_transform() == ax.transData:
            board.drawn(np.column_stack([np.asarray(part, float) for part in line.get_data()]), 4.0)
    for patch in ax.patches:
        outline = patch.get_path().transformed(patch.get_patch_transform()).to_polygons()
        if patch.get_transform() == patch.get_patch_transform() + ax.transData:
            for ring in outline:
                board.drawn(np.asarray(ring), 4.0)
    for words in ax.texts:
        board.written(words)


def _gap_words(gap: Gap, units: str) -> str:
    size = style.length_text(abs(gap.gap), units)
    return f"pass through each other by {size} {units}" if gap.gap < 0.0 else f"{size} {units} apart"
