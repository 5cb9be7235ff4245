"""A cable on a snail quadrant: against a round one, by difference, and by the energy that it carries."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from scipy.integrate import quad
from trains import bell_crank, crossed_pair, series

from linkage.answers import check
from linkage.answers.sensitivities import sensitivities
from linkage.errors import AssemblyError
from linkage.motion import QuadrantCable, SnailCable, assemble, cable_line, solve
from linkage.parts import Cable, Linkage, Pedal, ProfilePoint, Spring, dimensions

FALLING = ((0.0, 42.0), (25.0, 36.0), (50.0, 29.0), (78.0, 22.0))


def profile(*points: tuple[float, float]) -> dict[str, ProfilePoint]:
    return {str(i): ProfilePoint(str(i), turn, arm) for i, (turn, arm) in enumerate(points, 1)}


def on_a_snail(*points: tuple[float, float], pulls: str = "ccw", base: Linkage | None = None) -> Linkage:
    """The crossed pair, whose driver turns 78 degrees ccw, with a snail on it."""
    cable = Cable(quadrant="a", profile=profile(*points), pull_turns=pulls)  # type: ignore[arg-type]
    return dataclasses.replace(base or crossed_pair(), drive=None, cable=cable)


def test_a_constant_profile_is_the_round_quadrant() -> None:
    snail = solve(on_a_snail((0.0, 28.0), (40.0, 28.0), (78.0, 28.0)))
    cable = Cable(quadrant="a", radius=28.0, pull_turns="ccw")
    plain = solve(dataclasses.replace(crossed_pair(), drive=None, cable=cable))
    assert isinstance(snail.line, SnailCable)
    assert isinstance(plain.line, QuadrantCable)
    for one, other in (
        (snail.cable, plain.cable),
        (snail.cable_arm, plain.cable_arm),
        (snail.fraction, plain.fraction),
    ):
        assert one is not None
        assert other is not None
        np.testing.assert_allclose(one, other, rtol=0, atol=1e-12)
    shares = np.linspace(0.0, 1.0, 13)
    np.testing.assert_allclose(snail.turn_at_fraction(shares), plain.turn_at_fraction(shares), rtol=0, atol=1e-12)


@pytest.mark.parametrize("pulls", ["ccw", "cw"])
def test_travel_is_the_integral_of_the_moment_arm_and_the_moment_arm_its_derivative(pulls: str) -> None:
    run = solve(on_a_snail(*FALLING, pulls=pulls), positions=40)
    line = run.line
    assert isinstance(line, SnailCable)
    assert run.cable is not None
    sign = 1.0 if pulls == "ccw" else -1.0

    def arm(turn: float) -> float:
        return float(line.moment_arm((math.cos(turn), math.sin(turn))))

    for turn, taken in zip(np.radians(run.turn), run.cable, strict=True):
        assert arm(turn) * sign > 0.0
        breaks = [math.radians(t) for t, _ in FALLING if 0.0 < math.radians(t) < turn]
        assert taken == pytest.approx(quad(arm, 0.0, turn, points=breaks or None)[0], abs=1e-9)
    step = 1e-5
    there = run.at(np.degrees(np.radians(run.turn) + step))
    back = run.at(np.degrees(np.radians(run.turn) - step))
    assert there.cable is not None
    assert back.cable is not None
    assert run.cable_arm is not None
    np.testing.assert_allclose((there.cable - back.cable) / (2.0 * step), run.cable_arm, rtol=0, atol=1e-3)
    slope = line.moment_slope(run.pose["a"])
    assert there.cable_arm is not None
    assert back.cable_arm is not None
    inside = ~np.isin(np.round(run.turn, 6), [t for t, _ in FALLING])
    by_difference = (there.cable_arm - back.cable_arm) / (2.0 * step)
    np.testing.assert_allclose(slope[inside], by_difference[inside], rtol=0, atol=1e-3)


def test_shares_of_the_cable_travel_come_back() -> None:
    run = solve(on_a_snail(*FALLING))
    shares = np.linspace(0.0, 1.0, 41)
    np.testing.assert_allclose(run.at_fraction(shares).fraction, shares, rtol=0, atol=1e-13)


def test_the_points_may_be_listed_either_way() -> None:
    """A driver that opens clockwise has its points at falling turns."""
    base = series()
    cable = Cable(quadrant="one", profile=profile(*FALLING), pull_turns="ccw")
    one = solve(dataclasses.replace(base, cable=cable))
    other = solve(dataclasses.replace(base, cable=dataclasses.replace(cable, profile=profile(*FALLING[::-1]))))
    assert one.cable is not None
    assert other.cable is not None
    np.testing.assert_array_equal(one.cable, other.cable)
    assert other.rig.cable is not None
    assert other.rig.replace("cable.profile.4.moment_arm", 43.0).cable.profile["4"].moment_arm == 43.0  # type: ignore


def test_a_clockwise_snail_is_the_mirror_of_a_counter_clockwise_one() -> None:
    down = tuple((-turn, arm) for turn, arm in FALLING)
    train = assemble(on_a_snail(*FALLING))
    back = assemble(on_a_snail(*down, pulls="cw"))
    back = dataclasses.replace(back, opens=-1.0)
    one, other = cable_line(train), cable_line(back)
    assert isinstance(one, SnailCable)
    assert isinstance(other, SnailCable)
    turn = np.radians(np.linspace(-20.0, 150.0, 35))
    still = (1.0, 0.0)
    poses = (np.cos(turn), np.sin(turn)), (np.cos(turn), -np.sin(turn))
    np.testing.assert_allclose(other.taken(poses[1], still), one.taken(poses[0], still), rtol=0, atol=1e-12)
    np.testing.assert_allclose(other.moment_arm(poses[1]), -one.moment_arm(poses[0]), rtol=0, atol=1e-12)
    for taken, line, sense in ((one.taken(poses[0], still), one, 1.0), (other.taken(poses[1], still), other, -1.0)):
        c, s = line.pose_at(taken, still, still)
        np.testing.assert_allclose(np.unwrap(np.arctan2(s, c)), sense * turn, rtol=0, atol=1e-12)


def test_the_energy_that_goes_in_at_the_cable_is_in_the_springs() -> None:
    """Without friction: the integral of tension over cable travel is what the torsion springs take up."""
    springs = {name: Spring(name, on=name, preload=200.0, rate=3.0) for name in ("a", "b")}
    rig = dataclasses.replace(on_a_snail(*FALLING), spring=springs, pedal=Pedal(2.0))
    rig = dataclasses.replace(
        rig, shaft={name: dataclasses.replace(shaft, friction_torque=0.0) for name, shaft in rig.shaft.items()}
    )
    run = solve(rig, positions=4001)
    tension = check(run, trials=10).forces
    assert tension is not None
    assert tension.tension is not None
    assert run.cable is not None
    going_in = float(np.trapezoid(tension.tension, run.cable))
    taken_up = 0.0
    for name in springs:
        turned = abs(float(run.member_turn[name][-1] - run.member_turn[name][0]))
        taken_up += math.radians(200.0 * turned + 0.5 * 3.0 * turned**2)
    assert going_in == pytest.approx(taken_up, rel=1e-6)


def test_what_every_moment_arm_does_by_difference() -> None:
    rig = on_a_snail(*FALLING)
    found = sensitivities(solve(rig, positions=3))
    assert found.cable is not None
    by_path = {d.path: value for d, value in zip(found.dimensions, found.cable, strict=True)}
    for i in range(1, 5):
        path = f"cable.profile.{i}.moment_arm"
        here = dimensions(rig)[path]
        ends = [solve(rig.replace(path, here + step), positions=3).cable for step in (1e-5, -1e-5)]
        assert by_path[path] == pytest.approx((ends[0][-1] - ends[1][-1]) / 2e-5, abs=1e-7)  # type: ignore[index]


def test_many_snails_at_once_are_each_alone() -> None:
    rig = on_a_snail(*FALLING)
    arms = np.linspace(30.0, 35.9, 7)
    many = cable_line(assemble(rig, {**dimensions(rig), "cable.profile.3.moment_arm": arms}))
    turn = np.radians(np.linspace(0.0, 78.0, 9))[:, None]
    assert many is not None
    together = many.taken((np.cos(turn), np.sin(turn)), (1.0, 0.0))
    for i, arm in enumerate(arms):
        alone = solve(rig.replace("cable.profile.3.moment_arm", float(arm))).at(np.linspace(0.0, 78.0, 9)).cable
        np.testing.assert_allclose(together[:, i], alone, rtol=0, atol=1e-12)


def test_points_that_pass_each_other_cannot_be_put_together() -> None:
    rig = on_a_snail(*FALLING).replace("cable.profile.2.turn", 60.0)
    with pytest.raises(AssemblyError, match="cable, profile: the turns of its points must all rise, or all fall"):
        solve(rig)


def test_a_cable_on_a_pin_has_no_profile() -> None:
    assert not isinstance(solve(bell_crank()).line, SnailCable)
