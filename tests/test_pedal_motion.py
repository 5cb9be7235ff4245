"""The pedal's line: pad travel against root finding on the length of the run, and against triangles by hand."""

from __future__ import annotations

import dataclasses
import math

import footwells
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from linkage.answers import forces
from linkage.motion import CrankPedal, DriverPedal, RatioPedal, pedal_line, solve
from linkage.parts import Arm, Linkage, Pedal, dimensions

OPENED = math.radians(80.0)  # of the shaft of footwells.quadrant, between its own stops
CABLE = 30.0 * OPENED


def run_at(turn: float, angle: float = 60.0, sense: float = 1.0) -> float:
    """Casing end to cable pin [mm] of footwells' pedal, ``turn`` degrees pressed."""
    at = math.radians(angle + sense * turn)
    x, y, _ = footwells.CASING
    return math.hypot(footwells.ARM * math.cos(at) - x, footwells.ARM * math.sin(at) - y)


def turn_by_search(drawn_out: float, angle: float = 60.0) -> float:
    """Turn [deg] at which the run has grown by so much [mm], up to the dead centre."""
    x, y, _ = footwells.CASING
    dead = math.degrees(math.atan2(y, x)) + 180.0 - angle
    return float(brentq(lambda t: run_at(t, angle) - run_at(0.0, angle) - drawn_out, 0.0, dead, xtol=1e-13))


def crank(rig: Linkage) -> CrankPedal:
    line = solve(rig).pedal_line
    assert isinstance(line, CrankPedal)
    return line


@pytest.mark.parametrize("angle", [35.0, 60.0, 90.0, 120.0])
@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
def test_pad_travel_is_the_arc_at_which_the_run_has_grown_by_cable_and_free_play(angle: float, share: float) -> None:
    run = solve(footwells.quadrant(angle)).at_fraction(share)
    assert run.pedal is not None
    wanted = footwells.PAD * math.radians(turn_by_search(share * CABLE + 1.0, angle))
    assert run.pedal[0] == pytest.approx(wanted, rel=0, abs=1e-8)


def test_the_first_of_a_right_angle_by_hand() -> None:
    # arm of 80 upright at the pivot, casing 150 ahead on its level: the run is 150 and pulls square to the arm, so
    # the ratio there is 200 / 80; half a turn of 90 degrees later arm and run are in line, the run 230 mm by
    # Pythagoras at the pivot's level: sqrt(150^2 + 80^2) + 80
    rig = footwells.quadrant(90.0, free_play=0.0)
    assert rig.pedal is not None
    rig = dataclasses.replace(rig, pedal=dataclasses.replace(rig.pedal, casing_end=(150.0, 80.0, 0.0)))
    line = crank(rig)
    assert line.rate(0.0) == pytest.approx(2.5, rel=1e-12)
    most = math.hypot(150.0, 80.0) + 80.0 - 150.0
    assert line.turn(most - 1e-3) < math.pi
    assert np.isnan(line.turn(most + 1e-3))
    assert np.isnan(line.pad(most + 1e-3))
    assert np.isnan(line.rate(most + 1e-3))


def test_an_arm_by_its_pin_is_the_same_arm() -> None:
    by_angle = footwells.quadrant(50.0)
    assert by_angle.pedal is not None
    at = math.radians(50.0)
    pinned = {
        **by_angle.pedal.arm,
        "cable": Arm("cable", pin=(footwells.ARM * math.cos(at), footwells.ARM * math.sin(at), 0.0)),
    }
    by_pin = dataclasses.replace(by_angle, pedal=dataclasses.replace(by_angle.pedal, arm=pinned))
    one, other = solve(by_angle).pedal, solve(by_pin).pedal
    assert one is not None
    assert other == pytest.approx(one, rel=0, abs=1e-9)


def test_a_mirrored_pedal_travels_the_same() -> None:
    # the side view from the other side of the car: x reversed, the foot turns the pedal cw
    rig = footwells.quadrant(50.0)
    assert rig.pedal is not None
    mirrored = Pedal(
        pivot=(0.0, 0.0, 0.0), opens="cw", casing_end=(-150.0, 70.0, 0.0),
        arm={"pad": Arm("pad", 200.0, -80.0), "cable": Arm("cable", 80.0, 130.0)},
    )  # fmt: skip
    one, other = solve(rig).pedal, solve(dataclasses.replace(rig, pedal=mirrored)).pedal
    assert one is not None
    assert other == pytest.approx(one, rel=0, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.floats(28.0, 140.0), st.floats(0.0, 1.0), st.floats(0.0, 3.0))  # the casing end lies at 25 degrees
def test_what_moved_comes_back_and_the_ratio_is_the_slope(angle: float, share: float, slack: float) -> None:
    line = crank(footwells.quadrant(angle, free_play=slack))
    x, y, _ = footwells.CASING
    reach = math.hypot(x, y) + footwells.ARM - run_at(0.0, angle)
    moved = share * min(CABLE, 0.95 * reach - slack)
    if moved < 0.0:
        return
    pad = float(line.pad(moved))
    assert float(line.moved_at(pad)) == pytest.approx(moved, rel=0, abs=1e-8)
    step = 1e-4
    slope = (float(line.pad(moved + step)) - float(line.pad(moved))) / step
    assert float(line.rate(moved + 0.5 * step)) == pytest.approx(slope, rel=1e-5)


def test_many_pedals_at_once_are_each_one_alone() -> None:
    rig = footwells.quadrant()
    train = solve(rig).train
    radius, height = np.array([70.0, 80.0, 95.0]), np.array([60.0, 70.0, 90.0])
    dims = {**dimensions(rig), "pedal.arm.cable.radius": radius, "pedal.casing_end.y": height}
    many = pedal_line(dataclasses.replace(train, dims=dims), 0.0)
    assert isinstance(many, CrankPedal)
    for i in range(3):
        alone = crank(
            rig.replace("pedal.arm.cable.radius", float(radius[i])).replace("pedal.casing_end.y", float(height[i]))
        )
        assert many.pad(CABLE)[i] == pytest.approx(float(alone.pad(CABLE)), rel=0, abs=1e-10)
        assert many.rate(CABLE)[i] == pytest.approx(float(alone.rate(CABLE)), rel=1e-10)


def test_a_pedal_pressed_the_wrong_way_does_not_pull() -> None:
    rig = footwells.quadrant()
    assert rig.pedal is not None
    assert crank(rig).pulls
    wrong = dataclasses.replace(rig, pedal=dataclasses.replace(rig.pedal, opens="cw"))
    line = crank(wrong)
    assert not line.pulls
    assert np.isnan(line.pad(10.0))


def test_a_pad_that_never_gets_to_wide_open_has_no_travel_and_no_force_to_tell() -> None:
    run = solve(footwells.quadrant(175.0))  # 30 degrees to its dead centre, for 42.9 mm of cable
    assert run.pedal is None
    assert forces.pedal_force(run) == (None, None)
    assert "pedal [mm]" not in run.columns()


def test_a_pedal_that_is_the_driver_moves_by_its_radius() -> None:
    run = solve(footwells.rods())
    assert isinstance(run.pedal_line, DriverPedal)
    assert run.pedal is not None
    assert run.moved is not None
    assert run.pedal == pytest.approx(180.0 * np.abs(np.radians(run.turn - run.turn[0])), rel=0, abs=1e-10)
    assert run.pedal[0] == 0.0
    assert run.pedal[-1] > 0.0
    half = run.at(run.turn_at_moved(0.5 * run.moved[-1]))
    assert half.fraction[0] == pytest.approx(0.5, rel=0, abs=1e-12)


def test_stop_and_floor_of_a_driver_are_told_from_the_drawn_position() -> None:
    # a closing stop two degrees above idle: the pedal rests so much further down, with so much less to go
    rig = footwells.rods(stop=20.0, floor=25.0)
    rest = 2.0
    lifted = rig.replace("shaft.one.plate_angle.idle", 8.0)
    from linkage.parts import Stop

    lifted = dataclasses.replace(lifted, stop={"rest": Stop("rest", "pedal", "closing", turn=-rest)})
    for case, less in ((rig, 0.0), (lifted, rest)):
        line = solve(case).pedal_line
        assert isinstance(line, DriverPedal)
        assert line.stop == pytest.approx(180.0 * math.radians(20.0 - less), abs=1e-9)
        assert line.room == pytest.approx(180.0 * math.radians(25.0 - less), abs=1e-9)


def test_pedals_that_have_nothing_to_pull_have_no_line() -> None:
    assert solve(dataclasses.replace(footwells.rods(), pedal=Pedal(2.0))).pedal_line is None
    assert solve(dataclasses.replace(footwells.rods(), pedal=None)).pedal is None
    by_ratio = solve(dataclasses.replace(footwells.quadrant(), pedal=Pedal(2.0, 120.0))).pedal_line
    assert isinstance(by_ratio, RatioPedal)
    assert (by_ratio.room, by_ratio.moved_at(by_ratio.pad(7.0))) == (120.0, pytest.approx(7.0))


def test_work_of_the_foot_is_work_of_the_cable_and_of_the_spring() -> None:
    # without friction: integral of pad force over pad travel = of tension over cable = energy of the torsion spring
    rig = footwells.quadrant(45.0, free_play=0.0)
    assert rig.cable is not None
    run = solve(dataclasses.replace(rig, cable=dataclasses.replace(rig.cable, efficiency=1.0)))
    line = run.pedal_line
    assert isinstance(line, CrankPedal)
    energy = 200.0 * OPENED + 0.5 * 3.0 * 80.0 * OPENED  # preload, and rate per degree, over 80 degrees

    def pad_force(pad: float) -> float:
        at = run.at(run.turn_at_moved(line.moved_at(pad)))
        down, _ = forces.pedal_force(at)
        assert down is not None
        return float(down[0])

    def tension(cable: float) -> float:
        pull, _ = forces.cable_tension(run.at(run.turn_at_moved(cable)))
        assert pull is not None
        return float(pull[0])

    end = footwells.PAD * math.radians(turn_by_search(CABLE, 45.0))
    foot, _ = quad(pad_force, 0.0, end, epsabs=1e-6, epsrel=1e-9)
    cable, _ = quad(tension, 0.0, CABLE, epsabs=1e-6, epsrel=1e-9)
    assert cable == pytest.approx(energy, rel=1e-8)
    assert foot == pytest.approx(energy, rel=1e-8)


def test_work_of_the_foot_on_push_rods_is_what_the_springs_take_up() -> None:
    run = solve(footwells.rods())
    assert run.moved is not None
    turned = float(run.moved[-1])
    energy = 200.0 * OPENED + 0.5 * 3.0 * 80.0 * OPENED + 500.0 * turned

    def pad_force(pad: float) -> float:
        down, _ = forces.pedal_force(run.at(run.turn_at_moved(pad / 180.0)))
        assert down is not None
        return float(down[0])

    foot, _ = quad(pad_force, 0.0, 180.0 * turned, epsabs=1e-6, epsrel=1e-9)
    assert foot == pytest.approx(energy, rel=1e-8)


def test_the_force_at_the_pad_by_hand() -> None:
    # preload 200 N.mm on a quadrant of 30: 200 / 30 N of cable at idle; the casing lets 0.8 of the foot's pull through.
    # the arm stands upright, the casing end 150 ahead on the level of its pin: 80 mm of moment, a pad arm of 200
    rig = footwells.quadrant(90.0, free_play=0.0)
    assert rig.pedal is not None
    rig = dataclasses.replace(rig, pedal=dataclasses.replace(rig.pedal, casing_end=(150.0, 80.0, 0.0)))
    down, back = forces.pedal_force(solve(rig).at_fraction(0.0))
    assert down is not None
    assert back is not None
    assert down[0] == pytest.approx(200.0 / 30.0 / 0.8 * 80.0 / 200.0, rel=1e-9)
    assert back[0] == pytest.approx(200.0 / 30.0 * 0.8 * 80.0 / 200.0, rel=1e-9)


def test_the_force_of_push_rods_by_moments_about_each_pivot() -> None:
    # the rod as a two-force member: its force on the shaft's arm holds the spring, on the pedal's arm the foot
    rig = footwells.rods()
    down, _ = forces.pedal_force(solve(rig).at_fraction(0.0))
    a = (-400.0 + 60.0 * math.cos(math.radians(95.0)), -100.0 + 60.0 * math.sin(math.radians(95.0)))
    b = (28.0 * math.cos(math.radians(130.0)), 28.0 * math.sin(math.radians(130.0)))
    size = math.dist(a, b)
    way = ((b[0] - a[0]) / size, (b[1] - a[1]) / size)
    about_shaft = b[0] * way[1] - b[1] * way[0]
    about_pedal = (a[0] + 400.0) * way[1] - (a[1] + 100.0) * way[0]
    rod = 200.0 / abs(about_shaft)
    assert down is not None
    assert down[0] == pytest.approx((rod * abs(about_pedal) + 500.0) / 180.0, rel=1e-9)
