"""The linkage as it stands: idle, on the way and wide open in one picture, with its dimensions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.motion import Motion
from linkage.parts import Member
from linkage.plots import dimensioning, page, style, symbols
from linkage.plots.labels import Board
from linkage.plots.scene import (
    Scene,
    bore_corners,
    content,
    freest,
    plate_ends,
    quadrant_rim,
    quadrant_run,
    scene_of,
    shortened,
)
from linkage.plots.symbols import Stroke
from linkage.plots.views import ViewName, view_named
from linkage.quantities import own_unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_HALF_ARROW = math.radians(50.0)  # an arrow about a bell crank shows at most twice this


def linkage_view(
    run: Motion,
    ax: Axes | None = None,
    *,
    at: Sequence[float] = (0.0, 0.5, 1.0),
    view: ViewName = "front",
    labels: bool = True,
) -> Axes:
    """Draw the linkage at several positions: the last solid, the others as ghosts, with every pin's path.

    Parameters
    ----------
    run : Motion
    ax : matplotlib Axes, optional
        Where to draw; its box should have its final size. None: a new figure.
    at : sequence of float
        Shares 0..1 of the travel [-], in the order in which they are drawn.
    view : {"front", "plan", "side"}
        Front is as the design is drawn (x right, y up); plan from above; side from the right.
    labels : bool
        Write names, lengths [mm or in] and angles [deg]. Those for which the page is too small are
        named in the notes instead.

    Returns
    -------
    matplotlib Axes
        Data coordinates are the design's own length unit [mm or in].

    Raises
    ------
    ValueError
        ``at`` is empty or outside 0..1, or the view is not known.

    Examples
    --------
    >>> import linkage
    >>> run = linkage.solve(linkage.read("demo/flat_six.toml"))  # doctest: +SKIP
    >>> linkage.plots.linkage_view(run, view="front")  # doctest: +SKIP
    """
    scene = scene_of(run, at, view_named(view))
    with style.look():
        ax = style.axes(ax, 9.0, page.height_for(content(scene), 9.0), bare=True)
    draw(scene, ax, at=at, labels=labels)
    return ax


def draw(scene: Scene, ax: Axes, *, at: Sequence[float], labels: bool, alone: bool = True, arms: bool = True) -> None:
    """Draw a scene; a view that is not ``alone`` on its page leaves key and notes to another, and a
    small one may leave the ``arms`` without labels."""
    with style.look():
        strokes = symbols.strokes(len(at))
        board = page.lay_out(
            ax, content(scene), heading=_heading(scene), notes=_notes(scene) if alone else "", view=scene.view,
            key=list(zip(map(_share, at), strokes, strict=True)) if alone else (),
            unit=own_unit(scene.run.rig.units, "length"), margin=page.MARGIN if labels else (16.0, 14.0),
        )  # fmt: skip
        board.zoom = _zoom(scene, board)
        _draw(scene, board, strokes)
        if labels:
            left = board.place(dimensioning.labels_of(scene, board, arms=arms))
            page.say_left_out(board, scene.view, [" ".join(f"{one.head} {one.body}".split()) for one in left])


def sketch(scene: Scene, ax: Axes, within: NDArray[np.float64]) -> None:
    """Draw a scene without a word, its axes showing what lies ``within`` (n, 2) those points."""
    with style.look():
        board = page.filled(ax, within)
        board.zoom = _zoom(scene, board)
        _draw(scene, board, symbols.strokes(scene.positions))


def _zoom(scene: Scene, board: Board) -> float:
    """Size of the symbols: full where the middling arm is at least 34 pt long."""
    arms = [np.hypot(*np.diff(board.on_page(np.stack([hub, scene.pin[name][-1]])), axis=0)[0])
            for name, hub in scene.hub.items()]  # fmt: skip
    return float(np.clip(np.median(arms) / 34.0, 0.5, 1.0)) if arms else 1.0


def _draw(scene: Scene, board: Board, strokes: Sequence[Stroke]) -> None:
    _draw_bores(scene, board, strokes)
    for name, points in scene.path.items():
        symbols.path(board, points, scene.gid("path", name))
    for member in scene.run.rig.turning.values():
        _draw_axis(scene, board, member)
    _draw_guides(scene, board)
    for i, stroke in enumerate(strokes):
        for name, hub in scene.hub.items():
            symbols.lever(board, hub, scene.pin[name][i], scene.colour(name), stroke, scene.gid("arm", name, i))
        for name, corners in scene.block.items():
            symbols.block(board, corners[i], scene.colour(name), stroke, scene.gid("block", name, i))
        for joint in scene.run.rig.link.values():
            ends = np.stack([scene.pin[pin][i] for pin in joint.joins])
            symbols.link(board, ends, stroke, scene.gid("link", joint.name, i))
            if joint.name in scene.slot:
                symbols.slot(board, scene.slot[joint.name][i], stroke, scene.gid("slot", joint.name, i))
        _draw_tangs(scene, board, i, stroke)
    _draw_couplings(scene, board)
    _draw_cable(scene, board, strokes)
    _draw_springs(scene, board)


def _draw_bores(scene: Scene, board: Board, strokes: Sequence[Stroke]) -> None:
    for shaft in scene.run.rig.shaft.values():
        if shaft.bore is None or not scene.end_on(shaft):
            continue
        symbols.bore(board, bore_corners(scene, shaft, shaft.bore))
        for i, stroke in enumerate(strokes):
            ends = plate_ends(scene, shaft, shaft.bore, i)
            symbols.plate(board, ends, stroke, scene.gid("plate", shaft.name, i))


def _draw_axis(scene: Scene, board: Board, member: Member) -> None:
    """A member's fixed axis: a pivot where seen end-on, with the way it turns to open; else a rod."""
    name, at, colour = member.name, scene.flat(member.pivot), scene.colour(member.name)
    shaft = scene.run.rig.shaft.get(name)
    if not scene.end_on(member):
        reach = [at, *(scene.hub[f"{name}.{arm}"] for arm in member.arm)]
        along = [float(point @ scene.way(member.axis)) for point in reach]
        symbols.rod(board, np.stack([reach[int(np.argmin(along))], reach[int(np.argmax(along))]]), colour)
        return
    bore = None if shaft is None else shaft.bore
    ground = None if bore is not None else freest(scene, member, np.radians([270.0, 180.0, 0.0, 90.0]))
    symbols.pivot(board, at, colour, bearing=shaft is None, ground=ground)
    turns = scene.swept.member_turn[name]
    turn = math.radians(float(turns[-1] - turns[0])) * math.copysign(1.0, closure.dot(member.axis, scene.view.out))
    if abs(turn) < 0.02:
        return
    if shaft is not None and bore is not None:
        tip = plate_ends(scene, shaft, bore, 0)[1] - at
        first = math.radians(float(scene.swept.plate_angle[name][0] - scene.still.plate_angle[name][0]))
        start = math.atan2(tip[1], tip[0]) + math.copysign(first, first * turn)
        symbols.arrow(board, symbols.arc(at, 0.36 * scene.size(bore), start, turn), colour)
    else:
        middle = freest(scene, member, np.radians(np.arange(90.0, 450.0, 15.0)), [] if ground is None else [ground])
        half = math.copysign(min(0.5 * abs(turn), _HALF_ARROW), turn)
        symbols.arrow(board, symbols.arc(at, 20.0 * board.zoom * board.point, middle - half, 2.0 * half), colour)


def _draw_guides(scene: Scene, board: Board) -> None:
    """Guides of what slides, with the way it goes to open."""
    for name, rails in scene.rails.items():
        symbols.guide(board, rails)
        symbols.path(board, rails.mean(axis=0), scene.gid("guide", name))
        gone = scene.block[name][-1].mean(axis=0) - scene.block[name][0].mean(axis=0)
        if float(np.hypot(*gone)) < 1e-6:
            continue
        side = rails[1, 0] - rails[0, 0]
        start = rails[1].mean(axis=0) + 0.9 * side - 0.3 * gone
        symbols.arrow(board, np.stack([start, start + 0.6 * gone]), scene.colour(name))


def _draw_tangs(scene: Scene, board: Board, index: int, stroke: Stroke) -> None:
    """The dog and the tang of every pick-up seen end-on, as far apart as they stand at a drawn position."""
    for joint in scene.run.train.joints:
        if not joint.slack or joint.forward is not None:
            continue
        driving, driven = (scene.run.rig.turning[name] for name in (joint.step.driving, joint.step.driven))
        if not (scene.end_on(driving) and scene.end_on(driven)) or float(joint.ratio) < 0.0:
            continue
        facing = math.copysign(1.0, closure.dot(driven.axis, scene.view.out))
        turned = math.radians(float(scene.still.member_turn[driven.name][index]))
        pushed = math.radians(float(scene.still.member_turn[driving.name][index])) * float(joint.ratio)
        start = freest(scene, driven, np.radians(np.arange(0.0, 360.0, 15.0)))
        opening = float(scene.run.train.opens * scene.run.train.sense[driven.name])
        dog, tang = (start + facing * angle for angle in (pushed + float(joint.offset), turned))
        clear = 7.0 / 12.0 * 0.35 * facing * opening  # the two lie side by side, face to face
        symbols.tang(
            board, scene.flat(driven.pivot), dog - 0.5 * clear, tang + 0.5 * clear,
            (scene.colour(driving.name), scene.colour(driven.name)), stroke,
            scene.gid("tang", joint.step.by.name, index),
        )  # fmt: skip


def _draw_couplings(scene: Scene, board: Board) -> None:
    """Pitch circles of meshing sectors seen end-on; coaxial shafts from the side joined by a rod."""
    for joint in scene.run.rig.coupling.values():
        one, two = (scene.run.rig.turning[name] for name in joint.joins)
        a, b = scene.flat(one.pivot), scene.flat(two.pivot)
        apart = float(np.hypot(*(b - a)))
        if apart < 1e-6:
            continue
        if joint.ratio > 0.0:
            symbols.joined(board, np.stack([a, b]))
        if joint.ratio > 0.0 or not scene.end_on(one):
            continue
        share = abs(joint.ratio) / (1.0 + abs(joint.ratio))
        for centre, radius in ((a, share * apart), (b, (1.0 - share) * apart)):
            symbols.pitch_circle(board, symbols.arc(centre, radius, 0.0, 2.0 * math.pi))


def _draw_cable(scene: Scene, board: Board, strokes: Sequence[Stroke]) -> None:
    rig = scene.run.rig
    if rig.cable is None:
        return
    axis = None if rig.cable.casing_axis is None else scene.way(rig.cable.casing_axis)
    if rig.cable.pulls is not None and rig.cable.casing_end is not None:
        pins = scene.pin[rig.cable.pulls]
        end, cut = shortened(scene, pins[-1], rig.cable.casing_end)
        for i, stroke in enumerate(strokes):
            symbols.inner_cable(board, np.stack([pins[i], end]), stroke, scene.gid("cable", "run", i))
        symbols.casing(board, pins[-1], end, axis, cut=cut)
    elif rig.cable.quadrant is not None and scene.end_on(rig.turning[rig.driver]):
        symbols.quadrant(board, quadrant_rim(scene), scene.gid("quadrant", rig.driver))
        last = len(strokes) - 1
        for i in range(last) if rig.cable.profile is not None else ():
            symbols.path(board, quadrant_rim(scene, i), scene.gid("quadrant", rig.driver, i))
            symbols.inner_cable(board, np.stack(quadrant_run(scene, i)[:2]), strokes[i], scene.gid("cable", "run", i))
        leaves, end, cut = quadrant_run(scene)
        symbols.inner_cable(board, np.stack([leaves, end]), strokes[-1], scene.gid("cable", "run", last))
        symbols.casing(board, leaves, end, axis, cut=cut)


def _draw_springs(scene: Scene, board: Board) -> None:
    for spring in scene.run.rig.spring.values():
        if spring.pulls is not None and spring.anchor is not None:
            start = scene.pin[spring.pulls][-1]
            end, cut = shortened(scene, start, spring.anchor)
            symbols.zigzag(board, start, end, scene.gid("spring", spring.name))
            if not cut:
                symbols.anchor(board, end)


def _heading(scene: Scene) -> str:
    if scene.view.name == "front":
        return f"Front view, seen from {scene.run.rig.seen_from or 'the +z side'}"
    return {"plan": "Plan, from above (+y)", "side": "Side view, from the right (+x)"}[scene.view.name]


def _share(share: float) -> str:
    return {0.0: "idle", 0.5: "half travel", 1.0: "wide open"}.get(share, f"{100.0 * share:g} % of travel")


def _notes(scene: Scene) -> str:
    rig = scene.run.rig
    told = [f"Lengths in {'millimetres' if rig.units == 'mm' else 'inches'}, true, pin centre to pin centre."]
    if scene.view.name == "front":
        told.append("Angles counter-clockwise from x, idle → wide open.")
    bored = [shaft for shaft in rig.shaft.values() if shaft.bore is not None and scene.end_on(shaft)]
    if bored:
        told.append("Plates are drawn turning with their shafts, bores assumed upright.")
    if rig.cable is not None and rig.cable.quadrant is not None and rig.cable.casing_end is None:
        told.append("The cable's run to its casing is assumed.")
    return " ".join(told)
