"""The starter files: they read without a fault, teach every section, and what they offer works."""

import re

import pytest

from linkage.design_file import parse, starter
from linkage.design_file.schema import KEYS
from linkage.parts import Limits, Linkage


def taken_in(text: str) -> str:
    """The text with every optional line taken in: the lines that begin with # and no space."""
    return re.sub(r"(?m)^#(?=[^ \n])", "", text)


@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_starter_reads_and_says_that_its_numbers_are_invented(units: str) -> None:
    text = starter(units)  # type: ignore[arg-type]
    rig = parse(text)
    assert rig.units == units
    assert {shaft.opens for shaft in rig.shaft.values()} == {"ccw", "cw"}
    assert rig.driver == "centre"
    assert "All numbers are invented" in text


@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_starter_reads_with_everything_taken_in(units: str) -> None:
    rig = parse(taken_in(starter(units)))  # type: ignore[arg-type]
    for key in KEYS[Linkage]:
        assert getattr(rig, key) or key == "drive", key
    assert rig.limits == Limits()


def test_each_optional_line_of_a_used_table_works_alone() -> None:
    lines = starter().split("\n")
    body = lines.index(next(line for line in lines if "everything is optional" in line))
    optional = [i for i in range(body) if re.match("#[^ ]", lines[i])]
    assert len(optional) > 10
    for i in optional:
        assert parse("\n".join([*lines[:i], lines[i][1:], *lines[i + 1 :]]))


def test_each_optional_table_works_alone() -> None:
    text = starter()
    start = text.index("# ---- from here on")
    blocks = re.split(r"\n\n(?=# [a-z])", text[start:])[1:]
    assert len(blocks) == 14
    for block in blocks:
        assert parse(text[:start] + taken_in(block))


def test_there_is_no_starter_in_other_units() -> None:
    with pytest.raises(ValueError, match='units must be "mm" or "in"'):
        starter("cm")  # type: ignore[arg-type]
