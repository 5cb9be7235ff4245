"""Extremes: the highest of the curve, against curves whose highest point is known."""

import numpy as np
import pytest
import trains

from linkage import solve
from linkage.answers import extremes


@pytest.fixture
def run():
    return solve(trains.crossed_pair(), positions=3)


def test_a_parabola_is_found_between_the_samples(run):
    top = 31.2345678
    found = extremes.highest(run, lambda at: 5.0 - (at.turn - top) ** 2)
    assert found.value == pytest.approx(5.0, abs=1e-9)
    assert found.turn == pytest.approx(top, abs=1e-4)
    assert found.fraction == pytest.approx(found.turn / run.ends[1], abs=1e-12)


def test_the_higher_of_two_nearly_equal_humps_wins(run):
    # humps at 20 and 60 degrees that differ by less than the grid's own error
    def curve(at):
        left = 1.0 - 0.01 * (at.turn - 20.07) ** 2
        right = 1.00001 - 0.01 * (at.turn - 60.31) ** 2
        return np.maximum(left, right)

    found = extremes.highest(run, curve)
    assert found.turn == pytest.approx(60.31, abs=1e-4)
    assert found.value == pytest.approx(1.00001, abs=1e-9)


def test_an_end_may_be_the_highest_and_lowest_is_its_mirror(run):
    first, last = run.ends
    assert extremes.highest(run, lambda at: at.turn).turn == last
    assert extremes.lowest(run, lambda at: at.turn) == (first, first, 0.0)


def test_a_part_of_the_travel_can_be_asked_for(run):
    found = extremes.highest(run, lambda at: -((at.turn - 5.0) ** 2), between=(10.0, 20.0))
    assert (found.turn, found.value) == (10.0, -25.0)


def test_a_curve_without_values_has_no_highest(run):
    assert np.isnan(extremes.highest(run, lambda at: np.full_like(at.turn, np.nan)).value)
