r"""Rocking: what the engine's roll in its mounts does to the throttles.

::

      plate angle per degree of roll      first order, from the velocities of everything on the body
      plates at + and - the stated roll   exact: the linkage put together anew, every size kept
      lift at idle                        exact, foot off: the stops hold, and the cable's free play
                                          gives way before it pulls a plate off its stop

A link between engine and body hands on only that part of the rocking motion that lies along it: one
that stands square to the motion is immune to first order, and what is left grows with the square of
the roll. A cable whose casing ends on the part that carries the driver is immune altogether.

The motion is slow and the parts are rigid; springs and the casing itself take no part.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linkage import closure
from linkage.answers import extremes
from linkage.answers.checks import Check, Word, percent
from linkage.answers.extremes import Extreme
from linkage.answers.rolled import (
    cable_drift,
    crosses,
    drift,
    held,
    on_body,
    plates,
    pulled_member,
    rates,
    rolled,
)
from linkage.answers.rolled_rest import at_rest
from linkage.motion import Motion, Train, walk
from linkage.parts import Linkage

Floats = NDArray[np.float64]

#: a throttle that the roll opens by more than this [deg] with the foot off runs away with the engine;
#: common practice, no source
OPENED = 2.0

_NOTHING = 1e-9  # [deg] a plate that moves less has not moved: rounding
_SIDES = (1.0, -1.0)

Rollings = tuple[tuple[Train, float], ...]


@dataclass(frozen=True, eq=False)
class Bridge:
    """A link or the cable between engine and body; arrays over the positions.

    ``motion`` [mm] is how far its one end moves against the other per degree of roll, ``along`` the
    part of that along it (the rest swings it and does nothing to first order), ``angle`` [deg] between
    the two: 90 is immune. ``on_body`` names what stands on the body there.
    """

    name: str
    on_body: str
    motion: Floats
    along: Floats
    angle: Floats


@dataclass(frozen=True, eq=False)
class RockingReport:
    """What the roll does; arrays over the positions, mappings by shaft.

    ``rate`` [deg/deg] is the plate angle per degree of roll, the pedal held. ``moved`` [deg] is what each
    plate moves at + and - the stated roll, exact, and ``mismatch`` [deg] how far the plates then stand
    apart; ``nan`` where a link cannot reach. ``largest`` is the largest move of a plate over the travel, at
    either roll, ``most`` names that shaft, and ``mismatch_moved`` the most that the mismatch grows.
    ``lifts`` [deg] is how far each plate is opened at idle with the foot off, at + and - the roll; below 0 it
    is let further shut. ``immune`` says that no plate moves, ``why`` gives the reason, or the first-order
    one. ``jams`` says where the rolled linkage does not reach.
    """

    degrees: float
    rate: Mapping[str, Floats]
    moved: tuple[Mapping[str, Floats], Mapping[str, Floats]]
    mismatch: tuple[Floats, Floats]
    largest: Mapping[str, Extreme]
    most: str
    mismatch_moved: Extreme
    lifts: tuple[Mapping[str, float], Mapping[str, float]]
    bridges: tuple[Bridge, ...]
    immune: bool
    why: str
    jams: str = ""

    @property
    def lift(self) -> tuple[str, float]:
        """The shaft that is opened most at idle, and by how much [deg]."""
        both = [(name, by) for side in self.lifts for name, by in side.items()]
        return max(both, key=lambda item: round(np.nan_to_num(item[1], nan=1e9), 9), default=("", 0.0))


def lacks(rig: Linkage) -> str:
    """What to add to the design file for this answer, in one sentence; "" where nothing lacks."""
    if rig.rocking is None:
        return (
            "Rocking of the engine is not judged: add a [rocking] table with a point of the axis that it rolls about "
            '(axis), and mounted = "body" to what stands on the body of the car.'
        )
    cable = rig.cable
    if cable is not None and cable.quadrant is not None and crosses(rig):
        if cable.radius is None:
            return "Rocking is not told of a snail quadrant whose casing ends on the other of engine and body."
        if cable.casing_end is None:
            return "Rocking needs casing_end in [cable]: the quadrant and its casing end stand on engine and body."
    return ""


def rocking(run: Motion) -> RockingReport | None:
    """What the engine's roll does to a solved motion; None where :func:`lacks` says why.

    Parameters
    ----------
    run : Motion
        Of the drawing; its fitted links are built as the drawing fits them.

    Returns
    -------
    RockingReport or None

    Examples
    --------
    >>> import linkage
    >>> run = linkage.solve(linkage.read("demo/body_mounted.toml"))  # doctest: +SKIP
    >>> rocking(run).lift  # doctest: +SKIP
    """
    rig = run.rig
    if lacks(rig) or rig.rocking is None:
        return None
    degrees = rig.rocking.degrees
    bridges, rate = _bridges(run), plate_rates(run)
    trains = tuple((rolled(run, side * degrees), side * degrees) for side in _SIDES)
    there = [rolled_plates(run, *rolling) for rolling in trains]
    moved = [{name: angle - run.plate_angle[name] for name, angle in angles.items()} for angles in there]
    largest = {name: _largest(run, trains, name) for name in rig.shaft}
    known = {name: at for name, at in largest.items() if not np.isnan(at.value)}
    most = max(known, key=lambda name: round(abs(known[name].value), 9), default="")
    jams = _lost(run, trains)
    immune = bool(known) and abs(known[most].value) < _NOTHING and not jams
    return RockingReport(
        degrees, rate, (moved[0], moved[1]), (_spread(there[0]), _spread(there[1])), largest, most,
        _mismatch_moved(run, trains), (_lifts(run, *trains[0]), _lifts(run, *trains[1])),
        bridges, immune, _why(run, bridges, rate, immune), jams,
    )  # fmt: skip


def plate_rates(run: Motion) -> dict[str, Floats]:
    """Plate angle of every shaft per degree of roll, the pedal held [deg/deg], shape (n,) each."""
    found, opens = rates(run), {name: 1.0 if s.opens == "ccw" else -1.0 for name, s in run.rig.shaft.items()}
    return {name: np.asarray(opens[name] * found[name]) for name in run.rig.shaft}


def rolled_plates(run: Motion, there: Train, degrees: float) -> dict[str, Floats]:
    """Plate angles [deg] of the rolled train with the pedal held as at the positions of ``run``, shape (n,) each."""
    with np.errstate(invalid="ignore"):
        return plates(run, walk(there, held(run, degrees)))


def _spread(angles: Mapping[str, Floats]) -> Floats:
    every = np.stack(list(angles.values()))
    return np.asarray(np.max(every, axis=0) - np.min(every, axis=0))


def _largest(run: Motion, trains: Rollings, shaft: str) -> Extreme:
    """The largest move of a plate over the travel, with its sign, at either roll."""
    found = []
    for train, degrees in trains:

        def moved(at: Motion, train: Train = train, degrees: float = degrees) -> Floats:
            return np.asarray(rolled_plates(at, train, degrees)[shaft] - at.plate_angle[shaft])

        found += [extremes.highest(run, moved), extremes.lowest(run, moved)]
    known = [at for at in found if not np.isnan(at.value)]
    return max(known, key=lambda at: abs(at.value), default=found[0])


def _mismatch_moved(run: Motion, trains: Rollings) -> Extreme:
    found = []
    for train, degrees in trains:

        def grown(at: Motion, train: Train = train, degrees: float = degrees) -> Floats:
            return np.asarray(_spread(rolled_plates(at, train, degrees)) - _spread(at.plate_angle))

        found.append(extremes.highest(run, grown))
    known = [at for at in found if not np.isnan(at.value)]
    return max(known, key=lambda at: at.value, default=found[0])


def _lost(run: Motion, trains: Rollings) -> str:
    """Where the rolled train does not reach every position that the pedal can ask for; "" where it does."""
    fine = run.at(np.linspace(*run.ends, 181))
    for train, degrees in trains:
        with np.errstate(invalid="ignore"):
            pose = walk(train, held(fine, degrees))
        for name in (run.rig.driver, *(joint.step.driven for joint in train.joints)):
            bad = np.isnan(pose[name][0] + 0.0 * fine.turn)
            if np.any(bad):
                by = next((joint.step.by.name for joint in train.joints if joint.step.driven == name), "")
                what = f'link "{by}"' if by else "the cable"
                at = percent(float(fine.fraction[int(np.argmax(bad))]))
                return f"rolled by {degrees:+g} degrees, {what} does not reach at {at}"
    return ""


def _lifts(run: Motion, there: Train, degrees: float) -> dict[str, float]:
    """How far each plate is opened at idle, foot off [deg]."""
    idle = run.at(run.ends[0])
    with np.errstate(invalid="ignore"):
        lifted = plates(idle, walk(there, there.pose(np.array([at_rest(run, there, degrees)]))))
    found = {name: float(angle[0] - idle.plate_angle[name][0]) for name, angle in lifted.items()}
    return {name: 0.0 if abs(by) < _NOTHING else by for name, by in found.items()}


def _bridges(run: Motion) -> tuple[Bridge, ...]:
    """The cable and the links between engine and body, in driving order."""
    rig, found = run.rig, []
    assert rig.rocking is not None
    cable = cable_drift(run) if crosses(rig) else None
    if cable is not None and rig.cable is not None:
        body = "the casing end" if rig.cable.mounted == "body" else f'"{rig.driver}"'
        found.append(_bridge("the cable", body, *cable, run))
    for joint in run.train.joints:
        driving, driven = joint.step.driving, joint.step.driven
        if joint.driving is None or joint.driven is None or on_body(rig, driving) == on_body(rig, driven):
            continue
        p, q = closure.pin(joint.driving, *run.pose[driving]), closure.pin(joint.driven, *run.pose[driven])
        one = drift(rig.rocking, p, body=on_body(rig, driving))
        two = drift(rig.rocking, q, body=on_body(rig, driven))
        out = closure.minus(p, q)
        size = np.sqrt(closure.dot(out, out))
        line = (out[0] / size, out[1] / size, out[2] / size)
        body = f'"{driving if on_body(rig, driving) else driven}"'
        found.append(_bridge(f'link "{joint.step.by.name}"', body, line, closure.minus(one, two), run))
    return tuple(found)


def _bridge(name: str, body: str, line: closure.Vector, moves: closure.Vector, run: Motion) -> Bridge:
    per_degree = np.radians(1.0) * np.ones_like(run.turn)
    size = np.sqrt(closure.dot(moves, moves))
    along = closure.dot(line, moves)
    with np.errstate(invalid="ignore", divide="ignore"):
        angle = np.degrees(np.arccos(np.clip(np.where(size > 0.0, np.abs(along) / size, 0.0), 0.0, 1.0)))
    return Bridge(
        name, body, np.asarray(size * per_degree), np.asarray(along * per_degree), angle * np.ones_like(run.turn)
    )


def _why(run: Motion, bridges: tuple[Bridge, ...], rate: Mapping[str, Floats], immune: bool) -> str:
    """Why no plate moves, or why none moves to first order; "" where they do."""
    rig = run.rig
    if immune and not bridges:
        if rig.cable is not None:
            where = rig.cable.mounted
            return (
                f'the casing ends on the {where}, which carries "{rig.driver}" and all that it drives: the run of '
                f'inner cable to "{pulled_member(rig)}" stays as it is, and only the casing bends'
            )
        return f'nothing stands between engine and body: what turns "{rig.driver}" rides with it'
    square = [b.name for b in bridges if np.all(np.abs(b.along) < _NOTHING)]
    if square and len(square) == len(bridges):
        return f"{' and '.join(square)} stands square to the rocking motion all the way"
    if bridges and all(np.all(np.abs(curve) < _NOTHING) for curve in rate.values()):
        return "what the bridges hand on cancels"
    return ""


def checks(run: Motion, report: RockingReport | None) -> tuple[Check, ...]:
    """What the roll opens at idle, and what it moves with the pedal held, against their limits."""
    return () if report is None else tuple(_checks(run, report))


def _checks(run: Motion, report: RockingReport) -> Iterator[Check]:
    limits, by = run.rig.limits, f"{report.degrees:g} degree{'' if report.degrees == 1.0 else 's'}"
    if report.jams:
        yield Check(
            "rocking_in_travel", "fail", None, None, "deg", "",
            f"{report.jams}: the linkage locks, or drags the throttles along; {_mend(run, report)}.",
        )  # fmt: skip
    if report.lifts[0]:
        yield _at_idle(run, report, limits.rocking_at_idle, by)
    if report.jams or not report.most:
        return
    at, limit = report.largest[report.most], limits.rocking
    over = abs(at.value) > limit + _NOTHING
    if report.immune:
        says = f"the engine's roll moves no plate: {report.why}"
    else:
        grows = max(report.mismatch_moved.value, 0.0)
        says = (
            f'rolled by {by}, the engine {"opens" if at.value > 0.0 else "shuts"} shaft "{report.most}" by '
            f"{abs(at.value):.2f} degrees under a foot that keeps still"
            + (f", and the plates part by {grows:.2f} more at the most" if grows >= 0.005 else "")
            + f"; up to {limit:g} is allowed"
        )
        says += f"; {_mend(run, report)}" if over else ""
    where = "" if report.immune else f'shaft "{report.most}", {percent(at.fraction)}'
    yield Check(
        "rocking_in_travel", "caution" if over else "pass", 0.0 if report.immune else abs(at.value), limit, "deg",
        where, says + ".",
    )  # fmt: skip


def _at_idle(run: Motion, report: RockingReport, limit: float, by: str) -> Check:
    name, lift = report.lift
    if np.isnan(lift):
        return Check(
            "rocking_at_idle", "fail", None, None, "deg", f'shaft "{name}"',
            f"rolled by {by}, the linkage reaches no position at idle; {_mend(run, report)}.",
        )  # fmt: skip
    value = max(lift, 0.0)
    word: Word = "fail" if value > OPENED else "caution" if value > limit + _NOTHING else "pass"
    if value < _NOTHING:
        says = f"with the foot off, no plate is opened off its idle stop by {by} of roll"
        value = 0.0
    else:
        says = f'rolled by {by}, the engine opens shaft "{name}" {value:.2f} degrees off idle with the foot off'
        says += f"; up to {limit:g} is allowed"
        says += f"; {_mend(run, report)}" if word != "pass" else ""
    return Check("rocking_at_idle", word, value, limit, "deg", f'shaft "{name}"' if value else "", says + ".")


def _mend(run: Motion, report: RockingReport) -> str:
    """What would mend it."""
    rig = run.rig
    names = [f'"{name}"' for name in rig.members if on_body(rig, name)]
    ways = []
    if names:
        ways.append(f"mount {' and '.join(names)} on the engine")
    if rig.cable is not None and rig.cable.mounted == "body":
        ways.append("end the casing on the engine" if names or not on_body(rig, rig.driver) else "")
    told = " and ".join(way for way in ways if way)
    links = [bridge.name for bridge in report.bridges if bridge.name != "the cable"]
    if links:
        told += f"{', or ' if told else ''}lead {' and '.join(links)} square to the rocking motion"
    return told or "mount all of it on the engine"


def positions(report: RockingReport) -> Iterator[tuple[str, int, Floats]]:
    """Shaft, sign of the roll, and what its plate moves [deg] over the positions, for pictures and papers."""
    for (i, side), name in itertools.product(enumerate((1, -1)), report.rate):
        yield name, side, report.moved[i][name]
