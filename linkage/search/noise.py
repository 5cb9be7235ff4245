"""How far readings off the bench are to be trusted."""

from __future__ import annotations

from dataclasses import dataclass, fields

from linkage.errors import DesignError, Fault

#: of a driver's turn [deg] and of a flow's scale [-] nothing is known beforehand: standard deviations
FLAT_TURN, FLAT_SCALE = 60.0, 3.0


@dataclass(frozen=True)
class Noise:
    """One standard deviation of every kind of reading; the defaults are common practice, no source.

    ``plate`` [deg], ``flow`` [kg/h] of one barrel, ``gap`` [mm]; of positions ``travel`` [share],
    ``cable`` [mm], ``pedal`` [mm at the pad], ``turn`` [deg]. ``zero`` [deg] is how far the protractor's
    zero may be off on each shaft; 0: it is trusted.
    """

    plate: float = 0.2
    flow: float = 0.2
    gap: float = 0.02
    travel: float = 0.02
    cable: float = 0.5
    pedal: float = 2.0
    turn: float = 0.3
    zero: float = 0.0

    def __post_init__(self) -> None:
        faults = []
        for at in fields(self):
            value, least = getattr(self, at.name), 0.0 if at.name == "zero" else 1e-6
            if not least <= value < 1e3:
                says = f"must be from {least:g} to 1000, got {value!r}"
                faults.append(Fault(f"noise, {at.name}", says, "give one standard deviation"))
        if faults:
            raise DesignError(faults)
