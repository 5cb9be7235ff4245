"""What to turn, by how much and which way, to bring a built linkage inside its mismatch limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage.answers.mismatch import Mismatch, mismatch
from linkage.answers.trials import built
from linkage.motion import Motion, solve
from linkage.parts import Linkage, dimensions
from linkage.search.adjusters import Adjuster, adjusters
from linkage.search.coarseness import Coarse, coarseness
from linkage.search.estimate import Estimate
from linkage.search.plans import Plan, Shop, column
from linkage.search.stop_screws import ScrewTurn, stop_screws

Floats = NDArray[np.float64]

#: odds at which one may stop
SURE = 0.95


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


def advise(found: Estimate, *, adjust: Sequence[str] | None = None, flat_parts: int = 1, seed: int = 1) -> Advice:
    """Say what to turn; see :func:`linkage.search.tune.tune`."""
    run = found.expected.run
    able = adjusters(run.rig, adjust=adjust, flat_parts=flat_parts, set_within=found.expected.noise.plate)
    shop = Shop(found, able)
    now, plan = shop.plan(np.random.default_rng(seed))
    stop, why = _stop(found, now, plan)
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
        error[column(found, a)] += by
    drawn, rig = dimensions(run.rig), run.rig
    there = built(run, found.dimensions, [float(e) for e in error])
    return rig.replace_all({path: float(value) for path, value in there.items() if drawn.get(path) != float(value)})


def _stop(found: Estimate, now: Plan, plan: Plan) -> tuple[bool, str]:
    """Whether to turn nothing, and why."""
    if not found.fits:
        return True, "the readings do not fit this linkage, whatever its dimensions"
    if now.inside:
        return True, "every limit is kept as it stands"
    if now.unclear:
        return True, "what is over the limits is smaller than these readings can tell; take more of them, or finer ones"
    if not np.any(plan.amounts):
        return True, "no adjuster that there is makes it better by a whole step"
    return False, ""
