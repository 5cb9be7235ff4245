"""The linkage as a moving picture: the same signs as on the drawings, every joint on its track."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from linkage.motion import Motion
from linkage.paper.fitting import Stage
from linkage.paper.naming import names_of
from linkage.paper.shapes import Curve, Floats, Picture, Place, Shape, Words
from linkage.paper.signs import signs
from linkage.plots.scene import scene_of
from linkage.plots.style import INK
from linkage.plots.views import ViewName, view_named, views_needed


def views_of(run: Motion) -> tuple[ViewName, ...]:
    """The front view, and where the linkage has depth the one beside it that shows most of it.

    A view along a member's axis shows it turning; of two such views, that in which the pins travel further.
    """
    needed = views_needed(run, every_arm=False)
    return needed[:1] if len(needed) == 1 else (needed[0], max(needed[1:], key=lambda name: _shows(run, name)))


def _shows(run: Motion, name: ViewName) -> tuple[int, float]:
    scene = scene_of(run, (0.0, 0.5, 1.0), view_named(name))
    turning = sum(scene.end_on(member) for member in run.rig.members.values())
    paths = [float(np.sum(np.hypot(*np.diff(path, axis=0).T))) for path in scene.path.values()]
    return turning, sum(paths)


def staged(
    run: Motion,
    view: ViewName,
    size: tuple[float, float],
    *,
    shares: Sequence[float] | Floats = (0.0, 0.5, 1.0),
    letters: float = 9.0,
) -> Picture:
    """Draw a linkage in one view, every joint on its track over some shares of the travel.

    Parameters
    ----------
    run : Motion
    view : {"front", "plan", "side"}
    size : (float, float)
        Width and height of the picture [pt].
    shares : sequence of float
        Shares 0..1 of the travel [-], one for each position of the tracks.
    letters : float
        Size of the names [pt]; 0 for none.

    Returns
    -------
    Picture
        Tracks of shape (positions, 2) [pt].
    """
    stage = Stage.of(scene_of(run, [float(share) for share in shares], view_named(view)), size)
    shapes = [*signs(stage)]
    if letters > 0.0:
        shapes += names_of(stage, letters)
    return Picture(*size, tuple(dict.fromkeys(shapes)), stage.tracks)  # what lies on its like is drawn once


def with_kinks(run: Motion, shares: Floats) -> Floats:
    """Shares of the travel with the one next to each kink moved on to it, so that nothing is drawn straight past it."""
    found = np.array(shares, float)
    for fraction in run.at(run.kinks).fraction if run.kinks else ():
        found[1 + int(np.argmin(np.abs(found[1:-1] - fraction)))] = fraction
    return found


def scale_bar(run: Motion, picture: Picture, at: Place, *, letters: float = 7.0) -> list[Shape]:
    """A bar of a round length in the design's own unit, about a fifth of the picture, from a place on."""
    stage = Stage.of(scene_of(run, (0.0, 0.5, 1.0), view_named("front")), (picture.wide, picture.high))
    wish = 0.22 * picture.wide / stage.scale
    power = 10.0 ** math.floor(math.log10(wish))
    long = power * max(step for step in (1.0, 2.0, 5.0, 10.0) if step * power <= wish * 1.0001)
    x, y = at
    end = x + long * stage.scale
    ticks = [Curve(((v, y - 2.5), (v, y + 2.5)), INK, 0.9) for v in (x, end)]
    words = Words((end + 5.0, y - 0.36 * letters), f"{long:g} {run.rig.units}", letters, INK)
    return [Curve(((x, y), (end, y)), INK, 0.9), *ticks, words]
