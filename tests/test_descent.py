"""Bounded least squares side by side: against another solver, within the bounds, never uphill."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pytest
import scipy.optimize
from numpy.typing import NDArray

import linkage
from linkage.parts import Bounds, Wish
from linkage.search.descent import cost, descend
from linkage.search.sobol import sobol
from linkage.search.task import Task, task
from linkage.search.wish import rows

Floats = NDArray[np.float64]

DEMO = Path(__file__).parents[1] / "demo"
FREE = {
    "shaft.left.arm.drive.angle": Bounds(60.0, 85.0),
    "shaft.right.arm.drive.angle": Bounds(-100.0, -78.0),
    "bellcrank.centre.arm.left.radius": Bounds(40.0, 46.0),
}


def job(wish: Wish | None = None) -> Task:
    return task(linkage.read(DEMO / "flat_six.toml"), wish or Wish(mismatch=0.3), FREE)


def at(of: Task, z: Floats) -> Floats:
    return of.low[:, None] + (of.high - of.low)[:, None] * z


def test_it_comes_to_the_least_that_another_solver_finds() -> None:
    of = job()
    z = sobol(3, 8, 1)
    mine = cost(rows(of, at(of, descend(of, z, 13)), 13, sloped=False))

    def residuals(point: Floats) -> Floats:
        seen = rows(of, at(of, point[:, None]), 13, sloped=False)
        value = np.concatenate([seen.near[:, 0], 3.0 * np.maximum(seen.floor[:, 0], 0.0)])
        return np.where(np.isfinite(value), value, 1e3)

    theirs = [
        2.0 * scipy.optimize.least_squares(residuals, column, bounds=(0.0, 1.0), xtol=1e-12, ftol=1e-12).cost
        for column in np.clip(z, 1e-6, 1.0 - 1e-6).T[:4]
    ]
    assert float(mine.min()) == pytest.approx(min(theirs), rel=1e-4)


def test_every_step_stays_within_the_bounds_and_goes_down() -> None:
    of = job(Wish(mismatch=0.3, progression_ratio=2.0, transmission_angle=48.0))
    seen: list[Floats] = []

    def watch(z: Floats, found: object) -> None:
        assert np.all((z >= 0.0) & (z <= 1.0))
        seen.append(cost(found))  # type: ignore[arg-type]

    start = sobol(3, 16, 1)
    end = descend(of, start, 9, after_step=watch)
    assert np.all((end >= 0.0) & (end <= 1.0))
    assert len(seen) > 5
    for before, after in itertools.pairwise(seen):
        assert np.all((after <= before) | np.isinf(before))


def test_dimensions_that_are_held_stay() -> None:
    of = job()
    start = sobol(3, 4, 1)
    fixed = np.zeros((3, 4), bool)
    fixed[1] = True
    end = descend(of, start, 9, fixed=fixed)
    assert np.array_equal(end[1], start[1])
    assert not np.array_equal(end[0], start[0])


def test_columns_do_not_know_of_each_other() -> None:
    of = job()
    start = sobol(3, 5, 1)
    together = descend(of, start, 9)
    alone = descend(of, start[:, 2:3], 9)
    assert alone[:, 0] == pytest.approx(together[:, 2], abs=1e-9)


def test_what_cannot_be_assembled_stays_where_it_is() -> None:
    of = task(linkage.read(DEMO / "crossed_pair.toml"), Wish(), {"shaft.left.arm.cross.angle": Bounds(-180.0, 180.0)})
    z = np.array([[0.14, 0.6]])  # turned about, and nearly as drawn
    assert np.isinf(cost(rows(of, at(of, z), 9)))[0]
    assert descend(of, z, 9)[0, 0] == 0.14
