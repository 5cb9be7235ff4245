"""Trigonometric polynomials put together from known zeros, and taken apart again."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from numpy.typing import NDArray

from linkage.trig_zeros import zeros

Floats = NDArray[np.float64]


def made_of(angles: Floats) -> tuple[Floats, NDArray[np.complex128], NDArray[np.complex128]]:
    """Harmonics of the product of ``sin((theta - angle) / 2)``, shape (n, 4), by Fourier's sums."""
    theta = np.arange(8) * (2.0 * np.pi / 8.0)
    values = np.prod(np.sin(0.5 * (theta - angles[..., None])), axis=-2)
    sums = np.fft.fft(values, axis=-1) / 8.0
    return sums[..., 0].real, 2.0 * sums[..., 1], 2.0 * sums[..., 2]


def found(angles: Floats) -> Floats:
    c0, m1, m2 = made_of(angles)
    return zeros(c0, m1, m2, np.abs(c0) + np.abs(m1) + np.abs(m2))


def apart(one: Floats, other: Floats) -> Floats:
    """Largest angle between two sets of four, paired as fits best."""
    pairs = [
        np.abs(np.angle(np.exp(1j * (one[..., list(order)] - other)))).max(axis=-1)
        for order in itertools.permutations(range(4))
    ]
    return np.asarray(np.min(pairs, axis=0))


def spread(rng: np.random.Generator, n: int, many: int) -> Floats:
    """Angles at least 0.4 rad from one another, shape (n, many)."""
    gaps = rng.uniform(0.4, 1.0, (n, many + 1))
    ends = np.cumsum(gaps / gaps.sum(axis=1, keepdims=True) * (2.0 * np.pi), axis=1)
    return np.asarray(ends[:, :many] + rng.uniform(-np.pi, np.pi, (n, 1)))


def test_four_zeros_apart() -> None:
    angles = spread(np.random.default_rng(1), 5000, 4)
    assert apart(found(angles), angles).max() < 1e-12


def test_a_double_zero_comes_twice_and_keeps_its_digits() -> None:
    angles = spread(np.random.default_rng(2), 5000, 3)[:, [0, 0, 1, 2]]
    assert apart(found(angles), angles).max() < 1e-12


def test_two_double_zeros() -> None:
    angles = spread(np.random.default_rng(3), 5000, 2)[:, [0, 0, 1, 1]]
    assert apart(found(angles), angles).max() < 1e-12


def test_zeros_that_are_symmetrical() -> None:
    rng = np.random.default_rng(4)
    middle, half, other = rng.uniform(-3.0, 3.0, 2000), rng.uniform(0.3, 1.3, 2000), rng.uniform(1.7, 2.8, 2000)
    angles = middle[:, None] + np.stack([half, -half, other, -other], axis=1)
    assert apart(found(angles), angles).max() < 1e-12


@pytest.mark.parametrize("gap", [1e-2, 1e-4, 1e-6])
def test_neighbours_keep_the_digits_that_their_distance_leaves(gap: float) -> None:
    angles = spread(np.random.default_rng(5), 5000, 3)[:, [0, 0, 1, 2]]
    angles[:, 1] += gap
    # rounding of 1e-16 moves a zero of slope ~ gap by some 1e-15 / gap
    assert apart(found(angles), angles).max() < 1e-14 / gap


def test_triple_zeros_are_found_to_the_cube_root_of_rounding() -> None:
    angles = spread(np.random.default_rng(6), 2000, 2)[:, [0, 0, 0, 1]]
    assert apart(found(angles), angles).max() < 1e-4


@pytest.mark.parametrize("second", [0.0, 1e-300, 1e-20, 1e-12, 1e-6])
def test_a_small_second_harmonic_leaves_the_first_degree_zeros(second: float) -> None:
    rng = np.random.default_rng(7)
    at, half = rng.uniform(-np.pi, np.pi, 1000), rng.uniform(0.2, 2.9, 1000)
    m1 = np.exp(-1j * at)  # cos(theta - at) = cos(half)
    m2 = second * np.exp(1j * rng.uniform(-np.pi, np.pi, 1000))
    got = zeros(-np.cos(half), m1, m2, 2.0)
    assert np.all(np.isfinite(got).sum(axis=1) == 2)
    wanted = np.stack([at + half, at - half], axis=1)
    got = got[np.isfinite(got)].reshape(-1, 2)
    ways = [np.abs(np.angle(np.exp(1j * (got[:, order] - wanted)))).max(axis=1) for order in ([0, 1], [1, 0])]
    assert np.min(ways, axis=0).max() < 20.0 * second + 1e-13


def test_only_a_second_harmonic() -> None:
    got = np.sort(zeros(-0.5, 0.0, 1.0, 1.5))  # cos 2 theta = 1/2
    np.testing.assert_allclose(got, np.array([-5, -1, 1, 5]) * np.pi / 6.0, rtol=0.0, atol=1e-15)


@pytest.mark.parametrize(
    ("c0", "m1", "m2"), [(2.1, 1.0, 1.0), (1.0, 0.0, 0.0), (0.0, 0.0, 0.0), (-3.0, 1j, 1.0), (0.0, 1e-16, 1e-16j)]
)
def test_no_zero_or_all_zero_is_nan(c0: float, m1: complex, m2: complex) -> None:
    assert np.isnan(zeros(c0, m1, m2, 4.0)).all()


def test_nan_rows_stay_in_their_place() -> None:
    angles = spread(np.random.default_rng(8), 3, 4)
    c0, m1, m2 = made_of(angles)
    c0[1] = np.nan
    got = zeros(c0, m1, m2, 1.0)
    assert np.isnan(got[1]).all()
    assert np.isfinite(got[[0, 2]]).all()


def test_shape_and_blocks() -> None:
    angles = spread(np.random.default_rng(9), 10002, 4)
    c0, m1, m2 = made_of(angles)
    whole = zeros(c0.reshape(2, 3, 1667), m1.reshape(2, 3, 1667), m2.reshape(2, 3, 1667), 1.0)
    assert whole.shape == (2, 3, 1667, 4)
    assert apart(whole.reshape(-1, 4), angles).max() < 1e-12
    assert zeros(0.0, 1.0, 0.0, 1.0).shape == (4,)
    assert zeros(np.zeros(0), np.zeros(0), np.zeros(0), np.zeros(0)).shape == (0, 4)


@pytest.mark.parametrize("gap", [0.3, 0.1, 0.03])
def test_two_double_zeros_near_each_other(gap: float) -> None:
    angles = spread(np.random.default_rng(10), 2000, 1)[:, [0, 0, 0, 0]] + np.array([0.0, 0.0, gap, gap])
    # each is where the slope is zero, and the slope's own slope is some gap^2 / 8
    assert apart(found(angles), angles).max() < 1e-14 / gap**2
