"""Dimensions that come in steps (a drill, a thread, an indexing plate): the best of the steps around an answer."""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

from linkage.search.descent import descend
from linkage.search.minimax import polish
from linkage.search.task import Task
from linkage.search.wish import rows

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
    size = (task.high - task.low)[:, None]
    step = np.array([np.nan if b.step is None else b.step for b in task.free.values()])
    on_grid = np.isfinite(step)
    exact = rows(task, task.low[:, None] + size * z, fine, sloped=False).worst()
    done = []
    for column in z.T:
        tried = _around(task, column, step)
        worst = rows(task, task.low[:, None] + size * tried, middle, sloped=False).worst()
        tried = tried[:, np.argsort(worst, kind="stable")[:_TRIED]]
        fixed = np.repeat(on_grid[:, None], tried.shape[1], axis=1)
        if not on_grid.all():
            tried = descend(task, tried, middle, fixed=fixed)
            worst = rows(task, task.low[:, None] + size * tried, middle, sloped=False).worst()
            tried = tried[:, np.argsort(worst, kind="stable")[:_LED]]
            tried, _ = polish(task, tried, fine, fixed=fixed[:, : tried.shape[1]])
        worst = rows(task, task.low[:, None] + size * tried, fine, sloped=False).worst()
        done.append(tried[:, int(np.argmin(worst))])
    return np.stack(done, axis=1), exact


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
