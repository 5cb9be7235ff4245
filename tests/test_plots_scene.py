"""What a drawing shows: plates in their bores, cables to their casings."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
import trains
from numpy.typing import NDArray

from linkage.motion import solve
from linkage.parts import Cable, Shaft
from linkage.plots import scene as scenes
from linkage.plots import views


def turning(one: NDArray[np.float64], two: NDArray[np.float64]) -> float:
    """Turning sense of two flat vectors, ccw positive: the third component of their product."""
    return float(one[0] * two[1] - one[1] * two[0])


@pytest.mark.parametrize(("name", "sign"), [("a", 1.0), ("b", -1.0)])
def test_a_plate_turns_the_way_its_shaft_opens(name: str, sign: float) -> None:
    scene = scenes.scene_of(solve(trains.crossed_pair()), (0.0, 1.0), views.view_named("front"))
    shaft = scene.run.rig.shaft[name]
    for index in (0, 1):
        ends = scenes.plate_ends(scene, shaft, 45.0, index)
        angle = math.radians(float(scene.still.plate_angle[name][index]))
        half = 22.5 / math.cos(math.radians(12.0))  # it meets the walls at its shut angle
        way = np.array([math.cos(angle), sign * math.sin(angle)])
        middle = np.array(shaft.pivot[:2])
        # the ends may be listed either way round
        assert np.mean(ends, axis=0) == pytest.approx(middle)
        assert abs(float((ends[1] - middle) @ way)) == pytest.approx(half)
        assert turning(ends[1] - middle, way) == pytest.approx(0.0, abs=1e-9)


def test_a_plate_at_its_shut_angle_reaches_wall_to_wall() -> None:
    scene = scenes.scene_of(solve(trains.crossed_pair()), (0.0,), views.view_named("front"))
    ends = scenes.plate_ends(scene, scene.run.rig.shaft["a"], 45.0, 0)
    assert sorted(ends[:, 0]) == pytest.approx([-22.5, 22.5])


def quadrant_rig(pull_turns: str, casing: tuple[float, float, float] | None) -> scenes.Scene:
    """One shaft with a quadrant of 28 mm, seen from the front."""
    only = Shaft("only", (0.0, 0.0, 0.0), opens="ccw" if pull_turns == "ccw" else "cw")
    cable = Cable(quadrant="only", radius=28.0, pull_turns=only.opens, casing_end=casing)
    return scenes.scene_of(solve(trains.rig(only, cable=cable)), (0.0, 1.0), views.view_named("front"))


@pytest.mark.parametrize("casing", [None, (-60.0, 10.0, 0.0), (20.0, -50.0, 0.0)])
@pytest.mark.parametrize(("pull_turns", "sign"), [("ccw", 1.0), ("cw", -1.0)])
def test_a_cable_leaves_its_quadrant_so_that_its_pull_turns_the_right_way(
    pull_turns: str, sign: float, casing: tuple[float, float, float] | None
) -> None:
    leaves, end, _ = scenes.quadrant_run(quadrant_rig(pull_turns, casing))
    along = (end - leaves) / np.hypot(*(end - leaves))
    assert turning(leaves, along) == pytest.approx(sign * 28.0)  # moment arm about the shaft, ccw


def test_a_far_casing_end_is_cut_short_on_its_own_line() -> None:
    base = trains.bell_crank()
    assert base.cable is not None
    far = dataclasses.replace(base, cable=dataclasses.replace(base.cable, casing_end=(-3000.0, 900.0, 0.0)))
    scene = scenes.scene_of(solve(far), (1.0,), views.view_named("front"))
    start = scene.pin["centre.cable"][-1]
    end, cut = scenes.shortened(scene, start, (-3000.0, 900.0, 0.0))
    assert cut
    whole = np.array([-3000.0, 900.0]) - start
    assert turning(end - start, whole) == pytest.approx(0.0, abs=1e-6)
    assert np.hypot(*(end - start)) < 0.2 * np.hypot(*whole)


def test_a_near_casing_end_stays_where_it_is() -> None:
    scene = scenes.scene_of(solve(trains.bell_crank()), (1.0,), views.view_named("front"))
    end, cut = scenes.shortened(scene, scene.pin["centre.cable"][-1], (-60.0, -150.0, 0.0))
    assert not cut
    assert end == pytest.approx((-60.0, -150.0))
