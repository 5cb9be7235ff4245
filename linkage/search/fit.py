"""Fit: the other way round, from what a linkage is to do to the dimensions that do it.

Many starts (Sobol points, and the design as drawn) are looked at, the best led down by least squares with
analytic slopes, the best of those to the least largest wish; several distinct answers are left, ranked,
each solved afresh.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from linkage.errors import DesignError, Fault
from linkage.parts import Bounds, Linkage, Wish, dimensions
from linkage.search.conflict import Conflict, conflicts
from linkage.search.descent import cost, descend
from linkage.search.measured import Goal, fails, goals, measured
from linkage.search.minimax import Hold, polish
from linkage.search.sobol import sobol
from linkage.search.steps import stepped
from linkage.search.task import Task, task
from linkage.search.wish import Rows, rows

Floats = NDArray[np.float64]
Progress = Callable[[str, float], None]

_SCREENED = 32  # points looked at for every start
_COARSE, _MIDDLE, _FINE = 9, 13, 49  # positions of the travel at which candidates are looked at
_POLISHED = 6
_DECIMALS = 4
_APART = 0.1  # answers nearer than this in every dimension, as a share of its bounds' range, are one


@dataclass(frozen=True, eq=False)
class Candidate:
    """A linkage that a fit considered.

    ``values`` are its free dimensions by path [mm, deg, N ...], ``figures`` what it does, solved afresh;
    ``worst`` is its largest figure over what is wished (1 and less: every wish and limit is met), ``merit`` that and a
    little of every other figure, by which answers are ranked; ``fails`` is
    the first check of the verdict that fails, ``unmet`` the goals that are not met. ``holds`` says which
    wishes and bounds hold it there. ``exact`` is its worst figure before dimensions were brought to their
    steps, None without steps.
    """

    rig: Linkage
    values: Mapping[str, float]
    figures: Mapping[str, float]
    worst: float
    merit: float
    fails: str
    unmet: tuple[str, ...]
    holds: tuple[Hold, ...] = ()
    exact: float | None = None

    @property
    def met(self) -> bool:
        """Whether every wish is met and no check fails."""
        return not self.unmet and not self.fails


@dataclass(frozen=True, eq=False)
class Fit:
    """What a fit found: ``answers`` ranked, ``start`` (the design as drawn, within the bounds), and where no
    answer meets everything, the ``conflicts``. ``stopped`` from the keyboard: the best so far."""

    rig: Linkage
    wish: Wish
    free: Mapping[str, Bounds]
    start: Candidate
    answers: tuple[Candidate, ...]
    goals: tuple[Goal, ...]
    conflicts: tuple[Conflict, ...] = ()
    starts: int = 32
    seed: int = 1
    stopped: bool = False

    @property
    def moved_in(self) -> tuple[str, ...]:
        """Dimensions that lie outside their bounds as drawn; the start has them at the nearer bound."""
        known = dimensions(self.rig)
        return tuple(path for path, b in self.free.items() if path in known and not b.low <= known[path] <= b.high)

    @property
    def best(self) -> Candidate:
        """The first answer."""
        return self.answers[0]


@dataclass(eq=False)
class _Search:
    """The candidates as they stand: what is left when it is stopped."""

    of: Task
    progress: Progress
    z: Floats
    holds: list[tuple[Hold, ...]] = field(default_factory=list)

    def x(self, z: Floats) -> Floats:
        size = (self.of.high - self.of.low)[:, None]
        return np.asarray(np.clip(self.of.low[:, None] + size * z, self.of.low[:, None], self.of.high[:, None]))

    def step(self, stage: str) -> Callable[[Floats, Rows], None]:
        def done(z: Floats, found: Rows) -> None:
            self.z, self.holds = z, []
            self.progress(stage, float(np.min(found.worst())))

        return done


def fit(
    rig: Linkage,
    *,
    wish: Wish | None = None,
    free: Mapping[str, Bounds | Sequence[float]] | None = None,
    starts: int = 32,
    seed: int = 1,
    answers: int = 5,
    progress: Progress | None = None,
) -> Fit:
    """Find the dimensions with which a linkage does what is wished.

    The drawn position stays the idle position; links without a length are fitted to every candidate. The
    limits of the verdict are always wished for. Never leaves the bounds, is never worse than the design as
    drawn, and gives the same answer for the same seed.

    Parameters
    ----------
    rig : Linkage
    wish : Wish, optional
        Angles [deg], lengths [mm], torques [N.mm]; left out, the design's own.
    free : mapping of str to Bounds or (low, high) or (low, high, step), optional
        What may change, by dotted path [mm, deg, N ...]; left out, the design's own.
    starts : int
        How many starts are led down.
    seed : int
        Of the starts.
    answers : int
        At most so many answers.
    progress : callable, optional
        Told the stage and the worst figure so far, over what is wished, after every step.

    Returns
    -------
    Fit

    Raises
    ------
    DesignError
        Nothing may change, or no candidate can be put together.
    PathError
        Something that is to change is no dimension of the design.

    Examples
    --------
    >>> import linkage
    >>> rig = linkage.read("demo/crossed_pair.toml")  # doctest: +SKIP
    >>> found = linkage.fit(rig, free={"shaft.left.arm.cross.angle": (30, 60)})  # doctest: +SKIP

    References
    ----------
    See :mod:`linkage.search.descent` and :mod:`linkage.search.minimax`.
    """
    given = rig.free if free is None else free
    bounds = {path: b if isinstance(b, Bounds) else Bounds(*map(float, b)) for path, b in given.items()}
    of = task(rig, wish or rig.wish or Wish(), bounds)
    if min(starts, answers) < 1:
        raise ValueError(f"starts and answers: must be at least 1, got {starts} and {answers}")
    start = (of.drawn - of.low) / (of.high - of.low)
    search = _Search(of, progress or _silent, start[:, None])
    stopped = False
    exact: Floats | None = None
    found: tuple[Conflict, ...] = ()
    try:
        _descend(search, start, starts, seed)
        _polish(search)
        if any(b.step is not None for b in bounds.values()):
            search.z, exact = stepped(of, search.z, _MIDDLE, _FINE)
    except KeyboardInterrupt:
        stopped = True
    drawn, *ranked = _ranked(search, start, answers, exact)
    if not np.isfinite(ranked[0].worst):
        says = "no linkage within these bounds can be put together, is pulled open and opens throughout"
        raise DesignError([Fault("free", says, "widen the bounds, or mend the design first")])
    if not ranked[0].met and not stopped:
        search.progress("what forbids it", ranked[0].worst)
        try:
            at = np.array([ranked[0].values[path] for path in of.paths])
            found = conflicts(of, at, ranked[0].holds, seed)
        except KeyboardInterrupt:
            stopped = True
    return Fit(rig, of.wish, bounds, drawn, tuple(ranked), goals(of.wish), found, starts, seed, stopped)


def _silent(stage: str, worst: float) -> None:
    pass


def _descend(search: _Search, start: Floats, starts: int, seed: int) -> None:
    """Look at many points, lead the best of them down by least squares."""
    of = search.of
    z = np.concatenate([start[:, None], sobol(len(start), _SCREENED * starts, seed)], axis=1)
    value = cost(rows(of, search.x(z), _COARSE, sloped=False))
    search.progress("looking round", float(np.min(value)))
    chosen = np.argsort(value[1:], kind="stable")[: starts - 1] + 1
    z = z[:, np.r_[0, chosen]]
    search.z = descend(of, z, _MIDDLE, after_step=search.step("leading down"))


def _polish(search: _Search) -> None:
    """Of the distinct ones the best, led to the least largest row."""
    merit = rows(search.of, search.x(search.z), _MIDDLE, sloped=False).merit()
    chosen = _distinct(search.z, merit, _POLISHED, 0.3 * _APART)
    search.z, search.holds = polish(search.of, search.z[:, chosen], _FINE, after_step=search.step("closing in"))


def _distinct(z: Floats, merit: Floats, most: int, apart: float) -> list[int]:
    """The best columns that stand apart from every better one."""
    kept: list[int] = []
    for i in np.argsort(merit, kind="stable"):
        if len(kept) < most and all(np.max(np.abs(z[:, i] - z[:, j])) > apart for j in kept):
            kept.append(int(i))
    return kept


def _ranked(search: _Search, start: Floats, most: int, exact: Floats | None) -> list[Candidate]:
    """The design as drawn, and the distinct answers, best first; it is the only one where none is better."""
    merit = rows(search.of, search.x(search.z), _FINE, sloped=False).merit()
    chosen = _distinct(search.z, merit, most, _APART)
    z = np.concatenate([start[:, None], search.z[:, chosen]], axis=1)
    holds = [search.holds[i] if search.holds else () for i in chosen]
    before = [None if exact is None else float(exact[i]) for i in chosen]
    drawn, *found = _candidates(search, z, [(), *holds], [None, *before])
    better = [c for c in found if _rank(c) < _rank(drawn)]
    return [drawn, *sorted(better, key=_rank)] if better else [drawn, drawn]


def _written(of: Task, x: Floats) -> Floats:
    """Dimensions as they are written down: what comes in no steps to four decimals, within its bounds."""
    free = np.array([b.step is None for b in of.free.values()])[:, None]
    short = np.clip(np.round(x, _DECIMALS), of.low[:, None], of.high[:, None])
    return np.where(free, short, x)


def _rank(candidate: Candidate) -> tuple[bool, bool, float]:
    return not candidate.met, bool(candidate.fails), candidate.merit


def _candidates(
    search: _Search, z: Floats, holds: Sequence[tuple[Hold, ...]], exact: Sequence[float | None]
) -> list[Candidate]:
    """Candidates with their figures, each solved afresh."""
    of, x = search.of, _written(search.of, search.x(z))
    seen = rows(of, x, _FINE, sloped=False)
    worst, merit = seen.worst(), seen.merit()
    rigs = [of.at(column) for column in x.T]
    found = []
    for i, (rig, figure) in enumerate(zip(rigs, measured(rigs, of.wish), strict=True)):
        unmet = tuple(goal.name for goal in goals(of.wish) if not goal.met(figure.get(goal.name, np.nan)))
        values = dict(zip(of.paths, map(float, x[:, i]), strict=True))
        here = float(worst[i]), float(merit[i])
        found.append(Candidate(rig, values, figure, *here, fails(figure), unmet, holds[i], exact[i]))
    return found
