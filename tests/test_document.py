"""The JSON answer: every published key, plain values, and the design's own unit."""

import json
import math

import numpy as np
import pytest
import trains

from linkage.answers import check
from linkage.paper.document import document


def test_every_published_key_is_there():
    found = document(check(trains.bell_crank(), positions=5))
    assert {"format", "title", "units", "verdict", "travel", "shafts", "members", "links"} <= set(found)
    assert {"mismatch", "progression", "stops", "checks"} <= set(found)
    assert set(found["travel"]) == {"turn", "cable", "fraction", "pedal"}
    for shaft in found["shafts"].values():
        assert {"plate_angle", "open_area", "gain"} <= set(shaft)
        assert {len(shaft[key]) for key in ("plate_angle", "open_area", "gain")} == {5}
    assert set(found["members"]) == {"left", "right", "centre"}
    for link in found["links"].values():
        assert {"length", "fitted", "transmission_angle", "tilt"} <= set(link)
        assert len(link["transmission_angle"]) == 5
        assert [len(t) for t in link["tilt"]] == [5, 5]
    keys = "largest at_fraction at_idle off_idle middle at_wide_open rms flow_at_idle_percent"
    assert set(keys.split()) <= set(found["mismatch"])
    assert {"ratio", "table"} <= set(found["progression"])
    assert [row["fraction"] for row in found["progression"]["table"]] == [0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0]
    assert {"holds", "turn", "gaps"} <= set(found["stops"]["closing"])
    assert {"holds", "turn", "cable", "gaps"} <= set(found["stops"]["opening"])
    for row in found["checks"]:
        assert set(row) == {"name", "verdict", "value", "limit", "unit", "where", "says"}


@pytest.mark.parametrize("name", list(trains.EXAMPLES))
def test_it_is_strict_json(name):
    text = json.dumps(document(check(trains.EXAMPLES[name](), positions=3)), allow_nan=False)
    assert json.loads(text)["title"] == "test"


def test_without_a_cable_there_is_none():
    travel = document(check(trains.crossed_pair(), positions=3))["travel"]
    assert travel["cable"] is None
    assert travel["pedal"] is None
    assert travel["fraction"] == pytest.approx([0.0, 0.5, 1.0], abs=1e-12)


def test_an_inch_design_is_the_same_in_inches():
    import dataclasses

    from linkage.parts import Pedal

    metric = dataclasses.replace(trains.bell_crank(), pedal=Pedal(3.0, 200.0))
    inch = dataclasses.replace(metric, units="in")
    mm, inches = (document(check(rig, positions=5)) for rig in (metric, inch))
    assert np.array(inches["travel"]["cable"]) * 25.4 == pytest.approx(mm["travel"]["cable"], abs=1e-9)
    assert np.array(inches["travel"]["pedal"]) * 25.4 == pytest.approx(mm["travel"]["pedal"], abs=1e-9)
    assert inches["links"]["left"]["length"] * 25.4 == pytest.approx(mm["links"]["left"]["length"], abs=1e-9)
    area = np.array(inches["shafts"]["left"]["open_area"]) * 25.4**2
    assert area == pytest.approx(mm["shafts"]["left"]["open_area"], abs=1e-9)
    assert np.array(inches["shafts"]["left"]["gain"]) / 25.4 == pytest.approx(mm["shafts"]["left"]["gain"], abs=1e-9)
    assert inches["shafts"]["left"]["plate_angle"] == mm["shafts"]["left"]["plate_angle"]
    pedal = [{c["name"]: c for c in d["checks"]}["pedal_travel"] for d in (mm, inches)]
    assert (pedal[0]["unit"], pedal[1]["unit"]) == ("mm", "in")
    assert pedal[1]["value"] * 25.4 == pytest.approx(pedal[0]["value"], abs=1e-9)
    assert " in;" in pedal[1]["says"]


def test_positions_are_even_in_driver_turn_and_the_figures_do_not_depend_on_them():
    few, many = (document(check(trains.bell_crank(), positions=n)) for n in (2, 64))
    assert np.diff(many["travel"]["turn"]) == pytest.approx(np.diff(many["travel"]["turn"])[0], abs=1e-9)
    assert few["mismatch"] == many["mismatch"]
    assert few["checks"] == many["checks"]
    assert math.isclose(few["travel"]["turn"][-1], many["travel"]["turn"][-1], rel_tol=0.0, abs_tol=1e-12)
