"""The answers: what a solved motion says, and the verdict over all of it."""

from __future__ import annotations

from dataclasses import dataclass

from linkage.answers.cable import CableReport, cable_report
from linkage.answers.checks import CAUTION, Check, Word, worst
from linkage.answers.mismatch import Mismatch, mismatch
from linkage.answers.progression import Progression, progression
from linkage.answers.stops import Stops, stops
from linkage.answers.verdict import motion_checks
from linkage.motion import Motion, solve
from linkage.parts import Linkage

__all__ = ["CAUTION", "Answer", "Check", "Word", "check"]


@dataclass(frozen=True)
class Answer:
    """Everything the tool knows of a design: the motion, its figures, the checks and the verdict."""

    run: Motion
    mismatch: Mismatch
    progression: Progression
    stops: Stops
    cable: CableReport | None
    checks: tuple[Check, ...]

    @property
    def verdict(self) -> Word:
        """``"pass"``, ``"caution"`` or ``"fail"``: the worst of the checks."""
        return worst(self.checks)


def check(design: Linkage | Motion, *, positions: int = 91) -> Answer:
    """Answer for a linkage, or for a motion already solved.

    Parameters
    ----------
    design : Linkage or Motion
    positions : int
        Positions of the motion, both ends included; the figures do not depend on it.

    Raises
    ------
    AssemblyError
        A link cannot be fitted at all.
    """
    run = design if isinstance(design, Motion) else solve(design, positions=positions)
    apart, ends, cable = mismatch(run), stops(run), cable_report(run)
    checks = motion_checks(run, apart, ends, cable)
    return Answer(run, apart, progression(run), ends, cable, checks)
