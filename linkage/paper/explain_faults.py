"""The workings of what happens when a part is lost: each shaft's closing with what is left."""

from __future__ import annotations

import math
import re

import numpy as np

from linkage.answers import Answer, Check, springs
from linkage.answers.parting import beyond, part_of
from linkage.errors import AssemblyError
from linkage.motion import solve
from linkage.paper.arithmetic import Working, number
from linkage.paper.explain_forces import at_driver, at_shaft, place
from linkage.quantities import own_scale, own_unit
from linkage.train import order

LAW = (
    "49 CFR 571.124 S5.1 and S5.2: two sources of closing energy, and closing when one connection parts; good practice "
    "here, known from published interpretations, the text not verified"
)


def closing_sources(work: Working, answer: Answer, check: Check) -> None:
    """The springs that close every shaft while all is whole."""
    assert answer.faults is not None
    run = answer.run
    fine = springs.throughout(run)
    counted = []
    for name in run.rig.spring:
        pull = springs.closing_at_driver(fine, springs.spring_torque(fine, [name]))
        is_source = bool(np.min(pull) >= 0.0 and np.max(pull) > 0.0)
        counted.append("1" if is_source else "0")
        low, high = (float(v) / own_scale(work.units, "torque") for v in (np.min(pull), np.max(pull)))
        work.say(
            f'Spring "{name}" by itself closes "{run.rig.driver}" with {number(low)} to {number(high)} '
            f"{own_unit(work.units, 'torque')} over the travel: {'a source' if is_source else 'no source'}."
        )
    work.step("n", " + ".join(counted) or "0", "springs", "sources of closing energy")


def lost(work: Working, answer: Answer, check: Check) -> None:
    """A spring lost, or a link or coupling parted: what closes the worst shaft."""
    told = re.fullmatch(r'(spring|link|coupling) "(.*)", shaft "(.*)"', check.where)
    assert told is not None
    kind, name, shaft = told.groups()
    run = answer.run
    senses = springs.opening_senses(run.train)
    if kind == "spring":
        part, kept = run, set(run.rig.spring) - {name}
        work.say(f'Without spring "{name}"; every other spring stays.')
    else:
        step = next(s for s in order(run.rig) if s.by.name == name and f"{kind}." in _table(s.by))
        far = beyond(run.rig, step.driven)
        here = far if shaft in far else set(run.rig.members) - far
        rig = part_of(run.rig, here, step.driven if shaft in far else run.rig.driver)
        work.say(
            f'With {kind} "{name}" parted, shaft "{shaft}" moves with {", ".join(sorted(here))} only; '
            f'that part is turned by "{rig.driver}", between its own stops.'
        )
        try:
            part = solve(rig, positions=2)
        except AssemblyError as error:
            work.say(f"It cannot be worked: {error}.")
            return
        kept = set(rig.spring)
    fine = springs.throughout(part)
    pull = springs.closing_at_driver(fine, springs.spring_torque(fine, kept, senses))
    least = springs.least(fine, springs.closing_at_shaft(fine, shaft, pull, springs.friction_at_driver(fine)))
    if not math.isfinite(least.value):
        work.say("The shaft stands still while the part moves: there is no torque to tell.")
        return
    at = part.at(least.turn)
    place(work, at, f'the least torque of shaft "{shaft}"')
    at_driver(work, at, kept, senses, friction=True)
    at_shaft(work, at, shaft)


def _table(by: object) -> str:
    return f"{type(by).__name__.lower()}."
