"""Sobol's sequence against another implementation, and what makes it worth having."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import qmc

from linkage.search.sobol import MOST, sobol


@pytest.mark.parametrize("d", [1, 2, 7, MOST])
def test_unshifted_it_is_that_of_another_implementation(d: int) -> None:
    other = qmc.Sobol(d, scramble=False).random(512)[1:].T  # without the corner that comes first there
    assert np.array_equal(sobol(d, 511, 0), other)


def test_every_interval_of_a_power_of_two_gets_its_share() -> None:
    points = np.concatenate([np.zeros((MOST, 1)), sobol(MOST, 63, 0)], axis=1)
    for row in points:
        assert np.array_equal(np.bincount((64 * row).astype(int), minlength=64), np.ones(64))


def test_a_seed_shifts_it_the_same_way_every_time() -> None:
    assert np.array_equal(sobol(5, 100, 3), sobol(5, 100, 3))
    assert not np.allclose(sobol(5, 100, 3), sobol(5, 100, 4))
    assert np.all((sobol(5, 1000, 3) >= 0.0) & (sobol(5, 1000, 3) < 1.0))
