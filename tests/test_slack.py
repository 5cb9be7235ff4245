"""Slotted links and tangs: the motion against root finding with the slot as an inequality, and its laws."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from slotted import STAGED, SpringShut, mirrored, pushed, staged, tang

from linkage.answers import check
from linkage.errors import DesignError
from linkage.motion import assemble, find_travel, pick_ups, solve, stop_ends, walk
from linkage.parts import Stop, dimensions
from linkage.search.figures import REASONS, figures, figures_of
from linkage.search.fit import fit

FEW = settings(max_examples=30, deadline=None)


def number(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False).map(lambda x: round(x, 3))


@pytest.mark.parametrize("name", STAGED)
def test_every_member_stands_as_far_shut_as_stop_and_slot_let_it(name: str) -> None:
    linkage = STAGED[name]()
    run = solve(linkage, positions=41)
    other = SpringShut(linkage)
    assert abs(run.ends[1] - run.ends[0]) > 30.0
    for i, turn in enumerate(run.turn):
        for member, there in other.at(float(turn)).items():
            assert run.member_turn[member][i] == pytest.approx(there, abs=1e-9), (member, turn)


@pytest.mark.parametrize("name", STAGED)
def test_what_rests_begins_to_move_at_the_pick_up(name: str) -> None:
    linkage = STAGED[name]()
    run, other = solve(linkage), SpringShut(linkage)
    way = math.copysign(1.0, run.ends[1] - run.ends[0])
    assert run.kinks
    for at in run.kinks:
        moved = [
            member
            for member in linkage.members
            if abs(other.at(at - way * 1e-4)[member] - other.at(at - way * 2e-4)[member]) < 1e-9
            and abs(other.at(at + way * 2e-4)[member] - other.at(at + way * 1e-4)[member]) > 1e-6
        ]
        assert moved


@pytest.mark.parametrize("name", STAGED)
def test_many_at_once_are_as_one_by_one(name: str) -> None:
    linkage = STAGED[name]()
    table = dimensions(linkage)
    varied = {path: v for path, v in table.items() if path.endswith((".slot", ".gap", ".radius"))}
    share = np.linspace(0.6, 1.02, 7)[:, None]
    train = assemble(linkage, {**table, **{path: v * share for path, v in varied.items()}})
    travel, ends, taken = find_travel(train), stop_ends(train), pick_ups(train)
    turn = travel.closing + np.linspace(0.0, 1.0, 11) * (travel.opening - travel.closing)
    pose = walk(train, (np.cos(turn), np.sin(turn)))
    for i, factor in enumerate(share[:, 0]):
        one = assemble(linkage, {**table, **{path: v * float(factor) for path, v in varied.items()}})
        alone = find_travel(one)
        for many, single in ((travel.closing, alone.closing), (travel.opening, alone.opening)):
            assert np.broadcast_to(many, share.shape)[i, 0] == pytest.approx(float(single), abs=1e-12)
        for many, single in zip(ends, stop_ends(one), strict=True):
            assert np.broadcast_to(many, share.shape)[i, 0] == pytest.approx(float(single), abs=1e-12)
        for where, single in pick_ups(one).items():
            assert np.broadcast_to(taken[where], share.shape)[i, 0] == pytest.approx(float(single), abs=1e-12)
        for member, (c, s) in walk(one, (np.cos(turn[i]), np.sin(turn[i]))).items():
            for many, single in zip(pose[member], (c, s), strict=True):
                np.testing.assert_allclose(np.broadcast_to(many, turn.shape)[i], single, rtol=0, atol=1e-12)


@FEW
@given(number(1.0, 25.0), number(50.0, 80.0), number(40.0, 60.0), number(16.0, 30.0), number(-1.0, 1.0))
def test_any_slot_on_two_shafts(slot: float, angle: float, other: float, radius: float, longer: float) -> None:
    fitted = staged(slot, angle=angle, other=other, radius=radius)
    length = float(assemble(fitted).joints[0].length) + longer
    linkage = fitted.replace("link.stage.length", length)
    run, there = solve(linkage, positions=21), SpringShut(linkage)
    assume(abs(run.ends[1] - run.ends[0]) > 5.0)
    for i, turn in enumerate(run.turn):
        shut = there.at(float(turn))["second"]
        if abs(run.speed["second"][i]) < 20.0:  # away from a dead point
            assert run.member_turn["second"][i] == pytest.approx(shut, abs=1e-8)


@FEW
@given(number(2.0, 25.0), number(50.0, 80.0), number(16.0, 30.0))
def test_the_mirrored_linkage_gives_the_mirrored_motion(slot: float, angle: float, radius: float) -> None:
    linkage = staged(slot, angle=angle, radius=radius)
    one, other = solve(linkage, positions=15), solve(mirrored(linkage), positions=15)
    np.testing.assert_allclose(one.turn, -other.turn, rtol=0, atol=1e-9)
    np.testing.assert_allclose(one.kinks, [-at for at in other.kinks], rtol=0, atol=1e-9)
    for name in linkage.shaft:
        np.testing.assert_allclose(one.plate_angle[name], other.plate_angle[name], rtol=0, atol=1e-9)


@FEW
@given(number(2.0, 20.0), number(0.5, 5.0))
def test_a_longer_slot_opens_later_and_never_further(slot: float, more: float) -> None:
    short, long = solve(staged(slot)), solve(staged(slot + more))
    assert short.pick_up["link.stage"] < long.pick_up["link.stage"] or math.isnan(long.pick_up["link.stage"])
    top = min(short.ends[1], long.ends[1])
    turns = np.linspace(0.0, top, 50)
    assert np.all(short.at(turns).plate_angle["second"] >= long.at(turns).plate_angle["second"] - 1e-12)


@FEW
@given(st.sampled_from(["pulled", "pushed", "sectors", "by_crank", "in_series"]), number(0.0, 1.0))
def test_with_its_slot_gone_it_is_the_plain_link(name: str, share: float) -> None:
    linkage = STAGED[name]()
    plain = dataclasses.replace(
        linkage,
        link={n: dataclasses.replace(link, slot=None) for n, link in linkage.link.items()},
        coupling={n: dataclasses.replace(by, gap=None) for n, by in linkage.coupling.items()},
    )
    tiny = dataclasses.replace(
        linkage,
        link={n: dataclasses.replace(link, slot=link.slot and 1e-3) for n, link in linkage.link.items()},
        coupling={n: dataclasses.replace(by, gap=1e-3) for n, by in linkage.coupling.items()},
    )
    one, other = solve(plain), solve(tiny)
    top = min(abs(one.ends[1]), abs(other.ends[1]))
    turn = share * math.copysign(top, one.ends[1])
    for member, angle in one.at(turn).member_turn.items():
        assert other.at(turn).member_turn[member][0] == pytest.approx(float(angle[0]), abs=0.05), member


def test_a_parallelogram_with_a_slot_by_hand() -> None:
    """Equal parallel arms straight up, the link along the centre line: the pin runs r sin(t), the slot takes it up."""
    linkage = staged(15.0, angle=90.0, other=90.0, radius=30.0)
    run = solve(linkage, positions=3)
    # link 200 mm level; the driving pin goes left by 30 sin t and down by 30 (1 - cos t): distance 215 at pick-up
    t = math.radians(run.pick_up["link.stage"])
    assert math.hypot(200.0 + 30.0 * math.sin(t), 30.0 * (1.0 - math.cos(t))) == pytest.approx(215.0, abs=1e-11)
    assert run.at(run.pick_up["link.stage"] - 1e-6).plate_angle["second"][0] == pytest.approx(9.0, abs=1e-12)


def test_a_tang_by_hand() -> None:
    run = solve(tang(30.0, 1.5), positions=3)
    assert run.pick_up == {"coupling.pick_up": pytest.approx(20.0, abs=1e-12)}  # 30 degrees of the second at 1.5
    assert run.at(50.0).plate_angle["second"][0] == pytest.approx(9.0 + 1.5 * 50.0 - 30.0, abs=1e-12)
    # the second comes to 88 after 79 degrees: the first at (79 + 30) / 1.5
    assert run.ends[1] == pytest.approx(109.0 / 1.5, abs=1e-12)
    assert solve(tang(0.0, 1.0), positions=3).at(40.0).plate_angle["second"][0] == pytest.approx(49.0, abs=1e-12)


def test_never_picked_up() -> None:
    for linkage in (staged(80.0), tang(170.0), pushed(500.0)):  # a slot longer than its link included
        run = solve(linkage)
        assert run.kinks == ()
        np.testing.assert_allclose(run.plate_angle["second"], 9.0, rtol=0, atol=1e-12)
        assert np.all(run.speed["second"] == 0.0)
        assert run.plate_angle["first"][-1] == pytest.approx(88.0, abs=1e-9)


def test_the_closing_end_of_the_slot_holds_the_train_at_a_raised_idle() -> None:
    """The pin stands at the closing end as drawn: to raise the second shaft's idle lifts the first."""
    linkage = STAGED["raised_idle"]()
    run = solve(linkage)
    plain = solve(dataclasses.replace(linkage, link={"stage": dataclasses.replace(linkage.link["stage"], slot=None)}))
    assert run.ends[0] == pytest.approx(plain.ends[0], abs=1e-12)
    assert run.plate_angle["second"][0] == pytest.approx(13.0, abs=1e-12)
    lower = solve(linkage.replace("link.stage.length", 186.0))  # room at the closing end
    assert lower.plate_angle["first"][0] == pytest.approx(9.0, abs=1e-12)
    assert lower.plate_angle["second"][0] == pytest.approx(13.0, abs=1e-12)


def test_a_stop_further_on_holds_the_crank_at_rest() -> None:
    linkage = STAGED["by_crank"]()
    raised = dataclasses.replace(linkage, stop={"screw": Stop("screw", "second", "closing", plate_angle=12.0)})
    run = solve(raised.replace("link.stage.length", float(assemble(linkage).joints[0].length) - 4.0))
    assert run.plate_angle["second"][0] == pytest.approx(12.0, abs=1e-9)
    still = run.at(np.linspace(run.ends[0], run.kinks[0], 5))
    np.testing.assert_allclose(still.plate_angle["second"], 12.0, rtol=0, atol=1e-9)


def test_many_figures_are_those_of_each_alone() -> None:
    """A sweep's rows of a staged linkage against each candidate solved and checked by itself."""
    linkage, slots = staged(), np.array([6.0, 12.0, 15.0, 80.0])
    many = figures(linkage, {**dimensions(linkage), "link.stage.slot": slots}, len(slots))
    for i, slot in enumerate(slots):
        found = check(linkage.replace("link.stage.slot", float(slot)))
        assert found.staging is not None
        fraction = found.staging.pick_ups[0].fraction
        assert many["pick_up:link.stage"][i] == pytest.approx(fraction, abs=1e-12, nan_ok=True)
        assert many["gap:second.wide_open"][i] == pytest.approx(
            found.stops.opening.gaps.get("second.wide_open", 0.0), abs=1e-9
        )
        assert many["progression_ratio"][i] == pytest.approx(found.progression.ratio, abs=1e-9)
        least = next(c.value for c in found.checks if c.name == "transmission_angle")
        least = math.nan if least is None else least
        assert many["transmission_angle"][i] == pytest.approx(least, abs=1e-9, nan_ok=True)
        fails = [c.name for c in found.checks if c.verdict == "fail" and c.name in REASONS]
        assert (int(many["reason"][i]) > 0) == bool(fails)
        for name, value in figures_of(found.run).items():
            assert many[name][i] == pytest.approx(value, abs=1e-9, nan_ok=True), name


def test_a_fit_of_a_staged_linkage_is_refused_in_words() -> None:
    with pytest.raises(DesignError, match="staged linkages cannot be fitted"):
        fit(staged(), free={"link.stage.length": (180.0, 200.0)})
