"""The cable's report: pull direction and its mends, dead centre, angle and swing by plain trigonometry."""

import math

import numpy as np
import pytest
import trains

from linkage import solve
from linkage.answers import check
from linkage.answers.cable import cable_report
from linkage.parts import Cable, dimensions
from linkage.search.figures import REASONS, figures


def one_lever(start: float, casing=(-200.0, 0.0, 0.0), opens="ccw", axis=None):
    return trains.rig(
        trains.shaft("a", (0.0, 0.0, 0.0), opens, trains.arms(pull=(30.0, start)), idle=12.0, wide_open=72.0),
        cable=Cable(pulls="a.pull", casing_end=casing, casing_axis=axis),
    )


def test_which_way_it_pulls():
    # an upright lever pulled to the left turns ccw
    report = cable_report(solve(one_lever(60.0)))
    assert (report.turns, report.opens, report.mends) == ("ccw", True, ())
    shut = check(one_lever(60.0, opens="cw"))
    assert shut.cable.opens is False
    assert shut.verdict == "fail"
    assert {c.name: c.verdict for c in shut.checks}["pull_direction"] == "fail"


def test_every_mend_that_it_names_mends():
    """Arm on the other side, casing end on the other side: applied as told, the pull opens."""
    rig = one_lever(60.0, opens="cw")
    first, second, third = cable_report(solve(rig)).mends
    assert "angle = 240" in first
    assert cable_report(solve(rig.replace("shaft.a.arm.pull.angle", 240.0))).opens
    assert "x 200.00 mm, y -0.00 mm" in second or "x 200.00 mm, y 0.00 mm" in second
    assert cable_report(solve(rig.replace("cable.casing_end", (200.0, 0.0)))).opens
    assert "shaft" in third


def test_a_link_moved_across_its_shaft_reverses_that_shaft():
    rig = trains.bell_crank()
    away = solve(rig).train.shaft_opens["left"]
    angle = rig.shaft["left"].arm["drive"].angle
    assert angle is not None
    assert solve(rig.replace("shaft.left.arm.drive.angle", angle + 180.0)).train.shaft_opens["left"] == -away


def test_a_quadrant_led_on_from_the_other_side():
    rig = trains.series().replace("cable.pull_turns", "cw")
    report = cable_report(solve(rig))
    assert not report.opens
    assert 'pull_turns = "ccw"' in report.mends[0]
    assert report.least_angle is None
    assert report.swing is None


def test_dead_centre_inside_the_travel():
    # from 150 degrees the lever passes 180, in line with the cable, on its way to 210
    report = cable_report(solve(one_lever(150.0)))
    assert report.dead_centre
    assert report.least_angle.value == pytest.approx(0.0, abs=1e-6)
    assert not cable_report(solve(one_lever(60.0))).dead_centre


def test_angle_and_swing_by_the_cosine_rule():
    """Casing end 200 mm from the axis, lever 30 mm from 60 to 120 degrees: triangle of 200, 30 and the run."""
    run = solve(one_lever(60.0), positions=5)
    report = cable_report(run)

    def triangle(lever: float) -> tuple[float, float, float]:
        at_axis = math.radians(180.0 - lever)
        side = math.sqrt(200.0**2 + 30.0**2 - 2.0 * 200.0 * 30.0 * math.cos(at_axis))
        at_pin = math.degrees(math.acos((30.0**2 + side**2 - 200.0**2) / (2.0 * 30.0 * side)))
        rise = math.degrees(math.asin(30.0 * math.sin(at_axis) / side))
        return side, at_pin, rise

    (run0, pin0, rise0), (run1, pin1, _) = triangle(60.0), triangle(120.0)
    assert run.cable[-1] == pytest.approx(run0 - run1, abs=1e-9)
    assert report.needed == pytest.approx(run0 - run1, abs=1e-9)
    # sine of the pin angle: what matters is how far from in line, on either side of square
    assert report.least_angle.value == pytest.approx(min(90 - abs(90 - pin0), 90 - abs(90 - pin1)), abs=1e-6)
    highest = math.degrees(math.asin(30.0 / 200.0))  # where the run touches the pin's circle
    assert 90.0 < 90.0 + highest < 120.0
    assert report.swing == pytest.approx(0.5 * (highest - min(rise0, triangle(120.0)[2])), abs=1e-9)
    level = cable_report(solve(one_lever(60.0, axis=(1.0, 0.0, 0.0))))
    assert level.off_axis
    assert level.swing == pytest.approx(highest, abs=1e-9)


def test_travel_and_pedal_against_what_there_is():
    rig = one_lever(60.0).replace("cable.free_play", 1.0)
    needed = cable_report(solve(rig)).needed
    names = {c.name: c for c in check(rig.replace("cable.travel", needed - 0.01)).checks}
    assert names["cable_travel"].verdict == "fail"
    assert names["cable_travel"].value == pytest.approx(float(solve(rig).cable[-1]) + 1.0, abs=1e-9)
    assert {c.name: c for c in check(rig.replace("cable.travel", needed)).checks}["cable_travel"].verdict == "pass"


def test_a_casing_end_near_the_pivot_is_not_sent_across_it():
    """Half a turn on about the pivot it would be as near: the mend says how far out it is to go."""
    rig = one_lever(60.0, casing=(-3.0, 0.0, 0.0), opens="cw")
    _, second, _ = cable_report(solve(rig)).mends
    assert second == "or bring the casing end in from the other side, outside the 30.00 mm of the arm"
    assert cable_report(solve(rig.replace("cable.casing_end", (200.0, 0.0)))).opens


def test_a_pull_in_line_with_its_arm_turns_neither_way():
    answer = check(one_lever(60.0, casing=(-100.0, -100.0 * math.sqrt(3.0), 0.0)))
    assert (answer.cable.turns, answer.cable.opens, answer.cable.mends) == ("", False, ())
    found = {c.name: c for c in answer.checks}
    assert "turns it neither way: re-clock the arm, or move the casing end" in found["pull_direction"].says
    assert found["cable_dead_centre"].verdict == "fail"


@pytest.mark.parametrize(("axis", "verdict"), [((1.0, 0.0, 0.0), "pass"), ((0.0, 1.0, 0.0), "caution"),
                                               ((-1.0, 0.0, 0.0), "fail")])  # fmt: skip
def test_a_casing_that_points_away_from_its_pin_fails(axis, verdict):
    """From (-200, 0) the run to the lever rises by no more than asin(30 / 200) = 8.6 degrees."""
    rig = one_lever(60.0, axis=axis)
    found = {c.name: c for c in check(rig).checks}["cable_swing"]
    assert found.verdict == verdict
    assert ("give casing_axis the way in which the cable leaves" in found.says) == (verdict == "fail")
    (reason,) = figures(rig, dimensions(rig), 1)["reason"]
    assert (reason == 1 + REASONS.index("cable_swing")) == (verdict == "fail")


def test_no_cable_no_report():
    assert cable_report(solve(trains.crossed_pair())) is None
    assert np.all(np.isfinite(solve(trains.crossed_pair()).fraction))
