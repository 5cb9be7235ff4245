"""The travel as a short motion picture (GIF) to send with a message: from idle to wide open and back."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from io import BytesIO
from typing import TYPE_CHECKING, Any

import numpy as np

from linkage.motion import Motion
from linkage.paper.fitting import extent, margins
from linkage.paper.ink import artists, draw, sheet, width_of, wrapped
from linkage.paper.naming import cut
from linkage.paper.numerals import Numerals
from linkage.paper.readings import Readings, readings
from linkage.paper.shapes import Bar, Curve, Dot, Picture, Shape, Words, moved
from linkage.paper.stage import staged, views_of, with_kinks
from linkage.plots.style import FAINT, INK, PALETTE, PAPER, SOFT

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from PIL.Image import Image

#: said in every film
SAYS = "A calculation, not a certificate. Prove the closing by hand, engine off."

_WIDE = 480.0  # of the picture [pt]
_EDGE = 14.0
_DPI = 108  # 720 pixels wide
_STEPS = 33  # positions from idle to wide open
_TICK, _REST = 50, 600  # milliseconds of a position, and of those at both ends
_COLOURS = 48
_FIGURES = 6  # most of them


def film(run: Motion) -> bytes:
    """Draw the travel of a linkage as a GIF that plays without end: opening, a rest, closing, a rest.

    Parameters
    ----------
    run : Motion

    Returns
    -------
    bytes
        A GIF 720 pixels wide, the same for the same design. Lengths in the design's own unit
        [mm or in], angles in [deg].

    Examples
    --------
    >>> import linkage
    >>> run = linkage.solve(linkage.read("demo/flat_six.toml"))  # doctest: +SKIP
    >>> data = film(run)  # doctest: +SKIP
    """
    from PIL.Image import Dither

    shares = with_kinks(run, 0.5 - 0.5 * np.cos(np.linspace(0.0, math.pi, _STEPS)))
    frames = list(_frames(run, shares))
    palette = _palette(frames)
    plain = [frame.quantize(palette=palette, dither=Dither.NONE) for frame in frames]
    order = [*range(_STEPS), *range(_STEPS - 2, 0, -1)]
    times = [_REST if i in (0, _STEPS - 1) else _TICK for i in order]
    data = BytesIO()
    first, *others = (plain[i] for i in order)
    first.save(data, "GIF", save_all=True, append_images=others, duration=times, loop=0, optimize=False, disposal=1)
    return data.getvalue()


def _frames(run: Motion, shares: Sequence[float] | np.ndarray[Any, Any]) -> Iterator[Image]:
    """A picture for every share of the travel: what stands still is drawn once."""
    from PIL import Image

    from linkage.plots import style

    views = [staged(run, view, size, shares=shares) for view, size in _sizes(run).items()]
    read = _few(readings(run.at_fraction(shares), Numerals(run.rig.units)))
    high = max(view.high for view in views)
    foot = 62.0
    title = wrapped(run.rig.title, 13.0, _WIDE - 2.0 * _EDGE, bold=True, most=2)
    size = _WIDE, foot + high + 8.0 + 17.0 * len(title) + _EDGE
    with style.look():
        ax = sheet(*size)
        figure: Any = ax.get_figure()
        figure.set_dpi(_DPI)
        draw(ax, [*_still(title, read, size), *_placed([_behind(view) for view in views], 0, foot, high)])
        figure.canvas.draw()
        ground = figure.canvas.copy_from_bbox(figure.bbox)
        for i, share in enumerate(shares):
            figure.canvas.restore_region(ground)
            _over(ax, [*_placed([_before(view) for view in views], i, foot, high), *_changing(read, i, float(share))])
            pixels = np.asarray(figure.canvas.buffer_rgba())[..., :3]
            yield Image.fromarray(pixels.copy())


def _behind(view: Picture) -> Picture:
    """What of a picture stands still behind all that moves, and its names, which keep clear of it."""
    first = view.shapes.index(view.moving[0]) if view.moving else len(view.shapes)
    kept = [shape for i, shape in enumerate(view.shapes) if i < first or isinstance(shape, Words)]
    return replace(view, shapes=tuple(kept))


def _before(view: Picture) -> Picture:
    """The rest of a picture."""
    first = view.shapes.index(view.moving[0]) if view.moving else len(view.shapes)
    return replace(view, shapes=tuple(shape for shape in view.shapes[first:] if not isinstance(shape, Words)))


def _placed(views: Sequence[Picture], position: int, foot: float, high: float) -> Iterator[Shape]:
    """The views at a position, side by side above the figures."""
    left = 0.0
    for view in views:
        yield from moved(view.at(position), left, foot + 0.5 * (high - view.high))
        left += view.wide


def _few(read: Sequence[Readings]) -> tuple[Readings, ...]:
    """As many figures as there is room for; cable and force give way first."""
    spare = [one for one in read if one.name in ("Cable", "Force at the pedal")]
    kept = list(read)
    while len(kept) > _FIGURES and spare:
        kept.remove(spare.pop())
    return tuple(kept)


def _sizes(run: Motion) -> dict[Any, tuple[float, float]]:
    """Sizes of the views, side by side: the front view takes the most of the width."""
    views = views_of(run)
    shares = (1.0,) if len(views) == 1 else (0.58, 0.42)
    found = {}
    for view, share in zip(views, shares, strict=True):
        wide, high = extent(run, view)
        across = share * _WIDE
        needs = (across - 2.0 * margins((across, across))[0]) * high / wide + 40.0
        found[view] = (across, min(needs, 0.75 * _WIDE))
    return found


def _still(title: Sequence[str], read: Sequence[Readings], size: tuple[float, float]) -> Iterator[Shape]:
    for i, line in enumerate(title):
        yield Words((_EDGE, size[1] - _EDGE - 10.0 - 17.0 * i), line, 13.0, INK, True)
    yield Curve(((_EDGE, 50.0), (_WIDE - _EDGE, 50.0)), FAINT, 3.0)
    for i, one in enumerate(read):
        yield Words((_column(i, len(read)), 32.0), cut(one.name, 18), 7.0, SOFT)
    yield Words((_EDGE, 6.0), SAYS, 6.5, SOFT)


def _changing(read: Sequence[Readings], position: int, share: float) -> Iterator[Shape]:
    here = _EDGE + share * (_WIDE - 2.0 * _EDGE)
    yield Bar((_EDGE, 50.0), (here, 50.0), PALETTE[0], 3.0, blunt=True)
    yield Dot((here, 50.0), 4.5, PAPER, PALETTE[0], 2.0)
    room = (_WIDE - 2.0 * _EDGE) / len(read)
    for i, one in enumerate(read):
        value = one.values[position]
        size = min(10.0, 10.0 * (room - 4.0) / max(width_of(value, 10.0), 1.0))
        yield Words((_column(i, len(read)), 20.0), value, size, INK)


def _column(i: int, count: int) -> float:
    return _EDGE + i * (_WIDE - 2.0 * _EDGE) / count


def _over(ax: Axes, shapes: Sequence[Shape]) -> None:
    """Draw shapes on what the canvas shows, and forget them."""
    figure: Any = ax.get_figure()
    renderer = figure.canvas.get_renderer()
    for artist in artists(shapes):
        artist.set_figure(figure)
        artist.set_transform(ax.transData)
        artist.draw(renderer)


def _palette(frames: Sequence[Image]) -> Image:
    """The colours of all frames, from the first, the middle and the last of them."""
    from PIL import Image

    shown = [frames[0], frames[len(frames) // 2], frames[-1]]
    wide, high = shown[0].size
    strip = Image.new("RGB", (wide, high * len(shown)))
    for i, frame in enumerate(shown):
        strip.paste(frame, (0, i * high))
    palette = strip.quantize(_COLOURS, dither=Image.Dither.NONE)
    colours = palette.getpalette() or []
    near = [i for i in range(0, len(colours), 3) if min(colours[i : i + 3]) > 247]
    for i in near:  # the ground of the page, which the mean of near colours dims
        colours[i : i + 3] = [255, 255, 255]
    palette.putpalette(colours)
    return palette
