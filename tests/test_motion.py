"""The motion against arithmetic that can be done by hand: law of cosines, in the test, no closure.

The cases are classic layouts in trade sizes: 30 mm levers, 250 mm between shafts, 78 degrees of
travel. Printed answers were worked by hand to the digits shown; tolerance half the last digit.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from numpy.typing import NDArray
from trains import (
    EXAMPLES,
    arms,
    bell_crank,
    coupled,
    crank,
    crossed_pair,
    hand_set,
    parallel_pair,
    rig,
    shaft,
)

from linkage.errors import AssemblyError, DesignError
from linkage.motion import Motion, assemble, find_travel, solve, walk
from linkage.parts import Coupling, Link, Linkage, dimensions

Floats = NDArray[np.float64]

SWING = 78.0


def by_cosines(
    turn: float, *, start: float, other_start: float, radius: float = 30.0, other_radius: float = 30.0
) -> float:
    """Turn [deg] of the second shaft of a pair 250 mm apart, its link fitted at the start angles.

    In the triangle second shaft, first pin, second pin all three sides are known.
    """

    def first_pin(angle: float) -> tuple[float, float]:
        return radius * math.cos(math.radians(angle)), radius * math.sin(math.radians(angle))

    x, y = first_pin(start)
    end = math.radians(other_start)
    length = math.hypot(250.0 + other_radius * math.cos(end) - x, other_radius * math.sin(end) - y)
    x, y = first_pin(start + turn)
    diagonal = math.hypot(250.0 - x, y)
    towards_pin = math.degrees(math.atan2(y, x - 250.0))
    cosine = (diagonal**2 + other_radius**2 - length**2) / (2.0 * diagonal * other_radius)
    corner = math.degrees(math.acos(cosine))
    angles = [(towards_pin + side * corner - other_start + 180.0) % 360.0 - 180.0 for side in (1, -1)]
    wanted = -turn if other_start < 0.0 else turn
    return min(angles, key=lambda a: abs(a - wanted))


def spread(run: Motion) -> Floats:
    """First shaft's plate angle less the second's [deg]."""
    first, second = run.plate_angle.values()
    return first - second


def test_levers_clocked_alike_about_the_line_of_centres_agree_at_both_ends_and_not_between() -> None:
    run = solve(crossed_pair(51.0, -51.0), positions=79)  # a degree apart
    assert run.train.joints[0].length == pytest.approx(math.hypot(250.0, 2.0 * 30.0 * math.sin(math.radians(51.0))))
    assert run.ends == pytest.approx((0.0, SWING), abs=1e-12)
    assert spread(run)[[0, -1]] == pytest.approx(0.0, abs=1e-9)
    # in the middle both levers stand square to the line of centres if the outputs mirror: the link
    # would then need to be longer than it is
    assert math.hypot(250.0, 60.0) - run.train.joints[0].length == pytest.approx(2.79, abs=0.005)
    assert abs(spread(run)[39]) == pytest.approx(5.42, abs=0.005)
    assert np.max(np.abs(spread(solve(crossed_pair(), positions=1561)))) == pytest.approx(5.45, abs=0.005)


@pytest.mark.parametrize(
    ("angle", "other_angle", "length", "largest"),
    [
        (51.0, -51.0, 254.31, 5.45),
        (37.1, -64.9, 243.05, 0.72),  # both levers turned square to the link at mid travel
        (39.0, -63.0, 244.60, 0.14),
        (51.0, -64.9, 249.02, 1.77),  # one lever only
        (41.0, -65.5, 244.36, 0.21),
    ],
)
def test_clocking_to_the_link_mends_the_middle(angle: float, other_angle: float, length: float, largest: float) -> None:
    run = solve(crossed_pair(angle, other_angle), positions=1561)
    assert run.ends == pytest.approx((0.0, SWING), abs=1e-9)
    assert run.train.joints[0].length == pytest.approx(length, abs=0.005)
    assert np.max(np.abs(spread(run))) == pytest.approx(largest, abs=0.005)
    for turn in (0.0, 13.0, 39.0, 71.0, SWING):
        by_hand = by_cosines(turn, start=angle, other_start=other_angle)
        assert run.at(turn).member_turn["b"][0] == pytest.approx(by_hand, rel=0, abs=1e-9)


@pytest.mark.parametrize(
    ("centres", "largest"), [(80.0, 17.1), (120.0, 11.4), (180.0, 7.6), (250.0, 5.4), (400.0, 3.4)]
)
def test_closer_shafts_disagree_more(centres: float, largest: float) -> None:
    run = solve(crossed_pair(centres=centres, other_wide_open=120.0), positions=1561)
    assert np.max(np.abs(spread(run))) == pytest.approx(largest, abs=0.06)


@pytest.mark.parametrize("height", [0.0, 10.0, 25.0])
def test_a_parallelogram_is_exact_whatever_the_shaft_heights(height: float) -> None:
    run = solve(parallel_pair(height=height))
    assert run.ends == pytest.approx((0.0, SWING), abs=1e-12)
    np.testing.assert_allclose(spread(run), 0.0, rtol=0, atol=1e-9)
    np.testing.assert_allclose(run.speed["b"], 1.0, rtol=0, atol=1e-9)
    np.testing.assert_allclose(run.second["b"], 0.0, rtol=0, atol=1e-9)


def test_half_a_millimetre_of_lever_costs_a_degree_and_a_half() -> None:
    run = solve(parallel_pair(other_radius=30.5), positions=3)
    for i, printed in ((1, 0.59), (2, 1.50)):
        by_hand = by_cosines(float(run.turn[i]), start=51.0, other_start=51.0, other_radius=30.5)
        assert run.member_turn["b"][i] == pytest.approx(by_hand, rel=0, abs=1e-9)
        assert spread(run)[i] == pytest.approx(printed, abs=0.005)


@pytest.mark.parametrize(
    ("start", "printed", "at", "half_a_digit"), [(51.0, 0.43, 39.0, 0.005), (80.0, 4.2, 78.0, 0.05)]
)
def test_two_degrees_of_clocking_cost_most_where_the_lever_ends_in_line(
    start: float, printed: float, at: float, half_a_digit: float
) -> None:
    run = solve(parallel_pair(angle=start, other_angle=start + 2.0)).at(at)
    by_hand = by_cosines(at, start=start, other_start=start + 2.0)
    assert run.member_turn["b"][0] == pytest.approx(by_hand, rel=0, abs=1e-9)
    assert abs(spread(run)[0]) == pytest.approx(printed, abs=half_a_digit)


@pytest.mark.parametrize(
    ("turn", "exact"),
    [
        (-30.0, 17.1712240669414),
        (-20.0, 5.602949686575),
        (-10.0, 1.18139614904647),
        (0.0, 0.0),
        (10.0, 0.954112826581639),
        (20.0, 3.54222528501129),
        (30.0, 7.50271237121127),
        (40.0, 12.7044312894903),
        (45.0, 15.7540619223209),
    ],
)
def test_a_short_crossed_pair_agrees_with_high_precision_arithmetic(turn: float, exact: float) -> None:
    # 30 mm arms square to a 100 mm line of centres; worked in 40 digits by two unrelated routes
    run = solve(crossed_pair(90.0, -90.0, centres=100.0)).at(turn)
    assert run.train.joints[0].length == pytest.approx(math.sqrt(13600.0), rel=0, abs=1e-12)
    assert run.member_turn["b"][0] + turn == pytest.approx(exact, rel=0, abs=1e-9)


def test_the_short_crossed_pair_does_not_reach_back_forty_degrees() -> None:
    # first pin at 50 deg: 30 (cos, sin): from the second shaft sqrt((100 - 19.28)^2 + 22.98^2) = 83.9,
    # less than the link's 116.6 - 30
    run = solve(crossed_pair(90.0, -90.0, centres=100.0)).at([-40.0, -45.0])
    assert np.all(np.isnan(run.member_turn["b"]))
    assert np.all(np.isfinite(run.member_turn["a"]))


def test_drop_links_set_off_sideways_are_shorter_seen_along_the_shaft() -> None:
    # equal levers in parallel: sideways offset 40 of a link sqrt(90^2 + 40^2), still exactly 1:1
    linkage = rig(
        crank("tube", (0.0, 90.0, 0.0), arms(drop=(30.0, 150.0, 40.0))),
        shaft("a", (0.0, 0.0, 0.0), "ccw", arms(drive=(30.0, 150.0))),
        Link("drop", ("tube.drop", "a.drive")),
        drive="tube",
    )
    run = solve(linkage)
    assert run.train.joints[0].length == pytest.approx(math.hypot(90.0, 40.0), rel=0, abs=1e-12)
    np.testing.assert_allclose(run.member_turn["a"], run.turn, rtol=0, atol=1e-9)


def test_couplings_multiply_and_offset() -> None:
    run = solve(coupled())
    np.testing.assert_allclose(run.member_turn["front"], run.member_turn["rear"] - 0.4, rtol=0, atol=1e-9)
    np.testing.assert_allclose(run.member_turn["twin"], -1.05 * run.member_turn["front"] + 0.3, rtol=0, atol=1e-9)
    np.testing.assert_allclose(run.speed["twin"], -1.05 * run.speed["front"], rtol=0, atol=1e-12)
    np.testing.assert_allclose(run.second["twin"], -1.05 * run.second["front"], rtol=0, atol=1e-12)


def test_a_sector_pair_of_small_ratio_is_followed_past_half_a_turn() -> None:
    # 78 degrees of plate through 0.35: the pinion turns 222.857 degrees
    linkage = rig(
        crank("pinion", (0.0, 40.0, 0.0), {}),
        shaft("a", (0.0, 0.0, 0.0), "cw", arms(out=(30.0, 140.0))),
        shaft("b", (-150.0, 0.0, 0.0), "cw", arms(drive=(30.0, 140.0))),
        Coupling("sectors", ("a", "pinion"), -1.0 / 0.35),
        Link("side", ("a.out", "b.drive")),
        drive="pinion",
    )
    run = solve(linkage, positions=7)
    assert run.ends == pytest.approx((0.0, 78.0 / 0.35), rel=0, abs=1e-9)
    for name in ("a", "b"):
        np.testing.assert_allclose(run.plate_angle[name], np.linspace(10.0, 88.0, 7), rtol=0, atol=1e-9)


def test_a_member_that_turns_faster_than_the_driver_is_counted_past_half_a_turn() -> None:
    linkage = rig(
        shaft("a", (0.0, 0.0, 0.0), "ccw", {}),
        crank("pinion", (0.0, 40.0, 0.0), {}),
        Coupling("sectors", ("a", "pinion"), -5.0, 2.0),
        drive="a",
    )
    run = solve(linkage, positions=4)
    np.testing.assert_allclose(run.member_turn["pinion"], 2.0 - 5.0 * run.turn, rtol=0, atol=1e-9)
    assert run.member_turn["pinion"][-1] == pytest.approx(2.0 - 390.0, abs=1e-9)
    assert run.at(70.0).member_turn["pinion"][0] == pytest.approx(-348.0, abs=1e-9)


def test_a_given_length_moves_the_shaft_off_idle_by_cosines() -> None:
    fitted = crossed_pair()
    length = 255.0
    given = dataclasses.replace(fitted, link={"cross": dataclasses.replace(fitted.link["cross"], length=length)})
    at = assemble(given)
    x, y = 30.0 * math.cos(math.radians(51.0)), 30.0 * math.sin(math.radians(51.0))
    diagonal = math.hypot(250.0 - x, y)
    corner = math.degrees(math.acos((diagonal**2 + 900.0 - length**2) / (2.0 * diagonal * 30.0)))
    angle = math.degrees(math.atan2(y, x - 250.0)) + corner - 360.0
    assert math.degrees(at.drawn["b"]) == pytest.approx(angle + 51.0, rel=0, abs=1e-9)


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_link_keeps_its_length(name: str) -> None:
    linkage = EXAMPLES[name]()
    run = solve(linkage, positions=37)
    for joint in run.train.joints:
        if joint.driving is None or joint.driven is None:
            continue
        ends = [
            [frame.centre[i] + frame.r * (c * frame.e1[i] + (not frame.slides) * s * frame.e2[i]) for i in range(3)]
            for frame, (c, s) in (
                (joint.driving, run.pose[joint.step.driving]),
                (joint.driven, run.pose[joint.step.driven]),
            )
        ]
        length = np.sqrt(sum((p - q) ** 2 for p, q in zip(*ends, strict=True)))
        np.testing.assert_allclose(length, joint.length, rtol=1e-12, atol=0)


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_number_of_positions_does_not_move_the_ends(name: str) -> None:
    linkage = EXAMPLES[name]()
    few, many = solve(linkage, positions=2), solve(linkage, positions=1001)
    assert few.ends == many.ends
    for member in linkage.members:
        assert few.member_turn[member][[0, -1]] == pytest.approx(many.member_turn[member][[0, -1]], rel=0, abs=1e-12)


@pytest.mark.parametrize("name", EXAMPLES)
def test_positions_are_even_in_driver_turn_and_the_fraction_runs_from_nought_to_one(name: str) -> None:
    run = solve(EXAMPLES[name](), positions=13)
    np.testing.assert_allclose(run.turn, np.linspace(*run.ends, 13), rtol=0, atol=1e-12)
    assert run.fraction[0] == 0.0
    assert run.fraction[-1] == pytest.approx(1.0, abs=1e-12)
    assert np.all(np.diff(run.fraction) > 0.0)


@pytest.mark.parametrize("positions", [1, 0, -3, 2.5, True, float("nan"), "many", None])
def test_positions_must_be_a_whole_number_of_at_least_two(positions: object) -> None:
    with pytest.raises(ValueError, match="positions: must be a whole number of at least 2"):
        solve(crossed_pair(), positions=positions)  # type: ignore[arg-type]


def test_a_motion_can_be_asked_outside_its_travel_and_says_nan_where_it_cannot_assemble() -> None:
    run = solve(crossed_pair())
    beyond = run.at([-30.0, 100.0])
    assert np.isnan(beyond.member_turn["b"][0])
    assert beyond.member_turn["b"][1] == pytest.approx(by_cosines(100.0, start=51.0, other_start=-51.0), abs=1e-9)


def test_a_link_too_short_or_too_long_says_by_how_much_and_what_would_reach() -> None:
    fitted = crossed_pair()

    def given(length: float) -> Linkage:
        return dataclasses.replace(fitted, link={"cross": dataclasses.replace(fitted.link["cross"], length=length)})

    diagonal = math.hypot(250.0 - 30.0 * math.cos(math.radians(51.0)), 30.0 * math.sin(math.radians(51.0)))
    with pytest.raises(AssemblyError, match="too long by") as error:
        assemble(given(300.0))
    assert error.value.link == "cross"
    assert error.value.short_by == pytest.approx(300.0 - (diagonal + 30.0), abs=1e-9)
    with pytest.raises(AssemblyError, match="too short by") as error:
        assemble(given(150.0))
    assert error.value.short_by == pytest.approx(diagonal - 30.0 - 150.0, abs=1e-9)
    assert f"{diagonal - 30.0:.4f} to {diagonal + 30.0:.4f} mm" in str(error.value)


def test_an_arm_drawn_along_its_link_has_no_branch() -> None:
    along = crossed_pair(0.0, 0.0)
    with pytest.raises(AssemblyError, match="dead point") as error:
        solve(along)
    assert error.value.link == "cross"


def test_a_coupling_that_does_not_turn_is_refused() -> None:
    stuck = dataclasses.replace(coupled(), coupling={"sync": Coupling("sync", ("front", "rear"), 0.0)})
    with pytest.raises(AssemblyError, match='coupling "sync"'):
        assemble(stuck)


def test_many_linkages_at_once_leave_nan_where_one_cannot_be_assembled() -> None:
    linkage = crossed_pair()
    dims = {**dimensions(linkage), "link.cross.length": np.array([[254.0], [300.0], [255.0]])}
    train = assemble(linkage, dims)
    turn = np.radians(np.linspace(0.0, 78.0, 5))
    c, s = walk(train, (np.cos(turn), np.sin(turn)))["b"]
    assert c.shape == (3, 5)
    np.testing.assert_array_equal(np.isnan(c[:, 0]), [False, True, False])
    np.testing.assert_array_equal(np.isnan(s[1]), True)
    travel = find_travel(train)
    np.testing.assert_array_equal(np.isnan(travel.closing).ravel(), [False, True, False])
    np.testing.assert_array_equal(np.isnan(travel.opening).ravel(), [False, True, False])


def test_the_columns_carry_units_and_the_table_prints() -> None:
    run = solve(bell_crank())
    assert list(run.columns()) == [
        "travel [%]",
        "centre [deg]",
        "cable [mm]",
        "left plate [deg]",
        "right plate [deg]",
    ]
    shown = str(run)
    assert "91 positions" in shown
    assert len(shown.splitlines()) == 15
    assert run._repr_html_().count("<tr>") == 14


def test_a_frame_has_the_same_columns() -> None:
    run = solve(hand_set(), positions=5)
    frame = run.to_frame()
    assert list(frame.columns) == list(run.columns())  # type: ignore[attr-defined]
    assert frame.shape == (5, 5)  # type: ignore[attr-defined]


def test_parts_that_do_not_make_one_train_are_refused_by_name() -> None:
    linkage = crossed_pair()
    loose = dataclasses.replace(linkage, link={})
    with pytest.raises(DesignError, match='shaft "b": is loose'):
        solve(loose)
    twice = dataclasses.replace(linkage, link={**linkage.link, "again": Link("again", ("b.drive", "a.drive"))})
    with pytest.raises(DesignError, match=r'link "again".*driven twice'):
        solve(twice)
