"""The signs of a moving picture: bores, plates, levers, links, cable, springs, pivots."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from linkage import closure
from linkage.paper.fitting import Stage
from linkage.paper.shapes import Bar, Curve, Dot, Floats, Place, Shape
from linkage.parts import SIGN, Member
from linkage.plots.scene import bore_corners, freest, plate_ends, quadrant_rim, quadrant_run, shortened
from linkage.plots.style import BODY, FAINT, INK, PAPER, SOFT

_HUB, _EYE = 5.6, 3.4  # half width of a lever, radius of a rod end's eye [pt]


def signs(stage: Stage) -> Iterator[Shape]:
    """Every sign, from the back to the front; what moves sets up its tracks on the stage."""
    for part in (_ground, _members, _cable, _springs, _links, _pivots):
        yield from part(stage)


def paler(colour: str, share: float) -> str:
    """A colour ``#rrggbb`` with a share of white mixed in."""
    parts = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return "#" + "".join(f"{round(part + share * (255 - part)):02x}" for part in parts)


def _ground(stage: Stage) -> Iterator[Shape]:
    """What stands still behind everything: bores, the paths of the pins, axes seen from the side, couplings."""
    scene = stage.scene
    rig = scene.run.rig
    for shaft in rig.shaft.values():
        if shaft.bore is not None and scene.end_on(shaft):
            corners = stage.places(bore_corners(scene, shaft, shaft.bore))
            yield Curve(corners, fill=BODY)
            yield Curve(corners[:2], SOFT, 1.4)
            yield Curve(corners[2:], SOFT, 1.4)
    if rig.cable is not None and rig.cable.radius is not None and scene.end_on(rig.turning[rig.driver]):
        centre = scene.flat(rig.turning[rig.driver].pivot)
        yield Curve(stage.places(_circle(centre, scene.size(rig.cable.radius))), INK, 1.0, fill=PAPER)
    for path in scene.path.values():
        yield Curve(stage.places(path[::4]), FAINT, 1.3)
    yield from _couplings(stage)
    for member in rig.turning.values():
        if not scene.end_on(member):
            yield from _rod(stage, member)
    for rails in scene.rails.values():
        yield from _guide(stage, rails)


def _rod(stage: Stage, member: Member) -> Iterator[Shape]:
    """A fixed axis seen from the side: a rod, its centre line running past both ends."""
    scene = stage.scene
    reach = [scene.flat(member.pivot), *(scene.hub[f"{member.name}.{arm}"] for arm in member.arm)]
    along = [float(point @ scene.way(member.axis)) for point in reach]
    a, b = (stage.on(reach[int(pick(along))]) for pick in (np.argmin, np.argmax))
    run = float(np.hypot(*(b - a)))
    unit = (b - a) / run if run > 1e-6 else scene.way(member.axis) / max(np.hypot(*scene.way(member.axis)), 1e-9)
    colour = scene.colour(member.name)
    for past, look in ((6.0, (paler(colour, 0.55), 3.6 * stage.zoom, ())), (13.0, (colour, 0.7, (7.0, 2.0, 1.5, 2.0)))):
        ends = ((float(x), float(y)) for x, y in (a - past * unit, b + past * unit))
        yield Curve(tuple(ends), *look)


def _couplings(stage: Stage) -> Iterator[Shape]:
    """Pitch circles of meshing sectors seen end-on; coaxial shafts from the side joined by a sleeve."""
    scene = stage.scene
    for joint in scene.run.rig.coupling.values():
        one, two = (scene.run.rig.turning[name] for name in joint.joins)
        a, b = scene.flat(one.pivot), scene.flat(two.pivot)
        apart = float(np.hypot(*(b - a)))
        if apart < 1e-6:
            continue
        if joint.ratio > 0.0:
            yield Curve(stage.places(np.stack([a, b])), FAINT, 2.2, (1.5, 1.5))
        elif scene.end_on(one):
            share = abs(joint.ratio) / (1.0 + abs(joint.ratio))
            for centre, radius in ((a, share * apart), (b, (1.0 - share) * apart)):
                yield Curve(stage.places(_circle(centre, radius)), SOFT, 0.8, (7.0, 2.0, 1.5, 2.0))


def _circle(centre: Floats, radius: float) -> Floats:
    angles = np.linspace(0.0, 2.0 * math.pi, 49)
    return np.asarray(centre + radius * np.column_stack([np.cos(angles), np.sin(angles)]))


def _members(stage: Stage) -> Iterator[Shape]:
    """Plates, then the levers over them."""
    scene = stage.scene
    for shaft in scene.run.rig.shaft.values():
        if shaft.bore is not None and scene.end_on(shaft):
            ends = np.stack([plate_ends(scene, shaft, shaft.bore, i) for i in range(scene.positions)])
            one, two = (stage.track(f"plate {shaft.name} {i}", ends[:, i]) for i in (0, 1))
            yield Bar(one, two, INK, max(2.6 * stage.zoom, 1.6), blunt=True)
    for name, member in scene.run.rig.turning.items():
        if scene.end_on(member) and (name not in scene.run.rig.shaft or scene.run.rig.shaft[name].bore is None):
            yield from _ground_sign(stage, member)
    for arm, hub in scene.hub.items():
        colour, width = scene.colour(arm), 2.0 * _HUB * stage.zoom
        for stroke, wide in ((colour, width), (paler(colour, 0.72), width - 2.2)):
            yield Bar(stage.place(hub), stage.pin(arm), stroke, wide)
    for name, corners in scene.block.items():
        yield from _block(stage, name, corners)


def _guide(stage: Stage, rails: Floats) -> Iterator[Shape]:
    """The guide of a block that slides: two rails, hatched on their far sides."""
    middle = stage.on(rails.reshape(-1, 2)).mean(axis=0)
    for rail in rails:
        a, b = stage.on(rail)
        yield Curve(stage.places(rail), SOFT, 1.2)
        run = float(np.hypot(*(b - a)))
        if run < 1.0:
            continue
        way = (b - a) / run
        out = np.array([-way[1], way[0]])
        out *= math.copysign(1.0, float(out @ (a - middle)))
        size = 4.0 * max(stage.zoom, 0.6)
        for along in np.arange(0.6 * size, run, 1.4 * size):
            ends = (a + along * way, a + along * way + size * (out - 0.7 * way))
            yield Curve(tuple((float(x), float(y)) for x, y in ends), SOFT, 0.6)


def _block(stage: Stage, name: str, corners: Floats) -> Iterator[Shape]:
    """A block on its guide: a broad bar from end to end, with an edge."""
    low, high = (0.5 * (corners[:, i] + corners[:, j]) for i, j in ((0, 1), (2, 3)))
    wide = max(float(np.hypot(*(stage.on(corners[0, 1]) - stage.on(corners[0, 0])))), 4.0)
    unit = high[0] - low[0]
    edge = 1.1 / max(float(np.hypot(*unit)) * stage.scale, 1.0) * unit  # [pt] of edge at either end
    colour = stage.scene.colour(name)
    ends = (stage.track(f"block {name} low", low), stage.track(f"block {name} high", high))
    inner = (stage.track(f"block {name} in low", low + edge), stage.track(f"block {name} in high", high - edge))
    yield Bar(*ends, colour, wide, blunt=True)
    yield Bar(*inner, paler(colour, 0.72), wide - 2.2, blunt=True)


def _ground_sign(stage: Stage, member: Member) -> Iterator[Shape]:
    """The sign for a fixed pivot: a triangle on a hatched line, on the side that is freest of arms."""
    scene = stage.scene
    towards = freest(scene, member, np.radians([270.0, 180.0, 0.0, 90.0]))
    turn = towards + 0.5 * math.pi
    matrix = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    at = stage.on(scene.flat(member.pivot))
    rows = [[(0.0, 0.0), (-0.6, -1.0), (0.6, -1.0), (0.0, 0.0)], [(-0.95, -1.0), (0.95, -1.0)]]
    rows += [[(x, -1.0), (x - 0.28, -1.28)] for x in (-0.6, -0.1, 0.4, 0.9)]
    for row in rows:
        points = at + 14.0 * stage.zoom * (np.array(row) @ matrix)
        yield Curve(tuple((float(x), float(y)) for x, y in points), SOFT, 0.8)


def _cable(stage: Stage) -> Iterator[Shape]:
    scene = stage.scene
    rig = scene.run.rig
    if rig.cable is None:
        return
    if rig.cable.pulls is not None and rig.cable.casing_end is not None:
        start = scene.pin[rig.cable.pulls][-1]
        end, cut = shortened(scene, start, rig.cable.casing_end)
        yield Bar(stage.pin(rig.cable.pulls), stage.place(end), INK, 1.2)
    elif rig.cable.profile is not None and scene.end_on(rig.turning[rig.driver]):
        start, end, cut = quadrant_run(scene)
        yield from _snail(stage, end)
    elif rig.cable.radius is not None and scene.end_on(rig.turning[rig.driver]):
        start, end, cut = quadrant_run(scene)
        yield Bar(stage.place(start), stage.place(end), INK, 1.2)
        yield from _spoke(stage, start, rig.cable.radius)
    else:
        return
    axis = None if rig.cable.casing_axis is None else scene.way(rig.cable.casing_axis)
    yield from _casing(stage, stage.on(start), stage.on(end), axis, cut=cut)


def _snail(stage: Stage, end: Floats) -> Iterator[Shape]:
    """A snail quadrant turning, and the cable that leaves it ever elsewhere."""
    scene = stage.scene
    places = range(scene.positions)
    rims = np.stack([quadrant_rim(scene, i, 9) for i in places])
    tracks = [stage.track(f"snail {k}", rims[:, k]) for k in range(rims.shape[1])]
    for one, two in pairwise(tracks):
        yield Bar(one, two, INK, 1.0)
    leaves = np.stack([quadrant_run(scene, i)[0] for i in places])
    yield Bar(stage.track("leaves", leaves), stage.place(end), INK, 1.2)


def _spoke(stage: Stage, leaves: Floats, radius: float) -> Iterator[Shape]:
    """A spoke on a quadrant, where the cable is hooked in, that shows it turning."""
    scene = stage.scene
    driver = scene.run.rig.turning[scene.run.rig.driver]
    centre = scene.flat(driver.pivot)
    turn = np.radians(scene.still.turn - scene.still.turn[-1])
    turn *= math.copysign(1.0, closure.dot(driver.axis, scene.view.out))
    pull = SIGN[scene.run.rig.cable.pull_turns or "ccw"] if scene.run.rig.cable is not None else 1.0
    ahead = 0.35 * pull * math.copysign(1.0, closure.dot(driver.axis, scene.view.out))
    out = leaves - centre
    angle = math.atan2(out[1], out[0]) + ahead + turn
    track = stage.track("spoke", centre + scene.size(radius) * np.column_stack([np.cos(angle), np.sin(angle)]))
    yield Bar(stage.place(centre), track, SOFT, 1.0)
    yield Dot(track, 2.4 * stage.zoom, PAPER, INK, 1.0)


def _casing(stage: Stage, pulled: Floats, end: Floats, axis: Floats | None, *, cut: bool) -> Iterator[Shape]:
    """The end of the casing, along its axis or in line with the cable, with the way it pulls; or a break."""
    run = float(np.hypot(*(end - pulled)))
    if run < 1.0:
        return
    way = (end - pulled) / run
    if not cut and axis is not None and (size := float(np.hypot(*axis))) > 0.2:
        way = axis / size * math.copysign(1.0, float(axis @ way))
    side = np.array([-way[1], way[0]])

    def line(*steps: tuple[float, float]) -> tuple[Place, ...]:
        rows = (end + along * way + across * side for along, across in steps)
        return tuple((float(x), float(y)) for x, y in rows)

    if cut:
        for shift in (0.0, 3.5):
            yield Curve(line((shift - 2.0, -6.0), (shift + 2.0, 6.0)), INK, 0.9)
        return
    zoom = max(stage.zoom, 0.6)
    long, half = 26.0 * zoom, 3.4 * zoom
    yield Curve(line((0.0, -1.8 * half), (0.0, 1.8 * half)), INK, 2.2)
    for across in (-half, half):
        yield Curve(line((0.0, across), (long, across)), INK, 0.9)
    head = line((long - 4.0 * zoom, -0.9 * half), (long + 5.0 * zoom, 0.0), (long - 4.0 * zoom, 0.9 * half))
    yield Curve(line((4.0, 0.0), (long, 0.0)), INK, 1.3)
    yield Curve((*head, head[0]), fill=INK)


def _springs(stage: Stage) -> Iterator[Shape]:
    """Extension springs, their coils as a broad broken line."""
    scene = stage.scene
    for spring in scene.run.rig.spring.values():
        if spring.pulls is None or spring.anchor is None:
            continue
        end, cut = shortened(scene, scene.pin[spring.pulls][-1], spring.anchor)
        hook, pin = stage.place(end), stage.pin(spring.pulls)
        yield Bar(pin, hook, SOFT, 6.0 * max(stage.zoom, 0.6), (1.0, 1.7), blunt=True)
        yield Bar(pin, hook, SOFT, 0.8)
        if not cut:
            yield Dot(hook, 2.4, PAPER, SOFT, 1.2)


def _links(stage: Stage) -> Iterator[Shape]:
    scene = stage.scene
    joints = [link.joins for link in scene.run.rig.link.values()]
    for one, two in joints:
        yield Bar(stage.pin(one), stage.pin(two), INK, max(2.4 * stage.zoom, 1.5))
    for name, ends in scene.slot.items():
        near, far = (stage.track(f"slot {name} {i}", ends[:, i]) for i in (0, 1))
        for colour, wide in ((INK, 2.9), (PAPER, 2.1)):
            yield Bar(near, far, colour, wide * _EYE * stage.zoom)
    for arm in scene.pin:
        joined = any(arm in pair for pair in joints)
        size = (_EYE if joined else 0.66 * _EYE) * stage.zoom
        yield Dot(stage.pin(arm), size, PAPER, INK if joined else scene.colour(arm), 1.2 if joined else 0.9)


def _pivots(stage: Stage) -> Iterator[Shape]:
    scene = stage.scene
    for name, member in scene.run.rig.turning.items():
        if not scene.end_on(member):
            continue
        at, colour = stage.place(scene.flat(member.pivot)), scene.colour(name)
        if name in scene.run.rig.shaft:
            yield Dot(at, 3.6 * stage.zoom, colour, PAPER, 0.8)
        else:
            yield Dot(at, 4.6 * stage.zoom, PAPER, colour, 1.2)
            yield Dot(at, 2.0 * stage.zoom, colour)
