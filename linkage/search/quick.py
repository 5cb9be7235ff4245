"""The best of a few starts, for the many small fits that other answers are made of."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from linkage.search.descent import cost, descend
from linkage.search.minimax import polish
from linkage.search.sobol import sobol
from linkage.search.task import Task
from linkage.search.wish import rows

Floats = NDArray[np.float64]

_STARTS, _SCREENED = 4, 128
_COARSE, _MIDDLE, _FINE = 9, 13, 49  # positions of the travel


def quick(task: Task, at: Floats, seed: int) -> tuple[Floats, float]:
    """Lead a few seeded starts and the place ``at`` (d,) to the least largest row.

    Returns
    -------
    x : ndarray, shape (d,)
        Dimensions [mm, deg, N ...].
    worst : float
        Their worst row.
    """
    size, low = (task.high - task.low)[:, None], task.low[:, None]
    here = np.clip((at[:, None] - low) / size, 0.0, 1.0)
    z = np.concatenate([here, sobol(len(at), _SCREENED, seed)], axis=1)
    value = cost(rows(task, low + size * z, _COARSE, sloped=False))
    order = np.argsort(value[1:], kind="stable")[: _STARTS - 1]
    z = np.concatenate([descend(task, z[:, np.r_[0, order + 1]], _MIDDLE), here], axis=1)
    best = np.argsort(rows(task, low + size * z, _MIDDLE, sloped=False).merit(), kind="stable")[:1]
    z, _ = polish(task, z[:, best], _FINE)
    worst = rows(task, low + size * z, _FINE, sloped=False).worst()
    return task.low + size[:, 0] * z[:, 0], float(worst[0])
