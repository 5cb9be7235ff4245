"""The crossed pair of ``trains`` worked out by trigonometry and root finding, nothing of the package."""

from __future__ import annotations

import math

from scipy.optimize import brentq

Flat = tuple[float, float]

_FAR: Flat = (250.0, 0.0)


def pin_at(pivot: Flat, radius: float, degrees: float) -> Flat:
    """A pin [mm] on an arm at an angle [deg]."""
    return (
        pivot[0] + radius * math.cos(math.radians(degrees)),
        pivot[1] + radius * math.sin(math.radians(degrees)),
    )


#: the link as drawn [mm]
LENGTH = math.dist(pin_at((0.0, 0.0), 30.0, 51.0), pin_at(_FAR, 30.0, -51.0))


def other_turn(turn: float) -> float:
    """How far the second shaft has opened [deg], cw, when the first has turned ``turn`` [deg] ccw."""
    one = pin_at((0.0, 0.0), 30.0, 51.0 + turn)
    return float(brentq(lambda t: math.dist(one, pin_at(_FAR, 30.0, -51.0 - t)) - LENGTH, -1e-9, 100.0))


def crossed_pins(turn: float) -> tuple[Flat, Flat]:
    """Both ends of the link [mm]."""
    return pin_at((0.0, 0.0), 30.0, 51.0 + turn), pin_at(_FAR, 30.0, -51.0 - other_turn(turn))


def crossed_angle(turn: float) -> float:
    """Plate angle of the second shaft [deg]."""
    return 12.0 + other_turn(turn)
