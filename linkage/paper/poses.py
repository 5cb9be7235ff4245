"""The linkage at idle, half travel and wide open, set in type for the approval sheet."""

from __future__ import annotations

import math
from collections.abc import Mapping

from linkage.motion import Motion
from linkage.paper.approval import SHOWN, Approval, Pose
from linkage.paper.fitting import extent, margins
from linkage.paper.ink import trimmed, width_of
from linkage.paper.shapes import Picture, Words, moved
from linkage.paper.stage import scale_bar, staged, views_of
from linkage.paper.typeset import CELL, SMALL, beside, blank, paragraph, rule, stacked
from linkage.plots.style import FAINT, INK, SOFT
from linkage.plots.views import ViewName

_SIDE = 140.0  # readings beside a picture [pt]
_GAP, _MIDDLE = 9.0, 18.0  # between pictures, and between columns [pt]
_SPLITS = tuple(0.25 + 0.025 * i for i in range(21))  # shares of a box that the first of two views may take


def poses_set(says: Approval, wide: float, high: float) -> Picture:
    """The linkage at idle, half travel and wide open: below each other, or side by side, as it shows larger."""
    run = says.answer.run
    bar = 13.0
    across, column = wide - _SIDE - _MIDDLE, (wide - 2.0 * _MIDDLE) / 3.0
    read = [_readings(says, pose, _SIDE) for pose in says.poses]
    over = [_readings(says, pose, column) for pose in says.poses]
    row = (high - bar - 2.0 * _GAP - 4.0) / 3.0
    beneath = high - bar - over[0].high - 8.0
    rows, columns = _boxes(run, across, max(row, read[0].high), level=True), _boxes(run, column, beneath, level=False)
    front = extent(run, "front")
    if _scale(front, rows["front"]) >= _scale(front, columns["front"]):
        shown: list[Picture] = []
        for i, words in enumerate(read):
            shown += [rule(wide, colour=FAINT, width=0.6)] if shown else []
            shown.append(beside([words, blank(_MIDDLE, 0.0), beside(_views(run, i, rows), _GAP, middle=True)]))
        boxes, body = rows, stacked(shown, 0.5 * _GAP)
    else:
        beneath_each = [stacked([words, stacked(_views(run, i, columns), 4.0)], 4.0) for i, words in enumerate(over)]
        boxes, body = columns, beside(beneath_each, _MIDDLE)
    drawn = staged(run, "front", boxes["front"])
    names = {"front": "front view", "plan": "from above", "side": "from the right"}
    seen = ", ".join(names[view] for view in boxes)
    note = f"Seen from {run.rig.seen_from}: {seen}" if run.rig.seen_from else seen[:1].upper() + seen[1:]
    note += "; the bar is the front view's." if len(boxes) > 1 else "."
    words = paragraph(note, wide - _SIDE - _MIDDLE, SMALL, colour=SOFT, most=1)
    foot = Picture(wide, bar, (*scale_bar(run, drawn, (1.0, 5.0)), *moved(words, _SIDE + _MIDDLE, 0.0)))
    return stacked([body, foot], 3.0)


Boxes = Mapping[ViewName, tuple[float, float]]


def _boxes(run: Motion, wide: float, high: float, *, level: bool) -> Boxes:
    """Sizes of the one or two views of a pose in a box, ``level`` side by side, else below each other."""
    sizes = {view: extent(run, view) for view in views_of(run)}
    if len(sizes) == 1:
        tries = [dict.fromkeys(sizes, (wide, high))]
    elif level:
        free = wide - _GAP
        tries = [dict(zip(sizes, ((t * free, high), (free - t * free, high)), strict=True)) for t in _SPLITS]
    else:
        free = high - _GAP
        tries = [dict(zip(sizes, ((wide, t * free), (wide, free - t * free)), strict=True)) for t in _SPLITS]
    best = max(tries, key=lambda boxes: _worth(sizes, boxes))
    return {view: (box[0], min(box[1], _needs(sizes[view], box))) for view, box in best.items()}


def _worth(sizes: Boxes, boxes: Boxes) -> float:
    """What a way to share a box is worth: every view shown large, the front view before the other."""
    return sum((1.6 if view == "front" else 1.0) * math.log(_scale(sizes[view], box)) for view, box in boxes.items())


def _scale(size: tuple[float, float], box: tuple[float, float]) -> float:
    """How large a linkage of a size shows in a box."""
    beside, above = margins(box)
    return max(min((box[0] - 2.0 * beside) / size[0], (box[1] - 2.0 * above) / size[1]), 1e-9)


def _needs(size: tuple[float, float], box: tuple[float, float]) -> float:
    """How high a box need be for what its width allows."""
    return (box[0] - 2.0 * margins(box)[0]) * size[1] / size[0] + 2.0 * margins(box)[1] + 4.0


def _views(run: Motion, position: int, boxes: Boxes) -> list[Picture]:
    shares = [share for share, _ in SHOWN]
    return [staged(run, view, size, shares=shares, letters=7.5).at(position) for view, size in boxes.items()]


def _readings(says: Approval, pose: Pose, wide: float) -> Picture:
    parts = [paragraph(pose.name, wide, 9.5, bold=True)]
    parts += [_reading(reading.name, reading.value, wide) for reading in pose.readings]
    return stacked(parts, 0.5)


def _reading(name: str, value: str, wide: float) -> Picture:
    high = 1.3 * CELL
    y = high - 1.03 * CELL
    label = Words((0.0, y), trimmed(name, CELL, wide - width_of(value, CELL) - 6.0), CELL, SOFT)
    return Picture(wide, high, (label, Words((wide, y), value, CELL, INK, align="end")))
