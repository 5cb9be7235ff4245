"""Where the names of a moving picture stand: near their pivots, clear of what moves and of each other."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from linkage.paper.shapes import Floats, Place, Words

_MOST = 22  # letters of a name in a picture


def named(
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
