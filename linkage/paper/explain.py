"""The arithmetic behind a verdict: the formula and its book, the numbers put in, and the steps.

Every check has one small function here that works its figure out anew, from the printed numbers
alone, so that it can be followed with a calculator; where the program found a place on the travel
(the worst of a curve), the place is given and the steps confirm it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from linkage.answers import Answer, Check
from linkage.errors import PathError
from linkage.paper import explain_cable as cable
from linkage.paper import explain_closure as closures
from linkage.paper import explain_faults as faults
from linkage.paper import explain_flex as flex
from linkage.paper import explain_forces as forces
from linkage.paper import explain_margins as margins
from linkage.paper import explain_motion as motion
from linkage.paper import explain_pedal as pedal
from linkage.paper import explain_snail as snail
from linkage.paper import explain_staging as staging
from linkage.paper.arithmetic import Part, Step, Working, lines
from linkage.paper.lines import in_own_unit
from linkage.paper.report import AT_LEAST
from linkage.paper.sheet import Block, Section, Sheet, Words, facts_of
from linkage.paper.sheet import Working as Lines

Explainer = Callable[[Working, Answer, Check], None]

_CLOSURE, _RATIO = closures.CLOSURE, closures.RATIO

#: every check: what works it out, and the books of its formulas
EXPLAINED: dict[str, tuple[Explainer, tuple[str, ...]]] = {
    "opening_direction": (motion.opening_direction, (_RATIO,)),
    "closing_stop": (motion.closing_stop, ("the closure run backwards, from the stop to the driver", _CLOSURE)),
    "opening_stop": (motion.opening_stop, ("the closure run backwards, from the stop to the driver", _CLOSURE)),
    "travel": (motion.travel, ("the two ends of the travel; explain closing_stop and opening_stop work them out",)),
    "opens_throughout": (motion.opens_throughout, (_RATIO,)),
    "mismatch_at_idle": (motion.mismatch_at_idle, (motion.MISMATCH, _CLOSURE)),
    "mismatch_off_idle": (motion.mismatch_off_idle, (motion.MISMATCH, _CLOSURE)),
    "mismatch": (motion.mismatch, (motion.MISMATCH, _CLOSURE)),
    "mismatch_at_wide_open": (motion.mismatch_at_wide_open, (motion.MISMATCH, _CLOSURE)),
    "transmission_angle": (motion.transmission_angle, (motion.TRANSMISSION, _CLOSURE)),
    "toggle_margin": (motion.toggle_margin, (motion.TOGGLE, _CLOSURE)),
    "tilt": (motion.tilt, ("angle between the link and the plane square to the ball's bolt: a sine",)),
    "wide_open_shortfall": (motion.wide_open_shortfall, (_CLOSURE,)),
    "pull_direction": (cable.pull_direction, (cable.ARM,)),
    "cable_dead_centre": (cable.cable_dead_centre, (cable.ARM,)),
    "cable_angle": (cable.cable_angle, (cable.ARM,)),
    "cable_swing": (cable.cable_swing, (cable.RUN,)),
    "quadrant_groove": (snail.quadrant_groove, (snail.GROOVE, snail.CURVE)),
    "quadrant_wrap": (snail.quadrant_wrap, ("turns of the two stops against those of the profile's outermost points",)),
    "cable_travel": (cable.cable_travel, (cable.RUN, cable.WRAP)),
    "pedal_pull": (pedal.pedal_pull, (cable.RUN,)),
    "pedal_dead_centre": (pedal.pedal_dead_centre, (cable.RUN, cable.WRAP)),
    "pedal_cable_angle": (pedal.pedal_cable_angle, (pedal.CRANK, cable.ARM)),
    "pedal_cable_swing": (pedal.pedal_cable_swing, (cable.RUN,)),
    "pedal_travel": (pedal.pedal_travel, (cable.RUN, cable.WRAP, pedal.CRANK, pedal.PAD)),
    "pedal_stop": (pedal.pedal_stop, (cable.RUN, cable.WRAP, pedal.CRANK, pedal.PAD)),
    "return_force": (forces.return_force, (forces.SPRING, forces.WORK, _RATIO)),
    "return_ratio": (forces.return_ratio, (forces.SPRING, forces.WORK, _RATIO)),
    "pedal_effort": (forces.pedal_effort, (forces.SPRING, forces.WORK, cable.ARM)),
    "link_buckling": (forces.link_buckling, (forces.EULER, forces.SPRING, _RATIO)),
    "spring_over_centre": (forces.spring_over_centre, (cable.ARM,)),
    "spring_slack": (forces.spring_slack, (forces.SPRING,)),
    "spring_fall": (forces.spring_fall, (forces.SPRING,)),
    "closing_sources": (faults.closing_sources, (faults.LAW, forces.WORK)),
    "spring_lost": (faults.lost, (faults.LAW, forces.SPRING, forces.WORK)),
    "link_parted": (faults.lost, (faults.LAW, forces.SPRING, forces.WORK)),
    "coupling_parted": (faults.lost, (faults.LAW, forces.SPRING, forces.WORK)),
    "tolerance_yield": (margins.tolerance_yield, (margins.TRIALS,)),
    "heat_at_idle": (margins.heat_at_idle, (margins.HEAT, _CLOSURE)),
    "heat_in_travel": (margins.heat_in_travel, (margins.HEAT, _CLOSURE)),
    "gap": (margins.gap, (margins.CAPSULES,)),
    "lost_motion": (margins.lost_motion, (margins.PLAY, _RATIO)),
    "rocking_at_idle": (flex.rocking_at_idle, (flex.ROLL, _CLOSURE)),
    "rocking_in_travel": (flex.rocking_in_travel, (flex.ROLL, _CLOSURE)),
    "twist_at_idle": (flex.twist_at_idle, (flex.TORSION, forces.SPRING)),
    "twist_in_travel": (flex.twist_in_travel, (flex.TORSION, forces.SPRING)),
    "twist": (flex.twist, (flex.TORSION, forces.SPRING)),
    "follower_least_stroke": (pedal.follower_stroke, (pedal.STROKE, _CLOSURE)),
    "follower_most_stroke": (pedal.follower_stroke, (pedal.STROKE, _CLOSURE)),
    "follower_start": (pedal.follower_time, (pedal.STROKE, _CLOSURE)),
    "follower_complete": (pedal.follower_time, (pedal.STROKE, _CLOSURE)),
    "follower_turns_back": (pedal.follower_turns_back, (_RATIO,)),
    "staging_pick_up": (staging.pick_up, (staging.TAKEN_UP,)),
    "staging_gain": (staging.gain, (staging.GAIN,)),
    "staging_mismatch": (staging.together, (motion.MISMATCH,)),
    "staging_closing": (staging.closing, (forces.SPRING, forces.WORK)),
    "air_at_idle": (margins.air_at_idle, (margins.AIR,)),
}


@dataclass(frozen=True)
class Explanation:
    """The working of one check: its ``books``, its ``parts`` (sentences, numbers given, steps), and what was
    ``found`` [in the design's own unit]; None where the check has no figure or nothing could be worked."""

    check: Check
    books: tuple[str, ...]
    parts: tuple[Part, ...]
    found: float | None

    @property
    def steps(self) -> tuple[Step, ...]:
        """The steps alone."""
        return tuple(part for part in self.parts if isinstance(part, Step))


def explain(answer: Answer, name: str) -> Explanation:
    """Work out the figure of a check step by step.

    Parameters
    ----------
    answer : Answer
    name : str
        Of a check of that answer; spaces and underscores are the same.

    Returns
    -------
    Explanation
        Lengths and forces in the design's own unit, angles [deg].

    Raises
    ------
    PathError
        The answer has no such check; the nearest are named.

    Examples
    --------
    >>> import linkage
    >>> from linkage.design_file import parse, starter
    >>> found = explain(linkage.answers.check(parse(starter())), "wide_open_shortfall")
    >>> found.steps[-1].symbol
    'n'

    References
    ----------
    Each explanation names its own.
    """
    known = {check.name: check for check in answer.checks}
    wanted = name.strip().replace(" ", "_").replace("-", "_").lower()
    if wanted not in known:
        says = f'"{name}" is no check of this design'
        if wanted in EXPLAINED:
            says += ", which lacks what it needs"
        raise PathError(wanted, known, says)
    check = known[wanted]
    explainer, books = EXPLAINED[wanted]
    if answer.staging is not None and wanted in staging.BY_SIDES:
        explainer = staging.by_sides
    work = Working(answer.run.rig.units)
    explainer(work, answer, check)
    found = work.known.get("n") if check.value is not None else None
    return Explanation(check, books, tuple(work.parts), found)


def sheet(answer: Answer, explanations: list[Explanation], *, date: str = "") -> Sheet:
    """Explanations as a sheet: what was asked, the books, the working."""
    sections = []
    for found in explanations:
        check, units = found.check, answer.run.rig.units
        verdict = Words(f"{check.says}", check.verdict)
        sums = Words(
            "lengths in "
            + ("mm" if units == "mm" else "inches")
            + "; calculator in degrees; ten digits carried, below 1e-9 is nothing."
        )
        books = tuple(Words(f"after: {book}." if not book.endswith(".") else f"after: {book}") for book in found.books)
        blocks: tuple[Block, ...] = (
            verdict,
            *books,
            sums,
            Lines(tuple(lines(list(found.parts)))),
            Words(_held(found, units)),
        )
        sections.append(Section(check.name.replace("_", " "), blocks))
    rig = answer.run.rig
    return Sheet("Arithmetic", rig.title, facts_of(rig, date), tuple(sections), date=date)


def _held(found: Explanation, units: str) -> str:
    """The figure against its limit, as the check prints them."""
    check = found.check
    if check.value is None:
        return f"verdict: {check.verdict}."
    fine = check.limit is not None and check.limit < 1.0
    value, unit = in_own_unit(check.value, check.unit, units, fine=fine)
    says = f"the check says {value} {unit}".rstrip()
    if check.limit is not None:
        limit, _ = in_own_unit(check.limit, check.unit, units, fine=fine)
        says += f"; it must be {'at least' if check.name in AT_LEAST else 'at most'} {limit}"
    return f"{says}: {check.verdict}."
