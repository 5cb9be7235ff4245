"""The published examples: every value met, none lost, and a wrong one shown as wrong."""

from __future__ import annotations

import copy
import re
from typing import Any

import pytest

from linkage import published
from linkage.published import linkages
from linkage.published.rows import compared, examples

ROWS = published.verify()


def leaves(part: Any) -> int:
    if isinstance(part, dict | list):
        return sum(leaves(inner) for inner in (part.values() if isinstance(part, dict) else part))
    return 1


def example(of: str) -> dict[str, Any]:
    return copy.deepcopy(next(one for one in examples() if one["id"] == of))


@pytest.mark.parametrize("row", [row for row in ROWS if row.passed is not None], ids=lambda r: f"{r.id} {r.quantity}")
def test_the_code_meets_the_value(row: published.Row) -> None:
    assert row.passed, f"{row.source}: {row.quantity} is {row.expected} ({row.how_come_by}), found {row.got}"


def test_no_value_of_a_computed_kind_is_passed_over() -> None:
    assert {row.kind for row in ROWS if row.passed is None}.isdisjoint(published.KINDS)
    assert {row.kind for row in ROWS if row.passed is not None} == set(published.KINDS)


def test_every_value_of_the_data_has_its_row() -> None:
    for one in examples():
        unknown = str(one["published"]).count("None")  # printed, but not come by
        wanted = leaves(one["exact"]) + leaves(one["published"]) - unknown
        assert sum(row.id == one["id"] for row in ROWS) == wanted, one["id"]


def test_tolerances_are_those_of_the_data() -> None:
    stated = {one["id"]: one["published_tolerance"] for one in examples()}
    numbers = [row for row in ROWS if row.difference is not None]
    assert numbers
    for row in numbers:
        by = stated[row.id]
        assert row.tolerance in (
            1e-9,
            by[row.quantity.partition("[")[0]] if isinstance(by, dict) and row.tolerance != 1e-9 else by,
        )
        assert row.unit or row.kind != "thread"


def test_an_example_says_how_it_was_come_by() -> None:
    said = {(row.id, row.how_come_by) for row in ROWS}
    assert ("fb-norton-4-1", "from memory") in said
    assert ("stack-4part", "read at the source") in said
    assert ("rssr-perp", "computed, no published source") in said
    assert ("fb-nikravesh-5-2", "computed, inputs read at a copy of the source") in said


def test_a_printed_value_beyond_its_tolerance_fails_and_is_shown() -> None:
    wrong = example("fb-norton-4-1")
    wrong["published"]["open"]["theta4"] = 57.3
    rows = tuple(compared(wrong, linkages.positions))
    failed = [row for row in rows if row.passed is False]
    assert [(row.quantity, row.expected) for row in failed] == [("open.theta4", 57.3)]
    assert failed[0].difference == pytest.approx(57.3248800703608 - 57.3, abs=1e-12)
    text = published.report(rows)
    assert len(re.findall(r"open\.theta4 .*57\.3 .*2\.5e-02 .*1\.0e-02 .*FAILED", text)) == 1
    assert text.splitlines()[-1] == f"{len(rows) - 1} passed, 1 failed, 0 not yet computed"


def test_an_exact_value_off_by_2e_9_fails() -> None:
    wrong = example("fb-norton-4-1")
    wrong["exact"]["crossed"]["mu"] += 2e-9
    assert [row.quantity for row in compared(wrong, linkages.positions) if not row.passed] == ["crossed.mu"]


def test_degrees_compare_round_the_turn() -> None:
    turned = example("fb-norton-4-1")
    turned["exact"]["open"]["theta4"] -= 720.0
    turned["published"]["crossed"]["theta3"] += 360.0
    assert all(row.passed for row in compared(turned, linkages.positions))


def test_cannot_assemble_is_a_value_of_its_own() -> None:
    wrong = example("rssr-perp")
    wrong["exact"]["phi_pairs"][0] = [1.0, 2.0]  # where it cannot be assembled
    wrong["exact"]["phi_pairs"][3] = None  # where it can
    rows = [row for row in compared(wrong, linkages.spatial) if not row.passed]
    assert [row.quantity for row in rows] == ["phi_pairs[0][0]", "phi_pairs[0][1]", "phi_pairs[3]"]
    assert all(row.passed is False for row in rows)


def test_words_and_yes_or_no_must_be_the_same() -> None:
    wrong = example("grashof-a")
    wrong["published"]["cls"] = "non-Grashof"
    assert [row.quantity for row in compared(wrong, linkages.grashof_class) if not row.passed] == ["cls"]
    wrong = example("no-chain-1237")
    wrong["published"]["assembles"] = True
    assert [row.passed for row in compared(wrong, linkages.assembly)] == [False]


def test_no_toggle_is_found_that_the_example_does_not_have() -> None:
    for one in examples():
        if one["kind"] == "toggle_input_angle":
            found = {name for name, value in linkages.toggle_angles(one["inputs"]).items() if value is not False}
            assert found == set(one["exact"])


def test_a_kind_without_a_function_is_listed_and_not_counted_as_passed() -> None:
    rows = tuple(compared(example("fb-norton-4-1"), None))
    assert published.tally(rows) == (0, 0, len(rows))
    text = published.report(rows)
    assert text.splitlines()[0] == "Not yet computed here:"
    assert f"fb-norton-4-1: {len(rows)} values" in text
    assert text.splitlines()[-1] == f"0 passed, 0 failed, {len(rows)} not yet computed"


def test_report_names_every_source_and_counts_at_the_end() -> None:
    text = published.report(ROWS)
    for source in {row.source for row in ROWS}:
        assert source in text
    passed, failed, left = published.tally(ROWS)
    assert passed + failed + left == len(ROWS)
    assert text.splitlines()[-1] == f"{passed} passed, {failed} failed, {left} not yet computed"


def test_a_printed_number_without_tolerance_is_refused() -> None:
    wrong = example("fb-norton-4-1") | {"published_tolerance": None}
    with pytest.raises(ValueError, match='example "fb-norton-4-1": printed numbers need a published_tolerance'):
        list(compared(wrong, linkages.positions))


def test_numbers_as_text_are_read() -> None:
    assert linkages.number("sqrt(13600)") == pytest.approx(116.61903789690601, rel=1e-15)
    assert linkages.number("0.22") == 0.22
    with pytest.raises(ValueError, match="could not convert"):
        linkages.number("__import__('os')")
