"""Faults: each spring lost, each link and each coupling parted in turn. Does every throttle still shut?

A train whose link parts falls in two, and each part moves by itself: the one with the driver, and
the one beyond the link. Each is assembled and solved anew between its own stops, with the springs
and the friction that are left on it. A shaft *closes* when, from every position of its part, the
springs overcome the friction. A part without any spring does not close. What a slotted link or a tang
drives must close by springs of its own side (:mod:`linkage.answers.one_way`); where those do not suffice
a slotted link pushes it shut with the other end of its slot, late by the slot, if the springs of its
driver's side can; a tang never does.

One spring counts as one source of closing energy, however many coils or strands it has.

References
----------
49 CFR 571.124 (accelerator control systems), S5.1 and S5.2: at least two sources of energy that can
each return the throttle, and return when any one connection parts. Written for new vehicles, taken
here as good practice; known from published interpretations only, the text itself not verified.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage.answers import one_way, springs
from linkage.answers.checks import Check, Word, worst
from linkage.answers.parting import beyond, part_of
from linkage.errors import AssemblyError
from linkage.motion import Motion, solve
from linkage.parts import Link, Linkage
from linkage.train import order

Floats = NDArray[np.float64]

#: springs over friction with one part lost; common practice, no source
LOST_RATIO = 1.3
#: sources of closing energy for every shaft: 49 CFR 571.124 S5.1 (as read in interpretations)
SOURCES = 2


@dataclass(frozen=True)
class Closing:
    """How one shaft closes in a fault.

    ``closes`` whether it comes back to its closing stop from every position; ``least_torque``
    [N.mm] its closing torque less friction at the least (``nan``: cannot be told), at
    ``plate_angle`` [deg]; ``ratio`` springs over friction at its least (None without
    friction); ``springs`` those still connected to it.
    """

    closes: bool
    least_torque: float
    plate_angle: float
    ratio: float | None
    springs: tuple[str, ...]


@dataclass(frozen=True)
class FaultCase:
    """One fault: what is ``lost`` ("spring.NAME", "link.NAME", "coupling.NAME", "cable"; "nothing" is
    the whole train with the foot off), its ``verdict`` and how each shaft closes."""

    lost: str
    verdict: Word
    shafts: Mapping[str, Closing]


@dataclass(frozen=True)
class Faults:
    """Every fault in turn, and for each shaft its ``sources``: the springs that close it while all is whole.

    A spring that holds the throttles open anywhere is no source. ``alone`` names those springs that,
    each by itself, close every shaft against the friction.
    """

    cases: tuple[FaultCase, ...]
    sources: Mapping[str, tuple[str, ...]]
    alone: tuple[str, ...]


def lacks(rig: Linkage) -> str:
    """What the design must say before faults can be told, in one sentence; empty where nothing lacks."""
    if rig.spring:
        return ""
    return "Faults are not judged: the design names no return spring; add a [spring.NAME] table for each one fitted."


def faults(run: Motion) -> Faults | None:
    """Take every spring, link and coupling away in turn; None where :func:`lacks` says why.

    Parameters
    ----------
    run : Motion

    Returns
    -------
    Faults or None
        Torques [N.mm], plate angles [deg].

    References
    ----------
    49 CFR 571.124, S5.1 and S5.2 (see the module).
    """
    rig = run.rig
    if lacks(rig):
        return None
    senses = springs.opening_senses(run.train)
    whole = _through(run, senses)
    everything = set(rig.spring)
    normal = _closing(whole, everything)
    found = [FaultCase("nothing", _word(normal, springs.RETURN_RATIO), normal)]
    if rig.cable is not None:
        found.append(FaultCase("cable", _word(normal, springs.RETURN_RATIO), normal))
    for name in rig.spring:
        left = _closing(whole, everything - {name})
        found.append(FaultCase(f"spring.{name}", _word(left), left))
    for step in order(rig):
        kind = "link" if isinstance(step.by, Link) else "coupling"
        far = beyond(rig, step.driven)
        shafts = _part_closing(rig, senses, set(rig.members) - far, rig.driver)
        shafts |= _part_closing(rig, senses, far, step.driven)
        found.append(FaultCase(f"{kind}.{step.by.name}", _word(shafts), {name: shafts[name] for name in rig.shaft}))
    alone = [name for name in rig.spring if all(shaft.closes for shaft in _closing(whole, {name}).values())]
    return Faults(tuple(found), _all_sources(whole), tuple(alone))


def _all_sources(whole: _Part) -> dict[str, tuple[str, ...]]:
    """Every shaft's springs that close it: of its own side, and of those that push it by the end of a slot."""
    rig, root = whole.fine.rig, one_way.roots(whole.fine.rig)
    closing = {
        name: root[springs.member_of(rig.spring[name])]
        for name, pull in whole.each.items()
        if np.min(pull) >= 0.0 and np.max(pull) > 0.0
    }
    return {
        shaft: tuple(name for name, side in closing.items() if side in one_way.behind(rig, root[shaft]))
        for shaft in rig.shaft
    }


def _word(shafts: Mapping[str, Closing], wanted: float = LOST_RATIO) -> Word:
    if not all(shaft.closes for shaft in shafts.values()):
        return "fail"
    low = any(shaft.ratio is not None and shaft.ratio < wanted for shaft in shafts.values())
    return "caution" if low else "pass"


def _part_closing(rig: Linkage, senses: Mapping[str, float], members: set[str], driver: str) -> dict[str, Closing]:
    """How the shafts of one part of a broken train close; empty where it has none."""
    part = part_of(rig, members, driver)
    if not part.shaft:
        return {}
    try:
        run = solve(part, positions=2)
    except AssemblyError:  # drawn positions that its own links cannot take up
        return {name: Closing(False, np.nan, np.nan, None, tuple(part.spring)) for name in part.shaft}
    return _closing(_through(run, senses), set(part.spring))


@dataclass(frozen=True, eq=False)
class _Part:
    """A part of the train through its own travel: about its driver, the ``friction`` and what ``each``
    spring closes with [N.mm]; of a staged one about the root of the spring's side. ``senses`` as the springs
    were wound; ``taut`` is the part without its slots, where it has any."""

    fine: Motion
    friction: Floats
    each: Mapping[str, Floats]
    senses: Mapping[str, float]
    taut: Motion | None


def _through(run: Motion, senses: Mapping[str, float]) -> _Part:
    fine, root, each = springs.throughout(run), one_way.roots(run.rig), {}
    for name, spring in fine.rig.spring.items():
        torque = springs.spring_torque(fine, [name], senses)
        each[name] = one_way.about_roots(fine, torque, 0)[root[springs.member_of(spring)]]
    slots = {name: dataclasses.replace(link, slot=None) for name, link in run.rig.link.items()}
    taut = None
    if any(link.slot is not None for link in run.rig.link.values()):
        taut = springs.throughout(solve(dataclasses.replace(run.rig, link=slots), positions=2))
    return _Part(fine, springs.friction_at_driver(fine), each, senses, taut)


def _closing(part: _Part, kept: set[str]) -> dict[str, Closing]:
    """How every shaft of a part closes with the springs kept."""
    if one_way.is_staged(part.fine.rig):
        return _closing_sides(part, kept)
    fine, names = part.fine, tuple(name for name in part.each if name in kept)
    pull: Floats = np.asarray(sum((part.each[name] for name in names), np.zeros_like(fine.turn)))
    rubs = part.friction > 0.0
    with np.errstate(invalid="ignore"):  # on a dead point, where it can lock, neither has a bound: not back
        back = bool(np.min(pull - part.friction) > springs.NOTHING)
        ratio = float(np.min(pull[rubs] / part.friction[rubs])) if np.any(rubs) else None
    found = {}
    for name, sense in fine.train.shaft_opens.items():
        least = springs.least(fine, springs.closing_at_shaft(fine, name, pull, part.friction))
        at = fine.turn == least.turn
        angle = float(fine.plate_angle[name][at][0]) if np.any(at) else np.nan
        # a shaft that opens while the others shut does not close with them
        closes = back and bool(sense == fine.train.opens)
        found[name] = Closing(closes, least.value, angle, ratio, names)
    return found


def _closing_sides(part: _Part, kept: set[str]) -> dict[str, Closing]:
    """:func:`_closing` where slack parts the train in sides that close each by its own springs."""
    fine, root = part.fine, one_way.roots(part.fine.rig)
    torque = springs.spring_torque(fine, kept, part.senses)
    by_itself = {side: _least(net) > springs.NOTHING for side, net in one_way.about_roots(fine, torque, -1).items()}
    pushed: dict[str, Floats] = {}
    if part.taut is not None:
        pushed = one_way.pushing(part.taut, springs.spring_torque(part.taut, kept, part.senses), root)
    found = {}
    for name in fine.rig.shaft:
        side = root[name]
        sources = one_way.behind(fine.rig, side)
        names = tuple(s for s in part.each if s in kept and root[springs.member_of(fine.rig.spring[s])] in sources)
        closes = _comes_back(fine.rig, side, by_itself, pushed)
        pull, friction = one_way.at_shaft(fine, name, torque)
        run, net = fine, np.asarray(pull - friction)
        ratio = _ratio(pull, friction)
        if closes and not by_itself[side] and part.taut is not None:  # by the other end of the slot
            run, by = part.taut, one_way.pusher(fine.rig, side, by_itself)
            net = pushed[by] / np.abs(one_way.shaft_speed(run, name, dict.fromkeys(root, by)))
            ratio = None
        least = springs.least(run, net)
        at = run.turn == least.turn
        angle = float(run.plate_angle[name][at][0]) if np.any(at) else np.nan
        sense = bool(fine.train.shaft_opens[name] == fine.train.opens)
        found[name] = Closing(closes and sense, least.value, angle, ratio, names)
    return found


def _comes_back(rig: Linkage, side: str, by_itself: Mapping[str, bool], pushed: Mapping[str, Floats]) -> bool:
    """Whether a side closes: by itself, or pushed by the side that drives it through a slot."""
    hangs = [other for other, behind in one_way.slotted(rig).items() if behind == side and not by_itself[other]]
    able = by_itself[side] and (not hangs or _least(pushed[side]) > springs.NOTHING)
    if able:
        return True
    driving = one_way.slotted(rig).get(side)
    # a side that hangs loads what pushes it; a side that closes by itself but not what it should push does not
    return not by_itself[side] and driving is not None and _comes_back(rig, driving, by_itself, pushed)


def _least(net: Floats) -> float:
    return -np.inf if np.any(np.isnan(net)) else float(np.min(net))


def _ratio(pull: Floats, friction: Floats) -> float | None:
    rubs = friction > 0.0
    return float(np.min(pull[rubs] / friction[rubs])) if np.any(rubs) else None


def checks(run: Motion, report: Faults | None) -> tuple[Check, ...]:
    """Spring lost, link parted, coupling parted and closing sources held against good practice."""
    if report is None:
        return ()
    found = [*_sources(run, report)]
    for kind, name in (("spring", "spring_lost"), ("link", "link_parted"), ("coupling", "coupling_parted")):
        cases = [case for case in report.cases if case.lost.startswith(f"{kind}.")]
        if cases:
            found.append(_lost(run, name, cases))
    return tuple(found)


def _sources(run: Motion, report: Faults) -> Iterator[Check]:
    name, least = min(report.sources.items(), key=lambda item: len(item[1]), default=("", ()))
    if not name:
        return
    few = len(least) < SOURCES
    able = [f'"{spring}"' for spring in report.alone]
    alone = "none of them alone" if not able else f"{', '.join(able)} each alone"
    if len(able) == len(least):
        alone = "each of them alone"
    says = f"{len(least)} springs close every shaft while all is whole, {alone}"
    if few:
        says = (
            f"{('no spring closes', 'one spring alone closes')[len(least)]} the shafts; {SOURCES} sources of closing "
            f"energy are good practice (49 CFR 571.124 S5.1): add another spring"
        )
    yield Check(
        "closing_sources", "fail" if few else "pass", float(len(least)), float(SOURCES), "springs",
        f'shaft "{name}"', says + ".",
    )  # fmt: skip


def _lost(run: Motion, name: str, cases: list[FaultCase]) -> Check:
    """The worst of the faults of one kind."""
    word = worst(Check("", case.verdict, None, None, "", "", "") for case in cases)
    rows = [
        (case, shaft, closing)
        for case in cases
        if case.verdict == word
        for shaft, closing in case.shafts.items()
        if word != "fail" or not closing.closes
    ]
    case, shaft, at = min(rows, key=lambda row: _badness(word, row[2]))
    kind, _, part = case.lost.partition(".")
    doing = "lost" if kind == "spring" else "parted"
    torque = springs.torque_text(at.least_torque, run.rig.units)
    says = f'with {kind} "{part}" {doing}, shaft "{shaft}" still closes with {torque} at the least'
    if word == "fail" and not at.springs:
        says = f'with {kind} "{part}" {doing}, shaft "{shaft}" has no spring left and stays open; '
        says += "add a second spring" if kind == "spring" else "give it a return spring of its own"
    elif word == "fail" and np.isnan(at.least_torque):
        says = f'with {kind} "{part}" {doing}, shaft "{shaft}" cannot be judged: the links left to it do not reach '
        says += "in their drawn position; draw the arms where the lengths put them"
    elif word == "fail":
        says = f'with {kind} "{part}" {doing}, {torque} is left to close shaft "{shaft}", which does not come back; '
        says += "stiffen what is left" if kind == "spring" else "give it a stiffer return spring of its own"
    elif word == "caution":
        says += f", but only {at.ratio:.1f} times the friction; {LOST_RATIO:g} or more is common practice"
    elif kind == "spring":
        says = f'every shaft closes with any one spring lost, with {torque} at the least (spring "{part}")'
    else:
        says = f'every shaft closes with any one {kind} parted, with {torque} at the least ({kind} "{part}")'
    return Check(name, word, at.least_torque, 0.0, "N·mm", f'{kind} "{part}", shaft "{shaft}"', says + ".")


def _badness(word: Word, at: Closing) -> float:
    """What the worst of several rows has the least of: ratio in a caution, else torque."""
    if word == "caution":
        return np.inf if at.ratio is None else at.ratio
    return -np.inf if np.isnan(at.least_torque) else at.least_torque
