"""Clearance: against points scattered along the parts, a search by another route, and figures by hand."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize
from trains import EXAMPLES, arms, bell_crank, coupled, crank, parallel_pair, shaft
from trains import rig as rig_of

from linkage import closure
from linkage.answers.clearance import ClearanceReport, Gap, centre_lines, checks, clearance, lacks, segment_distance
from linkage.answers.clearance import parts_of as all_parts
from linkage.motion import Motion, solve
from linkage.parts import Coupling, Limits, Link, Linkage

Point = tuple[float, float, float]
places = st.tuples(*(st.floats(-50.0, 50.0).map(lambda v: round(v, 3)),) * 3)


def sized(rig: Linkage, *, link: float | None = 8.0, width: float | None = None, hub: float | None = None) -> Linkage:
    """The linkage with all its links, arms and hubs of one size each."""

    def of(member: Any) -> Any:
        wide = {name: dataclasses.replace(arm, width=width) for name, arm in member.arm.items()}
        return dataclasses.replace(member, arm=wide, hub_diameter=hub)

    return dataclasses.replace(
        rig,
        link={name: dataclasses.replace(one, diameter=link) for name, one in rig.link.items()},
        shaft={name: of(one) for name, one in rig.shaft.items()},
        bellcrank={name: of(one) for name, one in rig.bellcrank.items()},
    )


def told(rig: Linkage) -> ClearanceReport:
    report = clearance(solve(rig))
    assert report is not None
    return report


def between(report: ClearanceReport, one: str, other: str) -> Gap:
    (found,) = [gap for gap in report.gaps if set(gap.between) == {one, other}]
    return found


def nearest(a: Any, b: Any, c: Any, d: Any) -> float:
    """Distance of two segments by bounded minimisation from four starts."""
    a, b, c, d = (np.array(p, float) for p in (a, b, c, d))

    def apart(at: Any) -> float:
        away = a + at[0] * (b - a) - c - at[1] * (d - c)
        return float(away @ away)

    tries = [minimize(apart, start, bounds=[(0.0, 1.0)] * 2, tol=1e-14) for start in ((0, 0), (0, 1), (1, 0), (1, 1))]
    return math.sqrt(min(float(one.fun) for one in tries))


# ---- two segments --------------------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(places, places, places, places)
def test_two_segments_against_a_minimiser(a: Point, b: Point, c: Point, d: Point) -> None:
    distance, (p, q) = segment_distance(*(np.array(x) for x in (a, b, c, d)))
    assert distance == pytest.approx(nearest(a, b, c, d), abs=2e-4)
    assert float(np.linalg.norm(p - q)) == pytest.approx(float(distance), abs=1e-9)


@pytest.mark.parametrize(
    ("a", "b", "c", "d", "distance"),
    [
        ((0, 0, 0), (10, 0, 0), (5, -5, 3), (5, 5, 3), 3.0),  # across each other
        ((0, 0, 0), (10, 0, 0), (2, 4, 0), (8, 4, 0), 4.0),  # side by side
        ((0, 0, 0), (10, 0, 0), (13, 4, 0), (20, 4, 0), 5.0),  # one behind the other
        ((0, 0, 0), (10, 0, 0), (12, 0, 0), (15, 0, 0), 2.0),  # in one line
        ((0, 0, 0), (10, 0, 0), (4, 0, 0), (4, 0, 0), 0.0),  # a point on a segment
        ((1, 2, 2), (1, 2, 2), (0, 0, 0), (0, 0, 0), 3.0),  # two points
        ((0, 0, 0), (10, 0, 0), (5, -5, 0), (5, 5, 0), 0.0),  # crossing
    ],
)
def test_segments_by_hand(a: Point, b: Point, c: Point, d: Point, distance: float) -> None:
    for one, two, three, four in ((a, b, c, d), (b, a, d, c), (c, d, a, b)):
        found, _ = segment_distance(*(np.array(x, float) for x in (one, two, three, four)))
        assert found == pytest.approx(distance, abs=1e-12)


# ---- a whole linkage -----------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["bell_crank", "cross_tube", "skew", "series", "tilted"])
def test_gaps_against_points_scattered_along_every_part(name: str) -> None:
    run = solve(sized(EXAMPLES[name](), link=8.0, width=10.0, hub=14.0))
    report = clearance(run)
    assert report is not None
    thick = {part.name: part.thickness for part in all_parts(run)}
    fine = centre_lines(run.at(np.linspace(*run.ends, 401)))
    along = np.linspace(0.0, 1.0, 61)[:, None, None]
    for gap in report.gaps[:6]:
        one, two = (fine[part] for part in gap.between)
        p, q = (end[0] + along * (end[1] - end[0]) for end in (one, two))
        apart = min(float(np.min(np.linalg.norm(p[i] - q, axis=-1))) for i in range(len(p)))
        radii = 0.5 * sum(thick[part] or 0.0 for part in gap.between)
        step = max(float(np.max(np.linalg.norm(end[1] - end[0], axis=-1))) for end in (one, two)) / 60
        assert gap.gap <= apart - radii + 1e-9
        assert apart - radii <= gap.gap + step + 0.3  # points that far apart miss no more
    assert [gap.gap for gap in report.gaps] == sorted(gap.gap for gap in report.gaps)


def test_the_place_told_is_where_the_parts_are_that_near() -> None:
    run = solve(sized(EXAMPLES["skew"](), width=6.0))
    report = clearance(run)
    assert report is not None
    for gap in report.gaps[:8]:
        lines = centre_lines(run.at(gap.turn))
        one, two = (
            nearest(*(end[0] for end in lines[part]), p, p) for part, p in zip(gap.between, gap.points, strict=True)
        )
        assert (one, two) == pytest.approx((0.0, 0.0), abs=1e-4)
        assert run.at(gap.turn).fraction[0] == pytest.approx(gap.fraction, abs=1e-12)


def test_a_link_over_the_hub_of_its_own_shaft_by_hand() -> None:
    """Square to its arm the link is the arm's radius from the axis; turned by t it is r cos t."""
    report = told(sized(parallel_pair(angle=51.0, other_angle=51.0), link=8.0, hub=12.0))
    # the arms swing from 51 to 129 deg: the link stands 30 sin 51 over either axis at both ends
    expected = 30.0 * math.sin(math.radians(51.0)) - 4.0 - 6.0
    assert between(report, "link.side", "shaft.a").gap == pytest.approx(expected, abs=1e-9)
    assert between(report, "link.side", "shaft.b").gap == pytest.approx(expected, abs=1e-9)


def test_stations_part_what_crosses_in_one_plane() -> None:
    rig = sized(bell_crank(), link=8.0, width=12.0)
    flat = told(rig)
    assert flat.least.gap == pytest.approx(-10.0, abs=1e-9)
    assert set(flat.least.between) == {"link.left", "bellcrank.centre.arm.cable"}
    (check,) = checks(solve(rig), flat)
    assert check.verdict == "fail"
    assert "give the arms their stations" in check.says
    apart = told(rig.replace("bellcrank.centre.arm.cable.station", 25.0))
    assert between(apart, "link.left", "bellcrank.centre.arm.cable").gap == pytest.approx(15.0, abs=0.01)


def test_an_approach_in_mid_travel_is_found_between_the_positions() -> None:
    """A pin that sweeps past a fixed hub: nearest on the line of centres, by hand."""
    rig = rig_of(
        crank("lever", (0.0, 0.0, 0.0), arms(out=(40.0, 60.0), tip=(50.0, 70.0))),
        shaft("a", (90.0, 0.0, 0.0), "ccw", arms(drive=(40.0, 60.0))),
        crank("post", (-20.0, 90.0, 0.0), {}),
        Link("up", ("lever.out", "a.drive"), diameter=6.0),
        Coupling("gears", ("lever", "post"), -1.0),
        drive="lever",
    )
    report = told(rig)
    # the tip passes under the post: distance of centres less the tip's radius
    found = between(report, "bellcrank.lever.arm.tip", "bellcrank.post")
    assert found.gap == pytest.approx(math.hypot(20.0, 90.0) - 50.0, abs=1e-6)
    assert found.turn == pytest.approx(math.degrees(math.atan2(90.0, -20.0)) - 70.0, abs=0.05)
    assert 0.1 < found.fraction < 0.9


def test_what_touches_by_design_is_not_compared() -> None:
    report = told(sized(bell_crank(), width=10.0, hub=10.0))
    pairs = {frozenset(gap.between) for gap in report.gaps}
    assert frozenset(("link.left", "bellcrank.centre.arm.left")) not in pairs
    assert frozenset(("link.left", "shaft.left.arm.drive")) not in pairs
    assert frozenset(("bellcrank.centre.arm.left", "bellcrank.centre.arm.right")) not in pairs
    assert frozenset(("shaft.left", "shaft.right")) not in pairs
    assert frozenset(("link.left", "bellcrank.centre.arm.right")) in pairs
    assert frozenset(("link.left", "shaft.left")) in pairs
    assert frozenset(("link.left", "link.right")) in pairs
    in_line = told(sized(coupled().replace("shaft.rear.pivot.z", 0.0)))
    assert frozenset(("shaft.front.arm.drive", "shaft.rear")) not in {frozenset(gap.between) for gap in in_line.gaps}


def test_what_has_no_size_is_a_line_and_is_named() -> None:
    bare, thick = told(sized(bell_crank())), told(sized(bell_crank(), width=9.0, hub=11.0))
    assert "shaft.left" in bare.without_size
    assert "bellcrank.centre.arm.cable" in bare.without_size
    assert thick.without_size == ()
    pair = ("link.right", "shaft.left.arm.drive")
    assert between(bare, *pair).gap - between(thick, *pair).gap == pytest.approx(4.5, abs=1e-9)


def test_an_arm_runs_from_the_axis_at_its_station() -> None:
    run = solve(EXAMPLES["cross_tube"]())
    lines = centre_lines(run)
    np.testing.assert_allclose(lines["shaft.one.arm.drive"][0][0], [-10.0, 0.0, 4.0], atol=1e-12)
    low, high = lines["bellcrank.tube"]
    np.testing.assert_allclose([low[0], high[0]], [[0.0, 90.0, 0.0], [0.0, 90.0, 225.0]], atol=1e-12)
    pin = closure.pin(run.train.joints[0].driven, *run.pose["one"])  # type: ignore[arg-type]
    np.testing.assert_allclose(lines["shaft.one.arm.drive"][1], np.stack(np.broadcast_arrays(*pin), axis=-1))


def test_what_lacks_is_said() -> None:
    assert "diameter" in lacks(bell_crank())
    assert clearance(solve(bell_crank())) is None
    assert checks(solve(bell_crank()), None) == ()


def test_the_gap_is_held_to_the_limit_in_the_design_s_unit() -> None:
    rig = sized(parallel_pair(), hub=12.0)
    run: Motion = solve(rig)
    report = told(rig)
    (check,) = checks(run, report)
    assert (check.name, check.verdict, check.limit, check.unit) == ("gap", "pass", 5.0, "mm")
    close = dataclasses.replace(rig, limits=Limits(gap=report.least.gap + 0.01), units="in")
    (check,) = checks(solve(close), told(close))
    assert check.verdict == "fail"
    assert f"{report.least.gap / 25.4:.3f} in" in check.says
