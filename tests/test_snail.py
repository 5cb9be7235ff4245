"""The snail worked out for a wish: what was wished comes out of the closure; closed forms; what cannot be."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest
from trains import bell_crank, crossed_pair

import linkage
from linkage.design_file.marks import marked_text
from linkage.errors import DesignError
from linkage.motion import SnailCable, solve
from linkage.parts import Cable, Limits, Linkage, ProfilePoint, Wish
from linkage.search.snail import moment_arm, snail
from linkage.search.task import task
from linkage.search.wish import rows

DEMO = Path(__file__).parents[1] / "demo"


def on_a_round_one(radius: float = 28.0) -> Linkage:
    """Its driver, 78 degrees of it, is the shaft itself."""
    return dataclasses.replace(crossed_pair(), drive=None, cable=Cable(quadrant="a", radius=radius, pull_turns="ccw"))


def test_without_a_wish_the_round_quadrant_comes_out() -> None:
    found = snail(on_a_round_one())
    np.testing.assert_allclose(found.arms, 28.0, rtol=0, atol=1e-3)
    assert found.sound


def test_one_point_is_a_spiral_by_hand() -> None:
    """A falling straight line a - b t: at half the cable 40 % open.

    With T the whole turn: (a - b T/2) T = X, (a - 0.2 b T) 0.4 T = X/2, so b T = (5/6) X/T, a = (17/12) X/T.
    """
    found = snail(on_a_round_one(), wish=Wish(progression=((0.5, 0.4),)))
    mean = 28.0
    share = (found.turns - found.turns[0]) / (found.turns[-1] - found.turns[0])
    np.testing.assert_allclose(found.arms, mean * (17.0 / 12.0 - 10.0 / 12.0 * share), rtol=0, atol=1e-4)


def test_a_ratio_of_the_gains_alone_is_a_spiral_by_hand() -> None:
    """On the shaft itself the gain goes as one over the moment arm: 1.8 is 36 to 20 mm about a mean of 28."""
    found = snail(on_a_round_one(), wish=Wish(progression_ratio=1.8))
    assert found.arms[[0, -1]] == pytest.approx([36.0, 20.0], abs=1e-4)


@pytest.mark.parametrize(
    "name", ["flat_six", "v8_inches", "cross_tube", "slow_opening_wish", "snail", "skew_bell_crank"]
)
def test_every_wish_is_met_on_every_train(name: str) -> None:
    """Cables on pins, on quadrants, turning ccw and cw, through bell cranks and couplings."""
    wish = Wish(progression=((0.25, 0.19), (0.5, 0.42)), cable_travel=37.0)
    found = snail(linkage.read(DEMO / f"{name}.toml"), wish=wish)
    run = found.after
    assert isinstance(run.line, SnailCable)
    shaft = next(iter(run.rig.shaft))
    low, high = (float(run.at(end).plate_angle[shaft][0]) for end in run.ends)
    for share, opening in wish.progression or ():
        there = float(run.at_fraction([share]).plate_angle[shaft][0])
        assert (there - low) / (high - low) == pytest.approx(opening, abs=1e-5)  # arms are written to 0.0001 mm
    whole = run.at(run.ends[1]).cable
    assert whole is not None
    assert whole[0] == pytest.approx(37.0, abs=1e-3)
    assert found.report.lacks == pytest.approx((0.0, 0.0), abs=1e-9)


def test_ratio_and_points_together() -> None:
    wish = Wish(progression=((0.3, 0.25), (0.6, 0.54)), progression_ratio=1.5)
    found = snail(linkage.read(DEMO / "flat_six.toml"), wish=wish, points=20)
    gains = found.after.at(found.after.ends).gain["left"]
    assert gains[1] / gains[0] == pytest.approx(1.5, abs=1e-4)
    assert found.reached == pytest.approx([0.25, 0.54], abs=1e-5)


def test_the_moment_arm_of_a_gain_is_the_derivative_of_the_travel() -> None:
    """A pin's own gain asked back is its own moment arm."""
    run = solve(bell_crank(), positions=9)
    assert run.cable_arm is not None
    name = next(iter(run.rig.shaft))
    np.testing.assert_allclose(moment_arm(run, run.turn, run.gain[name]), np.abs(run.cable_arm), rtol=1e-12, atol=0)
    even = moment_arm(solve(on_a_round_one(), positions=3), [0.0, 40.0], math.degrees(1.0 / 28.0))
    np.testing.assert_allclose(even, 28.0, rtol=1e-12, atol=0)


def test_it_says_where_the_groove_would_have_a_cusp() -> None:
    found = snail(on_a_round_one(), wish=Wish(progression=((0.25, 0.15), (0.5, 0.38)), progression_ratio=2.2), points=9)
    assert not found.sound
    assert found.report.cusps
    assert found.reached == pytest.approx([0.15, 0.38], abs=1e-5)


@pytest.mark.parametrize(
    ("wish", "points", "says"),
    [
        (Wish(progression=((0.5, 0.05),)), 9, "no moment arm above 0 does all of this"),
        (Wish(progression=((0.3, 0.4), (0.6, 0.4))), 9, "does not open throughout"),
        (Wish(progression=((0.2, 0.2), (0.4, 0.4), (0.6, 0.6))), 5, "3 points of progression, too many for 5 points"),
    ],
)
def test_what_cannot_be_is_told(wish: Wish, points: int, says: str) -> None:
    with pytest.raises(DesignError, match=says):
        snail(on_a_round_one(), wish=wish, points=points)


def test_a_design_without_a_cable_is_told() -> None:
    with pytest.raises(DesignError, match="is missing, so there is nothing to lay a quadrant out for"):
        snail(crossed_pair())
    with pytest.raises(ValueError, match="points"):
        snail(on_a_round_one(), points=2)


def test_the_file_keeps_its_comments_and_loses_what_no_longer_goes() -> None:
    rig = linkage.read(DEMO / "flat_six.toml")
    text = marked_text(snail(rig, wish=Wish(progression=((0.5, 0.45),))).rig)
    back = linkage.parse(text)
    assert back.cable is not None
    assert back.cable.quadrant == "centre"
    assert back.cable.pulls is None
    assert rig.source is not None
    kept = [line for line in rig.source.text.splitlines() if line.startswith("#")]
    assert kept == [line for line in text.splitlines() if line.startswith("#")]
    assert text.splitlines()[-1] == rig.source.text.splitlines()[-1]


# ---- a fit that chooses the moment arms ----------------------------------------------------------


def test_the_slopes_of_a_fit_by_difference() -> None:
    """Every row that has a slope of its own, away from the places where the curve has two."""
    rig = linkage.read(DEMO / "snail.toml").replace("shaft.rear.plate_angle.wide_open", 88.0)
    rig = rig.replace("shaft.front.plate_angle.wide_open", 87.0)
    free = {**rig.free, "shaft.front.plate_angle.wide_open": type(next(iter(rig.free.values())))(80.0, 88.0)}
    wish = Wish(progression=((0.25, 0.18), (0.5, 0.4)), progression_ratio=2.0, cable_travel=38.0)
    of = task(rig, wish, free)
    x = of.drawn[:, None] + np.linspace(-0.05, 0.05, 3)
    found, step = rows(of, x, 25), 1e-6
    chosen = [
        i for i, name in enumerate(found.near_names) if name in ("progression", "progression_ratio", "cable_travel")
    ]
    assert len(chosen) == 4
    for j in range(len(x)):
        up, down = x.copy(), x.copy()
        up[j] += step
        down[j] -= step
        near = (rows(of, up, 25, sloped=False).near - rows(of, down, 25, sloped=False).near) / (2.0 * step)
        np.testing.assert_allclose(found.near_slope[chosen, j], near[chosen], rtol=2e-5, atol=1e-6)  # of rounding


def test_a_fit_finds_the_moment_arms() -> None:
    points = {str(i): ProfilePoint(str(i), 39.0 * (i - 1), 28.0) for i in (1, 2, 3)}
    rig = dataclasses.replace(
        on_a_round_one(), cable=Cable(quadrant="a", profile=points, pull_turns="ccw"), limits=Limits(mismatch=9.0)
    )
    found = linkage.fit(
        rig, wish=Wish(progression=((0.5, 0.42),), cable_travel=38.0),
        free={f"cable.profile.{i}.moment_arm": (16.0, 46.0) for i in points}, starts=4,
    )  # fmt: skip
    run = solve(found.best.rig)
    opened = run.at_fraction([0.0, 0.5, 1.0]).plate_angle["a"]
    assert (opened[1] - opened[0]) / (opened[2] - opened[0]) == pytest.approx(0.42, abs=1e-4)
    assert run.cable is not None
    assert run.cable[-1] == pytest.approx(38.0, abs=0.01)
