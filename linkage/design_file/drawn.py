"""Where pivots and pins stand as drawn (at idle), from the checked tables of a design file.

A table here is what the first pass left: quantities in mm and deg, None where a value cannot be
used. Every function returns None where what it needs is not known.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from linkage.parts import Point

Table = Mapping[str, Any]

#: Two places nearer than this [mm] are one place.
SAME_PLACE = 1e-3


def axis_of(member: Table) -> Point | None:
    """Unit vector of a member's axis, z where the file gives none."""
    axis: Point | None = member.get("axis", (0.0, 0.0, 1.0))
    return axis


def along_z(member: Table) -> bool | None:
    """Whether a member's axis stands square to the drawing."""
    axis = axis_of(member)
    return None if axis is None else axis[0] == 0.0 and axis[1] == 0.0


def pivot_of(member: Table) -> Point | None:
    """A point [mm] of a member's axis; ``[x, y]`` lies in the plane z = 0."""
    return completed(member.get("pivot"), 0.0)


def pin_of(member: Table, arm: Table) -> Point | None:
    """Place [mm] of an arm's pin; a pin without z lies at the arm's station along the axis.

    A slide's pin without z lies at the height of the guide's origin.
    """
    if "along" in member or "at" in arm:
        origin = completed(member.get("origin"), 0.0)
        return None if origin is None else completed(arm.get("at"), origin[2])
    pin = arm.get("pin")
    if pin is not None and len(pin) == 3:
        return completed(pin, 0.0)
    axis, pivot, station = axis_of(member), pivot_of(member), arm.get("station", 0.0)
    if axis is None or pivot is None or station is None or not along_z(member):
        return None
    z = pivot[2] + station * axis[2]
    if pin is not None:
        return completed(pin, z)
    radius, angle = arm.get("radius"), arm.get("angle")
    if radius is None or angle is None:
        return None
    turned = math.radians(angle)
    return (pivot[0] + radius * math.cos(turned), pivot[1] + radius * math.sin(turned), z)


def completed(point: tuple[float, ...] | None, z: float) -> Point | None:
    """Return a point with three coordinates, ``z`` [mm] where it was given two."""
    if point is None:
        return None
    x, y, z = (*point, z)[:3]
    return (x, y, z)


def off_axis(place: Point, pivot: Point, axis: Point) -> float:
    """Distance [mm] of a place from the line through ``pivot`` along the unit vector ``axis``."""
    w = [p - q for p, q in zip(place, pivot, strict=True)]
    along = sum(a * b for a, b in zip(w, axis, strict=True))
    return math.hypot(*(a - along * b for a, b in zip(w, axis, strict=True)))


def axes_apart(one: Table, other: Table) -> float | None:
    """Distance [mm] between the axes of two members; None where they are not known to be parallel."""
    p, q, u, v = pivot_of(one), pivot_of(other), axis_of(one), axis_of(other)
    if p is None or q is None or u is None or v is None:
        return None
    cross = (u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0])
    return off_axis(q, p, u) if math.hypot(*cross) < 1e-9 else None


def same_axis(one: Table, other: Table) -> bool:
    """Whether two members are known to turn about the same line."""
    apart = axes_apart(one, other)
    return apart is not None and apart < SAME_PLACE
