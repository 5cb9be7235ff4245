r"""The plate of a snail quadrant at true size: its rim, the bottom of its groove, its bore, the cable's anchor.

::

       .--------.  rim                     the cable's centre line is the envelope that its moment arm asks for;
      /  .----.  \                         the groove's bottom lies half a cable within it, the rim beyond it;
     o  /      \  |  bottom                the outline is the hull of rim, hub and the metal round the anchor
    anchor      \ |
        \   (O)  -'   where the cable leaves at idle

The plate stands as at idle, as the levers do. Curves are drawn as short straight steps, no further
than a thousandth of a millimetre from the true curve at usual sizes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from linkage.motion import Motion
from linkage.motion.groove import groove
from linkage.paper.outlines import Outline, Spot, Vertex
from linkage.paper.plates import Hole, Plate, sight
from linkage.paper.practice import Practice
from linkage.parts import Shaft

_FINE = 129  # points of the curve in every piece of the profile
_STEP = 0.15  # [mm] points nearer than this are left out
_ROUND = 240  # points round a disc


@dataclass(frozen=True)
class SnailPlate(Plate):
    """A plate with a groove: the cable's ``line`` and the groove's ``bottom`` [mm], from the lead-in to the anchor; the
    ``rim`` [mm] points beyond it; ``cable`` its diameter [mm]."""

    line: tuple[Spot, ...] = ()
    bottom: tuple[Spot, ...] = ()
    rim: tuple[Spot, ...] = ()
    cable: float = 0.0

    @cached_property
    def around(self) -> Outline:
        """The outline, the pivot at 0, 0: the hull of the rim and of the metal round bore and anchor."""
        points = list(self.rim)
        for x, y, r in ((0.0, 0.0, 0.5 * self.hub + self.edge), *(
            (hole.x, hole.y, 0.5 * hole.diameter + self.edge) for hole in self.holes
        )):  # fmt: skip
            turns = np.linspace(0.0, 2.0 * math.pi, _ROUND, endpoint=False)
            points += [(x + r * math.cos(t), y + r * math.sin(t)) for t in turns]
        return tuple(Vertex(x, y, 0.0) for x, y in _hull(points))


def snail_plate(run: Motion, practice: Practice) -> SnailPlate | None:
    """The plate of the driver's snail quadrant; None where there is none.

    Parameters
    ----------
    run : Motion
    practice : Practice
        Diameters of cable and anchor, rim, edge, thickness [mm].
    """
    found = groove(run.train)
    if found is None:
        return None
    rig, name = run.rig, run.rig.driver
    part, seen = rig.members[name], sight(rig.members[name].axis)
    right, up = seen.flat(found.e1), seen.flat(found.e2)
    rows = found.bottom(run.ends, _FINE)
    turned = np.array([right, up])
    at, out = rows[:, :2] @ turned, rows[:, 2:] @ turned
    kept = _thinned(at)
    at, out = at[kept], out[kept]
    cable, rim = practice.cable_of(), practice.rim_of()
    opens = part.opens if isinstance(part, Shaft) else "ccw" if run.train.opens > 0.0 else "cw"
    return SnailPlate(
        name=f"{name} quadrant", member=name, station=0.0, seen=seen, opens=opens, hub=practice.hub_hole(rig, name),
        holes=(Hole("cable anchor", float(at[-1, 0]), float(at[-1, 1]), practice.nipple_of(), "cable"),),
        edge=practice.edge_of(rig), fillet=0.0, thickness=practice.thickness_of(rig), line=_spots(at),
        bottom=_spots(at - 0.5 * cable * out), rim=_spots(at + rim * out), cable=cable,
    )  # fmt: skip


def _spots(points: np.ndarray[tuple[int, int], np.dtype[np.float64]]) -> tuple[Spot, ...]:
    return tuple((float(x), float(y)) for x, y in points)


def _thinned(points: np.ndarray[tuple[int, int], np.dtype[np.float64]]) -> list[int]:
    """Indices of the points that stand apart, with the first and the last."""
    kept = [0]
    for i in range(1, len(points)):
        if math.dist(points[i], points[kept[-1]]) >= _STEP:
            kept.append(i)
    return kept if kept[-1] == len(points) - 1 else [*kept[:-1], len(points) - 1]


def _hull(points: list[Spot]) -> list[Spot]:
    """The convex hull of points, ccw; Andrew's monotone chain (Information Processing Letters 9, 1979; from memory)."""

    def chain(listed: list[Spot]) -> list[Spot]:
        found: list[Spot] = []
        for p in listed:
            while len(found) > 1 and _left(found[-2], found[-1], p) <= 0.0:
                found.pop()
            found.append(p)
        return found[:-1]

    rising = sorted(set(points))
    return chain(rising) + chain(rising[::-1])


def _left(a: Spot, b: Spot, c: Spot) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
