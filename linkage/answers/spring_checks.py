"""Each spring by itself: does its line keep off the pivot, is it ever slack, does its torque hold up."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from linkage.answers import springs
from linkage.answers.checks import Check, Word, percent
from linkage.answers.extremes import Extreme
from linkage.answers.springs import SpringAction
from linkage.closure import SLIDING
from linkage.motion import Motion
from linkage.tables import length

Floats = NDArray[np.float64]

#: nearer to the pivot than this [mm] the line of a spring is easily carried over; common practice, no source
NEAR_PIVOT = 10.0
#: a lever arm that never comes to this [mm] is none: rounding
NO_ARM = 1e-6
#: largest fall of a spring's torque over the travel [%]; common practice, no source
FALL = 30.0


def checks(run: Motion) -> tuple[Check, ...]:
    """The springs of a design held against their limits, the worst spring of each kind of fault."""
    fine = springs.throughout(run)
    found = springs.actions(fine)
    if not found:
        return ()
    return (*_over_centre(fine, found), _slack(fine, found), _fall(fine, found))


def _over_centre(fine: Motion, found: Mapping[str, SpringAction]) -> Iterator[Check]:
    arms = {name: springs.least(fine, action.arm) for name, action in found.items() if action.arm is not None}
    yield from _off_guide(fine, found, {name: arms.pop(name) for name in found if _on_block(fine, found, name, arms)})
    if not arms:
        return
    name, at = min(arms.items(), key=lambda item: item[1].value)
    arm = found[name].arm
    units = fine.rig.units
    word: Word = "pass"
    says = f'the line of spring "{name}" keeps {length(at.value, units)} off its pivot at the least'
    if at.value <= 0.0:
        word = "fail"
        assert arm is not None
        side = "beyond that" if arm[0] > 0.0 else "up to there"
        says = (
            f'spring "{name}" is anchored on the pivot of the arm that it pulls, where it has no lever arm and closes '
            f"nothing: move its anchor to the side to which it is to pull"
            if float(np.max(np.abs(arm))) < NO_ARM
            else f'spring "{name}" pulls the throttles open all the way: put its anchor on the other side of the pivot'
            if float(np.max(arm)) <= 0.0
            else f'the line of spring "{name}" passes its pivot at {percent(_crossing(fine, arm))}, and {side} it '
            f"holds the throttles open: move its anchor or its arm so that it stays on one side"
        )
    elif at.value < NEAR_PIVOT:
        word = "caution"
        says += f"; {length(NEAR_PIVOT, units)} or more is common practice: move its anchor out"
    yield Check("spring_over_centre", word, at.value, 0.0, "mm", f'spring "{name}", {percent(at.fraction)}', says + ".")


def _on_block(fine: Motion, found: Mapping[str, SpringAction], name: str, arms: Mapping[str, Extreme]) -> bool:
    return name in arms and fine.train.slides(found[name].member)


def _off_guide(fine: Motion, found: Mapping[str, SpringAction], arms: Mapping[str, Extreme]) -> Iterator[Check]:
    """The spring of a block that slides whose line comes nearest to standing square to the guide."""
    if not arms:
        return
    name, at = min(arms.items(), key=lambda item: item[1].value)
    arm = found[name].arm
    assert arm is not None
    off = float(np.degrees(np.arcsin(np.clip(at.value / SLIDING, -1.0, 1.0))))
    word: Word = "pass" if off > 0.0 else "fail"
    says = f'spring "{name}" meets the cross line of its guide at {off:.1f} degrees at the least'
    if off <= 0.0:
        says = (
            f'spring "{name}" pulls the throttles open all the way: put its anchor at the other end of the guide'
            if float(np.max(arm)) <= 0.0
            else f'spring "{name}" stands square to its guide at {percent(_crossing(fine, arm))}, and beyond that it '
            f"holds the throttles open: move its anchor so that it stays on one side"
        )
    yield Check("spring_over_centre", word, off, 0.0, "deg", f'spring "{name}", {percent(at.fraction)}', says + ".")


def _crossing(fine: Motion, arm: Floats) -> float:
    """Share of the travel at which the moment arm of a spring's line first changes its sign."""
    side = np.sign(arm)
    return float(fine.fraction[int(np.argmax(side != side[0]))])


def _slack(fine: Motion, found: Mapping[str, SpringAction]) -> Check:
    slack: dict[str, Extreme] = {}
    for name, action in found.items():
        force = action.pull if action.pull is not None else action.wound
        assert force is not None
        at = springs.least(fine, force)
        if at.value <= springs.NOTHING:
            slack[name] = at
    if not slack:
        return Check(
            "spring_slack", "pass", None, None, "", "", "every spring stays under load through the whole travel."
        )
    name, at = next(iter(slack.items()))
    torsion = found[name].wound is not None
    others = f" (so are {len(slack) - 1} more)" if len(slack) > 1 else ""
    mend = "wind it up further (preload)" if torsion else "move its anchor away or take a shorter spring"
    return Check(
        "spring_slack", "caution", None, None, "", f'spring "{name}", {percent(at.fraction)}',
        f'spring "{name}" is slack at {percent(at.fraction)}{others}, where it closes nothing and may unhook; {mend}.',
    )  # fmt: skip


def _fall(fine: Motion, found: Mapping[str, SpringAction]) -> Check:
    falls = {name: _largest_fall(action) for name, action in found.items()}
    name, most = max(falls.items(), key=lambda item: item[1])
    over = most > FALL
    says = f'the torque of spring "{name}" falls by {most:.0f} % over the travel'
    if most < 0.5:
        says = "the torque of every spring rises or holds through the opening"
    elif over:
        says += f"; up to {FALL:g} % is common practice: move its anchor so that its lever arm grows with the opening"
    return Check("spring_fall", "caution" if over else "pass", most, FALL, "%", f'spring "{name}"', says + ".")


def _largest_fall(action: SpringAction) -> float:
    """Largest fall of a spring's closing torque from any position to a later one [% of the earlier]."""
    highest = np.maximum.accumulate(action.closing)
    sound = highest > springs.NOTHING
    fall = np.where(sound, 1.0 - action.closing / np.where(sound, highest, 1.0), 0.0)
    return 100.0 * float(np.max(fall))
