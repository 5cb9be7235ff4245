"""What to turn, by how much and which way, to bring a built linkage inside its mismatch limits.

The adjusters are the links (whole flats of the tube, or half turns where an end must come off), the
levers clamped on the throttle shafts and the couplings' sync screws. Plans grow one adjuster at a time; the
amounts are least squares of the mismatch in shares of its limits, so idle weighs most, and of what the
driver's ends of travel move off the drawing; then rounded to what the adjuster can do, every rounding
near by tried. Every candidate is assembled and walked as it would
stand, between its own stops; nothing is linearised.

The odds of ending inside the limits count what the readings left uncertain and how exactly a lever can
be clamped: the linkage is built :data:`TRIALS` times by chance and adjusted each time. The fewest moves win
whose odds come within :data:`WORTH` of the best; where no plan has any hope, the fewest whose mismatch comes
within a tenth of the best.
"""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from linkage.answers.mismatch import REGION, Mismatch, mismatch
from linkage.answers.trials import built
from linkage.closure import Numbers
from linkage.errors import DesignError, Fault, did_you_mean
from linkage.motion import Motion, assemble, solve, stop_ends, walk
from linkage.motion.assembly import turn_near
from linkage.parts import SIGN, Linkage, dimensions
from linkage.search.coarseness import Coarse, coarseness
from linkage.search.estimate import COVERAGE, Estimate
from linkage.search.stop_screws import ScrewTurn, stop_screws
from linkage.threads import length_per_turn

Floats = NDArray[np.float64]

FLATS = 6  # to a turn of a hexagon
#: what a lever or a sync screw is set to by eye and protractor [deg]; common practice, no source
CLAMPED_TO = 0.1
#: odds at which one may stop, and trials by which they are worked out
SURE, TRIALS = 0.95, 2000
#: odds that a move more must be worth; below these odds of any plan the mismatch itself decides
WORTH, HOPELESS = 0.05, 0.1

#: the driver's ends of travel moved by so much [deg] weigh as much as a mismatch at its limit
DRIFT = 10.0

_NEAR = 0.1  # a plan with fewer moves may be so much worse
_MOST_TRIED = 1200  # roundings of one plan
_POSITIONS = 25


@dataclass(frozen=True, slots=True)
class Adjuster:
    """Something to turn: the dimension at ``path``, by multiples of ``step`` [mm, deg] (0: by any amount), which
    is ``turn`` of the thread; set to within ``set_within`` [deg, one standard deviation]."""

    path: str
    kind: Literal["link", "lever", "coupling"]
    name: str
    step: float
    set_within: float = 0.0
    turn: float = 0.0


@dataclass(frozen=True, slots=True)
class Move:
    """One adjustment: ``by`` [mm, deg] from where it stands, ``steps`` of the adjuster (None: it has none)."""

    adjuster: Adjuster
    by: float
    steps: int | None


@dataclass(frozen=True, eq=False)
class Advice:
    """What to do, and what to expect of it.

    ``moves`` in the order of the work; ``screws`` what the stop screws want. ``before`` and ``after`` are
    the mismatch [deg] of the linkage as estimated, solved afresh, with every idle stop set as drawn;
    ``before_within`` and ``after_within`` the uncertainty (two standard deviations) at idle and where it is
    largest; the ``odds`` are of all limits being kept. ``coarse`` says what one step of every adjuster
    does. ``stop`` says that nothing is worth turning, and ``why``.
    """

    moves: tuple[Move, ...]
    screws: tuple[ScrewTurn, ...]
    before: Mismatch
    after: Mismatch
    before_within: tuple[float, float]
    after_within: tuple[float, float]
    odds_before: float
    odds_after: float
    coarse: tuple[Coarse, ...]
    stop: bool
    why: str
    found: Motion
    adjusted: Motion

    @property
    def steps(self) -> tuple[str, ...]:
        """The adjustments as plain figures: path, amount [mm, deg] and steps."""
        return tuple(
            f"{m.adjuster.path} {m.by:+.3f}" + (f" ({m.steps:+d} steps)" if m.steps is not None else "")
            for m in self.moves
        )


def adjusters(
    rig: Linkage, *, adjust: Sequence[str] | None = None, flat_parts: int = 1, set_within: float = 0.2
) -> tuple[Adjuster, ...]:
    """What can be adjusted on a linkage.

    Parameters
    ----------
    rig : Linkage
    adjust : sequence of str, optional
        Dotted paths; by default all there are.
    flat_parts : int
        Parts of a flat to which a tube is counted.
    set_within : float
        How exactly a lever is clamped or a sync screw set [deg].

    Raises
    ------
    DesignError
        A path is none of an adjuster.
    """
    if isinstance(flat_parts, bool) or int(flat_parts) != flat_parts or not 1 <= flat_parts <= 60:
        raise DesignError([Fault("flat_parts", f"must be a whole number from 1 to 60, got {flat_parts!r}")])
    held = {pin for link in rig.link.values() for pin in link.joins}
    found = []
    for name, link in rig.link.items():
        turn = 0.0 if link.pitch is None else length_per_turn(link.pitch, link.hands)
        parts = FLATS * flat_parts if link.hands == "left+right" else 2
        found.append(Adjuster(f"link.{name}.length", "link", name, turn / parts, turn=1.0 / parts))
    for name, shaft in rig.shaft.items():
        found += [
            Adjuster(f"shaft.{name}.arm.{arm}.angle", "lever", f"{name}.{arm}", CLAMPED_TO, set_within)
            for arm in shaft.arm
            if f"{name}.{arm}" in held
        ]
    found += [
        Adjuster(f"coupling.{name}.offset", "coupling", name, CLAMPED_TO, set_within) for name in rig.coupling
    ]
    if adjust is None:
        return tuple(found)
    known = {a.path: a for a in found}
    faults = [
        Fault("adjust", f'"{path}" is not adjusted on the bench{did_you_mean(path, known)}', f"there are {', '.join(known)}")
        for path in adjust
        if path not in known
    ]
    if faults:
        raise DesignError(faults)
    return tuple(a for a in found if a.path in adjust)


def advise(
    found: Estimate, *, adjust: Sequence[str] | None = None, flat_parts: int = 1, seed: int = 1
) -> Advice:
    """Say what to turn; see :func:`linkage.search.tune.tune`."""
    run = found.expected.run
    able = adjusters(run.rig, adjust=adjust, flat_parts=flat_parts, set_within=found.expected.noise.plate)
    shop = _Shop(found, able)
    now, plan = shop.plan(np.random.default_rng(seed))
    stop, why = _stop(now, plan, run.rig.limits.mismatch_at_idle)
    if stop:
        plan = now
    as_found = solve(as_built(run, found, now.amounts, able))
    adjusted = as_found if stop else solve(as_built(run, found, plan.amounts, able))
    moves = tuple(
        Move(a, float(by), round(by / a.step) if a.step else None)
        for a, by in zip(able, plan.amounts, strict=True)
        if by != 0.0
    )
    order = {"lever": 0, "coupling": 1, "link": 2}
    return Advice(
        moves=tuple(sorted(moves, key=lambda m: order[m.adjuster.kind])),
        screws=stop_screws(found, adjusted),
        before=mismatch(as_found),
        after=mismatch(adjusted),
        before_within=now.within,
        after_within=plan.within,
        odds_before=now.odds,
        odds_after=plan.odds,
        coarse=coarseness(as_found, [(a.path, a.kind, a.name, a.step) for a in able]),
        stop=stop,
        why=why,
        found=as_found,
        adjusted=adjusted,
    )


def as_built(run: Motion, found: Estimate, amounts: Floats, able: Sequence[Adjuster]) -> Linkage:
    """The design with every dimension as estimated, and adjusted by ``amounts`` [mm, deg]."""
    error = found.error.copy()
    for a, by in zip(able, amounts, strict=True):
        error[_column(found, a)] += by
    drawn, rig = dimensions(run.rig), run.rig
    for path, value in built(run, found.dimensions, [float(e) for e in error]).items():
        if drawn.get(path) != float(value):
            rig = rig.replace(path, float(value))
    return rig


def _column(found: Estimate, adjuster: Adjuster) -> int:
    return next(i for i, d in enumerate(found.dimensions) if d.path == adjuster.path)


def _stop(now: _Plan, plan: _Plan, limit: float) -> tuple[bool, str]:
    """Whether to turn nothing, and why."""
    if now.odds >= SURE:
        return True, f"every limit is kept as it stands, with odds of {100.0 * now.odds:.0f} in 100"
    if not np.any(plan.amounts):
        return True, "no adjuster that there is makes it better by a whole step"
    if plan.odds - now.odds < WORTH and now.score - plan.score < now.within[0] / limit:
        return True, "what is left is smaller than these readings can tell"
    return False, ""


@dataclass(frozen=True, eq=False)
class _Plan:
    amounts: Floats
    score: float
    odds: float
    within: tuple[float, float]


class _Shop:
    """The estimated linkage with all that can be turned on it: candidates are tried here, many at once."""

    def __init__(self, found: Estimate, able: Sequence[Adjuster]) -> None:
        self.found, self.able, self.run = found, tuple(able), found.expected.run
        self.columns = [_column(found, a) for a in able]
        self.step = np.array([a.step for a in able])
        self.share = np.linspace(0.0, 1.0, _POSITIONS)
        values, vectors = np.linalg.eigh(found.covariance)
        self.root = vectors * np.sqrt(np.maximum(values, 0.0))
        # what a degree of a lever set wrong does to the plates; of the linkage as found
        self.set_within = np.array([a.set_within for a in able])
        self.shaken = np.zeros((len(able), _POSITIONS, len(self.run.rig.shaft)))
        self.nominal = np.array(self.run.ends)
        base = self.plates(np.zeros((1, len(able))))[0][0]
        for j in np.flatnonzero(self.set_within):
            there = np.zeros((1, len(able)))
            there[0, j] = 0.01
            self.shaken[j] = (self.plates(there)[0][0] - base) / 0.01 * self.set_within[j]

    def plates(self, amounts: Floats, errors: Floats | None = None) -> tuple[Floats, Floats, Floats]:
        """Plate angles (n, positions, shafts) [deg] of the linkage adjusted by ``amounts`` (n, able), between its own
        stops; the mismatch limit at every position (n, positions); how far the driver's ends are off the drawing (n, 2)."""
        n = len(amounts)
        wrong = np.tile(self.found.error, (n, 1)) if errors is None else errors.copy()
        for j, column in enumerate(self.columns):
            wrong[:, column] += amounts[:, j]
        listed: list[Numbers] = list(np.ascontiguousarray(wrong.T)[:, :, None])
        train = assemble(self.run.rig, built(self.run, self.found.dimensions, listed))
        low, high = (np.broadcast_to(v, (n, 1)) for v in stop_ends(train))
        turn = low + self.share * (high - low)
        pose = walk(train, (np.cos(turn), np.sin(turn)))
        found = []
        for name, shaft in self.run.rig.shaft.items():
            sign, at = SIGN[shaft.opens], shaft.plate_angle
            middle = sign * np.radians(0.5 * (at.wide_open - at.idle))
            c, s = (np.broadcast_to(p, turn.shape) for p in pose[name])
            found.append(at.idle + sign * np.degrees(turn_near((c, s), middle)))
        drift = np.degrees(np.concatenate([low, high], axis=1)) - self.nominal
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
        for _ in range(4):
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
            amounts[:, free] -= np.clip(move, -3.0, 3.0)
        return amounts

    def _shares(self, amounts: Floats) -> Floats:
        """How far every plate is from their mean, in shares of the limit, and the ends of travel from the drawing."""
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
            tried[:, j] = np.round(tried[:, j] / (self.step[j] or 0.01)) * (self.step[j] or 0.01)
        score = self.scores(tried)
        best = int(np.argmin(np.round(score, 6)))
        return tried[best], float(score[best])

    def plan(self, random: np.random.Generator) -> tuple[_Plan, _Plan]:
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
        judged = [self._judged(amounts, score, luck) for score, amounts in plans]
        best = max(plan.odds for plan in judged)
        if best > HOPELESS:
            return judged[0], next(plan for plan in judged if plan.odds >= best - WORTH)
        least = min(plan.score for plan in judged)
        return judged[0], next(plan for plan in judged if plan.score <= (1.0 + _NEAR) * least)

    def _judged(self, amounts: Floats, score: float, luck: Floats) -> _Plan:
        """Odds that every limit is kept, and the uncertainty of the mismatch at idle and where it is largest."""
        k = self.found.error.size
        errors = self.found.error + luck[:, :k] @ self.root.T
        set_to = amounts + (amounts != 0.0) * self.set_within * luck[:, k:]
        plates, limit, _ = self.plates(set_to, errors)
        with np.errstate(invalid="ignore"):
            kept = np.all(np.ptp(plates, axis=-1) <= limit, axis=1)
        mean = self.plates(amounts[None])[0][0]
        worst = int(np.nanargmax(np.ptp(mean, axis=-1)))
        within = []
        for at in (0, worst):
            high, low = int(np.argmax(mean[at])), int(np.argmin(mean[at]))
            if high == low:
                high, low = 0, 1
            within.append(COVERAGE * float(np.nanstd(plates[:, at, high] - plates[:, at, low])))
        return _Plan(amounts, score, float(np.mean(kept)), (within[0], within[1]))
