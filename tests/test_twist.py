"""Twist: its largest figures, what it sets apart at idle, and what the checks say and mend."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest
from sprung import on_each, sprung
from test_winding import both, lever, tube
from trains import bell_crank

import linkage
from linkage.answers.twist import TwistReport, checks, ends, lacks, twist
from linkage.answers.winding import twisted
from linkage.motion import Motion, solve
from linkage.parts import Limits, Linkage, Section, dimensions

DEMO = Path(__file__).parents[1] / "demo"


def told(run: Motion) -> TwistReport:
    report = twist(run)
    assert report is not None
    return report


def by_name(rig: Linkage) -> dict[str, tuple[str, float | None, str]]:
    run = solve(rig)
    return {check.name: (check.verdict, check.value, check.says) for check in checks(run, twist(run))}


def test_the_largest_are_of_the_curve() -> None:
    run = solve(both(), positions=3)
    report = told(run)
    fine = [twisted(run.at(np.linspace(*run.ends, 1501)), way) for way in ("opening", "closing")]  # type: ignore[arg-type]
    most = max(float(np.max(np.abs(rows))) for found in fine for rows in found.plates.values())
    assert abs(report.largest.value) == pytest.approx(most, rel=1e-6)
    name, plate, way = report.at
    assert (plate, way) == (3, "opening")  # the farthest, friction on top of the spring
    there = twisted(run.at(report.largest.turn), way).plates[name][plate - 1][0]
    assert report.largest.value == pytest.approx(there, rel=1e-9)
    assert report.apart.value == pytest.approx(max(float(np.max(found.apart)) for found in fine), rel=1e-6)


def test_apart_is_the_largest_less_the_least_of_all_plates() -> None:
    report = told(solve(both()))
    for found in (report.opening, report.closing):
        moved = np.concatenate(list(found.moved.values()))
        np.testing.assert_allclose(found.apart, np.ptp(moved, axis=0), atol=1e-15)
        plates = np.concatenate([found.run.plate_angle[name] + rows for name, rows in found.moved.items()])
        np.testing.assert_allclose(found.mismatch, np.ptp(plates, axis=0), atol=1e-12)
    low, high = ends(report.idle)
    assert high[2] - low[2] == pytest.approx(report.apart_at_idle, abs=1e-8)


def test_the_long_shaft_of_the_demo_by_hand() -> None:
    """350 N.mm less the friction's share over each piece from the stop at 5 mm to the plates, 8 mm of steel."""
    report = told(solve(linkage.read(DEMO / "long_shaft.toml")))
    stations, friction = [5.0, -30.0, -125.0, -220.0, -315.0, -410.0, -470.0], 30.0 / 6.0
    stiff, turned, lags = 79_300.0 * math.pi * 8.0**4 / 32.0, 0.0, []
    for i in range(6):
        # beyond this piece lie the springs and the plates from here to the end, whose friction is against closing
        carried = 350.0 - friction * (6 - i)
        turned += math.degrees(carried * (stations[i] - stations[i + 1]) / stiff)
        lags.append(turned)
    # the springs give back 2 N.mm a degree: 0.6 N.mm of 350
    np.testing.assert_allclose(-report.idle.plates["six"][:, 0], lags, rtol=3e-3)
    assert report.apart_at_idle == pytest.approx(lags[5] - lags[0], rel=3e-3)
    assert round(math.degrees(350.0 * 495.0 / stiff), 3) == 0.311  # as its comment works it out


def test_what_mends_the_long_shaft() -> None:
    rig = linkage.read(DEMO / "long_shaft.toml")
    assert {name: row[0] for name, row in by_name(rig).items()} == {
        "twist_at_idle": "caution", "twist_in_travel": "caution", "twist": "caution"
    }  # fmt: skip
    says = by_name(rig)["twist"][2]
    thick = float(says.split("as stiff (")[1].split(" mm")[0])
    stiffer = by_name(rig.replace("shaft.six.shaft_diameter", thick + 0.05))
    assert stiffer["twist"][0] == "pass"
    assert stiffer["twist"][1] == pytest.approx(0.1, abs=0.003)  # as thick as told and no thicker
    # two springs of half the torque, one beside the lever and one in the middle
    moved = rig.replace("spring.inner.station", 0.0).replace("spring.outer.station", -220.0)
    assert by_name(moved)["twist_at_idle"][0] == "pass"


def test_a_tube_that_winds_up_is_named_though_its_shafts_are_short() -> None:
    checked = by_name(tube())
    verdict, value, says = checked["twist_in_travel"]
    assert (verdict, '"tube"' in says) == ("caution", True)
    assert value is not None
    assert value > 0.1
    assert checked["twist"][:2] == ("pass", 0.0)  # no plate is twisted against its own arm


def test_limits_and_single_plates() -> None:
    wide = dataclasses.replace(both(), limits=Limits(twist=5.0, twist_at_idle=5.0))
    assert {row[0] for row in by_name(wide).values()} == {"pass"}
    alone = lever(300.0)
    shaft = dataclasses.replace(alone.shaft["a"], plates=1, twist=Section(8.0, plates_at=(300.0,)))
    assert set(by_name(dataclasses.replace(alone, shaft={"a": shaft}))) == {"twist"}
    assert by_name(dataclasses.replace(both(), limits=Limits(twist=0.0)))["twist"][0] == "caution"


def test_a_shaft_that_does_not_settle_fails() -> None:
    soft = lever(300.0)
    spring = dataclasses.replace(soft.spring["s"], rate=50.0)
    weak = dataclasses.replace(soft.shaft["a"], twist=Section(1.0, plates_at=(0.0, 150.0, 300.0)))
    checked = by_name(dataclasses.replace(soft, spring={"s": spring}, shaft={"a": weak}))
    assert checked["twist"][0] == "fail"
    assert "more diameter" in checked["twist"][2]


def test_what_lacks_is_said() -> None:
    rig = sprung(bell_crank(), *on_each(bell_crank()))
    assert "[shaft.NAME.twist]" in lacks(rig)
    bare = dataclasses.replace(rig.shaft["left"], twist=Section(8.0))
    assert "[shaft.left.twist]" in lacks(dataclasses.replace(rig, shaft={**rig.shaft, "left": bare}))
    assert "[spring.NAME]" in lacks(dataclasses.replace(both(), spring={}))
    assert twist(solve(rig)) is None
    assert checks(solve(rig), None) == ()


def test_its_numbers_are_dimensions_like_any_other() -> None:
    rig = both().replace("shaft.left.twist.diameter", "3/8 in").replace("spring.on_left.station", 200.0)
    assert dimensions(rig)["shaft.left.twist.diameter"] == pytest.approx(9.525)
    thick, thin = told(solve(rig)).idle.plates["left"], told(solve(both())).idle.plates["left"]
    assert abs(thick[2][0]) < abs(thin[2][0])
    assert rig.replace("shaft.left.twist.material", "titanium").shaft["left"].twist.material == "titanium"  # type: ignore[union-attr]
