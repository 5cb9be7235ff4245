"""What was asked against what was reached: every check in words that a customer knows."""

from __future__ import annotations

from dataclasses import dataclass

from linkage.answers import Answer, Check, Word
from linkage.paper.numerals import Numerals
from linkage.paper.report import AT_LEAST

#: every check by what it looks at
WORDS = {
    "opening_direction": "Shafts turning the wrong way",
    "closing_stop": "Closing ends at a stop",
    "opening_stop": "Opening ends at a stop",
    "travel": "Travel between the stops",
    "opens_throughout": "Opening never turns back",
    "mismatch_at_idle": "Plates apart, at idle",
    "mismatch_off_idle": "Plates apart, first 10°",
    "mismatch": "Plates apart, mid travel",
    "mismatch_at_wide_open": "Plates apart, last 10°",
    "transmission_angle": "Least angle of link to arm",
    "toggle_margin": "Turn left to a dead point",
    "tilt": "Rod-end tilt",
    "wide_open_shortfall": "Short of wide open",
    "pull_direction": "The pull opens the throttles",
    "cable_dead_centre": "Cable keeps its lever arm",
    "quadrant_groove": "Quadrant's groove can be cut",
    "quadrant_wrap": "Cable stays on the quadrant",
    "cable_angle": "Least angle of cable to arm",
    "cable_swing": "Cable swing at its casing",
    "cable_travel": "Cable travel, with free play",
    "pedal_pull": "The foot pulls the cable",
    "pedal_dead_centre": "Pedal keeps its lever arm",
    "pedal_cable_angle": "Least angle, cable at pedal",
    "pedal_cable_swing": "Cable swing at the pedal",
    "pedal_travel": "Pedal travel at the pad",
    "pedal_stop": "Pedal stop takes the foot",
    "follower_least_stroke": "Stroke of what moves along",
    "follower_most_stroke": "Its largest stroke",
    "follower_start": "A tenth of its stroke done at",
    "follower_complete": "Nine tenths of it done at",
    "follower_turns_back": "Turning back on its way",
    "return_force": "Closing torque left over",
    "return_ratio": "Closing torque over friction",
    "pedal_effort": "Force at the pedal",
    "link_buckling": "Safety against buckling",
    "spring_over_centre": "Lever arm of a spring",
    "spring_slack": "Springs never slack",
    "spring_fall": "Spring torque falls by",
    "closing_sources": "Springs closing each shaft",
    "spring_lost": "Torque with a spring lost",
    "link_parted": "Torque with a link parted",
    "coupling_parted": "Torque, a coupling parted",
    "tolerance_at_idle": "Apart at idle, links unset",
    "tolerance_yield": "Within limits, of those built",
    "heat_at_idle": "Apart at idle, hot",
    "heat_in_travel": "Apart in the travel, hot",
    "gap": "Gap between moving parts",
    "lost_motion": "A plate rocks by play",
    "air_at_idle": "Idle air, barrels apart",
    "staging_pick_up": "Later throttles come in",
    "staging_gain": "How fast they come in",
    "staging_mismatch": "Later plates apart",
    "staging_closing": "Later throttles held shut",
    "rocking_at_idle": "Opened at idle by the roll",
    "rocking_in_travel": "Moved by the engine's roll",
    "twist_at_idle": "Apart by twist, at idle",
    "twist_in_travel": "Apart by twist, in the travel",
    "twist": "A plate twisted off its arm",
}

#: checks without a number, whose place is the answer
_BY_PLACE = {"closing_stop": "a stop", "opening_stop": "a stop"}


@dataclass(frozen=True)
class Asked:
    """One line: the check's ``verdict``, ``what`` it looks at, what was ``asked`` and ``reached``, ``where``;
    a ``note`` where the figure alone does not explain the verdict."""

    verdict: Word
    what: str
    asked: str
    reached: str
    where: str
    note: str


def asked_and_reached(answer: Answer, numerals: Numerals) -> tuple[Asked, ...]:
    """Every check of an answer, in its order.

    Parameters
    ----------
    answer : Answer
    numerals : Numerals
        Writes [mm], [deg], [N] in the design's own units.

    Returns
    -------
    tuple of Asked
    """
    return tuple(_row(check, numerals) for check in answer.checks)


def _row(check: Check, numerals: Numerals) -> Asked:
    what = WORDS.get(check.name, check.name.replace("_", " ").capitalize())
    fine = check.limit is not None and check.limit < 1.0
    if check.name in _BY_PLACE:
        asked, reached, where = _BY_PLACE[check.name], check.where or "a dead point", ""
        reached = reached if check.verdict == "pass" else f"dead point, {reached}"
        return Asked(check.verdict, what, asked, reached, where, "")
    sign = ("≥" if check.limit else ">") if check.name in AT_LEAST else ("≤" if check.limit else "")
    asked = "yes" if check.limit is None else f"{sign} {numerals.of_check(check.limit, check.unit, fine=fine)}".strip()
    reached = ("yes" if check.verdict == "pass" else "no") if check.limit is None else "none"
    if check.value is not None and check.limit is not None:
        reached = numerals.of_check(check.value, check.unit, fine=fine)
    return Asked(check.verdict, what, asked, reached, check.where, _note(check))


def _note(check: Check) -> str:
    """The check's own sentence where it passes beyond its limit."""
    if check.verdict != "pass" or check.value is None or check.limit is None:
        return ""
    beyond = check.limit - check.value if check.name in AT_LEAST else check.value - check.limit
    return check.says[:1].upper() + check.says[1:] if beyond > 1e-9 * max(1.0, abs(check.limit)) else ""
