"""What a drawing shows, worked out before anything is drawn: every point flat, in the design's unit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkage import closure
from linkage.motion import Motion
from linkage.motion.groove import groove
from linkage.parts import SIGN, Member, Point, Shaft, Slide
from linkage.plots import style
from linkage.plots.views import View, blocks, bore_axis, end_on, flat, hubs, pins, slots
from linkage.quantities import own_scale

Floats = NDArray[np.float64]

_SWEEP = 61  # positions along a pin's path
_REACH = 0.45  # a cable or spring may run this much of the linkage's size past it before it is cut short


@dataclass(frozen=True, eq=False)
class Scene:
    """A motion as seen: the ``still`` positions drawn, the ``swept`` travel, pins, paths and hubs by
    ``"member.arm"``; flat points are in the design's own length unit."""

    run: Motion
    still: Motion
    swept: Motion
    view: View
    pens: dict[str, style.Pen]
    pin: dict[str, Floats]  # (positions drawn, 2)
    path: dict[str, Floats]  # (_SWEEP, 2)
    hub: dict[str, Floats]  # (2,)
    hub_space: dict[str, Floats]  # (3,) [mm]
    block: dict[str, Floats]  # (positions drawn, 4, 2): corners of what slides
    rails: dict[str, Floats]  # (2, 2, 2): both rails of its guide
    slot: dict[str, Floats]  # (positions drawn, 2, 2): both ends of a slotted link's slot

    @property
    def positions(self) -> int:
        """How many positions are drawn."""
        return len(self.still.turn)

    def flat(self, points: ArrayLike) -> Floats:
        """Points (..., 3) [mm] as seen."""
        return flat(self.view, points, self.run.rig.units)

    def way(self, vector: ArrayLike) -> Floats:
        """A direction (3,) as seen, (2,): of length 1 where it lies in the picture."""
        return flat(self.view, vector, "mm")

    @property
    def unit(self) -> float:
        """The design's own length unit [mm]."""
        return own_scale(self.run.rig.units, "length")

    def size(self, mm: float) -> float:
        """A length [mm] in the design's own unit."""
        return mm / self.unit

    def end_on(self, member: Member | Slide) -> bool:
        """Whether a member's axis is looked along."""
        return end_on(self.view, member.axis)

    def colour(self, name: str) -> str:
        """Colour of a member, or of the member of an arm."""
        member = name.rpartition(".")[0] or name
        return self.pens[member].colour if member in self.pens else style.INK

    def gid(self, kind: str, name: str, index: int | None = None) -> str:
        """The name under which a drawn thing can be found again."""
        return f"{self.view.name}.{kind}.{name}" + ("" if index is None else f".{index}")


def scene_of(run: Motion, at: Sequence[float], view: View) -> Scene:
    """Work out what a picture shows at shares 0..1 of the travel."""
    if len(at) == 0 or not all(0.0 <= share <= 1.0 for share in at):
        raise ValueError(f"at: must be shares of the travel from 0 to 1, got {tuple(at)!r}")
    still, swept = run.at_fraction(at), run.at(np.linspace(*run.ends, _SWEEP))
    units = run.rig.units
    return Scene(
        run, still, swept, view, style.pens(run.rig.shaft),
        {name: flat(view, where, units) for name, where in pins(still).items()},
        {name: flat(view, where, units) for name, where in pins(swept).items()},
        {name: flat(view, where, units) for name, where in hubs(run).items()},
        hubs(run),
        {name: flat(view, sliding.corners, units) for name, sliding in blocks(still).items()},
        {name: flat(view, sliding.rails, units) for name, sliding in blocks(still).items()},
        {name: flat(view, ends, units) for name, ends in slots(still).items()},
    )  # fmt: skip


def plate_ends(scene: Scene, shaft: Shaft, bore: float, index: int) -> Floats:
    """The edge-on line (2, 2) of a shaft's plate, wall to wall of its bore [mm] when shut, at a drawn position."""
    along = bore_axis(shaft.axis)
    across = closure.cross(along, shaft.axis)  # the plate at 0 degrees, square to the bore
    angle = math.radians(float(scene.still.plate_angle[shaft.name][index])) * SIGN[shaft.opens]
    turned = closure.cross(shaft.axis, across)
    way = np.array([math.cos(angle) * across[i] + math.sin(angle) * turned[i] for i in range(3)])
    half = 0.5 * bore / math.cos(math.radians(shaft.plate_angle.shut))
    pivot = np.array(shaft.pivot)
    return scene.flat(np.stack([pivot - half * way, pivot + half * way]))


def quadrant_rim(scene: Scene, index: int = -1, count: int = 33) -> Floats:
    """The groove of the driver's quadrant (n, 2) at a drawn position: a circle, or a snail's sector."""
    cable, driver = scene.run.rig.cable, scene.run.rig.turning[scene.run.rig.driver]
    assert cable is not None
    snail = groove(scene.run.train)
    if snail is None:
        assert cable.radius is not None
        angles = np.linspace(0.0, 2.0 * math.pi, count)
        return scene.flat(driver.pivot) + scene.size(cable.radius) * np.column_stack([np.cos(angles), np.sin(angles)])
    turn = math.radians(float(scene.still.turn[index]))
    x, y = snail.bottom(scene.run.ends, count).T[:2]
    x, y = (np.concatenate([[0.0], row, [0.0]]) for row in (x, y))
    c, s = math.cos(turn), math.sin(turn)
    return scene.flat(snail.in_space(x * c - y * s, x * s + y * c))


def quadrant_run(scene: Scene, index: int = -1) -> tuple[Floats, Floats, bool]:
    """Where the cable leaves its quadrant at a drawn position, the casing end (assumed level with it where not
    given), and whether the run is cut short."""
    cable = scene.run.rig.cable
    assert cable is not None
    snail = groove(scene.run.train)
    if snail is not None:
        turn = math.radians(float(scene.still.turn[index]))
        place, way = snail.leaves(turn)
        leaves = scene.flat(place)
        if cable.casing_end is not None and snail.clear:
            return leaves, *shortened(scene, leaves, cable.casing_end)
        return leaves, leaves + 2.2 * scene.size(float(snail.arm.value(turn))) * scene.way(way), False
    assert cable.radius is not None
    member = scene.run.rig.turning[scene.run.rig.driver]
    centre, radius = scene.flat(member.pivot), scene.size(cable.radius)
    sense = SIGN[cable.pull_turns or "ccw"] * math.copysign(1.0, closure.dot(member.axis, scene.view.out))
    if cable.casing_end is not None:
        out = scene.flat(cable.casing_end) - centre
        apart = float(np.hypot(*out))
        if apart > radius:
            # the tangent point from which a pull towards the casing turns the quadrant the right way
            angle = math.atan2(out[1], out[0]) - sense * math.acos(radius / apart)
            leaves = centre + radius * np.array([math.cos(angle), math.sin(angle)])
            return leaves, *shortened(scene, leaves, cable.casing_end)
    leaves = centre + np.array([0.0, radius])
    return leaves, leaves + np.array([-sense * 2.2 * radius, 0.0]), False


def frame_of(scene: Scene) -> tuple[Floats, Floats]:
    """Lower left and upper right corner of the linkage itself: bores, pivots, pins and their paths."""
    rig = scene.run.rig
    points = [*scene.path.values(), *(hub[None] for hub in scene.hub.values())]
    points += [ends.reshape(-1, 2) for ends in scene.slot.values()]
    points += [scene.flat(member.pivot)[None] for member in rig.turning.values()]
    points += [both.reshape(-1, 2) for both in (*scene.rails.values(), *scene.block.values())]
    for shaft in rig.shaft.values():
        if shaft.bore is not None and scene.end_on(shaft):
            points.append(bore_corners(scene, shaft, shaft.bore))
    if rig.cable is not None and rig.cable.quadrant is not None:
        points += [quadrant_rim(scene, index, 13) for index in (0, -1)]
    every = np.concatenate(points)
    return np.min(every, axis=0), np.max(every, axis=0)


def bore_corners(scene: Scene, shaft: Shaft, bore: float) -> Floats:
    """Corners (4, 2) of a bore in section, wall by wall."""
    along = scene.way(bore_axis(shaft.axis))
    across = np.array([along[1], -along[0]])
    half, reach = 0.5 * scene.size(bore), 0.72 * scene.size(bore)
    signs = ((-1, -1), (-1, 1), (1, 1), (1, -1))
    corners = [i * half * across + j * reach * along for i, j in signs]
    return np.asarray(scene.flat(shaft.pivot) + np.array(corners))


def freest(scene: Scene, member: Member, choices: ArrayLike, taken: Sequence[float] = ()) -> float:
    """Of some angles [rad] about a pivot, the one furthest from every arm as last drawn and from those taken."""
    at = scene.flat(member.pivot)
    outs = [scene.pin[f"{member.name}.{arm}"][-1] - at for arm in member.arm]
    used = [math.atan2(out[1], out[0]) for out in outs] + list(taken)
    angles = np.asarray(choices, float)
    if not used:
        return float(angles[0])
    apart = np.abs((angles[:, None] - np.array(used) + math.pi) % (2.0 * math.pi) - math.pi).min(axis=1)
    return float(angles[int(np.argmax(np.round(apart, 6)))])


def shortened(scene: Scene, start: Floats, end: Point) -> tuple[Floats, bool]:
    """The far end of a cable or spring, brought in to the edge of the picture where it is far off."""
    low, high = frame_of(scene)
    spare = _REACH * float(np.max(high - low))
    far = scene.flat(end)
    way = far - start
    share = 1.0
    for i in (0, 1):
        edge = (high[i] + spare) if way[i] > 0 else (low[i] - spare)
        if abs(way[i]) > 1e-12:
            share = min(share, max((edge - start[i]) / way[i], 0.05))
    return start + share * way, share < 1.0


def content(scene: Scene) -> Floats:
    """Corners of everything drawn (n, 2): the linkage, its cable and its springs."""
    low, high = frame_of(scene)
    points = [low, high]
    rig = scene.run.rig
    run = None
    if rig.cable is not None and rig.cable.pulls is not None and rig.cable.casing_end is not None:
        start = scene.pin[rig.cable.pulls][-1]
        run = start, shortened(scene, start, rig.cable.casing_end)[0]
    elif rig.cable is not None and rig.cable.quadrant is not None and scene.end_on(rig.turning[rig.driver]):
        run = quadrant_run(scene)[:2]
    if run is not None:
        along = run[1] - run[0]
        casing = 0.09 * float(np.max(high - low)) / max(float(np.hypot(*along)), 1e-9)
        points += [*run, run[1] + min(casing, 1.0) * along]
    for spring in rig.spring.values():
        if spring.pulls is not None and spring.anchor is not None:
            points.append(shortened(scene, scene.pin[spring.pulls][-1], spring.anchor)[0])
    return np.stack(points)
