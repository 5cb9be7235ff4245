"""The highest mismatch of many linkages at once: every hump of the curve, climbed to its top.

Between two positions at which the spread of the plate angles first rises and then falls lies a hump.
The cubic through its ends begins, Newton's step on the exact curve ends the climb.
"""

from __future__ import annotations

import numpy as np

from linkage.closure import Numbers
from linkage.motion import Train, walk
from linkage.parts import SIGN
from linkage.search.curves import (
    SEGMENTS,
    Edges,
    Floats,
    Rows,
    Survey,
    Table,
    follow,
    idle_angle,
    lowest,
    opened_by,
    rows_of,
    spread,
)

_CLIMBS = 5  # at most; nearly every hump is done after one
_LEFT = 1e-12  # [rad] a height as near as this to the top is the top
_FAR = 2.0  # [rad] the positions lie too far apart in a longer travel; so they do in one that turns back
_REGION = np.repeat(np.arange(len(SEGMENTS)), SEGMENTS)


def highest_spreads(table: Table, seen: Survey, edges: Edges) -> tuple[Floats, Floats, Floats]:
    """The highest mismatch [deg] off idle, in the middle and last, (n,) each."""
    angle = [np.degrees(idle_angle(table.train, name) + opened) for name, opened in edges.opened.items()]
    at_ends = spread(np.stack(angle))
    tops = [np.maximum(at_ends[i], at_ends[i + 1]) for i in range(3)]
    if len(table.rig.shaft) > 1:
        where, row, height = _humps(table, seen)
        for i in range(3):
            mine = _REGION[where] == i
            np.fmax.at(tops[i], row[mine], np.degrees(height[mine]))
    first, early, late, last = edges.turn
    has_middle = (late - early) * (last - first) > 0.0
    if len(table.rig.shaft) > 1:
        far = np.flatnonzero(np.isfinite(first) & (~has_middle | (np.abs(last - first) > _FAR)))
        for i in range(3) if far.size else ():
            ends = (edges.turn[i][far], edges.turn[i + 1][far])
            tops[i][far] = np.degrees(-lowest(rows_of(table.train, far), *ends, _less_spread, 121))
    return tops[0], np.where(has_middle, tops[1], np.nan), tops[2]


def _less_spread(train: Train, turn: Floats) -> Floats:
    """The spread [rad] turned upside down, at any driver turns [rad]."""
    pose = walk(train, train.pose(turn))
    angle = [idle_angle(train, name) + opened_by(train, name, turn, pose[name]) for name in train.rig.shaft]
    return -spread(np.stack(angle))


def _humps(table: Table, seen: Survey) -> tuple[Rows, Rows, Floats]:
    """Segment, row and height [rad] of every hump."""
    height, climb, pair = _widest(table, seen)
    place, segment, row = np.nonzero((climb[:-1] > 0.0) & (climb[1:] < 0.0))
    here, there = (place, segment, row), (place + 1, segment, row)
    step = seen.step[segment, row]
    size = np.abs(step)
    y0, y1, m0, m1 = height[here], height[there], climb[here] * size, climb[there] * size
    # the cubic y0 + m0 t + a t^2 + b t^3, level where t is
    b = m0 + m1 - 2.0 * (y1 - y0)
    a = 3.0 * (y1 - y0) - 2.0 * m0 - m1
    share = m0 / (np.sqrt(a * a - 3.0 * b * m0) - a)
    share = np.where((share > 0.0) & (share < 1.0), share, m0 / (m0 - m1))
    start = seen.start[segment, row] + place * step
    if pair is None:
        upper, lower = np.zeros_like(row), np.ones_like(row)
        return segment, row, _climbed(table, row, start, step, share, b, upper, lower)
    # where another pair stands widest at the hump's end, that pair is climbed as well
    ends = [[p[at] for p in pair] for at in (here, there)]
    tops = [_climbed(table, row, start, step, share, b, *end) for end in ends]
    return segment, row, np.fmax(*tops)


def _widest(table: Table, seen: Survey) -> tuple[Floats, Floats, tuple[Rows, Rows] | None]:
    """The spread (its sine), how fast it grows along the travel, and which two shafts make it (None: the only
    two), all of the survey's shape."""
    train = table.train
    name, *others = table.rig.shaft
    sense = np.sign(seen.step)
    ahead = {other: idle_angle(train, other) - idle_angle(train, name) for other in others}
    height, climb = np.empty_like(seen.pose[name][0]), np.empty_like(seen.pose[name][0])
    pair = (np.empty(height.shape, np.intp), np.empty(height.shape, np.intp)) if len(others) > 1 else None
    for i in range(len(height)):  # one position at a time, to stay in the processor's reach
        apart = [_sine(table, seen, name, other, ahead[other], i) for other in others]
        gain = [SIGN[shaft.opens] * seen.speed[shaft.name][i] for shaft in table.rig.shaft.values()]
        if pair is None:
            height[i] = np.abs(apart[0])
            climb[i] = (gain[1] - gain[0]) * np.copysign(sense, apart[0] * sense)
            continue
        heights, gains = np.stack([np.zeros_like(apart[0]), *apart]), np.stack(gain)
        pair[0][i], pair[1][i] = np.argmax(heights, axis=0), np.argmin(heights, axis=0)
        ends = [[np.take_along_axis(v, p[i][None], axis=0)[0] for p in pair] for v in (heights, gains)]
        height[i], climb[i] = ends[0][0] - ends[0][1], (ends[1][0] - ends[1][1]) * sense
    return height, climb, pair


def _sine(table: Table, seen: Survey, first: str, other: str, ahead: Numbers, i: int) -> Floats:
    """Sine of the plate angle of a shaft less that of the first at a position, (segments, n)."""
    (c0, s0), (c, s) = ((pose[0][i], pose[1][i]) for pose in (seen.pose[first], seen.pose[other]))
    sign0, sign = (SIGN[table.rig.shaft[name].opens] for name in (first, other))
    sine = sign * (s * c0) - sign0 * (c * s0)
    if np.any(ahead != 0.0):
        sine = sine * np.cos(ahead) + (c * c0 + sign * sign0 * (s * s0)) * np.sin(ahead)
    return np.asarray(sine)


def _climbed(
    table: Table, row: Rows, start: Floats, step: Floats, share: Floats, cubic: Floats, upper: Rows, lower: Rows
) -> Floats:
    """Height [rad] of the humps that begin at ``start`` [rad], from a first guess at a ``share`` of the step."""
    top = np.full(row.size, np.nan)
    left = np.arange(row.size)
    for _ in range(_CLIMBS):
        if left.size == 0:
            break
        rows, each = row[left], np.arange(left.size)
        curve = follow(rows_of(table.train, rows), start[left] + share[left] * step[left])
        up, low = (upper[left], each), (lower[left], each)
        apart, slope, bend = (part[up] - part[low] for part in (curve.angle, curve.slope, curve.bend))
        if len(curve.angle) == 2:  # the pair by name; which is the upper one shows here
            sign = np.copysign(1.0, apart)
            apart, slope, bend = sign * apart, sign * slope, sign * bend
        move = -slope / bend / step[left]
        new = share[left] + move
        inside = (bend < 0.0) & (new >= 0.0) & (new <= 1.0)
        top[left] = np.where(inside, apart + 0.5 * slope * move * step[left], apart)
        done = inside & (np.abs(cubic[left] * move * move * move) <= _LEFT) | (move == 0.0)
        share[left] = np.where(np.isnan(new), share[left], np.clip(new, 0.0, 1.0))
        left = left[~done]
    return top
