"""Followers: stroke and timing by hand and by the loop equations."""

from __future__ import annotations

import math

import footwells
import numpy as np
import pytest
from loop_equations import LoopEquations
from scipy.optimize import brentq
from trains import arms, block, crank, shaft
from trains import rig as made

from linkage.answers.checks import Check
from linkage.answers.followers import Following, checks, followers
from linkage.motion import solve
from linkage.parts import Follower, Link, Linkage


def one(rig: Linkage, part: Follower) -> Following:
    found = followers(solve(footwells.with_followers(rig, part)))
    assert found is not None
    return found[part.name]


def judged(rig: Linkage, part: Follower) -> dict[str, Check]:
    run = solve(footwells.with_followers(rig, part))
    return {check.name: check for check in checks(run, followers(run))}


def lone() -> Linkage:
    """A shaft of 80 degrees with an arm of 20 mm, turned by itself."""
    return made(shaft("a", (0.0, 0.0, 0.0), "ccw", arms(rod=(20.0, 10.0)), idle=8.0), drive="a")


def pumped(angle: float = 200.0) -> Linkage:
    """The same shaft with a pump arm on a link."""
    a = shaft("a", (0.0, 0.0, 0.0), "ccw", arms(rod=(20.0, angle)), idle=8.0)
    pump = crank("pump", (-70.0, 20.0, 0.0), arms(link=(30.0, 240.0), plunger=(18.0, 180.0)))
    return made(a, pump, Link("pump", ("a.rod", "pump.link")), drive="a")


def test_a_sensor_on_the_shaft_turns_with_it_evenly() -> None:
    found = one(lone(), Follower("sensor", on="a"))
    assert (found.unit, found.stroke, found.path) == ("deg", pytest.approx(80.0), None)
    assert [done.fraction for done in found.done] == pytest.approx([0.1, 0.5, 0.9], abs=1e-6)
    assert [done.opening for done in found.done] == pytest.approx([0.1, 0.5, 0.9], abs=1e-6)
    assert found.done[1].plate_angle == pytest.approx(48.0, abs=1e-4)
    assert found.back == ()


def test_a_pin_s_stroke_is_its_chord_and_its_path_the_arc() -> None:
    found = one(lone(), Follower("rod", pin="a.rod"))
    assert found.unit == "mm"
    assert found.stroke == pytest.approx(40.0 * math.sin(math.radians(40.0)), rel=1e-12)
    assert found.path == pytest.approx(20.0 * math.radians(80.0), rel=1e-9)
    # a share of the chord is done where sin(half the turn) has that share
    for done in found.done:
        turn = 2.0 * math.degrees(math.asin(done.share * math.sin(math.radians(40.0))))
        assert done.fraction == pytest.approx(turn / 80.0, rel=0, abs=2e-6)


def test_a_pump_arm_by_the_loop_equations() -> None:
    rig = pumped()
    equations = LoopEquations(rig)
    whole = abs(math.degrees(equations.turns(math.radians(80.0))["pump"]))
    turning, rod = one(rig, Follower("pump", on="pump")), one(rig, Follower("pump", pin="pump.plunger"))
    assert turning.stroke == pytest.approx(whole, rel=0, abs=1e-7)
    assert rod.stroke == pytest.approx(36.0 * math.sin(math.radians(0.5 * whole)), rel=0, abs=1e-7)
    for done in turning.done:
        share = done.share
        at = brentq(
            lambda t, share=share: abs(math.degrees(equations.turns(math.radians(t))["pump"])) - share * whole,
            0.0,
            80.0,
        )
        assert done.fraction == pytest.approx(at / 80.0, rel=0, abs=2e-6)


def test_a_follower_that_turns_back() -> None:
    # its driving arm passes in line with the link; by the loop equations its speed changes sign just there
    rig = pumped(150.0)
    equations = LoopEquations(rig)
    turns = np.radians(np.linspace(0.0, 80.0, 1601))
    went = np.array([math.degrees(equations.turns(float(t))["pump"]) for t in turns])
    speed = np.gradient(went)
    back = np.flatnonzero(speed[:-1] * speed[1:] < 0.0)
    assert len(back) == 1
    found = one(rig, Follower("pump", on="pump"))
    assert len(found.back) == 1
    assert found.back[0] == pytest.approx(back[0] / 1600.0, abs=1.5e-3)
    assert found.stroke == pytest.approx(np.max(np.abs(went - went[0])), abs=1e-4)
    assert found.end == pytest.approx(abs(went[-1] - went[0]), abs=1e-7)
    check = judged(rig, Follower("pump", on="pump"))["follower_turns_back"]
    assert (check.verdict, check.value) == ("caution", 1.0)
    assert "in line with the link" in check.says


@pytest.mark.parametrize(
    ("part", "fails"),
    [
        (Follower("f", on="a"), set()),
        (Follower("f", on="a", least_stroke=80.0 - 1e-6, most_stroke=80.0 + 1e-6), set()),
        (Follower("f", on="a", least_stroke=80.1), {"follower_least_stroke"}),
        (Follower("f", on="a", most_stroke=79.9), {"follower_most_stroke"}),
        (Follower("f", on="a", starts_by=0.11, complete_by=0.91), set()),
        (Follower("f", on="a", starts_by=0.09), {"follower_start"}),
        (Follower("f", on="a", complete_by=0.89), {"follower_complete"}),
    ],
)
def test_what_is_wished_is_held_against(part: Follower, fails: set[str]) -> None:
    found = judged(lone(), part)
    assert {name for name, check in found.items() if check.verdict == "fail"} == fails
    wished = {
        "follower_least_stroke": part.least_stroke, "follower_most_stroke": part.most_stroke,
        "follower_start": part.starts_by, "follower_complete": part.complete_by,
    }  # fmt: skip
    assert {name for name, limit in wished.items() if limit is not None} == {*found} - {"follower_turns_back"}


def test_a_pin_of_a_slide_goes_straight() -> None:
    a = shaft("a", (0.0, 0.0, 0.0), "ccw", arms(rod=(30.0, 30.0)), idle=8.0)
    slider = block("rack", (1.0, 0.0, 0.0), rod=(120.0, 10.0, 0.0), end=(150.0, 10.0, 0.0))
    rig = made(a, slider, Link("rod", ("a.rod", "rack.rod")), drive="a")
    found = one(rig, Follower("rack", pin="rack.end"))
    # the block by hand: it stands where a link of the drawn length ends on its guide, y = 10
    x, y = 30.0 * math.cos(math.radians(30.0)), 30.0 * math.sin(math.radians(30.0))
    size = math.hypot(120.0 - x, 10.0 - y)
    x, y = 30.0 * math.cos(math.radians(110.0)), 30.0 * math.sin(math.radians(110.0))
    went = 120.0 - (x + math.sqrt(size**2 - (10.0 - y) ** 2))
    assert found.end == pytest.approx(went, rel=0, abs=1e-8)
    assert found.path is not None
    assert found.path >= found.stroke - 1e-6


def test_no_followers_no_answer() -> None:
    assert followers(solve(lone())) is None
    assert checks(solve(lone()), None) == ()
