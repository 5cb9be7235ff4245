"""The rolled engine against the body left still and the engine turned, by root finding on lengths."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable

import numpy as np
import pytest
from rocked import on_the_body, plates, roll_axis
from trains import arms, bell_crank, coupled, crank, cross_tube, rig, shaft, skew

from linkage.answers.rocking import plate_rates, rolled_plates
from linkage.answers.rolled import drift, rolled, touch, turned
from linkage.motion import solve
from linkage.parts import Cable, Link, Linkage, Rocking

ROLL = roll_axis(30.0, -250.0, 40.0)
PITCH = roll_axis(30.0, -120.0, 40.0, (1.0, 0.2, 0.3))


def quadrant() -> Linkage:
    """A bell crank with a round quadrant and its casing end, one link to one shaft."""
    return rig(
        crank("centre", (60.0, 70.0, 0.0), arms(out=(38.0, 102.0))),
        shaft("front", (0.0, 0.0, 0.0), "ccw", arms(drive=(36.0, 98.0))),
        Link("drop", ("centre.out", "front.drive")),
        cable=Cable(quadrant="centre", radius=35.0, pull_turns="ccw", casing_end=(-90.0, 130.0, 4.0)),
    )


CASES: dict[str, Callable[[], Linkage]] = {
    "crank on the body": lambda: on_the_body(bell_crank(), "centre", roll=ROLL),
    "casing on the body": lambda: on_the_body(bell_crank(), casing=True, roll=ROLL),
    "both on the body": lambda: on_the_body(bell_crank(), "centre", casing=True, roll=ROLL),
    "pitching": lambda: on_the_body(bell_crank(), "centre", casing=True, roll=PITCH),
    "pitching, casing alone": lambda: on_the_body(bell_crank(), casing=True, roll=PITCH),
    "a tube": lambda: on_the_body(cross_tube(), "tube", roll=ROLL),
    "an upright crank": lambda: on_the_body(skew(), "upright", casing=True, roll=ROLL),
    "an upright crank, pitching": lambda: on_the_body(skew(), "upright", roll=PITCH),
    "a quadrant": lambda: on_the_body(quadrant(), "centre", roll=ROLL),
    "a quadrant, casing on the body": lambda: on_the_body(quadrant(), casing=True, roll=ROLL),
    "a quadrant that pays out": lambda: on_the_body(
        quadrant().replace("cable.pull_turns", "cw"), casing=True, roll=PITCH
    ),
    "couplings": lambda: on_the_body(coupled(), "centre", casing=True, roll=ROLL),
    "no cable": lambda: dataclasses.replace(on_the_body(bell_crank(), "centre", roll=ROLL), cable=None, drive="centre"),
}


@pytest.mark.parametrize("degrees", [0.6, -0.6])
@pytest.mark.parametrize("name", CASES)
def test_the_plates_are_those_of_the_engine_turned_against_a_body_that_stays(name: str, degrees: float) -> None:
    run = solve(CASES[name](), positions=4)
    here = run.at(run.turn[:-1])
    found = rolled_plates(here, rolled(here, degrees), degrees)
    for i in range(len(here.turn)):
        turns = {member: math.radians(turn[i]) for member, turn in here.member_turn.items()}
        expected = plates(run.rig, degrees, turns)
        for shaft_name, angle in expected.items():
            assert found[shaft_name][i] == pytest.approx(angle, abs=1e-8)


@pytest.mark.parametrize("name", CASES)
def test_the_rate_is_the_slope_of_that(name: str) -> None:
    run = solve(CASES[name](), positions=4)
    here = run.at(run.turn[:-1])
    rates = plate_rates(here)
    for i in range(len(here.turn)):
        turns = {member: math.radians(turn[i]) for member, turn in here.member_turn.items()}
        for shaft_name, rate in rates.items():
            slopes = []
            for step in (0.02, 0.04):
                up, down = (plates(run.rig, side * step, turns)[shaft_name] for side in (1.0, -1.0))
                slopes.append((up - down) / (2.0 * step))
            # two central differences put together leave an error of the fourth order
            assert rate[i] == pytest.approx((4.0 * slopes[0] - slopes[1]) / 3.0, abs=2e-7)


def test_a_place_450_mm_above_the_axis_goes_sideways_by_hand() -> None:
    """1 degree of roll: 450 x pi / 180 = 7.85 mm; the body goes the other way as the engine rolls."""
    rocking = Rocking((0.0, -450.0, 0.0))
    v = drift(rocking, (0.0, 0.0, 0.0), body=True)
    assert np.radians(1.0) * v[0] == pytest.approx(7.854, abs=5e-4)
    assert (v[1], v[2]) == (0.0, 0.0)
    assert drift(rocking, (0.0, 0.0, 0.0), body=False) == (0.0, 0.0, 0.0)
    x, y, z = turned((0.0, 0.0, 5.0), rocking, 1.0)
    assert (x, y, z) == pytest.approx(
        (450.0 * math.sin(math.radians(1.0)), 450.0 * math.cos(math.radians(1.0)) - 450.0, 5.0)
    )


def test_each_millimetre_along_the_link_is_1_9_degrees_at_30_mm() -> None:
    """The trade's sum: a level rod on an upright lever of 30 mm, its other end on the body, which stays."""
    pair = rig(
        crank("body", (250.0, 0.0, 0.0), arms(out=(30.0, 90.0))),
        shaft("a", (0.0, 0.0, 0.0), "cw", arms(drive=(30.0, 90.0))),
        Link("rod", ("body.out", "a.drive")),
        drive="body",
    )
    there = on_the_body(pair, "body", roll=Rocking((0.0, -480.0 + 60.0, 0.0)))  # 450 mm below the rod at y = 30
    rate = float(plate_rates(solve(there).at(0.0))["a"][0])
    assert rate / (450.0 * math.pi / 180.0) == pytest.approx(math.degrees(1.0 / 30.0), rel=1e-12)
    assert math.degrees(1.0 / 30.0) == pytest.approx(1.9, abs=0.011)


def test_the_cable_leaves_its_quadrant_square_to_the_radius() -> None:
    run = solve(on_the_body(quadrant(), casing=True))
    for degrees in (0.0, 3.0):
        at = touch(run, degrees)
        assert run.rig.rocking is not None
        end = np.array(turned((-90.0, 130.0, 4.0), run.rig.rocking, degrees))
        out = np.array(at.place) - np.array([60.0, 70.0, 0.0])
        assert np.linalg.norm(out) == pytest.approx(35.0, abs=1e-12)
        assert (end - np.array(at.place)) @ out == pytest.approx(0.0, abs=1e-9)
        # pulled towards the casing it turns the way it is said to: ccw
        assert np.cross(out, end - np.array(at.place))[2] > 0.0
        assert np.linalg.norm(end - np.array(at.place)) == pytest.approx(float(at.free), abs=1e-9)
