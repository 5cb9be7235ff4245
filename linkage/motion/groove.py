r"""The groove of a snail quadrant: the curve that the cable's centre line lies on, from its moment arm.

::

         casing end C                 At a driver turn t the cable runs along a line from the casing end,
              o.                      p(t) from the axis O; n is square to it, at the angle v from O:
        L   .'  `.
          .'      `. D                    v = angle(OC) - s acos(p / D)        s = 1: the pull turns ccw
     T  o'          `.                    L = sqrt(D^2 - p^2)
      .'|  n          `.              Seen from the turning driver n stands at b = v - t. The groove is the
    -'  '- - - - - - - - o O          envelope of all these lines. With w = db/dt = s p' / L - 1:
           p
                                          point      T = p n + (p' / w) m,   m: n turned ccw by 90 degrees
                                          radius     r = p - (p'' + s p p'^3 / L^3) / w^3

Where the casing end is far away, or not given, the line keeps its direction: D and L are without
bound, w is -1, and the radius is p + p''. The free run from T to the casing end is L - s p' / w = -L / w.

A radius of 0 or less is a cusp: the envelope turns back on itself there and no groove can be cut that
the cable follows. The moment arm has no second derivative at the design's points, it jumps there, and
the radius with it (the groove stays smooth). So the radius is judged piece by piece, at 65 turns of
each with both its ends: at a point of the design from either side. Beyond the outermost points the
moment arm is constant; where its slope breaks off there, the groove has a straight part or, the other
way, a loop that is as bad as a cusp; that counts only where the travel goes there.

References
----------
Envelope of a line by its support function, and its radius of curvature ``p + p''``: M. P. do Carmo,
*Differential Geometry of Curves and Surfaces*, Prentice-Hall 1976, §1.7 (from memory). The form for a
casing end at a finite distance: own derivation, by the same steps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.closure import Numbers
from linkage.motion.assembly import Train, table_of
from linkage.motion.cable import cable_line
from linkage.motion.monotone import Curve
from linkage.motion.snail import SnailCable
from linkage.parts import Point

Floats = NDArray[np.float64]

_LEAD, _ANCHOR = np.radians(5.0), np.radians(25.0)  # of wrap before and after what is used; common practice, no source
_SAMPLES = 65  # turns of every piece at which the radius is judged
_BEYOND = 1e-9  # [rad] the travel goes beyond the outermost points from here on


class Support(NamedTuple):
    """The cable's line at some driver turns [rad]: moment arm ``p`` [mm], its derivatives ``p1`` and ``p2``."""

    turn: Numbers
    p: Numbers
    p1: Numbers
    p2: Numbers


@dataclass(frozen=True, eq=False)
class Groove:
    """The groove of a snail: moment ``arm`` [mm] over the driver's turn [rad], the way ``sense`` its pull turns
    (1: ccw); the casing end lies ``away`` [mm] from the axis (``inf``: the cable keeps its direction), in the
    direction ``bearing`` [rad] in the plane of the unit vectors ``e1``, ``e2`` square to the axis at ``centre``.

    ``clear`` is whether the casing end lies outside every moment arm.
    """

    arm: Curve
    sense: float
    away: Numbers
    bearing: Numbers
    clear: Numbers
    centre: Point
    e1: Point
    e2: Point

    def support(self, turn: Numbers) -> Support:
        """The cable's line at driver turns [rad], of a point the side with larger turns."""
        t = np.asarray(turn, float)
        second = np.zeros(np.broadcast_shapes(t.shape, np.shape(self.arm.y[0])))
        for piece in self.arm.pieces:
            inside = (t >= piece.start) & (t <= piece.start + piece.width)
            second = np.where(inside, piece.second(np.clip(t - piece.start, 0.0, piece.width)), second)
        return Support(t, self.arm.value(t), self.arm.slope(t), second)

    def places(self, at: Support) -> tuple[Numbers, Numbers]:
        """Where the line touches the groove [mm] in the plane of e1 and e2, the driver as drawn, the axis at 0, 0."""
        normal = self._normal(at.p) - at.turn
        along = at.p1 / self._rate(at)
        c, s = np.cos(normal), np.sin(normal)
        return at.p * c - along * s, at.p * s + along * c

    def radius(self, at: Support) -> Numbers:
        """Radius of curvature [mm], above 0 where the cable lies on the groove; ``-inf`` where its line turns back."""
        rate, bent = self._rate(at), at.p2 + self.sense * at.p * (at.p1 / self._reach(at.p)) ** 3
        return np.where(rate < 0.0, at.p - bent / rate**3, -np.inf)[()]

    def free_run(self, at: Support) -> Numbers:
        """Length of the cable [mm] from the groove to the casing end."""
        return -self._reach(at.p) / self._rate(at)

    def leaves(self, turn: float) -> tuple[Floats, Floats]:
        """Where the cable leaves the groove at a driver turn [rad], and the way it runs from there, (3,) in space."""
        at = self.support(turn)
        x, y = (float(v) for v in self.places(at))
        c, s = np.cos(turn), np.sin(turn)
        way = float(self._normal(at.p)) + self.sense * 0.5 * np.pi
        return self.in_space(x * c - y * s, x * s + y * c), self.in_space(np.cos(way), np.sin(way)) - self.in_space(
            0, 0
        )

    def in_space(self, x: Numbers, y: Numbers) -> Floats:
        """Points (..., 3) [mm] of the plane of e1 and e2."""
        return np.stack([self.centre[i] + x * self.e1[i] + y * self.e2[i] for i in range(3)], axis=-1)

    def along(self, first: float, last: float, count: int = 33) -> Support:
        """Lines from one driver turn [rad] to another through every point in between, both sides of each,
        ``count`` a piece."""
        low, high = min(first, last), max(first, last)
        parts = [self._outside(low, min(high, float(self.arm.x[0])), self.arm.y[0], count)]
        for piece in self.arm.pieces:
            start, end = float(piece.start), float(piece.start + piece.width)
            if min(end, high) > max(start, low):
                t = np.linspace(max(start, low), min(end, high), count)
                inside = np.clip(t - start, 0.0, piece.width)
                parts.append(Support(t, piece.value(inside), piece.slope(inside), piece.second(inside)))
        parts.append(self._outside(max(low, float(self.arm.x[-1])), high, self.arm.y[-1], count))
        whole = Support(*(np.concatenate([part[i] for part in parts]) for i in range(4)))
        return whole if last >= first else Support(*(row[::-1] for row in whole))

    def bottom(self, ends: Sequence[float], count: int = 33) -> Floats:
        """The groove's bottom as the cable's centre line lies on it, and outward unit vectors there, (n, 4) [mm], of
        the driver as drawn, the axis at 0, 0: from a lead-in before the closing end of a travel between two driver
        turns [deg], over the points and the travel, to the anchor."""
        first, last = (float(np.radians(end)) for end in ends)
        low, high = (float(pick(pick(first, last), x)) for pick, x in ((min, self.arm.x[0]), (max, self.arm.x[-1])))
        at = self.along(low, high, count) if last >= first else self.along(high, low, count)
        normal = self._normal(at.p) - at.turn
        x, y = self.places(at)
        parts = [np.column_stack([x, y, np.cos(normal), np.sin(normal)])]
        way = self.sense * (1.0 if last >= first else -1.0)
        for i, sweep, side in ((0, _LEAD, 1.0), (-1, _ANCHOR, -1.0)):
            tight = float(self.radius(Support(*(row[i] for row in at))))
            r = float(np.clip(tight, 0.25 * at.p[i], at.p[i]))
            angle = normal[i] + side * way * sweep * np.linspace(0.0, 1.0, count)[1:]
            out = np.column_stack([np.cos(angle), np.sin(angle)])
            arc = np.array([x[i], y[i]]) + r * (out - [np.cos(normal[i]), np.sin(normal[i])])
            added = np.column_stack([arc, out])
            parts = [added[::-1], *parts] if i == 0 else [*parts, added]
        return np.concatenate(parts)

    @cached_property
    def pieces(self) -> tuple[Support, ...]:
        """Lines at 65 turns of every piece, its ends included, along the first axis."""
        found = []
        many = max(np.ndim(v) for v in (*self.arm.x, *self.arm.y))
        share = np.linspace(0.0, 1.0, _SAMPLES).reshape(-1, *[1] * many)
        for piece in self.arm.pieces:
            t = share * piece.width
            found.append(Support(piece.start + t, piece.value(t), piece.slope(t), piece.second(t)))
        return tuple(found)

    def loops(self, first: Numbers, last: Numbers) -> tuple[Numbers, Numbers]:
        """Whether a travel between two driver turns [rad] comes to a loop below the first, and above the last point."""
        low, high = np.minimum(first, last), np.maximum(first, last)
        begin, end = self.arm.pieces[0], self.arm.pieces[-1]
        below = (low < self.arm.x[0] - _BEYOND) & (begin.d < 0.0)
        return below, (high > self.arm.x[-1] + _BEYOND) & (end.slope(end.width) > 0.0)

    def lacks(self, first: Numbers, last: Numbers) -> tuple[Numbers, Numbers]:
        """How far [rad] a travel between two driver turns goes beyond the points at its first and at its last end."""
        up = np.asarray(last) >= first
        low, high = self.arm.x[0], self.arm.x[-1]
        return (
            np.maximum(np.where(up, low - first, first - high), 0.0)[()],
            np.maximum(np.where(up, last - high, low - last), 0.0)[()],
        )

    def least_radius(self, first: Numbers, last: Numbers) -> Numbers:
        """Least radius of curvature [mm] over the points and a travel; not above 0 where there is a cusp or a loop."""
        with np.errstate(invalid="ignore", divide="ignore"):
            least = np.minimum.reduce([np.min(self.radius(at), axis=0) for at in self.pieces])
        looped = np.logical_or(*self.loops(first, last))
        return np.where(self.clear, np.where(looped, -np.inf, least), np.nan)[()]

    def least_run(self) -> Numbers:
        """Least free run [mm] over the points."""
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.minimum.reduce([np.min(self.free_run(at), axis=0) for at in self.pieces])

    @staticmethod
    def _outside(low: float, high: float, arm: Numbers, count: int) -> Support:
        """Lines beyond the outermost points, none where there is nothing beyond."""
        t = np.linspace(low, high, count) if high > low else np.empty(0)
        return Support(t, np.full_like(t, arm), np.zeros_like(t), np.zeros_like(t))

    def _normal(self, p: Numbers) -> Numbers:
        return self.bearing - self.sense * np.arccos(p / self.away)

    def _reach(self, p: Numbers) -> Numbers:
        return np.sqrt(self.away * self.away - p * p)

    def _rate(self, at: Support) -> Numbers:
        return self.sense * at.p1 / self._reach(at.p) - 1.0


def groove(train: Train, line: SnailCable | None = None) -> Groove | None:
    """The groove of a train's quadrant; None where the cable is on a pin or on a round quadrant.

    Without a casing end the cable is taken to keep its direction: against ``casing_axis`` where that is
    given, else level, off the top of the quadrant. Where the casing end lies within a moment arm the groove
    is drawn so too, and ``clear`` says it.
    """
    cable, found = train.rig.cable, line or cable_line(train)
    if cable is None or not isinstance(found, SnailCable):
        return None
    member, dims = train.rig.driver, train.dims
    axis, at = train.rig.members[member].axis, table_of(train.rig, member)
    e1, e2 = _plane(axis)
    pivot = (dims[f"{at}.pivot.x"], dims[f"{at}.pivot.y"], dims[f"{at}.pivot.z"])
    level = np.pi if found.sense > 0.0 else 0.0
    if cable.casing_axis is not None:
        out = (closure.dot(cable.casing_axis, e1), closure.dot(cable.casing_axis, e2))
        level = float(np.arctan2(-out[1], -out[0])) if np.hypot(*out) > 1e-9 else level
    away: Numbers = np.inf
    bearing: Numbers = level
    clear: Numbers = True
    if cable.casing_end is not None:
        end = (dims["cable.casing_end.x"], dims["cable.casing_end.y"], dims["cable.casing_end.z"])
        off = closure.minus(end, pivot)
        x, y = closure.dot(off, e1), closure.dot(off, e2)
        size = np.sqrt(x * x + y * y)
        clear = size > np.maximum.reduce(np.broadcast_arrays(*found.arm.y))
        away, bearing = np.where(clear, size, np.inf)[()], np.where(clear, np.arctan2(y, x), level)[()]
    centre = (pivot[0], pivot[1], pivot[2])
    return Groove(found.arm, found.sense, away, bearing, clear, centre, e1, e2)


def _plane(axis: Point) -> tuple[Point, Point]:
    """Two unit vectors square to an axis, turned ccw about it from one to the other; the second upright."""
    wish = (0.0, 1.0, 0.0) if abs(axis[1]) < 0.86 else (0.0, 0.0, 1.0)
    along = closure.dot(wish, axis)
    out = closure.minus(wish, (along * axis[0], along * axis[1], along * axis[2]))
    size = float(np.sqrt(closure.dot(out, out)))
    up = (out[0] / size, out[1] / size, out[2] / size)
    x, y, z = closure.cross(up, axis)
    return (float(x), float(y), float(z)), up
