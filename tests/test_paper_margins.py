"""The margins on paper and as a document: the answers' own figures, in the design's unit."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

import numpy as np
import pytest
from trains import bell_crank, parallel_pair

from linkage.answers.clearance import clearance
from linkage.answers.flow import air_flow
from linkage.answers.heat import heat
from linkage.answers.joints import station_offsets
from linkage.answers.tolerance import tolerance
from linkage.motion import Motion, solve
from linkage.paper import document_margins as document
from linkage.paper import report_margins as report
from linkage.paper.lines import WIDTH
from linkage.parts import Air, Heat, Linkage, PlateAngle, Tolerance


def whole(units: Any = "mm") -> Linkage:
    """A linkage with all that the sections need."""
    rig = bell_crank()
    shafts = {n: dataclasses.replace(s, plate_angle=PlateAngle(8.0, 10.0, 88.0)) for n, s in rig.shaft.items()}
    links = {n: dataclasses.replace(link, diameter=8.0) for n, link in rig.link.items()}
    given: dict[str, Any] = {
        "tolerance": Tolerance(0.25, 0.1, 0.5, 0.1), "heat": Heat(70.0, 21.5e-6, 12e-6), "air": Air(0.7)
    }  # fmt: skip
    return dataclasses.replace(rig, shaft=shafts, link=links, units=units, **given)


def answers(run: Motion) -> dict[str, Any]:
    found = {
        "air": air_flow(run),
        "tolerance": tolerance(run, samples=300),
        "heat": heat(run),
        "clearance": clearance(run),
    }
    assert None not in found.values()
    return found


def sections(run: Motion, found: dict[str, Any]) -> dict[str, list[str]]:
    return {
        "air": report.air_section(run, found["air"]),
        "tolerance": report.tolerance_section(found["tolerance"], run.rig),
        "heat": report.heat_section(found["heat"], run.rig),
        "clearance": report.clearance_section(found["clearance"], run.rig),
        "tilt": report.tilt_section(run),
    }


def documents(run: Motion, found: dict[str, Any]) -> dict[str, Any]:
    return {
        "air": document.air_document(found["air"]),
        "tolerance": document.tolerance_document(found["tolerance"]),
        "heat": document.heat_document(found["heat"], run.rig),
        "clearance": document.clearance_document(found["clearance"], run.rig),
        "tilt": document.tilt_document(run),
    }


@pytest.mark.parametrize("units", ["mm", "in"])
def test_every_section_has_lines_that_fit_the_sheet(units: str) -> None:
    run = solve(whole(units))
    for name, lines in sections(run, answers(run)).items():
        assert lines, name
        assert all(len(line) <= WIDTH for line in lines), name
        assert not any("nan" in line for line in lines), name


def test_sections_tell_the_answers_figures() -> None:
    run = solve(whole())
    found = answers(run)
    told = {name: "\n".join(lines) for name, lines in sections(run, found).items()}
    assert f"{found['tolerance'].at_idle.worst_case:.2f}" in told["tolerance"]
    assert found["tolerance"].shares[0].dimension.path in told["tolerance"]
    assert f"{found['heat'].hot.mismatch.at_idle:.3f}" in told["heat"]
    assert f'"left" {found["heat"].set_cold["left"]:.2f} mm longer' in told["heat"]
    assert f"{found['clearance'].least.gap:.2f}" in told["clearance"]
    assert "shaft.left.arm.drive" in told["clearance"]  # has no size given
    assert f"{found['air'].one_percent['left']:.3f}" in told["air"]
    assert f"{station_offsets(run)['left'].largest:.2f}" in told["tilt"]


def test_the_document_has_the_promised_keys() -> None:
    run = solve(whole(), positions=5)
    found = documents(run, answers(run))
    assert set(found["air"]) >= {"pressure_ratio", "shafts", "spread_percent"}
    assert [len(shaft["flow"]) for shaft in found["air"]["shafts"].values()] == [5, 5]
    assert set(found["tolerance"]) >= {"at_idle", "largest", "monte_carlo", "shares"}
    assert set(found["tolerance"]["at_idle"]) == set(found["tolerance"]["largest"]) == {"worst_case", "rss"}
    assert set(found["tolerance"]["monte_carlo"]) >= {"samples", "seed", "p95", "yield"}
    assert sum(share["share"] for share in found["tolerance"]["shares"]) == pytest.approx(1.0, abs=1e-12)
    for state in ("cold", "hot"):
        assert set(found["heat"][state]) >= {"largest", "at_idle", "at_wide_open"}
    assert set(found["clearance"]) >= {"least", "between", "at_fraction"}
    assert len(found["clearance"]["between"]) == 2


def test_lengths_are_in_the_design_s_unit_and_nothing_else_is() -> None:
    metric, inch = (documents(run, answers(run)) for run in (solve(whole(u), positions=3) for u in ("mm", "in")))
    assert inch["clearance"]["least"] == pytest.approx(metric["clearance"]["least"] / 25.4, abs=1e-12)
    assert inch["clearance"]["gaps"][1]["gap"] == pytest.approx(metric["clearance"]["gaps"][1]["gap"] / 25.4, abs=1e-12)
    assert inch["heat"]["set_cold"]["left"] == pytest.approx(metric["heat"]["set_cold"]["left"] / 25.4, abs=1e-12)
    assert inch["tilt"]["left"]["largest"] == pytest.approx(metric["tilt"]["left"]["largest"] / 25.4, abs=1e-12)
    assert inch["heat"]["hot"] == metric["heat"]["hot"]
    assert inch["tolerance"] == metric["tolerance"]
    np.testing.assert_array_equal(inch["air"]["shafts"]["left"]["flow"], metric["air"]["shafts"]["left"]["flow"])


def test_the_document_is_plain_but_for_its_arrays() -> None:
    run = solve(whole(), positions=3)
    json.dumps(documents(run, answers(run)), default=lambda array: array.tolist())


def test_a_design_that_lacks_everything_has_no_section() -> None:
    run = solve(parallel_pair())
    nothing = dict.fromkeys(("air", "tolerance", "heat", "clearance"))
    told = sections(run, nothing)
    assert [told[name] for name in nothing] == [[], [], [], []]
    found = documents(run, nothing)
    assert [found[name] for name in nothing] == [None, None, None, None]


def test_a_jam_in_the_heat_is_told() -> None:
    run = solve(dataclasses.replace(parallel_pair(), heat=Heat(1000.0, 1e-3)))
    found = heat(run)
    assert '"side"' in "\n".join(report.heat_section(found, run.rig))
    plain = document.heat_document(found, run.rig)
    assert plain is not None
    assert plain["hot"] is None
