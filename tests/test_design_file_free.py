"""The tables [wish] and [free]: read, refused, written."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from linkage.design_file import parse, to_text
from linkage.errors import DesignError
from linkage.parts import Bounds, Wish

DATA = Path(__file__).parent / "data"
TEXT = (DATA / "every_key.toml").read_text("utf-8")
INCHES = (DATA / "quadrant_in.toml").read_text("utf-8")
HEAD = TEXT.partition("[wish]")[0]


def says(addition: str, text: str = HEAD) -> list[str]:
    with pytest.raises(DesignError) as error:
        parse(text + addition, "job.toml")
    return [str(fault) for fault in error.value.faults]


def test_what_the_sample_says_is_read() -> None:
    rig = parse(TEXT)
    assert rig.wish == Wish(0.2, 0.3, 1.8, ((0.25, 0.1), (0.5, 0.3)), 38.0, 40.0, 60.0, 0.6)
    assert rig.free == {
        "shaft.left.arm.lever.angle": Bounds(90.0, 110.0),
        "bellcrank.centre.arm.cable.radius": Bounds(2.25 * 25.4, 2.5 * 25.4, 25.4 / 32.0),
        "bellcrank.centre.pivot.y": Bounds(75.0, 85.0),
        "link.right.length": Bounds(60.0, 70.0),
        "spring.left.rate": Bounds(1.0, 2.0),
    }


def test_without_the_tables_nothing_is_wished_and_nothing_free() -> None:
    rig = parse(HEAD)
    assert rig.wish is None
    assert rig.free == {}


def test_bare_lengths_are_in_the_unit_of_the_file() -> None:
    rig = parse(INCHES + "\n[free]\nbellcrank.drum.arm.out.radius = [1, 1.5, 0.125]\n")
    assert dataclasses.astuple(rig.free["bellcrank.drum.arm.out.radius"]) == pytest.approx((25.4, 38.1, 3.175))


def test_tables_in_tables_say_the_same_as_dotted_paths() -> None:
    dotted = parse(HEAD + "[free]\nshaft.left.arm.lever.angle = [90, 110]\n")
    nested = parse(HEAD + "[free.shaft.left.arm.lever]\nangle = [90, 110]\n")
    assert dotted == nested


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ("shaft.left.arm.lever.angel = [1, 2]", "is no path to a dimension"),
        ("shaft.left.arm.lever = [1, 2]", "is no path to a dimension"),
        ("shaft.left.pivot = [1, 2]", "is no path to a dimension"),
        ('"shaft.left.bore" = [1, 2]', "is no path to a dimension; write the path without quotes"),
        ("shaft.lfet.arm.lever.angle = [1, 2]", 'did you mean "shaft.left.arm.lever.angle"?'),
        ("shaft.right.arm.lever.radius = [30, 40]", "is not a dimension of this design"),
        ("shaft.left.arm.lever.angle = 3", "must be [from, to] or [from, to, step], got 3"),
        ("shaft.left.arm.lever.angle = [3]", "must be [from, to] or [from, to, step], got a list"),
        ("shaft.left.arm.lever.angle = [90, true]", "to must be a number, or a text with a unit, got true"),
        ("shaft.left.arm.lever.angle = [90, 80]", "goes from 90 to 80; write the smaller first"),
        ("shaft.left.arm.lever.angle = [90, 100, 0]", "step must be from 1e-06"),
        ("shaft.left.arm.lever.radius = [-5, 30]", "from must be from 0.001"),
        ('shaft.left.arm.lever.radius = ["3 deg", 30]', 'from must be a length, but "deg" is the unit of an angle'),
        ('spring.overall.rate = ["1 N mm/deg", 30]', "must be a spring rate"),
        ("free = 3", "is no path to a dimension"),
    ],
)
def test_a_bad_line_is_refused_with_its_place(line: str, fault: str) -> None:
    (found,) = says(f"[free]\n{line}\n")
    assert fault in found
    assert found.startswith(f"job.toml:{HEAD.count(chr(10)) + 2}: free, ")


def test_every_fault_is_told_at_once() -> None:
    assert len(says("[wish]\nmismatch = -1\nstops = 2\n[free]\nshaft.left.bore = 3\nx = [1, 2]\n")) == 4


def test_free_must_be_a_table_of_no_more_than_twenty() -> None:
    assert "free: must be a table, got 3" in says("", "free = 3\n" + HEAD)[0]
    many = "".join(f"shaft.left.arm.x{i}.angle = [1, 2]\n" for i in range(21))
    assert "has 21 dimensions, and 20 are the most" in says(f"[free]\n{many}")[0]


@pytest.mark.parametrize(
    ("value", "fault"),
    [
        ("3", "must be a list of 1 to 20 points, got 3"),
        ("[]", "must be a list of 1 to 20 points, got a list of 0"),
        ("[[0.1]]", "must be points of two numbers from 0 to 1"),
        ("[[0.1, 20.0]]", "must be points of two numbers from 0 to 1"),
        ('[[0.1, "a"]]', "must be points of two numbers from 0 to 1"),
    ],
)
def test_a_bad_progression_is_refused(value: str, fault: str) -> None:
    assert fault in says(f"[wish]\nprogression = {value}\n")[0]


def test_changed_bounds_and_wishes_are_written_in_place() -> None:
    rig = parse(TEXT, "job.toml")
    free = {**rig.free, "bellcrank.centre.pivot.y": Bounds(70.0, 85.0, 0.5)}
    changed = dataclasses.replace(rig, free=free, wish=dataclasses.replace(rig.wish or Wish(), mismatch=0.15))
    text = to_text(changed)
    assert parse(text, "job.toml") == changed
    assert "bellcrank.centre.pivot.y = [70.0, 85.0, 0.5]" in text
    assert "mismatch = 0.15" in text
    assert text.count("# ") == TEXT.count("# ")


def test_a_fresh_text_has_them_under_one_heading() -> None:
    text = to_text(dataclasses.replace(parse(TEXT), source=None))
    assert "\n[free]\nshaft.left.arm.lever.angle = [90.0, 110.0]\n" in text
    assert "progression = [[0.25, 0.1], [0.5, 0.3]]" in text
