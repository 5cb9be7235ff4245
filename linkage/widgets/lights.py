"""The verdict's lights: those of the motion at every touch, the others while the hand rests.

A touch must be answered within a few hundredths of a second, so the lights of the motion come from
:func:`linkage.search.figures.figures_of`, which holds the same limits against the same figures, without
sentences. The checks in full, sentences and all, are then worked out part by part.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

import numpy as np

from linkage import turns
from linkage.answers import (
    TRIALS,
    clearance,
    faults,
    flow,
    forces,
    heat,
    joints,
    lost_motion,
    pedal,
    quadrant,
    rocking,
    staging,
    tolerance,
    twist,
    verdict,
)
from linkage.answers.cable import CABLE_REVERSED, CABLE_SWING, cable_angle, cable_report, swing
from linkage.answers.checks import Check, Word
from linkage.answers.mismatch import mismatch
from linkage.answers.one_way import resting
from linkage.answers.stops import stops
from linkage.answers.verdict import CAUTION_BAND, IDLE_LIFT, LIFTED
from linkage.motion import Motion, PinCable
from linkage.paper.lines import in_own_unit
from linkage.paper.report import AT_LEAST
from linkage.search.figures import figures_of
from linkage.train import compared

Settled = tuple[Check, ...]


def _motion(run: Motion) -> Settled:
    return verdict.motion_checks(run, mismatch(run), stops(run), cable_report(run))


#: every check of a design, a part at a time, in the order of :func:`linkage.answers.check`
PARTS: Mapping[str, Callable[[Motion], Settled]] = {
    "motion": _motion,
    "staging": lambda run: staging.checks(run, staging.staging(run)),
    "forces": lambda run: forces.checks(run, forces.forces(run)),
    "faults": lambda run: faults.checks(run, faults.faults(run)),
    "tolerance": lambda run: tolerance.checks(run, tolerance.tolerance(run, samples=TRIALS)),
    "heat": lambda run: heat.checks(run, heat.heat(run)),
    "clearance": lambda run: clearance.checks(run, clearance.clearance(run)),
    "lost_motion": lambda run: lost_motion.checks(run, lost_motion.lost_motion(run)),
    "rocking": lambda run: rocking.checks(run, rocking.rocking(run)),
    "twist": lambda run: twist.checks(run, twist.twist(run)),
    "air": lambda run: flow.checks(run, flow.air_flow(run)),
}

#: figure of :mod:`linkage.search.figures` and limit of each check that is one number against another
_HELD = {
    "mismatch_at_idle": ("mismatch_at_idle", "mismatch_at_idle"),
    "mismatch_off_idle": ("mismatch_off_idle", "mismatch_off_idle"),
    "mismatch": ("mismatch_middle", "mismatch"),
    "mismatch_at_wide_open": ("mismatch_last", "mismatch_at_wide_open"),
}


def live(run: Motion) -> Settled:
    """The checks of the motion as figures alone, in the verdict's order; their sentences are empty."""
    return tuple(_live(run))


def _live(run: Motion) -> Iterator[Check]:
    rig, limits = run.rig, run.rig.limits
    found = figures_of(run)
    unit = turns.inside(rig, rig.driver)
    wrong = [name for name, sense in run.train.shaft_opens.items() if sense != run.train.opens]
    yield _check("opening_direction", bool(wrong), float(len(wrong)), 0.0, "shafts")
    for side, holds, turn in (
        ("closing", run.travel.closing_holds, run.ends[0]),
        ("opening", run.travel.opening_holds, run.ends[1]),
    ):
        lift = min(found[f"gap:{name}.idle"] for name in rig.shaft) if side == "closing" else 0.0
        yield _check(f"{side}_stop", int(holds) < 0 or lift > IDLE_LIFT, turn, None, unit, care=lift > LIFTED)
    if abs(run.ends[1] - run.ends[0]) < 1e-9:
        yield _check("travel", True, 0.0, None, unit)
    elif len(wrong) < len(rig.shaft):
        sense = float(run.train.opens)
        moving = {n: (sense * v)[~resting(run, n)] for n, v in run.plate_speed.items() if n not in wrong}
        slowest = min((float(np.min(v)) for v in moving.values() if v.size), default=np.nan)
        yield _check("opens_throughout", slowest <= 0.0, slowest, 0.0, f"deg/{unit}")
    if len(compared(rig)) > 1:
        for name, (figure, limit) in _HELD.items():
            most = getattr(limits, limit)
            if not np.isnan(found[figure]):
                yield _check(name, found[figure] > most + 1e-9, found[figure], most, "deg")
    least, low = found["transmission_angle"], limits.transmission_angle
    known = not np.isnan(least)
    yield _check(
        "transmission_angle", least < low, least if known else None, low, "deg", care=least < low + CAUTION_BAND
    )
    margin = min(found["toggle_margin_closing"], found["toggle_margin_opening"])
    yield _check("toggle_margin", margin < limits.toggle_margin, margin if np.isfinite(margin) else None,
                 limits.toggle_margin, unit)  # fmt: skip
    yield from _tilt(run)
    short = found["wide_open_shortfall"]
    yield _check("wide_open_shortfall", short > limits.wide_open_shortfall, short, limits.wide_open_shortfall, "deg")
    if run.line is not None and run.cable is not None and run.cable_arm is not None:
        yield from _cable(run)
    yield from pedal.checks(run, pedal.pedal_report(run))


def _tilt(run: Motion) -> Iterator[Check]:
    rig = run.rig
    rows = []
    for name, (one, other) in joints.tilts(run).items():
        own = rig.link[name].tilt_limit
        limit = rig.limits.tilt if own is None else own
        most = float(np.max(np.maximum(one, other)))
        rows.append((most - limit, most, limit))
    if rows:
        over, most, limit = max(rows, key=lambda row: row[0])
        yield _check("tilt", over > 0.0, most, limit, "deg")


def _cable(run: Motion) -> Iterator[Check]:
    rig, line, cable = run.rig, run.line, run.rig.cable
    assert line is not None
    assert cable is not None
    assert run.cable is not None
    assert run.cable_arm is not None
    opens = bool(line.moment_arm(run.train.pose(0.0)) * run.train.opens > 0.0)
    yield _check("pull_direction", not opens, None, None, "")
    dead = bool(np.min(run.cable_arm) * np.max(run.cable_arm) <= 0.0)
    yield _check("cable_dead_centre", dead, None, None, "")
    if isinstance(line, PinCable):
        angle, limit = 0.0 if dead else float(np.min(cable_angle(run))), rig.limits.transmission_angle
        yield _check("cable_angle", False, angle, limit, "deg", care=angle < limit)
        swung = float(swing(line, run.travel.closing, run.travel.opening, cable.casing_axis))
        yield _check("cable_swing", swung > CABLE_REVERSED, swung, CABLE_SWING, "deg", care=swung > CABLE_SWING)
    yield from quadrant.checks(run, quadrant.quadrant_report(run))
    needed = float(np.max(np.abs(run.cable))) + cable.free_play
    if opens and cable.travel is not None:
        yield _check("cable_travel", needed > cable.travel + 1e-9, needed, cable.travel, "mm")


def _check(name: str, fails: bool, value: float | None, limit: float | None, unit: str, *, care: bool = False) -> Check:
    word: Word = "fail" if fails else "caution" if care else "pass"
    return Check(name, word, value, limit, unit, "", "")


def shown(check: Check, units: str) -> dict[str, Any]:
    """A light as the front end shows it, its figures in the design's own units."""
    fine = check.limit is not None and check.limit < 1.0
    found = limit = unit = ""
    if check.value is not None:
        found, unit = in_own_unit(check.value, check.unit, units, fine=fine)
    if check.limit is not None:
        number, unit = in_own_unit(check.limit, check.unit, units, fine=fine)
        limit = f"{'min' if check.name in AT_LEAST else 'max'} {number}"
    return {
        "name": check.name,
        "label": check.name.replace("_", " "),
        "word": check.verdict,
        "found": found,
        "limit": limit,
        "unit": unit.replace("deg", "°", 1) if unit == "deg" else unit,
        "where": check.where,
        "says": check.says[:1].upper() + check.says[1:],
    }
