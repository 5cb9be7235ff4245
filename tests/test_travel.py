"""Where the travel begins and ends, against root finding and arithmetic by hand."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable

import numpy as np
import pytest
from loop_equations import LoopEquations, to_spare
from scipy.optimize import brentq
from trains import (
    EXAMPLES,
    arms,
    bell_crank,
    coupled,
    crank,
    cross_tube,
    crossed_pair,
    hand_set,
    parallel_pair,
    rig,
    series,
    shaft,
    tilted,
    with_stop,
)

from linkage.motion import assemble, driver_turn, find_travel, solve
from linkage.parts import SIGN, Cable, Coupling, Link, Linkage, PlateAngle, Stop


def ends(linkage: Linkage) -> tuple[float, float]:
    """Both ends as driver turns [deg]."""
    travel = find_travel(assemble(linkage))
    return math.degrees(travel.closing), math.degrees(travel.opening)


def holds(linkage: Linkage) -> tuple[str | None, str | None]:
    """Names of the stops that hold."""
    travel = find_travel(assemble(linkage))
    names = [*(stop.name for stop in travel.stops), None]
    return names[int(travel.closing_holds)], names[int(travel.opening_holds)]


def first_root(function: Callable[[float], float], start: float, step: float, most: float = 360.0) -> float:
    """First root met from a start, by steps and then Brent's method."""
    before = function(start)
    for i in range(1, int(most / abs(step))):
        here = function(start + i * step)
        if before * here <= 0.0:
            low, high = sorted((start + (i - 1) * step, start + i * step))
            return float(brentq(function, low, high, xtol=1e-12, rtol=1e-14))
        before = here
    return math.inf


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_ends_are_where_root_finding_meets_the_first_stop(name: str) -> None:
    linkage = EXAMPLES[name]()
    opens = float(assemble(linkage).opens)
    closing, opening = [], []
    for shaft_name in linkage.shaft:
        followed = LoopEquations(linkage)

        def to_idle(driver: float, at: LoopEquations = followed, name: str = shaft_name) -> float:
            return at.plate_angle(name, driver) - linkage.shaft[name].plate_angle.idle

        def to_wide_open(driver: float, at: LoopEquations = followed, name: str = shaft_name) -> float:
            return at.plate_angle(name, driver) - linkage.shaft[name].plate_angle.wide_open

        closing.append(first_root(to_idle, -1.3 * opens, 0.7 * opens, 6.0))
        opening.append(first_root(to_wide_open, 30.0 * opens, 9.0 * opens))
    expected = max(closing, key=lambda t: opens * t), min(opening, key=lambda t: opens * t)
    assert ends(linkage) == pytest.approx(expected, rel=0, abs=1e-9)


@pytest.mark.parametrize("name", sorted({*EXAMPLES} - {"parallel_pair"}))
def test_the_toggle_margins_are_where_a_link_first_has_nothing_to_spare(name: str) -> None:
    linkage = EXAMPLES[name]()
    train = assemble(linkage)
    travel = find_travel(train)
    for end, turn, way in ((0, travel.closing, -1.0), (1, travel.opening, 1.0)):
        margin = math.degrees(travel.before_toggle[end])
        start, step = math.degrees(turn), way * float(train.opens)
        spare = to_spare(linkage, travel.toggle_links[end])
        low, high = sorted(start + step * share * margin for share in (0.9, 1.001))
        toggle = float(brentq(spare, low, high, xtol=1e-12, rtol=1e-14))
        assert abs(toggle - start) == pytest.approx(margin, rel=0, abs=1e-9)
        for link in linkage.link:  # and no link lets go before
            spare = to_spare(linkage, link)
            for share in np.linspace(0.0, 0.999, 16):
                assert spare(start + step * float(share) * margin) > 0.0


def test_a_parallelogram_is_at_its_change_points_where_the_arms_lie_along_the_link() -> None:
    travel = find_travel(assemble(parallel_pair()))  # arms at 51 and, wide open, at 129 deg
    assert np.degrees(travel.before_toggle) == pytest.approx(51.0, rel=0, abs=1e-6)


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_stop_is_met_where_its_member_stands_at_it(name: str) -> None:
    linkage = EXAMPLES[name]()
    travel = find_travel(assemble(linkage))
    run = solve(linkage)
    assert len(travel.stops) == 2 * len(linkage.shaft) + len(linkage.stop)
    for stop in travel.stops:
        if np.isnan(stop.driver):  # a block's own stop, beyond what its links reach
            continue
        at = run.at(math.degrees(stop.driver)).member_turn[stop.member][0]
        assert at == pytest.approx(math.degrees(stop.turn), rel=0, abs=1e-9)
        if stop.member not in linkage.shaft:
            assert math.degrees(stop.turn) == pytest.approx(linkage.stop[stop.name].travel, rel=1e-15)
            continue
        part = linkage.shaft[stop.member].plate_angle
        wanted = 0.0 if stop.limits == "closing" else part.wide_open - part.idle
        assert math.degrees(stop.turn) * SIGN[linkage.shaft[stop.member].opens] == pytest.approx(wanted)


def test_fitted_links_close_at_exactly_the_drawn_position() -> None:
    for name in sorted({*EXAMPLES} - {"hand_set", "coupled"}):
        travel = find_travel(assemble(EXAMPLES[name]()))
        assert travel.closing == 0.0
        assert math.copysign(1.0, travel.closing) == 1.0
        assert travel.closing_holds == 0
    # the coupling's offset opens both other shafts: the twin's stop, ahead by 0.3 deg, holds
    assert holds(coupled()) == ("twin.idle", "twin.wide_open")


def test_hand_set_lengths_move_the_closing_end_to_the_shaft_that_closes_first() -> None:
    run = solve(hand_set())
    assert holds(hand_set())[0] == "right.idle"
    assert run.ends[0] < 0.0
    assert run.plate_angle["right"][0] == pytest.approx(10.0, rel=0, abs=1e-9)
    assert run.plate_angle["left"][0] > 10.1


def test_stops_that_hold_together_are_reported_by_the_first_named() -> None:
    assert holds(parallel_pair()) == ("a.idle", "a.wide_open")
    both = dataclasses.replace(parallel_pair(), drive="b")
    both = dataclasses.replace(both, shaft={name: both.shaft[name] for name in ("b", "a")})
    assert holds(both)[0] == "b.idle"


@pytest.mark.parametrize(
    ("stop", "expected", "held"),
    [
        (Stop("s", "centre", "opening", turn=50.0), (0.0, 50.0), ("left.idle", "s")),
        (Stop("s", "centre", "closing", turn=3.0), (3.0, None), ("s", "left.wide_open")),
        (Stop("s", "centre", "closing", turn=-3.0), (0.0, None), ("left.idle", "left.wide_open")),
        (Stop("s", "centre", "opening", turn=120.0), (0.0, None), ("left.idle", "left.wide_open")),
        (Stop("s", "centre", "opening", turn=-5.0), (0.0, 0.0), ("left.idle", "s")),
        (Stop("s", "centre", "closing", turn=100.0), (100.0, 100.0), ("s", "left.wide_open")),
    ],
)
def test_a_stop_on_the_driver(stop: Stop, expected: tuple[float, float | None], held: tuple[str, str]) -> None:
    wide_open = ends(bell_crank())[1]
    wanted = expected[0], wide_open if expected[1] is None else expected[1]
    assert ends(with_stop(bell_crank(), stop)) == pytest.approx(wanted, rel=0, abs=1e-9)
    assert holds(with_stop(bell_crank(), stop)) == held


def test_of_several_stops_the_first_met_holds_each_end() -> None:
    linkage = with_stop(
        bell_crank(),
        Stop("far", "centre", "opening", turn=70.0),
        Stop("near", "centre", "opening", turn=60.0),
        Stop("plate", "right", "opening", plate_angle=60.0),
        Stop("low", "left", "closing", plate_angle=11.0),
        Stop("high", "right", "closing", plate_angle=12.0),
    )
    run = solve(linkage)
    assert holds(linkage) == ("high", "plate")
    assert run.plate_angle["right"][[0, -1]] == pytest.approx([12.0, 60.0], rel=0, abs=1e-9)
    for stop in run.travel.stops:
        past = run.train.opens * (
            stop.driver - (run.travel.closing if stop.limits == "closing" else run.travel.opening)
        )
        assert past <= 1e-12 if stop.limits == "closing" else past >= -1e-12


@pytest.mark.parametrize(
    ("turn", "limits", "side"), [(-4.0, "closing", 0), (40.0, "opening", 1), (-35.0, "opening", 0)]
)
def test_a_stop_on_a_bell_crank_within_the_train(turn: float, limits: str, side: int) -> None:
    # the relay of `tilted` turns against the driver or with it; its stop is met where root finding says
    linkage = tilted()
    at_rest = assemble(linkage)
    sense = float(at_rest.sense["relay"] * at_rest.opens)
    stopped = with_stop(linkage, Stop("s", "relay", limits, turn=sense * turn))  # type: ignore[arg-type]
    if limits == "closing":
        assert ends(stopped) == pytest.approx(ends(linkage), rel=0, abs=1e-9)
        return
    if turn < 0.0:  # an opening stop on the closing side: nothing is left to travel
        assert ends(stopped) == (0.0, 0.0)
        assert holds(stopped) == ("plates.idle", "s")
        return
    followed = LoopEquations(linkage)
    expected = first_root(
        lambda t: math.degrees(followed.turns(math.radians(t))["relay"]) - sense * turn, 0.0, float(at_rest.opens)
    )
    assert ends(stopped)[1] == pytest.approx(expected, rel=0, abs=1e-9)
    assert holds(stopped) == ("plates.idle", "s")


def wrong_way(turned: int = 1) -> Linkage:
    """The cross tube with shafts (the last ``turned``) whose plates close when the others open."""
    linkage = cross_tube()
    names = [*linkage.shaft][3 - turned :]
    return dataclasses.replace(
        linkage,
        shaft={
            name: dataclasses.replace(part, opens="cw" if name in names else "ccw")
            for name, part in linkage.shaft.items()
        },
    )


def test_a_shaft_that_turns_the_wrong_way_leaves_no_travel() -> None:
    train = assemble(wrong_way())
    assert float(train.opens) == 1.0
    assert {name: float(v) for name, v in train.shaft_opens.items()} == {"one": 1.0, "two": 1.0, "three": -1.0}
    assert ends(wrong_way()) == (0.0, 0.0)
    assert holds(wrong_way()) == ("one.idle", "three.idle")
    run = solve(wrong_way())
    for angles in run.plate_angle.values():
        np.testing.assert_allclose(angles, 10.0, rtol=0, atol=1e-9)
    np.testing.assert_array_equal(run.fraction, 0.0)


def test_the_train_opens_the_way_most_shafts_do_and_the_first_named_breaks_a_tie() -> None:
    assert float(assemble(wrong_way(2)).opens) == -1.0
    pair = crossed_pair()
    same_sense = dataclasses.replace(pair, shaft={**pair.shaft, "b": dataclasses.replace(pair.shaft["b"], opens="ccw")})
    assert float(assemble(same_sense).opens) == 1.0
    swapped = dataclasses.replace(same_sense, shaft={name: same_sense.shaft[name] for name in ("b", "a")})
    assert float(assemble(swapped).opens) == -1.0


def lever_pair(driving: float, driven: float, *, start: float = 51.0, wide_open: float = 88.0) -> Linkage:
    """A crank that drives one shaft, 250 mm apart, arms parallel as drawn."""
    return rig(
        crank("crank", (0.0, 0.0, 0.0), arms(out=(driving, start))),
        shaft("a", (250.0, 0.0, 0.0), "ccw", arms(drive=(driven, start)), wide_open=wide_open),
        Link("link", ("crank.out", "a.drive")),
        drive="crank",
    )


def test_a_toggle_before_the_wide_open_stop_ends_the_travel() -> None:
    # 30 mm drives 18 mm: the shaft's arm comes in line with the link before it has turned 78 deg.
    # There the crank pin is L + 18 from the shaft: cosine rule in the triangle of the pivots and the pin.
    linkage = lever_pair(30.0, 18.0, start=110.0)
    x, y = (30.0 - 18.0) * math.cos(math.radians(110.0)), (30.0 - 18.0) * math.sin(math.radians(110.0))
    length = math.hypot(250.0 - x, y)
    crank_angle = math.degrees(math.acos((250.0**2 + 30.0**2 - (length + 18.0) ** 2) / (2.0 * 250.0 * 30.0)))
    opening = ends(linkage)[1]
    assert opening == pytest.approx(crank_angle - 110.0, rel=0, abs=1e-9)
    assert holds(linkage) == ("a.idle", None)
    travel = find_travel(assemble(linkage))
    assert travel.before_toggle[1] == pytest.approx(0.0, abs=1e-7)
    assert travel.toggle_links[1] == "link"
    run = solve(linkage)
    assert np.all(np.isfinite(run.member_turn["a"]))
    # the wide-open plate angle stands on the far side of the dead point: no crank turn opens it so far
    assert np.isnan(driver_turn(assemble(linkage), "a", math.radians(78.0)))
    assert run.plate_angle["a"][-1] < 88.0 - 1.0


def small_crank(wide_open: float = 88.0, start: float = 100.0, radius: float = 12.0) -> Linkage:
    """A crank too small to open its shaft: it turns right round."""
    return rig(
        crank("crank", (0.0, 0.0, 0.0), arms(out=(radius, start))),
        shaft("a", (60.0, 10.0, 0.0), "ccw", arms(drive=(40.0, 80.0)), wide_open=wide_open),
        Link("link", ("crank.out", "a.drive")),
        drive="crank",
    )


def test_a_shaft_that_turns_back_comes_to_its_own_closing_stop() -> None:
    # the shaft's pin is where it was when the crank pin is mirrored in the line from crank to pin
    linkage = small_crank()
    seen = math.degrees(
        math.atan2(10.0 + 40.0 * math.sin(math.radians(80.0)), 60.0 + 40.0 * math.cos(math.radians(80.0)))
    )
    back = (2.0 * seen - 200.0) % 360.0
    assert float(assemble(linkage).opens) == 1.0
    assert ends(linkage) == pytest.approx((0.0, back), rel=0, abs=1e-9)
    assert holds(linkage) == ("a.idle", "a.idle")
    run = solve(linkage)
    assert run.plate_angle["a"][[0, -1]] == pytest.approx([10.0, 10.0], rel=0, abs=1e-9)
    assert 20.0 < np.max(run.plate_angle["a"]) < 88.0
    assert np.isnan(run.travel.stops[1].driver)


def test_a_shaft_that_is_back_beyond_its_stop_before_another_closing_stop_is_met_leaves_no_travel() -> None:
    back = ends(small_crank())[1]
    stopped = with_stop(small_crank(), Stop("late", "crank", "closing", turn=back + 5.0))
    assert ends(stopped) == pytest.approx((back + 5.0, back + 5.0), rel=0, abs=1e-9)
    assert holds(stopped) == ("late", "a.idle")


def test_an_opening_stop_met_before_the_dead_centre_still_holds() -> None:
    linkage = small_crank(wide_open=20.0)
    assert holds(linkage) == ("a.idle", "a.wide_open")
    followed = LoopEquations(linkage)
    expected = first_root(lambda t: followed.plate_angle("a", t) - 20.0, 0.0, 1.0)
    assert ends(linkage)[1] == pytest.approx(expected, rel=0, abs=1e-9)


def test_a_driver_may_turn_more_than_half_a_turn_between_dead_centres() -> None:
    # crank 20, link 70, shaft arm 40, pivots 60 apart: a slow and a quick stroke. Drawn ten degrees past
    # the stretched dead centre; wide open where the crank has ten degrees left to the folded one.
    def corner(opposite: float, one: float, other: float) -> float:
        return math.degrees(math.acos((one**2 + other**2 - opposite**2) / (2.0 * one * other)))

    def shaft_angle(crank_angle: float) -> float:
        x, y = 20.0 * math.cos(math.radians(crank_angle)) - 60.0, 20.0 * math.sin(math.radians(crank_angle))
        return math.degrees(math.atan2(y, x)) % 360.0 - corner(70.0, math.hypot(x, y), 40.0)

    stretched, folded = corner(40.0, 90.0, 60.0), corner(40.0, 50.0, 60.0) + 180.0
    slow = folded - stretched
    assert slow > 200.0
    start, end = stretched + 10.0, folded - 10.0
    swing = shaft_angle(end) - shaft_angle(start)
    linkage = rig(
        crank("crank", (0.0, 0.0, 0.0), arms(out=(20.0, start))),
        shaft("a", (60.0, 0.0, 0.0), "ccw", arms(drive=(40.0, shaft_angle(start))), wide_open=10.0 + swing),
        Link("link", ("crank.out", "a.drive")),
        cable=Cable(quadrant="crank", radius=15.0, pull_turns="ccw"),
    )
    assert assemble(linkage).joints[0].length == pytest.approx(70.0, rel=0, abs=1e-9)
    assert ends(linkage) == pytest.approx((0.0, slow - 20.0), rel=0, abs=1e-9)
    assert holds(linkage) == ("a.idle", "a.wide_open")
    run = solve(linkage)
    assert run.cable is not None
    assert run.cable[-1] == pytest.approx(15.0 * math.radians(slow - 20.0), rel=0, abs=1e-9)
    for turn, angle in zip(run.turn, run.plate_angle["a"], strict=True):
        assert angle - 10.0 == pytest.approx(shaft_angle(start + turn) - shaft_angle(start), rel=0, abs=1e-9)
    # a stop of the crank's own at 195 degrees is no nearer than it says
    stopped = with_stop(linkage, Stop("s", "crank", "opening", turn=slow - 25.0))
    assert ends(stopped)[1] == pytest.approx(slow - 25.0, rel=0, abs=1e-9)


def test_an_arm_drawn_at_its_dead_centre_opens_the_way_the_cable_pulls() -> None:
    # the crank's arm lies along the link as drawn: whichever way it turns, it draws the shaft open
    def linkage(pulls: str) -> Linkage:
        return rig(
            crank("crank", (0.0, 0.0, 0.0), arms(out=(40.0, 0.0))),
            shaft("a", (140.0, -40.0, 0.0), "ccw", arms(drive=(40.0, 90.0)), wide_open=40.0),
            Link("link", ("crank.out", "a.drive")),
            cable=Cable(quadrant="crank", radius=30.0, pull_turns=pulls),  # type: ignore[arg-type]
        )

    # opened 30 deg the shaft's pin is at (140 - 40 sin 30, -40 + 40 cos 30); the crank's by cosines
    x, y = 140.0 - 40.0 * math.sin(math.radians(30.0)), -40.0 + 40.0 * math.cos(math.radians(30.0))
    apart = math.hypot(x, y)
    corner = math.degrees(math.acos((apart**2 + 40.0**2 - 100.0**2) / (2.0 * apart * 40.0)))
    seen = math.degrees(math.atan2(y, x))
    for pulls, opening in (("ccw", seen + corner), ("cw", seen - corner)):
        train = assemble(linkage(pulls))
        assert train.opens == SIGN[pulls]
        assert train.shaft_opens["a"] == train.opens
        assert ends(linkage(pulls)) == pytest.approx((0.0, opening), rel=0, abs=1e-9)
        assert holds(linkage(pulls)) == ("a.idle", "a.wide_open")
        run = solve(linkage(pulls))
        assert run.speed["a"][0] == pytest.approx(0.0, abs=1e-12)
        assert run.cable is not None
        assert run.cable[-1] == pytest.approx(30.0 * math.radians(abs(opening)), abs=1e-9)


def test_a_sector_pair_lets_the_driver_turn_past_half_a_turn() -> None:
    linkage = rig(
        crank("pinion", (0.0, 40.0, 0.0), {}),
        shaft("a", (0.0, 0.0, 0.0), "ccw", {}),
        Coupling("sectors", ("pinion", "a"), -0.35),
        cable=Cable(quadrant="pinion", radius=12.0, pull_turns="cw"),
    )
    assert ends(linkage) == pytest.approx((0.0, -78.0 / 0.35), rel=0, abs=1e-9)
    run = solve(linkage, positions=5)
    np.testing.assert_allclose(run.plate_angle["a"], np.linspace(10.0, 88.0, 5), rtol=0, atol=1e-9)
    assert run.cable is not None
    np.testing.assert_allclose(run.cable, 12.0 * np.radians(np.linspace(0.0, 78.0 / 0.35, 5)), rtol=0, atol=1e-9)


def test_a_driver_is_followed_no_further_than_three_quarters_of_a_turn() -> None:
    linkage = rig(
        crank("pinion", (0.0, 40.0, 0.0), {}),
        shaft("a", (0.0, 0.0, 0.0), "ccw", {}),
        Coupling("sectors", ("pinion", "a"), -0.2),
        drive="pinion",
    )
    assert ends(linkage)[1] == pytest.approx(-270.0, abs=0.1)
    assert holds(linkage) == ("a.idle", None)
    assert math.degrees(find_travel(assemble(linkage)).stops[1].driver) == pytest.approx(-390.0, abs=1e-9)


def lengthened(linkage: Linkage, extra: float) -> Linkage:
    """The linkage with its one link set so much longer than fitted [mm]."""
    drawn = float(assemble(linkage).joints[0].length)
    return dataclasses.replace(linkage, link={"link": Link("link", ("crank.out", "a.drive"), length=drawn + extra)})


def one_link(crank_arm: tuple[float, float], pivot: tuple[float, float], arm: tuple[float, float]) -> Linkage:
    """A crank and a shaft that opens clockwise, one link."""
    return rig(
        crank("crank", (0.0, 0.0, 0.0), arms(out=crank_arm)),
        shaft("a", (*pivot, 0.0), "cw", arms(drive=arm)),
        Link("link", ("crank.out", "a.drive")),
        drive="crank",
    )


@pytest.mark.parametrize(
    ("crank_arm", "pivot", "arm", "extra"),
    [((39.0, 264.0), (68.0, 7.0), (20.0, 211.0), 3.5), ((41.0, 271.0), (83.0, -29.0), (30.0, 188.0), 4.5)],
)
def test_a_shaft_that_comes_to_its_dead_point_before_idle_closes_as_far_as_that(
    crank_arm: tuple[float, float], pivot: tuple[float, float], arm: tuple[float, float], extra: float
) -> None:
    linkage = lengthened(one_link(crank_arm, pivot, arm), extra)
    train = assemble(linkage)
    # there the shaft's arm and the link lie in line: the crank's pin is both their lengths from the shaft
    apart, reach = math.hypot(*pivot), float(train.joints[0].length) + arm[0]
    corner = math.degrees(math.acos((apart**2 + crank_arm[0] ** 2 - reach**2) / (2.0 * apart * crank_arm[0])))
    seen = math.degrees(math.atan2(pivot[1], pivot[0]))
    angles = [(seen + side * corner - crank_arm[1]) % 360.0 - 360.0 for side in (1, -1)]
    assert ends(linkage)[0] == pytest.approx(max(angles), rel=0, abs=1e-9)
    assert holds(linkage) == (None, "a.wide_open")
    run = solve(linkage)
    assert np.all(np.isfinite(run.plate_angle["a"]))
    assert 10.0 < run.plate_angle["a"][0] < 10.0 + abs(math.degrees(train.drawn["a"]))
    assert run.travel.before_toggle[0] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("linkage", "extra"),
    [
        (lever_pair(30.0, 30.0), -20.0),
        (one_link((32.0, 354.0), (102.0, 13.0), (28.0, 230.0)), -2.5),  # opened past half a turn at its dead point
        (one_link((42.0, 353.0), (93.0, -13.0), (35.0, 184.0)), -2.0),  # opening again, but little, at its dead point
    ],
)
def test_a_shaft_that_cannot_close_for_a_dead_centre_starts_as_drawn(linkage: Linkage, extra: float) -> None:
    given = lengthened(linkage, extra)
    assert ends(given)[0] == 0.0
    assert holds(given)[0] is None
    drawn, opens = float(assemble(given).drawn["a"]), float(assemble(given).opens)
    run = solve(given)
    assert run.plate_angle["a"][0] == pytest.approx(10.0 + abs(math.degrees(drawn)), rel=0, abs=1e-9)
    # from the drawn position back to the dead point it closes at first, but never as far as its stop
    reach = math.degrees(run.travel.before_toggle[0])
    followed = LoopEquations(given)
    plates = [followed.plate_angle("a", -opens * reach * share) for share in np.linspace(0.0, 0.999, 100)]
    assert 10.0 < min(plates) < plates[0]
    assert int(np.argmin(plates)) < 99


def test_a_shaft_shut_beyond_its_stop_for_good_leaves_no_travel() -> None:
    linkage = lengthened(one_link((40.0, 154.0), (102.0, 26.0), (44.0, 262.0)), 4.5)
    followed = LoopEquations(linkage)
    opens = float(assemble(linkage).opens)
    assert max(followed.plate_angle("a", opens * t) for t in range(0, 150, 3)) < 10.0
    assert ends(linkage) == (0.0, 0.0)
    assert holds(linkage)[0] == "a.idle"


def test_a_stop_beyond_the_dead_point_is_not_taken_for_one_on_this_side() -> None:
    # the shaft could stand at wide open with the crank at 42 deg, but only on the far side of the dead point
    linkage = rig(
        crank("crank", (60.0, 70.0, 0.0), arms(out=(34.0, 170.0))),
        shaft("a", (0.0, 0.0, 0.0), "ccw", arms(drive=(36.0, 175.0))),
        Link("link", ("crank.out", "a.drive")),
        drive="crank",
    )
    train = assemble(linkage)
    turned, far = math.radians(175.0 + 78.0), math.radians(170.0 + 42.309)
    pins = (36.0 * math.cos(turned), 36.0 * math.sin(turned)), (60 + 34.0 * math.cos(far), 70 + 34.0 * math.sin(far))
    assert math.dist(*pins) == pytest.approx(float(train.joints[0].length), abs=1e-3)
    assert np.isnan(driver_turn(train, "a", math.radians(78.0)))
    assert holds(linkage) == ("a.idle", None)
    assert solve(linkage).plate_angle["a"][-1] < 88.0


def test_the_drawn_position_may_lie_outside_the_travel() -> None:
    # a shorter link opens the shaft, a longer one lets it past idle: the closing end moves the other way
    for extra, past in ((-1.5, -1.0), (1.5, 1.0)):
        given = lengthened(lever_pair(30.0, 30.0), extra)
        closing = ends(given)[0]
        assert math.copysign(1.0, closing) == past
        assert solve(given).plate_angle["a"][0] == pytest.approx(10.0, rel=0, abs=1e-9)


def test_a_shaft_may_be_the_driver_and_carry_stops_of_its_own() -> None:
    linkage = with_stop(series(), Stop("pedal", "one", "opening", plate_angle=80.0))
    assert ends(linkage) == pytest.approx((0.0, 70.0), rel=0, abs=1e-12)
    assert holds(linkage) == ("one.idle", "pedal")


def test_idle_above_wide_open_leaves_no_travel() -> None:
    linkage = crossed_pair()
    upside_down = dataclasses.replace(
        linkage,
        shaft={**linkage.shaft, "a": dataclasses.replace(linkage.shaft["a"], plate_angle=PlateAngle(5, 50, 40))},
    )
    assert ends(upside_down) == (0.0, 0.0)
    assert holds(upside_down) == ("a.idle", "a.wide_open")
