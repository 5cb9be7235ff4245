"""A fit as numbers: what may change, between what, and what is wished.

Candidates are columns: ``x`` has shape (d, n), d free dimensions [mm, deg, N ...] of n linkages.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from linkage.errors import DesignError, Fault, PathError
from linkage.motion import assemble, cable_line
from linkage.parts import Bounds, Linkage, Wish, dimensions
from linkage.search.sobol import MOST
from linkage.train import split_pin, stages

Floats = NDArray[np.float64]


#: what a fit may change
_FITTED = (
    r"(shaft|bellcrank)\.[^.]+\.(pivot\.[xyz]|arm\.[^.]+\.(radius|angle|station|pin\.[xyz]))",
    r"slide\.[^.]+\.pin\.[^.]+\.at\.[xyz]",
    r"link\.[^.]+\.length",
    r"coupling\.[^.]+\.offset",
    r"cable\.(radius|profile\.[0-9]+\.moment_arm|casing_end\.[xyz])",
    r"pedal\.(ratio|stop|floor|pivot\.[xyz]|casing_end\.[xyz]|arm\.[^.]+\.(radius|angle|pin\.[xyz]))",
    r"stop\.[^.]+\.(turn|plate_angle|travel)",
    r"shaft\.[^.]+\.plate_angle\.(idle|wide_open)",
    r"spring\.[^.]+\.(preload|rate|anchor\.[xyz]|free_length|initial_tension)",
)


@dataclass(frozen=True, eq=False)
class Task:
    """What is to be fitted: a design, its wish, and the bounds of every free dimension by its path."""

    rig: Linkage
    wish: Wish
    free: Mapping[str, Bounds]

    @cached_property
    def paths(self) -> tuple[str, ...]:
        """The free dimensions in order."""
        return tuple(self.free)

    @cached_property
    def low(self) -> Floats:
        """Lower bounds, (d,)."""
        return np.array([b.low for b in self.free.values()])

    @cached_property
    def high(self) -> Floats:
        """Upper bounds, (d,)."""
        return np.array([b.high for b in self.free.values()])

    @cached_property
    def table(self) -> dict[str, float]:
        """Table of the dimensions as drawn."""
        return dimensions(self.rig)

    @cached_property
    def drawn(self) -> Floats:
        """The dimensions as drawn, brought within the bounds, (d,)."""
        known = dict(self.table)
        for joint in assemble(self.rig).joints:
            known.setdefault(f"link.{joint.step.by.name}.length", float(joint.length))
        return np.clip([known[path] for path in self.paths], self.low, self.high)

    @cached_property
    def pulls(self) -> bool:
        """Whether the cable must pull open: it does as drawn, or what decides it is free."""
        train, cable = assemble(self.rig), self.rig.cable
        line = cable_line(train)
        if line is None or cable is None:
            return False
        member, arm = split_pin(cable.pulls or "")
        places = ("cable.", f".{member}.arm.{arm}.", f".{member}.pivot.", f"slide.{member}.pin.{arm}.")
        decides = any(place in path for path in self.paths for place in places)
        return decides or bool(line.moment_arm(train.pose(0.0)) * train.opens > 0.0)

    def dims(self, x: Floats) -> dict[str, float | Floats]:
        """Table of dimensions of n candidates."""
        return {**self.table, **dict(zip(self.paths, x, strict=True))}

    def at(self, x: Floats) -> Linkage:
        """The linkage with its free dimensions at ``x`` (d,)."""
        return self.rig.replace_all({path: float(value) for path, value in zip(self.paths, x, strict=True)})


def task(rig: Linkage, wish: Wish, free: Mapping[str, Bounds]) -> Task:
    """Check what is free, and make the task of it.

    Raises
    ------
    PathError
        A path names nothing that a fit can change.
    DesignError
        Nothing is free, or bounds leave the range that a dimension may have.
    """
    if slack := [name for stage in stages(rig).values() for name in stage]:
        table, _, name = slack[0].partition(".")
        key = "slot" if table == "link" else "gap"
        mend = f"fit the linkage with {key} taken out, then choose it with sweep --vary {slack[0]}.{key}=FROM:TO:STEP"
        raise DesignError([Fault(f'{table} "{name}", {key}', "staged linkages cannot be fitted", mend)])
    if not free:
        raise DesignError([Fault("free", "nothing may change", "name a dimension and its bounds in [free]")])
    known = [*dimensions(rig), *(f"link.{name}.length" for name in rig.link)]
    able = [path for path in known if any(re.fullmatch(pattern, path) for pattern in _FITTED)]
    if len(free) > MOST:
        raise DesignError([Fault("free", f"has {len(free)} dimensions, and {MOST} are the most")])
    for path, bounds in free.items():
        if path not in able:
            raise PathError(path, able, f'"{path}" is no dimension that a fit can change')
        if not bounds.low < bounds.high:
            raise DesignError([Fault(f"free, {path}", f"goes from {bounds.low:g} to {bounds.high:g}")])
        for end in (bounds.low, bounds.high):
            rig.replace(path, end)  # raises where the dimension may not be that
    return Task(rig, wish, dict(free))
