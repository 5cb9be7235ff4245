"""Mismatch by region, against dense sampling and the crossed pair's hand arithmetic."""

import dataclasses
import math

import numpy as np
import pytest
import trains

from linkage import solve
from linkage.answers.mismatch import area_spread, mismatch, regions, spread


@pytest.mark.parametrize("name", [n for n in trains.EXAMPLES if n not in ("tilted",)])
def test_regions_against_ten_thousand_positions(name):
    run = solve(trains.EXAMPLES[name](), positions=3)
    found = mismatch(run)
    dense = solve(run.rig, positions=10_001)
    angle = next(iter(dense.plate_angle.values()))
    apart, opened, left = spread(dense), angle - angle[0], angle[-1] - angle
    # where a region's highest stands at its border, samples 0.008 degrees apart miss it by 0.008 x the slope,
    # which is below 0.25; inside a region they miss by curvature x step^2, below 1e-5
    assert found.off_idle.value == pytest.approx(apart[opened <= 10.0].max(), abs=2e-3)
    assert found.off_idle.value >= apart[opened <= 10.0].max() - 1e-9
    assert found.last.value == pytest.approx(apart[left <= 10.0].max(), abs=2e-3)
    middle = apart[(opened >= 10.0) & (left >= 10.0)].max()
    assert found.middle is not None
    assert found.middle.value == pytest.approx(middle, abs=2e-3)
    assert found.middle.value >= middle - 1e-9
    assert found.largest.value == pytest.approx(apart.max(), abs=1e-5)
    assert found.at_idle == pytest.approx(apart[0], abs=1e-9)
    assert found.at_wide_open == pytest.approx(apart[-1], abs=1e-9)


def test_regions_end_exactly_at_ten_degrees_of_the_first_shaft():
    run = solve(trains.bell_crank(), positions=3)
    early, late = regions(run)
    opened = run.at([*run.ends, early, late]).plate_angle["left"]
    assert opened[2] - opened[0] == pytest.approx(10.0, abs=1e-9)
    assert opened[1] - opened[3] == pytest.approx(10.0, abs=1e-9)


def test_crossed_pair_by_hand():
    """Levers at 51 and -51 degrees, 30 mm, centres 250 mm: where lever A stands square up, the mirrored
    lever B would need a link of sqrt(250^2 + 60^2), longer than there is; B gives way by 5.42 degrees."""
    run = solve(trains.crossed_pair(), positions=3)
    link = math.hypot(250.0, 60.0 * math.sin(math.radians(51.0)))
    # by bisection on |P - Q| = link with A upright at (0, 30) and B at -90 - x
    low, high = 0.0, 10.0
    for _ in range(60):
        x = 0.5 * (low + high)
        b = math.radians(-90.0 - x)
        far = math.hypot(250.0 + 30.0 * math.cos(b), 30.0 * math.sin(b) - 30.0)
        low, high = (x, high) if far > link else (low, x)
    upright = run.at(39.0).plate_angle
    assert upright["b"][0] - upright["a"][0] == pytest.approx(x, abs=1e-9)
    assert x == pytest.approx(5.42, abs=0.005)
    found = mismatch(run)
    assert found.largest.value == pytest.approx(5.45, abs=0.005)
    assert found.at_idle == pytest.approx(0.0, abs=1e-9)
    assert found.at_wide_open == pytest.approx(0.0, abs=1e-9)
    assert found.differences["a"] == 0.0
    assert found.differences["b"] == pytest.approx(found.largest.value, abs=1e-9)


def test_rms_against_the_trapezium_rule_over_the_travel():
    run = solve(trains.bell_crank(), positions=20_001)
    square = np.trapezoid(spread(run) ** 2, run.fraction)
    assert mismatch(run).rms == pytest.approx(math.sqrt(square), abs=1e-6)


def test_one_shaft_has_no_mismatch_and_a_short_travel_no_middle():
    one = solve(trains.tilted(), positions=3)
    assert mismatch(one).largest.value == 0.0
    pair = trains.parallel_pair()
    plates = dataclasses.replace(pair.shaft["a"].plate_angle, wide_open=27.0)
    short = pair.replace("shaft.a.plate_angle.wide_open", plates.wide_open)
    assert mismatch(solve(short)).middle is None


def test_idle_air_in_percent_is_the_open_area():
    rig = trains.hand_set()
    for name in rig.shaft:
        rig = rig.replace(f"shaft.{name}.plate_angle.shut", 8.0)
    run = solve(rig, positions=3)
    psi = [math.radians(a[0]) for a in run.plate_angle.values()]
    shut = math.cos(math.radians(8.0))
    area = [1.0 - math.cos(p) / shut for p in psi]  # no shaft diameter in this train: the bare ellipse
    hand = 100.0 * (max(area) - min(area)) / (0.5 * sum(area))
    assert mismatch(run).flow_at_idle_percent == pytest.approx(hand, abs=1e-8)
    known = area_spread(run)
    assert known is not None
    assert known[0] == pytest.approx(hand, abs=1e-8)


def test_a_shaft_without_a_bore_has_no_air():
    rig = trains.bell_crank().replace("shaft.left.bore", None)
    found = mismatch(solve(rig))
    assert found.flow_at_idle_percent is None
    assert found.open_area_percent is None
