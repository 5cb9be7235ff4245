"""Forces, faults and lost motion in the document: keys, places, units."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from sprung import on_each, sprung
from trains import bell_crank, crossed_pair

from linkage.answers.faults import faults
from linkage.answers.forces import forces
from linkage.answers.lost_motion import lost_motion
from linkage.motion import solve
from linkage.paper.document_road import faults_document, forces_document, lost_motion_document
from linkage.parts import Linkage, Pedal, Play


def made(units: Any) -> Linkage:
    linkage = sprung(bell_crank(), *on_each(bell_crank()), friction=10.0)
    return dataclasses.replace(linkage, units=units, pedal=Pedal(3.0), play=Play(0.05))


def test_an_inch_design_is_told_in_pounds_force() -> None:
    # 1 lbf = 4.4482216152605 N, 1 in = 25.4 mm, both exact
    metric, inch = ({**(forces_document(forces(solve(made(u))), made(u)) or {})} for u in ("mm", "in"))
    for key in ("cable_tension", "cable_tension_closing", "pedal_force", "pedal_force_closing"):
        assert inch[key] * 4.4482216152605 == pytest.approx(metric[key], rel=1e-12)
    for key in ("driver_torque", "driver_torque_closing"):
        assert inch[key] * (4.4482216152605 * 25.4) == pytest.approx(metric[key], rel=1e-12)
    for shaft in ("left", "right"):
        torques = [found["shafts"][shaft]["closing_torque"] for found in (metric, inch)]
        assert torques[1] * (4.4482216152605 * 25.4) == pytest.approx(torques[0], rel=1e-12)
        links = [found["links"][shaft]["force"] for found in (metric, inch)]
        assert links[1] * 4.4482216152605 == pytest.approx(links[0], rel=1e-12)
    least = [
        {case["lost"]: case for case in faults_document(faults(solve(made(u))), made(u)) or []}["link.left"]
        for u in ("mm", "in")
    ]
    assert least[0]["shafts"]["left"]["least_torque"] == pytest.approx(110.0)  # 120 of spring less 10 of friction
    assert least[1]["shafts"]["left"]["least_torque"] == pytest.approx(110.0 / (4.4482216152605 * 25.4))


def test_arrays_stand_over_the_positions_and_faults_name_what_is_lost() -> None:
    linkage = made("mm")
    run = solve(linkage, positions=7)
    found = forces_document(forces(run), linkage)
    assert found is not None
    assert all(len(found[key]) == 7 for key in ("cable_tension", "cable_tension_closing", "pedal_force"))
    assert set(found["shafts"]) == {"left", "right"}
    assert set(found["links"]) == {"left", "right"}
    told = faults_document(faults(run), linkage)
    assert told is not None
    assert [case["lost"] for case in told] == [
        "nothing", "cable", "spring.on_left", "spring.on_right", "link.left", "link.right",
    ]  # fmt: skip
    assert {case["verdict"] for case in told} == {"pass"}
    rock = lost_motion_document(lost_motion(run))
    assert rock is not None
    assert set(rock) == {"left", "right"}
    assert all(np.isfinite(value) for value in rock.values())


def test_what_the_design_lacks_is_none() -> None:
    run = solve(bell_crank())
    assert forces_document(forces(run), run.rig) is None
    assert faults_document(faults(run), run.rig) is None
    assert lost_motion_document(lost_motion(run)) is None
    driven = sprung(crossed_pair(), *on_each(crossed_pair()))
    found = forces_document(forces(solve(driven)), driven)
    assert found is not None
    assert found["cable_tension"] is None
    assert found["pedal_force"] is None
    assert len(found["driver_torque"]) == 91
