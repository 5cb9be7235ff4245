r"""The last stretch: the largest near row as small as it gets, by linear programmes within a trust region.

::

    least  t + 0.03 sum(t_f) + 100 e  over the step s:   -t_f <= near + (slope) s <= t_f   of every figure f
           t_f <= t    floor + (slope) s <= e            within the bounds and the trust region

Every candidate has its own trust region. At the end the programme's multipliers say which rows and
bounds hold the answer where it is, and what relaxing a bound would gain.

References
----------
K. Madsen, "An algorithm for minimax solution of overdetermined systems of non-linear equations",
Journal of the Institute of Mathematics and its Applications 16 (1975), 321-328 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from linkage.search.task import Task
from linkage.search.wish import OTHERS, PENALTY, Rows, rows

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_STEPS = 25
_FIRST, _LEAST = 0.05, 1e-5  # trust region, in shares of the bounds' range


@dataclass(frozen=True)
class Hold:
    """What holds an answer where it is: a figure of the wish by ``name``, or the bound of a dimension's ``path``.

    ``weight`` is its share, 0 to 1. Of a bound, ``gain`` is what the worst row loses per unit of the
    dimension that the bound is relaxed, and ``side`` says which: "low" or "high".
    """

    name: str = ""
    path: str = ""
    side: str = ""
    weight: float = 0.0
    gain: float = 0.0


class _Step(NamedTuple):
    move: Floats
    wanted: float
    near: Floats
    floor: Floats
    low: Floats
    high: Floats


def polish(
    task: Task,
    z: Floats,
    nodes: int,
    *,
    fixed: Bools | None = None,
    after_step: Callable[[Floats, Rows], None] | None = None,
) -> tuple[Floats, list[tuple[Hold, ...]]]:
    """Lead candidates down to the least largest row; parameters as of :func:`linkage.search.descent.descend`.

    Returns
    -------
    z : ndarray, shape (d, n)
    holds : list of tuple of Hold
        What holds each of them, heaviest first.
    """
    size = (task.high - task.low)[:, None]
    held = np.zeros(z.shape, bool) if fixed is None else fixed
    n = z.shape[1]
    found = rows(task, task.low[:, None] + size * z, nodes)
    best = found.merit()
    trust = np.full(n, _FIRST)
    last: list[_Step | None] = [None] * n
    for _ in range(_STEPS):
        moving = np.flatnonzero(np.isfinite(best) & (trust > _LEAST))
        if moving.size == 0:
            break
        trial, wanted = z.copy(), best.copy()
        for i in moving:
            step = _programme(found, size[:, 0], z[:, i], int(i), float(trust[i]), held[:, i])
            if step is None:
                trust[i] = 0.0
                continue
            last[i] = step
            trial[:, i], wanted[i] = z[:, i] + step.move, step.wanted
        trial = np.clip(trial, 0.0, 1.0)
        there = rows(task, task.low[:, None] + size * trial, nodes)
        new = there.merit()
        hoped, gained = best - wanted, best - new
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(hoped > 1e-9 * np.maximum(best, 1e-3), gained / hoped, -np.inf)
        better = gained > 0.0
        reach = np.max(np.abs(trial - z), axis=0)
        trust = np.where(share > 0.75, np.maximum(trust, 2.0 * reach), np.where(share > 0.25, trust, 0.25 * trust))
        trust = np.minimum(trust, 0.25)
        z, best = np.where(better, trial, z), np.where(better, new, best)
        found = there.where(better, found)
        if after_step is not None:
            after_step(z, found)
    return z, [_holds(task, found, step) if step is not None else () for step in last]


def _programme(found: Rows, size: Floats, z: Floats, i: int, trust: float, held: Bools) -> _Step | None:
    """The step of one candidate; None where the programme has no answer."""
    from scipy.optimize import linprog

    near, floor = found.near[:, i], found.floor[:, i]
    by_near, by_floor = found.near_slope[:, :, i] * size, found.floor_slope[:, :, i] * size
    if not all(np.isfinite(part).all() for part in (near, floor, by_near, by_floor)):
        return None
    groups = found.groups()
    k, q, d, g = len(near), len(floor), len(z), len(groups)
    mine = -(np.array(found.near_names)[:, None] == np.array(groups)).astype(float)
    left = np.block(
        [
            [by_near, mine, np.zeros((k, 2))],
            [-by_near, mine, np.zeros((k, 2))],
            [by_floor, np.zeros((q, g + 1)), -np.ones((q, 1))],
            [np.zeros((g, d)), np.eye(g), -np.ones((g, 1)), np.zeros((g, 1))],
        ]
    )
    right = np.concatenate([-near, near, -floor, np.zeros(g)])
    reach = np.where(held, 0.0, trust)
    low, high = np.maximum(-reach, -z), np.minimum(reach, 1.0 - z)
    low, high = np.where(held, 0.0, low), np.where(held, 0.0, high)
    bounds = [*zip(low, high, strict=True), *[(0.0, None)] * (g + 2)]
    target = np.r_[np.zeros(d), np.full(g, OTHERS), 1.0, PENALTY]
    done = linprog(target, A_ub=left, b_ub=right, bounds=bounds, method="highs")
    if not done.success:
        return None
    marginal = -done.ineqlin.marginals
    at_low, at_high = done.lower.marginals[:d], -done.upper.marginals[:d]
    # a bound of the trust region is no bound of the design
    at_low = np.where((low == -z) & ~held, at_low, 0.0)
    at_high = np.where((high == 1.0 - z) & ~held, at_high, 0.0)
    on_near, on_floor = marginal[:k] + marginal[k : 2 * k], marginal[2 * k : 2 * k + q]
    return _Step(np.asarray(done.x)[:d], float(done.fun or 0.0), on_near, on_floor, at_low, at_high)


def _holds(task: Task, found: Rows, step: _Step) -> tuple[Hold, ...]:
    """What holds an answer, by the multipliers of its last programme."""
    by_name: dict[str, float] = {}
    for names, weights in ((found.near_names, step.near), (found.floor_names, step.floor)):
        for name, weight in zip(names, weights, strict=True):
            by_name[name] = by_name.get(name, 0.0) + float(weight)
    whole = sum(by_name.values()) or 1.0
    named = [Hold(name, weight=w / whole) for name, w in by_name.items() if name and w > 1e-6 * whole]
    bounds = []
    for path, low, high, size in zip(task.paths, step.low, step.high, task.high - task.low, strict=True):
        for side, weight in (("low", low), ("high", high)):
            if weight > 1e-9:
                bounds.append(Hold(path=path, side=side, weight=1.0, gain=float(weight / size)))
    return (*sorted(named, key=lambda h: -h.weight), *sorted(bounds, key=lambda h: -h.gain))
