"""Whole pages: complete, legible, nothing on top of anything else."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import matplotlib.pyplot as plt
import pytest
import trains
from matplotlib.figure import Figure
from plot_words import outside, overlaps, sizes, words

from linkage import answers, plots
from linkage.motion import Motion, solve
from linkage.parts import Limits, Linkage

Page = Callable[[Motion], Figure]

A4 = (297.0, 210.0)


def told(figure: Figure) -> list[str]:
    """Every text of a page, its lines joined."""
    return [" ".join(text.split()) for text, _ in words(figure)]


def in_inches() -> Linkage:
    """Three shafts in a row, in inches, with everything that a title may carry."""
    return dataclasses.replace(
        trains.series(), units="in", title="Straight six_two, $5 of it $", customer="A & B <C>", drawing="7 rev $x$",
        seen_from="the left",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("page", "make"),
    [
        (plots.drawing, trains.bell_crank),
        (plots.drawing, trains.cross_tube),
        (plots.drawing, trains.skew),
        (plots.curves, trains.hand_set),
        (plots.curves, in_inches),
        (plots.overview, trains.crossed_pair),
        (plots.overview, trains.coupled),
        (plots.overview, in_inches),
    ],
)
def test_a_page_is_whole_and_legible(page: Page, make: Callable[[], Linkage]) -> None:
    figure = page(solve(make()))
    assert isinstance(figure, Figure)
    assert sorted(25.4 * figure.get_size_inches()) == pytest.approx(sorted(A4))
    assert outside(figure) == []
    assert overlaps(figure) == []
    assert min(sizes(figure)) >= 8.0
    assert plt.get_fignums() == []


def test_a_flat_linkage_has_one_view_a_deep_one_three() -> None:
    def views(figure: Figure) -> set[str]:
        heads = ("Front view", "Plan", "Side view")
        return {head for head in heads if any(text.startswith(head) for text in told(figure))}

    assert views(plots.drawing(solve(trains.crossed_pair()))) == {"Front view"}
    assert views(plots.drawing(solve(trains.cross_tube()))) == {"Front view", "Plan", "Side view"}


def test_the_title_is_written_as_it_stands() -> None:
    said = told(plots.curves(solve(in_inches())))
    assert "Straight six_two, $5 of it $" in said
    assert "Drawing 7 rev $x$ · for A & B <C> · seen from the left · lengths in inches, angles in degrees" in said


def test_a_title_without_end_is_cut() -> None:
    run = solve(dataclasses.replace(trains.crossed_pair(), title="on and " * 100, seen_from="far away " * 60))
    figure = plots.overview(run)
    assert outside(figure) == []
    assert overlaps(figure) == []


def test_the_curves_are_all_there() -> None:
    said = told(plots.curves(solve(trains.bell_crank())))
    for title in ("Plate angle", "Mismatch between shafts", "Progression of left", "Open area", "Gain"):
        assert title in said
    assert "Transmission angle of the links" in said


def test_the_overview_gives_the_verdict_in_words() -> None:
    run = solve(trains.crossed_pair())
    answer = answers.check(run)
    said = told(plots.overview(run))
    assert answer.verdict == "fail"
    assert "✗ FAIL" in said
    assert " ".join(answers.CAUTION.split()) in said
    failed = [check.says for check in answer.checks if check.verdict == "fail"]
    assert failed
    for says in failed:
        assert says[:1].upper() + says[1:] in said
    passed = sum(check.verdict == "pass" for check in answer.checks)
    assert f"{passed} of {len(answer.checks)} checks pass." in said


def test_the_overview_of_a_sound_design_says_so() -> None:
    base = trains.parallel_pair()  # its second shaft could open eight degrees further
    answer = answers.check(solve(dataclasses.replace(base, limits=Limits(wide_open_shortfall=9.0))))
    assert answer.verdict == "pass"
    said = told(plots.overview(answer.run))
    assert "✓ PASS" in said
    assert f"All {len(answer.checks)} checks pass." in said
    assert any("keep together to a hundredth of a degree" in text for text in said)


def test_more_faults_than_fit_are_counted() -> None:
    run = solve(trains.hand_set())
    answer = answers.check(run)
    wrong = [check for check in answer.checks if check.verdict != "pass"]
    said = told(plots.overview(run))
    shown = sum(check.says[:1].upper() + check.says[1:] in said for check in wrong)
    assert shown < len(wrong)
    assert f"{len(wrong) - shown} more in the check report." in said


def test_curves_against_what_the_design_lacks_are_refused() -> None:
    with pytest.raises(ValueError, match="has no pedal"):
        plots.curves(solve(trains.bell_crank()), against="pedal")
