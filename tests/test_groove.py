"""The groove of a snail: circles that it must be, the moment arm it must give back, the cusps it must own up to."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from test_snail_motion import FALLING, on_a_snail

from linkage.motion import assemble, solve
from linkage.motion.groove import Groove, Support, groove
from linkage.motion.monotone import curve
from linkage.parts import Linkage, dimensions

CENTRE, E1, E2 = (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)


def bare(sense: float, casing: tuple[float, float] | None) -> Groove:
    """A groove with a casing end, or with a cable that keeps its direction; its own moment arm does not matter."""
    away = math.inf if casing is None else math.hypot(*casing)
    bearing = math.pi if casing is None else math.atan2(casing[1], casing[0])
    return Groove(curve([0.0, 1.0], [1.0, 1.0]), sense, away, bearing, True, CENTRE, E1, E2)


def with_casing(rig: Linkage, x: float, y: float) -> Linkage:
    assert rig.cable is not None
    return dataclasses.replace(rig, cable=dataclasses.replace(rig.cable, casing_end=(x, y, 0.0)))


@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_a_circle_off_its_axis_pulled_from_afar(sense: float) -> None:
    """p = r + e cos(normal - e's direction): the envelope is the circle, its radius r everywhere."""
    found = bare(sense, None)
    r, e, at = 30.0, 9.0, 0.4  # the circle's centre, e from the axis at the angle 0.4, as drawn
    for turn in np.linspace(-1.0, 2.0, 13):
        normal = math.pi - sense * 0.5 * math.pi - turn - at  # seen from the driver, against the centre's direction
        line = Support(turn, r + e * math.cos(normal), e * math.sin(normal), -e * math.cos(normal))
        x, y = found.places(line)
        assert math.dist((x, y), (e * math.cos(at), e * math.sin(at))) == pytest.approx(r, abs=1e-12)
        assert found.radius(line) == pytest.approx(r, abs=1e-12)
        assert found.free_run(line) == math.inf


@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_a_circle_off_its_axis_pulled_from_near_by(sense: float) -> None:
    """The tangent from the casing end to the turned circle, by trigonometry; derivatives by difference."""
    casing, r, e, at = (-120.0, 70.0), 30.0, 9.0, 0.4

    def tangent(turn: float) -> tuple[float, float]:
        """Moment arm, and the free run."""
        centre = (e * math.cos(turn + at), e * math.sin(turn + at))
        out = (casing[0] - centre[0], casing[1] - centre[1])
        away = math.hypot(*out)
        angle = math.atan2(out[1], out[0]) - sense * math.acos(r / away)
        touch = (centre[0] + r * math.cos(angle), centre[1] + r * math.sin(angle))
        run = math.dist(casing, touch)
        way = ((casing[0] - touch[0]) / run, (casing[1] - touch[1]) / run)
        return sense * (touch[0] * way[1] - touch[1] * way[0]), run

    found, step = bare(sense, casing), 1e-3
    for turn in np.linspace(-1.0, 2.0, 13):
        arms = [tangent(turn + k * step)[0] for k in (-2, -1, 0, 1, 2)]
        first = (arms[0] - 8.0 * arms[1] + 8.0 * arms[3] - arms[4]) / (12.0 * step)
        second = (-arms[0] + 16.0 * arms[1] - 30.0 * arms[2] + 16.0 * arms[3] - arms[4]) / (12.0 * step * step)
        line = Support(turn, arms[2], first, second)
        x, y = found.places(line)
        assert math.dist((x, y), (e * math.cos(at), e * math.sin(at))) == pytest.approx(r, abs=1e-7)
        assert found.radius(line) == pytest.approx(r, abs=1e-6)
        assert found.free_run(line) == pytest.approx(tangent(turn)[1], abs=1e-7)


@pytest.mark.parametrize("casing", [None, (-150.0, 60.0), (-70.0, 20.0)])
@pytest.mark.parametrize("pulls", ["ccw", "cw"])
def test_the_groove_gives_the_moment_arm_back(pulls: str, casing: tuple[float, float] | None) -> None:
    """Of a convex groove the cable's line is the tangent: no point of it lies beyond, and it is the moment arm away."""
    rig = on_a_snail((0.0, 40.0), (26.0, 34.0), (52.0, 28.0), (78.0, 22.0), pulls=pulls)
    rig = rig if casing is None else with_casing(rig, *casing)
    run = solve(rig)
    found = groove(run.train)
    assert found is not None
    assert found.least_radius(0.0, math.radians(78.0)) > 0.0
    points = found.bottom(run.ends, 400)[:, :2]
    for turn in np.radians(np.linspace(0.5, 77.5, 23)):
        arm = float(found.arm.value(turn))
        leaves, way = found.leaves(turn)
        c, s = math.cos(turn), math.sin(turn)
        turned = points @ np.array([[c, s], [-s, c]])
        moment = (turned[:, 0] * way[1] - turned[:, 1] * way[0]) * found.sense
        assert np.max(moment) == pytest.approx(arm, abs=1e-3)
        assert found.sense * (leaves[0] * way[1] - leaves[1] * way[0]) == pytest.approx(arm, abs=1e-9)
        if casing is not None:
            to_casing = np.array(casing) - leaves[:2]
            assert np.hypot(*to_casing) == pytest.approx(float(found.free_run(found.support(turn))), abs=1e-9)
            np.testing.assert_allclose(to_casing / np.hypot(*to_casing), way[:2], rtol=0, atol=1e-12)


def test_the_cable_paid_out_and_the_wrap_left_make_a_whole() -> None:
    """Free run and wrapped length: what the groove's own length loses, the run and the travel gain."""
    rig = with_casing(on_a_snail((0.0, 40.0), (26.0, 34.0), (52.0, 28.0), (78.0, 22.0)), -150.0, 60.0)
    run = solve(rig, positions=5)
    found = groove(run.train)
    assert found is not None
    assert run.cable is not None

    def chords(turn: float, count: int) -> float:
        x, y = found.places(found.along(0.0, turn, count))
        return float(np.sum(np.hypot(np.diff(x), np.diff(y))))

    for turn, taken in zip(np.radians(run.turn), run.cable, strict=True):
        rough, fine = chords(turn, 201), chords(turn, 401)
        unwrapped = fine + (fine - rough) / 3.0  # an arc is longer than its chords by the square of their length
        change = float(found.free_run(found.support(turn)) - found.free_run(found.support(0.0)))
        # the cable's length from a mark on the groove to the casing end grows shorter by the travel
        assert taken == pytest.approx(unwrapped - change, abs=1e-6)


def test_radius_on_both_sides_of_a_point() -> None:
    """p = 30 - 8 t to the point, 22 - 20 (t - 1) beyond it would be a corner; the curve has one slope, two radii."""
    found = groove(assemble(on_a_snail((0.0, 40.0), (30.0, 36.0), (60.0, 26.0), (78.0, 22.0))))
    assert found is not None
    before, after = found.pieces[0], found.pieces[1]
    one, other = (float(found.radius(Support(*(row[i] for row in at)))) for at, i in ((before, -1), (after, 0)))
    same = [float(row[i]) for at, i in ((before, -1), (after, 0)) for row in found.places(Support(*at))]
    assert same[:2] == pytest.approx(same[2:], abs=1e-9)
    assert one != pytest.approx(other, abs=1.0)
    assert found.least_radius(0.0, 1.0) <= min(one, other)


def test_a_cusp_is_found_where_the_moment_arm_bends_too_sharply() -> None:
    """By hand: over the middle piece p'' at its ends is +-6 (chord - slope)/h, far beyond the moment arm."""
    found = groove(assemble(on_a_snail((0.0, 40.0), (30.0, 39.0), (40.0, 31.0), (78.0, 30.0))))
    assert found is not None
    assert found.least_radius(0.0, 1.0) < 0.0


def test_a_slope_that_breaks_off_at_the_end_is_a_loop_only_where_the_travel_goes_there() -> None:
    found = groove(assemble(on_a_snail((0.0, 40.0), (39.0, 31.0), (78.0, 22.0))))
    assert found is not None
    low, high = 0.0, math.radians(78.0)
    assert found.least_radius(low, high) == pytest.approx(22.0, abs=1e-9)  # a spiral: p'' is nought
    assert found.least_radius(low, high + 0.1) == pytest.approx(22.0, abs=1e-9)  # falling and then level: a flat
    assert found.least_radius(low - 0.1, high) == -math.inf  # level and then falling: a loop
    assert found.lacks(low - 0.1, high + 0.2) == pytest.approx((0.1, 0.2))
    assert found.lacks(high + 0.2, low - 0.1) == pytest.approx((0.2, 0.1))


def test_a_casing_end_within_the_moment_arm() -> None:
    found = groove(assemble(with_casing(on_a_snail(*FALLING), -20.0, 10.0)))
    assert found is not None
    assert not found.clear
    assert math.isnan(found.least_radius(0.0, 1.0))


def test_many_grooves_at_once_are_each_alone() -> None:
    rig = with_casing(on_a_snail(*FALLING), -150.0, 60.0)
    arms = np.linspace(30.0, 35.9, 7)
    many = groove(assemble(rig, {**dimensions(rig), "cable.profile.3.moment_arm": arms}))
    assert many is not None
    together = many.least_radius(0.0, math.radians(78.0)), many.least_run()
    for i, arm in enumerate(arms):
        alone = groove(assemble(rig.replace("cable.profile.3.moment_arm", float(arm))))
        assert alone is not None
        assert together[0][i] == pytest.approx(alone.least_radius(0.0, math.radians(78.0)), abs=1e-9)
        assert together[1][i] == pytest.approx(alone.least_run(), abs=1e-9)
