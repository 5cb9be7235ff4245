"""Which dimension to hold: what a workshop's slip of each does to the mismatch, and how much each may be out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from linkage.answers.dimension_errors import Dimension, built_dimensions, end_shift, member_turns
from linkage.answers.mismatch import regions, spread
from linkage.motion import Motion
from linkage.paper.lines import fixed
from linkage.paper.sheet import Block, Figures, Words, table
from linkage.parts import SIGN
from linkage.quantities import INCH
from linkage.train import compared

Floats = NDArray[np.float64]

#: a slip as a workshop speaks of it: a tenth of a mm, five thousandths of an inch, half a degree
SLIP = {"mm": 0.1, "in": 0.005 * INCH}
ANGLE = 0.5

_MOST = 14
_NOTHING = 1e-6
_ALONG = 41


def slips(run: Motion, *, links_set: bool) -> tuple[tuple[Dimension, ...], Floats, Motion]:
    """What each dimension adds to the mismatch through the travel [deg per mm or deg], shape (D, n).

    The most that it parts any two shafts, each position at its share of the travel between the stops.
    With ``links_set`` every link has been turned until its shaft stands at idle as drawn.
    """
    listed = built_dimensions(run.train)
    first, last = run.ends
    at = run.at(np.sort([*np.linspace(first, last, _ALONG), *regions(run)])[:: 1 if last >= first else -1])
    share = (at.turn - first) / (last - first) if last != first else np.zeros_like(at.turn)
    stops = run.travel.stops
    holders = (int(run.travel.closing_holds), int(run.travel.opening_holds))
    shift = [end_shift(run, stops[i] if i >= 0 else None, links_set=links_set) for i in holders]
    moved = np.outer(shift[0], 1.0 - share) + np.outer(shift[1], share)
    turned = member_turns(at, links_set=links_set)
    plates = [
        SIGN[s.opens] * turned[n] + at.plate_speed[n] * moved
        for n, s in run.rig.shaft.items()
        if n in compared(run.rig)
    ]
    rows = np.nan_to_num(np.stack(plates), nan=0.0, posinf=0.0, neginf=0.0)
    return listed, np.asarray(rows.max(axis=0) - rows.min(axis=0)), at


def hold(run: Motion, told: Figures) -> list[Block]:
    """The dimensions that matter, first those that may be out by least."""
    if len(compared(run.rig)) < 2:
        return [Words("One shaft: nothing has to agree with anything; hold the stops and the cable.")]
    listed, loose, at = slips(run, links_set=False)
    _, kept, _ = slips(run, links_set=True)
    room = np.maximum(_limits(run, at) - spread(at), 0.0)
    rows = []
    for i, dimension in enumerate(listed):
        if dimension.kind in ("pin", "cable") or max(loose[i].max(), kept[i].max()) < _NOTHING:
            continue
        rows.append((_allowed(room, kept[i]), dimension, i))
    rows.sort(key=lambda row: (row[0] / _slip(row[1], told), row[2]))
    cells = []
    for allowed, dimension, i in rows[:_MOST]:
        step = _slip(dimension, told)
        is_length = dimension.unit == "mm"
        most = int(np.argmax(kept[i]))
        cells.append(
            [
                name_of(dimension),
                f"{told.bare(step)} {told.units}" if is_length else f"{ANGLE:g} deg",
                fixed(float(loose[i, 0]) * step, 2),
                fixed(float(kept[i, most]) * step, 2),
                f"{100.0 * abs(float(at.fraction[most])):.0f} %",
                _within(allowed, is_length, told),
            ]
        )
    if not cells:
        return [Words("No dimension parts the plates.")]
    heading = ("dimension", "out by", "at idle, unset [deg]", "links set [deg]", "there", "may be out by")
    says = (
        "Out by: a slip of the workshop. Unset: how far it parts the plates at idle as the parts come. Links set: what "
        "no link can mend, at its largest in the travel. May be out by: alone, links set, before a mismatch limit is "
        "met anywhere."
    )
    return [table(heading, cells, "<>>>>>"), Words(says)]


def _slip(dimension: Dimension, told: Figures) -> float:
    return SLIP[told.units] if dimension.unit == "mm" else ANGLE


def _within(allowed: float, is_length: bool, told: Figures) -> str:
    if not np.isfinite(allowed):
        return "set it freely"
    if allowed < _NOTHING:
        return "nothing left"
    if is_length:
        return f"± {told.bare(allowed)} {told.units}" if allowed < 10.0 else "not near"
    return f"± {fixed(allowed, 1 if allowed >= 1.0 else 2)} deg" if allowed < 20.0 else "not near"


def _allowed(room: Floats, per_unit: Floats) -> float:
    moving = per_unit > 1e-5
    return float(np.min(room[moving] / per_unit[moving])) if np.any(moving) else np.inf


def _limits(run: Motion, at: Motion) -> Floats:
    """Mismatch limit of every position [deg]: the closest of the regions that it belongs to."""
    limits, (first, last) = run.rig.limits, run.ends
    early, late = regions(run)
    found = np.full_like(at.turn, np.inf)
    for start, end, limit in (
        (first, first, limits.mismatch_at_idle),
        (first, early, limits.mismatch_off_idle),
        (early, late, limits.mismatch),
        (late, last, limits.mismatch_at_wide_open),
    ):
        inside = (at.turn - start) * (at.turn - end) <= 1e-9
        found = np.where(inside, np.minimum(found, limit), found)
    return found


def name_of(dimension: Dimension) -> str:
    """A dimension in the words of the bench."""
    parts = dimension.path.split(".")
    if dimension.kind == "link_length":
        return f"link {parts[1]}, centres"
    if dimension.kind in ("arm_radius", "arm_angle"):
        return f"{parts[1]}.{parts[3]}, {'radius' if dimension.kind == 'arm_radius' else 'clocking'}"
    if parts[0] == "slide":
        return f"{parts[1]}.{parts[3]}, pin {parts[-1]}"
    if dimension.kind == "pivot":
        return f"{parts[1]}, pivot {parts[-1]}"
    if dimension.kind == "coupling_offset":
        return f"coupling {parts[1]}, offset"
    return dimension.path
