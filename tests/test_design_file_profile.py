"""A profile in a design file: read, refused, changed in its place, written afresh."""

from __future__ import annotations

import dataclasses
import re

import pytest

from linkage.design_file import parse, to_text
from linkage.design_file.marks import marked_text
from linkage.design_file.schema import json_schema
from linkage.errors import DesignError, PathError
from linkage.parts import Bounds, ProfilePoint, dimensions

TEXT = """\
format = 1
units = "in"
[shaft.a]
pivot = [0, 0]
opens = "ccw"
plate_angle = { shut = 8, idle = 10, wide_open = 88 }
[cable]
quadrant = "a"
pull_turns = "ccw"
profile = [[0, 1.5], ["30 deg", "35 mm"],   # the first two
           [78, 0.875]]                     # wide open
[free]
cable.profile.2.moment_arm = [1.25, 1.5]
"""
INCH = 25.4
PROFILE = TEXT[TEXT.index("profile") : TEXT.index("[free]")]


def test_points_are_numbered_from_one_and_come_in_their_own_units() -> None:
    rig = parse(TEXT)
    assert rig.cable is not None
    assert rig.cable.profile == {
        "1": ProfilePoint("1", 0.0, 1.5 * INCH),
        "2": ProfilePoint("2", 30.0, 35.0),
        "3": ProfilePoint("3", 78.0, 0.875 * INCH),
    }
    assert rig.cable.radius is None
    assert dimensions(rig)["cable.profile.2.moment_arm"] == 35.0
    assert rig.free == {"cable.profile.2.moment_arm": Bounds(1.25 * INCH, 1.5 * INCH)}


@pytest.mark.parametrize(
    ("right", "wrong", "says"),
    [
        ("[78, 0.875]", "[30, 0.875]", "profile: point 3 stands at 30 deg after 30 deg; the turns of the points must"),
        ("[78, 0.875]", "[-8, 0.875]", "profile: point 3 stands at -8 deg after 30 deg"),
        ("[78, 0.875]", "[78]", r"profile: point 3 must be \[turn, moment_arm\], got a list of 1"),
        ("[78, 0.875]", "78", r"profile: point 3 must be \[turn, moment_arm\], got 78"),
        ("[78, 0.875]", "[78, 0]", r"profile: point 3, moment_arm must be from 0.001 to 100000 mm, got 0"),
        ("[78, 0.875]", "[400, 1]", r"profile: point 3, turn must be from -360 to 360 deg, got 400"),
        ("[78, 0.875]", '[78, "far"]', 'point 3, moment_arm "far" is not a number with a unit'),
        (PROFILE, "profile = []\n", r"must be a list of 2 to 20 points \[turn, moment_arm\], got a list of 0"),
        (PROFILE, "profile = 30\n", r"must be a list of 2 to 20 points \[turn, moment_arm\], got 30"),
        (PROFILE, "", "cable, radius: is missing"),
        ("pull_turns", "radius = 1\npull_turns", "cable, radius: does not go with profile"),
        ('pull_turns = "ccw"\n', "", "cable, pull_turns: is missing"),
        ("cable.profile.2.", "cable.profile.4.", "is not a dimension of this design; did you mean"),
        ("cable.profile.2.moment_arm", "cable.profile.2.arm", "is no path to a dimension"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_told(right: str, wrong: str, says: str) -> None:
    assert right in TEXT
    with pytest.raises(DesignError, match=says):
        parse(TEXT.replace(right, wrong, 1))


def test_falling_turns_are_as_good() -> None:
    rig = parse(TEXT.replace("30 deg", "-30 deg").replace("[78,", "[-78,"))
    assert dimensions(rig)["cable.profile.3.turn"] == -78.0


@pytest.mark.parametrize(
    ("path", "value", "line"),
    [
        ("cable.profile.1.moment_arm", 1.25 * INCH, 'profile = [[0, 1.25], ["30 deg", "35 mm"],   # the first two'),
        ("cable.profile.2.moment_arm", 34.5, 'profile = [[0, 1.5], ["30 deg", "34.5 mm"],   # the first two'),
        ("cable.profile.2.turn", 31.0, 'profile = [[0, 1.5], ["31.0 deg", "35 mm"],   # the first two'),
        ("cable.profile.3.turn", "80 deg", "           [80.0, 0.875]]                     # wide open"),
    ],
)
def test_a_changed_number_is_changed_in_its_place(path: str, value: float | str, line: str) -> None:
    rig = parse(TEXT).replace(path, value)
    text = to_text(rig)
    assert line in text.splitlines()
    assert len(text.splitlines()) == len(TEXT.splitlines())
    assert parse(text) == rig


def test_the_mark_says_which_point_it_was() -> None:
    text = marked_text(parse(TEXT).replace("cable.profile.3.moment_arm", 20.0))
    assert re.search(r"\[78, 0\.7874\d*\]\] +# wide open; point-3 was 0\.875$", text, re.MULTILINE)


def test_a_fresh_file_reads_back() -> None:
    rig = dataclasses.replace(parse(TEXT).replace("cable.least_bend", 9.0), source=None)
    back = parse(to_text(rig), rig.title)
    assert dimensions(back) == pytest.approx(dimensions(rig), abs=1e-9)
    assert back.free == rig.free


def test_a_round_quadrant_becomes_a_snail_and_back_with_its_comments_kept() -> None:
    round_one = TEXT.replace(PROFILE, "radius = 1.25  # inches\n").replace(TEXT[TEXT.index("[free]") :], "")
    rig = parse(round_one)
    snail = parse(TEXT).cable
    assert rig.cable is not None
    text = to_text(dataclasses.replace(rig, cable=snail))
    assert "radius" not in text
    assert "least_bend" not in text  # a default is left out
    back = parse(text)
    assert back.cable is not None
    assert dimensions(back) == pytest.approx(dimensions(dataclasses.replace(rig, cable=snail)), abs=1e-9)
    assert "radius = 1.25" in to_text(dataclasses.replace(back, cable=rig.cable))
    assert parse(to_text(dataclasses.replace(parse(text), cable=rig.cable))).cable == rig.cable


def test_paths_that_name_nothing() -> None:
    rig = parse(TEXT)
    for path in ("cable.profile", "cable.profile.2", "cable.profile.9.moment_arm", "cable.profile.2.name"):
        with pytest.raises(PathError):
            rig.replace(path, 1.0)
    with pytest.raises(DesignError, match='does not go with "profile"'):
        rig.replace("cable.radius", 1.0)
    with pytest.raises(DesignError, match="must be from"):
        rig.replace("cable.profile.2.moment_arm", -1.0)


def test_the_schema_knows_the_rows() -> None:
    schema = json_schema()
    rows = schema["$defs"]["Cable"]["properties"]["profile"]
    assert rows["minItems"] == 2
    assert len(rows["items"]["prefixItems"]) == 2
    assert rows["items"]["maxItems"] == 2
    assert "ProfilePoint" not in schema["$defs"]
