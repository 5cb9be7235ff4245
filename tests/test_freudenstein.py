"""Precision points and closed-form clocking, by other routes: the loop equation, numpy's own nodes, a solve."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.optimize import brentq
from trains import arms, rig, shaft

import linkage
from linkage.errors import AssemblyError
from linkage.parts import Link
from linkage.search.freudenstein import FourBar, agreeing_clockings, chebyshev_spacing, freudenstein

Floats = NDArray[np.float64]


def output_angles(made: FourBar, theta2: float) -> list[float]:
    """Output angles [deg] by root finding on the distance of the two pins."""
    t2 = math.radians(theta2)

    def miss(t4: float) -> float:
        x = made.d + made.c * math.cos(t4) - made.a * math.cos(t2)
        return math.hypot(x, made.c * math.sin(t4) - made.a * math.sin(t2)) - made.b

    grid = np.linspace(-np.pi, np.pi, 721) + 1e-3  # no root of the examples stands on it
    values = [miss(t) for t in grid]
    found = [
        brentq(miss, p, q, xtol=1e-14)
        for p, q, u, v in zip(grid, grid[1:], values, values[1:], strict=False)
        if u * v < 0.0
    ]
    return [math.degrees(t) for t in found]


@pytest.mark.parametrize("n", [1, 2, 3, 5, 8])
def test_chebyshev_points_are_the_zeros_of_the_polynomial(n: int) -> None:
    x = chebyshev_spacing(-1.0, 1.0, n)
    assert np.all(np.diff(x) > 0.0)
    assert np.polynomial.chebyshev.Chebyshev.basis(n)(x) == pytest.approx(0.0, abs=1e-12)
    assert chebyshev_spacing(3.0, 7.0, n) == pytest.approx(5.0 + 2.0 * x)


@pytest.mark.parametrize(
    ("theta2", "theta4"),
    [
        ((36.03, 75.0, 113.97), (251.3, 300.0, 326.9)),
        ((49.0, 75.0, 101.0), (143.4, 187.6, 220.6)),
        ((105.0, 157.0, 209.0), (69.5, 123.6, 149.5)),
    ],
)
def test_three_points_are_met_by_the_loop_itself(theta2: tuple[float, ...], theta4: tuple[float, ...]) -> None:
    made = freudenstein(theta2, theta4, frame=100.0)
    assert made.d == 100.0
    assert made.error == pytest.approx(0.0, abs=1e-8)
    for inward, outward in zip(theta2, theta4, strict=True):
        near = [abs(math.remainder(angle - outward, 360.0)) for angle in output_angles(made, inward)]
        assert min(near) < 1e-8


def test_the_frame_scales_the_linkage() -> None:
    small, large = (freudenstein((40, 70, 100), (70, 95, 130), frame=f) for f in (1.0, 180.0))
    assert (large.a, large.b, large.c) == pytest.approx((180 * small.a, 180 * small.b, 180 * small.c))
    assert large.k == pytest.approx(small.k)


def test_more_points_are_met_as_nearly_as_the_equation_allows() -> None:
    theta2, theta4 = np.radians([40, 45, 50, 55, 60]), np.radians([70, 76, 83, 91, 100])
    made = freudenstein(np.degrees(theta2), np.degrees(theta4), frame=180.0)

    def left(k: Floats) -> float:
        return float(np.sum((k[0] * np.cos(theta4) - k[1] * np.cos(theta2) + k[2] - np.cos(theta2 - theta4)) ** 2))

    here = left(np.array(made.k))
    for i in range(3):
        for step in (1e-4, -1e-4):
            aside = np.array(made.k)
            aside[i] += step
            assert left(aside) > here
    assert 0.0 < np.max(np.abs(made.error)) < 2.0


def test_a_known_four_bar_is_found_again_with_its_class() -> None:
    """40-120-80-100, Norton's Example 4-1 (from memory): 40 degrees in, 57.325 out on the open branch."""
    a, b, c, d = 40.0, 120.0, 80.0, 100.0
    known = FourBar(a, b, c, d, (d / a, d / c, 0.0), 1, np.zeros(3), "", ())
    theta2 = [40.0, 60.0, 80.0]
    theta4 = [max(output_angles(known, t)) for t in theta2]
    assert theta4[0] == pytest.approx(57.325, abs=5e-4)
    made = freudenstein(theta2, theta4, frame=d)
    assert (made.a, made.b, made.c) == pytest.approx((a, b, c))
    assert made.grashof == "Grashof"
    assert made.defects == ()


def test_points_on_both_closures_are_a_branch_defect() -> None:
    known = FourBar(40.0, 120.0, 80.0, 100.0, (0.0, 0.0, 0.0), 1, np.zeros(3), "", ())
    theta2 = [40.0, 60.0, 80.0]
    both = [output_angles(known, t) for t in theta2]
    made = freudenstein(theta2, [max(both[0]), min(both[1]), max(both[2])], frame=100.0)
    assert any("branch defect" in says for says in made.defects)


def test_an_output_that_turns_back_between_its_points_is_an_order_defect() -> None:
    """A crank-rocker through the rocker's end: 20, 60 and 140 degrees of crank, the rocker there and back."""
    known = FourBar(40.0, 120.0, 80.0, 100.0, (0.0, 0.0, 0.0), 1, np.zeros(3), "", ())
    theta2 = [10.0, 60.0, 250.0]
    made = freudenstein(theta2, [max(output_angles(known, t)) for t in theta2], frame=100.0)
    assert any("order defect" in says for says in made.defects)


def test_what_no_linkage_can_do_is_said() -> None:
    with pytest.raises(ValueError, match="three or more pairs of angles are needed, got 2 and 2"):
        freudenstein([1, 2], [3, 4])
    with pytest.raises(ValueError, match="got 3 and 4"):
        freudenstein([1, 2, 3], [3, 4, 5, 6])
    with pytest.raises(AssemblyError, match="two of them say the same"):
        freudenstein([40, 40, 60], [70, 70, 90])
    inward = np.radians([40.0, 70.0, 100.0])
    with pytest.raises(AssemblyError, match="endless"):  # K1 = 0: the input arm would have to be
        freudenstein(np.degrees(inward), np.degrees(inward - np.arccos(0.3 - 0.5 * np.cos(inward))))


# ---- clocking in closed form --------------------------------------------------------------------


def pair(
    first_angle: float, second_angle: float, r1: float, r2: float, other: str, wide_open: float
) -> linkage.Linkage:
    return rig(
        shaft("a", (0.0, 0.0, 0.0), "ccw", arms(drive=(r1, first_angle)), idle=12.0, wide_open=90.0),
        shaft("b", (200.0, -15.0, 0.0), other, arms(drive=(r2, second_angle)), idle=10.0, wide_open=wide_open),  # type: ignore[arg-type]
        Link("cross", ("a.drive", "b.drive")),
        drive="a",
    )


@given(
    st.floats(20.0, 80.0), st.floats(24.0, 34.0), st.floats(24.0, 34.0), st.sampled_from([("ccw", 1.0), ("cw", -1.0)]),
    st.floats(70.0, 88.0),
)  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_both_ends_agree_exactly(first: float, r1: float, r2: float, way: tuple[str, float], wide_open: float) -> None:
    turns = (78.0, way[1] * (wide_open - 10.0))
    found = agreeing_clockings(centres=(200.0, -15.0), radii=(r1, r2), first_angle=first, turns=turns)
    for clocking in found:
        a, b = np.radians(first), np.radians(clocking.angle)
        for t1, t2 in ((0.0, 0.0), np.radians(turns)):
            p = r1 * np.array([np.cos(a + t1), np.sin(a + t1)])
            q = np.array([200.0, -15.0]) + r2 * np.array([np.cos(b + t2), np.sin(b + t2)])
            assert np.hypot(*(p - q)) == pytest.approx(clocking.length, abs=1e-9)


def test_shafts_so_clocked_reach_both_stops_together() -> None:
    found = agreeing_clockings(centres=(200.0, -15.0), radii=(30.0, 29.0), first_angle=51.0, turns=(78.0, -77.0))
    assert len(found) == 2
    best = {}
    for clocking in found:
        ends = linkage.answers.check(pair(51.0, clocking.angle, 30.0, 29.0, "cw", 87.0)).stops
        best[clocking.angle] = max(abs(gap) for end in (ends.closing, ends.opening) for gap in end.gaps.values())
    assert min(best.values()) < 1e-7


def test_where_no_clocking_agrees_there_is_none() -> None:
    assert agreeing_clockings(centres=(200.0, 0.0), radii=(30.0, 5.0), first_angle=0.0, turns=(80.0, 10.0)) == ()
    assert agreeing_clockings(centres=(200.0, 0.0), radii=(30.0, 30.0), first_angle=0.0, turns=(0.0, 0.0)) == ()


def test_the_mirror_image_of_a_symmetrical_pair_is_found() -> None:
    """Turning against each other over 78 degrees from 51 above the line of centres: the other from 51 below."""
    found = agreeing_clockings(centres=(250.0, 0.0), radii=(30.0, 30.0), first_angle=51.0, turns=(78.0, -78.0))
    angles = [clocking.angle for clocking in found]
    assert min(abs(angle + 51.0) for angle in angles) < 1e-9
    crossed = next(c for c in found if abs(c.angle + 51.0) < 1e-9)
    assert crossed.length == pytest.approx(math.hypot(250.0, 60.0 * math.sin(math.radians(51.0))))
    assert dataclasses.astuple(found[0])[1] <= dataclasses.astuple(found[1])[1]
