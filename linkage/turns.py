"""How a member's turn is told: in degrees, or of a block that slides, as its travel in the design's own unit.

Inside, the turn of a sliding block counts a millimetre as a degree, so that one word and one unit serve
every member. What is printed goes through here.
"""

from __future__ import annotations

from linkage.parts import Linkage
from linkage.quantities import own_scale, own_unit


def word_of(rig: Linkage, member: str) -> str:
    """``"turn"``, or of a block that slides ``"travel"``."""
    return "travel" if rig.slides(member) else "turn"


def unit_of(rig: Linkage, member: str) -> str:
    """``"deg"``, or of a block that slides ``"mm"`` or ``"in"``: what a heading over its turn says."""
    return own_unit(rig.units, "length") if rig.slides(member) else "deg"


def scale_of(rig: Linkage, member: str) -> float:
    """Degrees of turn, or mm of travel, in one of :func:`unit_of`: a turn is divided by it to be told."""
    return own_scale(rig.units, "length") if rig.slides(member) else 1.0


def inside(rig: Linkage, member: str) -> str:
    """``"deg"``, or of a block that slides ``"mm"``: the unit of a turn that is yet to be told."""
    return "mm" if rig.slides(member) else "deg"


def text(rig: Linkage, member: str, turn: float, digits: int = 2) -> str:
    """A turn [deg] as a sentence says it: ``"12.34 degrees"``, or of a block that slides ``"12.34 mm"``.

    Examples
    --------
    >>> import linkage
    >>> text(linkage.read("demo/flat_six.toml"), "centre", 12.345)  # doctest: +SKIP
    '12.35 degrees'
    """
    if not rig.slides(member):
        return f"{turn:.{digits}f} degrees"
    shown = turn / scale_of(rig, member)
    return f"{shown:.{digits if rig.units == 'mm' else digits + 1}f} {rig.units}"


def of_driver(rig: Linkage) -> str:
    """``"of driver turn"``, or where a block drives ``"of its travel"``: what follows :func:`text` of the driver."""
    return "of the driver's travel" if rig.slides(rig.driver) else "of driver turn"


def member_of_stop(rig: Linkage, stop: str) -> str:
    """The member that a stop is on; a shaft's own are called after it, ``NAME.idle`` and ``NAME.wide_open``."""
    return rig.stop[stop].on if stop in rig.stop else stop.rpartition(".")[0]
