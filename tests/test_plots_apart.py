"""Mismatch over the travel, against the limits of its regions."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
import trains
from crossed import crossed_angle
from plot_words import curve, named, names, outside, overlaps, page
from scipy.optimize import brentq, minimize_scalar

from linkage import plots
from linkage.motion import Motion, solve
from linkage.parts import Limits
from linkage.plots import style


@pytest.fixture(scope="module")
def crossed() -> Motion:
    """Two shafts by one crossed link, no cable."""
    return solve(trains.crossed_pair())


def apart(turn: float) -> float:
    """Mismatch of the crossed pair for a driver turn [deg], by root finding."""
    return abs(crossed_angle(turn) - (12.0 + turn))


def test_the_curve_is_the_difference_of_the_plates(crossed: Motion) -> None:
    x, y = curve(plots.mismatch(crossed, page(), against="turn"), "mismatch.curve")
    for i in range(0, len(x), 37):
        assert y[i] == pytest.approx(apart(float(x[i])), abs=1e-9)


def test_the_largest_is_marked_where_it_is(crossed: Motion) -> None:
    ax = plots.mismatch(crossed, page(), against="turn")
    found = minimize_scalar(lambda t: -apart(t), bounds=(5.0, 70.0), method="bounded", options={"xatol": 1e-7})
    (x,), (y,) = curve(ax, "mismatch.largest")
    assert x == pytest.approx(found.x, abs=1e-3)  # flat at its top
    assert y == pytest.approx(-found.fun, abs=1e-8)
    assert named(ax, "mismatch.largest.says.body").get_text() == f"largest {y:.3f}°\nat idle 0.000°"


def test_the_limits_step_at_ten_degrees_of_opening_from_either_end(crossed: Motion) -> None:
    limits = Limits(mismatch_at_idle=0.2, mismatch_off_idle=0.5, mismatch=1.5, mismatch_at_wide_open=3.0)
    run = solve(dataclasses.replace(crossed.rig, limits=limits))
    ax = plots.mismatch(run, page(), against="turn")
    x, y = curve(ax, "mismatch.limits")
    assert x == pytest.approx([0.0, 10.0, 10.0, 68.0, 68.0, 78.0])
    assert y == pytest.approx([0.5, 0.5, 1.5, 1.5, 3.0, 3.0])
    said = {name: named(ax, name).get_text() for name in names(ax, "mismatch.limit.")}
    assert said == {
        "mismatch.limit.at_idle.body": "limit 0.2° at idle",
        "mismatch.limit.off_idle.body": "limit 0.5°",
        "mismatch.limit.middle.body": "limit 1.5°",
        "mismatch.limit.at_wide_open.body": "limit 3°",
    }


def test_a_limit_above_the_scale_is_told_as_such() -> None:
    even = trains.parallel_pair()
    run = solve(dataclasses.replace(even, limits=Limits(mismatch_at_wide_open=40.0)))
    ax = plots.mismatch(run, page())
    assert named(ax, "mismatch.limit.at_wide_open.body").get_text() == "limit 40°\nis off the scale"
    assert np.max(curve(ax, "mismatch.limits")[1]) <= ax.get_ylim()[1]


def test_a_short_opening_has_no_middle() -> None:
    base = trains.crossed_pair()
    angles = {name: dataclasses.replace(s.plate_angle, wide_open=30.0) for name, s in base.shaft.items()}
    short = {name: dataclasses.replace(s, plate_angle=angles[name]) for name, s in base.shaft.items()}
    run = solve(dataclasses.replace(base, shaft=short))
    opened = float(brentq(lambda t: crossed_angle(t) - 30.0, 1.0, 30.0))  # the second shaft meets its stop first
    x, y = curve(plots.mismatch(run, page(), against="turn"), "mismatch.limits")
    assert x == pytest.approx([0.0, 10.0, opened - 10.0, opened])
    assert len(y) == 4


def test_one_shaft_has_nothing_to_compare() -> None:
    run = solve(trains.rig(trains.shaft("only", (0.0, 0.0, 0.0), "ccw", {}), drive="only"))
    assert [text.get_text() for text in plots.mismatch(run, page()).texts] == ["one shaft: nothing to compare"]


@pytest.mark.parametrize("size", [(4.0, 3.2), (3.4, 1.9), (9.0, 6.0)])
@pytest.mark.parametrize("make", [trains.bell_crank, trains.hand_set, trains.cross_tube, trains.parallel_pair])
def test_no_words_lie_on_one_another_or_leave_the_page(make: object, size: tuple[float, float]) -> None:
    ax = plots.mismatch(solve(make()), page(size))  # type: ignore[operator]
    assert outside(style.figure_of(ax)) == []
    assert overlaps(style.figure_of(ax)) == []
    assert math.isfinite(ax.get_ylim()[1])
