"""The picture of a fit: both curves, the wished points, no word on another."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from plot_words import outside, overlaps

import linkage
from linkage import plots
from linkage.answers.mismatch import spread
from linkage.parts import Wish

DEMO = Path(__file__).parents[1] / "demo"
WISH = Wish(mismatch=0.3, progression=((0.25, 0.17), (0.5, 0.40)))


def pair() -> list[linkage.Motion]:
    return [linkage.solve(linkage.read(DEMO / f"{name}.toml")) for name in ("crossed_pair", "crossed_pair_reclocked")]


def test_it_shows_both_curves_and_what_was_wished() -> None:
    before, after = pair()
    opening, apart, closer = plots.before_after(before, after, wish=WISH).axes
    crosses = [line for line in opening.lines if line.get_gid() == "opening.wished"]
    places = [np.ravel(cross.get_xydata()).tolist() for cross in crosses]
    assert places == [[25.0, 17.0], [50.0, 40.0]]
    curves = {line.get_gid(): line for line in apart.lines}
    for name, run in (("as drawn", before), ("fitted", after)):
        x, y = (np.asarray(v) for v in curves[f"mismatch.{name}"].get_data())
        at = run.at_fraction([0.5])
        assert np.interp(50.0, x, y) == pytest.approx(spread(at)[0], abs=2e-3)
    assert "mismatch.as drawn" not in {line.get_gid() for line in closer.lines}
    assert closer.get_ylim()[1] < 0.5 < apart.get_ylim()[1]


@pytest.mark.parametrize("wish", [None, WISH, Wish(mismatch=0.05)])
def test_no_word_lies_on_another_or_leaves_the_page(wish: Wish | None) -> None:
    page = plots.before_after(*pair(), wish=wish)
    assert outside(page) == []
    assert overlaps(page) == []


def test_one_shaft_has_nothing_to_compare() -> None:
    from sprung import one_shaft

    run = linkage.solve(one_shaft())
    page = plots.before_after(run, run)
    assert [text.get_text() for text in page.axes[1].texts] == ["one shaft: nothing to compare"]
