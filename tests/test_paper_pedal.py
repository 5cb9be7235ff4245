"""Pedal and followers on paper: the report's sections, the plain document, in both units."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

import footwells
import pytest
from test_pedal_motion import CABLE, turn_by_search

from linkage.answers import Answer, check
from linkage.paper import report_pedal
from linkage.paper.document import document
from linkage.paper.report import report
from linkage.parts import Follower, Linkage, Pedal

NEEDED = turn_by_search(CABLE + 1.0)


def answer(rig: Linkage, units: Any = "mm") -> Answer:
    return check(dataclasses.replace(rig, units=units), positions=7)


def said(lines: list[str]) -> str:
    return " ".join(" ".join(lines).split())


def followed() -> Linkage:
    return footwells.with_followers(
        footwells.quadrant(35.0, stop=20.0, floor=60.0), Follower("sensor", on="one"), Follower("end", on="one")
    )


@pytest.mark.parametrize(("units", "size"), [("mm", 1.0), ("in", 25.4)])
def test_the_document_has_the_pedal_in_its_own_units(units: Any, size: float) -> None:
    rig = footwells.quadrant(stop=NEEDED - 0.1, floor=NEEDED + 1.0)
    found = json.loads(json.dumps(document(answer(rig, units))))
    pedal = found["pedal"]
    pad = 200.0 * 3.141592653589793 / 180.0
    assert pedal["travel"] * size == pytest.approx(pad * NEEDED, abs=1e-6)
    assert pedal["travel_to_stop"] * size == pytest.approx(pad * (NEEDED - 0.1), abs=1e-6)
    assert pedal["travel_to_floor"] * size == pytest.approx(pad * (NEEDED + 1.0), abs=1e-6)
    assert pedal["stop"]["lead"] * size == pytest.approx(pad * 0.1, abs=1e-6)
    assert (pedal["sort"], pedal["first"], pedal["dead_centre"]) == ("bell crank", "stop", False)
    assert pedal["turn"][0] == pytest.approx(turn_by_search(1.0), abs=1e-8)
    assert pedal["turn"][-1] == pytest.approx(NEEDED, abs=1e-8)
    assert found["travel"]["pedal"][-1] == pytest.approx(pedal["travel"], abs=1e-9)
    assert len(found["forces"]["pedal_force"]) == 7
    plates = [row["plate_angle"] for row in pedal["progression"]["table"]]
    assert (plates[0], plates[-1]) == (pytest.approx(8.0), pytest.approx(88.0))
    ends = pedal["gain"][0], pedal["gain"][-1]
    assert pedal["progression"]["ratio"] == pytest.approx(ends[1] / ends[0], rel=1e-12)


def test_the_document_of_push_rods_and_followers() -> None:
    rig = footwells.with_followers(footwells.rods(), Follower("rod", pin="pedal.rod"), Follower("s", on="one"))
    found = document(answer(rig, "in"))
    assert found["pedal"]["ratio"] is None
    assert found["travel"]["cable"] is None
    assert found["travel"]["pedal"][-1] == pytest.approx(found["pedal"]["travel"])
    assert found["forces"]["cable_tension"] is None
    assert min(found["forces"]["pedal_force"]) > 0.0
    rod, sensor = found["followers"]["rod"], found["followers"]["s"]
    assert (rod["unit"], sensor["unit"]) == ("in", "deg")
    metric = document(answer(rig))["followers"]["rod"]
    assert rod["stroke"] * 25.4 == pytest.approx(metric["stroke"])
    assert rod["path"] * 25.4 == pytest.approx(metric["path"])
    assert sensor["stroke"] == pytest.approx(80.0)
    assert sensor["moved"][0] == pytest.approx(0.0, abs=1e-9)
    assert sensor["moved"][-1] == pytest.approx(sensor["at_wide_open"])
    assert [done["share"] for done in sensor["done"]] == [0.1, 0.5, 0.9]


def test_no_pedal_no_keys() -> None:
    found = document(answer(dataclasses.replace(footwells.rods(), pedal=None)))
    assert {"pedal", "followers"}.isdisjoint(found)


def test_the_report_says_what_takes_the_foot() -> None:
    text = said(report_pedal.pedal_section(answer(footwells.quadrant(stop=NEEDED - 0.2, floor=50.0))))
    assert f"The pad travels {200.0 * NEEDED * 3.141592653589793 / 180.0:.2f} mm from rest to wide open" in text
    assert "What takes the foot: its own stop." in text
    assert "pad travel for each of cable" in text.lower()
    late = said(report_pedal.pedal_section(answer(footwells.quadrant(stop=NEEDED + 2.0))))
    assert "What takes the foot: the throttles' wide-open stop." in late
    low = said(report_pedal.pedal_section(answer(footwells.quadrant(floor=NEEDED - 2.0))))
    assert "What takes the foot: the floor." in low
    assert "never takes the throttles" in said(report_pedal.pedal_section(answer(footwells.quadrant(175.0))))


def test_the_report_of_a_pedal_by_its_ratio_and_of_none() -> None:
    by_ratio = dataclasses.replace(footwells.quadrant(), pedal=Pedal(2.0))
    text = said(report_pedal.pedal_section(answer(by_ratio)))
    assert f"The pad travels {2.0 * (CABLE + 1.0):.2f} mm" in text
    assert "pad travel for each of cable" not in text.lower()
    assert report_pedal.pedal_section(answer(dataclasses.replace(footwells.rods(), pedal=None))) == []


def test_a_foot_that_pays_out_is_said() -> None:
    rig = footwells.quadrant()
    assert rig.pedal is not None
    wrong = dataclasses.replace(rig, pedal=dataclasses.replace(rig.pedal, opens="cw"))
    assert "pays the cable out" in said(report_pedal.pedal_section(answer(wrong)))
    assert answer(wrong).verdict == "fail"


def test_the_whole_report_has_both_sections_and_hints() -> None:
    text = report(answer(followed()))
    assert text.index("\nCABLE\n") < text.index("\nPEDAL\n") < text.index("\nFOLLOWERS\n") < text.index("\nFORCES\n")
    row = next(line.split() for line in text.splitlines() if line.strip().startswith("sensor "))
    assert row == ["sensor", "one", "80.00", "deg", "10.0", "%", "50.0", "%", "90.0", "%"]
    assert "add stop to [pedal]" not in text
    bare = report(answer(footwells.quadrant()))
    assert "add stop to [pedal]" in bare
    assert "add floor to [pedal]" in bare
    assert "add travel to [pedal]" not in bare
