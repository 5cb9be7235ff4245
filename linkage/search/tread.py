"""The pedal of many linkages at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from linkage.answers.cable import CABLE_SWING, swing
from linkage.answers.pedal import SAME, STOP_LEAD, stop_lead
from linkage.motion import CrankPedal, cable_line, pedal_line
from linkage.search.curves import Bools, Table
from linkage.search.pull import Pull


@dataclass(frozen=True, eq=False)
class Tread:
    """Which linkages fail which check of the pedal, and which call for ``care``; (n,) each."""

    pull: Bools
    dead: Bools
    travel: Bools
    stop: Bools
    care: Bools


def tread_of(table: Table, pull: Pull | None) -> Tread | None:
    """The pedal of every linkage, by the same comparisons as for one; None without a pedal."""
    train, none = table.train, np.zeros(table.rows, bool)
    foot = pedal_line(train, table.travel.closing)
    if foot is None:
        return None
    opens = ~none if pull is None else pull.opens
    most = np.abs(table.last - table.first) if pull is None else np.abs(pull.taken)
    needed = table.column(foot.pad(most))
    pulls, dead, care = ~none, none, none
    if isinstance(foot, CrankPedal):
        pulls = table.column(foot.pulls)
        dead = pulls & ~np.isfinite(needed)
        turn = foot.turn(most)
        poses = [foot.pose(foot.turn(0.0 * most)), foot.pose(turn)]
        share = np.minimum.reduce([np.abs(foot.line.moment_arm(pose)) / foot.line.arm.r for pose in poses])
        angle = np.degrees(np.arcsin(np.minimum(share, 1.0)))
        axis = None if table.rig.pedal is None else table.rig.pedal.casing_axis
        swings = swing(foot.line, 0.0 * turn, foot.sense * turn, axis)
        care = (angle < train.dims["limits.transmission_angle"]) | (swings > CABLE_SWING)
    sound = opens & pulls & ~dead
    short = none if foot.room is None else needed > foot.room + 1e-9
    stopped = none
    lead = stop_lead(train, table.travel, cable_line(train), foot)
    if lead is not None:
        late = lead.lead < -SAME
        stopped = ~late & (lead.short > train.dims["limits.wide_open_shortfall"])
        asks = late | (np.maximum(lead.left, 0.0) > STOP_LEAD + SAME)
        if foot.room is not None and foot.stop is not None:
            asks = asks | (foot.room < foot.stop - SAME)
        stopped, care = stopped & lead.judged, care | (asks & lead.judged)
    return Tread(opens & ~pulls, opens & dead, sound & short, sound & stopped, sound & care)
