"""The cable on the driver of many linkages at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from linkage import closure
from linkage.answers.cable import CABLE_REVERSED, CABLE_SWING, swing
from linkage.answers.quadrant import BEYOND
from linkage.closure import Numbers
from linkage.motion import PinCable, SnailCable, cable_line
from linkage.motion.groove import groove
from linkage.search.curves import Bools, Edges, Floats, Table
from linkage.search.joints import passed


@dataclass(frozen=True, eq=False)
class Pull:
    """Cable travel ``taken`` [mm] from the closing to the opening stop; its moment ``arm`` [mm] at both; whether
    the pull ``opens`` the train, passes a ``dead`` centre, is ``reversed`` against its casing, calls for ``care``;
    whether no ``groove`` can be cut for it on a snail quadrant; (n,) each."""

    taken: Floats
    arm: tuple[Numbers, Numbers]
    opens: Bools
    dead: Bools
    reversed: Bools
    care: Bools
    groove: Bools


def pull_of(table: Table, edges: Edges) -> Pull | None:
    """The cable of every linkage; None where something else turns the driver."""
    line, train = cable_line(table.train), table.train
    if line is None:
        return None
    c, s = edges.pose[train.driver]
    since, end = (c[0], s[0]), (c[3], s[3])
    arm = line.moment_arm(since), line.moment_arm(end)
    taken = table.column(line.taken(end, since))
    opens = table.column(line.moment_arm(train.pose(0.0)) * train.opens > 0.0)
    dead, none = arm[0] * arm[1] <= 0.0, np.zeros(table.rows, bool)
    if isinstance(line, SnailCable):
        return Pull(taken, arm, opens, table.column(dead), none, *_grooved(table, line))
    if not isinstance(line, PinCable):
        return Pull(taken, arm, opens, table.column(dead), none, none, none)
    # the moment arm passes nought where the arm lies along the line of centres, and has one hump in between
    out = closure.minus(line.casing.centre, line.arm.centre)
    if line.arm.slides:  # it passes nought where the casing end stands square to the guide, once, and dead says so
        turns = []
    else:
        level = np.arctan2(closure.dot(out, line.arm.e2), closure.dot(out, line.arm.e1))
        turns = [level, level + np.pi]
    for turn in turns:
        dead = dead | passed((table.first, table.last), turn)
    least = np.minimum(np.abs(arm[0]), np.abs(arm[1])) / line.arm.r
    angle = np.degrees(np.arcsin(np.where(dead, 0.0, np.minimum(least, 1.0))))
    care = angle < train.dims["limits.transmission_angle"]
    axis = None if table.rig.cable is None else table.rig.cable.casing_axis
    swung = swing(line, table.first, table.last, axis)
    return Pull(taken, arm, opens, dead, table.column(swung > CABLE_REVERSED), care | (swung > CABLE_SWING), none)


def _grooved(table: Table, line: SnailCable) -> tuple[Bools, Bools]:
    """Whether the groove of a snail quadrant calls for care, and whether none can be cut."""
    found = groove(table.train, line)
    assert found is not None
    least = table.column(found.least_radius(table.first, table.last))
    bad = ~(least > 0.0)
    beyond = np.maximum(*found.lacks(table.first, table.last)) > np.radians(BEYOND)
    return table.column((least < table.train.dims["cable.least_bend"]) | beyond), bad
