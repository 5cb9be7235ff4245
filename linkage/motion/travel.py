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
from linkage.motion.assembly import Joint, Pose, Train, carry, carry_back, gains, turn_near, walk
from linkage.parts import SIGN

_SAME = 1e-9  # [rad] stops nearer than this hold together; the first-named is reported
_MET = 1e-6  # [rad] two routes to one place agree to this, close to a dead centre too
_AS_DRAWN = 1e-12  # [rad] a stop as near as this to the drawn position is met there
_TURN = 2.0 * np.pi
_FOLLOWED = 1.5 * np.pi - 1e-3  # [rad] as far as the driver is followed past its drawn position


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
        if stop.on in rig.shaft:
            idle = dims[f"shaft.{stop.on}.plate_angle.idle"]
            turn = SIGN[rig.shaft[stop.on].opens] * (dims[f"stop.{name}.plate_angle"] - idle)
        else:
            turn = dims[f"stop.{name}.turn"]
        found.append((name, stop.on, stop.limits, np.radians(turn)))
    return found


def driver_turn(train: Train, member: str, turn: Numbers) -> Numbers:
    """Driver turn [rad] at which a member has turned by ``turn`` [rad]; ``nan``: never.

    On the drawn side of every dead centre on the way; whole turns are counted.
    """
    for joint in reversed(train.path_to(member)):
        turn = _driving_turn(train, joint, turn)
    return turn


def _driving_turn(train: Train, joint: Joint, turn: Numbers) -> Numbers:
    """Turn [rad] of a joint's driving member at which the driven one has turned by ``turn`` [rad]."""
    if joint.forward is None:
        return (turn - joint.offset) / joint.ratio
    driving, driven = joint.step.driving, joint.step.driven
    start, gone = train.drawn[driving], turn - train.drawn[driven]
    wanted = (np.cos(turn), np.sin(turn))
    with np.errstate(invalid="ignore", divide="ignore"):
        pose = carry_back(joint, wanted)
        way = np.where(train.sense[driving] * train.sense[driven] * gone < 0.0, -1.0, 1.0)
        away = way * (np.arctan2(pose[1], pose[0]) - start)
        away = way * (np.mod(away + _MET, _TURN) - _MET)  # the way that leads there without a dead centre
        away = np.where(np.abs(gone) <= _AS_DRAWN, 0.0, away)
        reached = _same(carry(joint, (np.cos(start + away), np.sin(start + away))), wanted)
    return np.where(reached, start + away, np.nan)[()]


def _same(one: Pose, other: Pose) -> Numbers:
    return np.hypot(one[0] - other[0], one[1] - other[1]) < _MET


def toggle_places(train: Train) -> tuple[TogglePlace, ...]:
    """Every toggle of every link as driver turns [rad], shape (..., k) each."""
    found = []
    for joint in train.joints:
        if joint.forward is None:
            continue
        at = closure.toggles(joint.forward)
        path = train.path_to(joint.step.driving)
        found.append(TogglePlace(joint.step.by.name, _back_to_driver(path, at)))
    return tuple(found)


def _back_to_driver(path: tuple[Joint, ...], turn: Numbers) -> Numbers:
    """Every driver turn [rad], shape (..., k), at which the last member of a path stands at one of ``turn`` (..., m).

    Both sides of every dead centre are tried, and kept where the train as assembled comes there.
    """
    pose: Pose = (np.cos(turn), np.sin(turn))
    with np.errstate(invalid="ignore", divide="ignore"):
        for joint in map(_lifted, reversed(path)):
            sides = [carry_back(joint, pose, branch=side) for side in ((1.0, -1.0) if joint.backward else (1.0,))]
            c, s = (np.concatenate([side[i] for side in sides], axis=-1) for i in (0, 1))
            wanted = [np.concatenate([np.broadcast_to(x, sides[0][0].shape)] * len(sides), axis=-1) for x in pose]
            kept = _same(carry(joint, (c, s)), (wanted[0], wanted[1]))
            pose = np.where(kept, c, np.nan), np.where(kept, s, np.nan)
    return np.arctan2(pose[1], pose[0])


def _lifted(joint: Joint) -> Joint:
    """The joint with its arrays' last axis of length one, to meet several turns of a member."""

    def lift(numbers: Numbers) -> Numbers:
        return np.asarray(numbers)[..., None]

    return replace(
        joint,
        ratio=lift(joint.ratio),
        offset=lift(joint.offset),
        middle=lift(joint.middle),
        forward=joint.forward and closure.Loop(*map(lift, joint.forward)),
        backward=joint.backward and closure.Loop(*map(lift, joint.backward)),
    )


def find_travel(train: Train) -> Travel:
    """Work out both ends of the travel of an assembled train.

    For many linkages at once every figure has their common shape, ``nan`` where one cannot be assembled.
    """
    sense = train.opens
    stops = tuple(
        StopPlace(name, member, limits, turn, driver_turn(train, member, turn))
        for name, member, limits, turn in stop_turns(train)
    )
    lows, highs = _bounds(train, stops)
    toggles = toggle_places(train)
    ahead, behind, _ = _nearest_toggles(train, toggles, 0.0)
    with np.errstate(invalid="ignore"):
        low, low_by = _tightest(lows, np.fmax)
        met = ~np.isneginf(low)
        low_toggled = met & ~np.isposinf(low) & ((-behind > low) | (low > ahead))
        shut_out = np.isposinf(low)  # stands beyond a closing stop and never comes back to it: no travel
        low = np.where(met, np.clip(low, -behind, ahead), _unstopped(train, behind))
        low = np.where(shut_out, 0.0, low)
        high, high_by = _tightest(highs + _turned_back(train, stops, low), np.fmin)
        high_toggled = ahead < high
        high = np.minimum(high, ahead)
        far = high > _FOLLOWED
        high = np.maximum(np.where(shut_out, low, np.minimum(high, _FOLLOWED)), low)
    # a toggle itself is on the edge of the reachable: stand a hair inside it
    low = np.where(low_toggled, _inside(train, low, np.where(low < ahead, 1.0, -1.0)), low)
    high = np.where(high_toggled, _inside(train, high, -1.0), high)
    after_opening, _, opening_links = _nearest_toggles(train, toggles, sense * high)
    _, after_closing, closing_links = _nearest_toggles(train, toggles, sense * low)
    figures = (
        sense * low + 0.0,  # no negative nought
        sense * high + 0.0,
        np.where(low_toggled, -1.0, low_by),
        np.where(high_toggled | far, -1.0, high_by),
        after_closing,
        after_opening,
    )
    whole = np.asarray(sum(train.drawn.values()))  # nan where a linkage cannot be assembled
    closing, opening, closing_by, opening_by, after_closing, after_opening = (
        np.where(np.isfinite(whole), figure, np.nan)[()] for figure in np.broadcast_arrays(*figures, whole)[:6]
    )
    return Travel(
        closing=closing,
        opening=opening,
        closing_holds=np.nan_to_num(closing_by, nan=-1.0).astype(int),
        opening_holds=np.nan_to_num(opening_by, nan=-1.0).astype(int),
        stops=stops,
        toggles=toggles,
        before_toggle=(after_closing, after_opening),
        toggle_links=(closing_links[1], opening_links[0]),
    )


def stop_ends(train: Train) -> tuple[Numbers, Numbers]:
    """Driver turns [rad] at which the first closing and the first opening stop are met, ``nan`` without one.

    The ends of :func:`find_travel` where no toggle comes first; much cheaper for many linkages at once.
    """
    stops = tuple(StopPlace(*stop, driver_turn(train, stop[1], stop[3])) for stop in stop_turns(train))
    lows, highs = _bounds(train, stops)
    with np.errstate(invalid="ignore"):
        low, _ = _tightest(lows, np.fmax)
        high, _ = _tightest(highs, np.fmin)
    known = np.isfinite(low) & np.isfinite(high)
    low, high = np.where(known, low, np.nan), np.where(known, np.maximum(high, low), np.nan)
    return train.opens * low, train.opens * high


Bounds = list[tuple[int, Numbers]]


def _bounds(train: Train, stops: tuple[StopPlace, ...]) -> tuple[Bounds, Bounds]:
    """Stops as lower and upper bounds of the driver's opening turn [rad].

    A shaft that turns the wrong way meets its closing stop while the others open, and the reverse.
    A stop that is never met lies infinitely far away, on the side its member would have to turn to.
    """
    lows: Bounds = []
    highs: Bounds = []
    for i, stop in enumerate(stops):
        towards = train.opens * train.sense[stop.member] * (stop.turn - train.drawn[stop.member])
        at = np.where(np.isnan(stop.driver), np.where(towards < 0.0, -np.inf, np.inf), train.opens * stop.driver)
        wrong_way = train.shaft_opens.get(stop.member, train.opens) != train.opens
        closes = wrong_way != (stop.limits == "closing")
        lows.append((i, np.where(closes, at, -np.inf)))
        highs.append((i, np.where(closes, np.inf, at)))
    return lows, highs


def _turned_back(train: Train, stops: tuple[StopPlace, ...], low: Numbers) -> Bounds:
    """Upper bounds: where a member, past its driving arm's dead centre, comes back to its closing stop."""
    found: Bounds = []
    for i, stop in enumerate(stops):
        path = train.path_to(stop.member)
        if stop.limits != "closing" or not any(joint.backward for joint in path):
            continue
        at = _back_to_driver(path, np.asarray(stop.turn)[..., None])
        away = np.mod(np.asarray(train.opens)[..., None] * at - np.asarray(low)[..., None], _TURN)
        away = np.where(away > _MET, away, np.nan)  # not the place where it leaves the stop
        found.append((i, low + np.fmin.reduce(away, axis=-1)))
    return found


def _tightest(bounds: Bounds, pick: np.ufunc) -> tuple[Numbers, Numbers]:
    """The tightest bound and the index of the first-named stop that sets it (-1: none)."""
    best = pick.reduce([*np.broadcast_arrays(*(at for _, at in bounds))])
    index = np.full(np.shape(best), -1)
    slack = -np.inf if pick is np.fmax else np.inf
    for i, at in reversed(bounds):
        index = np.where((at == best) | (np.abs(at - best) <= _SAME), i, index)
    return best, np.where(best == slack, -1, index)


def _nearest_toggles(
    train: Train, toggles: tuple[TogglePlace, ...], turn: Numbers
) -> tuple[Numbers, Numbers, tuple[str, str]]:
    """Driver turn [rad] from ``turn`` to the nearest toggle in opening and in closing direction."""
    ahead, behind = np.full(np.shape(turn), np.inf), np.full(np.shape(turn), np.inf)
    names = ["", ""]
    for place in toggles:
        away = np.asarray(train.opens)[..., None] * (place.driver - np.asarray(turn)[..., None])
        up = np.nan_to_num(np.mod(away, _TURN), nan=np.inf).min(axis=-1)
        down = np.nan_to_num(np.mod(-away, _TURN), nan=np.inf).min(axis=-1)
        if np.ndim(up) == 0:
            names = [place.link if up < ahead else names[0], place.link if down < behind else names[1]]
        ahead, behind = np.minimum(ahead, up), np.minimum(behind, down)
    return ahead, behind, (names[0], names[1])


def _unstopped(train: Train, behind: Numbers) -> Numbers:
    """Closing end where no closing stop is met: the toggle, if every shaft closes as far as that, else as drawn."""
    at = _inside(train, np.where(np.isfinite(behind), -behind, 0.0), 1.0)
    pose = walk(train, (np.cos(train.opens * at), np.sin(train.opens * at)))
    rates = gains(train, pose)
    closes: Numbers = True
    for name, shaft in train.rig.shaft.items():
        closed = SIGN[shaft.opens] * (train.drawn[name] - turn_near(pose[name], train.drawn[name]))
        closes = closes & (closed > 0.0) & (SIGN[shaft.opens] * train.opens * rates[name][0] > 0.0)
    return np.where(closes, at, 0.0)


def _inside(train: Train, turn: Numbers, step: Numbers) -> Numbers:
    """Move an end of the travel off its toggle by the least that lets every link reach."""
    out = np.asarray(turn, float)
    for size in 10.0 ** np.arange(-14.0, -5.0):
        pose = walk(train, (np.cos(train.opens * out), np.sin(train.opens * out)))
        bad = np.isnan(sum(p[0] for p in pose.values()))
        if not np.any(bad):
            break
        out = np.where(bad, turn + step * size, out)
    return out
