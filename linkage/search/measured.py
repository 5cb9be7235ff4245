"""What a linkage does by the wish: every figure solved afresh, and whether it is met."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from linkage.answers.forces import forces
from linkage.answers.stacks import stack_up
from linkage.answers.tolerance import lacks, links_fitted
from linkage.motion import Motion, solve
from linkage.parts import Linkage, Wish, dimensions
from linkage.search.figures import REASONS, VERDICTS, figures
from linkage.search.wish import OPENING_WITHIN, RATIO_WITHIN, TRAVEL_WITHIN

_JUST = 1e-6  # a figure this near its wish meets it


@dataclass(frozen=True)
class Goal:
    """One wish: the ``name`` of its figure, how it is to stand to ``target`` (``within`` of it where it is to
    be equal), and its ``unit``."""

    name: str
    sort: Literal["at most", "at least", "equal"]
    target: float
    within: float
    unit: str

    def met(self, value: float) -> bool:
        """Whether a figure is as wished."""
        if self.sort == "at least":
            return value >= self.target - _JUST
        return (abs(value - self.target) if self.sort == "equal" else value - self.target) <= self.within + _JUST


def goals(wish: Wish) -> tuple[Goal, ...]:
    """The wishes, one by one."""
    found = []
    for name in ("mismatch", "stops_together"):
        if (target := getattr(wish, name)) is not None:
            found.append(Goal(name, "at most", target, 0.0, "deg"))
    if wish.progression_ratio is not None:
        target = wish.progression_ratio
        found.append(Goal("progression_ratio", "equal", target, RATIO_WITHIN * target, ""))
    for share, opening in wish.progression or ():
        found.append(Goal(f"opening at {100.0 * share:g} %", "equal", 100.0 * opening, 100.0 * OPENING_WITHIN, "%"))
    if wish.cable_travel is not None:
        found.append(Goal("cable_travel", "equal", wish.cable_travel, TRAVEL_WITHIN, "mm"))
    for name, unit in (("transmission_angle", "deg"), ("closing_torque", "N.mm")):
        if (target := getattr(wish, name)) is not None:
            found.append(Goal(name, "at least", target, 0.0, unit))
    if wish.mismatch_as_made is not None:
        found.append(Goal("mismatch_as_made", "at most", wish.mismatch_as_made, 0.0, "deg"))
    return tuple(found)


def measured(rigs: Sequence[Linkage], wish: Wish) -> list[dict[str, float]]:
    """Figures of linkages that differ in their dimensions only, each solved afresh.

    Parameters
    ----------
    rigs : sequence of Linkage
    wish : Wish
        Figures that only some wishes ask for are worked out for those.

    Returns
    -------
    list of dict
        Those of :func:`linkage.search.figures.figures`, and those of :func:`goals`, in their units [deg, mm,
        N.mm]; ``nan`` where there is none.
    """
    tables = [dimensions(rig) for rig in rigs]
    columns = {key: np.array([table[key] for table in tables]) for key in tables[0]}
    known = figures(rigs[0], columns, len(rigs))
    found = [{name: float(value[i]) for name, value in known.items()} for i in range(len(rigs))]
    for figure, rig in zip(found, rigs, strict=True):
        figure["cable_travel"] = abs(figure["cable_travel"])
        ends = [[figure[f"gap:{name}.{end}"] for name in rig.shaft] for end in ("idle", "wide_open")]
        figure["stops_together"] = max(max(gaps) - min(gaps) for gaps in ends)
        if wish.progression or wish.closing_torque is not None or wish.mismatch_as_made is not None:
            figure.update(_solved(solve(rig, positions=2), wish) if np.isfinite(figure["mismatch"]) else {})
    return found


def _solved(run: Motion, wish: Wish) -> dict[str, float]:
    found: dict[str, float] = {}
    if wish.progression:
        angle = run.at_fraction([0.0, *(share for share, _ in wish.progression), 1.0]).plate_angle
        first = next(iter(angle.values()))
        opened = 100.0 * (first - first[0]) / (first[-1] - first[0])
        for (share, _), value in zip(wish.progression, opened[1:-1], strict=True):
            found[f"opening at {100.0 * share:g} %"] = float(value)
    if wish.closing_torque is not None and (known := forces(run)) is not None:
        found["closing_torque"] = min(at.value for at in known.least_shaft.values())
    if wish.mismatch_as_made is not None and not lacks(run.rig):
        found["mismatch_as_made"] = stack_up(links_fitted(run), links_set=True).largest.rss
    return found


def fails(figure: Mapping[str, float]) -> str:
    """The first check of the verdict's that a linkage fails, in words; empty where none does."""
    if VERDICTS[int(figure["verdict"])] != "fail":
        return ""
    return REASONS[int(figure["reason"]) - 1].replace("_", " ")
