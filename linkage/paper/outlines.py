r"""The outline of a lever or bell-crank plate: metal round every hole, webbed together, with fillets.

::

            boss                 every arm: the hub's disc and the pin's boss, and the two lines that
           .-o-.                 touch both (the hull of two discs)
          /     \
         /  arm  \               arms together; then a ball of the fillet's radius is rolled round them,
    ____/         \____          and every corner that it does not reach is filled with metal
   (  o   fillet    o  )
    ----.__ (O) __.----          so no hole anywhere has less metal round it than its disc
            hub

Rolling a ball of radius ``R`` round the arms is growing them by ``R`` and shrinking the whole by
``R`` again (a closing). Grown arms are hulls of grown discs; all of them hold the pivot, so seen
from there the edge of all is the farthest edge in every direction. Each of its pieces moves back in
by ``R``; each of its corners becomes a fillet about that corner. Straight lines and arcs only, exact.

References
----------
J. Serra, *Image Analysis and Mathematical Morphology*, Academic Press 1982 (closing by a disc; from
memory). The bulge of an arc, ``tan(sweep / 4)``, is that of the DXF reference, entity LWPOLYLINE.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import NamedTuple

Spot = tuple[float, float]

_TURN = 2.0 * math.pi
_SAME = 1e-9


class Disc(NamedTuple):
    """A disc [mm] about ``x``, ``y`` in the plane of the plate, the pivot at 0, 0."""

    x: float
    y: float
    r: float


class Vertex(NamedTuple):
    """A corner of a closed outline [mm] and the ``bulge`` of the way to the next: ``tan(sweep / 4)`` of an
    arc, above 0 ccw, 0 for a straight line."""

    x: float
    y: float
    bulge: float


class Arc(NamedTuple):
    """An arc of an outline: ``centre``, ``radius`` [mm], where it starts and how far it sweeps [rad], ccw above 0."""

    centre: Spot
    radius: float
    start: float
    sweep: float


Outline = tuple[Vertex, ...]


def outline(hub: float, bosses: Iterable[Disc], fillet: float) -> Outline:
    """Work out the outline of a plate.

    Parameters
    ----------
    hub : float
        Radius of the metal round the pivot [mm], above 0.
    bosses : iterable of Disc
        The metal round every other hole.
    fillet : float
        Radius of the fillets between the arms [mm], 0 for sharp corners.

    Returns
    -------
    tuple of Vertex
        Ccw, closed; of the pivot's disc alone where there is no boss beyond it.

    Examples
    --------
    >>> [round(v.x, 3) for v in outline(8.0, [Disc(30.0, 0.0, 6.0)], 5.0)]
    [0.533, 30.4, 30.4, 0.533]

    References
    ----------
    See the head of this module.
    """
    if hub <= 0.0 or fillet < 0.0:
        raise ValueError(f"outline: hub must be above 0 and fillet not below 0, got {hub} and {fillet}")
    grown = [_Arm.of(hub + fillet, boss._replace(r=boss.r + fillet), i) for i, boss in enumerate(_apart(bosses))]
    pieces = _farthest([_Edge(-1, Disc(0.0, 0.0, hub + fillet)), *(edge for arm in grown for edge in arm.edges)])
    return tuple(_shrunk(pieces, fillet))


def arcs(around: Outline) -> Iterator[tuple[Vertex, Vertex, Arc | None]]:
    """The ways of an outline: from a corner to the next, and the arc that leads there (None: straight)."""
    for start, end in zip(around, (*around[1:], around[0]), strict=True):
        yield start, end, _arc(start, end) if start.bulge else None


def sampled(around: Outline, step: float = 0.25) -> list[Spot]:
    """Points along an outline, no further apart than ``step`` [mm]."""
    found: list[Spot] = []
    for start, end, arc in arcs(around):
        if arc is None:
            count = max(1, math.ceil(math.dist(start[:2], end[:2]) / step))
            found += [
                (start.x + (end.x - start.x) * i / count, start.y + (end.y - start.y) * i / count) for i in range(count)
            ]
            continue
        count = max(1, math.ceil(abs(arc.sweep) * arc.radius / step))
        for i in range(count):
            at = arc.start + arc.sweep * i / count
            found.append((arc.centre[0] + arc.radius * math.cos(at), arc.centre[1] + arc.radius * math.sin(at)))
    return found


def box(around: Outline) -> tuple[float, float, float, float]:
    """Left, bottom, right and top of an outline [mm]."""
    points = [vertex[:2] for vertex in around]
    for _, _, arc in arcs(around):
        if arc is None:
            continue
        for quarter in range(4):
            at = quarter * 0.5 * math.pi
            passed = (at - arc.start) % _TURN if arc.sweep > 0.0 else (arc.start - at) % _TURN
            if passed <= abs(arc.sweep):
                points.append((arc.centre[0] + arc.radius * math.cos(at), arc.centre[1] + arc.radius * math.sin(at)))
    xs, ys = zip(*points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def _arc(start: Vertex, end: Vertex) -> Arc:
    sweep = 4.0 * math.atan(start.bulge)
    chord = math.dist(start[:2], end[:2])
    radius = 0.5 * chord / abs(math.sin(0.5 * sweep))
    middle = (0.5 * (start.x + end.x), 0.5 * (start.y + end.y))
    # the centre lies left of the chord for a ccw arc of less than half a turn
    off = 0.5 * chord / math.tan(0.5 * sweep)
    away = (-(end.y - start.y) / chord * off, (end.x - start.x) / chord * off)
    centre = (middle[0] + away[0], middle[1] + away[1])
    return Arc(centre, radius, math.atan2(start.y - centre[1], start.x - centre[0]), sweep)


def _apart(bosses: Iterable[Disc]) -> list[Disc]:
    """The discs, those that are one and the same once."""
    kept: list[Disc] = []
    for boss in bosses:
        if all(math.dist(boss[:2], other[:2]) > _SAME or boss.r > other.r + _SAME for other in kept):
            kept.append(boss)
    return kept


@dataclass(frozen=True, slots=True)
class _Edge:
    """A piece of an arm's edge: a circle, or the straight line with the outward ``normal`` [rad] that touches
    the hub's circle of radius ``reach``; seen from the pivot over ``span`` from ``first`` [rad], ccw."""

    arm: int
    disc: Disc | None = None
    normal: float = 0.0
    reach: float = 0.0
    first: float = 0.0
    span: float = _TURN

    def sees(self, at: float) -> bool:
        """Whether the piece lies in a direction from the pivot."""
        return (at - self.first) % _TURN <= self.span + _SAME

    def far(self, at: float) -> float:
        """How far the piece lies in a direction from the pivot."""
        if self.disc is None:
            return self.reach / math.cos(at - self.normal)
        away, centre = math.hypot(self.disc.x, self.disc.y), math.atan2(self.disc.y, self.disc.x)
        side = away * math.sin(at - centre)
        return away * math.cos(at - centre) + math.sqrt(max(self.disc.r**2 - side**2, 0.0))

    def facing(self, at: Spot) -> float:
        """Outward normal [rad] at a point of the piece."""
        return self.normal if self.disc is None else math.atan2(at[1] - self.disc.y, at[0] - self.disc.x)


@dataclass(frozen=True, slots=True)
class _Arm:
    """The hull of the hub's disc and one boss: its edges beyond the hub's own circle."""

    edges: tuple[_Edge, ...]

    @classmethod
    def of(cls, hub: float, boss: Disc, number: int) -> _Arm:
        away, along = math.hypot(boss.x, boss.y), math.atan2(boss.y, boss.x)
        if boss.r >= hub + away:  # the boss holds the hub
            return cls((_Edge(number, boss),))
        if away + boss.r <= hub:
            return cls(())
        lean = math.acos((hub - boss.r) / away)
        right, left = along - lean, along + lean
        ends = [math.atan2(boss.y + boss.r * math.sin(n), boss.x + boss.r * math.cos(n)) for n in (right, left)]
        return cls(
            (
                _Edge(number, None, right, hub, right, (ends[0] - right) % _TURN),
                _Edge(number, boss, first=ends[0], span=(ends[1] - ends[0]) % _TURN),
                _Edge(number, None, left, hub, ends[1], (left - ends[1]) % _TURN),
            )
        )


class _Piece(NamedTuple):
    """A part of the farthest edge, from one point to another."""

    edge: _Edge
    start: Spot
    end: Spot


def _farthest(edges: Sequence[_Edge]) -> list[_Piece]:
    """The edge of all arms together: in every direction from the pivot the farthest."""
    at = {0.0} | {angle % _TURN for edge in edges for angle in (edge.first, edge.first + edge.span)}
    for one, other in combinations(edges, 2):
        if one.arm != other.arm:
            at |= {math.atan2(y, x) % _TURN for x, y in _crossings(one, other)}
    turns = sorted(at)
    bounds = [angle for i, angle in enumerate(turns) if i == 0 or angle - turns[i - 1] > _SAME]
    chosen: list[tuple[_Edge, float, float]] = []
    for low, high in zip(bounds, (*bounds[1:], bounds[0] + _TURN), strict=True):
        if high - low <= _SAME:
            continue
        middle = 0.5 * (low + high)
        edge = max((e for e in edges if e.sees(middle)), key=lambda e: round(e.far(middle), 9))
        if chosen and chosen[-1][0] is edge:
            chosen[-1] = (edge, chosen[-1][1], high)
        else:
            chosen.append((edge, low, high))
    if len(chosen) > 1 and chosen[0][0] is chosen[-1][0]:
        last = chosen.pop()
        chosen[0] = (last[0], last[1], chosen[0][2] + _TURN)
    return [_Piece(edge, _spot(edge, low), _spot(edge, high)) for edge, low, high in chosen]


def _spot(edge: _Edge, at: float) -> Spot:
    far = edge.far(at)
    return far * math.cos(at), far * math.sin(at)


def _crossings(one: _Edge, other: _Edge) -> Iterator[Spot]:
    """Points common to the lines or circles of two edges."""
    if one.disc is None and other.disc is None:
        across = math.sin(other.normal - one.normal)
        if abs(across) > _SAME:  # n1.p = reach, n2.p = reach
            x = (one.reach * math.sin(other.normal) - other.reach * math.sin(one.normal)) / across
            y = (other.reach * math.cos(one.normal) - one.reach * math.cos(other.normal)) / across
            yield x, y
        return
    if one.disc is None or other.disc is None:
        line, disc = (one, other.disc) if one.disc is None else (other, one.disc)
        assert disc is not None
        n = (math.cos(line.normal), math.sin(line.normal))
        off = line.reach - n[0] * disc.x - n[1] * disc.y
        if abs(off) <= disc.r:
            half = math.sqrt(disc.r**2 - off**2)
            for side in (half, -half):
                yield disc.x + off * n[0] - side * n[1], disc.y + off * n[1] + side * n[0]
        return
    a, b = one.disc, other.disc
    apart = math.dist(a[:2], b[:2])
    if apart <= _SAME or apart > a.r + b.r or apart < abs(a.r - b.r):
        return
    along = (apart**2 + a.r**2 - b.r**2) / (2.0 * apart)
    half = math.sqrt(max(a.r**2 - along**2, 0.0))
    u = ((b.x - a.x) / apart, (b.y - a.y) / apart)
    for side in (half, -half):
        yield a.x + along * u[0] - side * u[1], a.y + along * u[1] + side * u[0]


def _shrunk(pieces: Sequence[_Piece], fillet: float) -> Iterator[Vertex]:
    """The pieces moved in by the fillet's radius, a fillet about every corner between them."""
    if len(pieces) == 1:  # a disc alone
        disc = pieces[0].edge.disc
        assert disc is not None
        r = disc.r - fillet
        yield from (Vertex(disc.x + r, disc.y, 1.0), Vertex(disc.x - r, disc.y, 1.0))
        return
    for piece, after in zip(pieces, (*pieces[1:], pieces[0]), strict=True):
        low, high = piece.edge.facing(piece.start), piece.edge.facing(piece.end)
        start, end = _in(piece.start, low, fillet), _in(piece.end, high, fillet)
        if math.dist(start, end) > _SAME:
            sweep = (high - low) % _TURN if piece.edge.disc is not None else 0.0
            yield Vertex(*start, math.tan(0.25 * sweep))
        turn = (after.edge.facing(after.start) - high + math.pi) % _TURN - math.pi
        if turn < -1e-7 and fillet > 0.0:  # a corner: the ball's own arc, cw
            yield Vertex(*end, math.tan(0.25 * turn))


def _in(at: Spot, normal: float, by: float) -> Spot:
    return at[0] - by * math.cos(normal), at[1] - by * math.sin(normal)
