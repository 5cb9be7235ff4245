"""Mountings and stations in the design file: what does not fit is told with its mend."""

from __future__ import annotations

from pathlib import Path

import pytest

from linkage.design_file import parse, to_text
from linkage.errors import DesignError

DATA = Path(__file__).parent / "data"
TEXTS = {name: (DATA / f"{name}.toml").read_text("utf-8") for name in ("every_key", "drive", "quadrant_in")}

FAULTS = [
    ("every_key", 'mounted = "engine"\n[shaft.left.arm', 'mounted = "body"\n[shaft.left.arm', "its carburettor"),
    ("every_key", 'mounted = "engine"\n[bellcrank', 'mounted = "car"\n[bellcrank', 'must be "engine" or "body"'),
    ("every_key", "diameter = 16.0\nshear_modulus", "shear_modulus", "diameter: is missing"),
    ("every_key", "shear_modulus = 26.0", 'material = "steel"\nshear_modulus = 26.0', "does not go with material"),
    ("every_key", "shear_modulus = 26.0", "plates_at = [3.0]", "does not go with a bell crank"),
    ("every_key", "shear_modulus = 26.0", "stops_at = 3.0", "give its [stop.NAME] the station"),
    ("every_key", "shear_modulus = 26.0", "turned_at = 3.0", "that no quadrant and no [drive] turns"),
    ("every_key", "wall = 2.5", "wall = 5.5", "more than half the diameter"),
    ("every_key", 'plates_at = ["-1 1/2 in"]', "plates_at = [1.0, 2.0]", "gives 2 plates, not 1"),
    ("every_key", 'plates_at = ["-1 1/2 in"]', "plates_at = 4.0", "must be a list of 1 to 24 lengths"),
    ("every_key", 'plates_at = ["-1 1/2 in"]', 'plates_at = ["2 deg"]', "must be a length"),
    ("every_key", 'material = "steel"', 'material = "steal"', 'did you mean "steel"?'),
    ("every_key", 'direction = "z"', "direction = [0.0, 1.0]", 'must be "x", "y", "z" or [ax, ay, az]'),
    ("every_key", "axis = [0.0, -300.0]\n", "", "axis: is missing"),
    ("every_key", "degrees = 2.0", "degrees = 90.0", "must be from 0.001 to 30 deg"),
    ("drive", "stations = [30.0, 30.0]", "stations = [30.0]", "must be two"),
    ("drive", "plates_at = [-60.0]", "plates_at = []", "must be a list of 1 to 24 lengths"),
    ("quadrant_in", "casing_end = [4, 6]", 'mounted = "body"', "add casing_end beside it"),
    ("quadrant_in", 'rate = "5 lbf/in"', 'rate = "5 lbf/in"\nstation = 1.0', "does not go with station"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "old", "new", "says"), FAULTS, ids=[row[3] for row in FAULTS])
def test_a_fault_is_told_with_its_line_and_mend(name: str, old: str, new: str, says: str) -> None:
    assert TEXTS[name].count(old) == 1
    with pytest.raises(DesignError) as raised:
        parse(TEXTS[name].replace(old, new))
    assert says in str(raised.value)
    assert all(fault.line for fault in raised.value.faults)


def test_a_coupling_between_engine_and_body_is_a_fault() -> None:
    text = (
        TEXTS["drive"]
        + '\n[bellcrank.three]\npivot = [0, 0, 90]\nmounted = "body"\n[coupling.x]\njoins = ["one", "three"]\n'
    )
    with pytest.raises(DesignError, match="a coupling would shear"):
        parse(text)


def test_stations_and_the_roll_are_read_and_written_in_the_design_s_own_unit() -> None:
    rig = parse(TEXTS["every_key"])
    assert rig.rocking is not None
    assert rig.rocking.axis == (0.0, -300.0, 0.0)
    assert rig.shaft["rear"].twist is not None
    assert rig.shaft["rear"].twist.plates_at == pytest.approx((-38.1,))
    inches = parse(
        TEXTS["quadrant_in"].replace(
            'only.opens = "cw"', 'only.opens = "cw"\nonly.twist = { diameter = 0.25, plates_at = [-2.5] }'
        )
    )
    section = inches.shaft["only"].twist
    assert section is not None
    assert (section.diameter, section.plates_at) == (pytest.approx(6.35), pytest.approx((-63.5,)))
    changed = parse(to_text(inches.replace("shaft.only.twist.diameter", 9.525))).shaft["only"].twist
    assert changed is not None
    assert changed.diameter == pytest.approx(9.525, abs=1e-9)
    assert changed.plates_at == section.plates_at


def test_a_fresh_file_keeps_them() -> None:
    import dataclasses

    for name in ("every_key", "drive"):
        text = to_text(dataclasses.replace(parse(TEXTS[name]), source=None))
        assert to_text(dataclasses.replace(parse(text), source=None)) == text
        for key in ("plates_at = [", "mounted = ", "stations = [", "[rocking]"):
            assert (key in text) == (key in TEXTS[name] and not (key == "mounted = " and "body" not in TEXTS[name])), (
                key
            )
