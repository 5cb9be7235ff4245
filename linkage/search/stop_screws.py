"""What the stop screws want once the links are set: idle as drawn, and wide open as drawn."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from linkage.answers.stops import stops
from linkage.motion import Motion, driver_turn
from linkage.parts import SIGN, Screw, Stop
from linkage.search.estimate import Estimate


@dataclass(frozen=True)
class ScrewTurn:
    """A stop screw: its shaft or bell crank ``on`` stands ``now`` and is ``wanted`` at [deg].

    Of a shaft these are plate angles, of a bell crank turns from drawn, of a block that slides travels [mm];
    ``now`` is None where nothing was read at that stop, ``within`` its uncertainty. ``turns`` of the screw,
    positive in (None: not known).
    """

    name: str
    on: str
    side: Literal["closing", "opening"]
    now: float | None
    within: float | None
    wanted: float
    turns: float | None


def stop_screws(found: Estimate, adjusted: Motion) -> tuple[ScrewTurn, ...]:
    """What every idle stop screw, and the screw that holds wide open, wants.

    Idle is to be as drawn on every shaft. Wide open, the plate that opens furthest is to come as far as it
    does on the drawing.
    """
    run, done = found.expected.run, []
    for name, stop in run.rig.stop.items():
        if stop.screw is not None and stop.limits == "closing" and stop.on in run.rig.shaft:
            done.append(_idle(found, name, stop, stop.screw))
    holds = stops(run).opening.holds
    last = run.rig.stop.get(holds or "")
    if last is not None and last.screw is not None:
        done.append(_wide_open(found, adjusted, last, last.screw))
    return tuple(done)


def _idle(found: Estimate, name: str, stop: Stop, screw: Screw) -> ScrewTurn:
    wanted = float(found.expected.run.train.dims[f"stop.{name}.plate_angle"])
    now = within = turns = None
    rows = found.expected.readings.rows
    for i, r in enumerate(found.expected.used):
        if rows[r.row].at == "closing" and r.shaft == stop.on and r.what == "plate":
            zeros = found.expected.zeros
            if stop.on in zeros:
                continue
            now, within = float(found.fitted[i]), float(found.fitted_within[i])
            turns = math.radians(wanted - now) * screw.radius / screw.pitch
            break
    return ScrewTurn(name, stop.on, "closing", now, within, wanted, turns)


def _wide_open(found: Estimate, adjusted: Motion, stop: Stop, screw: Screw) -> ScrewTurn:
    run = found.expected.run
    widest = max(float(angle[0]) for angle in run.at(run.ends[1]).plate_angle.values())
    opens = float(adjusted.train.opens)
    turns = []
    for name, part in adjusted.rig.shaft.items():
        turn = np.radians(SIGN[part.opens] * (widest - part.plate_angle.idle))
        turns.append(float(np.degrees(driver_turn(adjusted.train, name, turn))))
    reached = [t for t in turns if math.isfinite(t)]
    first = min(reached, key=lambda t: opens * t) if reached else adjusted.ends[1]
    at = adjusted.at(first)
    shaft = run.rig.shaft.get(stop.on)
    wanted = float(at.member_turn[stop.on][0] if shaft is None else at.plate_angle[stop.on][0])
    now = None
    for i, row in enumerate(found.expected.readings.rows):
        if row.at == "opening" and math.isfinite(found.turn[i]):
            there = run.at(found.turn[i])
            now = float(there.member_turn[stop.on][0]) if stop.on == run.rig.driver else None
    opening = opens * float(np.sign(adjusted.at(first).speed[stop.on][0])) if shaft is None else 1.0
    moved = None if now is None else opening * (now - wanted)
    at_screw = 0.0 if moved is None else moved if run.train.slides(stop.on) else math.radians(moved) * screw.radius
    in_by = None if moved is None else at_screw / screw.pitch
    return ScrewTurn(stop.name, stop.on, "opening", now, None, wanted, in_by)
