"""Sections on forces, faults and lost motion: their figures are the answers', their width the sheet's."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest
from sprung import on_each, sprung, torsion
from trains import EXAMPLES, bell_crank, crossed_pair

from linkage.answers import forces as told
from linkage.answers.faults import faults
from linkage.answers.forces import forces
from linkage.answers.lost_motion import lost_motion
from linkage.motion import solve
from linkage.paper.lines import WIDTH
from linkage.paper.report_road import faults_section, forces_section, lost_motion_section
from linkage.parts import Linkage, Pedal, Play


def sections(linkage: Linkage) -> tuple[list[str], list[str], list[str]]:
    run = solve(linkage)
    return (
        forces_section(run, forces(run)),
        faults_section(run, faults(run)),
        lost_motion_section(run, lost_motion(run)),
    )


def row(lines: list[str], start: str) -> list[str]:
    (found,) = [line for line in lines if line.strip().lstrip("✓✗! ").startswith(start)]
    return found.split("]")[-1].split()


@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_table_holds_the_figures_at_the_shares_of_the_travel(units: Any) -> None:
    linkage = sprung(bell_crank(), *on_each(bell_crank()), friction=10.0)
    linkage = dataclasses.replace(linkage, units=units, pedal=Pedal(3.0), play=Play(0.05, 0.1))
    lines, drill, rock = sections(linkage)
    run = solve(linkage)
    down, _ = told.pedal_force(run.at_fraction([0.5]))
    assert down is not None
    size = 1.0 if units == "mm" else 4.4482216152605
    assert float(row(lines, "pedal, going down")[3]) == pytest.approx(
        down[0] / size, abs=0.051 if size == 1.0 else 0.0051
    )
    torque = told.shaft_torque(run.at_fraction([1.0]), "left")[0]
    size *= 1.0 if units == "mm" else 25.4
    assert float(row(lines, "left, closing torque")[-1]) == pytest.approx(
        torque / size, abs=0.51 if size == 1.0 else 0.0051
    )
    # 120 N mm of spring less 10 of friction, at idle
    shown = f"{110.0 / size:.{0 if units == 'mm' else 2}f}"
    assert shown in row(drill, "link left")
    assert [line.split()[0] for line in rock[1:3]] == ["left", "right"]


def test_a_shaft_that_stays_open_stands_out() -> None:
    linkage = sprung(bell_crank(), torsion("one", "left", 200.0), torsion("two", "left", 200.0))
    _, drill, _ = sections(linkage)
    (line,) = [line for line in drill if "link right" in line]
    assert line.strip().startswith("✗")
    assert "STAYS OPEN 0" in line
    assert any("571.124" in line for line in drill)


@pytest.mark.parametrize("name", sorted(EXAMPLES))
def test_no_line_is_wider_than_the_sheet_and_none_is_empty_of_figures(name: str) -> None:
    linkage = dataclasses.replace(EXAMPLES[name](), play=Play(0.05, 0.1))
    linkage = sprung(linkage, *on_each(linkage), friction=5.0)
    for lines in sections(linkage):
        assert lines
        assert max(map(len, lines)) <= WIDTH


def test_what_the_design_lacks_has_no_section() -> None:
    assert sections(crossed_pair()) == ([], [], [])
