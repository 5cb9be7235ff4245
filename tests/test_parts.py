"""The parts: changing one dimension, and what may not be changed."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from linkage.design_file import read
from linkage.errors import DesignError, PathError
from linkage.parts import dimensions

RIG = read(Path(__file__).parent / "data" / "every_key.toml")


@pytest.mark.parametrize(
    ("path", "value", "becomes"),
    [
        ("link.left.length", 124.2, 124.2),
        ("link.left.length", "1 1/4 in", 31.75),
        ("shaft.left.pivot.y", np.float64(3.0), 3.0),
        ("tolerance.pivot", 0.2, 0.2),
        ("play.pin", 0.1, 0.1),
        ("spring.left.rate", "2 N mm/deg", 2.0),
        ("spring.overall.rate", "2 N/mm", 2.0),
        ("bellcrank.centre.arm.right.pin.z", 4.0, 4.0),
    ],
)
def test_one_dimension_changes_and_no_other(path: str, value: Any, becomes: float) -> None:
    changed = RIG.replace(path, value)
    assert dimensions(changed) == {**dimensions(RIG), path: becomes}
    assert changed.changes == ((path, value),)
    assert RIG.changes == ()


def test_a_whole_point_changes_and_keeps_the_z_that_is_left_out() -> None:
    assert RIG.replace("shaft.right.pivot", [1, 2.5]).shaft["right"].pivot == (1.0, 2.5, 2.0)
    assert RIG.replace("shaft.right.pivot", np.array([1, 2, 3])).shaft["right"].pivot == (1.0, 2.0, 3.0)


def test_words_and_optional_quantities_change() -> None:
    assert RIG.replace("shaft.left.opens", "cw").shaft["left"].opens == "cw"
    assert RIG.replace("link.left.length", None).link["left"].length is None
    assert "link.left.length" not in dimensions(RIG.replace("link.left.length", None))


@pytest.mark.parametrize(
    "path",
    [
        "",
        "shaft",
        "shaft.left",
        "shaft.lfet.bore",
        "shaft.left.bore.x",
        "shaft.left.pivot.xy",
        "bellcrank.centre.axis",
        "bellcrank.centre.axis.x",
        "cable.casing_axis.x",
        "link.left.joins",
        "stop.crank.on",
        "stop.crank.screw",
        "drive",
        "heat",
        "units",
        "source",
    ],
)
def test_what_is_no_dimension_cannot_be_changed(path: str) -> None:
    with pytest.raises(PathError, match=r"is not a dimension|is a whole part"):
        RIG.replace(path, 1.0)


@pytest.mark.parametrize(
    ("path", "value", "says"),
    [
        ("shaft.left.bore", True, "must be a number"),
        ("shaft.left.bore", 10**400, "must be a number"),
        ("shaft.left.bore", float("nan"), "must be a finite number"),
        ("shaft.left.bore", -1.0, "must be from 0.001 to 100000 mm, got -1"),
        ("shaft.left.bore", "34", "number in quotes"),
        ("shaft.left.plates", 2.5, "whole number from 1 to 24"),
        ("shaft.left.opens", "left", 'must be "ccw" or "cw"'),
        ("shaft.left.opens", None, "cannot be left out"),
        ("shaft.left.pivot", 5.0, r"must be \[x, y\]"),
        ("shaft.left.pivot", "12", r"must be \[x, y\]"),
        ("shaft.left.pivot", [1.0], r"must be \[x, y\]"),
        ("tolerance.pivot", [1.0, 2.0], "must be a number"),
        ("shaft.left.arm.lever.pin", [1.0, 2.0], 'does not go with "radius"'),
        ("shaft.left.arm.lever.radius", None, "cannot be left out"),
        ("shaft.right.arm.lever.station", 3.0, 'does not go with "pin"'),
        ("stop.crank.plate_angle", 30.0, 'does not go with "turn"'),
        ("cable.radius", 3.0, 'does not go with "pulls"'),
        ("spring.left.rate", "1 N/mm", "must be a torsion spring's rate"),
        ("shaft.left.shaft_diameter", 42.0, "42 mm is not less than the bore, 42 mm"),
        ("shaft.left.bore", 8.0, "8 mm is not less than the bore, 8 mm"),
        ("shaft.left.plate_angle.idle", 7.9, "idle 7.9 deg is less than shut 8 deg"),
        ("shaft.left.plate_angle.shut", 10.1, "idle 10 deg is less than shut 10.1 deg"),
        ("shaft.left.plate_angle.wide_open", 10.0, "wide_open 10 deg is not more than idle 10 deg"),
        ("coupling.rear.ratio", 0.0, "must not be 0"),
    ],
)
def test_a_value_that_breaks_its_rule_is_refused(path: str, value: Any, says: str) -> None:
    with pytest.raises(DesignError, match=says) as error:
        RIG.replace(path, value)
    assert error.value.faults[0].place == path


def test_what_only_holds_together_is_changed_together() -> None:
    new = {"shaft.left.plate_angle.shut": 11.0, "shaft.left.plate_angle.idle": 13.0}
    with pytest.raises(DesignError, match="idle 10 deg is less than shut 11 deg"):
        RIG.replace("shaft.left.plate_angle.shut", 11.0)
    changed = RIG.replace_all(new)
    assert dimensions(changed) == {**dimensions(RIG), **new}
    assert changed.changes == tuple(new.items())
    with pytest.raises(DesignError) as error:
        RIG.replace_all({**new, "shaft.left.bore": 5.0})
    assert [fault.place for fault in error.value.faults] == ["shaft.left.shaft_diameter"]


def test_dimensions_are_those_that_count() -> None:
    found = dimensions(RIG)
    assert found["shaft.left.arm.lever.station"] == 12.0
    assert found["bellcrank.centre.arm.right.pin.x"] == -11.0
    for path in (
        "bellcrank.centre.arm.right.radius",
        "bellcrank.centre.arm.right.station",
        "spring.left.initial_tension",
        "spring.overall.preload",
        "stop.crank.plate_angle",
        "link.right.length",
        "shaft.left.plates",
    ):
        assert path not in found
