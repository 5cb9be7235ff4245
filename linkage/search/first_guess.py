"""Where a fit to bench readings begins: the drawing, at the turns at which it would read the same.

The turns come by the closure run backwards from the plates, or by the position; where neither tells
one, it is the stop, or the middle of the travel.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from linkage.motion import driver_turn
from linkage.parts import SIGN
from linkage.search.expected import Expected
from linkage.search.readings import Reading

Floats = NDArray[np.float64]

_PLATE, _GAP, _POSITION, _STOP = range(4)  # what tells a turn, the best first


def first_guess(expected: Expected) -> Floats:
    """The unknowns to begin with."""
    u, run = np.zeros(expected.size), expected.run
    first, last = run.ends
    told: dict[int, tuple[int, float]] = {} if expected.rest < 0 else {expected.rest: (_STOP, first)}
    for r in expected.used:
        index, best = expected.turn_of[r.row], _turn(expected, r)
        if best is not None and (index not in told or best[0] < told[index][0]):
            told[index] = best
    for row, index in zip(expected.readings.rows, expected.turn_of, strict=True):
        if row.at:
            told.setdefault(index, (_STOP, first if row.at == "closing" else last))
    turns = np.array([told[i][1] if i in told else 0.5 * (first + last) for i in range(expected.turns)])
    u[expected.first_turn : expected.first_scale] = turns
    for i, row_index in enumerate(expected.flow_rows):
        plates = run.at(turns[expected.turn_of[row_index]]).plate_angle
        here = [r for r in expected.used if r.row == row_index and r.what == "flow"]
        area = sum(expected.area(r.shaft, float(plates[r.shaft][0])) for r in here)
        u[expected.first_scale + i] = np.log(max(sum(r.value for r in here), 1e-3) / max(area, 1e-3))
    return u


def _turn(expected: Expected, r: Reading) -> tuple[int, float] | None:
    """What kind of teller a reading is, and the driver turn [deg] that it tells."""
    run = expected.run
    if r.what == "flow":
        return None
    if r.what in ("plate", "gap"):
        return _by_plate(expected, r)
    if r.what == "turn":
        return _POSITION, run.ends[0] + r.value
    share, foot = r.value, run.pedal_line
    if r.what != "travel":
        if r.what == "pedal" and foot is not None:
            return _POSITION, float(run.turn_at_moved(foot.moved_at(r.value))[0])
        taken = r.value
        share = float(taken) / expected.total if expected.total else 0.5
    return _POSITION, float(run.turn_at_fraction(float(np.clip(share, 0.0, 1.0)))[0])


def _by_plate(expected: Expected, r: Reading) -> tuple[int, float] | None:
    run, shaft = expected.run, expected.rig.shaft[r.shaft]
    plate = r.value
    if r.what == "gap":
        bore, shut = expected.bore(r.shaft)
        cos = (1.0 - 2.0 * r.value / bore) * np.cos(np.radians(shut))
        plate = float(np.degrees(np.arccos(np.clip(cos, 0.0, 1.0))))
    turn = np.radians(SIGN[shaft.opens] * (plate - shaft.plate_angle.idle))
    found = float(np.degrees(driver_turn(run.train, r.shaft, turn)))
    if not np.isfinite(found):  # the drawing does not open as far
        found = run.ends[0] if plate < 0.5 * (shaft.plate_angle.idle + shaft.plate_angle.wide_open) else run.ends[1]
    return _PLATE if r.what == "plate" else _GAP, found
