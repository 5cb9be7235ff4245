"""Screw threads of links and stop screws: what one turn does, in mm.

References
----------
ISO 68-1 and ISO 724 (basic profile: minor diameter = nominal - 1.25 H, H = sqrt(3)/2 pitch);
ASME B1.1 (unified threads; numbered sizes are 0.060 in + 0.013 in each). Both from memory.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from linkage.errors import DesignError, Fault

INCH = 25.4  # [mm]

_METRIC = re.compile(r"M\s*(\d+(?:\.\d+)?)\s*[x×]\s*(\d+(?:\.\d+)?)", re.IGNORECASE)
_UNIFIED = re.compile(r"(?:#?(\d+)|(\d+)/(\d+))\s*-\s*(\d+)(?:\s*UN[A-Z]*)?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Thread:
    """A thread: its ``designation``, ``nominal`` diameter [mm] and ``pitch`` [mm]."""

    designation: str
    nominal: float
    pitch: float

    @property
    def minor(self) -> float:
        """Basic minor diameter [mm] of the internal thread."""
        return self.nominal - 1.25 * math.sqrt(0.75) * self.pitch

    def turns_in(self, engagement: float) -> float:
        """Number of turns in a length of ``engagement`` [mm]."""
        return engagement / self.pitch


def thread(designation: str) -> Thread:
    """Read a designation: ``"M6x1"``, ``"1/4-28 UNF"``, ``"10-32 UNF"``.

    Parameters
    ----------
    designation : str
        Metric with its pitch, or unified with its threads per inch.

    Returns
    -------
    Thread
        Nominal diameter and pitch [mm].

    Raises
    ------
    DesignError
        It is neither.

    Examples
    --------
    >>> thread("1/4-28 UNF").nominal
    6.35

    References
    ----------
    See :mod:`linkage.threads`.
    """
    text = designation.strip()
    if found := _METRIC.fullmatch(text):
        nominal, pitch = float(found[1]), float(found[2])
    elif found := _UNIFIED.fullmatch(text):
        number, over, under, per_inch = found.groups()
        if int(per_inch) == 0 or (under is not None and int(under) == 0):
            raise _unreadable(designation)
        size = 0.060 + 0.013 * int(number) if number is not None else int(over) / int(under)
        nominal, pitch = size * INCH, INCH / int(per_inch)
    else:
        raise _unreadable(designation)
    if not 0.0 < pitch < nominal:
        raise _unreadable(designation)
    return Thread(text, nominal, pitch)


def _unreadable(designation: str) -> DesignError:
    says = f'must be a metric thread with its pitch or a unified one, got "{designation}"'
    return DesignError([Fault("thread", says, 'write it like "M6x1", "1/4-28 UNF" or "10-32 UNF"')])


def length_per_turn(pitch: float, hands: Literal["left+right", "right"]) -> float:
    """Change of a link's length [mm] in one turn.

    Two pitches [mm] for a tube with a left- and a right-hand end, turned; one pitch where one end
    is taken off and screwed in or out (then half turns are the finest step).
    """
    return 2.0 * pitch if hands == "left+right" else pitch
