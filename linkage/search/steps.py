"""Dimensions that come in steps (a drill, a thread, an indexing plate): the best of the steps around an answer."""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

from linkage.search.descent import descend
from linkage.search.minimax import polish
from linkage.search.task import Task
from linkage.search.wish import Rows, rows

Floats = NDArray[np.float64]

_ALL_SIDES = 6  # of so many stepped dimensions every choice of the step below or above is tried
_TRIED, _LED = 8, 2


def stepped(task: Task, z: Floats, middle: int, fine: int) -> tuple[Floats, Floats]:
    """Bring answers to their steps; what has no step makes up for it as far as it can.

    Parameters
    ----------
    task : Task
    z : ndarray, shape (d, n)
        Answers, 0 at the lower bounds and 1 at the upper.
    middle, fine : int
        Positions of the travel for the descent and for the last stretch.

    Returns
    -------
    z : ndarray, shape (d, n)
    exact : ndarray, shape (n,)
        The worst row of each before.
    """
    step = np.array([np.nan if b.step is None else b.step for b in task.free.values()])
    exact = _rows(task, z, fine).worst()
    tried = [_around(task, column, step) for column in z.T]
    of = np.repeat(np.arange(len(tried)), [around.shape[1] for around in tried])
    every = np.concatenate(tried, axis=1)
    kept = _best(of, _rows(task, every, middle).merit(), _TRIED)
    every, of = every[:, kept], of[kept]
    fixed = np.isfinite(step)[:, None] & np.ones(every.shape, bool)
    if not fixed.all():
        every = descend(task, every, middle, fixed=fixed)
        kept = _best(of, _rows(task, every, middle).merit(), _LED)
        every, of = every[:, kept], of[kept]
        every, _ = polish(task, every, fine, fixed=fixed[:, : every.shape[1]])
    return every[:, _best(of, _rows(task, every, fine).merit(), 1)], exact


def _rows(task: Task, z: Floats, nodes: int) -> Rows:
    return rows(task, task.low[:, None] + (task.high - task.low)[:, None] * z, nodes, sloped=False)


def _best(of: NDArray[np.intp], merit: Floats, most: int) -> list[int]:
    """The best few columns of every answer, by the answer that each is ``of``."""
    found: list[int] = []
    for answer in np.unique(of):
        mine = np.flatnonzero(of == answer)
        found += [int(i) for i in mine[np.argsort(merit[mine], kind="stable")][:most]]
    return found


def _around(task: Task, z: Floats, step: Floats) -> Floats:
    """An answer with its stepped dimensions at the steps below and above, (d, choices)."""
    size = task.high - task.low
    on = np.flatnonzero(np.isfinite(step))
    last = np.floor(size[on] / step[on] + 1e-9)
    below = np.clip(np.floor(z[on] * size[on] / step[on] + 1e-9), 0.0, last)
    above = np.minimum(below + 1.0, last)
    nearest = np.where(z[on] * size[on] / step[on] - below > 0.5, above, below)
    if len(on) <= _ALL_SIDES:
        chosen = np.array(list(product(*zip(below, above, strict=True)))).T
    else:  # the nearest, and each in turn on its other side
        chosen = np.repeat(nearest[:, None], len(on) + 1, axis=1)
        for i in range(len(on)):
            chosen[i, i + 1] = below[i] + above[i] - nearest[i]
    found = np.repeat(z[:, None], chosen.shape[1], axis=1)
    found[on] = chosen * step[on][:, None] / size[on][:, None]
    return found
