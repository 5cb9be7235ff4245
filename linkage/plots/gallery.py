"""A gallery: several linkages on one page, a drawing and a curve each, to choose a layout by looking."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from linkage.answers.mismatch import mismatch
from linkage.motion import Motion
from linkage.plots import geometry, panel, style
from linkage.plots import labels as words
from linkage.plots.scene import Scene, content, scene_of
from linkage.plots.style import INK, PLAIN, SMALL, SOFT
from linkage.plots.views import view_named
from linkage.train import compared

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

_EDGE = 0.35  # margin of the page, and between its cells [in]
_CELL = (6.6, 2.75)  # a drawing and a curve beside each other [in]
_CURVE = 2.55  # width of the curve [in]


def gallery(runs: Sequence[Motion], *, across: int = 2) -> Figure:
    """Draw linkages side by side: each at idle and wide open, with plate angle against travel.

    Parameters
    ----------
    runs : sequence of Motion, at least one
    across : int
        Cells beside each other.

    Returns
    -------
    matplotlib Figure
        Plate angles in [deg], travel in [%], all drawings at one scale.

    Raises
    ------
    ValueError
        There is nothing to draw.

    Examples
    --------
    >>> import linkage
    >>> runs = [linkage.solve(linkage.read("demo/flat_six.toml"))]  # doctest: +SKIP
    >>> linkage.plots.gallery(runs)  # doctest: +SKIP
    """
    if not runs:
        raise ValueError("runs: a gallery needs at least one motion")
    across = max(1, min(across, len(runs)))
    down = -(-len(runs) // across)
    wide, high = _EDGE + across * (_CELL[0] + _EDGE), _EDGE + down * (_CELL[1] + _EDGE)
    figure = style.figure(wide, high)
    scenes = [scene_of(run, (0.0, 1.0), view_named("front")) for run in runs]
    spans = np.concatenate([content(scene) for scene in scenes])
    within = np.stack([np.min(spans, axis=0), np.max(spans, axis=0)])
    with style.look():
        for i, scene in enumerate(scenes):
            row, column = divmod(i, across)
            left, top = _EDGE + column * (_CELL[0] + _EDGE), high - _EDGE - row * (_CELL[1] + _EDGE)
            _cell(figure, scene, within, left, top)
    return figure


def _cell(figure: Figure, scene: Scene, within: Floats, left: float, top: float) -> None:
    run = scene.run
    wide, high = figure.get_size_inches()

    def box(x: float, y: float, w: float, h: float) -> Axes:
        made: Axes = figure.add_axes((x / wide, y / high, w / wide, h / high))
        return made

    head = 0.5
    title = box(left, top - head, _CELL[0], head)
    title.set_axis_off()
    title.text(0.0, 1.0, words.wrapped(title, run.rig.title, 11.0, 72.0 * _CELL[0], "bold", lines=1), size=11,
               weight="bold", va="top", color=INK, transform=title.transAxes, gid="title")  # fmt: skip
    title.text(0.0, 0.42, _told(run), size=PLAIN, va="top", color=SOFT, transform=title.transAxes, gid="figures")
    body = _CELL[1] - head
    drawn = box(left, top - _CELL[1], _CELL[0] - _CURVE - 0.55, body)
    geometry.sketch(scene, drawn, within)
    ax = box(left + _CELL[0] - _CURVE, top - _CELL[1] + 0.36, _CURVE, body - 0.4)
    fine = panel.closely(run)
    x = 100.0 * fine.fraction
    ax.plot([0.0, 100.0], [_end(fine, 0), _end(fine, -1)], color=SOFT, linewidth=0.8, linestyle=(0, (2, 3)), zorder=1)
    panel.lines(ax, "plates", x, fine.plate_angle, style.pens(run.rig.shaft))
    style.dress(ax)
    ax.set(xlim=(0.0, 100.0), ylim=(0.0, 92.0), xticks=[0, 25, 50, 75, 100], yticks=[0, 30, 60, 90])
    ax.tick_params(labelsize=SMALL)
    ax.set_xlabel("cable travel [%]" if run.by_cable else "travel [%]", size=SMALL, labelpad=2)
    ax.set_title("plate angle [°]", size=SMALL, loc="left", pad=3, color=SOFT)


def _end(run: Motion, i: int) -> float:
    return float(np.mean([angle[i] for angle in run.plate_angle.values()]))


def _told(run: Motion) -> str:
    apart = mismatch(run).largest.value
    gains = run.at_fraction([0.0, 1.0]).gain[next(iter(run.rig.shaft))]
    told = []
    if len(compared(run.rig)) > 1:
        told.append("mismatch none" if apart < 1e-9 else f"largest mismatch {apart:.2f}°")
    if np.all(np.isfinite(gains)) and gains[0] != 0.0:
        told.append(f"gain at wide open / at idle {gains[1] / gains[0]:.2f}")
    return "  ·  ".join(told)
