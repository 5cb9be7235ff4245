"""Sensitivities against linkages assembled anew with one dimension changed."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from trains import EXAMPLES, arms, bell_crank, crank, parallel_pair, series, shaft, with_stop
from trains import rig as rig_of

from linkage.answers.dimension_errors import Dimension
from linkage.answers.sensitivities import ranked, sensitivities
from linkage.answers.stops import stops
from linkage.motion import Motion, assemble, driver_turn, gains, solve, walk
from linkage.motion.travel import stop_turns
from linkage.parts import SIGN, Link, Stop

STEP = 2e-5  # [mm, deg] of a central difference


def as_made(run: Motion) -> dict[str, float]:
    """Dimensions with every link at the length that the drawing gives it."""
    lengths = {f"link.{j.step.by.name}.length": float(j.length) for j in run.train.joints if j.forward is not None}
    return {**run.train.dims, **lengths}


def changed(run: Motion, dims: dict[str, float], dimension: Dimension, by: float) -> dict[str, float]:
    """The dimensions with one changed; a pivot carries pins that are given by their place."""
    dims, path = dict(dims), dimension.path
    if path in dims:
        dims[path] += by
        if dimension.kind == "pivot":
            at, axis = path[:-8], path[-1]
            for key in dims:
                if key.startswith(f"{at}.arm.") and key.endswith(f".pin.{axis}"):
                    dims[key] += by
        return dims
    at, what = path.rsplit(".", 1)  # radius or angle of an arm that is given by its pin
    member = at.split(".arm.")[0]
    u = np.array(run.rig.members[member.split(".")[1]].axis)
    pivot, pin = (np.array([dims[f"{of}.{axis}"] for axis in "xyz"]) for of in (f"{member}.pivot", f"{at}.pin"))
    out = pin - pivot
    radial = out - u * (out @ u)
    if what == "radius":
        pin = pin + by * radial / np.linalg.norm(radial)
    else:
        turn = np.radians(by)
        pin = pin - radial + radial * np.cos(turn) + np.cross(u, radial) * np.sin(turn)
    return {**dims, **{f"{at}.pin.{axis}": float(x) for axis, x in zip("xyz", pin, strict=True)}}


def measured(run: Motion, dims: dict[str, float]) -> dict[str, Any]:
    """Plates at the same driver turns, and between the same two stops; the ends; every stop's own lead."""
    train = assemble(run.rig, dims)
    found = {name: (member, turn) for name, member, _, turn in stop_turns(train)}
    holds = [run.travel.stops[int(i)].name for i in (run.travel.closing_holds, run.travel.opening_holds)]
    first, last = (float(driver_turn(train, *found[name])) for name in holds)
    nominal = np.radians(run.ends)
    share = (np.radians(run.turn) - nominal[0]) / (nominal[1] - nominal[0])

    def plates(turn: Any) -> dict[str, Any]:
        pose = walk(train, train.pose(turn))
        return {n: SIGN[s.opens] * np.degrees(np.arctan2(*pose[n][::-1])) for n, s in run.rig.shaft.items()}

    return {
        "held": plates(np.radians(run.turn)),
        "between": plates(first + share * (last - first)),
        "ends": np.degrees([first, last]),
    }


@pytest.mark.parametrize("name", list(EXAMPLES))
def test_every_sensitivity_is_the_difference_of_two_linkages(name: str) -> None:
    run = solve(EXAMPLES[name](), positions=5)
    found, dims = sensitivities(run), as_made(run)
    assert len(found.dimensions) > 8
    for i, dimension in enumerate(found.dimensions):
        up, down = (measured(run, changed(run, dims, dimension, by)) for by in (STEP, -STEP))
        for plate in run.rig.shaft:
            for kind, ours in (("held", found.plate_angle), ("between", found.between_stops)):
                slope = (up[kind][plate] - down[kind][plate]) / (2.0 * STEP)
                np.testing.assert_allclose(ours[plate][i], slope, atol=1e-7, rtol=1e-7, err_msg=dimension.path)
        np.testing.assert_allclose(found.ends[i], (up["ends"] - down["ends"]) / (2.0 * STEP), atol=1e-7, rtol=1e-7)


def test_a_travel_that_ends_at_a_dead_point_keeps_that_end() -> None:
    rig = rig_of(
        shaft("slow", (0.0, 0.0, 0.0), "ccw", arms(drive=(50.0, 60.0))),
        crank("fast", (120.0, 0.0, 0.0), arms(out=(20.0, 60.0))),
        Link("link", ("fast.out", "slow.drive")),
        drive="slow",
    )
    run = solve(rig, positions=5)
    assert run.travel.opening_holds == -1
    found = sensitivities(run)
    np.testing.assert_array_equal(found.ends[:, 1], 0.0)
    assert np.all(np.isfinite(found.plate_angle["slow"]))


@pytest.mark.parametrize("make", [bell_crank, series, EXAMPLES["skew"]])
def test_cable_travel_and_stop_gaps_move_as_a_changed_drawing_does(make: Any) -> None:
    rig = make()
    drawn = solve(rig)
    lengths = {j.step.by.name: float(j.length) for j in drawn.train.joints if j.forward is not None}
    links = {n: dataclasses.replace(link, length=lengths[n]) for n, link in rig.link.items()}
    # two stops stand ahead of all others, so the same ones hold before and after a change
    on = next(iter(rig.shaft))
    early, late = Stop("early", on, "closing", plate_angle=11.0), Stop("late", on, "opening", plate_angle=80.0)
    rig = with_stop(dataclasses.replace(rig, link=links), early, late)
    run = solve(rig)
    found = sensitivities(run)
    assert found.cable is not None
    tried = 0
    for i, dimension in enumerate(found.dimensions):
        if dimension.path not in run.train.dims or dimension.kind in ("pivot", "pin"):
            continue  # how these carry pins along is tested above
        tried += 1
        up, down = (solve(rig.replace(dimension.path, run.train.dims[dimension.path] + by)) for by in (1e-4, -1e-4))
        assert (stops(up).closing.holds, stops(up).opening.holds) == ("early", "late")
        assert up.cable is not None
        assert down.cable is not None
        assert found.cable[i] == pytest.approx((up.cable[-1] - down.cable[-1]) / 2e-4, abs=1e-6, rel=1e-6)
        for end in ("closing", "opening"):
            for stop, gap in getattr(stops(up), end).gaps.items():
                slope = (gap - getattr(stops(down), end).gaps[stop]) / 2e-4
                assert found.stop_gaps[stop][i] == pytest.approx(slope, abs=1e-6, rel=1e-6)
    assert tried >= 5


def test_ranking_at_idle_begins_with_what_turns_the_shaft_most() -> None:
    # arms square to the link: 1 mm of link is 1/30 rad = 1.91 deg; a degree of clocking is a degree
    run = solve(parallel_pair(angle=90.0, other_angle=90.0))
    found = ranked(run)
    assert abs(found["link.side.length"]) == pytest.approx(np.degrees(1.0 / 30.0), abs=1e-9)
    assert abs(found["shaft.b.arm.drive.angle"]) == pytest.approx(1.0, abs=1e-9)
    sizes = [abs(v) for v in found.values()]
    assert sizes == sorted(sizes, reverse=True)


def test_an_end_stop_keeps_its_own_shaft_where_it_is() -> None:
    run = solve(bell_crank())
    idle = sensitivities(run.at(run.ends[0]))
    holder = run.travel.stops[int(run.travel.closing_holds)].member
    np.testing.assert_allclose(idle.between_stops[holder], 0.0, atol=1e-12)
    assert gains(run.train, run.pose)[holder][0][0] != 0.0
