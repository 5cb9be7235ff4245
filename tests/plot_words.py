"""What a picture shows: its words and where they stand, its named parts, its curves."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox
from numpy.typing import NDArray

from linkage.plots import style

#: room for the rounding of letters to pixels
PIXEL = 0.75


def words(figure: Figure) -> list[tuple[str, Bbox]]:
    """Every text that shows, with its box in pixels."""
    figure.draw_without_rendering()
    return [(text.get_text(), text.get_window_extent()) for ax in figure.axes for text in _of(ax)]


def _of(ax: Axes) -> Iterator[Text]:
    legend = ax.get_legend()
    shown = [*ax.texts, *(legend.get_texts() if legend is not None else [])]
    if ax.axison:
        shown += [ax.xaxis.label, ax.yaxis.label, *(ax.title, ax._left_title, ax._right_title)]  # type: ignore[attr-defined]
        for axis in (ax.xaxis, ax.yaxis):
            low, high = sorted(axis.get_view_interval())
            spare = 1e-9 * (high - low)
            shown += [t.label1 for t in axis.get_major_ticks() if low - spare <= t.get_loc() <= high + spare]
    yield from (text for text in shown if text.get_visible() and text.get_text().strip())


def outside(figure: Figure) -> list[str]:
    """Words that leave the page."""
    page = figure.bbox
    return [
        text
        for text, box in words(figure)
        if box.x0 < page.x0 or box.y0 < page.y0 or box.x1 > page.x1 or box.y1 > page.y1
    ]


def overlaps(figure: Figure) -> list[tuple[str, str]]:
    """Pairs of words that lie on one another."""
    found = words(figure)
    return [
        (one, two)
        for i, (one, a) in enumerate(found)
        for two, b in found[i + 1 :]
        if min(a.x1, b.x1) - max(a.x0, b.x0) > PIXEL and min(a.y1, b.y1) - max(a.y0, b.y0) > PIXEL
    ]


def sizes(figure: Figure) -> set[float]:
    """Every size of letter [pt] that shows."""
    return {float(text.get_fontsize()) for ax in figure.axes for text in _of(ax)}


def named(ax: Axes, gid: str) -> Any:
    """The one artist of a name."""
    (only,) = ax.findobj(lambda artist: artist.get_gid() == gid)
    return only


def names(ax: Axes, start: str) -> list[str]:
    """Names of the artists that begin so."""
    return sorted(gid for gid in (str(artist.get_gid()) for artist in ax.findobj()) if gid.startswith(start))


def page(size: tuple[float, float] = (4.0, 3.2)) -> Axes:
    """Axes with room for their scales, on a page of a size [in]."""
    wide, high = size
    made: Axes = style.figure(wide, high).add_axes((0.66 / wide, 0.52 / high, 1 - 0.8 / wide, 1 - 0.9 / high))
    return made


def curve(ax: Axes, name: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The two columns of a curve."""
    line = named(ax, name)
    return np.asarray(line.get_xdata(), float), np.asarray(line.get_ydata(), float)
