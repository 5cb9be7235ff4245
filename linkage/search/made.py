"""Mismatch of parts as they are made, of many candidates at once: root sum square within the tolerances.

As the stacks of :mod:`linkage.answers.stacks` with every link set at idle; here the stop that holds as
drawn is taken to hold throughout, so at the very ends the figure may be a little short.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from linkage.answers.dimension_errors import built_dimensions
from linkage.answers.trials import tolerance_of
from linkage.parts import SIGN
from linkage.search.look import Look, end_slopes
from linkage.search.slopes import slopes

Floats = NDArray[np.float64]


def mismatch_as_made(seen: Look) -> Floats:
    """Difference of every pair of shafts as drawn and the root sum square of what moves it [deg], (pairs P, n)."""
    train, nodes = seen.train, seen.nodes
    given = train.rig.tolerance
    if given is None:
        return np.zeros((1, seen.shift.shape[-1]))
    wide = {d.path: tolerance_of(given, d) for d in built_dimensions(train) if tolerance_of(given, d) > 0.0}
    pose = {name: (np.asarray(c)[:nodes], np.asarray(s)[:nodes]) for name, (c, s) in seen.pose.items()}
    paths = tuple(wide)
    rate = slopes(train, pose, paths, as_built=True)
    first, last = end_slopes(train, seen.ends, paths, rate, nodes)
    turn = seen.turn[:nodes]
    far = (turn - turn[0]) / (turn[-1] - turn[0])
    shift = first[:, None] * (1.0 - far) + last[:, None] * far
    size = np.array(list(wide.values()))[:, None, None]
    moved = [
        SIGN[shaft.opens] * np.degrees(rate.held[name] + rate.speed[name] * shift) * size
        for name, shaft in train.rig.shaft.items()
    ]
    found = []
    for i, j in combinations(range(len(moved)), 2):
        apart = np.abs(seen.plate[i, :nodes] - seen.plate[j, :nodes])
        found.append(apart + np.sqrt(((moved[i] - moved[j]) ** 2).sum(axis=0)))
    return np.concatenate(found)
