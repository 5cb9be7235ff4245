"""The cable on the driver of many linkages at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from linkage import closure
from linkage.answers.cable import swing
from linkage.answers.verdict import CABLE_REVERSED, CABLE_SWING
from linkage.closure import Numbers
from linkage.motion import PinCable, cable_line
from linkage.search.curves import Bools, Edges, Floats, Table
from linkage.search.joints import passed


@dataclass(frozen=True, eq=False)
class Pull:
    """Cable travel ``taken`` [mm] from the closing to the opening stop; its moment ``arm`` [mm] at both; whether
    the pull ``opens`` the train, passes a ``dead`` centre, is ``reversed`` against its casing, calls for ``care``;
    (n,) each."""

    taken: Floats
    arm: tuple[Numbers, Numbers]
    opens: Bools
    dead: Bools
    reversed: Bools
    care: Bools


def pull_of(table: Table, edges: Edges) -> Pull | None:
    """The cable of every linkage; None where something else turns the driver."""
    line, train = cable_line(table.train), table.train
    if line is None:
        return None
    c, s = edges.pose[train.driver]
    since, end = (c[0], s[0]), (c[3], s[3])
    arm = line.moment_arm(since), line.moment_arm(end)
    taken = table.column(line.taken(end, since))
    opens = table.column(line.moment_arm((1.0, 0.0)) * train.opens > 0.0)
    dead, none = arm[0] * arm[1] <= 0.0, np.zeros(table.rows, bool)
    if not isinstance(line, PinCable):
        return Pull(taken, arm, opens, table.column(dead), none, none)
    # the moment arm passes nought where the arm lies along the line of centres, and has one hump in between
    out = closure.minus(line.casing.centre, line.arm.centre)
    level = np.arctan2(closure.dot(out, line.arm.e2), closure.dot(out, line.arm.e1))
    for turn in (level, level + np.pi):
        dead = dead | passed((table.first, table.last), turn)
    least = np.minimum(np.abs(arm[0]), np.abs(arm[1])) / line.arm.r
    angle = np.degrees(np.arcsin(np.where(dead, 0.0, np.minimum(least, 1.0))))
    care = angle < train.dims["limits.transmission_angle"]
    axis = None if table.rig.cable is None else table.rig.cable.casing_axis
    swung = swing(line, table.first, table.last, axis)
    return Pull(taken, arm, opens, dead, table.column(swung > CABLE_REVERSED), care | (swung > CABLE_SWING))
