"""Where a fit to bench readings begins: the drawing, and the turns at which it would read about the same."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from linkage.motion import Motion
from linkage.search.expected import Expected
from linkage.search.readings import Reading

Floats = NDArray[np.float64]

_BEYOND = 0.25  # of the travel, past either end, that a reading is looked for
_GRID = 121
_PLATE, _GAP, _POSITION, _STOP = range(4)  # what tells a turn, the best first


def first_guess(expected: Expected) -> Floats:
    """The unknowns to begin with."""
    u, run = np.zeros(expected.size), expected.run
    first, last = run.ends
    grid = run.at(np.linspace(first - _BEYOND * (last - first), last + _BEYOND * (last - first), _GRID))
    told: dict[int, tuple[int, float]] = {} if expected.rest < 0 else {expected.rest: (_STOP, first)}
    for r in expected.used:
        index, best = expected.turn_of[r.row], _turn(expected, r, grid)
        if best is not None and (index not in told or best[0] < told[index][0]):
            told[index] = best
    for row, index in zip(expected.readings.rows, expected.turn_of, strict=True):
        if row.at:
            told.setdefault(index, (_STOP, first if row.at == "closing" else last))
    turns = np.array([told[i][1] if i in told else 0.5 * (first + last) for i in range(expected.turns)])
    u[expected.first_turn : expected.first_scale] = turns
    plates = run.at(turns).plate_angle
    for i, row_index in enumerate(expected.flow_rows):
        here = [r for r in expected.used if r.row == row_index and r.what == "flow"]
        area = sum(expected.area(r.shaft, float(plates[r.shaft][expected.turn_of[row_index]])) for r in here)
        u[expected.first_scale + i] = np.log(max(sum(r.value for r in here), 1e-3) / max(area, 1e-3))
    return u


def _turn(expected: Expected, r: Reading, grid: Motion) -> tuple[int, float] | None:
    """What kind of teller a reading is, and the driver turn [deg] that it tells."""
    run = expected.run
    if r.what == "flow":
        return None
    if r.what in ("plate", "gap"):
        plate, value = grid.plate_angle[r.shaft], r.value
        if r.what == "gap":
            bore, shut = expected.bore(r.shaft)
            cos = (1.0 - 2.0 * value / bore) * np.cos(np.radians(shut))
            value = float(np.degrees(np.arccos(np.clip(cos, 0.0, 1.0))))
        known = np.isfinite(plate)
        order = np.argsort(plate[known], kind="stable")
        turn = np.interp(value, plate[known][order], grid.turn[known][order])
        return _PLATE if r.what == "plate" else _GAP, float(turn)
    if r.what == "turn":
        return _POSITION, run.ends[0] + r.value
    share, dims = r.value, run.train.dims
    if r.what != "travel":
        taken = r.value if r.what == "cable" else r.value / dims["pedal.ratio"] - dims["cable.free_play"]
        share = float(taken) / expected.total if expected.total else 0.5
    return _POSITION, float(run.turn_at_fraction(float(np.clip(share, 0.0, 1.0)))[0])
