"""Air: published values, the textbook's equation integrated another way, figures by hand arithmetic."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq
from trains import bell_crank, crossed_pair, parallel_pair

from linkage.answers.airflow import open_area, open_area_fraction, open_area_slope
from linkage.answers.flow import CRITICAL, GAMMA, air_flow, checks, flow_function, lacks, mass_flow
from linkage.motion import solve
from linkage.parts import Air, Linkage, PlateAngle
from linkage.published import rows

IDLE = Air(0.7)


def opened(rig: Linkage, air: Air | None = IDLE, *, shut: float = 8.0, plates: int = 2, idle: float = 10.0) -> Linkage:
    """The linkage with air, and plates that are a little open at idle."""
    shafts = {
        name: dataclasses.replace(
            one, plates=plates, shaft_diameter=8.0, plate_angle=PlateAngle(shut, idle, one.plate_angle.wide_open)
        )
        for name, one in rig.shaft.items()
    }
    return dataclasses.replace(rig, shaft=shafts, air=air)


def published(kind: str) -> list[dict[str, Any]]:
    return [example for example in rows.examples() if example["kind"] == kind]


def test_published_flow_function() -> None:
    (example,) = [e for e in published("compressible_throttle_flow") if "D" not in e["inputs"]]
    assert pytest.approx(example["published"]["pr_critical"], abs=example["published_tolerance"]) == CRITICAL
    assert pytest.approx(example["exact"]["pr_critical"], abs=1e-12) == CRITICAL
    np.testing.assert_allclose(flow_function(example["inputs"]["pr"]), example["exact"]["psi"], rtol=0, atol=1e-12)
    assert float(flow_function(0.01)) == pytest.approx(example["exact"]["psi_choked"], abs=1e-12)


def test_published_flow_of_a_plate() -> None:
    (example,) = [e for e in published("compressible_throttle_flow") if "D" in e["inputs"]]
    given, exact = example["inputs"], example["exact"]
    share = open_area_fraction(given["psi"], shut=given["psi0"], shaft_ratio=given["a"])
    area = float(share) * 0.25 * np.pi * 45.0**2
    assert 1e-6 * area == pytest.approx(exact["A"], abs=1e-15)
    for ratio, name in ((given["pr"], "mdot"), (0.3, "mdot_choked")):
        air = Air(ratio, given["Cd"], given["p0"] / 1e3, given["T0"] - 273.15)
        assert float(mass_flow(area, air)) / 3600.0 == pytest.approx(exact[name], abs=1e-12)


def test_flow_is_that_of_the_energy_and_the_isentropic_law() -> None:
    """Another route: speed from the enthalpy drop, density from p / rho^gamma, their product at the plate."""
    p0, t0, gas, cp = 101325.0, 293.15, 287.05, 287.05 * GAMMA / (GAMMA - 1.0)
    for ratio in (0.55, 0.7, 0.9, 0.99):
        temperature = t0 * ratio ** ((GAMMA - 1.0) / GAMMA)
        speed = np.sqrt(2.0 * cp * (t0 - temperature))
        density = ratio * p0 / (gas * temperature)
        assert float(mass_flow(100.0, Air(ratio, 1.0))) == pytest.approx(3600.0 * density * speed * 1e-4, rel=1e-12)
    # sonic at the critical ratio: the speed there is the speed of sound
    temperature = t0 * CRITICAL ** ((GAMMA - 1.0) / GAMMA)
    assert np.sqrt(2.0 * cp * (t0 - temperature)) == pytest.approx(np.sqrt(GAMMA * gas * temperature), rel=1e-12)


@pytest.mark.parametrize("ratio", [1.0, 1.2])
def test_nothing_flows_without_a_depression(ratio: float) -> None:
    assert float(flow_function(ratio)) == 0.0


@pytest.mark.parametrize(
    ("depression", "opening", "percent"), [(0.60, 1.07, 9.8), (0.30, 1.14, 9.1), (0.15, 1.44, 7.3)]
)
def test_opening_that_passes_four_and_a_half_kilograms_an_hour(
    depression: float, opening: float, percent: float
) -> None:
    """45 mm bore, 8 mm shaft, shut at 12 deg, Cd 0.8, 1 atm, 20 deg C: hand-checked, no published source."""
    air = Air(1.0 - depression / 1.01325, 0.8)

    def flow(psi: float) -> float:
        share = open_area_fraction(psi, shut=12.0, shaft_ratio=8.0 / 45.0)
        return float(mass_flow(float(share) * 0.25 * np.pi * 45.0**2, air))

    found = float(brentq(lambda by: flow(12.0 + by) - 4.5, 0.1, 5.0))
    assert found == pytest.approx(opening, abs=0.011)
    tenth = 100.0 * (flow(12.0 + found + 0.05) - flow(12.0 + found - 0.05)) / 4.5
    assert tenth == pytest.approx(percent, abs=0.06)


@pytest.mark.parametrize(("shut", "ratio"), [(0.0, 0.0), (5.0, 0.2), (12.0, 8.0 / 45.0)])
def test_slope_of_the_open_area_is_its_difference(shut: float, ratio: float) -> None:
    psi = np.array([shut + 0.01, shut + 1.0, 30.0, 60.0, 79.0, 88.0, 100.0, 150.0])
    up, down = (open_area_fraction(psi + by, shut=shut, shaft_ratio=ratio) for by in (1e-5, -1e-5))
    np.testing.assert_allclose(
        open_area_slope(psi, shut=shut, shaft_ratio=ratio), (up - down) / 2e-5, rtol=0, atol=1e-10
    )
    assert float(open_area_slope(shut - 1.0, shut=shut, shaft_ratio=ratio)) == 0.0


def test_flow_of_a_shaft_counts_all_its_plates() -> None:
    run = solve(opened(parallel_pair(), plates=3))
    report = air_flow(run)
    assert report is not None
    area = open_area(run)["a"]
    assert area is not None
    np.testing.assert_allclose(report.flow["a"], mass_flow(area, IDLE))
    single = air_flow(solve(opened(parallel_pair(), plates=1)))
    assert single is not None
    np.testing.assert_allclose(report.flow["a"], 3.0 * single.flow["a"])
    np.testing.assert_allclose(report.spread_percent, single.spread_percent)
    assert report.apart_at_idle == pytest.approx(single.apart_at_idle, abs=1e-12)


def test_one_percent_at_idle_is_one_percent() -> None:
    rig = opened(bell_crank())
    report = air_flow(solve(rig))
    assert report is not None
    for name, by in report.one_percent.items():
        assert by is not None

        def flow(psi: float) -> float:
            return float(open_area_fraction(psi, shut=8.0, shaft_ratio=8.0 / 45.0))

        here = rig.shaft[name].plate_angle.idle
        # to first order: half a step either way makes one percent to the third order
        assert (flow(here + by / 2) - flow(here - by / 2)) / flow(here) == pytest.approx(0.01, rel=1e-4)


def test_spread_at_idle_of_one_shaft_a_tenth_further_open() -> None:
    """The second shaft's idle stands a tenth of a degree higher, per plate whatever the number of plates."""
    rig = opened(parallel_pair())
    other = dataclasses.replace(rig.shaft["b"], plates=1, plate_angle=PlateAngle(8.0, 10.1, 98.0))
    rig = dataclasses.replace(rig, shaft={**rig.shaft, "b": other})
    run = solve(rig)
    report = air_flow(run)
    assert report is not None
    each = mass_flow(0.25 * np.pi * 45.0**2 * open_area_fraction([10.0, 10.1], shut=8.0, shaft_ratio=8.0 / 45.0), IDLE)
    assert report.apart_at_idle == pytest.approx(float(each[1] - each[0]), abs=1e-9)
    assert report.spread_at_idle == pytest.approx(100.0 * float((each[1] - each[0]) / each.mean()), abs=1e-9)
    assert report.spread_percent[0] == pytest.approx(report.spread_at_idle, abs=1e-9)
    (check,) = checks(run, report)
    assert check.verdict == "pass"
    assert check.value == pytest.approx(report.apart_at_idle, abs=1e-12)


def test_too_much_apart_is_a_caution() -> None:
    rig = opened(parallel_pair())
    other = dataclasses.replace(rig.shaft["b"], plate_angle=PlateAngle(8.0, 10.6, 98.0))
    run = solve(dataclasses.replace(rig, shaft={**rig.shaft, "b": other}))
    (check,) = checks(run, air_flow(run))
    assert (check.verdict, check.unit, check.limit) == ("caution", "kg/h", 0.5)


def test_plates_that_are_shut_at_idle_have_no_percentage() -> None:
    report = air_flow(solve(opened(crossed_pair(), shut=10.0)))
    assert report is not None
    assert report.spread_at_idle is None
    assert report.one_percent == {"a": None, "b": None}
    assert np.isnan(report.spread_percent[0])


@pytest.mark.parametrize(("ratio", "choked"), [(0.5, True), (0.7, False)])
def test_whether_the_flow_is_sonic_is_told(ratio: float, choked: bool) -> None:
    report = air_flow(solve(opened(parallel_pair(), Air(ratio))))
    assert report is not None
    assert report.choked is choked


def test_what_lacks_is_said() -> None:
    rig = opened(parallel_pair(), None)
    assert "[air]" in lacks(rig)
    assert air_flow(solve(rig)) is None
    bare = dataclasses.replace(opened(parallel_pair()).shaft["b"], bore=None)
    rig = opened(parallel_pair())
    rig = dataclasses.replace(rig, shaft={**rig.shaft, "b": bare})
    assert 'bore of shaft "b"' in lacks(rig)
    assert air_flow(solve(rig)) is None
    assert checks(solve(rig), None) == ()
