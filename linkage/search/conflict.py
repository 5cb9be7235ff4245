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
from linkage.search.measured import Goal, goals, measured
from linkage.search.minimax import Hold
from linkage.search.quick import quick
from linkage.search.task import Task

Floats = NDArray[np.float64]

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
        x, worst = quick(without, at, seed)
        figure = measured([without.at(x)], task.wish)[0]
        mine = [goal for goal in goals(task.wish) if goal.name == name or (name == "progression" and _point(goal))]
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
        x, worst = quick(moved, at, seed)
        yield Conflict(bound=hold.path, side=hold.side, value=float(x[moved.paths.index(hold.path)]), worst=worst)
