"""The figures of the verdict for many linkages at once.

The same closure, the same stops and the same limits as for one linkage; here every number may be a
column of shape ``(n,)``.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from linkage.answers.cable import swing
from linkage.answers.verdict import CABLE_SWING, CAUTION_BAND
from linkage.motion import PinCable, assemble, cable_line, find_travel
from linkage.motion.assembly import Dimensions
from linkage.parts import Linkage
from linkage.search.curves import (
    Bools,
    Curve,
    Floats,
    Survey,
    Table,
    follow,
    highest_spreads,
    least_transmission,
    most_tilt,
    region_ends,
    spread,
    stop_gaps,
)

VERDICTS = ("pass", "caution", "fail")

#: what can fail, in the order in which it is reported; ``reason`` counts from 1 in this list
REASONS = (
    "cannot be assembled",
    "opening_direction",
    "closing_stop",
    "opening_stop",
    "travel",
    "opens_throughout",
    "mismatch_at_idle",
    "mismatch_off_idle",
    "mismatch",
    "mismatch_at_wide_open",
    "transmission_angle",
    "toggle_margin",
    "tilt",
    "wide_open_shortfall",
    "pull_direction",
    "cable_dead_centre",
    "cable_travel",
    "pedal_travel",
)


def figures(rig: Linkage, dims: Dimensions, rows: int) -> dict[str, Floats]:
    """All figures of the verdict for ``rows`` variants of a linkage.

    Parameters
    ----------
    rig : Linkage
        Topology, and what ``dims`` does not give.
    dims : mapping of str to float or ndarray of shape (rows,)
        Table of dimensions [mm, deg]; a link without ``length`` in it is fitted anew in every row.
    rows : int

    Returns
    -------
    dict of str to ndarray, shape (rows,)
        By figure name, units in :func:`unit_of`. ``verdict`` counts in :data:`VERDICTS`; ``reason`` in
        :data:`REASONS` from 1 (0: nothing failed). A row that cannot be assembled has ``nan`` figures.
    """
    with np.errstate(all="ignore"):
        train = assemble(rig, dims)
        table = Table(rig, train, find_travel(train), rows)
        return _columns(table)


def unit_of(figure: str) -> str:
    """Unit of a figure: "deg", "mm" or "" for a plain number."""
    if figure in ("progression_ratio", "verdict", "reason"):
        return ""
    return "mm" if figure == "cable_travel" or figure.startswith("length:") else "deg"


def _columns(table: Table) -> dict[str, Floats]:
    rig, train, travel = table.rig, table.train, table.travel
    first, last = table.first, table.last
    ends = follow(train, np.stack([first, last]))
    early, late = region_ends(table, ends)
    seen, (off_idle, middle, tail) = highest_spreads(table, early, late)
    at_ends = np.degrees(spread(ends.angle))
    wide_open = [train.dims[f"shaft.{name}.plate_angle.wide_open"] for name in rig.shaft]
    lacks = [w - np.degrees(ends.angle[i, 1]) for i, w in enumerate(wide_open)]
    shortfall = np.max(lacks, axis=0)
    links = [joint for joint in train.joints if joint.forward is not None]
    least = {joint.step.by.name: least_transmission(table, joint, seen, ends) for joint in links}
    tilt = {joint.step.by.name: most_tilt(table, joint) for joint in links}
    taken, ratio, dead = _cable(table, seen, ends)
    none = np.full_like(first, np.nan)
    found: dict[str, Floats] = {
        "mismatch": np.fmax(np.fmax(off_idle, middle), tail),
        "mismatch_at_idle": at_ends[0],
        "mismatch_off_idle": off_idle,
        "mismatch_middle": middle,
        "mismatch_last": tail,
        "mismatch_at_wide_open": at_ends[1],
        "progression_ratio": ratio,
        "driver_turn": np.degrees(np.abs(last - first)),
        "cable_travel": taken,
        "transmission_angle": np.min(list(least.values()), axis=0) if least else none,
        "toggle_margin_closing": np.degrees(table.column(travel.before_toggle[0])),
        "toggle_margin_opening": np.degrees(table.column(travel.before_toggle[1])),
        "tilt": np.max(list(tilt.values()), axis=0) if tilt else none,
        "wide_open_shortfall": np.where(np.abs(shortfall) < 1e-9, 0.0, shortfall),
        **{f"gap:{name}": gap for name, gap in stop_gaps(table, ends).items()},
        **{f"length:{joint.step.by.name}": table.column(joint.length) for joint in links},
    }
    whole = np.isfinite(first + ends.angle.sum(axis=(0, 1)))
    failed = dict(_failed(table, seen, found, tilt, dead))
    failed["cannot be assembled"] = ~whole
    fails = np.stack([np.broadcast_to(failed[name], first.shape) for name in REASONS])
    any_fail = fails.any(axis=0)
    careful = _cautions(table, seen, found)
    numbers = {name: np.where(whole, value, np.nan) for name, value in found.items()}
    numbers["verdict"] = np.where(any_fail, 2.0, np.where(careful, 1.0, 0.0))
    numbers["reason"] = np.where(any_fail, np.argmax(fails, axis=0) + 1.0, 0.0)
    return numbers


def _cable(table: Table, seen: Survey, ends: Curve) -> tuple[Floats, Floats, Bools]:
    """Cable travel [mm], progression ratio, and where the cable passes a dead centre."""
    sense, driver = table.column(table.train.opens), table.rig.driver
    line = cable_line(table.train)
    speed = ends.slope[0]
    by_turn = speed[1] / speed[0]
    if line is None:
        return np.full_like(sense, np.nan), _sound(by_turn, speed), np.zeros(sense.shape, bool)
    pose = ends.pose[driver]
    since, end = (pose[0][0], pose[1][0]), (pose[0][1], pose[1][1])
    through = line.moment_arm(seen.pose[driver]) + 0.0 * seen.turn
    dead = np.min(through, axis=0) * np.max(through, axis=0) <= 0.0
    arm = line.moment_arm(pose) + 0.0 * ends.turn
    by_cable = by_turn * arm[0] / arm[1]
    ratio = np.where(dead | (table.first == table.last), by_turn, by_cable)
    return table.column(line.taken(end, since)), _sound(ratio, speed), dead


def _sound(ratio: Floats, speed: Floats) -> Floats:
    return np.where(np.isfinite(ratio) & (speed[0] != 0.0), ratio, np.nan)


def _failed(
    table: Table, seen: Survey, found: dict[str, Floats], tilt: dict[str, Floats], dead: Bools
) -> Iterator[tuple[str, Bools]]:
    """Which rows fail which check; the same comparisons as the verdict of one linkage."""
    rig, train, travel = table.rig, table.train, table.travel
    none = np.zeros(table.first.shape, bool)
    limit = {name: train.dims[f"limits.{name}"] for name in type(rig.limits).__slots__}
    senses = [table.column(sense) for sense in train.shaft_opens.values()]
    opens = table.column(train.opens)
    yield "opening_direction", np.any([sense != opens for sense in senses], axis=0)
    yield "closing_stop", table.column(travel.closing_holds) < 0
    yield "opening_stop", table.column(travel.opening_holds) < 0
    yield "travel", np.abs(table.last - table.first) < np.radians(1e-9)
    back = [(sense == opens) & (np.min(opens * seen.slope[i], axis=0) <= 0.0) for i, sense in enumerate(senses)]
    yield "opens_throughout", np.any(back, axis=0) & (table.first != table.last)
    for name, figure in (
        ("mismatch_at_idle", "mismatch_at_idle"),
        ("mismatch_off_idle", "mismatch_off_idle"),
        ("mismatch", "mismatch_middle"),
        ("mismatch_at_wide_open", "mismatch_last"),
    ):
        yield name, found[figure] > limit[name] + 1e-9
    yield "transmission_angle", found["transmission_angle"] < limit["transmission_angle"]
    margin = np.fmin(found["toggle_margin_closing"], found["toggle_margin_opening"])
    yield "toggle_margin", margin < limit["toggle_margin"]
    over = [
        most > (limit["tilt"] if rig.link[name].tilt_limit is None else train.dims[f"link.{name}.tilt_limit"])
        for name, most in tilt.items()
    ]
    yield "tilt", np.any(over, axis=0) if over else none
    yield "wide_open_shortfall", found["wide_open_shortfall"] > limit["wide_open_shortfall"]
    line = cable_line(train)
    pulls = opens > 0.0 if line is None else table.column(line.moment_arm((1.0, 0.0))) * opens > 0.0
    needed = np.abs(found["cable_travel"]) + train.dims.get("cable.free_play", 0.0)
    yield "pull_direction", none if line is None else ~pulls
    yield "cable_dead_centre", dead
    has, pad = train.dims.get("cable.travel"), train.dims.get("pedal.travel")
    yield "cable_travel", none if has is None or line is None else pulls & (needed > has + 1e-9)
    if pad is None or line is None:
        yield "pedal_travel", none
    else:
        yield "pedal_travel", pulls & (needed * train.dims["pedal.ratio"] > pad + 1e-9)


def _cautions(table: Table, seen: Survey, found: dict[str, Floats]) -> Bools:
    """Rows with at least one caution."""
    dims = table.train.dims
    low = found["transmission_angle"] < dims["limits.transmission_angle"] + CAUTION_BAND
    line = cable_line(table.train)
    if not isinstance(line, PinCable):
        return low
    driver = table.rig.driver
    share = np.abs(line.moment_arm(seen.pose[driver])) / line.arm.r
    angle = np.degrees(np.arcsin(np.minimum(np.min(share, axis=0), 1.0)))
    low = low | (angle < dims["limits.transmission_angle"])
    axis = None if table.rig.cable is None else table.rig.cable.casing_axis
    return low | (swing(line, table.first, table.last, axis) > CABLE_SWING)
