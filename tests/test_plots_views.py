"""Lines of sight, where pins stand there, and how many views it takes."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
import trains

from linkage.motion import solve
from linkage.plots import views


@pytest.mark.parametrize(
    ("name", "seen"),
    [("front", (3.0, 5.0)), ("plan", (3.0, -7.0)), ("side", (-7.0, 5.0))],
)
def test_a_point_as_seen(name: str, seen: tuple[float, float]) -> None:
    assert views.flat(views.view_named(name), (3.0, 5.0, 7.0), "mm") == pytest.approx(seen)


@pytest.mark.parametrize("name", list(views.VIEWS))
def test_every_view_looks_along_a_right_handed_frame(name: str) -> None:
    view = views.VIEWS[name]
    assert np.cross(view.right, view.up) == pytest.approx(view.out)


def test_inches_are_drawn_in_inches() -> None:
    assert views.flat(views.view_named("front"), (25.4, -50.8, 0.0), "in") == pytest.approx((1.0, -2.0))


def test_an_unknown_view_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match=r'view: must be "front", "plan" or "side", got \'top\''):
        views.view_named("top")


def test_pins_of_a_turned_shaft() -> None:
    run = solve(trains.crossed_pair()).at([0.0, 39.0, 78.0])
    want = [
        [30.0 * math.cos(math.radians(51.0 + t)), 30.0 * math.sin(math.radians(51.0 + t)), 0.0] for t in (0, 39, 78)
    ]
    assert views.pins(run)["a.drive"] == pytest.approx(np.array(want))


def test_stations_move_pins_and_hubs_along_the_axis() -> None:
    run = solve(trains.cross_tube())
    assert views.pins(run)["tube.two"][:, 2] == pytest.approx(np.full(91, 110.0))
    assert views.hubs(run)["tube.two"] == pytest.approx((0.0, 90.0, 110.0))
    assert views.hubs(run)["three.drive"] == pytest.approx((-10.0, 0.0, 197.0))


@pytest.mark.parametrize(
    ("axis", "bore"),
    [
        ((0.0, 0.0, 1.0), (0.0, 1.0, 0.0)),
        ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0)),
        ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
        ((0.0, 0.6, 0.8), (0.0, 0.8, -0.6)),
    ],
)
def test_bores_stand_square_to_their_shafts(axis: tuple[float, float, float], bore: tuple[float, float, float]) -> None:
    assert views.bore_axis(axis) == pytest.approx(bore)


def test_depth_calls_for_three_views() -> None:
    flat, deep = solve(trains.crossed_pair()), solve(trains.cross_tube())
    assert views.views_needed(flat) == ("front",)
    assert views.views_needed(deep) == ("front", "plan", "side")
    assert views.views_needed(solve(trains.skew())) == ("front", "plan", "side")


def test_only_an_arm_that_no_link_joins_stands_aside() -> None:
    base = trains.bell_crank()
    centre = base.bellcrank["centre"]
    aside = dataclasses.replace(centre.arm["cable"], station=40.0)
    crank = dataclasses.replace(centre, arm={**centre.arm, "cable": aside})
    run = solve(dataclasses.replace(base, bellcrank={"centre": crank}))
    assert views.views_needed(run) == ("front", "plan", "side")
    assert views.views_needed(run, every_arm=False) == ("front",)
