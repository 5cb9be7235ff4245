"""First-order indices against functions whose indices are known by hand or in print."""

from __future__ import annotations

import numpy as np
import pytest

from linkage.search.influence import influence
from linkage.search.sobol import sobol
from linkage.search.vary import Box, Grid

N = 30_000
X = sobol(3, N, 5)
EDGES = Box({"x": (0.0, 1.0)}, N, 5).bins("x")


def test_a_weighted_sum_has_the_squares_of_its_weights() -> None:
    """Var(a x) = a^2 / 12: of x1 + 2 x2, one fifth and four fifths."""
    y = X[0] + 2.0 * X[1]
    found = [influence(x, y, EDGES) for x in X]
    assert [f.index for f in found] == pytest.approx([0.2, 0.8, 0.0], rel=0, abs=0.01)
    assert [f.way for f in found[:2]] == [1, 1]
    assert influence(X[1], -y, EDGES).way == -1


def test_the_ishigami_function_has_its_indices() -> None:
    """T. Ishigami and T. Homma, 1990: sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1; indices by integration, see below."""
    a, b = 7.0, 0.1
    x1, x2, x3 = np.pi * (2.0 * X - 1.0)
    y = np.sin(x1) + a * np.sin(x2) ** 2 + b * x3**4 * np.sin(x1)
    # mean square of the parts over the box: the means over x3 of x3^4 and x3^8 are pi^4/5 and pi^8/9
    first = 0.5 * (1.0 + b * np.pi**4 / 5.0) ** 2
    second = a * a / 8.0
    whole = first + second + 0.5 * b * b * np.pi**8 * (1.0 / 9.0 - 1.0 / 25.0)
    found = [influence(x, y, EDGES) for x in X]
    wanted = [first / whole, second / whole, 0.0]
    assert [f.index for f in found] == pytest.approx(wanted, rel=0, abs=0.015)
    assert found[1].way == 0


def test_levels_of_a_grid() -> None:
    grid = Grid({"a": np.array([0.0, 1.0, 2.0]), "b": np.array([0.0, 10.0])})
    block = grid.block(0, grid.rows)
    many = {path: np.tile(v, 50) for path, v in block.items()}
    y = 3.0 * many["a"] + many["b"]  # variances 9 * 2/3 and 25
    for path, share in (("a", 6.0 / 31.0), ("b", 25.0 / 31.0)):
        assert influence(many[path], y, grid.bins(path)).index == pytest.approx(share, rel=0, abs=0.01)


def test_chance_alone_is_no_influence() -> None:
    rng = np.random.default_rng(3)
    found = influence(rng.random(500), rng.random(500), EDGES).index
    assert found is not None
    assert found < 0.06


def test_where_there_is_nothing_to_tell() -> None:
    x = np.linspace(0.0, 1.0, 1000)
    assert influence(x, np.ones(1000), EDGES).index is None
    assert influence(x, np.full(1000, np.nan), EDGES).index is None
    assert influence(x[:5], x[:5], EDGES).index is None
    unknown = np.where(x > 0.5, np.inf, x)
    assert influence(x, unknown, EDGES).index == pytest.approx(1.0, rel=0, abs=0.02)
