"""What can be turned on a bench: links, levers clamped on shafts, sync screws; and by how small a step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from linkage.errors import DesignError, Fault, did_you_mean
from linkage.parts import Linkage
from linkage.threads import length_per_turn

FLATS = 6  # to a turn of a hexagon
#: what a lever or a sync screw is set to by eye and protractor [deg]; common practice, no source
CLAMPED_TO = 0.1
#: most parts of a flat
MOST_PARTS = 60


@dataclass(frozen=True, slots=True)
class Adjuster:
    """Something to turn: the dimension at ``path``, by multiples of ``step`` [mm, deg] (0: by any amount), which
    is ``turn`` of the thread; set to within ``set_within`` [deg, one standard deviation]."""

    path: str
    kind: Literal["link", "lever", "coupling"]
    name: str
    step: float
    set_within: float = 0.0
    turn: float = 0.0


def adjusters(
    rig: Linkage, *, adjust: Sequence[str] | None = None, flat_parts: int = 1, set_within: float = 0.2
) -> tuple[Adjuster, ...]:
    """What can be adjusted on a linkage.

    Parameters
    ----------
    rig : Linkage
    adjust : sequence of str, optional
        Dotted paths; by default all there are.
    flat_parts : int
        Parts of a flat to which a tube is counted.
    set_within : float
        How exactly a lever is clamped or a sync screw set [deg].

    Raises
    ------
    DesignError
        A path is none of an adjuster.
    """
    if isinstance(flat_parts, bool) or int(flat_parts) != flat_parts or not 1 <= flat_parts <= MOST_PARTS:
        raise DesignError([Fault("flat_parts", f"must be a whole number from 1 to {MOST_PARTS}, got {flat_parts!r}")])
    held = {pin for link in rig.link.values() for pin in link.joins}
    found = []
    for name, link in rig.link.items():
        turn = 0.0 if link.pitch is None else length_per_turn(link.pitch, link.hands)
        parts = FLATS * flat_parts if link.hands == "left+right" else 2
        found.append(Adjuster(f"link.{name}.length", "link", name, turn / parts, turn=1.0 / parts))
    for name, shaft in rig.shaft.items():
        found += [
            Adjuster(f"shaft.{name}.arm.{arm}.angle", "lever", f"{name}.{arm}", CLAMPED_TO, set_within)
            for arm in shaft.arm
            if f"{name}.{arm}" in held
        ]
    found += [Adjuster(f"coupling.{name}.offset", "coupling", name, CLAMPED_TO, set_within) for name in rig.coupling]
    if adjust is None:
        return tuple(found)
    known = {a.path: a for a in found}
    faults = [
        Fault(
            "adjust",
            f'"{path}" is not adjusted on the bench{did_you_mean(path, known)}',
            f"there are {', '.join(known)}",
        )
        for path in adjust
        if path not in known
    ]
    if faults:
        raise DesignError(faults)
    return tuple(a for a in found if a.path in adjust)
