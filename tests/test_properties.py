"""What must hold of any sane linkage: laws, symmetries, and many at once against one by one."""

from __future__ import annotations

import dataclasses
import itertools
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from trains import EXAMPLES, crank, rig, shaft

from linkage.errors import AssemblyError
from linkage.motion import Motion, SnailCable, Train, assemble, cable_line, find_travel, solve, walk
from linkage.parts import SIGN, Arm, Cable, Coupling, Link, Linkage, Point, ProfilePoint, Sense, Slide, Stop, dimensions

Floats = NDArray[np.float64]

FEW = settings(max_examples=40, deadline=None)
OTHER: dict[str, Sense] = {"ccw": "cw", "cw": "ccw"}


def number(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False).map(lambda x: round(x, 3))


@st.composite
def linkages(draw: st.DrawFn) -> Linkage:
    """A driver and one to three more members, each on the one before or on the driver.

    Links stand within 40 degrees of square to their arms as drawn; axes along z or up to 35 degrees
    off; pins up to 15 mm to the side; links fitted or up to 0.4 mm off; perhaps a coupled shaft, a
    cable on a pin or a quadrant.
    """
    slanting = draw(st.booleans())
    pivots = {"driver": np.zeros(3)}
    axes = {"driver": np.array([0.0, 0.0, 1.0])}
    arms: dict[str, dict[str, Arm]] = {"driver": {}}
    links: list[Link] = []
    shafts: dict[str, Sense] = {}
    count = draw(st.integers(1, 3))
    for i in range(count):
        name, parent = f"m{i}", draw(st.sampled_from([[*pivots][-1], "driver"]))
        is_shaft = i == count - 1 or draw(st.booleans())
        way = math.radians(draw(number(0.0, 360.0)))
        out = np.array([math.cos(way), math.sin(way), 0.0])
        pivots[name] = pivots[parent] + draw(number(90.0, 200.0)) * out
        axes[name] = axes["driver"]
        if slanting and not is_shaft:
            tilt = math.radians(draw(number(-35.0, 35.0)))
            axes[name] = np.array([math.sin(tilt) * math.sin(way), -math.sin(tilt) * math.cos(way), math.cos(tilt)])
        for member, arm in ((parent, f"to_{name}"), (name, "drive")):
            off = math.radians(draw(number(-40.0, 40.0))) + (math.pi / 2.0) * draw(st.sampled_from([1.0, -1.0]))
            across = np.cross(axes[member], out)
            along = np.cross(across, axes[member])
            at = along / np.linalg.norm(along) * math.cos(off) + across / np.linalg.norm(across) * math.sin(off)
            place = pivots[member] + draw(number(18.0, 35.0)) * at + draw(number(-15.0, 15.0)) * axes[member]
            arms.setdefault(member, {})[arm] = Arm(arm, pin=(float(place[0]), float(place[1]), float(place[2])))
        ends = (f"{parent}.to_{name}", f"{name}.drive")
        links.append(Link(f"l{i}", ends if draw(st.booleans()) else ends[::-1]))
        if is_shaft:
            shafts[name] = "ccw"
    parts: list[Any] = []
    for name, pivot in pivots.items():
        at = (float(pivot[0]), float(pivot[1]), float(pivot[2]))
        if name in shafts:
            parts.append(shaft(name, at, "ccw", arms[name], wide_open=10.0 + draw(number(15.0, 60.0))))
        else:
            parts.append(
                crank(name, at, arms[name], (float(axes[name][0]), float(axes[name][1]), float(axes[name][2])))
            )
    if draw(st.booleans()):
        partner = draw(st.sampled_from([*shafts]))
        ratio = draw(number(0.6, 1.4)) * draw(st.sampled_from([1.0, -1.0]))
        parts.append(shaft("coupled", (300.0, 20.0, 5.0), "ccw", {}, wide_open=10.0 + draw(number(15.0, 60.0))))
        parts.append(Coupling("sync", (partner, "coupled"), ratio, draw(number(-1.0, 1.0))))
    more: dict[str, Any] = {"drive": "driver"}
    kind = draw(st.sampled_from(["none", "pin", "quadrant", "snail"]))
    if kind == "snail":
        points = {str(i): ProfilePoint(str(i), 35.0 * (i - 1), draw(number(15.0, 40.0))) for i in (1, 2, 3, 4)}
        more = {"cable": Cable(quadrant="driver", profile=points, pull_turns="ccw")}
    elif kind == "quadrant":
        more = {"cable": Cable(quadrant="driver", radius=draw(number(15.0, 40.0)), pull_turns="ccw")}
    elif kind == "pin":
        arms["driver"]["cable"] = Arm("cable", pin=(draw(number(20.0, 45.0)), draw(number(-20.0, 20.0)), 3.0))
        casing = (draw(number(-30.0, 30.0)), draw(number(120.0, 250.0)), draw(number(-20.0, 20.0)))
        more = {"cable": Cable(pulls="driver.cable", casing_end=casing)}
    drawn = rig(*parts, *links, **more)
    try:
        train = assemble(drawn)
    except AssemblyError:
        assume(False)
        raise
    # every shaft opens the way it turns when the driver turns ccw
    opens: dict[str, Sense] = {name: "ccw" if float(train.sense[name]) > 0.0 else "cw" for name in drawn.shaft}
    given_lengths = draw(st.booleans())
    return dataclasses.replace(
        drawn,
        shaft={name: dataclasses.replace(part, opens=opens[name]) for name, part in drawn.shaft.items()},
        link={
            joint.step.by.name: dataclasses.replace(
                drawn.link[joint.step.by.name],
                length=float(joint.length) + draw(number(-0.4, 0.4)) if given_lengths else None,
            )
            for joint in train.joints
            if joint.forward is not None
        },
    )


def solved(linkage: Linkage, positions: int = 9) -> Motion:
    """The motion of a linkage that is not on the edge: held by stops, no member nearly at a dead point."""
    try:
        run = solve(linkage, positions=positions)
    except AssemblyError:
        assume(False)
        raise
    assume(run.travel.closing_holds >= 0 and run.travel.opening_holds >= 0)
    assume(abs(run.ends[1] - run.ends[0]) > 1.0)
    speeds = [np.abs(run.speed[name]) for name in linkage.members]
    assume(max(np.max(v) for v in speeds) < 8.0)
    assume(min(np.min(v) for v in speeds) > 0.1)
    return run


def same(one: Motion, other: Motion, *, sign: float = 1.0, within: float = 1e-9) -> None:
    """Two motions of one linkage agree; ``sign`` -1: mirrored (what slides goes the same way in a mirror)."""
    signs = {name: 1.0 if name in one.rig.slide else sign for name in one.rig.members}
    driven = signs[one.rig.driver]
    np.testing.assert_allclose(one.turn, driven * other.turn, rtol=0, atol=within)
    for name, way in signs.items():
        np.testing.assert_allclose(one.member_turn[name], way * other.member_turn[name], rtol=0, atol=within)
        np.testing.assert_allclose(one.speed[name], way * driven * other.speed[name], rtol=0, atol=within)
        np.testing.assert_allclose(one.second[name], way * other.second[name], rtol=0, atol=100 * within)
    for name, angle in one.plate_angle.items():
        np.testing.assert_allclose(angle, other.plate_angle[name], rtol=0, atol=within)
    assert (one.cable is None) == (other.cable is None)
    if one.cable is not None and other.cable is not None:
        np.testing.assert_allclose(one.cable, other.cable, rtol=0, atol=within)
    np.testing.assert_allclose(one.fraction, other.fraction, rtol=0, atol=within)
    names = [stop.name for stop in one.travel.stops], [stop.name for stop in other.travel.stops]
    assert names[0][int(one.travel.opening_holds)] == names[1][int(other.travel.opening_holds)]
    for margin, other_margin in zip(one.travel.before_toggle, other.travel.before_toggle, strict=True):
        np.testing.assert_allclose(margin, other_margin, rtol=0, atol=1e-6)


@FEW
@given(linkages())
def test_links_keep_their_lengths(linkage: Linkage) -> None:
    run = solved(linkage)
    for joint in run.train.joints:
        if joint.driving is None or joint.driven is None:
            continue
        c, s = run.pose[joint.step.driving]
        c2, s2 = run.pose[joint.step.driven]
        square = 0.0
        for i in range(3):
            p = joint.driving.centre[i] + joint.driving.r * (c * joint.driving.e1[i] + s * joint.driving.e2[i])
            q = joint.driven.centre[i] + joint.driven.r * (c2 * joint.driven.e1[i] + s2 * joint.driven.e2[i])
            square = square + (p - q) ** 2
        np.testing.assert_allclose(np.sqrt(square), joint.length, rtol=1e-9, atol=0)


@FEW
@given(linkages())
def test_cosines_and_sines_stay_on_the_unit_circle(linkage: Linkage) -> None:
    for c, s in solved(linkage).pose.values():
        np.testing.assert_allclose(c * c + s * s, 1.0, rtol=0, atol=1e-12)


def moved(linkage: Linkage, rotate: float, shift: Point) -> Linkage:
    """The whole drawing turned about z [deg] and shifted [mm]."""
    cos, sin = math.cos(math.radians(rotate)), math.sin(math.radians(rotate))

    def way(p: Point) -> Point:
        return (cos * p[0] - sin * p[1], sin * p[0] + cos * p[1], p[2])

    def place(p: Point) -> Point:
        q = way(p)
        return (q[0] + shift[0], q[1] + shift[1], q[2] + shift[2])

    def member(part: Any) -> Any:
        arm = {
            name: dataclasses.replace(
                at,
                pin=None if at.pin is None else place(at.pin),
                angle=None if at.angle is None else at.angle + rotate,
            )
            for name, at in part.arm.items()
        }
        return dataclasses.replace(part, pivot=place(part.pivot), axis=way(part.axis), arm=arm)

    def sliding(part: Slide) -> Slide:
        pins = {name: dataclasses.replace(pin, at=place(pin.at)) for name, pin in part.pin.items()}
        return dataclasses.replace(part, origin=place(part.origin), along=way(part.along), pin=pins)

    cable = linkage.cable
    if cable is not None and cable.casing_end is not None:
        cable = dataclasses.replace(cable, casing_end=place(cable.casing_end))
    return dataclasses.replace(
        linkage,
        shaft={name: member(part) for name, part in linkage.shaft.items()},
        bellcrank={name: member(part) for name, part in linkage.bellcrank.items()},
        slide={name: sliding(part) for name, part in linkage.slide.items()},
        cable=cable,
    )


@FEW
@given(linkages(), number(-180.0, 180.0), st.tuples(*[number(-300.0, 300.0)] * 3))
def test_turning_and_shifting_the_drawing_changes_nothing(linkage: Linkage, rotate: float, shift: Point) -> None:
    same(solved(linkage), solve(moved(linkage, rotate, shift), positions=9))


def mirrored(linkage: Linkage) -> Linkage:
    """The drawing seen in a mirror: x to -x, every sense of turning swapped."""

    def flip(p: Point) -> Point:
        return (-p[0], p[1], p[2])

    def member(part: Any) -> Any:
        arm = {
            name: dataclasses.replace(
                at,
                pin=None if at.pin is None else flip(at.pin),
                angle=None if at.angle is None else 180.0 - at.angle,
            )
            for name, at in part.arm.items()
        }
        more = {"opens": OTHER[part.opens]} if part.name in linkage.shaft else {}
        return dataclasses.replace(part, pivot=flip(part.pivot), axis=flip(part.axis), arm=arm, **more)

    def sliding(part: Slide) -> Slide:
        pins = {name: dataclasses.replace(pin, at=flip(pin.at)) for name, pin in part.pin.items()}
        return dataclasses.replace(part, origin=flip(part.origin), along=flip(part.along), pin=pins)

    cable = linkage.cable
    if cable is not None:
        cable = dataclasses.replace(
            cable,
            casing_end=None if cable.casing_end is None else flip(cable.casing_end),
            pull_turns=None if cable.pull_turns is None else OTHER[cable.pull_turns],
            profile=cable.profile and {i: dataclasses.replace(p, turn=-p.turn) for i, p in cable.profile.items()},
        )
    return dataclasses.replace(
        linkage,
        shaft={name: member(part) for name, part in linkage.shaft.items()},
        bellcrank={name: member(part) for name, part in linkage.bellcrank.items()},
        slide={name: sliding(part) for name, part in linkage.slide.items()},
        coupling={name: dataclasses.replace(by, offset=-by.offset) for name, by in linkage.coupling.items()},
        stop={
            name: dataclasses.replace(stop, turn=None if stop.turn is None else -stop.turn)
            for name, stop in linkage.stop.items()
        },
        cable=cable,
    )


@FEW
@given(linkages())
def test_the_mirror_image_moves_as_the_mirror_image(linkage: Linkage) -> None:
    same(solved(linkage), solve(mirrored(linkage), positions=9), sign=-1.0)


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_examples_move_and_mirror_alike(name: str) -> None:
    run = solve(EXAMPLES[name](), positions=9)
    same(run, solve(moved(EXAMPLES[name](), 33.0, (40.0, -25.0, 12.0)), positions=9))
    same(run, solve(mirrored(EXAMPLES[name]()), positions=9), sign=-1.0)


def swapped(linkage: Linkage) -> Linkage:
    """Every link and coupling named from its other end."""
    return dataclasses.replace(
        linkage,
        link={name: dataclasses.replace(by, joins=by.joins[::-1]) for name, by in linkage.link.items()},
        coupling={
            name: dataclasses.replace(by, joins=by.joins[::-1], ratio=1.0 / by.ratio, offset=-by.offset / by.ratio)
            for name, by in linkage.coupling.items()
        },
    )


@FEW
@given(linkages())
def test_naming_a_links_ends_the_other_way_changes_nothing(linkage: Linkage) -> None:
    same(solved(linkage), solve(swapped(linkage), positions=9))


def slopes(function: Any, at: float, h: float = 0.02) -> tuple[Floats, Floats]:
    """First and second derivative by central differences, three times extrapolated to no step (Richardson)."""
    first, second = [], []
    for step in h / 2.0 ** np.arange(4):
        low, middle, high = function(at - step), function(at), function(at + step)
        first.append((high - low) / (2.0 * step))
        second.append((high - 2.0 * middle + low) / step**2)
    for level in range(1, 4):
        for column in (first, second):
            factor = 4.0**level
            column[:] = [(factor * b - a) / (factor - 1.0) for a, b in itertools.pairwise(column)]
    return first[0], second[0]


@FEW
@given(linkages(), st.floats(0.0, 1.0))
def test_derivatives_are_those_of_the_curves(linkage: Linkage, share: float) -> None:
    run = solved(linkage)
    first, last = np.radians(run.ends)
    at = float(first + share * (last - first))
    here = run.at(math.degrees(at))
    assume(min(run.travel.before_toggle) > 0.15)  # room for the steps

    for name in linkage.members:

        def turn(angle: float, name: str = name) -> float:
            return math.radians(float(run.at(math.degrees(angle)).member_turn[name][0]))

        speed, second = slopes(turn, at)
        # rounding 1e-15 over the smallest step squared, 6e-6, and the step's eighth power: 1e-8 and less
        assert speed == pytest.approx(here.speed[name][0], rel=1e-7, abs=1e-8)
        assert second == pytest.approx(here.second[name][0], rel=1e-6, abs=1e-6)
    if run.line is not None and not isinstance(run.line, SnailCable):  # its curve has points where slopes break off
        line = run.line
        start = (math.cos(first), math.sin(first))

        def taken(angle: float) -> float:
            return float(line.taken((np.cos(angle), np.sin(angle)), start))

        arm, slope = slopes(taken, at)
        assert here.cable_arm is not None
        assert arm == pytest.approx(here.cable_arm[0], rel=0, abs=1e-7)
        assert slope == pytest.approx(float(line.moment_slope((np.cos(at), np.sin(at)))), rel=0, abs=1e-5)


@pytest.mark.parametrize("name", sorted({*EXAMPLES} - {"coupled"}))
def test_speeds_agree_with_the_complex_step(name: str) -> None:
    # Squire and Trapp 1998: the imaginary part of f(x + ih) over h is f'(x) with no rounding to speak of
    run = solve(EXAMPLES[name](), positions=9)
    h = 1e-30
    z = np.radians(run.turn) + 1j * h
    for member, (c, s) in walk(run.train, run.train.pose(z)).items():
        speed = c.imag / h if member in run.rig.slide else (s.imag * c.real - c.imag * s.real) / h
        np.testing.assert_allclose(run.speed[member], speed, rtol=0, atol=1e-12)


@FEW
@given(linkages(), st.lists(st.floats(0.0, 1.0), min_size=1, max_size=6))
def test_turn_at_fraction_undoes_fraction(linkage: Linkage, shares: list[float]) -> None:
    run = solved(linkage)
    np.testing.assert_allclose(run.at_fraction(shares).fraction, shares, rtol=0, atol=1e-9)
    np.testing.assert_allclose(run.turn_at_fraction(run.fraction), run.turn, rtol=0, atol=1e-6)
    np.testing.assert_array_equal(run.turn_at_fraction([0.0, 1.0]), run.ends)


@FEW
@given(linkages(), st.integers(2, 400))
def test_the_number_of_positions_moves_neither_end(linkage: Linkage, positions: int) -> None:
    run, other = solved(linkage), solve(linkage, positions=positions)
    assert run.ends == other.ends
    for name in linkage.members:
        np.testing.assert_allclose(run.member_turn[name][[0, -1]], other.member_turn[name][[0, -1]], rtol=0, atol=1e-9)


@FEW
@given(linkages())
def test_the_travel_ends_where_small_steps_first_pass_a_stop(linkage: Linkage) -> None:
    run = solved(linkage)
    first, last = run.ends
    step = 0.05 * math.copysign(1.0, last - first)

    def past(turns: Floats, slack: float) -> NDArray[np.bool_]:
        at = run.at(turns)
        found = np.zeros(turns.shape, bool)
        for stop in run.travel.stops:
            opened = SIGN[linkage.shaft[stop.member].opens] * (at.member_turn[stop.member] - math.degrees(stop.turn))
            found |= (opened if stop.limits == "opening" else -opened) > slack
        return found

    assert not np.any(past(np.append(np.arange(first, last, step), last), 1e-9))
    assert past(np.array([last + step]), 0.0)[0]
    assert past(np.array([first - step]), 0.0)[0]


def with_stops(linkage: Linkage, driver: float) -> Linkage:
    """The linkage with an opening stop on its driver [deg]."""
    if linkage.driver in linkage.shaft:
        return linkage
    stop = Stop("pedal", linkage.driver, "opening", turn=driver)
    return dataclasses.replace(linkage, stop={"pedal": stop})


#: Dimensions on which the motion depends.
PLACED = ("shaft.", "bellcrank.", "coupling.", "cable.radius", "cable.profile", "cable.casing_end", "stop.")
NOT_PLACED = ("friction_torque", "bore", "shaft_diameter", "plates", "shut", "screw.radius", "screw.pitch")


def one_of(dims: dict[str, Any], i: int) -> dict[str, float]:
    """The i-th linkage of a table of dimensions."""
    return {path: float(np.ravel(value)[i]) if np.ndim(value) else float(value) for path, value in dims.items()}


def alone(linkage: Linkage, dims: dict[str, float]) -> Train | None:
    try:
        return assemble(linkage, dims)
    except AssemblyError:
        return None


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from([*EXAMPLES]),
    st.data(),
    st.sampled_from([(6, 1), (6,)]),
    st.booleans(),
)
def test_many_at_once_equal_one_by_one(name: str, data: st.DataObject, shape: tuple[int, ...], stopped: bool) -> None:
    linkage = EXAMPLES[name]()
    if stopped:
        linkage = with_stops(linkage, 50.0 * float(assemble(linkage).opens))
    single = dict(dimensions(linkage))
    lengths = {j.step.by.name: float(j.length) for j in assemble(linkage).joints if j.forward is not None}
    choice = sorted(path for path in single if path.startswith(PLACED) and not path.endswith(NOT_PLACED))
    swept = data.draw(st.lists(st.sampled_from(choice), min_size=1, max_size=4, unique=True))
    dims: dict[str, Any] = dict(single)
    for path in swept:
        spread = 0.03 if ".ratio" in path else 2.0
        change = data.draw(st.lists(number(-spread, spread), min_size=6, max_size=6))
        dims[path] = single[path] + np.reshape(change, shape)
    if data.draw(st.booleans()):  # some of the six with a link far too long
        link = data.draw(st.sampled_from([*lengths]))
        longer = data.draw(st.lists(st.sampled_from([0.0, 0.5, -0.5, 500.0]), min_size=6, max_size=6))
        dims[f"link.{link}.length"] = lengths[link] + np.reshape(longer, shape)
    together = assemble(linkage, dims)
    travel = find_travel(together)
    line = cable_line(together)
    # driver turns of each of the six at five positions; along the last axis for (6, 1), the first for (6,)
    first, last = ([_row(end, i) for i in range(6)] for end in (travel.closing, travel.opening))
    turn = np.linspace(first, last, 5, axis=1 if len(shape) == 2 else 0)
    every = walk(together, (np.cos(turn), np.sin(turn)))
    for i in range(6):
        train = alone(linkage, one_of(dims, i))
        closing = _row(travel.closing, i)
        if train is None:
            assert math.isnan(closing)
            assert math.isnan(_row(travel.opening, i))
            assert _row(travel.closing_holds, i) == _row(travel.opening_holds, i) == -1
            continue
        expected = find_travel(train)
        close: Any = {"rel": 0, "abs": 1e-9, "nan_ok": True}
        assert closing == pytest.approx(float(expected.closing), **close)
        assert _row(travel.opening, i) == pytest.approx(float(expected.opening), **close)
        assert _row(travel.closing_holds, i) == expected.closing_holds
        assert _row(travel.opening_holds, i) == expected.opening_holds
        for side in (0, 1):
            margin = float(expected.before_toggle[side])
            assert _row(travel.before_toggle[side], i) == pytest.approx(margin, rel=0, abs=1e-6)
        for stop, wanted in zip(travel.stops, expected.stops, strict=True):
            assert (stop.name, stop.member, stop.limits) == (wanted.name, wanted.member, wanted.limits)
            assert _row(stop.turn, i) == pytest.approx(float(wanted.turn), **close)
            assert _row(stop.driver, i) == pytest.approx(float(wanted.driver), **close)
        for place, wanted_place in zip(travel.toggles, expected.toggles, strict=True):
            found = np.broadcast_to(place.driver, (*shape, np.shape(place.driver)[-1])).reshape(6, -1)[i]
            np.testing.assert_allclose(_known(found), _known(wanted_place.driver), rtol=0, atol=1e-6)
        assert _row(together.opens, i) == float(train.opens)
        for shaft_name in linkage.shaft:
            assert _row(together.shaft_opens[shaft_name], i) == float(train.shaft_opens[shaft_name])
        angle = turn[i] if len(shape) == 2 else turn[:, i]
        pose = walk(train, (np.cos(angle), np.sin(angle)))
        for member in linkage.members:
            for rows, wanted_row in zip(every[member], pose[member], strict=True):
                rows = np.broadcast_to(rows, turn.shape)
                np.testing.assert_allclose(rows[i] if len(shape) == 2 else rows[:, i], wanted_row, rtol=0, atol=1e-7)
        if line is not None:
            single_line = cable_line(train)
            assert single_line is not None
            ends = [(np.cos(t), np.sin(t)) for t in (expected.closing, expected.opening)]
            ends_many = [(np.cos(t), np.sin(t)) for t in (travel.closing, travel.opening)]
            assert _row(line.taken(ends_many[1], ends_many[0]), i) == pytest.approx(
                float(single_line.taken(ends[1], ends[0])), rel=0, abs=1e-7
            )


def _row(values: Any, i: int) -> float:
    flat = np.ravel(values)
    return float(flat[i] if flat.size > 1 else flat[0])


def _known(values: Any) -> Floats:
    """The known angles in order, each once, brought next to one another across the half turn."""
    flat = np.ravel(values)
    flat = flat[np.isfinite(flat)]
    return np.unique(np.round(np.cos(flat), 6) + 10.0 * np.round(np.sin(flat), 6))
