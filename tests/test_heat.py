"""Heat: against drawings scaled by hand, and the arithmetic one can do on paper."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from trains import EXAMPLES, bell_crank, coupled, crossed_pair, parallel_pair, series, with_stop

from linkage.answers.heat import HeatReport, checks, growth, heat, heated, lacks
from linkage.answers.mismatch import mismatch
from linkage.motion import Motion, solve
from linkage.parts import Heat, Linkage, Stop

ALUMINIUM, STEEL = 21.5e-6, 12.0e-6


def warm(rig: Linkage, given: Heat) -> Motion:
    return solve(dataclasses.replace(rig, heat=given))


def told(run: Motion) -> HeatReport:
    report = heat(run)
    assert report is not None
    return report


def apart(report: HeatReport) -> float:
    assert report.hot is not None
    return report.hot.mismatch.at_idle


def test_the_hand_check_of_a_steel_link_between_aluminium_bodies() -> None:
    """250 mm, bodies 70 K and link 50 K warmer: 0.226 mm short, on 30 mm arms square to it 0.43 deg."""
    run = warm(parallel_pair(angle=90.0, other_angle=90.0), Heat(70.0, ALUMINIUM, STEEL, 0.0, 50.0))
    report = told(run)
    assert report.set_cold["side"] == pytest.approx(0.226, abs=0.0005)
    assert apart(report) == pytest.approx(0.43, abs=0.005)
    # exactly: the net growth turns the shaft by asin(net / r) but for what the arc makes of it
    grown, link = 250.0 * (1.0 + ALUMINIUM * 70.0), 250.0 * (1.0 + STEEL * 50.0)
    # the pin of the second arm, on its circle about (grown, 0), at a distance link from (0, 30)
    d = np.hypot(grown, 30.0)
    angle = np.arctan2(30.0, -grown) - np.arccos((d * d + 900.0 - link * link) / (2.0 * 30.0 * d))
    assert apart(report) == pytest.approx(abs(90.0 - np.degrees(angle)), abs=1e-9)
    # the first shaft holds the stop, so half of it is what both plates have in common
    assert report.lifts == pytest.approx({"a": 0.0, "b": apart(report)}, abs=1e-12)
    assert report.common_lift == pytest.approx(0.5 * apart(report), abs=1e-12)


@pytest.mark.parametrize(
    ("centres", "arm", "degrees"), [(180.0, 30.0, 0.31), (250.0, 25.0, 0.52), (400.0, 40.0, 0.52), (400.0, 30.0, 0.69)]
)
def test_the_table_of_net_growth_over_radius(centres: float, arm: float, degrees: float) -> None:
    """Own arithmetic, (21.5 x 70 - 12 x 50)e-6 x centres / radius, to two decimals."""
    rig = parallel_pair(angle=90.0, other_angle=90.0).replace("shaft.b.pivot.x", centres)
    rig = rig.replace("shaft.a.arm.drive.radius", arm).replace("shaft.b.arm.drive.radius", arm)
    assert apart(told(warm(rig, Heat(70.0, ALUMINIUM, STEEL, 0.0, 50.0)))) == pytest.approx(degrees, abs=0.006)


@pytest.mark.parametrize("name", list(EXAMPLES))
def test_what_grows_alike_everywhere_changes_nothing(name: str) -> None:
    run = warm(EXAMPLES[name](), Heat(120.0, 2.3e-5, 2.3e-5, 2.3e-5))
    report = told(run)
    assert report.hot is not None
    assert report.hot.mismatch.largest.value == pytest.approx(mismatch(run).largest.value, abs=1e-9)
    grown = 1.0 + 120.0 * 2.3e-5 if run.rig.driver in run.rig.slide else 1.0  # a travel grows too
    assert report.hot.run.ends == pytest.approx(tuple(grown * end for end in run.ends), abs=1e-8)
    assert list(report.lifts.values()) == pytest.approx([0.0] * len(report.lifts), abs=1e-9)
    assert list(report.set_cold.values()) == pytest.approx([0.0] * len(report.set_cold), abs=1e-9)


@pytest.mark.parametrize("name", [name for name in EXAMPLES if name != "tilted"])
def test_the_hot_linkage_is_the_drawing_scaled_by_hand(name: str) -> None:
    """Every path of the drawing scaled by its own factor, pins by both, and solved."""
    given = Heat(70.0, ALUMINIUM, STEEL, 2.3e-5, 50.0)
    run = warm(EXAMPLES[name](), given)
    by_hand = run.rig
    engine, links, arms = 1.0 + 70.0 * ALUMINIUM, 1.0 + 50.0 * STEEL, 1.0 + 70.0 * 2.3e-5
    dims = run.train.dims
    for path, value in dims.items():
        at, _, what = path.rpartition(".")
        if ".pivot." in path or ".casing_end." in path:
            by_hand = by_hand.replace(path, value * engine)
        elif path.startswith("slide."):
            continue
        elif ".pin." in path:
            pivot = dims[f"{at.split('.arm.')[0]}.pivot.{what}"]
            by_hand = by_hand.replace(path, pivot * engine + (value - pivot) * arms)
        elif what == "radius" or (what == "station" and value != 0.0):
            by_hand = by_hand.replace(path, value * arms)
    for name, block in run.rig.slide.items():
        places = np.array([pin.at for pin in block.pin.values()])
        along = np.array(block.along)
        foot = np.array(block.origin) + along * float((places.mean(axis=0) - block.origin) @ along)
        for pin, place in zip(block.pin, foot * engine + (places - foot) * arms, strict=True):
            for axis, value in zip("xyz", place, strict=True):
                by_hand = by_hand.replace(f"slide.{name}.pin.{pin}.at.{axis}", float(value))
    for name, stop in run.rig.stop.items():
        if stop.travel is not None:
            by_hand = by_hand.replace(f"stop.{name}.travel", stop.travel * engine)
    for joint in run.train.joints:
        if joint.forward is not None:
            by_hand = by_hand.replace(f"link.{joint.step.by.name}.length", float(joint.length) * links)
    report, expected = told(run), mismatch(solve(by_hand))
    assert report.hot is not None
    assert report.hot.mismatch.at_idle == pytest.approx(expected.at_idle, abs=1e-9)
    assert report.hot.mismatch.largest.value == pytest.approx(expected.largest.value, abs=1e-9)
    assert report.hot.mismatch.at_wide_open == pytest.approx(expected.at_wide_open, abs=1e-9)
    assert report.cold.mismatch.largest.value == pytest.approx(mismatch(run).largest.value, abs=1e-12)


@pytest.mark.parametrize("make", [bell_crank, crossed_pair, series, EXAMPLES["cross_tube"], EXAMPLES["skew"]])
def test_links_set_cold_as_told_bring_all_shafts_together_hot(make: Any) -> None:
    run = warm(make(), Heat(70.0, ALUMINIUM, STEEL, 0.0, 50.0))
    report = told(run)
    assert apart(report) > 0.02
    rig = run.rig
    for joint in run.train.joints:
        name = joint.step.by.name
        rig = rig.replace(f"link.{name}.length", float(joint.length) + report.set_cold[name])
    again = told(solve(rig))
    assert again.cold.mismatch.at_idle > 0.02
    assert apart(again) == pytest.approx(0.0, abs=1e-9)


def test_links_in_cooler_air_and_the_defaults() -> None:
    assert growth(Heat(100.0, 2e-5, 1e-5)) == pytest.approx((1.002, 1.001, 1.0), abs=1e-15)
    assert growth(Heat(100.0, 2e-5, 1e-5, 3e-5, 40.0)) == pytest.approx((1.002, 1.0004, 1.003), abs=1e-15)


def test_a_crank_that_holds_the_idle_lifts_both_plates_alike() -> None:
    """Mirrored halves: what the two plates have in common is the whole of it."""
    mirrored = bell_crank()
    mirrored = mirrored.replace("shaft.right.arm.drive.angle", 104.0)
    mirrored = mirrored.replace("bellcrank.centre.arm.right.angle", 102.0).replace("shaft.right.opens", "ccw")
    rig = with_stop(mirrored, Stop("crank", "centre", "closing", turn=0.5))
    report = told(warm(rig, Heat(70.0, ALUMINIUM, STEEL, 0.0, 50.0)))
    assert report.hot is not None
    assert report.hot.holds[0] == "crank"
    lifts = list(report.lifts.values())
    assert report.common_lift == pytest.approx(float(np.mean(lifts)), abs=1e-12)
    assert lifts[0] * lifts[1] < 0.0  # turning the same way, one opens as the other shuts


def test_the_quadrant_grows_with_the_arms_and_the_casing_with_the_engine() -> None:
    run = warm(series(), Heat(100.0, 1e-4, 0.0, 2e-4))
    assert heated(run).cable.radius == pytest.approx(28.0 * 1.02, abs=1e-12)  # type: ignore[union-attr]
    run = warm(bell_crank(), Heat(100.0, 1e-4, 0.0, 2e-4))
    assert heated(run).cable.casing_end == pytest.approx((-60.6, -151.5, 0.0), abs=1e-12)  # type: ignore[union-attr]


def test_what_stands_on_the_body_does_not_spread() -> None:
    rig = bell_crank().replace("bellcrank.centre.mounted", "body").replace("cable.mounted", "body")
    hot, cable = heated(warm(rig, Heat(100.0, 1e-4, 0.0, 2e-4))), bell_crank().cable
    assert cable is not None
    assert hot.bellcrank["centre"].pivot == (0.0, 58.0, 0.0)
    assert hot.bellcrank["centre"].arm["left"].radius == pytest.approx(35.0 * 1.02, abs=1e-12)  # it grows all the same
    assert hot.cable.casing_end == cable.casing_end  # type: ignore[union-attr]
    assert hot.shaft["left"].pivot == pytest.approx((-113.12, 0.0, 0.0), abs=1e-12)


def test_what_lacks_is_said() -> None:
    for given in (None, Heat(), Heat(0.0, ALUMINIUM, STEEL), Heat(70.0)):
        rig = dataclasses.replace(bell_crank(), heat=given)
        assert "[heat]" in lacks(rig)
        assert heat(solve(rig)) is None
        assert checks(solve(rig), None) == ()


def test_the_checks_tell_how_to_set_the_link_cold() -> None:
    run = warm(parallel_pair(angle=90.0, other_angle=90.0), Heat(70.0, ALUMINIUM, STEEL, 0.0, 50.0))
    idle = checks(run, told(run))[0]
    assert (idle.name, idle.verdict, idle.limit) == ("heat_at_idle", "caution", 0.1)
    assert 'link "side" 0.23 mm longer' in idle.says
    inch = dataclasses.replace(run.rig, units="in")
    assert 'link "side" 0.009 in longer' in checks(solve(inch), told(solve(inch)))[0].says
    same = warm(parallel_pair(angle=90.0, other_angle=90.0), Heat(70.0, ALUMINIUM, ALUMINIUM, ALUMINIUM))
    assert [check.verdict for check in checks(same, told(same))] == ["pass", "pass"]


def test_a_linkage_that_jams_hot_fails_with_the_link_named() -> None:
    run = warm(parallel_pair(), Heat(1000.0, 1e-3, 0.0))
    report = told(run)
    assert report.hot is None
    (check,) = checks(run, report)
    assert check.verdict == "fail"
    assert '"side"' in check.says
    assert "to have it fitted" not in check.says


def test_couplings_take_no_part_in_the_growth() -> None:
    report = told(warm(coupled(), Heat(70.0, ALUMINIUM, STEEL)))
    assert set(report.set_cold) == {"drop"}
