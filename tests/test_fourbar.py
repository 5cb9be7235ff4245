"""Textbook four-bars: Grashof's classes, the link ratios, which branch is open."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from linkage import closure
from linkage.fourbar import CROSSED, OPEN, constants, four_bar, grashof

CHANGE_POINT = "special-case Grashof (change point)"


@pytest.mark.parametrize(
    ("lengths", "kind"),
    [
        ((40, 120, 80, 100), "Grashof"),
        ((10, 10, 10, 20), "non-Grashof"),
        ((2, 4, 6, 8), CHANGE_POINT),
        ((0.1, 0.2, 0.3, 0.4), CHANGE_POINT),  # equal but for rounding
        ((1, 2, 3, 7), "cannot be assembled"),
    ],
)
def test_grashof_in_any_order(lengths: tuple[float, ...], kind: str) -> None:
    for order in itertools.permutations(lengths):
        assert grashof(order).kind == kind


def test_grashof_foretells_whether_the_shortest_turns_right_round() -> None:
    rng = np.random.default_rng(11)
    turns = np.radians(np.arange(0.0, 360.0, 0.25))
    seen = set()
    for _ in range(300):
        a, b, c, d = np.sort(rng.uniform(10.0, 100.0, 4))  # the crank is the shortest
        link, _, _ = four_bar(a, b, c, (d, 0.0), OPEN)
        closes = np.isfinite(closure.close(link, np.cos(turns), np.sin(turns))[0])
        kind = grashof((a, b, c, d)).kind
        seen.add(kind)
        expected = {"Grashof": closes.all(), "non-Grashof": closes.any() and not closes.all()}
        assert expected.get(kind, not closes.any()), (a, b, c, d)
    assert {"Grashof", "non-Grashof"} <= seen


@pytest.mark.parametrize("lengths", [(1, 2, 3), (1, 2, 3, 0), (1, 2, 3, -4), (1, 2, 3, math.nan)])
def test_grashof_refuses_what_is_no_four_bar(lengths: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="lengths: must be four positive lengths, got"):
        grashof(lengths)


def test_open_has_the_coupler_end_on_the_left_of_the_line_to_the_far_pivot() -> None:
    for branch, side in ((OPEN, 1.0), (CROSSED, -1.0)):
        link, crank, rocker = four_bar(40.0, 120.0, 80.0, (100.0, 0.0), branch)
        for turn in np.radians(np.arange(0.0, 360.0, 15.0)):
            driving = math.cos(turn), math.sin(turn)
            a, b = closure.pin(crank, *driving), closure.pin(rocker, *closure.close(link, *driving))
            across = (100.0 - a[0]) * (b[1] - a[1]) - (0.0 - a[1]) * (b[0] - a[0])
            assert np.sign(across) == side


def test_link_ratios_satisfy_freudenstein_at_a_known_position() -> None:
    # a parallelogram: theta4 = theta2 throughout
    k1, k2, k3, _, _ = constants(30.0, 100.0, 30.0, 100.0)
    for turn in (0.3, 1.1, 2.5):
        assert k1 * math.cos(turn) - k2 * math.cos(turn) + k3 == pytest.approx(1.0, rel=1e-15)
