"""Where the names of a moving picture stand: near their pivots, clear of what moves and of each other."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from linkage.paper.fitting import Stage
from linkage.paper.shapes import Floats, Place, Words
from linkage.plots.scene import Scene, bore_corners, shortened
from linkage.plots.style import INK

_MOST = 22  # letters of a name in a picture


def names_of(stage: Stage, letters: float) -> list[Words]:
    """Every member's name, those at one place in one line, clear of all that moves."""
    scene = stage.scene
    at: dict[Place, list[str]] = {}
    for name, member in scene.run.rig.members.items():
        centre = scene.rails[name].reshape(-1, 2).mean(axis=0) if name in scene.rails else scene.flat(member.pivot)
        place = stage.place(centre)
        same = next((p for p in at if math.dist(p, place) < 3.0), place)
        at.setdefault(same, []).append(name)
    marks = [(place, names, scene.colour(names[0]) if len(names) == 1 else INK) for place, names in at.items()]
    taken = [stage.on(points) for points in scene.path.values()]
    for arm, hub in scene.hub.items():
        taken.append(_between(np.broadcast_to(stage.on(hub), (3, 2)), stage.on(scene.pin[arm][_thirds(scene)])))
    for link in scene.run.rig.link.values():
        one, two = (stage.on(scene.pin[pin][_thirds(scene)]) for pin in link.joins)
        taken.append(_between(one, two))
    for name, rails in scene.rails.items():
        swept = scene.block[name][_thirds(scene)]
        for edge in (*rails, *(swept[:, [i, (i + 1) % 4]] for i in range(4))):
            one, two = (edge[:1], edge[1:]) if edge.ndim == 2 else (edge[:, 0], edge[:, 1])
            taken.append(_between(stage.on(one), stage.on(two)))
    for name, shaft in scene.run.rig.shaft.items():
        if all(f"plate {name} {i}" in stage.tracks for i in (0, 1)):  # else one of another shaft stands for it
            corners = stage.on(bore_corners(scene, shaft, shaft.bore or 0.0))
            taken += [_between(corners[:1], corners[1:2]), _between(corners[2:3], corners[3:])]
            plate = (stage.tracks[f"plate {name} {i}"][_thirds(scene)] for i in (0, 1))
            taken.append(_between(*plate))
    for spring in scene.run.rig.spring.values():
        if spring.pulls is not None and spring.anchor is not None:
            ends = np.broadcast_to(stage.on(shortened(scene, scene.pin[spring.pulls][-1], spring.anchor)[0]), (3, 2))
            taken.append(_between(stage.on(scene.pin[spring.pulls][_thirds(scene)]), ends))
    if scene.run.rig.cable is not None and scene.run.rig.cable.pulls is not None and scene.run.rig.cable.casing_end:
        pin = scene.pin[scene.run.rig.cable.pulls][-1]
        end = shortened(scene, pin, scene.run.rig.cable.casing_end)[0]
        taken.append(_between(stage.on(pin)[None], stage.on(end)[None]))
    return _named(marks, np.concatenate([*taken, np.empty((0, 2))]), stage.size, letters)


def _thirds(scene: Scene) -> list[int]:
    last = scene.positions - 1
    return [0, last // 2, last]


def _between(one: Floats, two: Floats) -> Floats:
    """Points along lines (n, 2) - (n, 2), close enough to be met."""
    share = np.linspace(0.0, 1.0, 25)[:, None, None]
    return np.asarray(((1.0 - share) * one + share * two).reshape(-1, 2))


def _named(
    marks: Sequence[tuple[Place, list[str], str]], taken: Floats, size: tuple[float, float], letters: float
) -> list[Words]:
    """Names (place of the pivot, names at it, colour) put down one after the other.

    Parameters
    ----------
    marks : sequence
    taken : ndarray (n, 2)
        Points [pt] that a name had better not cover.
    size : (float, float)
        Of the picture [pt].
    letters : float
        [pt].
    """
    boxes: list[tuple[float, float, float, float]] = []
    words = []
    for at, names, colour in marks:
        text = shortened_names(names)
        wide, high = text_width(text, letters, bold=True), letters
        best = min(_tries(at, wide, high), key=lambda box: _cost(box, at, taken, boxes, size))
        boxes.append(best)
        middle = 0.5 * (best[0] + best[2]), best[1] + 0.22 * letters
        words.append(Words(middle, text, letters, colour, bold=True, align="middle", halo=True))
    return words


def shortened_names(names: Sequence[str]) -> str:
    """Names in one short line, cut where they would not fit."""
    text = ", ".join(names)
    if len(text) <= _MOST:
        return text
    if len(names) > 1:
        return f"{cut(names[0], 12)} … ({len(names)})"
    return cut(text, _MOST)


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Width [pt] of a text by a generous mean of its letters: the reader's font is not known."""
    return (0.66 if bold else 0.6) * size * len(text)


def cut(text: str, most: int) -> str:
    """A text of at most so many letters."""
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def _tries(at: Place, wide: float, high: float) -> list[tuple[float, float, float, float]]:
    found = []
    for off in (9.0, 14.0, 21.0, 30.0, 42.0, 56.0):
        for angle in np.radians([270.0, 90.0, 0.0, 180.0, 315.0, 225.0, 45.0, 135.0, 292.0, 248.0, 68.0, 112.0]):
            x = at[0] + (off + 0.5 * wide) * math.cos(angle)
            y = at[1] + (off + 0.5 * high) * math.sin(angle)
            found.append((x - 0.5 * wide, y - 0.5 * high, x + 0.5 * wide, y + 0.5 * high))
    return found


def _cost(
    box: tuple[float, float, float, float],
    at: Place,
    taken: Floats,
    boxes: Sequence[tuple[float, float, float, float]],
    size: tuple[float, float],
) -> float:
    x0, y0, x1, y1 = box
    far = math.dist(at, (min(max(at[0], x0), x1), min(max(at[1], y0), y1)))
    inside = (taken[:, 0] > x0 - 1) & (taken[:, 0] < x1 + 1) & (taken[:, 1] > y0 - 1) & (taken[:, 1] < y1 + 1)
    over = sum(x0 < b[2] + 2.0 and b[0] - 2.0 < x1 and y0 < b[3] + 2.0 and b[1] - 2.0 < y1 for b in boxes)
    out = x0 < 1.0 or y0 < 1.0 or x1 > size[0] - 1.0 or y1 > size[1] - 1.0
    return far + 2.5 * float(np.count_nonzero(inside)) + 400.0 * over + 600.0 * out
