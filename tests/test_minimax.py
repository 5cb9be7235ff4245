"""The last stretch: against a search that knows no slopes, and what its multipliers say."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import scipy.optimize
from numpy.typing import NDArray

import linkage
from linkage.answers import check
from linkage.parts import Bounds, Wish
from linkage.search.minimax import polish
from linkage.search.task import Task, task
from linkage.search.wish import rows

Floats = NDArray[np.float64]

DEMO = Path(__file__).parents[1] / "demo"


def pair(low: float = 20.0, high: float = 60.0, wish: Wish | None = None) -> Task:
    """The crossed pair of 30 mm levers, 250 mm apart."""
    free = {"shaft.left.arm.cross.angle": Bounds(low, high), "shaft.right.arm.cross.angle": Bounds(-100.0, -30.0)}
    return task(linkage.read(DEMO / "crossed_pair.toml"), wish or Wish(mismatch=0.1), free)


def at(of: Task, *x: float) -> Floats:
    return ((np.array(x) - of.low) / (of.high - of.low))[:, None]


def values(of: Task, z: Floats) -> Floats:
    return np.asarray(of.low + (of.high - of.low) * z[:, 0])


def test_the_classic_pair_comes_to_its_least_mismatch() -> None:
    """About 0.11 degrees near 40.2 and -64.5 is the least of 30 mm levers 250 mm apart."""
    of = pair()
    z, holds = polish(of, at(of, 42.0, -62.0), 65)
    left, right = values(of, z)

    def largest(x: Floats) -> float:
        return check(of.at(x)).mismatch.largest.value

    other = scipy.optimize.minimize(
        largest, [40.2, -64.5], method="Nelder-Mead", options={"xatol": 1e-4, "fatol": 1e-6}
    )
    assert largest(np.array([left, right])) == pytest.approx(float(other.fun), abs=5e-4)
    assert (left, right) == pytest.approx(other.x, abs=0.2)
    assert [hold.name for hold in holds[0] if hold.name] == ["mismatch"]
    assert not any(hold.path for hold in holds[0])


def test_at_the_least_the_curve_touches_its_largest_value_one_time_more_than_it_has_dimensions() -> None:
    of = pair()
    z, _ = polish(of, at(of, 42.0, -62.0), 65)
    curve = rows(of, values(of, z)[:, None], 65, sloped=False).near[:, 0]
    most = np.max(np.abs(curve))
    runs = np.flatnonzero(np.diff(np.sign(np.where(np.abs(curve) > 0.98 * most, curve, 0.0))) != 0.0)
    assert len(runs) >= 2 * (2 + 1) - 1


def test_a_bound_that_holds_says_what_it_would_gain() -> None:
    of = pair(low=43.0)
    z, holds = polish(of, at(of, 50.0, -62.0), 65)
    (bound,) = [hold for hold in holds[0] if hold.path]
    assert (bound.path, bound.side) == ("shaft.left.arm.cross.angle", "low")
    assert z[0, 0] == 0.0
    here = rows(of, values(of, z)[:, None], 65, sloped=False).worst()[0]
    further = pair(low=42.9)
    there, _ = polish(further, at(further, 50.0, -62.0), 65)
    gained = here - rows(further, values(further, there)[:, None], 65, sloped=False).worst()[0]
    assert bound.gain == pytest.approx(gained / 0.1, rel=0.1)


def test_it_never_ends_worse_than_it_began_and_never_leaves_the_bounds() -> None:
    of = pair(wish=Wish(mismatch=0.1, progression_ratio=1.3, transmission_angle=46.0))
    start = np.random.default_rng(3).random((2, 6))
    end, _ = polish(of, start, 17)
    assert np.all((end >= 0.0) & (end <= 1.0))
    size, low = (of.high - of.low)[:, None], of.low[:, None]
    before, after = (rows(of, low + size * z, 17, sloped=False).merit() for z in (start, end))
    assert np.all((after <= before) | np.isinf(before))


def test_a_floor_is_kept_before_a_wish_is_neared() -> None:
    of = pair(wish=Wish(mismatch=0.1, transmission_angle=49.5))
    z, holds = polish(of, at(of, 42.0, -62.0), 65)
    answer = check(of.at(values(of, z)))
    least = next(c.value for c in answer.checks if c.name == "transmission_angle")
    assert least is not None
    assert least >= 49.5 - 1e-3
    assert answer.mismatch.largest.value > 0.12
    assert {hold.name for hold in holds[0]} >= {"mismatch", "transmission_angle"}
