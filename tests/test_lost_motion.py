"""Lost motion against hand arithmetic and against the same train with its links made longer and shorter."""

from __future__ import annotations

import dataclasses
import itertools
import math

import numpy as np
import pytest
from sprung import sprung, torsion
from trains import EXAMPLES, bell_crank, coupled, crossed_pair, parallel_pair, series

from linkage.answers import joints
from linkage.answers import lost_motion as told
from linkage.answers.lost_motion import LostMotion, lost_motion, rocks
from linkage.motion import Motion, solve
from linkage.parts import Linkage, Play


def loose(linkage: Linkage, pin: float = 0.0, coupling: float = 0.0) -> Linkage:
    return dataclasses.replace(linkage, play=Play(pin, coupling))


def report(run: Motion) -> LostMotion:
    found = lost_motion(run)
    assert found is not None
    return found


@pytest.mark.parametrize(("per_link", "degrees"), [(0.05, 0.10), (0.1, 0.19), (0.2, 0.38), (0.3, 0.57)])
def test_the_trades_table_at_thirty_millimetres_square(per_link: float, degrees: float) -> None:
    # a parallelogram stands square to its link when its arms are: play over radius, half of it in each pin
    run = solve(loose(parallel_pair(angle=51.0, other_angle=51.0), pin=per_link / 2.0)).at(39.0)
    assert float(joints.transmission_angles(run)["side"][0]) == pytest.approx(90.0, abs=1e-9)
    found = rocks(run)["b"][0]
    assert found == pytest.approx(math.degrees(per_link / 30.0), rel=1e-12)
    assert round(found, 2) == degrees


def test_it_grows_with_one_over_the_sine_of_the_transmission_angle() -> None:
    run = solve(loose(parallel_pair(), pin=0.05)).at(0.0)
    assert rocks(run)["b"][0] == pytest.approx(math.degrees(0.1 / (30.0 * math.sin(math.radians(51.0)))), rel=1e-12)


def with_lengths(run: Motion, changes: dict[str, float]) -> dict[str, float]:
    """Turns of all members [deg] at the same driver turn, the links longer by so much."""
    lengths = joints.lengths(run)
    links = {
        name: dataclasses.replace(link, length=lengths[name] + changes[name]) for name, link in run.rig.link.items()
    }
    changed = solve(dataclasses.replace(run.rig, link=links), positions=2).at(run.turn)
    return {name: float(turn[0]) for name, turn in changed.member_turn.items()}


@pytest.mark.parametrize("name", ["bell_crank", "series", "cross_tube", "skew", "tilted", "hand_set"])
def test_it_is_what_the_train_does_with_its_links_at_either_end_of_their_play(name: str) -> None:
    pin = 1e-3
    run = solve(loose(EXAMPLES[name](), pin=pin)).at_fraction(0.4)
    found = rocks(run)
    # every link works anything from a whole pin's play longer to as much shorter: half at each of its two pins
    poses = [
        with_lengths(run, dict(zip(run.rig.link, signs, strict=True)))
        for signs in itertools.product((-pin, pin), repeat=len(run.rig.link))
    ]
    for member in run.rig.members:
        rock = max(pose[member] for pose in poses) - min(pose[member] for pose in poses)
        # what is left over is of the third order in the play: 1e-6 of it where an angle is not near its dead point
        assert found[member][0] == pytest.approx(rock, rel=1e-6, abs=1e-12)


def test_couplings_add_their_shake_and_carry_what_came_before() -> None:
    run = solve(loose(coupled(), pin=0.05, coupling=0.2)).at_fraction(0.5)
    found = rocks(run)
    assert found["centre"][0] == 0.0
    assert found["front"][0] > 0.1
    assert found["rear"][0] == pytest.approx(found["front"][0] + 0.2, rel=1e-12)
    assert found["twin"][0] == pytest.approx(1.05 * found["front"][0] + 0.2, rel=1e-12)


def test_figures_are_of_the_curve_and_idle_is_at_the_closing_stop() -> None:
    run = solve(loose(series(), pin=0.05), positions=5)
    found, fine = report(run), rocks(run.at(np.linspace(*run.ends, 5001)))
    for name in run.rig.shaft:
        assert found.largest[name].value >= np.max(fine[name]) - 1e-12
        assert found.largest[name].value == pytest.approx(np.max(fine[name]), rel=1e-6)
        assert found.at_idle[name] == pytest.approx(fine[name][0], rel=1e-12)
        assert found.curve[name] == pytest.approx(fine[name][::1250], rel=1e-9)
    assert found.largest["one"].value == 0.0  # the driver itself
    assert found.largest["three"].value > found.largest["two"].value > 0.0


def test_springs_on_every_shaft_take_the_play_up_and_friction_gives_it_back() -> None:
    linkage = loose(bell_crank(), pin=0.05)
    on_both = (torsion("l", "left", 100.0, 1.0), torsion("r", "right", 100.0, 1.0))
    assert report(solve(linkage)).taken_up is None
    assert report(solve(sprung(linkage, *on_both, friction=20.0))).taken_up == {"left": True, "right": True}
    # on the left alone: the link to the right carries friction one way and the other
    assert report(solve(sprung(linkage, on_both[0], friction=20.0))).taken_up == {"left": True, "right": False}
    # nothing rubs there: the link carries nothing at all
    assert report(solve(sprung(linkage, on_both[0]))).taken_up == {"left": True, "right": False}
    # friction greater than the spring: the load changes sides
    assert report(solve(sprung(linkage, *on_both, friction=120.0))).taken_up == {"left": False, "right": False}


def test_a_coupling_is_taken_up_by_a_spring_beyond_it() -> None:
    linkage = loose(coupled(), coupling=0.2)
    found = report(solve(sprung(linkage, torsion("s", "rear", 100.0), friction=5.0))).taken_up
    assert found == {"front": True, "rear": True, "twin": False}


def test_the_check_asks_for_care_where_nothing_holds_the_play() -> None:
    linkage = loose(bell_crank(), pin=0.05)
    springs = (torsion("l", "left", 100.0, 1.0), torsion("r", "right", 100.0, 1.0))
    free, held = solve(linkage), solve(sprung(linkage, *springs))
    (check,) = told.checks(free, lost_motion(free))
    assert check.verdict == "caution"
    assert check.value is not None
    assert check.value > told.LOST
    (check,) = told.checks(held, lost_motion(held))
    assert check.verdict == "pass"
    assert check.limit is None  # more than the free joints may have, so no limit is shown beside a pass
    assert "one side" in check.says
    close = solve(loose(bell_crank(), pin=0.01))
    (check,) = told.checks(close, lost_motion(close))
    assert check.verdict == "pass"


def test_no_play_is_said_not_guessed() -> None:
    run = solve(bell_crank())
    assert lost_motion(run) is None
    assert "[play]" in told.lacks(run.rig)
    assert told.checks(run, None) == ()


def test_dead_points_are_answered() -> None:
    for angle in (150.0, 178.0, 182.0):
        run = solve(loose(crossed_pair(angle, -51.0, other_wide_open=170.0), pin=0.05))
        told.checks(run, report(run))
