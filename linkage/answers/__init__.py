"""The answers: what a solved motion says, and the verdict over all of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from linkage.answers import clearance as clearances
from linkage.answers import faults as losses
from linkage.answers import flow, verdict
from linkage.answers import followers as following
from linkage.answers import forces as loads
from linkage.answers import heat as heating
from linkage.answers import lost_motion as play
from linkage.answers import rocking as rolling
from linkage.answers import staging as staged
from linkage.answers import tolerance as margins
from linkage.answers import twist as winding
from linkage.answers.cable import CableReport, cable_report
from linkage.answers.checks import CAUTION, Check, Word, worst
from linkage.answers.clearance import ClearanceReport
from linkage.answers.faults import Faults
from linkage.answers.flow import AirFlow
from linkage.answers.followers import Following
from linkage.answers.forces import Forces
from linkage.answers.heat import HeatReport
from linkage.answers.lost_motion import LostMotion
from linkage.answers.mismatch import Mismatch, mismatch
from linkage.answers.pedal import PedalReport, pedal_report
from linkage.answers.progression import Progression, progression
from linkage.answers.rocking import RockingReport
from linkage.answers.staging import Staging
from linkage.answers.stops import Stops, stops
from linkage.answers.tolerance import ToleranceReport
from linkage.answers.twist import TwistReport
from linkage.motion import Motion, solve
from linkage.parts import Linkage

__all__ = ["CAUTION", "Answer", "Check", "Word", "check"]

#: trials of the tolerance study that every check makes; enough to tell 90 % yield from 95
TRIALS = 2000


@dataclass(frozen=True)
class Answer:
    """Everything the tool knows of a design: the motion, its figures, the checks and the verdict.

    What the road does to it (``air`` to ``twist``) is None where the design lacks what the answer
    needs; ``lacks`` then says in a sentence what to add.
    """

    run: Motion
    mismatch: Mismatch
    progression: Progression
    stops: Stops
    cable: CableReport | None
    pedal: PedalReport | None
    air: AirFlow | None
    forces: Forces | None
    faults: Faults | None
    tolerance: ToleranceReport | None
    heat: HeatReport | None
    clearance: ClearanceReport | None
    lost_motion: LostMotion | None
    rocking: RockingReport | None
    twist: TwistReport | None
    followers: Mapping[str, Following] | None
    staging: Staging | None
    lacks: tuple[str, ...]
    checks: tuple[Check, ...]

    @property
    def verdict(self) -> Word:
        """``"pass"``, ``"caution"`` or ``"fail"``: the worst of the checks."""
        return worst(self.checks)


def check(design: Linkage | Motion, *, positions: int = 91, trials: int = TRIALS, seed: int = 1) -> Answer:
    """Answer for a linkage, or for a motion already solved.

    Parameters
    ----------
    design : Linkage or Motion
    positions : int
        Positions of the motion, both ends included; the figures do not depend on it.
    trials, seed : int
        Linkages of the tolerance study built at random, and the seed of the chance.

    Raises
    ------
    AssemblyError
        A link cannot be fitted at all.
    """
    run = design if isinstance(design, Motion) else solve(design, positions=positions)
    apart, ends, cable = mismatch(run), stops(run), cable_report(run)
    found = (
        flow.air_flow(run),
        loads.forces(run),
        losses.faults(run),
        margins.tolerance(run, samples=trials, seed=seed),
        heating.heat(run),
        clearances.clearance(run),
        play.lost_motion(run),
        rolling.rocking(run),
        winding.twist(run),
        following.followers(run),
        staged.staging(run),
    )
    air, forces, faults, tolerance, heat, clearance, lost_motion, rocking, twist, followers, staging = found
    checks = (
        *verdict.motion_checks(run, apart, ends, cable),
        *staged.checks(run, staging),
        *loads.checks(run, forces),
        *losses.checks(run, faults),
        *margins.checks(run, tolerance),
        *heating.checks(run, heat),
        *clearances.checks(run, clearance),
        *play.checks(run, lost_motion),
        *rolling.checks(run, rocking),
        *winding.checks(run, twist),
        *following.checks(run, followers),
        *flow.checks(run, air),
    )
    missing = (m.lacks(run.rig) for m in (flow, loads, losses, margins, heating, clearances, play, rolling, winding))
    return Answer(
        run, apart, progression(run), ends, cable, pedal_report(run), *found,
        lacks=tuple(m for m in missing if m), checks=checks,
    )  # fmt: skip
