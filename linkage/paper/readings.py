"""What is read off a linkage at a position: pedal, cable, plates, how far they are apart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from linkage import turns
from linkage.answers import forces
from linkage.answers.mismatch import spread
from linkage.motion import DriverPedal, Motion
from linkage.paper.numerals import Numerals
from linkage.paper.shapes import Floats
from linkage.train import compared

#: more shafts than these are told by the least and the greatest
MOST_SHAFTS = 4


@dataclass(frozen=True)
class Reading:
    """A name and the value at one position, as written."""

    name: str
    value: str
    shaft: str = ""


@dataclass(frozen=True)
class Readings:
    """A name and its values at all positions, as written; ``shaft`` whose plate it is."""

    name: str
    values: tuple[str, ...]
    shaft: str = ""

    def at(self, position: int) -> Reading:
        """The reading at one position."""
        return Reading(self.name, self.values[position], self.shaft)


def readings(at: Motion, numerals: Numerals) -> tuple[Readings, ...]:
    """What is read off at every position of a motion.

    Parameters
    ----------
    at : Motion
    numerals : Numerals
        Writes [mm], [deg], [N] in the design's own units.

    Returns
    -------
    tuple of Readings
    """
    found = []
    if pulls_open(at):
        if at.pedal is not None:
            found.append(Readings("Pedal", _lengths(at.pedal, numerals)))
        if at.cable is not None:
            found.append(Readings("Cable", _lengths(at.cable, numerals)))
        foot = forces.pedal_force(at)[0] if at.rig.spring else None
        if foot is not None and np.all(np.isfinite(foot)):
            told = tuple(f"{numerals.force(float(v))} {numerals.force_unit}" for v in foot)
            found.append(Readings("Force at the pedal", told))
    else:
        tell = _lengths if at.rig.slides(at.rig.driver) else _angles
        word = turns.word_of(at.rig, at.rig.driver).capitalize()
        found.append(Readings(f"{word} of {at.rig.driver}", tell(at.turn - at.ends[0], numerals)))
    plates = at.plate_angle
    if len(plates) <= MOST_SHAFTS:
        found += [Readings(f"Plate {name}", _angles(angle, numerals), name) for name, angle in plates.items()]
    else:
        every = np.stack(list(plates.values()))
        ends = zip(_angles(every.min(axis=0), numerals), _angles(every.max(axis=0), numerals), strict=True)
        found.append(Readings("Plates", tuple(low if low == high else f"{low} to {high}" for low, high in ends)))
    if len(compared(at.rig)) > 1:
        found.append(Readings("Plates apart", tuple(numerals.angle(float(v), 3) for v in spread(at))))
    return tuple(found)


def pulls_open(run: Motion) -> bool:
    """Whether a cable, or a pedal that is the driver, takes the travel and opens the throttles by it."""
    if isinstance(run.pedal_line, DriverPedal):
        return True
    end = run.at(run.ends[1]).cable
    return run.by_cable and end is not None and float(end[0]) > 0.0


def _lengths(values: Floats, numerals: Numerals) -> tuple[str, ...]:
    return tuple(numerals.length_and_unit(float(v)) for v in values)


def _angles(values: Floats, numerals: Numerals) -> tuple[str, ...]:
    return tuple(numerals.angle(float(v)) for v in values)
