"""What a bench needs and a design does not say: rod ends, holes, edges, plate, datum. Each with its source.

The figures of the trade have defaults, and every sheet that uses one says which and where it is from.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from linkage.errors import DesignError, Fault
from linkage.paper.sheet import NO_SOURCE, Figures
from linkage.parts import Link, Linkage, Shaft
from linkage.threads import INCH, Thread, thread

#: where the lengths of ball sockets are from
SOCKETS = "ball sockets of DIN 71802, as several bearing suppliers' tables list them; the standard itself not read"

#: nominal thread [mm] of a ball socket: from the ball's centre to its end, and its least depth of thread [mm]
_SOCKETS: Mapping[float, tuple[float, float]] = {
    5.0: (22.0, 10.2),
    6.0: (25.0, 11.5),
    8.0: (30.0, 14.0),
    10.0: (35.0, 15.5),
}

#: threads of rod ends by their pitch
_BY_PITCH = ("M4x0.7", "M5x0.8", "M6x1", "M8x1.25", "M10x1.5", "10-32 UNF", "1/4-28 UNF", "5/16-24 UNF")
_SAME_PITCH = 2e-3  # [mm]

#: least engagement of a thread in its diameters
ENGAGEMENT = 1.5
#: adjustment to either side that a link should have [mm]
ADJUSTMENT = 3.0
#: a hole is this much larger than the stud in it [mm]
STUD_PLAY = 0.1
#: width of metal round a hole in diameters of the hole, from its rim to the edge
EDGE = 1.0
#: pivot hole of a bell crank whose hub has no diameter [mm]
PIVOT_HOLE = 10.0
#: diameter of an inner cable, of the hole for its nipple, and how far the rim of a quadrant goes beyond the cable's
#: centre line [mm]
CABLE, NIPPLE, RIM = 1.5, 6.5, 3.0
#: thickness of a lever plate [mm], and the radius of the fillets between arms [mm], by the design's unit
THICKNESS: Mapping[str, float] = {"mm": 4.0, "in": 5.0 / 32.0 * INCH}
FILLET: Mapping[str, float] = {"mm": 8.0, "in": 5.0 / 16.0 * INCH}


class RodEnd(NamedTuple):
    """Both ends of a link [mm].

    ``length`` from the centre of the ball to the end of its thread, ``depth`` of usable thread;
    screwed in by ``turns`` whole turns, which is ``engagement``; ``least`` engagement is to stay.
    ``shorter`` and ``longer`` [mm] are how far the whole link can still be set either way.
    """

    thread: Thread | None
    length: float
    depth: float
    turns: int
    engagement: float
    least: float
    shorter: float
    longer: float


@dataclass(frozen=True)
class Practice:
    """Settings of the bench [mm, deg]; None takes the default of the trade.

    ``datum`` is where coordinates are measured from, in the drawing; ``bores`` [deg] the direction of
    the bores as drawn, by shaft, "" for all others; ``rod_end_length``, ``thread_depth`` and ``thread``
    describe the rod ends; ``hole`` is for the pins, ``pivot_hole`` for bell cranks, ``edge`` the metal from the
    rim of a hole to the outline. ``cable`` and ``nipple`` are diameters of a quadrant's inner cable and of the hole
    for its end, ``rim`` goes beyond the cable's centre line.
    """

    thread: str | None = None
    rod_end_length: float | None = None
    thread_depth: float | None = None
    hole: float | None = None
    pivot_hole: float | None = None
    edge: float | None = None
    thickness: float | None = None
    fillet: float | None = None
    cable: float | None = None
    nipple: float | None = None
    rim: float | None = None
    datum: tuple[float, float] = (0.0, 0.0)
    bores: Mapping[str, float] = field(default_factory=dict)
    fractions: bool = False

    def thread_of(self, link: Link) -> Thread | None:
        """The thread of a link's ends: as set, else by its pitch; None where neither says."""
        if self.thread is not None:
            return thread(self.thread)
        if link.pitch is None:
            return None
        known = [thread(name) for name in _BY_PITCH]
        return next((t for t in known if abs(t.pitch - link.pitch) < _SAME_PITCH), None)

    def rod_end(self, link: Link) -> RodEnd | None:
        """The ends of a link, None where thread or length is not known."""
        of = self.thread_of(link)
        socket = _socket(of)
        length = self.rod_end_length or (socket and socket[0])
        depth = self.thread_depth or (socket and socket[1])
        if of is None or length is None or depth is None:
            return None
        least = ENGAGEMENT * of.nominal
        turns = max(1, min(round(0.5 * (least + depth) / of.pitch), math.floor(depth / of.pitch + 1e-9)))
        engaged = turns * of.pitch
        ends = 2.0 if link.hands == "left+right" else 1.0
        return RodEnd(of, length, depth, turns, engaged, least, ends * (depth - engaged), ends * (engaged - least))

    def pin_hole(self, rig: Linkage) -> float:
        """Diameter of the pin holes [mm]: as set, else the links' thread and a little play."""
        if self.hole is not None:
            return self.hole
        threads = [t for link in rig.link.values() if (t := self.thread_of(link)) is not None]
        nominal = max((t.nominal for t in threads), default=thread(self.thread).nominal if self.thread else 5.0)
        return nominal + STUD_PLAY

    def hub_hole(self, rig: Linkage, member: str) -> float:
        """Diameter of the hole that goes over a member's shaft or hub [mm]."""
        part = rig.turning[member]
        if isinstance(part, Shaft) and part.shaft_diameter > 0.0:
            return part.shaft_diameter
        if self.pivot_hole is not None:
            return self.pivot_hole
        return part.hub_diameter or PIVOT_HOLE

    def edge_of(self, rig: Linkage) -> float:
        """Metal between the rim of a hole and the outline [mm]."""
        return EDGE * self.pin_hole(rig) if self.edge is None else self.edge

    def thickness_of(self, rig: Linkage) -> float:
        """Thickness of lever plates [mm]."""
        return THICKNESS[rig.units] if self.thickness is None else self.thickness

    def fillet_of(self, rig: Linkage) -> float:
        """Radius of the fillets between arms [mm]."""
        return FILLET[rig.units] if self.fillet is None else self.fillet

    def cable_of(self) -> float:
        """Diameter of the inner cable [mm]."""
        return CABLE if self.cable is None else self.cable

    def nipple_of(self) -> float:
        """Diameter of the hole for the cable's end [mm]."""
        return NIPPLE if self.nipple is None else self.nipple

    def rim_of(self) -> float:
        """How far a quadrant's rim goes beyond the cable's centre line [mm]."""
        return RIM if self.rim is None else self.rim

    def bore_direction(self, shaft: str) -> float:
        """Direction of a shaft's bores in the drawing [deg ccw from "to the right"]; upright unless set."""
        return self.bores.get(shaft, self.bores.get("", 90.0))


def _socket(of: Thread | None) -> tuple[float, float] | None:
    """Length and depth of thread of the ball socket next in size: an inch thread takes the metric one's."""
    if of is None:
        return None
    nearest = min(_SOCKETS, key=lambda nominal: abs(nominal - of.nominal))
    return _SOCKETS[nearest] if abs(nearest - of.nominal) < 0.5 else None


def checked(practice: Practice, rig: Linkage) -> Practice:
    """The settings, if they can be used with a design.

    Raises
    ------
    DesignError
        Every setting that cannot be used, at once.
    """
    faults = []
    if practice.thread is not None:
        try:
            thread(practice.thread)
        except DesignError as error:
            faults += [Fault("--thread", fault.says, fault.mend, file="options") for fault in error.faults]
    for name, low in (
        *(("rod_end_length", 1.0), ("thread_depth", 1.0), ("hole", 0.5), ("pivot_hole", 0.5)),
        *(("edge", 0.5), ("thickness", 0.1), ("fillet", 0.0)),
        *(("cable", 0.1), ("nipple", 0.5), ("rim", 0.1)),
    ):
        value = getattr(practice, name)
        if value is not None and not low <= value <= 1000.0:
            says = f"must be from {low:g} to 1000 mm, got {value:g} mm"
            faults.append(Fault(f"--{name.replace('_', '-')}", says, file="options"))
    for name in practice.bores:
        if name and name not in rig.shaft:
            from linkage.errors import did_you_mean

            hint = did_you_mean(name, rig.shaft).removeprefix("; ") or f"there are {', '.join(rig.shaft)}"
            faults.append(Fault("--bores", f'no shaft is called "{name}"', hint, file="options"))
    if faults:
        raise DesignError(faults)
    return practice


def rules(practice: Practice, rig: Linkage, *, links: bool = True, plates: bool = True) -> list[tuple[str, str]]:
    """The rules of thumb that a sheet's figures rest on, each with its source, in the design's own unit."""
    told = Figures(rig.units, fractions=practice.fractions)
    found: list[tuple[str, str]] = []
    if links and rig.link:
        found += _link_rules(practice, rig, told)
    if plates:
        found += _plate_rules(practice, rig, told)
    return found


def _link_rules(practice: Practice, rig: Linkage, told: Figures) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    assumed = {
        of.designation
        for link in rig.link.values()
        if practice.thread is None and (of := practice.thread_of(link)) is not None
    }
    if assumed:
        found.append(
            (f"thread taken from the link's pitch: {', '.join(sorted(assumed))} (--thread sets it)", NO_SOURCE)
        )
    sizes = {
        (end.length, end.depth, of.designation)
        for link in rig.link.values()
        if (end := practice.rod_end(link)) is not None and (of := end.thread) is not None
    }
    for length, depth, designation in sorted(sizes):
        own = practice.rod_end_length is not None, practice.thread_depth is not None
        says = (
            f"{designation}: {told.with_unit(length)} from the ball's centre to the end of its thread, "
            f"{told.with_unit(depth)} of thread"
        )
        source = "as set for this sheet" if all(own) else SOCKETS
        if not all(own):
            says += "; measure yours (--rod-end-length, --thread-depth)"
        if any(own) and not all(own):
            source = f"as set for this sheet; the rest {SOCKETS}"
        elif not designation.startswith("M"):
            source += "; of the metric size next to it"
        found.append((says, source))
    found.append((f"at least {ENGAGEMENT:g} diameters of thread stay engaged at either end", NO_SOURCE))
    found.append((f"{told.with_unit(ADJUSTMENT)} of adjustment either way is wanted", NO_SOURCE))
    found.append(("a witness hole shows that the thread reaches far enough in; lock nuts at both ends", NO_SOURCE))
    return found


def _plate_rules(practice: Practice, rig: Linkage, told: Figures) -> list[tuple[str, str]]:
    set_here = "as set for this sheet"
    hole, edge = practice.pin_hole(rig), practice.edge_of(rig)
    snail: list[tuple[str, str]] = []
    if rig.cable is not None and rig.cable.profile is not None:
        sizes = (practice.cable, practice.nipple, practice.rim)
        source = set_here if None not in sizes else f"{set_here}; the rest {NO_SOURCE}"
        source = NO_SOURCE if sizes == (None,) * 3 else source
        says = (
            f"the quadrant's groove for a cable {told.with_unit(practice.cable_of())} thick, its rim "
            f"{told.with_unit(practice.rim_of())} beyond the cable's centre line, the anchor's hole "
            f"{told.with_unit(practice.nipple_of())} (--cable, --rim, --nipple)"
        )
        snail.append((says, source))
        snail.append(("25 degrees of wrap are left at wide open, so that the anchor is not pulled straight", NO_SOURCE))
    return [
        *snail,
        (f"pin holes {told.with_unit(hole)}: the stud and {told.bare(STUD_PLAY)} {told.units} of play",
         set_here if practice.hole is not None else NO_SOURCE),
        (f"{told.with_unit(edge)} of metal from the rim of every hole to the edge of its plate"
         + ("" if practice.edge is not None else ", one diameter of the pin hole"),
         set_here if practice.edge is not None else NO_SOURCE),
        (f"plates {told.with_unit(practice.thickness_of(rig))} thick: aluminium 4 to 6 mm (5/32 to 1/4 in), "
         "mild steel 3 mm (1/8 in)", set_here if practice.thickness is not None else NO_SOURCE),
        (f"fillets of {told.with_unit(practice.fillet_of(rig))} between arms",
         set_here if practice.fillet is not None else NO_SOURCE),
        ("levers are pinned, or drilled through with their shaft, only after set-up: a pinch bolt alone slips",
         NO_SOURCE),
    ]  # fmt: skip
