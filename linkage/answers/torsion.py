r"""Torsion of a round shaft or tube: how stiff it is, and how far loads along it wind it up.

::

       t1       t2            t3        t4      torques applied at stations s1 < s2 < ... [N.mm, ccw], 0 in sum
        |        |             |         |
    ----o========o=============o=========o----  between two stations   M = - (sum of all torques to the left)
       s1       s2            s3        s4      wind-up over a length L         M L / (G J)
                                                J = pi (D^4 - d^4) / 32

References
----------
W. C. Young and R. G. Budynas, *Roark's Formulas for Stress and Strain*, 7th ed., McGraw-Hill 2002,
ch. 10, "Torsion": circular sections, ``theta = T L / (K G)`` with K the polar second moment (from
memory). Saint-Venant's torsion: plane sections, and ends free to warp, which round ones do not.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from linkage.parts import Member, Section

Floats = NDArray[np.float64]

#: shear moduli [GPa]: Shigley and Mischke, *Mechanical Engineering Design*, table of the physical constants of
#: materials (carbon steel, stainless 18-8, aluminium alloys, titanium alloys; from memory)
SHEAR_MODULUS: Mapping[str, float] = {"steel": 79.3, "stainless": 73.1, "aluminium": 26.9, "titanium": 42.4}

#: torque [N.mm] and length [mm] at which sections are compared
TORQUE, LENGTH = 1000.0, 300.0


def diameter_of(member: Member) -> float:
    """Outside diameter of what twists [mm], 0 where none is given."""
    given = member.twist.diameter if member.twist is not None else None
    return given if given is not None else float(getattr(member, "shaft_diameter", 0.0))


def modulus_of(section: Section) -> float:
    """Shear modulus [GPa]."""
    return SHEAR_MODULUS[section.material] if section.shear_modulus is None else section.shear_modulus


def second_moment(diameter: float, wall: float | None = None) -> float:
    """Polar second moment of a round section [mm^4], of a tube with its ``wall`` [mm].

    Examples
    --------
    >>> round(second_moment(8.0), 1)
    402.1
    """
    inside = 0.0 if wall is None else max(diameter - 2.0 * wall, 0.0)
    return float(np.pi * (diameter**4 - inside**4) / 32.0)


def stiffness(member: Member) -> float:
    """Torque for one radian of wind-up over one millimetre [N.mm^2]; without bound where no twist is asked."""
    section = member.twist
    if section is None:
        return float("inf")
    moment = second_moment(diameter_of(member), section.wall)
    return 1000.0 * modulus_of(section) * moment * section.stiffness_share


def specific(member: Member) -> float:
    """Wind-up [deg] of a member's section under 1 N.m over 300 mm."""
    return float(np.degrees(TORQUE * LENGTH / stiffness(member)))


def between(stations: Floats, torques: Floats) -> Floats:
    """Torque [N.mm] carried between stations that rise, from those applied at them, shape (stations - 1, n)."""
    return np.asarray(-np.cumsum(torques, axis=0)[:-1])


def wind_up(stations: Floats, torques: Floats, stiff: float) -> Floats:
    """Turn [rad] of every station against the first, ccw, shape (stations, n).

    Parameters
    ----------
    stations : ndarray
        Rising [mm], shape (stations,).
    torques : ndarray
        Applied at each [N.mm, ccw], shape (stations, n); they should sum to nothing.
    stiff : float
        :func:`stiffness` [N.mm^2].
    """
    turned = between(stations, torques) * (np.diff(stations)[:, None] / stiff)
    return np.concatenate([np.zeros_like(torques[:1]), np.cumsum(turned, axis=0)])
