"""Limits, the best, the front."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from trains import bell_crank

from linkage.errors import DesignError
from linkage.search.choose import Aim, Choice, Limit, aims, front, limits
from linkage.search.headings import kinds

Y = "bellcrank.centre.pivot.y"
KINDS = kinds(bell_crank(), [Y])

COLUMNS = {
    "mismatch": np.array([0.3, 0.1, np.nan, 0.2, 0.2, 0.9]),
    "progression_ratio": np.array([2.0, 1.0, 3.0, 1.5, 1.5, 1.9]),
    "verdict": np.array([0.0, 2.0, 2.0, 1.0, 0.0, 2.0]),
}


@pytest.mark.parametrize(
    ("text", "limit"),
    [
        ("mismatch<=0.3", Limit("mismatch", "<=", 0.3)),
        (" mismatch  <  .3 ", Limit("mismatch", "<", 0.3)),
        ("progression_ratio>=1.5", Limit("progression_ratio", ">=", 1.5)),
        ("cable_travel<40", Limit("cable_travel", "<", 40.0)),
        ("cable_travel<1 1/2 in", Limit("cable_travel", "<", 38.1)),
        ("verdict!=fail", Limit("verdict", "!=", 2.0)),
        ("verdict<=caution", Limit("verdict", "<=", 1.0)),
        ("reason==mismatch", Limit("reason", "==", 9.0)),
        ("gap:left.wide_open<=1", Limit("gap:left.wide_open", "<=", 1.0)),
        ("length:left>100", Limit("length:left", ">", 100.0)),
        (f"{Y}>=58", Limit(Y, ">=", 58.0)),
    ],
)
def test_limits_are_read(text: str, limit: Limit) -> None:
    (found,) = limits([text], KINDS, "mm")
    assert (found.name, found.sign) == (limit.name, limit.sign)
    assert found.value == pytest.approx(limit.value, rel=1e-15)


def test_bare_lengths_are_in_the_designs_own_unit() -> None:
    assert limits(["cable_travel<1.5", f"{Y}>2", "mismatch<0.5"], KINDS, "in") == (
        Limit("cable_travel", "<", 1.5 * 25.4),
        Limit(Y, ">", 50.8),
        Limit("mismatch", "<", 0.5),
    )


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("mismach<=0.3", 'did you mean "mismatch"?'),
        ("mismatch", "is no limit"),
        ("mismatch<=", "is no limit"),
        ("0.1<mismatch<0.3", "is no limit"),
        ("mismatch<=0.3 or True", 'keep mismatch<=0.3 or True: has an unknown unit "or True"'),
        ("mismatch<=__import__('os').system('true')", "is not a number"),
        ("verdict==good", "is no verdict; write pass, caution, fail"),
        ("cable_travel<40 deg", "is the unit of an angle"),
        ("zzz<1", "there are mismatch, "),
    ],
)
def test_what_is_no_limit_is_told(text: str, says: str) -> None:
    with pytest.raises(DesignError) as caught:
        limits([text], KINDS, "mm")
    assert says in str(caught.value)


@given(st.text(max_size=40))
def test_whatever_is_typed_is_a_limit_or_a_fault(text: str) -> None:
    try:
        found = limits([text], KINDS, "mm")
    except DesignError:
        return
    assert found[0].name in KINDS


def test_aims_know_which_way_is_better() -> None:
    assert aims(["mismatch", "progression_ratio", "cable_travel:high", "transmission_angle:low"], KINDS) == (
        Aim("mismatch", "low"),
        Aim("progression_ratio", "high"),
        Aim("cable_travel", "high"),
        Aim("transmission_angle", "low"),
    )
    assert aims(["gap:left.idle", "length:left:high"], KINDS) == (
        Aim("gap:left.idle", "low"),
        Aim("length:left", "high"),
    )
    with pytest.raises(DesignError, match='did you mean "mismatch"'):
        aims(["mismatc"], KINDS)


def test_a_figure_that_is_not_known_meets_no_limit() -> None:
    for sign in ("<=", ">=", "!="):
        assert not Limit("mismatch", sign, 0.5).met(COLUMNS)[2]
    assert list(Choice(limits(["mismatch<=0.3"], KINDS, "mm")).rows(COLUMNS)) == [0, 1, 3, 4]
    assert list(Choice(limits(["mismatch<=0.3", "verdict!=fail"], KINDS, "mm")).rows(COLUMNS)) == [0, 3, 4]
    assert list(Choice().rows(COLUMNS)) == [0, 1, 2, 3, 4, 5]


def test_the_best_come_first_and_equals_in_their_order() -> None:
    by = aims(["mismatch"], KINDS)
    assert list(Choice((), by, 3).rows(COLUMNS)) == [1, 3, 4]
    assert list(Choice((), by, 99).rows(COLUMNS)) == [1, 3, 4, 0, 5]
    assert list(Choice((), aims(["mismatch:high"], KINDS), 1).rows(COLUMNS)) == [5]
    within = limits(["verdict!=fail"], KINDS, "mm")
    assert list(Choice(within, by, 2).rows(COLUMNS)) == [3, 4]


def test_the_front_of_a_few() -> None:
    assert list(Choice((), aims(["mismatch", "progression_ratio"], KINDS)).rows(COLUMNS)) == [0, 1, 3]


SMALL = st.integers(0, 6).map(float)


def beaten(costs: NDArray[np.float64], i: int) -> bool:
    """By the definition: another is as good everywhere and better somewhere, or the same and named before."""
    for j in range(costs.shape[1]):
        if np.all(costs[:, j] <= costs[:, i]) and (np.any(costs[:, j] < costs[:, i]) or j < i):
            return True
    return False


@pytest.mark.parametrize("figures", [2, 3])
@given(data=st.data())
def test_the_front_is_what_no_other_beats(figures: int, data: st.DataObject) -> None:
    rows = data.draw(st.lists(st.tuples(*[SMALL] * figures), max_size=25))
    costs = np.array(rows, float).reshape(len(rows), figures).T
    assert list(front(costs)) == [i for i in range(len(rows)) if not beaten(costs, i)]


@given(st.lists(st.tuples(SMALL, SMALL), max_size=30), st.integers(1, 29), st.sampled_from([None, 1, 4]))
def test_choosing_from_the_chosen_of_parts_is_choosing_from_all(
    rows: list[tuple[float, float]], cut: int, best: int | None
) -> None:
    table = np.array(rows, float).reshape(len(rows), 2)
    columns = {"mismatch": table[:, 0], "cable_travel": table[:, 1]}
    choice = Choice((), aims(["mismatch", "cable_travel"] if best is None else ["mismatch"], KINDS), best)
    parts = [part for part in (np.arange(len(rows))[:cut], np.arange(len(rows))[cut:]) if part.size]
    chosen = [choice.chosen(columns, part) for part in parts]
    again = choice.chosen(columns, np.sort(np.concatenate(chosen))) if chosen else np.empty(0)
    assert list(again) == list(choice.chosen(columns, np.arange(len(rows))))
