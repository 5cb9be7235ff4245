"""The closure against forty-digit root finding on ``|P - q| = L``, complex steps and plain geometry."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from typing import Any

import mpmath
import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.typing import NDArray

from linkage import closure
from linkage.closure import ArmFrame, Loop
from linkage.toggles import toggle_turns

Floats = NDArray[np.float64]

X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
DRAWN = (1.0, 0.0)


def turned(angle: Any) -> tuple[Any, Any]:
    return np.cos(angle), np.sin(angle)


def arm(centre: Any, axis: Any, out: Any, r: float) -> ArmFrame:
    """A frame from an axis and a direction, neither of unit length nor at right angles."""
    u = np.asarray(axis, float) / np.linalg.norm(axis)
    e1 = np.asarray(out, float) - (np.asarray(out, float) @ u) * u
    e1 /= np.linalg.norm(e1)
    x1, x2, x3 = map(float, e1)
    u1, u2, u3 = map(float, u)
    c1, c2, c3 = map(float, centre)
    frame = (u1, u2, u3)
    return ArmFrame((c1, c2, c3), (x1, x2, x3), closure.cross(frame, (x1, x2, x3)), frame, r)


@dataclasses.dataclass(frozen=True)
class Example:
    """A link as drawn: the two arms, and turns of the first that it can follow [rad]."""

    driving: ArmFrame
    driven: ArmFrame
    turns: tuple[float, ...]

    @property
    def length(self) -> float:
        return float(closure.drawn_length(self.driving, self.driven))

    def link(self) -> Loop:
        loose = closure.loop(self.driving, self.driven, self.length, 1.0)
        return loose._replace(branch=closure.branch_of(loose, *DRAWN, *DRAWN))


EXAMPLES = {
    "planar": Example(
        arm((0, 0, 0), Z, (17, 29, 0), 34.0), arm((112, 8, 0), Z, (12, 30, 0), 31.0), (-0.5, 0.0, 0.3, 1.1)
    ),
    "sideways": Example(
        arm((0, 0, 0), Z, (17, 29, 0), 34.0), arm((112, 8, 25), Z, (12, -30, 0), 31.0), (-0.3, 0.0, 0.4)
    ),
    "square axes": Example(arm((0, 0, 0), Z, (1, 0, 0), 30.0), arm((100, 0, 0), Y, (0, 0, 1), 30.0), (0.2, 0.7, 1.2)),
    "skew": Example(
        arm((3, -4, 5), (0.2, -0.1, 1.0), (17, 29, 2), 34.0),
        arm((90, 30, 40), (0.5, 0.8, 0.3), (1, -2, 30), 27.0),
        (-0.4, 0.0, 0.25, 0.6),
    ),
}
every_example = pytest.mark.parametrize("name", EXAMPLES)


def numbers(frame: ArmFrame) -> dict[str, Any]:
    """An arm as an mpmath pin: centre and the two radius vectors; floats become exact."""
    return {
        key: mpmath.matrix([mpmath.mpf(float(x)) for x in getattr(frame, key)]) for key in ("centre", "e1", "e2", "u")
    }


def exact_driven(example: Example, guess: float, **change: Any) -> Callable[[Any], Any]:
    """Driven turn as a function of the driving turn, by root finding on ``|P - q|^2 = L^2``.

    ``change`` adds to dimensions: length, driving_radius, driving_angle (clocking), and so on.
    """
    one, two = numbers(example.driving), numbers(example.driven)
    r1 = mpmath.mpf(example.driving.r) + change.get("driving_radius", 0)
    r2 = mpmath.mpf(example.driven.r) + change.get("driven_radius", 0)
    length = mpmath.mpf(example.length) + change.get("length", 0)
    for frame, name in ((one, "driving_centre"), (two, "driven_centre")):
        for i in range(3):
            frame["centre"][i] += change.get(f"{name}.{i}", 0)

    def driven(theta: Any) -> Any:
        a = theta + change.get("driving_angle", 0)
        p = one["centre"] + r1 * (mpmath.cos(a) * one["e1"] + mpmath.sin(a) * one["e2"])

        def miss(phi: Any) -> Any:
            b = phi + change.get("driven_angle", 0)
            v = p - two["centre"] - r2 * (mpmath.cos(b) * two["e1"] + mpmath.sin(b) * two["e2"])
            return sum(x * x for x in v) - length**2

        return mpmath.findroot(miss, mpmath.mpf(guess))

    return driven


@every_example
def test_positions_and_both_derivatives_match_forty_digits(name: str) -> None:
    example = EXAMPLES[name]
    link = example.link()
    for turn in example.turns:
        c2, s2 = closure.close(link, *turned(turn))
        here = closure.rates(link, *turned(turn), c2, s2)
        angle = math.atan2(s2, c2)
        with mpmath.workdps(40):
            driven = exact_driven(example, angle)
            at = mpmath.mpf(turn)
            exact = [float(driven(at)), float(mpmath.diff(driven, at)), float(mpmath.diff(driven, at, 2))]
        assert angle == pytest.approx(exact[0], rel=0.0, abs=1e-12)
        assert here.ratio == pytest.approx(exact[1], rel=0.0, abs=1e-11)
        assert here.second == pytest.approx(exact[2], rel=0.0, abs=1e-10)


@every_example
def test_derivatives_match_complex_steps(name: str) -> None:
    example = EXAMPLES[name]
    link = example.link()
    step = 1e-30
    turns = np.asarray(example.turns) + 1j * step
    c2, s2 = closure.close(link, *turned(turns))
    here = closure.rates(link, *turned(turns.real), c2.real, s2.real)
    by_step = (c2.real * s2.imag - s2.real * c2.imag) / step
    np.testing.assert_allclose(here.ratio, by_step, rtol=0.0, atol=1e-12)
    along = closure.rates(link, *turned(turns), c2, s2)
    np.testing.assert_allclose(here.second, along.ratio.imag / step, rtol=0.0, atol=1e-11)


@every_example
def test_ratio_is_that_of_the_moment_arms_of_the_link(name: str) -> None:
    example = EXAMPLES[name]
    link = example.link()
    for turn in example.turns:
        c2, s2 = closure.close(link, *turned(turn))
        here = closure.rates(link, *turned(turn), c2, s2)
        p, q = np.array(closure.pin(example.driving, *turned(turn))), np.array(closure.pin(example.driven, c2, s2))
        first = np.array(example.driving.u) @ np.cross(p - example.driving.centre, p - q)
        second = np.array(example.driven.u) @ np.cross(q - example.driven.centre, p - q)
        assert here.ratio == pytest.approx(first / second, rel=1e-12)
        assert here.moment == pytest.approx(second / example.driven.r, rel=1e-12)


@every_example
def test_every_dimension_moves_the_driven_arm_as_said(name: str) -> None:
    example = EXAMPLES[name]
    link = example.link()
    dimensions = ["length", "driving_radius", "driving_angle", "driven_radius", "driven_angle"]
    dimensions += [f"{end}_centre.{i}" for end in ("driving", "driven") for i in range(3)]
    for turn in example.turns:
        c2, s2 = closure.close(link, *turned(turn))
        said = closure.sensitivity(example.driving, example.driven, *turned(turn), c2, s2)
        for dimension in dimensions:
            field, _, axis = dimension.partition(".")
            value = getattr(said, field)[int(axis)] if axis else getattr(said, field)
            with mpmath.workdps(40):
                guess = math.atan2(s2, c2)
                at = mpmath.mpf(turn)

                def moved(change: Any, *, of: str = dimension, near: float = guess, at: Any = at) -> Any:
                    return exact_driven(example, near, **{of: change})(at)

                exact = float(mpmath.diff(moved, 0))
            assert value == pytest.approx(exact, rel=0.0, abs=1e-12), dimension


@every_example
def test_run_backwards_it_comes_back(name: str) -> None:
    example = EXAMPLES[name]
    link = example.link()
    back = closure.loop(example.driven, example.driving, example.length, 1.0)
    for turn in example.turns:
        there = closure.close(link, *turned(turn))
        start = back._replace(branch=closure.branch_of(back, *there, *turned(turn)))
        np.testing.assert_allclose(closure.close(start, *there), turned(turn), rtol=0.0, atol=1e-13)


@every_example
def test_both_branches_close_and_know_themselves(name: str) -> None:
    example = EXAMPLES[name]
    link = example.link()
    turns = turned(np.asarray(example.turns))
    ends = []
    for branch in (1.0, -1.0):
        one = link._replace(branch=branch)
        c2, s2 = closure.close(one, *turns)
        gap = np.array(closure.minus(closure.pin(example.driving, *turns), closure.pin(example.driven, c2, s2)))
        np.testing.assert_allclose(np.linalg.norm(gap, axis=0), example.length, rtol=1e-14)
        np.testing.assert_allclose(c2**2 + s2**2, 1.0, rtol=0.0, atol=1e-14)
        np.testing.assert_array_equal(closure.branch_of(one, *turns, c2, s2), branch)
        ends.append(np.arctan2(s2, c2))
    assert np.all(np.abs(np.angle(np.exp(1j * (ends[0] - ends[1])))) > 1e-3)


@every_example
def test_transmission_angle_is_between_link_and_arm_seen_along_the_axis(name: str) -> None:
    example = EXAMPLES[name]
    link = example.link()
    u = np.array(example.driven.u)
    for turn in example.turns:
        c2, s2 = closure.close(link, *turned(turn))
        said = closure.transmission_angle(closure.rates(link, *turned(turn), c2, s2))
        q = np.array(closure.pin(example.driven, c2, s2))
        along = np.array(closure.pin(example.driving, *turned(turn))) - q
        along -= (along @ u) * u
        inward = np.array(example.driven.centre) - q
        cosine = along @ inward / np.linalg.norm(along) / np.linalg.norm(inward)
        assert said == pytest.approx(math.acos(cosine), rel=0.0, abs=1e-12)


def test_many_links_at_once_are_the_single_ones() -> None:
    radius = np.linspace(25.0, 40.0, 5)[:, None]
    turns = np.linspace(-0.3, 0.8, 7)
    one, two = EXAMPLES["skew"].driving, EXAMPLES["skew"].driven
    length = np.linspace(80.0, 90.0, 3)[:, None, None]
    link = closure.loop(one._replace(r=radius), two, length, 1.0)
    c2, s2 = closure.close(link, *turned(turns))
    here = closure.rates(link, *turned(turns), c2, s2)
    ends = toggle_turns(link)
    assert c2.shape == s2.shape == here.ratio.shape == here.second.shape == (3, 5, 7)
    assert closure.transmission_angle(here).shape == (3, 5, 7)
    assert ends.shape == (3, 5, 1, 4)
    assert np.isfinite(c2).any()
    for i, j, n in np.ndindex(3, 5, 7):
        alone = closure.loop(one._replace(r=float(radius[j, 0])), two, float(length[i, 0, 0]), 1.0)
        np.testing.assert_allclose(
            closure.close(alone, *turned(turns[n])), (c2[i, j, n], s2[i, j, n]), rtol=0.0, atol=1e-14
        )
        np.testing.assert_allclose(toggle_turns(alone), ends[i, j, 0], rtol=0.0, atol=1e-13)


def planar(a: Any, b: Any, c: Any, d: Any) -> Loop:
    crank, rocker = ArmFrame((0.0, 0.0, 0.0), X, Y, Z, a), ArmFrame((d, 0.0, 0.0), X, Y, Z, c)
    return closure.loop(crank, rocker, b, 1.0)


def test_out_of_reach_is_nan_exactly_where_the_triangle_is_impossible() -> None:
    a, b, c, d = 40.0, 60.0, 35.0, 80.0
    turns = np.radians(np.arange(0.5, 360.0, 1.0))
    c2, s2 = closure.close(planar(a, b, c, d), *turned(turns))
    apart = np.hypot(a * np.cos(turns) - d, a * np.sin(turns))
    possible = (apart <= b + c) & (apart >= abs(b - c))
    assert 0 < possible.sum() < possible.size
    np.testing.assert_array_equal(np.isfinite(c2), possible)
    np.testing.assert_array_equal(np.isfinite(s2), possible)


def test_toggles_of_planar_links_are_those_of_the_cosine_law() -> None:
    rng = np.random.default_rng(7)
    a, b, c, d = rng.uniform(10.0, 100.0, (4, 400))
    found = np.sort(toggle_turns(planar(a, b, c, d)), axis=-1)
    # coupler and rocker in one line: the crank pin is b + c, or |b - c|, away from O4
    for row, lengths in zip(found, zip(a, b, c, d, strict=True), strict=True):
        one, link, arm_, ground = lengths
        cosines = [(one**2 + ground**2 - r**2) / (2 * one * ground) for r in (link + arm_, abs(link - arm_))]
        wanted = sorted(sign * math.acos(x) for x in cosines if abs(x) < 1.0 for sign in (1, -1))
        np.testing.assert_allclose(row[: len(wanted)], wanted, rtol=0.0, atol=1e-12)
        assert np.isnan(row[len(wanted) :]).all()


@pytest.mark.parametrize(
    ("lengths", "at"),
    [
        ((5.0, 7.0, 6.0, 8.0), [180.0, 180.0]),  # a + d = b + c
        ((2.0, 6.0, 4.0, 8.0), [180.0, 180.0]),
        ((30.0, 100.0, 30.0, 100.0), [0.0, 0.0, 180.0, 180.0]),  # parallelogram
        ((100.0, 30.0, 100.0, 30.0), [0.0, 0.0, 180.0, 180.0]),
        ((30.0, 30.0, 30.0, 30.0), [0.0, 0.0, 180.0, 180.0]),  # rhombus
        ((0.1, 0.2, 0.3, 0.4), [180.0, 180.0]),  # sums that are equal only up to rounding
        # d - a = c - b, likewise; and stretched by the cosine law
        ((0.7, 0.1, 0.3, 0.9), [0.0, 0.0, *[math.degrees(math.acos(1.14 / 1.26))] * 2]),
        ((1.0, 2.0, 3.0, 7.0), []),  # cannot be assembled
        ((5.0, 8.0, 6.0, 8.0), []),  # crank turns right round
    ],
)
def test_change_points_are_kept(lengths: tuple[float, ...], at: list[float]) -> None:
    found = np.degrees(toggle_turns(planar(*lengths)))
    found = np.sort(np.abs(found[np.isfinite(found)]))
    np.testing.assert_allclose(found, at, rtol=0.0, atol=1e-9)


@every_example
def test_toggles_are_where_the_reach_ends(name: str) -> None:
    example = EXAMPLES[name]
    for longer in (-30.0, -10.0, -1.0, 0.0, 2.0, 15.0):
        length = example.length + longer
        link = closure.loop(example.driving, example.driven, length, 1.0)
        found = toggle_turns(link)
        found = np.sort(found[np.isfinite(found)])
        inside = [np.isfinite(closure.close(link, *turned(found + side))[0]) for side in (-1e-7, 1e-7)]
        assert np.all(inside[0] != inside[1])
        # and nowhere else: the reach changes as often round a fine turn
        grid = np.isfinite(closure.close(link, *turned(np.linspace(0.0, 2.0 * np.pi, 20001)))[0])
        assert np.count_nonzero(grid[1:] != grid[:-1]) == found.size


def test_toggles_of_a_skew_link_match_forty_digit_roots() -> None:
    example = EXAMPLES["skew"]
    checked = 0
    for longer in (-25.0, -5.0, 3.0, 12.0):
        link = closure.loop(example.driving, example.driven, example.length + longer, 1.0)
        found = toggle_turns(link)
        found = np.sort(found[np.isfinite(found)])
        with mpmath.workdps(40):
            # z^2 (w1^2 + w2^2 - k^2) as a quartic in z = exp(i theta)
            total = [mpmath.mpc(0)] * 5
            for names, sign in ((("g1", "p1", "q1"), 1), (("g2", "p2", "q2"), 1), (("k0", "k1", "k2"), -1)):
                g, p, q = (mpmath.mpf(float(getattr(link, part))) for part in names)
                factor = [mpmath.mpc(p, q) / 2, g, mpmath.mpc(p, -q) / 2]
                for i, j in np.ndindex(3, 3):
                    total[i + j] += sign * factor[i] * factor[j]
            roots = mpmath.polyroots(total[::-1], maxsteps=200, extraprec=200)
            wanted = sorted(float(mpmath.arg(z)) for z in roots if abs(abs(z) - 1) < mpmath.mpf("1e-25"))
        np.testing.assert_allclose(found, wanted, rtol=0.0, atol=1e-12)
        checked += len(wanted)
    assert checked > 0


@pytest.mark.parametrize("gap", [0.0, 1e-15, -1e-15, 1e-9, -1e-9])
def test_next_to_a_toggle_there_is_an_answer_or_nan_but_no_complaint(gap: float) -> None:
    link = planar(10.0, 10.0, 10.0, 20.0)
    turn = math.acos(0.25) + gap  # stretched: coupler and rocker in one line
    c2, s2 = closure.close(link, math.cos(turn), math.sin(turn))
    here = closure.rates(link, math.cos(turn), math.sin(turn), c2, s2)
    assert np.isnan(c2) == np.isnan(s2)
    assert np.isnan(c2) == np.isnan(here.ratio)
    if np.isfinite(c2):
        assert c2**2 + s2**2 == pytest.approx(1.0, rel=0.0, abs=1e-12)
        assert closure.transmission_angle(here) == pytest.approx(math.pi, rel=0.0, abs=1e-4)


def test_right_on_a_toggle_the_ratio_has_no_limit() -> None:
    at_toggle = Loop(2.0, 0.0, 0.0, 0.0, 0.0, 1.0, 2.0, 0.0, 0.0, 1.0, 1.0)  # w = (2, sin), k = 2: at no turn
    assert closure.close(at_toggle, 1.0, 0.0) == DRAWN
    assert closure.branch_of(at_toggle, 1.0, 0.0, *DRAWN) == 0.0
    here = closure.rates(at_toggle, 1.0, 0.0, *DRAWN)
    assert not np.isfinite(here.ratio)
    assert closure.transmission_angle(here) in (0.0, math.pi)


def test_a_pin_on_the_driven_axis_is_nan() -> None:
    link = planar(50.0, 31.0, 30.0, 50.0)  # at no turn the crank pin lies on the rocker's pivot
    assert np.isnan(closure.close(link, 1.0, 0.0)).all()
    assert np.isnan(closure.close(planar(50.0, 30.0, 30.0, 50.0), 1.0, 0.0)).all()  # reaches everywhere: no answer


coordinate = st.floats(-300.0, 300.0)
radius = st.floats(5.0, 120.0)
full_turn = st.floats(-math.pi, math.pi)
axis = st.tuples(full_turn, st.floats(-1.5, 1.5))


@st.composite
def arms(draw: st.DrawFn) -> ArmFrame:
    round_, up = draw(axis)
    u = (math.cos(up) * math.cos(round_), math.cos(up) * math.sin(round_), math.sin(up))
    level = (-math.sin(round_), math.cos(round_), 0.0)
    frame = arm(draw(st.tuples(coordinate, coordinate, coordinate)), u, level, draw(radius))
    c, s = turned(draw(full_turn))
    e1, e2 = np.array(frame.e1), np.array(frame.e2)
    return arm(frame.centre, frame.u, c * e1 + s * e2, frame.r)


@given(arms(), arms(), full_turn, st.floats(0.5, 1.5), st.sampled_from([1.0, -1.0]))
def test_the_link_keeps_its_length_or_cannot_reach(
    one: ArmFrame, two: ArmFrame, turn: float, share: float, branch: float
) -> None:
    length = share * float(closure.drawn_length(one, two))
    size = length + one.r + two.r + float(np.linalg.norm(np.subtract(one.centre, two.centre)))
    assume(length > 1.0)
    link = closure.loop(one, two, length, branch)
    c2, s2 = closure.close(link, *turned(turn))
    p = np.array(closure.pin(one, *turned(turn)))
    if np.isnan(c2):
        out = p - np.array(two.centre)
        along = float(out @ np.array(two.u))
        off = float(np.linalg.norm(out - along * np.array(two.u)))
        nearest, farthest = math.hypot(off - two.r, along), math.hypot(off + two.r, along)
        assert length < nearest + 1e-9 * size or length > farthest - 1e-9 * size
        return
    q = np.array(closure.pin(two, c2, s2))
    assert np.linalg.norm(p - q) == pytest.approx(length, rel=0.0, abs=1e-9 * size)
    assert np.linalg.norm(q - np.array(two.centre)) == pytest.approx(two.r, rel=0.0, abs=1e-9 * size)


@given(arms(), arms(), st.floats(0.5, 1.5))
def test_at_every_toggle_the_link_lies_over_the_arm(one: ArmFrame, two: ArmFrame, share: float) -> None:
    length = share * float(closure.drawn_length(one, two))
    assume(length > 1.0)
    found = toggle_turns(closure.loop(one, two, length, 1.0))
    for turn in found[np.isfinite(found)]:
        out = np.array(closure.pin(one, *turned(turn))) - np.array(two.centre)
        along = float(out @ np.array(two.u))
        off = float(np.linalg.norm(out - along * np.array(two.u)))
        ends = (math.hypot(off - two.r, along), math.hypot(off + two.r, along))
        assert min(abs(length - end) for end in ends) <= 1e-9 * (length + off + two.r)
