"""The monotone curve against scipy's own, its integral against quadrature, its inverse against the integral."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.interpolate import PchipInterpolator

from linkage.motion.monotone import curve

KNOTS = st.integers(2, 9).flatmap(
    lambda n: st.tuples(
        st.lists(st.floats(0.02, 1.0), min_size=n, max_size=n), st.lists(st.floats(1.0, 90.0), min_size=n, max_size=n)
    )
)


@given(KNOTS)
def test_value_slope_and_integral_are_scipys(given: tuple[list[float], list[float]]) -> None:
    x, y = np.cumsum(given[0]), np.array(given[1])
    bent, other = curve(x, y), PchipInterpolator(x, y)
    at = np.linspace(x[0], x[-1], 41)
    size = np.max(y)
    np.testing.assert_allclose(bent.value(at), other(at), rtol=0, atol=1e-12 * size)
    steep = np.max(np.abs(np.diff(y) / np.diff(x)))
    np.testing.assert_allclose(bent.slope(at), other.derivative()(at), rtol=0, atol=1e-11 * (steep + size))
    np.testing.assert_allclose(
        bent.integral(at), other.antiderivative()(at), rtol=0, atol=1e-12 * size * (x[-1] - x[0])
    )


@given(KNOTS)
def test_it_never_leaves_the_points_on_either_side(given: tuple[list[float], list[float]]) -> None:
    x, y = np.cumsum(given[0]), np.array(given[1])
    bent = curve(x, y)
    for k in range(len(x) - 1):
        between = bent.value(np.linspace(x[k], x[k + 1], 33))
        slack = 1e-12 * np.max(y)
        assert np.min(between) >= min(y[k], y[k + 1]) - slack
        assert np.max(between) <= max(y[k], y[k + 1]) + slack
        steps = np.diff(between) * np.sign(y[k + 1] - y[k])
        assert np.min(steps) >= -slack


@given(KNOTS)
def test_the_inverse_is_the_inverse_within_and_beyond_the_points(given: tuple[list[float], list[float]]) -> None:
    x, y = np.cumsum(given[0]), np.array(given[1])
    bent = curve(x, y)
    at = np.sort(np.concatenate([x, np.linspace(x[0] - 2.0, x[-1] + 2.0, 61)]))
    # a travel is known to some bits of the whole; the flattest place tells what that is as a turn
    known = 8.0 * np.spacing(np.max(np.abs(bent.integral(at)))) / np.min(y)
    np.testing.assert_allclose(bent.inverse(bent.integral(at)), at, rtol=0, atol=known + 8.0 * np.spacing(np.max(at)))


def test_the_integral_by_quadrature() -> None:
    bent = curve([0.0, 0.4, 0.9, 1.4], [40.0, 35.0, 29.0, 22.0])
    for end in (-0.3, 0.2, 0.9, 1.3, 1.9):
        by_parts = quad(bent.value, 0.0, end, points=[0.4, 0.9, 1.4] if end > 0.0 else None, epsabs=1e-12)[0]
        assert bent.integral(end) == pytest.approx(by_parts, abs=1e-10)


def test_beyond_the_points_it_goes_on_constant() -> None:
    bent = curve([0.0, 1.0, 2.0], [3.0, 2.0, 1.0])
    np.testing.assert_array_equal(bent.value(np.array([-5.0, 7.0])), [3.0, 1.0])
    np.testing.assert_array_equal(bent.slope(np.array([-5.0, 7.0])), [0.0, 0.0])
    assert bent.integral(-2.0) == -6.0
    assert bent.inverse(-6.0) == -2.0


def test_many_curves_at_once_are_each_alone() -> None:
    rng = np.random.default_rng(3)
    x = np.cumsum(rng.uniform(0.1, 0.6, (5, 30)), axis=0)
    y = rng.uniform(10.0, 50.0, (5, 30))
    y[2, ::3] = y[1, ::3]  # some with a level piece
    at = np.linspace(0.0, 3.0, 17)[:, None]
    many = curve(list(x), list(y))
    for i in range(30):
        alone = curve(x[:, i], y[:, i])
        np.testing.assert_array_equal(many.value(at)[:, i], alone.value(at[:, 0]))
        np.testing.assert_array_equal(many.integral(at)[:, i], alone.integral(at[:, 0]))
        np.testing.assert_allclose(many.inverse(20.0 * at)[:, i], alone.inverse(20.0 * at[:, 0]), rtol=0, atol=1e-14)


def test_points_that_do_not_ascend_give_nothing() -> None:
    assert np.isnan(curve([0.0, 1.0, 0.5], [1.0, 2.0, 3.0]).value(0.2))
    many = curve([np.zeros(2), np.array([1.0, 1.0]), np.array([2.0, 0.5])], [1.0, 2.0, 3.0])
    assert np.isfinite(many.value(0.2)).tolist() == [True, False]


def test_derivatives_by_the_complex_step_are_those_by_difference() -> None:
    x, y = [0.0, 0.5, 1.2, 1.5], [40.0, 36.0, 30.0, 21.0]
    for i in range(4):
        up, down = (curve(x, [v + s * (k == i) for k, v in enumerate(y)]) for s in (1e-5, -1e-5))
        bent = curve(x, [v + 1e-30j * (k == i) for k, v in enumerate(y)])
        for at in (0.3, 0.8, 1.5, 2.0):
            by_difference = (up.integral(at) - down.integral(at)) / 2e-5
            assert bent.integral(at).imag / 1e-30 == pytest.approx(by_difference, abs=1e-8)
