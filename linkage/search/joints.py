"""Least transmission angle and most tilt of the links of many linkages at once."""

from __future__ import annotations

import numpy as np

from linkage import closure
from linkage.closure import Numbers
from linkage.motion import Train, walk
from linkage.motion.assembly import Joint
from linkage.parts import SIGN
from linkage.search.curves import Bools, Edges, Floats, Survey, Table, lowest, rows_of

_TURN = 2.0 * np.pi


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
    first = np.arctan2(s[0], c[0])
    way = table.train.sense[member] * np.sign(table.last - table.first)
    gone = way * (np.arctan2(s[3], c[3]) - first)
    return first, first + way * (gone + _TURN * (gone < 0.0))


def least_transmission(table: Table, joint: Joint, seen: Survey, edges: Edges) -> Floats:
    """Least transmission angle [deg] of a link over the travel, from the nearer dead point, (n,).

    Between parallel axes ``l cos(mu) = r - k`` with a constant l, so it is extreme at the ends and
    where the driving arm lies along the line of centres; between skew axes it is looked for.
    """
    link, driving, driven = joint.forward, joint.step.driving, joint.step.driven
    assert link is not None

    def from_line(train: Train, turn: Floats) -> Floats:
        pose = walk(train, (np.cos(turn), np.sin(turn)))
        here = next(j.forward for j in train.joints if j.step is joint.step)
        assert here is not None
        along, across = closure.rates(here, *pose[driving], *pose[driven]).transmission
        return np.asarray(np.arctan2(across, np.abs(along)))

    if not joint.parallel:
        return np.asarray(np.degrees(lowest(table.train, table.first, table.last, from_line)))
    (c, s), (c2, s2) = edges.pose[driving], edges.pose[driven]
    k0, k1, k2 = link.k0, link.k1, link.k2
    along = [link.r - (k0 + k1 * c[i] + k2 * s[i]) for i in (0, 3)]
    w1, w2 = (g + p * c[0] + q * s[0] for g, p, q in (link[:3], link[3:6]))
    across = w2 * c2[0] - w1 * s2[0]
    long = np.sqrt(along[0] * along[0] + across * across)
    swing, middle = np.sqrt(k1 * k1 + k2 * k2), np.arctan2(k2, k1)
    ends = turns_of(table, edges, driving)
    most = np.maximum(np.abs(along[0]), np.abs(along[1]))
    for turn, k in ((middle, k0 + swing), (middle + np.pi, k0 - swing)):
        most = np.where(passed(ends, turn), np.maximum(most, np.abs(link.r - k)), most)
    least = np.arccos(np.minimum(most / long, 1.0))
    if driving != table.rig.driver:  # a member that turns back on the way passes more than its ends
        speed = seen.speed[driving]
        back = np.flatnonzero(np.min(speed, axis=(0, 1)) * np.max(speed, axis=(0, 1)) <= 0.0)
        if back.size:
            least[back] = lowest(rows_of(table.train, back), table.first[back], table.last[back], from_line)
    return np.asarray(np.degrees(least))


def most_tilt(table: Table, joint: Joint) -> Numbers:
    """Largest rod-end tilt [deg] of a link over the travel, either end, a number or (n,)."""
    assert joint.driving is not None
    assert joint.driven is not None
    if joint.parallel:  # the sideways offset does not change
        offset = closure.dot(closure.minus(joint.driving.centre, joint.driven.centre), joint.driving.u)
        if np.ndim(offset) == 0 and offset == 0.0:
            return 0.0
        return np.degrees(np.arcsin(np.minimum(np.abs(offset) / joint.length, 1.0)))

    def level(train: Train, turn: Floats) -> Floats:
        pose = walk(train, (np.cos(turn), np.sin(turn)))
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
