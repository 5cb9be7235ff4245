"""How the views of a linkage share a page: the split that shows every one of them largest."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

_SPLITS = (0.3, 0.36, 0.43, 0.5, 0.57, 0.64, 0.7)
_FIRST = 1.5  # how much more the first view counts


class Box(NamedTuple):
    """A part of a page [in]: its lower left corner and its size."""

    left: float
    bottom: float
    wide: float
    high: float


class Need(NamedTuple):
    """What a view shows, ``wide`` x ``high`` in any one unit, and what its words take of its box [in]."""

    wide: float
    high: float
    beside: float
    above: float


def arrange(needs: Sequence[Need], page: Box) -> tuple[float, list[Box]]:
    """Share a page between one, two or three views, the first at the upper left.

    Returns
    -------
    score : float
        Greater is better; pages of other shapes compare by it.
    boxes : list of Box
        [in], in the order of ``needs``.
    """
    best = max(_layouts(len(needs), page), key=lambda boxes: _score(needs, boxes))
    return _score(needs, best), best


def _score(needs: Sequence[Need], boxes: Sequence[Box]) -> float:
    total = 0.0
    for i, (need, box) in enumerate(zip(needs, boxes, strict=True)):
        room = (box.wide - need.beside) / max(need.wide, 1e-9), (box.high - need.above) / max(need.high, 1e-9)
        total += (_FIRST if i == 0 else 1.0) * math.log(max(min(room), 1e-9))
    return total


def _layouts(count: int, page: Box) -> Iterator[list[Box]]:
    """Every way to cut a page for some views, the first at the upper left."""
    if count == 1:
        yield [page]
        return
    for across in (True, False):
        for share in _SPLITS:
            first, rest = _cut(page, share, across=across)
            for others in _layouts(count - 1, rest):
                yield [first, *others]
                if count == 3:
                    yield [first, *reversed(others)]
            if count == 3:
                for one, two in _layouts(2, first):
                    yield [one, two, rest]
                    yield [one, rest, two]


def _cut(page: Box, share: float, *, across: bool) -> tuple[Box, Box]:
    if across:
        first = share * page.wide
        return page._replace(wide=first), page._replace(left=page.left + first, wide=page.wide - first)
    first = share * page.high
    return page._replace(bottom=page.bottom + page.high - first, high=first), page._replace(high=page.high - first)
