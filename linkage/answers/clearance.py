r"""Clearance: the smallest gap between every two parts through the travel.

::

       link   pin to pin, its diameter            gap = distance of the two centre lines
       arm    axis to pin at its station, as            - half of each thickness
              thick as it is wide
       hub    along the axis, from its first to
              its last arm, its hub diameter      (o======)  a segment with round ends
       block  of a slide: between those two of
              its pins that stand farthest apart

What has no size given counts as a line of no thickness. Negative: the parts would pass through each
other, in the plane or in space; parts drawn all in one plane are to be given their stations.

Not compared: parts of one member; an arm with the links on it and links on one pin with each other
(they touch at their joint, and what turns there is the transmission angle's concern); parts that do
not move against each other; an arm with the hub of a coaxial member coupled to it. A link is
compared with the hub of its own member: that is where it fouls when it comes near a dead point.

References
----------
C. Ericson, *Real-Time Collision Detection*, Morgan Kaufmann 2005, §5.1.9, closest points of two
segments (from memory). Least gap of 5 mm of a throttle rod: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations, combinations_with_replacement

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.answers.checks import Check, percent
from linkage.motion import Motion
from linkage.motion.assembly import arm_frame, table_of
from linkage.parts import Linkage, Point, Slide
from linkage.tables import length
from linkage.train import split_pin

Floats = NDArray[np.float64]

_GRID = 121  # positions that show every approach of two parts
_ZOOM = 17  # positions of each of three closer looks at it


@dataclass(frozen=True, slots=True)
class Gap:
    """The smallest gap [mm] of two parts, ``between`` which (dotted names), at what driver ``turn`` [deg]
    and ``fraction`` of the travel; ``points`` [mm] are the nearest points of their centre lines."""

    between: tuple[str, str]
    gap: float
    turn: float
    fraction: float
    points: tuple[Point, Point]


@dataclass(frozen=True, slots=True)
class ClearanceReport:
    """Gaps of all pairs, smallest first, and the parts that have no size given."""

    gaps: tuple[Gap, ...]
    without_size: tuple[str, ...]

    @property
    def least(self) -> Gap:
        """The smallest gap of all."""
        return self.gaps[0]


@dataclass(frozen=True, slots=True)
class Part:
    """A part as a capsule: its dotted ``name``, thickness [mm] (None: not given), the ``member`` that it is
    part of ("" for a link), and the ``pins`` ("member.arm") on it."""

    name: str
    thickness: float | None
    member: str
    pins: tuple[str, ...]


def parts_of(run: Motion) -> tuple[Part, ...]:
    """Links, arms and hubs of a linkage."""
    rig = run.rig
    found = [Part(f"link.{name}", link.diameter, "", link.joins) for name, link in rig.link.items()]
    for name, member in rig.members.items():
        at = table_of(rig, name)
        if isinstance(member, Slide):
            found.append(Part(at, None, name, tuple(f"{name}.{pin}" for pin in member.pin)))
            continue
        for arm, part in member.arm.items():
            found.append(Part(f"{at}.arm.{arm}", part.width, name, (f"{name}.{arm}",)))
        found.append(Part(at, member.hub_diameter, name, ()))
    return tuple(found)


def centre_lines(run: Motion) -> Mapping[str, tuple[Floats, Floats]]:
    """Both ends of every part's centre line [mm] by its dotted name, shape (n, 3) each."""
    rig, found = run.rig, {}
    pins: dict[str, Floats] = {}
    for name, member in rig.members.items():
        at, axis = table_of(rig, name), np.array(member.axis)
        pivot = np.array(member.pivot)
        along = []
        for arm in member.arm:
            frame = arm_frame(rig, run.train.dims, name, arm)
            root = np.array(frame.centre, float)
            pins[f"{name}.{arm}"] = _spread(closure.pin(frame, *run.pose[name]), run)
            if isinstance(member, Slide):
                continue
            found[f"{at}.arm.{arm}"] = (np.broadcast_to(root, (run.turn.size, 3)), pins[f"{name}.{arm}"])
            along.append(float((root - pivot) @ axis))
        if isinstance(member, Slide):
            one, other = _farthest(member)
            found[at] = (pins[f"{name}.{one}"], pins[f"{name}.{other}"])
            continue
        low, high = (pivot + axis * end for end in (min(along, default=0.0), max(along, default=0.0)))
        found[at] = (np.broadcast_to(low, (run.turn.size, 3)), np.broadcast_to(high, (run.turn.size, 3)))
    for name, link in rig.link.items():
        found[f"link.{name}"] = (pins[link.joins[0]], pins[link.joins[1]])
    return found


def _farthest(block: Slide) -> tuple[str, str]:
    """The two pins of a block that stand farthest apart; the only one twice."""
    pairs = combinations_with_replacement(block.pin, 2)
    return max(pairs, key=lambda pair: math.dist(block.pin[pair[0]].at, block.pin[pair[1]].at))


def _spread(point: closure.Vector, run: Motion) -> Floats:
    return np.stack([np.broadcast_to(x, run.turn.shape) for x in point], axis=-1)


def clearance(run: Motion) -> ClearanceReport | None:
    """Smallest gaps of a motion; None where :func:`lacks` says what is missing.

    Parameters
    ----------
    run : Motion

    Returns
    -------
    ClearanceReport or None
        Every pair that can come nearer or part, each at its smallest over the travel (of the curve,
        not of samples).
    """
    if lacks(run.rig):
        return None
    parts = parts_of(run)
    pairs = [(a, b) for a, b in combinations(parts, 2) if not _joined(run.rig, a, b)]
    if not pairs:
        return None
    thick = np.array([0.5 * ((a.thickness or 0.0) + (b.thickness or 0.0)) for a, b in pairs])
    first, last = run.ends
    turns = np.broadcast_to(np.linspace(first, last, _GRID), (len(pairs), _GRID))
    step = (last - first) / (_GRID - 1)
    apart, points = _apart(run, pairs, turns[0])
    rows = np.arange(len(pairs))
    for _ in range(3):
        nearest = turns[rows, np.argmin(np.nan_to_num(apart, nan=np.inf), axis=1)]
        turns = nearest[:, None] + step * np.linspace(-1.0, 1.0, _ZOOM)
        turns = np.clip(turns, min(first, last), max(first, last))
        apart, points = _apart(run, pairs, turns)
        step *= 2.0 / (_ZOOM - 1)
    best = np.argmin(np.nan_to_num(apart, nan=np.inf), axis=1)
    turn, gap = turns[rows, best], apart[rows, best] - thick
    fraction = run.at(turn).fraction
    found = [
        Gap((a.name, b.name), float(gap[i]), float(turn[i]), float(fraction[i]), _places(points, i, int(best[i])))
        for i, (a, b) in enumerate(pairs)
    ]
    ordered = sorted(found, key=lambda row: row.gap)
    return ClearanceReport(tuple(ordered), tuple(part.name for part in parts if part.thickness is None))


def _places(points: tuple[Floats, Floats], pair: int, position: int) -> tuple[Point, Point]:
    (ax, ay, az), (bx, by, bz) = (p[pair, position].tolist() for p in points)
    return (ax, ay, az), (bx, by, bz)


def _apart(run: Motion, pairs: list[tuple[Part, Part]], turns: Floats) -> tuple[Floats, tuple[Floats, Floats]]:
    """Distance of every pair's centre lines and their nearest points, at turns for all or of each pair (P, n)."""
    lines = centre_lines(run.at(turns.ravel()))
    own = turns.ndim == 2
    width = turns.shape[-1]

    def end(i: int, part: Part, which: int) -> Floats:
        at = lines[part.name][which]
        return at[i * width : (i + 1) * width] if own else at

    ends = [
        np.stack([end(i, pair[side], which) for i, pair in enumerate(pairs)]) for side in (0, 1) for which in (0, 1)
    ]
    return segment_distance(ends[0], ends[1], ends[2], ends[3])


def segment_distance(a: Floats, b: Floats, c: Floats, d: Floats) -> tuple[Floats, tuple[Floats, Floats]]:
    """Distance [mm] of the segments a-b and c-d, and the nearest point on each.

    The nearest points lie inside both segments, or one is an end: all five are tried. A segment may
    be a point; parallel ones have many nearest points, of which one is given.

    Parameters
    ----------
    a, b, c, d : ndarray, shape (..., 3)
        Ends [mm].

    Returns
    -------
    distance : ndarray, shape (...)
    points : pair of ndarray, shape (..., 3)
    """
    u, v, w = b - a, d - c, a - c
    uu, uv, vv = _dot(u, u), _dot(u, v), _dot(v, v)
    uw, vw = _dot(u, w), _dot(v, w)
    with np.errstate(divide="ignore", invalid="ignore"):
        across = uu * vv - uv * uv
        s, t = (uv * vw - vv * uw) / across, (uu * vw - uv * uw) / across
        tries = [
            (s, t),
            (np.zeros_like(s), vw / vv),
            (np.ones_like(s), (vw + uv) / vv),
            (-uw / uu, np.zeros_like(s)),
            ((uv - uw) / uu, np.ones_like(s)),
        ]
    best, at = np.full(s.shape, np.inf), (np.zeros_like(s), np.zeros_like(s))
    for s, t in tries:
        s, t = (np.clip(np.nan_to_num(x, posinf=0.0, neginf=0.0), 0.0, 1.0) for x in (s, t))
        away = w + s[..., None] * u - t[..., None] * v
        size = np.sqrt(_dot(away, away))
        nearer = size < best
        best, at = np.where(nearer, size, best), (np.where(nearer, s, at[0]), np.where(nearer, t, at[1]))
    best = np.where(np.isfinite(best), best, np.nan)
    return best, (a + at[0][..., None] * u, c + at[1][..., None] * v)


def _dot(a: Floats, b: Floats) -> Floats:
    return np.asarray((a * b).sum(axis=-1))


def _joined(rig: Linkage, a: Part, b: Part) -> bool:
    """Whether two parts cannot foul each other, or touch where they are joined."""
    if a.member and a.member == b.member:
        return True
    if set(a.pins) & set(b.pins):
        return True
    if not (a.member and b.member):
        return False
    if not a.pins and not b.pins:
        return True  # two hubs at rest
    if a.pins and b.pins:
        return False
    tied = any({a.member, b.member} == set(coupling.joins) for coupling in rig.coupling.values())
    return tied and _coaxial(rig, a.member, b.member)


def _coaxial(rig: Linkage, a: str, b: str) -> bool:
    one, two = rig.members[a], rig.members[b]
    away = np.subtract(two.pivot, one.pivot)
    off = np.linalg.norm(np.cross(one.axis, away))
    return bool(off < 1e-6 and np.linalg.norm(np.cross(one.axis, two.axis)) < 1e-9)


def lacks(rig: Linkage) -> str:
    """What to add to the design file for this answer, in one sentence; "" where nothing lacks."""
    if not any(link.diameter for link in rig.link.values()):
        return "Clearance needs the diameter of the links (and width of the arms, hub_diameter of the members)."
    return ""


def checks(run: Motion, report: ClearanceReport | None) -> tuple[Check, ...]:
    """The smallest gap against the limit."""
    if report is None:
        return ()
    least, limit, units = report.least, run.rig.limits.gap, run.rig.units
    (a, b), at = least.between, f"at {percent(least.fraction)}"
    bad = least.gap < limit - 1e-9
    if least.gap < 0.0:
        flat = _one_plane(run)
        says = f"{at} {a} and {b} would pass through each other by {length(-least.gap, units)}"
        says += ": all parts are drawn in one plane; give the arms their stations" if flat else ""
    else:
        says = f"{at} {a} and {b} come within {length(least.gap, units)} of each other"
    says += f"; {length(limit, units)} is wanted" if bad else f"; {length(limit, units)} or more is kept"
    where = f"{a} and {b}, {percent(least.fraction)}"
    return (Check("gap", "fail" if bad else "pass", least.gap, limit, "mm", where, says + "."),)


def _one_plane(run: Motion) -> bool:
    """Whether every pin lies at the same height along z."""
    pins = [split_pin(pin) for link in run.rig.link.values() for pin in link.joins]
    heights = [arm_frame(run.rig, run.train.dims, member, arm).centre[2] for member, arm in pins]
    return all(abs(axis) < 1e-9 for m, _ in pins for axis in run.rig.members[m].axis[:2]) and max(heights) == min(
        heights
    )
