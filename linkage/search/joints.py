"""Least transmission angle and most tilt of the links of many linkages at once."""

from __future__ import annotations

import numpy as np

from linkage import closure
from linkage.closure import Loop, Numbers
from linkage.motion import Train, walk
from linkage.motion.assembly import Joint
from linkage.parts import SIGN
from linkage.search.curves import Bools, Edges, Floats, Survey, Table, lowest, rows_of

_TURN = 2.0 * np.pi
_PARALLEL = 1e-24  # squared sine between two axes


def passed(ends: tuple[Floats, Floats], turn: Numbers) -> Bools:
    """Whether a travel between two turns [rad], less than a whole turn, passes another turn on its way."""
    first, last = ends
    near = turn + _TURN * np.round((0.5 * (first + last) - turn) / _TURN)
    return np.asarray((near - first) * (near - last) < 0.0)


def turns_of(table: Table, edges: Edges, member: str) -> tuple[Floats, Floats]:
    """Turn [rad] of a member at the ends of the travel, if it does not turn back on the way, (n,) each."""
    if member == table.rig.driver:
        return table.first, table.last
    if member in edges.opened:
        sign, opened = SIGN[table.rig.shaft[member].opens], edges.opened[member]
        return sign * opened[0], sign * opened[3]
    c, s = edges.pose[member]
    if table.train.slides(member):
        return c[0], c[3]
    first = np.arctan2(s[0], c[0])
    way = table.train.sense[member] * np.sign(table.last - table.first)
    gone = way * (np.arctan2(s[3], c[3]) - first)
    return first, first + way * (gone + _TURN * (gone < 0.0))


def least_transmission(table: Table, joint: Joint, seen: Survey, edges: Edges) -> Floats:
    """Least transmission angle [deg] of a link over the travel, from the nearer dead point, (n,).

    Between parallel axes ``l cos(mu) = r - k`` with a constant l (of a driven block ``w2``, across its guide),
    so it is extreme at the ends and where that is, in between: where the driving arm lies along the line of
    centres. Between skew axes it is looked for.
    """
    link, driving, driven = joint.forward, joint.step.driving, joint.step.driven
    assert link is not None

    def from_line(train: Train, turn: Floats) -> Floats:
        pose = walk(train, train.pose(turn))
        here = next(j.forward for j in train.joints if j.step is joint.step)
        assert here is not None
        along, across = closure.rates(here, *pose[driving], *pose[driven]).transmission
        return np.asarray(np.arctan2(across, np.abs(along)))

    if not joint.parallel:
        return np.asarray(np.degrees(lowest(table.train, table.first, table.last, from_line)))
    (c, s), (c2, s2) = edges.pose[driving], edges.pose[driven]
    mean, by_c, by_s = _along(link)
    along = [mean + by_c * c[i] + by_s * s[i] for i in (0, 3)]
    across = closure.rates(link, c[0], s[0], c2[0], s2[0]).moment
    long = np.sqrt(along[0] * along[0] + across * across)
    ends = turns_of(table, edges, driving)
    most = np.maximum(np.abs(along[0]), np.abs(along[1]))
    for turn, value in _levels(link):
        between = _between(ends, turn) if link.driving_slides else passed(ends, turn)
        most = np.where(between, np.maximum(most, np.abs(value)), most)
    least = np.arccos(np.minimum(most / long, 1.0))
    if driving != table.rig.driver:  # a member that turns back on the way passes more than its ends
        speed = seen.speed[driving]
        back = np.flatnonzero(np.min(speed, axis=(0, 1)) * np.max(speed, axis=(0, 1)) <= 0.0)
        if back.size:
            least[back] = lowest(rows_of(table.train, back), table.first[back], table.last[back], from_line)
    return np.asarray(np.degrees(least))


def _along(link: Loop) -> tuple[Numbers, Numbers, Numbers]:
    """The part of a link along its driven arm, or across its driven guide: mean, and what the driving pose adds."""
    if link.driven_slides:
        return link.g2, link.p2, link.q2
    return link.r - link.k0, -link.k1, -link.k2


def _levels(link: Loop) -> list[tuple[Numbers, Numbers]]:
    """Driving turns [rad] at which :func:`_along` is level, and its value there."""
    mean, by_c, by_s = _along(link)
    if link.driving_slides:
        if link.driven_slides:
            return []  # goes on straight
        turn = -0.5 * by_c / by_s
        return [(turn, mean + turn * (by_c + turn * by_s))]
    swing, middle = np.sqrt(by_c * by_c + by_s * by_s), np.arctan2(by_s, by_c)
    return [(middle, mean + swing), (middle + np.pi, mean - swing)]


def _between(ends: tuple[Floats, Floats], turn: Numbers) -> Bools:
    return np.asarray((turn - ends[0]) * (turn - ends[1]) < 0.0)


def most_tilt(table: Table, joint: Joint) -> Numbers:
    """Largest rod-end tilt [deg] of a link over the travel, either end, a number or (n,)."""
    assert joint.driving is not None
    assert joint.driven is not None
    across = closure.cross(joint.driving.u, joint.driven.u)
    if joint.parallel and np.all(closure.dot(across, across) < _PARALLEL):  # the sideways offset does not change
        offset = closure.dot(closure.minus(joint.driving.centre, joint.driven.centre), joint.driving.u)
        if np.ndim(offset) == 0 and offset == 0.0:
            return 0.0
        return np.degrees(np.arcsin(np.minimum(np.abs(offset) / joint.length, 1.0)))

    def level(train: Train, turn: Floats) -> Floats:
        pose = walk(train, train.pose(turn))
        here = next(j for j in train.joints if j.step is joint.step)
        assert here.driving is not None
        assert here.driven is not None
        line = closure.minus(
            closure.pin(here.driving, *pose[joint.step.driving]), closure.pin(here.driven, *pose[joint.step.driven])
        )
        length = np.sqrt(closure.dot(line, line))
        bolts = [np.abs(closure.dot(line, arm.u)) for arm in (here.driving, here.driven)]
        return np.asarray(-np.arcsin(np.minimum(np.maximum(*bolts) / length, 1.0)))

    return -np.degrees(lowest(table.train, table.first, table.last, level))
