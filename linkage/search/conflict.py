"""Where not everything can be met: which wish and which bound forbid each other.

Every wish is left out in turn, and every bound that holds the answer is moved out by the whole range of
its dimension; what is then met, or nearly, names the conflict.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from linkage.errors import DesignError
from linkage.parts import Bounds, Wish
from linkage.search.descent import cost, descend
from linkage.search.measured import Goal, goals, measured
from linkage.search.minimax import Hold, polish
from linkage.search.sobol import sobol
from linkage.search.task import Task
from linkage.search.wish import rows

Floats = NDArray[np.float64]

_STARTS, _SCREENED = 4, 128
_COARSE, _MIDDLE, _FINE = 9, 13, 33
_WEIGHTLESS = 0.003  # a wish that holds the answer no more than this is none of the matter
_BOUNDS = 4  # bounds tried, those that gain most first


@dataclass(frozen=True)
class Conflict:
    """What comes of leaving out a ``wish``, or of moving a ``bound``.

    ``bound`` is the path of a dimension, ``side`` "low" or "high", ``value`` [mm, deg, N ...] what the
    dimension then takes; for a wish ``value`` is what its figure then is, in the unit of its goal. ``worst``
    is the largest figure of the rest over what is wished: 1 and less is met.
    """

    wish: str = ""
    bound: str = ""
    side: str = ""
    value: float = float("nan")
    worst: float = float("nan")

    @property
    def forbids(self) -> bool:
        """Whether everything else is met without it."""
        return self.worst <= 1.0 + 1e-6


def conflicts(task: Task, at: Floats, holds: Sequence[Hold], seed: int) -> tuple[Conflict, ...]:
    """Leave out every wish and move every bound in turn; best first.

    Parameters
    ----------
    task : Task
    at : ndarray, shape (d,)
        The best answer [mm, deg, N ...].
    holds : sequence of Hold
        What holds it there.
    seed : int
    """
    found = [*_wishes(task, at, holds, seed), *_bounds(task, at, holds, seed)]
    return tuple(sorted(found, key=lambda conflict: conflict.worst))


def _wishes(task: Task, at: Floats, holds: Sequence[Hold], seed: int) -> Iterator[Conflict]:
    weight = {hold.name: hold.weight for hold in holds if hold.name}
    wished = [at.name for at in fields(Wish) if getattr(task.wish, at.name) is not None]
    for name in wished:
        if weight and weight.get(name, 0.0) < _WEIGHTLESS:
            continue
        without = Task(task.rig, replace(task.wish, **{name: None}), task.free)
        x, worst = _solved(without, at, seed)
        figure = measured([without.at(x)], task.wish)[0]
        mine = [goal for goal in goals(task.wish) if goal.name == name or name == "progression" and _point(goal)]
        yield Conflict(wish=name, value=_furthest(figure, mine), worst=worst)


def _point(goal: Goal) -> bool:
    return goal.name.startswith("opening at")


def _furthest(figure: dict[str, float], of: list[Goal]) -> float:
    """Of the figures of one wish that which is furthest off."""
    values = [(abs(figure.get(goal.name, np.nan) - goal.target), figure.get(goal.name, np.nan)) for goal in of]
    return max(values)[1] if values else float("nan")


def _bounds(task: Task, at: Floats, holds: Sequence[Hold], seed: int) -> Iterator[Conflict]:
    for hold in [h for h in holds if h.path][:_BOUNDS]:
        old = task.free[hold.path]
        size = old.high - old.low
        wider = Bounds(old.low - size, old.high) if hold.side == "low" else Bounds(old.low, old.high + size)
        try:
            for end in (wider.low, wider.high):
                task.rig.replace(hold.path, end)
        except DesignError:
            continue  # the dimension may not be that
        moved = Task(task.rig, task.wish, {**task.free, hold.path: wider})
        x, worst = _solved(moved, at, seed)
        yield Conflict(bound=hold.path, side=hold.side, value=float(x[moved.paths.index(hold.path)]), worst=worst)


def _solved(task: Task, at: Floats, seed: int) -> tuple[Floats, float]:
    """The best of a few starts and the answer that there is: dimensions (d,) and their worst row."""
    size = (task.high - task.low)[:, None]
    here = (at[:, None] - task.low[:, None]) / size
    z = np.concatenate([here, sobol(len(at), _SCREENED, seed)], axis=1)
    order = np.argsort(cost(rows(task, task.low[:, None] + size * z, _COARSE))[1:], kind="stable")[: _STARTS - 1]
    z = descend(task, z[:, np.r_[0, order + 1]], _MIDDLE)
    z = np.concatenate([z, here], axis=1)
    best = np.argsort(rows(task, task.low[:, None] + size * z, _MIDDLE).worst(), kind="stable")[:1]
    z, _ = polish(task, z[:, best], _FINE)
    worst = rows(task, task.low[:, None] + size * z, _FINE).worst()
    i = int(np.argmin(worst))
    return task.low + size[:, 0] * z[:, i], float(worst[i])
