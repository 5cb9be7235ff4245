r"""Tolerance stacks of the mismatch: worst case and root sum square, from the analytic sensitivities.

::

    worst case         |difference as drawn| + sum |s t|
    root sum square    |difference as drawn| + sqrt(sum (s t)^2)

with ``s`` the sensitivity of a pair of shafts' difference to a dimension and ``t`` its
plus-or-minus value; the highest over all pairs and all positions. A position keeps its share of the
driver's travel between the two stops. At an end every stop is tried that can come to hold it within
the tolerances (shafts that stand at their stops together do not come off them together), under the
condition that it does: ``q.x >= g``, its lead over the stop that holds as drawn. The worst case
under it is a linear programme with one condition, solved by its dual; the root sum square is the
largest value on that part of the ellipsoid of errors.

References
----------
J. E. Shigley and C. R. Mischke, *Mechanical Engineering Design*, McGraw-Hill, ch. 1, dimensions and
tolerances: absolute and statistical stacks of plus-or-minus values (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from linkage.answers import extremes
from linkage.answers.dimension_errors import Dimension, built_dimensions, end_shift, member_turns
from linkage.answers.tolerance_sums import rss_while, worst_and_rss, worst_while
from linkage.answers.trials import tolerance_of
from linkage.motion import Motion
from linkage.parts import SIGN, Tolerance
from linkage.train import compared

Floats = NDArray[np.float64]

_WEIGHED = 21  # positions at which the dimensions are weighed against each other
_NOTHING = 1e-9  # [deg] a dimension that moves less moves nothing


@dataclass(frozen=True, slots=True)
class Stack:
    """Mismatch [deg] by both sums; ``nan`` where a dead point, and no stop, ends the travel."""

    worst_case: float
    rss: float


@dataclass(frozen=True, slots=True)
class Share:
    """One dimension, its plus-or-minus ``tolerance`` [mm, deg], its ``share`` of the variance (0 to 1) and
    by how many degrees the tolerance ``moves`` the difference."""

    dimension: Dimension
    tolerance: float
    share: float
    moves: float


@dataclass(frozen=True, slots=True)
class Place:
    """Where the root sum square is largest: ``between`` which two shafts, at what driver ``turn`` [deg] and
    ``fraction`` of the travel, and the ``shares`` there, largest first; they sum to 1."""

    between: tuple[str, str]
    turn: float
    fraction: float
    shares: tuple[Share, ...]


@dataclass(frozen=True, slots=True)
class StackUp:
    """Both sums at the closing stop and at their largest in the travel, and where that is.

    ``weights`` is, for every toleranced dimension by its path, the most it makes of any pair's variance
    anywhere, as a share of the largest variance of all (0 to 1, largest first).
    """

    at_idle: Stack
    largest: Stack
    governs_at_idle: Place
    governs: Place
    weights: Mapping[str, float]

    @property
    def by_kind(self) -> dict[str, float]:
        """Shares of the variance where it is largest, by kind of dimension, largest first; they sum to 1."""
        found: dict[str, float] = {}
        for share in self.governs.shares:
            found[share.dimension.kind] = found.get(share.dimension.kind, 0.0) + share.share
        return dict(sorted(found.items(), key=lambda item: -item[1]))


@np.errstate(invalid="ignore")  # without bound at a dead point
def stack_up(run: Motion, *, links_set: bool = False) -> StackUp:
    """Both sums of a motion of a design with tolerances and two or more shafts.

    Parameters
    ----------
    run : Motion
    links_set : bool
        Every link is set on the bench so that its ends stand as drawn at idle. Else each has its
        nominal length and an error.

    References
    ----------
    See the head of this module.
    """
    study = _Study(run, links_set)
    at_idle, governs_at_idle = study.largest(study.ends(0), along=False)
    largest, governs = study.largest([*study.ends(0), *study.ends(1)], along=True)
    return StackUp(at_idle, largest, governs_at_idle, governs, study.weights())


class _Look(NamedTuple):
    """Positions to look at, the driver's shift there (D, n), and the condition under which: the errors'
    ``lead`` (D,) over the stop that holds as drawn must make up the ``gap`` [deg of the driver]."""

    at: Motion
    moved: Floats
    lead: Floats | None = None
    gap: float = 0.0


@dataclass(frozen=True, eq=False)
class _Study:
    run: Motion
    links_set: bool

    @cached_property
    def listed(self) -> tuple[Dimension, ...]:
        return built_dimensions(self.run.train)

    @cached_property
    def within(self) -> Floats:
        given = self.run.rig.tolerance or Tolerance()
        return np.array([tolerance_of(given, dimension) for dimension in self.listed])

    @cached_property
    def holds(self) -> tuple[int, int]:
        return int(self.run.travel.closing_holds), int(self.run.travel.opening_holds)

    @cached_property
    def shifts(self) -> tuple[Floats, Floats]:
        """Shift of either end; an end at a dead point is held."""
        stops = self.run.travel.stops
        first, last = (end_shift(self.run, stops[i] if i >= 0 else None, links_set=self.links_set) for i in self.holds)
        return first, last

    def ends(self, end: int) -> list[_Look]:
        """Every stop that can come to hold an end within the tolerances."""
        if self.holds[end] < 0:
            return []
        side, inwards = ("closing", "opening")[end], (1.0, -1.0)[end] * float(self.run.train.opens)
        found = []
        for stop in self.run.travel.stops:
            if stop.limits != side or not np.isfinite(stop.driver):
                continue
            at = float(np.degrees(stop.driver))
            shift = end_shift(self.run, stop, links_set=self.links_set)
            gap = max(inwards * (self.run.ends[end] - at), 0.0)
            lead = inwards * (shift - self.shifts[end]) * self.within
            if gap <= float(np.abs(lead).sum()) + _NOTHING:
                found.append(_Look(self.run.at(at), shift[:, None], lead, gap))
        return found

    def moved(self, at: Motion) -> Floats:
        """Shift of the driver at positions that keep their share of its travel, shape (D, n)."""
        first, last = self.run.ends
        share = (at.turn - first) / (last - first) if last != first else np.zeros_like(at.turn)
        return np.asarray(np.outer(self.shifts[0], 1.0 - share) + np.outer(self.shifts[1], share))

    def largest(self, looks: list[_Look], *, along: bool) -> tuple[Stack, Place]:
        """Both sums at their largest, at the ends given and ``along`` the travel between if asked."""
        unbounded = not looks or (along and min(self.holds) < 0)
        looks = list(looks)
        for which in (0, 1) if along else ():
            most = extremes.highest(
                self.run,
                lambda at, which=which: np.max(self.sums(_Look(at, self.moved(at)))[which], axis=0),  # type: ignore[misc]
            )
            if np.isfinite(most.turn):
                at = self.run.at(most.turn)
                looks.append(_Look(at, self.moved(at)))
        if not looks:
            at = self.run.at(self.run.ends[0])
            looks.append(_Look(at, self.moved(at)))
        sums = [self.sums(look) for look in looks]
        worst, rss = (max(float(np.nanmax(both[i], initial=0.0)) for both in sums) for i in (0, 1))
        best = int(np.argmax([float(np.nanmax(both[1], initial=0.0)) for both in sums]))
        pair = int(np.argmax(np.nan_to_num(sums[best][1][:, 0])))
        at, moves = looks[best].at, sums[best][2][pair, :, 0]
        a, b = list(combinations(compared(self.run.rig), 2))[pair]
        fraction = min(max(float(at.fraction[0]), 0.0), 1.0)
        place = Place((a, b), float(at.turn[0]), fraction, self.shares(moves))
        return Stack(np.nan, np.nan) if unbounded else Stack(worst, rss), place

    def sums(self, look: _Look) -> tuple[Floats, Floats, Floats]:
        """Worst case and root sum square [deg] of every pair (P, n), and what each tolerance moves (P, D, n)."""
        at = look.at
        turned, angle = member_turns(at, links_set=self.links_set), at.plate_angle
        plate = {n: SIGN[at.rig.shaft[n].opens] * turned[n] + at.plate_speed[n] * look.moved for n in compared(at.rig)}
        pairs = list(combinations(plate, 2))
        apart = np.stack([angle[a] - angle[b] for a, b in pairs])
        moves = np.stack([plate[a] - plate[b] for a, b in pairs]) * self.within[:, None]
        if look.lead is None or float(np.abs(look.lead).max()) <= _NOTHING:
            worst, rss = worst_and_rss(moves, axis=1)
            return np.abs(apart) + worst, np.abs(apart) + rss, moves
        worst = np.maximum(*(worst_while(way * apart, way * moves, look.lead, look.gap) for way in (1.0, -1.0)))
        rss = np.maximum(*(rss_while(way * apart, way * moves, look.lead, look.gap) for way in (1.0, -1.0)))
        return worst, rss, moves

    def weights(self) -> dict[str, float]:
        """The most that every dimension makes of any pair's variance, of the largest variance of all."""
        along = self.run.at(np.linspace(*self.run.ends, _WEIGHED))
        variance = self.sums(_Look(along, self.moved(along)))[2] ** 2
        variance = np.where(np.isfinite(variance) & (variance > _NOTHING**2), variance, 0.0)
        most = variance.max(axis=(0, 2)) / max(float(variance.sum(axis=1).max()), _NOTHING**2)
        order = [int(i) for i in np.argsort(-most, kind="stable") if self.within[i] > 0.0]
        return {self.listed[i].path: float(most[i]) for i in order}

    def shares(self, moves: Floats) -> tuple[Share, ...]:
        """Every toleranced dimension's share of the variance, largest first; none if nothing moves."""
        moves = np.where(np.abs(moves) > _NOTHING, np.abs(moves), 0.0)
        total = float((moves**2).sum())
        if total == 0.0:
            return ()
        order = [int(i) for i in np.argsort(-moves, kind="stable") if self.within[i] > 0.0]
        return tuple(
            Share(self.listed[i], float(self.within[i]), float(moves[i] ** 2 / total), float(moves[i])) for i in order
        )
