"""Lines and spans of a TOML text, against what tomllib reads there."""

import tomllib
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from linkage.design_file.lines import line_of, spots

DATA = Path(__file__).parent / "data"

AWKWARD = '''# comment = "not a key"
title = "a # no comment" # c
"quoted key".'lit.eral'.bare = 1
multi = """
[not.a.table]
x = 1 \\""" still
"""
raw = \'\'\'
y = 2''\'\'\'
points = [ # first
  1.5, [2,
  3], # "]"
  { a = 1, b = [ "]", '}' ] },
  1979-05-27 07:32:00,
]
empty = []
none = {}
[ table . "sub.table" ]   # header
deep.er = { x = { y = 1 }, "z" = "}" }
[[rows]]
k = 1
[[rows]]
k = 2
[rows.inner]
k = 3
[[rows.more]]
k = 4
[table]
late = true
'''


def walk(value: Any, path: tuple[str | int, ...] = ()) -> list[tuple[tuple[str | int, ...], Any]]:
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [(path, value), *(found for key, inner in items for found in walk(inner, (*path, key)))]


def check_spans(text: str) -> int:
    """Every span that is found holds what tomllib reads at its path; every leaf is found."""
    found = spots(text)
    seen = 0
    for path, value in walk(tomllib.loads(text)):
        if not path or (isinstance(value, (dict, list)) and path not in found):
            continue
        spot = found[path]
        assert text.count("\n", 0, spot.start) + 1 == spot.line
        if spot.header or spot.value_end == spot.value_start:
            assert isinstance(value, (dict, list))
            continue
        assert tomllib.loads(f"v = {text[spot.value_start : spot.value_end]}\n")["v"] == value
        seen += 1
    return seen


@pytest.mark.parametrize("name", ["every_key", "quadrant_in", "drive"])
def test_spans_of_design_files(name: str) -> None:
    assert check_spans((DATA / f"{name}.toml").read_text("utf-8")) > 10


def test_spans_of_an_awkward_text() -> None:
    assert check_spans(AWKWARD) == 26
    assert check_spans(AWKWARD.replace("\n", "\r\n")) == 26


@pytest.mark.parametrize(
    ("path", "starts"),
    [
        (("title",), "title"),
        (("quoted key", "lit.eral", "bare"), '"quoted key"'),
        (("points",), "points"),
        (("points", 0), "  1.5"),
        (("points", 1, 1), "  3]"),
        (("points", 2, "b"), "  { a"),
        (("table", "sub.table"), "[ table ."),
        (("table", "sub.table", "deep", "er", "x", "y"), "deep.er"),
        (("rows", 1, "inner", "k"), "k = 3"),
        (("rows", 1, "more", 0, "k"), "k = 4"),
        (("table", "late"), "late"),
        (("table", "missing", "key"), "[table]"),
        (("rows", 1, "missing"), "[[rows]]\nk = 2"),
    ],
)
def test_lines_of_keys_and_of_the_nearest_table(path: tuple[str | int, ...], starts: str) -> None:
    at = AWKWARD.index(f"\n{starts}") + 1
    assert line_of(path, spots(AWKWARD)) == AWKWARD.count("\n", 0, at) + 1


def test_what_is_nowhere_in_the_text_has_no_line() -> None:
    assert line_of(("nothing",), spots(AWKWARD)) is None
    assert line_of((), spots(AWKWARD)) is None


@given(st.text(max_size=60))
def test_no_text_makes_the_scan_fail(text: str) -> None:
    assert all(spot.line >= 1 for spot in spots(text).values())


@given(st.text(alphabet="[]{}=.,\"'#\n\\ ab1", max_size=60))
def test_no_text_of_toml_signs_makes_the_scan_fail(text: str) -> None:
    found = spots(text)
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    assert all(path in found for path, value in walk(tomllib.loads(text)) if path and not isinstance(value, dict))
    check_spans(text)


NAMES = st.text(alphabet="ab-_1 .\"'ü", min_size=1, max_size=4)
VALUES = st.recursive(
    st.integers() | st.booleans() | st.text(max_size=8) | st.floats(allow_nan=False),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(NAMES, inner, max_size=3),
    max_leaves=12,
)


@given(st.dictionaries(NAMES, VALUES, max_size=4))
def test_spans_of_any_document(document: dict[str, Any]) -> None:
    text = tomlkit.dumps(document)
    if tomllib.loads(text) == document:
        check_spans(text)
