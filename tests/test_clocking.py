"""Clocking advice: the classic pair, the fewest levers, every way solved afresh."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import pytest
from trains import crossed_pair, parallel_pair, rig, shaft

import linkage
from linkage.answers import check
from linkage.errors import DesignError
from linkage.parts import Linkage
from linkage.search.clocking import Clocking, clocking

DEMO = Path(__file__).parents[1] / "demo"


def demo(name: str) -> Linkage:
    return linkage.read(DEMO / f"{name}.toml")


def solved_afresh(found: Clocking) -> None:
    for way in (found.drawn, *found.ways):
        assert check(way.rig).mismatch.largest.value == pytest.approx(way.mismatch, abs=1e-5)
        run = linkage.solve(way.rig)
        for joint in run.train.joints:
            if joint.forward is not None:
                assert float(joint.length) == pytest.approx(way.lengths[joint.step.by.name], abs=1e-9)


def test_the_classic_pair_of_levers() -> None:
    """51 and -51 to about 40.3 and -64.5, link 254.31 to about 244.4 mm: 5.45 degrees to 0.11."""
    found = clocking(demo("crossed_pair"))
    assert found.drawn.mismatch == pytest.approx(5.45, abs=5e-3)
    assert found.drawn.lengths["cross"] == pytest.approx(math.sqrt(250**2 + (60 * math.sin(math.radians(51))) ** 2))
    assert found.best.turns == pytest.approx({"left.cross": -10.75, "right.cross": -13.5}, abs=0.15)
    assert found.best.mismatch == pytest.approx(0.114, abs=1e-3)
    assert found.best.lengths["cross"] == pytest.approx(244.4, abs=0.15)
    assert found.says.startswith('Turn lever "left.cross" −10.')
    assert found.says.endswith(" mm: 5.45° becomes 0.11°.")
    solved_afresh(found)


def test_one_lever_alone_does_less_than_two() -> None:
    found = clocking(demo("crossed_pair"))
    alone = [way for way in found.ways if len(way.turns) == 1]
    assert {lever for way in alone for lever in way.turns} == {"left.cross", "right.cross"}
    for way in alone:
        assert found.best.mismatch < way.mismatch < found.drawn.mismatch
        ((lever, turn),) = way.turns.items()
        member = lever.partition(".")[0]
        path = f"shaft.{member}.arm.cross.angle"
        at = linkage.dimensions(found.drawn.rig)[path]
        for aside in (-1.0, 1.0):  # no better one degree to either side
            other = check(found.drawn.rig.replace(path, at + turn + aside)).mismatch.largest.value
            assert other > way.mismatch


def test_fewer_levers_are_advised_where_they_keep_the_limit() -> None:
    found = clocking(demo("flat_six"))
    limit = found.drawn.rig.limits.mismatch_off_idle
    assert found.best.mismatch <= limit
    assert not any(len(way.turns) < len(found.best.turns) and way.mismatch <= limit for way in found.ways)
    assert min(way.mismatch for way in found.ways) < found.best.mismatch
    solved_afresh(found)


def test_only_the_levers_named_are_turned() -> None:
    found = clocking(demo("flat_six"), levers=["left.drive", "right.drive"])
    assert {lever for way in found.ways for lever in way.turns} == {"left.drive", "right.drive"}


def test_no_lever_turns_further_than_allowed() -> None:
    found = clocking(demo("crossed_pair"), within=5.0)
    assert max(abs(turn) for way in found.ways for turn in way.turns.values()) <= 5.0


def test_links_of_given_length_are_first_made_to_fit() -> None:
    found = clocking(demo("hand_set_links"))
    assert found.drawn.mismatch == pytest.approx(check(demo("hand_set_links")).mismatch.largest.value, abs=1e-5)
    (fitted,) = [way for way in found.ways if not way.turns]
    assert fitted.lengths["right"] == pytest.approx(170.6235, abs=1e-3)
    assert all(link.length is not None for link in found.best.rig.link.values())
    solved_afresh(found)


def test_levers_drawn_by_their_pins_stay_so() -> None:
    design = demo("crossed_pair")
    arm = design.shaft["left"].arm["cross"]
    x, y = (30.0 * f(math.radians(51.0)) for f in (math.cos, math.sin))
    pinned = dataclasses.replace(arm, radius=None, angle=None, pin=(x, y, 0.0))
    left = dataclasses.replace(design.shaft["left"], arm={"cross": pinned})
    found = clocking(dataclasses.replace(design, shaft={**design.shaft, "left": left}))
    assert found.best.mismatch == pytest.approx(0.114, abs=1e-3)
    moved = found.best.rig.shaft["left"].arm["cross"]
    assert moved.pin is not None
    assert math.hypot(*moved.pin[:2]) == pytest.approx(30.0)
    assert math.degrees(math.atan2(moved.pin[1], moved.pin[0])) == pytest.approx(51.0 + found.best.turns["left.cross"])
    solved_afresh(found)


def test_where_nothing_is_to_be_gained_nothing_is_advised() -> None:
    found = clocking(parallel_pair())
    assert found.best is found.drawn
    assert found.says == "Leave the levers as they are: 0.00° is the least that was found."


def test_where_the_drawing_keeps_the_limit_it_is_left_alone() -> None:
    found = clocking(demo("crossed_pair_reclocked"))
    assert found.best is found.drawn
    assert "0.14° keeps 0.25°; the least that was found is 0.11°" in found.says


def test_ends_that_agree_exactly_are_offered_in_closed_form() -> None:
    """Levers of unequal radius: no mirror image, but one turn of either with which both stops are met at once."""
    unequal = crossed_pair(51.0, -51.0, other_wide_open=90.0).replace("shaft.b.arm.drive.radius", 30.5)
    found = clocking(unequal)
    exact = [way for way in found.ways if way.ends_agree]
    assert exact
    for way in exact:
        ends = check(way.rig).stops
        gaps = {**ends.closing.gaps, **ends.opening.gaps}
        assert max(abs(gaps[name]) for name in gaps) < 1e-6


def test_the_same_seed_gives_the_same_advice() -> None:
    assert clocking(demo("crossed_pair"), seed=3).says == clocking(demo("crossed_pair"), seed=3).says


def test_what_cannot_be_clocked_says_so() -> None:
    with pytest.raises(DesignError, match=r'no link holds a lever "left\.crosss".*did you mean "left\.cross"'):
        clocking(demo("crossed_pair"), levers=["left.crosss"])
    with pytest.raises(DesignError, match="two shafts or more"):
        clocking(rig(shaft("a", (0.0, 0.0, 0.0), "ccw", {}), drive="a"))
    with pytest.raises(DesignError, match="no link holds a lever"):
        clocking(rig(shaft("a", (0.0, 0.0, 0.0), "ccw", {}), shaft("b", (0.0, 0.0, 9.0), "ccw", {}), drive="a"))
