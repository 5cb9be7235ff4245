"""Where a rolled train rests with the foot off: the first closing stop or, its free play gone, the cable holds it."""

from __future__ import annotations

import dataclasses

import numpy as np
from numpy.typing import NDArray

from linkage.answers.rolled import held
from linkage.motion import Motion, Train, walk
from linkage.motion.assembly import turn_near

Floats = NDArray[np.float64]

_TINY = 1e-12  # [rad] a stop as near as this is met
_BACK = 1.0  # [rad] as far as a driver is followed back beyond its idle
_GRID, _ZOOMS = 121, 8  # each zoom narrows 120-fold the place at which the closing is stopped


def at_rest(run: Motion, there: Train, degrees: float) -> float:
    """Turn [rad] of the rolled train's driver at idle, foot off: the stops hold, the cable by its free play.

    Where no cable drives, the driver is held where it stood.
    """
    idle, start, opens = run.at(run.ends[0]), np.radians(run.ends[0]), float(there.opens)
    slack = float(run.train.dims["cable.free_play"]) if run.line is not None else 0.0
    rest = float(start + opens * _stopped(run, there))
    if run.cable_arm is None or float(idle.cable_arm[0] if idle.cable_arm is not None else 0.0) * opens > 0.0:
        with np.errstate(invalid="ignore"):
            pose = held(idle, degrees, paid_out=slack)
        bound = float(np.asarray(_near(pose, start, there.slides(there.driver))).ravel()[0])
        if opens * (bound - rest) > 0.0:
            rest = bound
    return rest


def as_run(run: Motion, there: Train, turn: Floats) -> Motion:
    """The rolled train at driver turns [rad] near those of ``run``, as a motion of which the poses can be told."""
    pose = walk(there, there.pose(turn))
    near = {name: np.radians(angle) for name, angle in run.member_turn.items()}
    turns = {name: np.degrees(_near(at, near[name], there.slides(name))) for name, at in pose.items()}
    return dataclasses.replace(run, train=there, turn=np.degrees(turn), pose=pose, member_turn=turns)


def _stopped(run: Motion, there: Train) -> float:
    """How far [rad, opening counts up] from where it idles the rolled train's driver is stopped in closing.

    ``nan`` where it reaches no position at all.
    """
    idle, opens, start = run.at(run.ends[0]), float(there.opens), np.radians(run.ends[0])
    limits = []
    for stop in run.travel.stops:
        way = there.shaft_opens.get(stop.member, opens) * opens  # a shaft turned the wrong way is stopped in opening
        sense = opens * float(np.nan_to_num(there.sense[stop.member]))
        if stop.limits == "closing" and way > 0.0 and sense:
            limits.append((stop.member, sense, float(np.asarray(stop.turn))))

    def free(ahead: Floats) -> NDArray[np.bool_]:
        with np.errstate(invalid="ignore"):
            pose = walk(there, there.pose(start + opens * ahead))
            ok = np.isfinite(sum(part[0] for part in pose.values()) + 0.0 * ahead)
            for member, sense, turn in limits:
                now = _near(pose[member], np.radians(float(idle.member_turn[member][0])), there.slides(member))
                ok = ok & (sense * (now - turn) >= -_TINY)
        return np.asarray(ok)

    high, low = abs(np.radians(run.ends[1] - run.ends[0])), -_BACK
    for _ in range(_ZOOMS):
        ahead = np.linspace(high, low, _GRID)
        ok = free(ahead)
        if not np.any(ok):
            return np.nan
        start_of = int(np.argmax(ok))  # beyond it, towards wide open, a link may not reach
        blocked = np.flatnonzero(~ok[start_of:])
        if blocked.size == 0:
            return float(low)
        first = start_of + int(blocked[0])
        high, low = float(ahead[first - 1]), float(ahead[first])
    return float(high)


def _near(pose: tuple[Floats, Floats], turn: Floats | float, slides: bool) -> Floats:
    """Turn [rad] of a member in a pose, the one nearest to another."""
    return np.asarray(turn_near(pose, turn, slides))
