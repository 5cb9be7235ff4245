"""Rate of a return spring from its wire, and tilt of a rod end from its ball: what a catalogue leaves out.

References
----------
J. E. Shigley and C. R. Mischke, *Mechanical Engineering Design*, McGraw-Hill, "Mechanical springs".
"""

from __future__ import annotations

import math


def torsion_rate(wire: float, mean_diameter: float, coils: float, modulus: float, *, friction: bool = False) -> float:
    """Rate of a helical torsion spring [N.mm/rad].

    Parameters
    ----------
    wire, mean_diameter : float
        Wire and mean coil diameter [mm].
    coils : float
        Active coils, see :func:`torsion_coils` [-].
    modulus : float
        Young's modulus [N/mm^2], about 200e3 for spring steel (common practice, no source).
    friction : bool
        With the usual allowance for the coils' rubbing: 10.8 in place of 64 / 2 pi.

    References
    ----------
    Shigley, "Helical coil torsion springs": ``k = d^4 E / (64 D N)`` per radian.
    """
    divisor = 10.8 * 2.0 * math.pi if friction else 64.0
    return wire**4 * modulus / (divisor * mean_diameter * coils)


def torsion_coils(body: float, legs: tuple[float, float], mean_diameter: float) -> float:
    """Active coils of a torsion spring [-]: its body's, and a share for its straight legs [mm]."""
    return body + sum(legs) / (3.0 * math.pi * mean_diameter)


def extension_rate(wire: float, mean_diameter: float, coils: float, shear_modulus: float) -> float:
    """Rate of a helical extension spring [N/mm].

    Parameters
    ----------
    wire, mean_diameter : float
        Wire and mean coil diameter [mm].
    coils : float
        Active coils, see :func:`extension_coils` [-].
    shear_modulus : float
        [N/mm^2], about 79e3 for spring steel (common practice, no source).

    References
    ----------
    Shigley, "Extension springs": ``k = d^4 G / (8 D^3 N)``.
    """
    return wire**4 * shear_modulus / (8.0 * mean_diameter**3 * coils)


def extension_coils(body: float, shear_modulus: float, modulus: float) -> float:
    """Active coils of an extension spring [-]: its body's, and a share for its two hooks."""
    return body + shear_modulus / modulus


def rod_end_tilt(ball_width: float, housing_width: float, ball_diameter: float) -> float:
    """Tilt [deg] that a rod end permits before its housing meets the bolt's shoulder.

    Parameters
    ----------
    ball_width, housing_width, ball_diameter : float
        Any one unit [mm].

    References
    ----------
    From the dimensions of ISO 12240-4 series K (from memory): ``asin(B/d) - asin(C/d)``.
    """
    return math.degrees(math.asin(ball_width / ball_diameter) - math.asin(housing_width / ball_diameter))
