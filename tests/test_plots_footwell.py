"""Pictures of the pedal, the opening underfoot and the followers, read off the drawn lines."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import footwells
import matplotlib
import numpy as np
import pytest
from test_pedal_motion import CABLE, turn_by_search
from trains import crossed_pair

from linkage import plots
from linkage.motion import solve
from linkage.parts import Follower, Pedal

matplotlib.use("Agg")


def by_id(ax: Any, gid: str) -> Any:
    found = [line for line in ax.lines if line.get_gid() == gid]
    assert len(found) == 1, gid
    return found[0].get_xydata()


@pytest.mark.parametrize(("units", "size"), [("mm", 1.0), ("in", 25.4)])
def test_the_pedal_stands_where_it_is_drawn_and_where_a_search_puts_it(units: Any, size: float) -> None:
    rig = dataclasses.replace(footwells.quadrant(stop=30.0, floor=40.0), units=units)
    ax = plots.pedal_view(solve(rig))
    needed = turn_by_search(CABLE + 1.0)
    for i, turn in enumerate((0.0, 0.5 * needed, needed)):
        pad, pivot, pin = by_id(ax, f"pedal.{i}")
        at, hooked = math.radians(260.0 + turn), math.radians(60.0 + turn)
        assert pad * size == pytest.approx([200.0 * math.cos(at), 200.0 * math.sin(at)], abs=1e-6)
        assert pivot == pytest.approx([0.0, 0.0], abs=1e-12)
        assert pin * size == pytest.approx([80.0 * math.cos(hooked), 80.0 * math.sin(hooked)], abs=1e-6)
        assert by_id(ax, f"cable.{i}")[0] * size == pytest.approx(footwells.CASING[:2])
    for name, turn in (("pedal stop", 30.0), ("floor", 40.0)):
        at = math.radians(260.0 + turn)
        assert by_id(ax, name)[0] * size == pytest.approx([200.0 * math.cos(at), 200.0 * math.sin(at)], abs=1e-6)


def test_the_curve_underfoot_begins_slowly_and_meets_the_straight_line_at_both_ends() -> None:
    ax = plots.underfoot(solve(footwells.quadrant(35.0)))
    pad, cable = by_id(ax, "curve.over the pad"), by_id(ax, "curve.over the cable")
    assert pad[[0, -1]] == pytest.approx(np.array([[0.0, 0.0], [100.0, 100.0]]), abs=1e-9)
    assert np.all(pad[1:-1, 1] < pad[1:-1, 0])
    assert cable[:, 1] == pytest.approx(cable[:, 0], abs=1e-6)  # a quadrant opens evenly
    rods = plots.underfoot(solve(footwells.rods()))
    assert [line.get_gid() for line in rods.lines if line.get_gid()] == ["curve.over the pad"]


def test_followers_have_a_curve_and_three_marks_each() -> None:
    rig = footwells.with_followers(
        footwells.rods(), Follower("sensor", on="one"), Follower("rod", pin="pedal.rod", least_stroke=1.0)
    )
    ax = plots.followers(solve(rig))
    sensor = by_id(ax, "curve.sensor")
    assert sensor[[0, -1], 1] == pytest.approx([0.0, 100.0], abs=1e-6)
    assert np.all(np.diff(sensor[:, 1]) > 0.0)
    marks = [line.get_xydata() for line in ax.lines if line.get_linestyle() == "None"]
    assert [list(mark[:, 1]) for mark in marks] == [pytest.approx([10.0, 50.0, 90.0])] * 2
    place = np.interp(marks[0][:, 0], sensor[:, 0], sensor[:, 1])
    assert place == pytest.approx([10.0, 50.0, 90.0], abs=0.05)


@pytest.mark.parametrize("rig", [crossed_pair(), dataclasses.replace(footwells.quadrant(), pedal=Pedal(2.0))])
def test_pictures_say_why_they_are_empty(rig: Any) -> None:
    run = solve(rig)
    assert "view of its own" in " ".join(plots.pedal_view(run).texts[0].get_text().split())
    assert "[follower.NAME]" in " ".join(plots.followers(run).texts[0].get_text().split())


def test_a_pedal_that_cannot_open_says_so() -> None:
    words = " ".join(plots.underfoot(solve(footwells.quadrant(175.0))).texts[0].get_text().split())
    assert words == "No pedal takes this linkage to wide open"


def test_the_page_has_four_pictures() -> None:
    figure = plots.footwell(solve(footwells.quadrant()))
    titles = [ax.get_title(loc="left") for ax in figure.axes]
    assert titles == [
        "The pedal, its own side view", "What the foot feels open", "Pedal force, opening and coming back",
        "What moves along",
    ]  # fmt: skip
