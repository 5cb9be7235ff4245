"""Marks on the changed lines of a design file."""

from __future__ import annotations

from pathlib import Path

import pytest

from linkage.design_file import parse, to_text
from linkage.design_file.marks import marked_text
from linkage.parts import Linkage

TEXT = (Path(__file__).parent / "data" / "every_key.toml").read_text("utf-8")


def changed(rig: Linkage, **to: float) -> Linkage:
    for path, value in to.items():
        rig = rig.replace(path.replace("__", "."), value)
    return rig


def new_lines(old: str, new: str) -> list[str]:
    return [line for line in new.split("\n") if line not in old.split("\n")]


@pytest.mark.parametrize(
    ("path", "value", "line"),
    [
        ("shaft.left.bore", 45.0, "bore = 45.0  # was 42.0"),
        ("bellcrank.centre.pivot.y", 81.5, "pivot = [0.0, 81.5]  # was [0.0, 80.0]"),
        ("shaft.right.arm.lever.pin.y", 26.0, "pin = [76.2, 26.0]       # beside the shaft's end; was [76.2, 25.9]"),
        ("bellcrank.centre.arm.cable.radius", 63.5, 'radius = "2.5 in"  # was "2 3/8 in"'),
        ("link.right.length", 65.0, "length = 65.0  # new"),
        ("stop.crank.screw.pitch", 1.0, "screw = { radius = 20.0, pitch = 1.0 }  # pitch was 0.8"),
    ],
)
def test_a_changed_line_says_what_stood_there(path: str, value: float, line: str) -> None:
    rig = parse(TEXT, "job.toml").replace(path, value)
    assert new_lines(TEXT, marked_text(rig)) == [line]


def test_what_is_marked_reads_back_as_the_linkage() -> None:
    rig = changed(
        parse(TEXT, "job.toml"), shaft__left__bore=45.0, bellcrank__centre__pivot__x=1.25, link__left__length=159.0
    )
    assert parse(marked_text(rig), "job.toml") == rig


def test_a_second_change_takes_the_mark_of_the_first_away() -> None:
    once = marked_text(parse(TEXT, "job.toml").replace("shaft.right.arm.lever.pin.y", 26.0))
    twice = marked_text(parse(once, "job.toml").replace("shaft.right.arm.lever.pin.y", 27.0))
    assert new_lines(TEXT, twice) == ["pin = [76.2, 27.0]       # beside the shaft's end; was [76.2, 26.0]"]


def test_a_comment_keeps_its_column_where_there_is_room() -> None:
    text = TEXT.replace("bore = 42.0\n", "bore = 42.0      # measured\n")
    new = marked_text(parse(text, "job.toml").replace("shaft.left.bore", 45.125))
    assert "bore = 45.125    # measured; was 42.0" in new
    long = marked_text(parse(text, "job.toml").replace("shaft.left.bore", 45.12345678))
    assert "bore = 45.12345678  # measured; was 42.0" in long


def test_what_did_not_change_bears_no_mark() -> None:
    rig = parse(TEXT, "job.toml")
    assert marked_text(rig) == TEXT
    assert marked_text(rig.replace("shaft.left.bore", 42.0)) == TEXT
    assert marked_text(rig.replace("shaft.left.bore", 50.0).replace("shaft.left.bore", 42.0)) == TEXT


def test_a_hash_in_a_text_is_no_comment() -> None:
    rig = parse(TEXT, "job.toml").replace("title", "No. #7")
    assert 'title = "No. #7"  # was "Every key, a linkage that turns two banks"' in marked_text(rig)


def test_lines_end_as_they_did() -> None:
    text = TEXT.replace("\n", "\r\n")
    new = marked_text(parse(text, "job.toml").replace("shaft.left.bore", 45.0))
    assert "bore = 45.0  # was 42.0\r\n" in new
    assert new.count("\r\n") == new.count("\n") == text.count("\n")


def test_without_a_source_there_is_nothing_to_mark() -> None:
    import dataclasses

    rig = dataclasses.replace(parse(TEXT), source=None).replace("shaft.left.bore", 45.0)
    assert marked_text(rig) == to_text(rig)
