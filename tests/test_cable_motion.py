"""Cable and pedal travel against arithmetic by hand."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from trains import arms, bell_crank, coupled, crank, cross_tube, crossed_pair, rig, series, shaft, skew, with_stop

from linkage.motion import Motion, PinCable, QuadrantCable, assemble, cable_line, solve
from linkage.parts import Cable, Coupling, Linkage, Pedal, Stop, dimensions

FAR = 90_000.0  # [mm] a casing end as far away as this pulls in a straight line, to 900/90000 = 0.01 mm


def straight_pull(start: float, swing: float = 78.0) -> Linkage:
    """A lever of 30 mm on a shaft, pulled along +x from far away; ``start`` [deg] between lever and pull."""
    return rig(
        shaft("a", (0.0, 0.0, 0.0), "cw", arms(cable=(30.0, start)), idle=12.0, wide_open=12.0 + swing),
        cable=Cable(pulls="a.cable", casing_end=(FAR, 0.0, 0.0)),
    )


@pytest.mark.parametrize(
    ("start", "stroke", "quarter", "half", "gains"),
    [
        # printed: stroke [mm], opened [%] at a quarter and at half of the cable, degrees per mm at both ends
        (90.0, 29.3, 18.0, 38.0, (1.91, 9.19)),
        (100.0, 33.0, 20.0, 41.0, (1.94, 5.10)),
        (110.0, 35.7, 22.0, 44.0, (2.03, 3.60)),
        (120.0, 37.3, 24.0, 47.0, (2.21, 2.85)),
        (129.0, 37.8, 26.0, 50.0, (2.46, 2.46)),
        (140.0, 37.1, 29.0, 53.0, (2.97, 2.16)),
        (150.0, 35.3, 32.0, 56.0, (3.82, 2.01)),
    ],
)
def test_a_lever_pulled_in_a_straight_line(
    start: float, stroke: float, quarter: float, half: float, gains: tuple[float, float]
) -> None:
    run = solve(straight_pull(start))
    # the pin moves along the pull by 30 (cos end - cos start)
    by_hand = 30.0 * (math.cos(math.radians(start - 78.0)) - math.cos(math.radians(start)))
    assert by_hand == pytest.approx(stroke, abs=0.05)
    assert run.cable is not None
    assert run.cable[-1] == pytest.approx(by_hand, rel=0, abs=0.01)
    for share, printed in ((0.25, quarter), (0.5, half)):
        end = math.degrees(math.acos(math.cos(math.radians(start)) + share * by_hand / 30.0))
        assert (start - end) / 0.78 == pytest.approx(printed, abs=0.5)  # printed in whole percent
        assert run.turn_at_fraction(share)[0] == pytest.approx(end - start, rel=0, abs=0.02)
    by_sine = [math.degrees(1.0 / (30.0 * math.sin(math.radians(angle)))) for angle in (start, start - 78.0)]
    assert by_sine == pytest.approx(gains, abs=0.005)
    assert run.gain["a"][[0, -1]] == pytest.approx(by_sine, rel=2e-3, abs=0)


def test_half_of_the_cable_opens_the_lever_44_percent() -> None:
    opened = solve(straight_pull(110.0)).at_fraction(0.5).plate_angle["a"][0] - 12.0
    assert opened == pytest.approx(34.66, abs=0.01)


@pytest.mark.parametrize(("radius", "travel"), [(20.0, 27.2), (25.0, 34.0), (30.0, 40.8), (40.0, 54.5)])
def test_a_quadrant_takes_radius_times_turn(radius: float, travel: float) -> None:
    linkage = dataclasses.replace(
        crossed_pair(), drive=None, cable=Cable(quadrant="a", radius=radius, pull_turns="ccw")
    )
    run = solve(linkage, positions=7)
    assert run.cable is not None
    np.testing.assert_allclose(run.cable, radius * np.radians(run.turn), rtol=0, atol=1e-12)
    assert run.cable[-1] == pytest.approx(travel, abs=0.05)
    np.testing.assert_allclose(run.gain["a"], math.degrees(1.0 / radius), rtol=1e-12, atol=0)
    np.testing.assert_allclose(run.fraction, np.linspace(0.0, 1.0, 7), rtol=0, atol=1e-12)


def test_a_near_casing_end_takes_the_difference_of_two_distances() -> None:
    run = solve(bell_crank(), positions=3)
    casing = (-60.0, -150.0)

    def distance(turn: float) -> float:
        angle = math.radians(150.0 + turn)
        return math.dist(casing, (40.0 * math.cos(angle), 58.0 + 40.0 * math.sin(angle)))

    assert run.cable is not None
    for turn, taken in zip(run.turn, run.cable, strict=True):
        assert taken == pytest.approx(distance(0.0) - distance(float(turn)), rel=0, abs=1e-9)
    # moment arm: twice the area of pivot, pin and casing end over the run
    assert run.cable_arm is not None
    pin = (40.0 * math.cos(math.radians(150.0)), 58.0 + 40.0 * math.sin(math.radians(150.0)))
    area = (pin[0] - 0.0) * (casing[1] - 58.0) - (pin[1] - 58.0) * (casing[0] - 0.0)
    assert run.cable_arm[0] == pytest.approx(area / distance(0.0), rel=0, abs=1e-9)


def dead_centre_inside() -> Linkage:
    """The lever's pin comes in line with the pull half way, and lets the cable out again after."""
    return straight_pull(39.0)


def test_where_the_cable_passes_a_dead_centre_the_fraction_counts_turn() -> None:
    run = solve(dead_centre_inside(), positions=5)
    assert not run.by_cable
    np.testing.assert_allclose(run.fraction, [0.0, 0.25, 0.5, 0.75, 1.0], rtol=0, atol=1e-12)
    assert run.cable is not None
    assert run.cable[2] == pytest.approx(30.0 * (1.0 - math.cos(math.radians(39.0))), rel=0, abs=0.01)
    assert run.cable[-1] == pytest.approx(0.0, abs=1e-6)  # as far out as in
    np.testing.assert_allclose(run.gain["a"], 1.0, rtol=1e-12, atol=0)  # per degree of driver turn
    np.testing.assert_allclose(run.turn_at_fraction([0.0, 0.5, 1.0]), [0.0, -39.0, -78.0], rtol=0, atol=1e-9)


def test_a_cable_that_pulls_the_throttles_shut_counts_backwards() -> None:
    linkage = dataclasses.replace(series(), cable=Cable(quadrant="one", radius=28.0, pull_turns="cw"))
    run = solve(linkage)
    assert run.by_cable
    assert run.cable is not None
    assert run.cable[-1] == pytest.approx(-28.0 * math.radians(78.0), rel=0, abs=1e-9)
    assert run.fraction[[0, -1]] == pytest.approx([0.0, 1.0], abs=1e-12)
    assert np.all(run.gain["one"] < 0.0)


def test_without_a_cable_the_fraction_counts_turn_and_there_is_no_pedal() -> None:
    run = solve(dataclasses.replace(crossed_pair(), pedal=Pedal(3.0)))
    assert run.cable is None
    assert run.cable_arm is None
    assert run.pedal is None
    np.testing.assert_allclose(run.fraction, run.turn / 78.0, rtol=0, atol=1e-12)
    np.testing.assert_array_equal(run.travel_speed, 1.0)


@pytest.mark.parametrize("idle", [12.1, 12.3, 13.7, 14.9, 17.3])
def test_the_whole_share_is_the_very_end_of_the_travel(idle: float) -> None:
    stops = Stop("s", "a", "closing", plate_angle=idle), Stop("t", "a", "opening", plate_angle=idle + 50.6)
    for linkage in (crossed_pair(), straight_pull(110.0)):
        run = solve(with_stop(linkage, *stops))
        assert tuple(run.turn_at_fraction([0.0, 1.0])) == run.ends


def test_the_pedal_takes_up_free_play_first() -> None:
    assert series().cable is not None
    linkage = dataclasses.replace(
        series(), cable=Cable(quadrant="one", radius=30.0, pull_turns="ccw", free_play=1.0), pedal=Pedal(3.5)
    )
    run = solve(linkage)
    assert run.pedal is not None
    assert run.pedal[0] == pytest.approx(3.5, rel=0, abs=1e-12)
    assert run.pedal[-1] == pytest.approx(3.5 * (30.0 * math.radians(78.0) + 1.0), rel=0, abs=1e-9)


def test_a_cable_to_a_skew_bell_crank_runs_in_space() -> None:
    run = solve(skew(), positions=2)
    assert run.cable is not None
    # the pin turns about the y axis through (84, 0, 60): out from it by (32, 5, 32) as drawn
    turn = math.radians(float(run.turn[-1]))
    x, z = 32.0 * math.cos(turn) + 32.0 * math.sin(turn), -32.0 * math.sin(turn) + 32.0 * math.cos(turn)
    casing = (130.0, 10.0, -200.0)
    taken = math.dist(casing, (116.0, 5.0, 92.0)) - math.dist(casing, (84.0 + x, 5.0, 60.0 + z))
    assert run.cable[-1] == pytest.approx(taken, rel=0, abs=1e-9)


def line_of(run: Motion) -> PinCable:
    assert isinstance(run.line, PinCable)
    return run.line


def test_the_pose_for_a_cable_travel_is_the_closure_run_on_the_cable() -> None:
    for linkage in (bell_crank(), skew()):
        run = solve(linkage, positions=9)
        line, closed = line_of(run), (math.cos(run.travel.closing), math.sin(run.travel.closing))
        middle = math.radians(0.5 * sum(run.ends))
        assert run.cable is not None
        c, s = line.pose_at(run.cable[1:-1], closed, (math.cos(middle), math.sin(middle)))
        np.testing.assert_allclose(np.degrees(np.arctan2(s, c)), run.turn[1:-1], rtol=0, atol=1e-9)


def test_more_cable_than_the_pin_can_take_is_nan() -> None:
    # the pin is nearest to the casing end by one radius; no pose takes more
    run = solve(bell_crank())
    line = line_of(run)
    most = line.run((1.0, 0.0)) - (math.dist((-60.0, -150.0), (0.0, 58.0)) - 40.0)
    assert np.isfinite(line.pose_at(most - 1e-3, (1.0, 0.0), (0.0, 1.0))[0])
    assert np.isnan(line.pose_at(most + 1e-3, (1.0, 0.0), (0.0, 1.0))[0])


def test_a_quadrant_counts_past_half_a_turn_both_ways() -> None:
    line = QuadrantCable(20.0, 0.5 * math.pi)  # opens ccw

    def at(turn: float) -> tuple[float, float]:
        return math.cos(math.radians(turn)), math.sin(math.radians(turn))

    for turn in (-60.0, 0.0, 90.0, 179.0, 181.0, 250.0):
        for since in (-20.0, 0.0, 120.0, 200.0):
            taken = 20.0 * math.radians(turn - since)
            assert line.taken(at(turn), at(since)) == pytest.approx(taken, rel=0, abs=1e-9)
            c, s = line.pose_at(taken, at(since), at(0.0))
            assert (c, s) == pytest.approx(at(turn), rel=0, abs=1e-12)
    assert float(line.moment_slope(at(30.0))) == 0.0


def test_shares_of_a_long_wound_cable_are_found_past_half_a_turn() -> None:
    linkage = rig(
        crank("drum", (0.0, 40.0, 0.0), {}),
        shaft("a", (0.0, 0.0, 0.0), "ccw", {}),
        Coupling("sectors", ("drum", "a"), -0.35),
        cable=Cable(quadrant="drum", radius=12.0, pull_turns="cw"),
    )
    run = solve(linkage)
    shares = np.array([0.0, 0.02, 0.5, 0.9, 0.99, 1.0])
    np.testing.assert_allclose(run.turn_at_fraction(shares), -78.0 / 0.35 * shares, rtol=0, atol=1e-9)


def test_the_cable_of_many_linkages_at_once() -> None:
    linkage = bell_crank()
    radii = np.array([[38.0], [40.0], [43.0]])
    dims = {**dimensions(linkage), "bellcrank.centre.arm.cable.radius": radii}
    line = cable_line(assemble(linkage, dims))
    assert isinstance(line, PinCable)
    turn = np.radians(np.linspace(0.0, 70.0, 4))
    taken = line.taken((np.cos(turn), np.sin(turn)), (1.0, 0.0))
    assert taken.shape == (3, 4)
    for i, radius in enumerate(radii.ravel()):
        alone = solve(linkage.replace("bellcrank.centre.arm.cable.radius", float(radius))).at(np.degrees(turn))
        assert alone.cable is not None
        np.testing.assert_allclose(taken[i], alone.cable, rtol=0, atol=1e-9)


def test_there_is_no_cable_line_where_something_else_drives() -> None:
    assert cable_line(assemble(crossed_pair())) is None
    assert isinstance(cable_line(assemble(coupled())), QuadrantCable)


@pytest.mark.parametrize("linkage", [bell_crank(), skew(), cross_tube()])
def test_the_moment_arm_and_its_slope_are_the_derivatives_of_the_travel(linkage: Linkage) -> None:
    # by the complex step: the imaginary part of f(x + ih) over h is f'(x), with no rounding to speak of
    run = solve(linkage, positions=9)
    h = 1e-30
    z = np.radians(run.turn) + 1j * h
    pose = np.cos(z), np.sin(z)
    arm = line_of(run).taken(pose, (1.0, 0.0)).imag / h
    np.testing.assert_allclose(run.cable_arm, arm, rtol=0, atol=1e-11)
    slope = line_of(run).moment_arm(pose).imag / h
    here = line_of(run).moment_slope((np.cos(np.radians(run.turn)), np.sin(np.radians(run.turn))))
    np.testing.assert_allclose(here, slope, rtol=0, atol=1e-10)
