"""Sensitivities: degrees of plate, stop gap and mm of cable per mm or degree of every built dimension.

From what each dimension adds to the members' turns (:mod:`linkage.answers.dimension_errors`). The
stops then shift the driver. The closing end lies where the stop that holds still holds, so
``d(end) = - d(turn of the held member) / (its speed)``, and likewise the opening end. A position
in between keeps its share of the driver's travel between the two.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.answers.dimension_errors import Dimension, built_dimensions, end_shift, member_turns, pin_moves
from linkage.motion import Motion, PinCable, QuadrantCable, SnailCable, StopPlace
from linkage.motion.assembly import arm_frame
from linkage.parts import SIGN
from linkage.train import split_pin

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Sensitivities:
    """Sensitivities to D ``dimensions`` at the n positions of a motion, per mm or per degree of each.

    ``plate_angle`` [deg] has the driver turn held, ``between_stops`` [deg] the share of the driver's
    travel, shape (D, n) for every shaft. ``ends`` [deg] is the driver turn at the closing and at the
    opening end, shape (D, 2); ``stop_gaps`` [deg] every stop's gap, measured at the end of the travel
    on its side, shape (D,); ``cable`` [mm] the cable travel between the ends, shape (D,), None
    without a cable. ``pick_ups`` [deg] is the driver turn at which each slack joint is taken up,
    shape (D,). An end that no stop holds stays where it is.
    """

    dimensions: tuple[Dimension, ...]
    plate_angle: Mapping[str, Floats]
    between_stops: Mapping[str, Floats]
    ends: Floats
    stop_gaps: Mapping[str, Floats]
    cable: Floats | None
    pick_ups: Mapping[str, Floats]


@np.errstate(invalid="ignore")  # without bound at a dead point
def sensitivities(run: Motion) -> Sensitivities:
    """Sensitivities of a motion at its positions; at one turn, give ``run.at(turn)``.

    Parameters
    ----------
    run : Motion

    Returns
    -------
    Sensitivities

    References
    ----------
    See the head of this module.
    """
    listed = built_dimensions(run.train)
    first, last = run.ends
    shifts = [end_shift(run, _holder(run, 0)), end_shift(run, _holder(run, 1))]
    turned = member_turns(run)
    plate = {name: SIGN[shaft.opens] * turned[name] for name, shaft in run.rig.shaft.items()}
    share = np.nan_to_num((run.turn - first) / (last - first)) if last != first else np.zeros_like(run.turn)
    moved = np.outer(shifts[0], 1.0 - share) + np.outer(shifts[1], share)
    return Sensitivities(
        dimensions=listed,
        plate_angle=plate,
        between_stops={name: plate[name] + run.plate_speed[name] * moved for name in plate},
        ends=np.stack(shifts, axis=-1),
        stop_gaps={stop.name: _gap(run, stop, shifts) for stop in run.travel.stops},
        cable=_cable(run, listed, shifts),
        pick_ups={name: _pick_up(run, name) for name in run.pick_up},
    )


def ranked(run: Motion, turn: float | None = None) -> dict[str, float]:
    """How each dimension moves the mismatch at a driver turn [deg], by default at the closing end.

    Parameters
    ----------
    run : Motion
    turn : float, optional
        Driver turn [deg].

    Returns
    -------
    dict of str to float
        Degrees of mismatch per mm or per degree, largest first, between the two shafts that stand
        furthest apart there (of shafts that agree: the two that the dimensions part most). The sign
        is that of the first-named of the two less the other.
    """
    at = run.at(run.ends[0] if turn is None else turn)
    found, angle = sensitivities(at), at.plate_angle
    names = list(angle)
    apart = {
        (a, b): (float(angle[a][0] - angle[b][0]), found.between_stops[a][:, 0] - found.between_stops[b][:, 0])
        for i, a in enumerate(names)
        for b in names[i + 1 :]
    }
    if not apart:
        return {}
    _, row = max(apart.values(), key=lambda pair: (round(abs(pair[0]), 6), float(np.linalg.norm(pair[1]))))
    order = np.argsort(-np.abs(row), kind="stable")
    return {found.dimensions[i].path: float(row[i]) for i in order}


def _pick_up(run: Motion, name: str) -> Floats:
    """Shift of the driver turn [deg] at which a slack joint is taken up; ``nan`` where it never is."""
    turn = run.pick_up[name]
    if turn not in run.kinks:
        return np.full(len(built_dimensions(run.train)), np.nan)
    member = next(j for j in run.train.joints if j.step.by.name == name.partition(".")[2] and j.slack).step.driven
    pieces = itertools.pairwise(run.pieces())
    either = run.at(next([end, begin] for (_, end), (begin, _) in pieces if abs(end - turn) < abs(begin - end)))
    resting, borne = member_turns(either)[member].T
    return np.asarray((resting - borne) / either.speed[member][1])


def _holder(run: Motion, end: int) -> StopPlace | None:
    index = int((run.travel.closing_holds, run.travel.opening_holds)[end])
    return run.travel.stops[index] if index >= 0 else None


def _gap(run: Motion, stop: StopPlace, shifts: list[Floats]) -> Floats:
    """Change of a stop's gap [deg] at the end on its side; see :mod:`linkage.answers.stops` for its sign."""
    end = 0 if stop.limits == "closing" else 1
    at = run.at(run.ends[end])
    turned = member_turns(at)[stop.member][:, 0] + at.speed[stop.member][0] * shifts[end]
    if stop.member in run.rig.shaft:
        opening = SIGN[run.rig.shaft[stop.member].opens]
    else:
        with_train = run.train.opens * (at.speed[stop.member][0] or run.train.sense[stop.member])
        opening = float(np.sign(with_train)) or 1.0
    return np.asarray(opening * turned if end == 0 else -opening * turned)


def _cable(run: Motion, listed: tuple[Dimension, ...], shifts: list[Floats]) -> Floats | None:
    """Change of the cable travel between the ends [mm]."""
    line, cable = run.line, run.rig.cable
    if line is None or cable is None:
        return None
    at = run.at(run.ends)
    assert at.cable is not None
    assert at.cable_arm is not None
    arm = np.radians(at.cable_arm)
    found = arm[1] * shifts[1] - arm[0] * shifts[0]
    if isinstance(line, QuadrantCable):
        per_mm = at.cable[1] / line.reach * SIGN[cable.pull_turns or "ccw"]
        return np.asarray(found + np.array([per_mm if d.path == "cable.radius" else 0.0 for d in listed]))
    if isinstance(line, SnailCable):
        first, last = np.radians(run.ends)
        per = {f"cable.profile.{name}.moment_arm": by[0] for name, by in line.by_arms(last, first).items()}
        return np.asarray(found + np.array([per.get(d.path, 0.0) for d in listed]))
    return np.asarray(found + _run(at, line, listed, 0) - _run(at, line, listed, 1))


def _run(at: Motion, line: PinCable, listed: tuple[Dimension, ...], end: int) -> Floats:
    """Change of the free run of a cable on a pin [mm], the driver held."""
    assert at.rig.cable is not None
    member, name = split_pin(at.rig.cable.pulls or "")
    c, s = (float(x[end]) for x in at.pose[member])
    frame = arm_frame(at.rig, at.train.dims, member, name)
    pin = closure.pin(frame, c, s)
    along = closure.minus(line.casing.centre, pin)
    size = np.sqrt(closure.dot(along, along))
    out = closure.minus(pin, frame.centre)
    radius, angle, centre = pin_moves(at.train, listed, member, name, frame)
    by_radius = closure.dot(along, out) / frame.r
    by_angle = closure.dot(along, closure.tangent(frame, c, s))
    moved = radius * by_radius + angle * by_angle + centre @ np.array(along, float)
    for i, dimension in enumerate(listed):
        if dimension.path.startswith("cable.casing_end."):
            moved[i] -= along["xyz".index(dimension.path[-1])]
    return np.asarray(-moved / size)
