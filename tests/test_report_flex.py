"""Rocking and twist in the report and in the plain document: the answer's own figures, in the design's units."""

from __future__ import annotations

import dataclasses
import json
import re

import numpy as np
import pytest
from rocked import on_the_body, roll_axis
from test_winding import both, tube
from trains import bell_crank

from linkage.answers import Answer, check
from linkage.answers.progression import TABLE
from linkage.answers.winding import twisted
from linkage.paper.document import document
from linkage.paper.report import report
from linkage.parts import Linkage


def leaning(units: str = "mm") -> Answer:
    there = on_the_body(bell_crank(), casing=True, roll=roll_axis(30.0, -250.0, 40.0, degrees=0.5))
    return check(dataclasses.replace(there, units=units))  # type: ignore[arg-type]


def wound(rig: Linkage, units: str = "mm") -> Answer:
    return check(dataclasses.replace(rig, units=units))  # type: ignore[arg-type]


def section(answer: Answer, head: str) -> str:
    return report(answer).partition(head + "\n")[2].partition("\n\nROD-END TILT")[0]


def numbers(text: str, row: str) -> list[float]:
    (line,) = re.findall(rf"^  {re.escape(row)} (.*)$", text, re.MULTILINE)
    return [float(v) for v in re.findall(r"-?\d+\.\d+", line)]


def test_the_rows_are_the_plates_moved() -> None:
    answer = leaning()
    told = answer.rocking
    assert told is not None
    text = section(answer, "ROCKING OF THE ENGINE")
    at = [int(np.argmin(np.abs(answer.run.fraction - share))) for share in (0.0, 1.0)]
    for i, angle in ((0, "+0.5"), (1, "-0.5")):
        row = numbers(text, f"left, rolled {angle} [deg]")
        assert len(row) == len(TABLE)
        assert [row[0], row[-1]] == pytest.approx([told.moved[i]["left"][k] for k in at], abs=0.005 + 1e-9)
    assert "the cable (the casing end)" in text
    assert f'"left" {max(side["left"] for side in told.lifts):.2f}' in text


def test_an_immune_layout_says_why_and_no_more() -> None:
    answer = check(on_the_body(bell_crank()))
    text = section(answer, "ROCKING OF THE ENGINE")
    assert "No plate moves: the casing ends on the engine" in " ".join(text.split())
    assert "per degree of roll" not in text


@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_rows_are_the_plates_twisted(units: str) -> None:
    answer = wound(both(), units)
    text = section(answer, "TWIST OF THE SHAFTS")
    assert answer.twist is not None
    for way in ("opening", "closing"):
        found = twisted(answer.run.at_fraction(TABLE), way)  # type: ignore[arg-type]
        row = numbers(text, f"left, plate 3, {way}")[-len(TABLE) :]
        assert row == pytest.approx(list(found.plates["left"][2]), abs=0.0005 + 1e-9)
    assert numbers(text, "apart by twist, closing")[0] == pytest.approx(answer.twist.apart_at_idle, abs=0.0005 + 1e-9)
    assert ("lbf·in from station" if units == "in" else "N·mm from station") in " ".join(text.split())


@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_document_holds_them_in_the_design_s_own_units(units: str) -> None:
    scale = 25.4 if units == "in" else 1.0
    force = 4.4482216152605 if units == "in" else 1.0
    rolling = leaning(units)
    found = json.loads(json.dumps(document(rolling)))["rocking"]
    assert rolling.rocking is not None
    assert found["shafts"]["left"]["rate"] == pytest.approx(list(rolling.rocking.rate["left"]))
    assert found["bridges"][0]["motion"][0] * scale == pytest.approx(rolling.rocking.bridges[0].motion[0])
    assert not found["immune"]
    winding = wound(tube(), units)
    told = winding.twist
    assert told is not None
    found = json.loads(json.dumps(document(winding)))["twist"]
    member = told.opening.members["tube"]
    assert found["opening"]["members"]["tube"]["grips"] == list(member.grips)
    assert np.array(found["opening"]["members"]["tube"]["stations"]) * scale == pytest.approx(member.station)
    torque = np.array(found["opening"]["members"]["tube"]["torque"])
    np.testing.assert_allclose(torque * scale * force, member.torque, atol=1e-9)
    assert found["apart_at_idle"] == pytest.approx(told.apart_at_idle)


def test_a_design_without_them_has_no_such_keys_and_is_told_what_to_add() -> None:
    found = document(check(bell_crank()))
    assert "rocking" not in found
    assert "twist" not in found
    assert any("[rocking]" in says for says in found["lacks"])
    assert any("[shaft.NAME.twist]" in says for says in found["lacks"])
