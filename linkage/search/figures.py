"""The figures of the verdict for many linkages at once.

The same closure, the same stops and the same limits as for one linkage; here every number may be a
column of shape ``(n,)``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import reduce

import numpy as np

from linkage import closure, turns
from linkage.answers.one_way import is_staged
from linkage.answers.verdict import CAUTION_BAND, IDLE_LIFT, LIFTED
from linkage.closure import Numbers
from linkage.motion import Motion, assemble, find_travel, gains
from linkage.motion.assembly import Dimensions
from linkage.parts import SIGN, Link, Linkage
from linkage.search.curves import (
    Bools,
    Edges,
    Floats,
    Survey,
    Table,
    edges_of,
    idle_angle,
    region_ends,
    spread,
    survey,
)
from linkage.search.humps import highest_spreads
from linkage.search.joints import least_transmission, most_tilt
from linkage.search.one_by_one import of_one, one_by_one
from linkage.search.pull import Pull, pull_of
from linkage.search.tread import Tread, tread_of
from linkage.train import order, stages

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
    "quadrant_groove",
    "cable_swing",
    "cable_travel",
    "pedal_pull",
    "pedal_dead_centre",
    "pedal_travel",
    "pedal_stop",
    "staging_pick_up",
    "staging_mismatch",
)


_PLAIN = (
    "mismatch",
    "mismatch_at_idle",
    "mismatch_off_idle",
    "mismatch_middle",
    "mismatch_last",
    "mismatch_at_wide_open",
    "progression_ratio",
    "driver_turn",
    "cable_travel",
    "transmission_angle",
    "toggle_margin_closing",
    "toggle_margin_opening",
    "tilt",
    "wide_open_shortfall",
)


def names_of(rig: Linkage) -> tuple[str, ...]:
    """Names of the figures of a linkage, in order: ``gap:STOP`` for every stop, ``length:LINK`` for every link, and of
    a staged one ``pick_up:TABLE`` for every slotted link and tang."""
    stops = [*(f"{name}.{end}" for name in rig.shaft for end in ("idle", "wide_open")), *rig.stop]
    links = [step.by.name for step in order(rig) if isinstance(step.by, Link)]
    taken = {f"pick_up:{name}": None for slack in stages(rig).values() for name in slack}
    gaps, lengths = (f"gap:{name}" for name in stops), (f"length:{name}" for name in links)
    return (*_PLAIN, *gaps, *lengths, *taken, "verdict", "reason")


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
    if is_staged(rig):
        names = names_of(rig)
        return dict(zip(names, one_by_one(rig, dims, rows, names, REASONS), strict=True))
    with np.errstate(all="ignore"):
        train = assemble(rig, dims)
        return _columns(Table.of(train, find_travel(train), rows))


def figures_of(run: Motion) -> dict[str, float]:
    """All figures of the verdict of one solved linkage: :func:`figures` of a single row.

    The travel that the motion has found is not looked for again.
    """
    if is_staged(run.rig):
        return dict(of_one(run, REASONS))
    with np.errstate(all="ignore"):
        return {name: float(value[0]) for name, value in _columns(Table.of(run.train, run.travel, 1)).items()}


def unit_of(figure: str, rig: Linkage) -> str:
    """Unit of a figure: "deg", "mm" or "" for a plain number.

    Of a block that slides, turns, gaps and toggle margins are travels [mm].
    """
    if figure in ("progression_ratio", "verdict", "reason") or figure.startswith("pick_up:"):
        return ""
    if figure in ("driver_turn", "toggle_margin_closing", "toggle_margin_opening"):
        return turns.inside(rig, rig.driver)
    if figure.startswith("gap:"):
        return turns.inside(rig, turns.member_of_stop(rig, figure.removeprefix("gap:")))
    return "mm" if figure == "cable_travel" or figure.startswith("length:") else "deg"


def _columns(table: Table) -> dict[str, Floats]:
    rig, train, travel = table.rig, table.train, table.travel
    first, last = table.first, table.last
    early, late = region_ends(table)
    seen = survey(table, early, late)
    edges = edges_of(table, seen, early, late)
    angle = np.stack([idle_angle(train, name) + opened[[0, 3]] for name, opened in edges.opened.items()])
    at_ends = np.degrees(spread(angle))
    off_idle, middle, tail = highest_spreads(table, seen, edges)
    wide_open = [train.dims[f"shaft.{name}.plate_angle.wide_open"] for name in rig.shaft]
    shortfall = np.max([w - np.degrees(angle[i, 1]) for i, w in enumerate(wide_open)], axis=0)
    links = [joint for joint in train.joints if joint.forward is not None]
    least = [least_transmission(table, joint, seen, edges) for joint in links]
    tilt = {joint.step.by.name: most_tilt(table, joint) for joint in links}
    pull = pull_of(table, edges)
    tread = tread_of(table, pull)
    none = np.full(table.rows, np.nan)
    found: dict[str, Floats] = {
        "mismatch": np.fmax(np.fmax(off_idle, middle), tail),
        "mismatch_at_idle": at_ends[0],
        "mismatch_off_idle": off_idle,
        "mismatch_middle": middle,
        "mismatch_last": tail,
        "mismatch_at_wide_open": at_ends[1],
        "progression_ratio": _progression(table, seen, pull),
        "driver_turn": np.degrees(np.abs(last - first)),
        "cable_travel": none if pull is None else pull.taken,
        "transmission_angle": np.minimum.reduce(least) if least else none,
        "toggle_margin_closing": np.degrees(table.column(travel.before_toggle[0])),
        "toggle_margin_opening": np.degrees(table.column(travel.before_toggle[1])),
        "tilt": table.column(reduce(np.maximum, tilt.values())) if tilt else none,
        "wide_open_shortfall": np.where(np.abs(shortfall) < 1e-9, 0.0, shortfall),
        **{f"gap:{name}": gap for name, gap in _stop_gaps(table, edges).items()},
        **{f"length:{joint.step.by.name}": table.column(joint.length) for joint in links},
    }
    whole = np.isfinite(first + angle.sum(axis=(0, 1)))
    failed = {**dict.fromkeys(REASONS, ~whole & whole), "cannot be assembled": ~whole}
    failed |= dict(_failed(table, seen, found, tilt, pull, tread))
    reason = np.zeros(table.rows)
    for i, name in reversed([*enumerate(REASONS, 1)]):
        if np.any(failed[name]):
            reason = np.where(failed[name], float(i), reason)
    careful = found["transmission_angle"] < train.dims["limits.transmission_angle"] + CAUTION_BAND
    careful = careful | (_lift(table, found) > LIFTED)
    if pull is not None:
        careful = careful | pull.care
    if tread is not None:
        careful = careful | tread.care
    if not np.all(whole):
        found = {name: np.where(whole, value, np.nan) for name, value in found.items()}
    found["verdict"] = np.where(reason > 0.0, 2.0, careful.astype(float))
    found["reason"] = reason
    return found


def _progression(table: Table, seen: Survey, pull: Pull | None) -> Floats:
    """Gain of the first-named shaft at wide open by its gain at idle, ``nan`` where there is none."""
    speed = seen.speed[next(iter(table.rig.shaft))]
    low, high = speed[0, 0], speed[-1, -1]
    ratio = high / low
    if pull is not None:
        by_turn = pull.dead | (table.first == table.last)
        ratio = np.where(by_turn, ratio, ratio * pull.arm[0] / pull.arm[1])
    return np.where(np.isfinite(ratio) & (low != 0.0), ratio, np.nan)


def _stop_gaps(table: Table, edges: Edges) -> dict[str, Floats]:
    """What every stop has left [deg] at its end of the travel, (n,) each; the holding one has 0."""
    train, found = table.train, {}
    for stop in table.travel.stops:
        side = 0 if stop.limits == "closing" else 3
        if stop.member in edges.opened:
            left = SIGN[table.rig.shaft[stop.member].opens] * stop.turn - edges.opened[stop.member][side]
        else:
            c, s = (p[side] for p in edges.pose[stop.member])
            turned = closure.turn_of(c, s, train.slides(stop.member))
            turned = edges.turn[side] if stop.member == train.driver else turned
            here = {name: (c[side], s[side]) for name, (c, s) in edges.pose.items()}
            speed = np.ones_like(c) if stop.member == train.driver else gains(train, here)[stop.member][0]
            left = np.where(train.opens * speed < 0.0, -1.0, 1.0) * (stop.turn - turned)
        gap = np.degrees(left if side else -left)
        found[stop.name] = np.where(np.abs(gap) < 1e-9, 0.0, gap)
    return found


def _lift(table: Table, found: Mapping[str, Floats]) -> Floats:
    """How far the closing stop keeps every plate above its own idle stop [deg], (n,)."""
    return np.asarray(np.minimum.reduce([found[f"gap:{name}.idle"] for name in table.rig.shaft]))


def _failed(
    table: Table,
    seen: Survey,
    found: Mapping[str, Floats],
    tilt: Mapping[str, Numbers],
    pull: Pull | None,
    tread: Tread | None,
) -> Iterator[tuple[str, Bools]]:
    """Which rows fail which check; the same comparisons as the verdict of one linkage."""
    rig, train, travel = table.rig, table.train, table.travel
    none = np.zeros(table.rows, bool)
    limit = {name: train.dims[f"limits.{name}"] for name in type(rig.limits).__slots__}
    opens, moving = train.opens, table.first != table.last
    wrong, back = none, none
    for name, shaft in rig.shaft.items():
        against = train.shaft_opens[name] != opens
        wrong = wrong | against
        speed = SIGN[shaft.opens] * opens * seen.speed[name]
        back = back | (~np.asarray(against) & (np.min(speed, axis=(0, 1)) <= 0.0))
    yield "opening_direction", wrong
    yield "closing_stop", (table.column(travel.closing_holds) < 0) | (_lift(table, found) > IDLE_LIFT)
    yield "opening_stop", table.column(travel.opening_holds) < 0
    yield "travel", np.abs(table.last - table.first) < np.radians(1e-9)
    yield "opens_throughout", back & moving
    for name, figure in (
        ("mismatch_at_idle", "mismatch_at_idle"),
        ("mismatch_off_idle", "mismatch_off_idle"),
        ("mismatch", "mismatch_middle"),
        ("mismatch_at_wide_open", "mismatch_last"),
    ):
        yield name, found[figure] > limit[name] + 1e-9
    yield "transmission_angle", found["transmission_angle"] < limit["transmission_angle"]
    margin = np.minimum(found["toggle_margin_closing"], found["toggle_margin_opening"])
    yield "toggle_margin", margin < limit["toggle_margin"]
    over = none
    for name, most in tilt.items():
        over = over | (most > train.dims.get(f"link.{name}.tilt_limit", limit["tilt"]))
    yield "tilt", over
    yield "wide_open_shortfall", found["wide_open_shortfall"] > limit["wide_open_shortfall"]
    yield "pull_direction", none if pull is None else ~pull.opens
    yield "cable_dead_centre", none if pull is None else pull.dead
    yield "quadrant_groove", none if pull is None else pull.groove
    yield "cable_swing", none if pull is None else pull.reversed
    needed = np.abs(found["cable_travel"]) + train.dims.get("cable.free_play", 0.0)
    has = train.dims.get("cable.travel")
    yield "cable_travel", none if pull is None or has is None else pull.opens & (needed > has + 1e-9)
    for name in ("pull", "dead_centre", "travel", "stop"):
        yield f"pedal_{name}", none if tread is None else getattr(tread, name.partition("_")[0])
