"""Where the travel begins and ends: stops and toggles, each carried back to the driver by closure.

The train moves as one, so the first closing stop met ends the closing and the first opening stop
met ends the opening. No search: every stop is the closure run backwards, every toggle a root of a
trigonometric polynomial.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from linkage import closure
from linkage.closure import Numbers
from linkage.motion.assembly import Joint, Pose, Train, carry, carry_back, walk
from linkage.parts import SIGN

_SAME = 1e-9  # [rad] stops nearer than this hold together; the first-named is reported
_TURN = 2.0 * np.pi


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

    ``closing_holds`` and ``opening_holds`` index ``stops`` (-1: no stop, the train comes to a toggle
    or the far side first). ``before_toggle`` is the driver turn [rad] left beyond each end to the
    nearest toggle, ``inf`` where there is none; ``toggle_links`` names that link for a single linkage.
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
    """Driver turn [rad], in (-pi, pi], at which a member has turned by ``turn`` [rad]; ``nan``: never.

    On the drawn side of every dead centre on the way.
    """
    if member == train.driver:
        return turn
    pose: Pose = (np.cos(turn), np.sin(turn))
    with np.errstate(invalid="ignore", divide="ignore"):
        for joint in reversed(train.path_to(member)):
            pose = carry_back(joint, pose)
    return np.arctan2(pose[1], pose[0])


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
    """Carry member turns (..., k) back along a path by every combination of branches; keep the true ones."""
    if not path:
        return turn
    wanted = (np.cos(turn), np.sin(turn))
    candidates = []
    for signs in itertools.product((1.0, -1.0), repeat=min(len(path), 8)):
        pose = wanted
        with np.errstate(invalid="ignore", divide="ignore"):
            for joint, sign in zip(reversed(path), (*signs, *(1.0,) * (len(path) - len(signs))), strict=True):
                pose = _back_last_axis(joint, pose, sign)
            there = pose
            for joint in path:
                there = _forward_last_axis(joint, there)
        true = np.hypot(there[0] - wanted[0], there[1] - wanted[1]) < 1e-6
        candidates.append(np.where(true, np.arctan2(pose[1], pose[0]), np.nan))
    return np.concatenate(candidates, axis=-1)


def _lifted(numbers: Numbers) -> Numbers:
    return np.asarray(numbers)[..., None] if np.ndim(numbers) else numbers


def _lift(joint: Joint) -> Joint:
    """The joint with a last axis of length one, to meet the several toggles of a link."""
    forward = joint.forward and closure.Loop(*(_lifted(x) for x in joint.forward))
    backward = joint.backward and closure.Loop(*(_lifted(x) for x in joint.backward))
    return Joint(joint.step, _lifted(joint.ratio), _lifted(joint.offset), forward=forward, backward=backward)


def _back_last_axis(joint: Joint, pose: Pose, sign: float) -> Pose:
    return carry_back(_lift(joint), pose, branch=sign)


def _forward_last_axis(joint: Joint, pose: Pose) -> Pose:
    return carry(_lift(joint), pose)


def find_travel(train: Train) -> Travel:
    """Work out both ends of the travel of an assembled train."""
    sense = train.opens
    stops = tuple(
        StopPlace(name, member, limits, turn, driver_turn(train, member, turn))
        for name, member, limits, turn in stop_turns(train)
    )
    lows, highs = _bounds(train, stops)
    toggles = toggle_places(train)
    ahead, behind, _ = _nearest_toggles(train, toggles, 0.0)
    with np.errstate(invalid="ignore"):
        low, low_by = _tightest(lows, np.maximum)
        high, high_by = _tightest(highs, np.minimum)
        low_toggled, high_toggled = -behind > low, ahead < high
        low = np.where(low_toggled, -behind, low)
        high = np.where(high_toggled, ahead, high)
        low = np.where(np.isfinite(low), low, 0.0)
        high = np.where(np.isfinite(high), high, np.pi)
        high = np.maximum(high, low)
    # a toggle itself is on the edge of the reachable: stand a hair inside it
    low = np.where(low_toggled, _inside(train, low, +1.0), low)
    high = np.where(high_toggled, _inside(train, high, -1.0), high)
    after_opening, _, opening_links = _nearest_toggles(train, toggles, sense * high)
    _, after_closing, closing_links = _nearest_toggles(train, toggles, sense * low)
    return Travel(
        closing=(sense * low)[()],
        opening=(sense * high)[()],
        closing_holds=np.where(low_toggled, -1, low_by)[()],
        opening_holds=np.where(high_toggled, -1, high_by)[()],
        stops=stops,
        toggles=toggles,
        before_toggle=(after_closing, after_opening),
        toggle_links=(closing_links[1], opening_links[0]),
    )


def _bounds(train: Train, stops: tuple[StopPlace, ...]) -> tuple[list[tuple[int, Numbers]], list[tuple[int, Numbers]]]:
    """Stops as lower and upper bounds of the driver's opening turn [rad].

    A shaft that turns the wrong way meets its closing stop while the others open, and the reverse.
    """
    lows: list[tuple[int, Numbers]] = []
    highs: list[tuple[int, Numbers]] = []
    closed_at: dict[str, Numbers] = {}
    for i, stop in enumerate(stops):
        at = train.opens * stop.driver
        if stop.member not in train.shaft_opens:
            (lows if stop.limits == "closing" else highs).append((i, at))
            continue
        right_way = train.shaft_opens[stop.member] == train.opens
        if stop.name == f"{stop.member}.idle":
            closed_at[stop.member] = at
        elif stop.limits == "opening" and stop.member != train.driver:
            # more than half a turn of the driver from the closing stop: unwrap
            at = np.where(right_way & (at < closed_at[stop.member]), at + _TURN, at)
        closes = right_way if stop.limits == "closing" else ~np.asarray(right_way)
        lows.append((i, np.where(closes, at, -np.inf)))
        highs.append((i, np.where(closes, np.inf, at)))
    return lows, highs


def _tightest(bounds: list[tuple[int, Numbers]], pick: np.ufunc) -> tuple[Numbers, Numbers]:
    """The tightest bound and the index of the first-named stop that sets it; ``nan`` bounds never bind."""
    slack = -np.inf if pick is np.maximum else np.inf
    values = [np.where(np.isnan(at), slack, at) for _, at in bounds]
    best = np.asarray(slack)
    for value in values:
        best = pick(best, value)
    index = np.full(np.shape(best), -1)
    for (i, _), value in zip(reversed(bounds), reversed(values), strict=True):
        index = np.where(np.isfinite(value) & (np.abs(value - best) <= _SAME), i, index)
    return best, index


def _nearest_toggles(
    train: Train, toggles: tuple[TogglePlace, ...], turn: Numbers
) -> tuple[Numbers, Numbers, tuple[str, str]]:
    """Driver turn [rad] from ``turn`` to the nearest toggle in opening and in closing direction."""
    ahead, behind = np.full(np.shape(turn), np.inf), np.full(np.shape(turn), np.inf)
    names = ["", ""]
    for place in toggles:
        away = train.opens * (np.moveaxis(np.asarray(place.driver), -1, 0) - turn)
        up = np.nan_to_num(np.mod(away, _TURN), nan=np.inf).min(axis=0)
        down = np.nan_to_num(np.mod(-away, _TURN), nan=np.inf).min(axis=0)
        if np.ndim(up) == 0:
            names = [place.link if up < ahead else names[0], place.link if down < behind else names[1]]
        ahead, behind = np.minimum(ahead, up), np.minimum(behind, down)
    return ahead, behind, (names[0], names[1])


def _inside(train: Train, turn: Numbers, step: float) -> Numbers:
    """Move an end of the travel off its toggle by the least that lets every link reach."""
    out = np.asarray(turn, float)
    for size in 10.0 ** np.arange(-14.0, -5.0):
        pose = walk(train, (np.cos(train.opens * out), np.sin(train.opens * out)))
        bad = np.isnan(sum(p[0] for p in pose.values()))
        if not np.any(bad):
            break
        out = np.where(bad, turn + step * size, out)
    return out
