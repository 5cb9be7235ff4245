r"""Followers: what else must move with the throttles, how far it goes and when.

::

      a member      stroke(x) = |turn(x) - turn(idle)|                          [deg]
      a pin         stroke(x) = |P(x) - P(idle)|, straight across               [mm]

The stroke is the largest of the travel; a follower that turns back has passed it before wide open. An
accelerator pump delivers by its stroke, a position sensor reads by its turn, a kick-down rod pulls by
the straight way of its pin.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.answers import extremes
from linkage.answers.checks import Check, Word, percent
from linkage.motion import Motion
from linkage.motion.assembly import arm_frame
from linkage.parts import Follower, Linkage
from linkage.tables import length
from linkage.train import split_pin

Floats = NDArray[np.float64]

#: shares of the stroke whose places on the travel are told
SHARES = (0.10, 0.50, 0.90)
_GRID = 121  # positions that show every rise of a smooth curve
_ZOOM = 17
_ZOOMS = 5  # each makes the step sixteen times smaller
_STILL = 1e-9  # slower than this against the driver [-] a follower stands


@dataclass(frozen=True)
class Done:
    """Where a share of a stroke is done: at which ``fraction`` of the travel, ``opening`` [0..1] and ``plate_angle``
    [deg] of the first-named shaft; ``nan`` where there is no stroke."""

    share: float
    fraction: float
    opening: float
    plate_angle: float


@dataclass(frozen=True, eq=False)
class Following:
    """One follower: ``at`` is the member or the pin; ``unit`` "deg" or "mm".

    ``stroke`` is the largest of the travel, ``end`` what is left of it at wide open (the same, but for one
    that turns back), ``path`` [mm] the length of the pin's arc (None of a member). ``moved`` stands over the
    positions, shape (n,). ``back`` lists the travel fractions at which it turns back.
    """

    name: str
    at: str
    unit: str
    stroke: float
    end: float
    path: float | None
    moved: Floats
    done: tuple[Done, ...]
    back: tuple[float, ...]


def lacks(rig: Linkage) -> str:
    """Followers are asked for by naming them; a design without any lacks nothing."""
    return ""


def followers(run: Motion) -> Mapping[str, Following] | None:
    """Stroke and timing of every follower of a solved motion; None where the design names none."""
    if not run.rig.follower:
        return None
    return {name: _following(run, part) for name, part in run.rig.follower.items()}


def stroke(run: Motion, part: Follower) -> Floats:
    """Stroke of a follower from the closing stop [deg of a member, mm of a pin], shape (n,)."""
    first = run.at(run.ends[0])
    if part.on is not None:
        return np.asarray(np.abs(run.member_turn[part.on] - first.member_turn[part.on]))
    frame = arm_frame(run.rig, run.train.dims, *split_pin(part.pin or ""))
    member = split_pin(part.pin or "")[0]
    here, there = (closure.pin(frame, *at.pose[member]) for at in (run, first))
    out = closure.minus(here, there)
    return np.asarray(np.sqrt(closure.dot(out, out)))


def _following(run: Motion, part: Follower) -> Following:
    member = part.on or split_pin(part.pin or "")[0]
    most = extremes.highest(run, lambda at: stroke(at, part))
    fine = run.at(np.linspace(*run.ends, 361))
    path = None
    if part.pin is not None:
        frame = arm_frame(run.rig, run.train.dims, *split_pin(part.pin))
        run_over = float(np.sum(np.abs(np.diff(fine.member_turn[member]))))
        path = run_over if member in run.rig.slide else float(frame.r) * float(np.radians(run_over))
    return Following(
        name=part.name,
        at=part.on or part.pin or "",
        unit="deg" if part.on is not None else "mm",
        stroke=most.value,
        end=float(stroke(run.at(run.ends[1]), part)[0]),
        path=path,
        moved=stroke(run, part),
        done=tuple(_done(run, lambda at: stroke(at, part), share, most.value) for share in SHARES),
        back=_back(run, member),
    )


def _done(run: Motion, curve: Callable[[Motion], Floats], share: float, whole: float) -> Done:
    """The first place at which a share of the stroke is done, closed in on from a grid."""
    low, high = run.ends
    if not whole > 0.0:
        return Done(share, np.nan, np.nan, np.nan)
    at, count = run, _GRID
    for _ in range(_ZOOMS):
        at = run.at(np.linspace(low, high, count))
        past = np.flatnonzero(curve(at) >= share * whole)
        first = int(past[0]) if past.size else count - 1
        low, high = float(at.turn[max(first - 1, 0)]), float(at.turn[first])
        count = _ZOOM
    here = run.at([run.ends[0], 0.5 * (low + high), run.ends[1]])
    idle, now, wide = next(iter(here.plate_angle.values()))
    opening = (now - idle) / (wide - idle) if wide != idle else np.nan
    return Done(share, float(here.fraction[1]), float(opening), float(now))


def _back(run: Motion, member: str) -> tuple[float, ...]:
    """Travel fractions at which a member turns back, each found by halving."""
    at = run.at(np.linspace(*run.ends, 361))
    speed = at.speed[member]
    moving = np.flatnonzero(np.abs(speed) > _STILL)
    found = []
    for i, j in itertools.pairwise(moving):
        if speed[i] * speed[j] < 0.0:
            low, high = float(at.turn[i]), float(at.turn[j])
            for _ in range(40):
                middle = 0.5 * (low + high)
                here = float(run.at(middle).speed[member][0])
                low, high = (middle, high) if here * speed[i] > 0.0 else (low, middle)
            found.append(float(run.at(0.5 * (low + high)).fraction[0]))
    return tuple(found)


def checks(run: Motion, found: Mapping[str, Following] | None) -> tuple[Check, ...]:
    """Strokes and timing of the followers held against what is wished of them, and those that turn back."""
    if found is None:
        return ()
    return tuple(check for name, at in found.items() for check in _checks(run, run.rig.follower[name], at))


def _checks(run: Motion, part: Follower, at: Following) -> Iterator[Check]:
    where = f'follower "{at.name}"'
    told = _told(at.stroke, at.unit, run.rig.units)
    for name, limit, misses, words, mend in (
        ("follower_least_stroke", part.least_stroke, -1.0, "at least", "lengthen its driving arm or shorten its own"),
        ("follower_most_stroke", part.most_stroke, 1.0, "up to", "shorten its driving arm or lengthen its own"),
    ):
        if limit is not None:
            bad = misses * (at.stroke - limit) > 1e-9
            wished = f"{words} {_told(limit, at.unit, run.rig.units)} is wished{f'; {mend}' if bad else ''}"
            yield Check(
                name, "fail" if bad else "pass", at.stroke, limit, at.unit, where,
                f"{where} makes a stroke of {told}; {wished}.",
            )  # fmt: skip
    for name, limit, done, what in (
        ("follower_start", part.starts_by, at.done[0], "a tenth"),
        ("follower_complete", part.complete_by, at.done[-1], "nine tenths"),
    ):
        if limit is not None:
            late = not done.fraction <= limit + 1e-9
            mend = "; start its driving arm nearer to square to the link" if late else ""
            yield Check(
                name, "fail" if late else "pass", 100.0 * done.fraction, 100.0 * limit, "%", where,
                f"{where} has done {what} of its stroke at {percent(done.fraction)}; by {100.0 * limit:.0f} % is "
                f"wished{mend}.",
            )  # fmt: skip
    word: Word = "caution" if at.back else "pass"
    says = f"{where} moves one way as long as the throttles open."
    if at.back:
        places = ", ".join(percent(fraction) for fraction in at.back)
        says = f"{where} turns back at {places}: its driving arm passes in line with the link there."
    yield Check("follower_turns_back", word, float(len(at.back)), 0.0, "turns", where, says)


def _told(value: float, unit: str, units: str) -> str:
    return f"{value:.2f} degrees" if unit == "deg" else length(value, units)
