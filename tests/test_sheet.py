"""Sheets as text and as pages: whole, legible, nothing on top of anything else, the same bytes every time."""

from __future__ import annotations

import pytest
from papers import opened, text_of
from plot_words import outside, overlaps, sizes

from linkage.paper import sheet_pages
from linkage.paper.sheet import (
    TIED,
    Figures,
    Picture,
    Rules,
    Section,
    Sheet,
    Steps,
    Table,
    Words,
    Working,
    sixty_fourths,
    table,
    text,
)

LONG = "a sentence that is long enough to be broken over more lines than one, as many a sentence is " * 3


def full(rows: int = 60) -> Sheet:
    """One sheet with one of everything."""
    many = table(
        ("name", "first [mm]", "second [mm]", "what it carries"),
        [
            [f"row {i}", f"{i}.25", f"{i * 7}.00", "a link and a spring and the cable too, all of them"]
            for i in range(rows)
        ],
        "<>><",
    )
    blank = table(("what", "as built [mm]", "remarks"), [["one", "", ""], ["two", "1.50", ""]], "<><", ruled=True)
    sections = (
        Section("words", (Words(LONG), Words("take care", "caution"))),
        Section("nothing", ()),
        Section("rows", (many, blank)),
        Section("steps", (Steps((LONG, "two", "three")),), fresh=True),
        Section("rules", (Rules((("a rule", "common practice, no source"),)),)),
        Section("working", (Working(("    a = 1 + 2", "      = 3")),)),
        Section("picture", (Picture(30.0, lambda ax: ax.plot([0, 1], [0, 1])),)),
    )
    return Sheet("Sheet", "A title", ("facts", "more facts"), sections, ("fail", "do not build."), date="2026-03-01")


def test_text_has_every_block_once() -> None:
    said = text(full(3))
    lines = said.splitlines()
    assert said.count("row 2") == 1
    assert "✗ FAIL   Do not build." in said
    assert "NOTHING" not in said
    assert "  ! Take care" in lines
    assert "  [ ]  2 two" in lines
    assert "  - A rule [common practice, no source]." in lines
    assert "      a = 1 + 2" in lines
    assert "________" in said
    assert TIED not in text(Sheet("S", "t", (), (Section("s", (Words(f"1{TIED}1/4 in"),)),)))


def test_headings_are_broken_to_their_columns() -> None:
    narrow = Table(("a very long heading [mm]", "b"), (("1", "2"),), ">>")
    lines = text(Sheet("S", "t", (), (Section("s", (narrow,)),), foot="")).splitlines()
    # eight letters at least, however short the cells: "a very / long / heading / [mm]"
    assert [line.split() for line in lines[-5:]] == [["a", "very"], ["long"], ["heading"], ["[mm]", "b"], ["1", "2"]]
    assert len({len(line) for line in lines[-2:]}) == 1


def test_a_column_that_is_empty_everywhere_is_left_out() -> None:
    found = table(("a", "b", "c"), [["1", "", "3"], ["4", "", "6"]], "<<>")
    assert (found.heading, found.columns) == (("a", "c"), "<>")
    assert table(("a", "b"), [["1", ""]], "<<", ruled=True).columns == "<<"


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("sideways", [False, True])
def test_pages_are_whole_and_legible(paper: sheet_pages.Paper, sideways: bool) -> None:
    pages = sheet_pages.pages(full(), paper, sideways=sideways)
    assert len(pages) > 2
    wide, high = sheet_pages.PAPERS[paper][:: -1 if sideways else 1]
    for page in pages:
        assert 25.4 * page.get_size_inches() == pytest.approx((wide, high))
        assert outside(page) == []
        assert overlaps(page) == []
        assert min(sizes(page)) >= 8.0


def test_a_broken_table_repeats_its_heading() -> None:
    read = opened(sheet_pages.pdf(sheet_pages.pages(full())))
    words = [text_of(page) for page in read.pages]
    with_rows = [page for page in words if "row " in page]
    assert len(with_rows) > 1
    assert all("what it carries" in page for page in with_rows)
    assert sum(page.count(f"row {i} ") for page in words for i in range(60)) == 60
    assert all("not a certificate" in page and "2026-03-01" in page for page in words)
    assert f"page 1 of {len(words)}" in words[0]
    steps = next(page for page in words if "steps" in page.lower())
    assert "row" not in steps  # begins a page of its own


def test_the_same_sheet_gives_the_same_bytes() -> None:
    first, second = (sheet_pages.pdf(sheet_pages.pages(full(3))) for _ in range(2))
    assert first == second
    assert b"CreationDate" not in first


@pytest.mark.parametrize(
    ("inches", "told"),
    [
        (1.0 + 3.0 / 16.0, "1 3/16"),
        (2.0, "2"),
        (0.0, "0"),
        (-0.5, "-1/2"),
        (4.867, "4 55/64"),  # 0.867 x 64 = 55.5, to the even neighbour's side: 55.488
        (1.0 - 1.0 / 200.0, "1"),
        (63.0 / 64.0, "63/64"),
        (1.0 / 129.0, "0"),
        (1.0 / 127.0, "1/64"),
    ],
)
def test_the_nearest_sixty_fourth(inches: float, told: str) -> None:
    assert sixty_fourths(inches) == told


def test_lengths_are_written_in_the_design_s_unit() -> None:
    assert Figures("mm").with_unit(12.345) == "12.35 mm"
    assert Figures("in").with_unit(25.4 * 1.1875) == "1.188 in"
    assert Figures("in", fractions=True).with_unit(25.4 * 1.1875) == f"1.188 (1{TIED}3/16) in"
    assert Figures("mm", fractions=True).with_unit(3.0) == "3.00 mm"
    assert Figures("mm").bare(-0.001) == "0.00"
    assert Figures("mm").bare(None) == Figures("mm").bare(float("nan")) == "-"
