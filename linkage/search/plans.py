"""Plans for a built linkage: which adjusters, by how much; many candidates assembled and walked at once.

Plans grow one adjuster at a time. The amounts are least squares of the mismatch in shares of its limits, so
idle weighs most, and of what the driver's ends of travel move, that nothing be turned without need; then
rounded to what the adjuster can do, every rounding near by tried. Every candidate stands between its own
stops, nothing is linearised.

The odds of ending inside the limits count what the readings left uncertain and how exactly a lever can
be clamped: the linkage is built :data:`TRIALS` times by chance and adjusted each time. The fewest moves win
whose odds come within :data:`WORTH` of the best; where no plan has any hope, the fewest whose mismatch comes
within a tenth of the best.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage.answers.mismatch import REGION
from linkage.answers.trials import built
from linkage.closure import Numbers
from linkage.motion import assemble, stop_ends, walk
from linkage.motion.assembly import turn_near
from linkage.parts import SIGN
from linkage.search.adjusters import Adjuster
from linkage.search.estimate import COVERAGE, Estimate

Floats = NDArray[np.float64]

#: trials by which odds are worked out
TRIALS = 2000
#: odds that a move more must be worth; below these odds of any plan the mismatch itself decides
WORTH, HOPELESS = 0.05, 0.1
#: the driver's ends of travel moved by so much [deg] weigh as much as a mismatch at its limit
DRIFT = 5.0

_NEAR = 0.1  # a plan with fewer moves may be so much worse
_MOST_TRIED = 100  # roundings of one plan
_POSITIONS = 25
_STEPS, _LARGEST = 4, 3.0  # Gauss-Newton, and the largest step of it [mm, deg]
_FINE = 0.01  # an amount that no step rounds is told to this [mm]


@dataclass(frozen=True, eq=False)
class Plan:
    """Amounts [mm, deg] of every adjuster.

    ``score`` is the largest mismatch as a share of its limit, and what the ends of travel drift; ``odds`` are
    of every limit being kept; ``within`` [deg] is the uncertainty of the mismatch at idle and at its
    largest, two standard deviations. The mismatch is ``inside`` every limit, or, where it is not, at least
    ``unclear``, smaller than its own uncertainty.
    """

    amounts: Floats
    score: float
    odds: float
    within: tuple[float, float]
    inside: bool
    unclear: bool


class Shop:
    """The estimated linkage with all that can be turned on it: candidates are tried here, many at once."""

    def __init__(self, found: Estimate, able: Sequence[Adjuster]) -> None:
        self.found, self.able, self.run = found, tuple(able), found.expected.run
        self.columns = [column(found, a) for a in able]
        self.step = np.array([a.step for a in able])
        self.share = np.linspace(0.0, 1.0, _POSITIONS)
        values, vectors = np.linalg.eigh(found.covariance)
        self.root = vectors * np.sqrt(np.maximum(values, 0.0))
        # what a degree of a lever set wrong does to the plates; of the linkage as found
        self.set_within = np.array([a.set_within for a in able])
        self.shaken = np.zeros((len(able), _POSITIONS, len(self.run.rig.shaft)))
        self.ends = np.zeros(2)
        base, _, ends = (part[0] for part in self.plates(np.zeros((1, len(able)))))
        self.ends = ends
        for j in np.flatnonzero(self.set_within):
            there = np.zeros((1, len(able)))
            there[0, j] = 0.01
            self.shaken[j] = (self.plates(there)[0][0] - base) / 0.01 * self.set_within[j]

    def plates(self, amounts: Floats, errors: Floats | None = None) -> tuple[Floats, Floats, Floats]:
        """Plate angles (n, positions, shafts) [deg] of the linkage adjusted by ``amounts`` (n, able).

        Between its own stops; and the mismatch limit at every position (n, positions), and how far the driver's
        ends of travel have moved (n, 2) [deg].
        """
        n = len(amounts)
        wrong = np.tile(self.found.error, (n, 1)) if errors is None else errors.copy()
        for j, at in enumerate(self.columns):
            wrong[:, at] += amounts[:, j]
        listed: list[Numbers] = list(np.ascontiguousarray(wrong.T)[:, :, None])
        train = assemble(self.run.rig, built(self.run, self.found.dimensions, listed))
        low, high = (np.broadcast_to(v, (n, 1)) for v in stop_ends(train))
        turn = low + self.share * (high - low)
        pose = walk(train, train.pose(turn))
        found = []
        for name, shaft in self.run.rig.shaft.items():
            sign, plate = SIGN[shaft.opens], shaft.plate_angle
            middle = sign * np.radians(0.5 * (plate.wide_open - plate.idle))
            c, s = (np.broadcast_to(p, turn.shape) for p in pose[name])
            found.append(plate.idle + sign * np.degrees(turn_near((c, s), middle)))
        drift = np.degrees(np.concatenate([low, high], axis=1)) - self.ends
        return np.stack(found, axis=-1), self._limits(found[0]), drift

    def _limits(self, first: Floats) -> Floats:
        limits = self.run.rig.limits
        limit = np.full(first.shape, limits.mismatch)
        limit[first >= first[:, -1:] - REGION] = limits.mismatch_at_wide_open
        limit[first <= first[:, :1] + REGION] = limits.mismatch_off_idle
        limit[:, 0] = min(limits.mismatch_at_idle, limits.mismatch_off_idle)
        return limit

    def scores(self, amounts: Floats) -> Floats:
        """Largest mismatch of every candidate as a share of its limit there, what clamping leaves open counted in."""
        plates, limit, drift = self.plates(amounts)
        with np.errstate(invalid="ignore"):
            apart = np.ptp(plates, axis=-1)
            loose = np.tensordot((amounts != 0.0).astype(float), np.ptp(self.shaken, axis=-1) ** 2, axes=1)
            score = np.max(np.sqrt(apart**2 + loose) / limit, axis=1) + np.max(np.abs(drift), axis=1) / DRIFT
        return np.where(np.isfinite(score), score, np.inf)

    def settled(self, amounts: Floats, free: Sequence[int]) -> Floats:
        """Candidates with the amounts of some adjusters made those of least squares, by Gauss-Newton."""
        amounts = amounts.copy()
        if not free:
            return amounts
        for _ in range(_STEPS):
            left = self._shares(amounts)
            slope = np.empty((*left.shape, len(free)))
            for i, j in enumerate(free):
                there = amounts.copy()
                there[:, j] += 1e-4
                slope[..., i] = (self._shares(there) - left) / 1e-4
            bad = ~np.isfinite(left).all(axis=1) | ~np.isfinite(slope).all(axis=(1, 2))
            slope[bad], left[bad] = 0.0, 0.0
            normal = np.swapaxes(slope, 1, 2) @ slope + 1e-6 * np.eye(len(free))
            move = np.linalg.solve(normal, np.swapaxes(slope, 1, 2) @ left[..., None])[..., 0]
            amounts[:, free] -= np.clip(move, -_LARGEST, _LARGEST)
        return amounts

    def _shares(self, amounts: Floats) -> Floats:
        """How far every plate is from their mean, in shares of the limit, and what the ends of travel move."""
        plates, limit, drift = self.plates(amounts)
        away = (plates - plates.mean(axis=-1, keepdims=True)) / limit[..., None]
        return np.concatenate([away.reshape(len(amounts), -1), drift / DRIFT], axis=1)

    def rounded(self, chosen: Sequence[int]) -> tuple[Floats, float]:
        """The best amounts of some adjusters that they can be set to, and the score."""
        ideal = self.settled(np.zeros((1, len(self.able))), chosen)[0]
        coarse = [j for j in chosen if self.able[j].kind == "link" and self.step[j] > 0.0]
        fine = [j for j in chosen if j not in coarse]
        reach = next((r for r in (3, 2, 1) if (2 * r + 1) ** len(coarse) <= _MOST_TRIED), 0)
        near = list(itertools.product(range(-reach, reach + 1), repeat=len(coarse)))
        tried = np.tile(ideal, (len(near), 1))
        for i, j in enumerate(coarse):
            tried[:, j] = self.step[j] * (np.round(ideal[j] / self.step[j]) + np.array([n[i] for n in near]))
        tried = self.settled(tried, fine)
        for j in fine:
            tried[:, j] = np.round(tried[:, j] / (self.step[j] or _FINE)) * (self.step[j] or _FINE)
        score = self.scores(tried)
        best = int(np.argmin(np.round(score, 6)))
        return tried[best], float(score[best])

    def plan(self, random: np.random.Generator) -> tuple[Plan, Plan]:
        """The linkage as it stands, and the plan that wins."""
        nothing = np.zeros(len(self.able))
        plans, chosen = [(float(self.scores(nothing[None])[0]), nothing)], list[int]()
        most = min(len(self.able), len(self.run.rig.shaft) + 1)
        while len(chosen) < most and plans[-1][0] > 0.0:
            trials = [(j, *self.rounded([*chosen, j])) for j in range(len(self.able)) if j not in chosen]
            j, amounts, score = min(trials, key=lambda trial: trial[2])
            chosen.append(j)
            plans.append((score, amounts))
        luck = random.standard_normal((TRIALS, self.found.error.size + len(self.able)))
        judged = [self.judged(amounts, score, luck) for score, amounts in plans]
        best = max(plan.odds for plan in judged)
        if best > HOPELESS:
            return judged[0], next(plan for plan in judged if plan.odds >= best - WORTH)
        least = min(plan.score for plan in judged)
        return judged[0], next(plan for plan in judged if plan.score <= (1.0 + _NEAR) * least)

    def judged(self, amounts: Floats, score: float, luck: Floats) -> Plan:
        """Odds that every limit is kept, and the uncertainty of the mismatch at idle and where it is largest."""
        k = self.found.error.size
        errors = self.found.error + luck[:, :k] @ self.root.T
        set_to = amounts + (amounts != 0.0) * self.set_within * luck[:, k:]
        plates, limit, _ = self.plates(set_to, errors)
        with np.errstate(invalid="ignore"):
            kept = np.all(np.ptp(plates, axis=-1) <= limit, axis=1)
        mean, most, _ = (part[0] for part in self.plates(amounts[None]))
        apart = np.ptp(mean, axis=-1)
        high, low = np.argmax(mean, axis=-1), np.argmin(mean, axis=-1)
        low = np.where(high == low, high - 1, low)  # shafts that agree: any two
        at = np.arange(_POSITIONS)
        difference = plates[:, at, high] - plates[:, at, low]
        built_up = np.isfinite(difference).all(axis=1)
        within = COVERAGE * np.std(difference[built_up], axis=0) if np.any(built_up) else np.full(_POSITIONS, np.inf)
        worst = int(np.argmax(np.nan_to_num(apart, nan=-1.0)))
        return Plan(
            amounts, score, float(np.mean(kept)), (float(within[0]), float(within[worst])),
            inside=bool(np.all(apart <= most)), unclear=bool(np.all(apart <= np.maximum(most, within))),
        )  # fmt: skip


def column(found: Estimate, adjuster: Adjuster) -> int:
    """Where an adjuster's dimension stands among those of an estimate."""
    return next(i for i, d in enumerate(found.dimensions) if d.path == adjuster.path)
