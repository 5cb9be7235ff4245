"""Where the travel begins and ends: stops and toggles, each carried back to the driver by closure.

The train moves as one, so the first closing stop met ends the closing and the first opening stop
met ends the opening. No search: every stop is the closure run backwards, every toggle a root of a
trigonometric polynomial.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from linkage import closure
from linkage.closure import Numbers
from linkage.motion.assembly import (
    AS_DRAWN,
    Joint,
    Pose,
    Train,
    carry,
    carry_back,
    gains,
    stop_turn,
    turn_near,
    walk,
)
from linkage.parts import SIGN
from linkage.toggles import toggle_turns
from linkage.train import slack_of

_SAME = 1e-9  # [rad] stops nearer than this hold together; the first-named is reported
_MET = 1e-6  # [rad] two routes to one place agree to this, close to a dead centre too
_CLEAR = 1e-4  # [rad] clear of a toggle
_TURN = 2.0 * np.pi
_FOLLOWED = 1.5 * np.pi - 1e-3  # [rad] as far as the driver is followed past its drawn position
_SLID = np.radians(1000.0)  # likewise a driver that slides: 1 m


@dataclass(frozen=True, slots=True)
class StopPlace:
    """A stop: on which ``member``, at what ``turn`` of it [rad], which way it ``limits``, and the
    ``driver`` turn [rad] at which it is met (``nan``: never, the member does not get there)."""

    name: str
    member: str
    limits: str
    turn: Numbers
    driver: Numbers


@dataclass(frozen=True, slots=True)
class TogglePlace:
    """A dead point of link ``link``, at a ``driver`` turn [rad]; ``nan`` in unused places."""

    link: str
    driver: Numbers


@dataclass(frozen=True, eq=False)
class Travel:
    """The two ends of the travel as driver turns [rad], and what holds them.

    ``closing_holds`` and ``opening_holds`` index ``stops`` (-1: no stop; the train comes to a toggle
    or the far side first, or never closes and starts as drawn). ``before_toggle`` is the driver turn
    [rad] left beyond each end to the nearest toggle, ``inf`` where there is none; ``toggle_links``
    names that link for a single linkage.
    """

    closing: Numbers
    opening: Numbers
    closing_holds: Numbers
    opening_holds: Numbers
    stops: tuple[StopPlace, ...]
    toggles: tuple[TogglePlace, ...]
    before_toggle: tuple[Numbers, Numbers]
    toggle_links: tuple[str, str]


def stop_turns(train: Train) -> list[tuple[str, str, str, Numbers]]:
    """Name, member, sense ("closing" or "opening") and member turn [rad] of every stop.

    A shaft's own plate angles give the stops ``NAME.idle`` and ``NAME.wide_open``.
    """
    dims, rig = train.dims, train.rig
    found: list[tuple[str, str, str, Numbers]] = []
    for name, shaft in rig.shaft.items():
        travel = dims[f"shaft.{name}.plate_angle.wide_open"] - dims[f"shaft.{name}.plate_angle.idle"]
        found.append((f"{name}.idle", name, "closing", 0.0 * travel))
        found.append((f"{name}.wide_open", name, "opening", np.radians(SIGN[shaft.opens] * travel)))
    for name, stop in rig.stop.items():
        found.append((name, stop.on, stop.limits, stop_turn(rig, dims, name)))
    return found


def driver_turn(train: Train, member: str, turn: Numbers) -> Numbers:
    """Driver turn [rad] at which a member has turned by ``turn`` [rad]; ``nan``: never.

    On the drawn side of every dead centre on the way; whole turns are counted. A member that rests until
    slack is taken up leaves its rest there.
    """
    for joint in reversed(train.path_to(member)):
        turn = _driving_turn(train, joint, turn)
    return turn


def pick_ups(train: Train) -> dict[str, Numbers]:
    """Driver turn [rad] at which every slack joint is taken up, by its table (``"link.NAME"``); ``nan``: never.

    Also ``nan`` where it is taken up already while what drives it rests.
    """
    return {
        f"{'coupling' if joint.forward is None else 'link'}.{joint.step.by.name}": driver_turn(
            train, joint.step.driving, joint.pick_up
        )
        for joint in train.joints
        if joint.slack
    }


def _driving_turn(train: Train, joint: Joint, turn: Numbers) -> Numbers:
    """Turn [rad] of a joint's driving member at which the driven one has turned by ``turn`` [rad]."""
    if joint.slack:
        with np.errstate(invalid="ignore"):
            above = train.opens * train.sense[joint.step.driven] * (turn - joint.rest)
        rests = np.abs(above) <= AS_DRAWN
        moved = _borne_turn(train, joint, np.where(rests, joint.rest + 0.0 * turn, turn)[()])
        return np.where(rests, joint.pick_up, np.where(above < 0.0, np.nan, moved))[()]
    return _borne_turn(train, joint, turn)


def _borne_turn(train: Train, joint: Joint, turn: Numbers) -> Numbers:
    """:func:`_driving_turn` while the joint bears."""
    if joint.forward is None:
        return (turn - joint.offset) / joint.ratio
    driving, driven = joint.step.driving, joint.step.driven
    start, gone = train.drawn[driving], turn - train.drawn[driven]
    as_drawn = np.abs(gone) <= AS_DRAWN
    if np.all(as_drawn):
        return start
    wanted = closure.pose_of(turn, train.slides(driven))
    with np.errstate(invalid="ignore", divide="ignore"):
        pose = carry_back(joint, wanted)
        way = np.where(train.sense[driving] * train.sense[driven] * gone < 0.0, -1.0, 1.0)
        away = way * (closure.turn_of(*pose, train.slides(driving)) - start)
        # the way that leads there without a dead centre
        if not train.slides(driving):
            away = away + _TURN * (away < -_MET) - _TURN * (away >= _TURN - _MET)
        reached = _same(carry(joint, pose), wanted) & (away >= -_MET)
    there = np.where(reached, start + way * away, np.nan)
    return np.where(as_drawn, start, there)[()] if np.any(as_drawn) else there[()]


def _same(one: Pose, other: Pose) -> Numbers:
    x, y = one[0] - other[0], one[1] - other[1]
    return x * x + y * y < _MET * _MET


def toggle_places(train: Train) -> tuple[TogglePlace, ...]:
    """Every toggle of every link as driver turns [rad], shape (..., k) each."""
    found = []
    for joint in train.joints:
        if joint.forward is None:
            continue
        at = toggle_turns(joint.forward, parallel=joint.parallel)
        if joint.slack:  # before it is taken up the link has none
            lifted = _lifted(joint)
            near = at if train.slides(joint.step.driving) else at + _TURN * np.round((lifted.middle - at) / _TURN)
            at = np.where(lifted.bears(near), at, np.nan)
        path = train.path_to(joint.step.driving)
        found.append(TogglePlace(joint.step.by.name, _back_to_driver(train, path, at) if path else at))
    return tuple(found)


def _back_to_driver(train: Train, path: tuple[Joint, ...], turn: Numbers) -> Numbers:
    """Every driver turn [rad], shape (..., k), at which the last member of a path stands at one of ``turn`` (..., m).

    Both sides of every dead centre are tried, and kept where the train as assembled comes there.
    """
    pose = closure.pose_of(turn, train.slides(path[-1].step.driven))
    with np.errstate(invalid="ignore", divide="ignore"):
        for joint in map(_lifted, reversed(path)):
            sides = [carry_back(joint, pose, branch=side) for side in ((1.0, -1.0) if joint.backward else (1.0,))]
            c, s = (np.concatenate([side[i] for side in sides], axis=-1) for i in (0, 1))
            wanted = [np.concatenate([np.broadcast_to(x, sides[0][0].shape)] * len(sides), axis=-1) for x in pose]
            kept = _same(carry(joint, (c, s)), (wanted[0], wanted[1]))
            pose = np.where(kept, c, np.nan), np.where(kept, s, np.nan)
    return closure.turn_of(*pose, train.slides(train.driver))


def _lifted(joint: Joint) -> Joint:
    """The joint with its arrays' last axis of length one, to meet several turns of a member."""

    def lift(numbers: Numbers) -> Numbers:
        return np.asarray(numbers)[..., None]

    return replace(
        joint,
        ratio=lift(joint.ratio),
        offset=lift(joint.offset),
        middle=lift(joint.middle),
        rest=lift(joint.rest),
        pick_up=lift(joint.pick_up),
        forth=lift(joint.forth),
        slot=lift(joint.slot),
        forward=joint.forward and closure.Loop(*map(lift, joint.forward)),
        backward=joint.backward and closure.Loop(*map(lift, joint.backward)),
    )


def find_travel(train: Train) -> Travel:
    """Work out both ends of the travel of an assembled train.

    For many linkages at once every figure has their common shape, ``nan`` where one cannot be assembled.
    """
    sense, whole = train.opens, train.whole
    stops = _stop_places(train)
    lows, highs = _bounds(train, stops)
    toggles = toggle_places(train)
    ahead, behind, links = _nearest_toggles(train, toggles)
    with np.errstate(invalid="ignore"):
        low, low_by = _tightest(lows, np.fmax)
        met = ~np.isneginf(low)
        low_toggled = met & ~np.isposinf(low) & ((-behind > low) | (low > ahead))
        shut_out = np.isposinf(low)  # stands beyond a closing stop and never comes back to it: no travel
        low = np.minimum(np.maximum(low, -behind), ahead)
        if not np.all(met):
            low = np.where(met, low, _unstopped(train, behind, ~met))
        low = np.where(shut_out, 0.0, low)
        high, high_by = _tightest(highs + _turned_back(train, stops, low), np.fmin)
        high_toggled = ahead < high
        high = np.minimum(high, ahead)
        farthest = _SLID if train.slides(train.driver) else _FOLLOWED
        far = high > farthest
        high = np.maximum(np.where(shut_out, low, np.minimum(high, farthest)), low)
    # a toggle itself is on the edge of the reachable: stand a hair inside it
    low = _inside(train, low, np.where(low < ahead, 1.0, -1.0), low_toggled)
    high = _inside(train, high, -1.0, high_toggled)

    def known(figure: Numbers) -> Numbers:
        return figure if np.all(whole) else np.where(whole, figure, np.nan)[()]

    return Travel(
        closing=known(sense * low + 0.0),  # no negative nought
        opening=known(sense * high + 0.0),
        closing_holds=np.where(low_toggled | ~np.asarray(whole), -1, low_by),
        opening_holds=np.where(high_toggled | far | ~np.asarray(whole), -1, high_by),
        stops=stops,
        toggles=toggles,
        before_toggle=(known(np.maximum(behind + low, 0.0)), known(np.maximum(ahead - high, 0.0))),
        toggle_links=(links[1], links[0]),
    )


def stop_ends(train: Train) -> tuple[Numbers, Numbers]:
    """Driver turns [rad] at which the first closing and the first opening stop are met, ``nan`` without one.

    The ends of :func:`find_travel` where no toggle comes first; much cheaper for many linkages at once.
    """
    lows, highs = _bounds(train, _stop_places(train))
    with np.errstate(invalid="ignore"):
        low, _ = _tightest(lows, np.fmax)
        high, _ = _tightest(highs, np.fmin)
    known = np.isfinite(low) & np.isfinite(high)
    low, high = np.where(known, low, np.nan), np.where(known, np.maximum(high, low), np.nan)
    return train.opens * low, train.opens * high


def _stop_places(train: Train) -> tuple[StopPlace, ...]:
    """Every stop with the driver turn at which it is met; stops at one turn of one member are met together."""
    found: list[StopPlace] = []
    known: dict[tuple[str, float], Numbers] = {}
    for name, member, limits, turn in stop_turns(train):
        path = train.path_to(member)
        if train.shut is not None and limits == "closing" and any(joint.slack for joint in path):
            # the end of the slot that closes holds the train there; a tang holds nothing
            loose = any(slack_of(joint.step.by) == "gap" for joint in path)
            at = np.nan if loose else driver_turn(train.shut, member, turn)
        elif np.ndim(turn):
            at = driver_turn(train, member, turn)
        else:
            key = (member, float(turn))
            at = known[key] = known[key] if key in known else driver_turn(train, member, turn)
        found.append(StopPlace(name, member, limits, turn, at))
    return tuple(found)


Bounds = list[tuple[int, Numbers]]


def _bounds(train: Train, stops: tuple[StopPlace, ...]) -> tuple[Bounds, Bounds]:
    """Stops as lower and upper bounds of the driver's opening turn [rad].

    A shaft that turns the wrong way meets its closing stop while the others open, and the reverse.
    A stop that is never met lies infinitely far away, on the side its member would have to turn to.
    """
    lows: Bounds = []
    highs: Bounds = []
    for i, stop in enumerate(stops):
        at = train.opens * stop.driver
        if np.any(np.isnan(at)):
            towards = train.opens * train.sense[stop.member] * (stop.turn - train.drawn[stop.member])
            at = np.where(np.isnan(at), np.where(towards < 0.0, -np.inf, np.inf), at)
        if stop.limits == "closing" and any(slack_of(j.step.by) == "gap" for j in train.path_to(stop.member)):
            continue  # rests there while the others close
        wrong_way = train.shaft_opens.get(stop.member, train.opens) != train.opens
        closes = wrong_way != (stop.limits == "closing")
        for bounds, mine, slack in ((lows, closes, -np.inf), (highs, ~np.asarray(closes), np.inf)):
            if np.any(mine):
                bounds.append((i, at if np.all(mine) else np.where(mine, at, slack)))
    return lows, highs


def _turned_back(train: Train, stops: tuple[StopPlace, ...], low: Numbers) -> Bounds:
    """Upper bounds: where a member, past its driving arm's dead centre, comes back to its closing stop."""
    found: Bounds = []
    done: set[tuple[str, int]] = set()
    for i, stop in enumerate(stops):
        path = train.path_to(stop.member)
        if stop.limits != "closing" or not any(joint.backward for joint in path):
            continue
        if (stop.member, id(stop.driver)) in done:  # met together with another
            continue
        done.add((stop.member, id(stop.driver)))
        if train.shut is None or not any(joint.slack for joint in path):
            found.append((i, _comes_back(train, stop, stop.driver, low)))
            continue
        leaves = driver_turn(train, stop.member, stop.turn)  # by the end of the slot that opens, if it ever bears
        found.append((i, np.where(np.isnan(leaves), np.inf, _comes_back(train, stop, leaves, low))))
        if not any(slack_of(joint.step.by) == "gap" for joint in path):  # and by the one that closes
            found.append((i, _comes_back(train.shut, stop, stop.driver, low)))
    return found


def _comes_back(train: Train, stop: StopPlace, leaves: Numbers, low: Numbers) -> Numbers:
    """Opening turn [rad] of the driver at which a member that ``leaves`` its closing stop comes back to it."""
    at = _back_to_driver(train, train.path_to(stop.member), np.asarray(stop.turn)[..., None])
    leaves = np.where(np.isnan(leaves), low, train.opens * leaves)
    away = np.asarray(train.opens)[..., None] * at - leaves[..., None]
    if not train.slides(train.driver):
        away = away - _TURN * np.floor(away / _TURN)
    away = np.where(away > _MET, away, np.inf)  # not the place where it leaves the stop
    return leaves + np.fmin.reduce(away, axis=-1)


def _tightest(bounds: Bounds, pick: np.ufunc) -> tuple[Numbers, Numbers]:
    """The tightest bound and the index of the first-named stop that sets it (-1: none)."""
    slack = -np.inf if pick is np.fmax else np.inf
    best: Numbers = slack
    for _, at in bounds:
        best = pick(best, at)
    index: Numbers = -1
    for i, at in reversed(bounds):
        index = np.where((at == best) | (np.abs(at - best) <= _SAME), i, index)
    return best, np.where(best == slack, -1, index)


def _nearest_toggles(train: Train, toggles: tuple[TogglePlace, ...]) -> tuple[Numbers, Numbers, tuple[str, str]]:
    """Driver turn [rad] from the drawn position to the nearest toggle in opening and in closing direction."""
    ahead: Numbers = np.inf
    behind: Numbers = np.inf
    names = ["", ""]
    for place in toggles:
        up = np.asarray(train.opens)[..., None] * place.driver
        if train.slides(train.driver):  # comes round to nothing again
            nearest = np.fmin.reduce(np.where(up >= 0.0, up, np.inf), axis=-1, initial=np.inf)
            farthest = np.fmin.reduce(np.where(up < 0.0, -up, np.inf), axis=-1, initial=np.inf)
        else:
            up = up + _TURN * (up < 0.0)
            nearest = np.fmin.reduce(up, axis=-1, initial=np.inf)
            farthest = _TURN - np.fmax.reduce(up, axis=-1, initial=-np.inf)
        if np.ndim(nearest) == 0:
            names = [place.link if nearest < ahead else names[0], place.link if farthest < behind else names[1]]
        ahead, behind = np.minimum(ahead, nearest), np.minimum(behind, farthest)
    return ahead, behind, (names[0], names[1])


def _unstopped(train: Train, behind: Numbers, wanted: Numbers) -> Numbers:
    """Closing end where no closing stop is met: the toggle, if every shaft closes as far as that, else as drawn."""
    at = _inside(train, np.where(np.isfinite(behind), -behind, 0.0), 1.0, wanted)
    turn = train.opens * (at + _CLEAR)  # where speeds are sure of their sign
    pose = walk(train, train.pose(turn))
    rates = gains(train, pose)
    closes: Numbers = True
    for name, shaft in train.rig.shaft.items():
        closed = SIGN[shaft.opens] * (train.drawn[name] - turn_near(pose[name], train.drawn[name]))
        closes = closes & (closed > 0.0) & (SIGN[shaft.opens] * train.opens * rates[name][0] > 0.0)
    return np.where(closes, at, 0.0)


def _inside(train: Train, turn: Numbers, step: Numbers, wanted: Numbers) -> Numbers:
    """Move an end of the travel, where ``wanted``, off its toggle by the least that lets every link reach."""
    wanted = wanted & np.asarray(train.whole)
    if not np.any(wanted):
        return turn
    out = np.asarray(turn, float)
    for size in 10.0 ** np.arange(-14.0, -5.0):
        pose = walk(train, train.pose(train.opens * out))
        bad = wanted & np.isnan(sum(p[0] for p in pose.values()))
        if not np.any(bad):
            break
        out = np.where(bad, turn + step * size, out)
    return out
