"""Progression, against closed forms: a quadrant is linear, a single lever follows the cosine rule."""

import math

import numpy as np
import pytest
import trains

from linkage import solve
from linkage.answers.progression import TABLE, progression
from linkage.parts import Cable


def lever(start: float, sweep: float = 78.0):
    """One shaft whose own arm is pulled by a cable so long that the pull is as good as straight."""
    return trains.rig(
        trains.shaft("a", (0.0, 0.0, 0.0), "cw", trains.arms(pull=(30.0, start)), idle=12.0, wide_open=12.0 + sweep),
        cable=Cable(pulls="a.pull", casing_end=(1e5, 0.0, 0.0)),
    )


@pytest.mark.parametrize(("start", "end_gain", "half"), [(110.0, 3.60, 34.66), (129.0, 2.46, 39.0)])
def test_single_lever_by_the_cosine_rule(start, end_gain, half):
    """A lever of 30 mm that starts ``start`` degrees from the line of a straight pull and turns 78: the
    stroke is 30 (cos(start - 78) - cos(start)), the gain 57.3 / (30 sin(angle)) degrees per mm."""
    run = solve(lever(start))
    found = progression(run)
    end = math.radians(start - 78.0)
    stroke = 30.0 * (math.cos(end) - math.cos(math.radians(start)))
    # the pull leans by 30/1e5 rad at most: 3e-4 of everything
    assert run.cable[-1] == pytest.approx(stroke, rel=1e-3)
    assert found.gains[0] == pytest.approx(math.degrees(1.0) / (30.0 * math.sin(math.radians(start))), rel=1e-3)
    assert found.gains[2] == pytest.approx(math.degrees(1.0) / (30.0 * math.sin(end)), rel=1e-3)
    assert found.gains[2] == pytest.approx(end_gain, abs=0.005)
    assert found.ratio == pytest.approx(math.sin(math.radians(start)) / math.sin(end), rel=1e-3)
    middle = found.table[TABLE.index(0.5)].plate_angle - 12.0
    by_hand = start - math.degrees(math.acos(math.cos(math.radians(start)) + 0.5 * stroke / 30.0))
    assert middle == pytest.approx(by_hand, abs=0.02)
    assert middle == pytest.approx(half, abs=0.03)


def test_a_quadrant_is_linear():
    """78 degrees on a 30 mm quadrant take 30 x 78 pi/180 = 40.84 mm; the gain is 57.3/30 throughout."""
    rig = trains.rig(
        trains.shaft("a", (0.0, 0.0, 0.0), "ccw", {}, idle=12.0, wide_open=90.0),
        cable=Cable(quadrant="a", radius=30.0, pull_turns="ccw"),
    )
    run = solve(rig)
    found = progression(run)
    assert run.cable[-1] == pytest.approx(math.radians(78.0) * 30.0, abs=1e-9)
    assert found.ratio == pytest.approx(1.0, abs=1e-12)
    assert found.gains == pytest.approx((math.degrees(1.0) / 30.0,) * 3, abs=1e-9)
    assert [row.plate_angle for row in found.table] == pytest.approx([12.0 + 78.0 * f for f in TABLE], abs=1e-9)


@pytest.mark.parametrize("name", ["bell_crank", "series", "cross_tube", "skew"])
def test_gain_is_the_slope_of_the_curve(name):
    run = solve(trains.EXAMPLES[name](), positions=4001)
    shaft = next(iter(run.rig.shaft))
    slope = np.gradient(run.plate_angle[shaft], run.cable, edge_order=2)
    assert run.gain[shaft][1:-1] == pytest.approx(slope[1:-1], rel=1e-5)
    table = progression(run).table
    inside = np.interp(TABLE, run.fraction, run.plate_angle[shaft])
    assert [row.plate_angle for row in table] == pytest.approx(inside, abs=1e-4)


def test_without_a_cable_the_travel_counts_driver_turn():
    found = progression(solve(trains.crossed_pair()))
    assert found.per == "deg"
    assert found.gains == pytest.approx((1.0, 1.0, 1.0), abs=1e-12)
    assert found.table[0].open_area_fraction == pytest.approx(0.0, abs=1e-12)
    assert progression(solve(trains.crossed_pair().replace("shaft.a.bore", None))).table[0].open_area_fraction is None
