"""What refers to what, and what must hold between the values of one design file.

Works on the tables that the first pass left, so it runs whatever that pass found: a key that is
there but unusable is None, and nothing is said about it twice.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise
from typing import Any

from linkage import clashes
from linkage.clashes import Clash
from linkage.design_file import drawn
from linkage.design_file.drawn import SAME_PLACE, Table
from linkage.design_file.lines import Path
from linkage.design_file.slips import Slip, closest, nearest
from linkage.parts import Point

#: Axes of shafts that a coupling ties may be drawn so far apart [mm]: rounding, and what a coupling takes up;
#: common practice, no source.
ONE_AXIS = 0.5


class Members:
    """The shafts, bell cranks and slides of a file by name, usable (a table) or not (None)."""

    def __init__(self, design: Table) -> None:
        tables = {table: design.get(table, {}) for table in ("slide", "bellcrank", "shaft")}
        self.complete = None not in tables.values()
        self.table: dict[str, str] = {}
        self.by_name: dict[str, Table | None] = {}
        for table, members in tables.items():
            for name, member in (members or {}).items():
                self.table[name] = table
                self.by_name[name] = member

    def pins(self) -> Iterator[str]:
        """Every pin of the file, as ``member.arm``."""
        for name, member in self.by_name.items():
            yield from (f"{name}.{arm}" for arm in _arms(member) or ())

    def missing(self, name: Any, path: Path) -> Iterator[Slip]:
        """Say so if there is no member of that name."""
        if name is None or name in self.by_name or not self.complete:
            return
        if (owner := name.rpartition(".")[0]) in self.by_name:
            mend = f'name the member alone: "{owner}"'
        else:
            mend = nearest(name, self.by_name) or _choice("members", self.by_name)
        yield Slip(path, f'no shaft, bell crank or slide called "{name}"', mend)

    def sliding(self, name: Any, path: Path, says: str, mend: str) -> Iterator[Slip]:
        """Say so if a member that must turn is a slide."""
        if self.table.get(name or "") == "slide":
            yield Slip(path, f'"{name}" is a slide, which {says}', mend)

    def missing_pin(self, pin: Any, path: Path) -> Iterator[Slip]:
        """Say so if there is no such arm on such a member."""
        if pin is None:
            return
        owner, dot, arm = pin.rpartition(".")
        if not dot and pin in self.by_name:
            arms = _arms(self.by_name[pin])
            if arms is not None:
                mend = f'name one of its arms: "{pin}.{next(iter(arms))}"' if arms else "give it an arm"
                yield Slip(path, f'"{pin}" is a member, not an arm', mend)
        elif owner in self.by_name:
            arms = _arms(self.by_name[owner])
            if arms is not None and arm not in arms:
                yield Slip(path, f'no arm called "{pin}"', self._meant(owner, arm))
        elif self.complete:
            near = closest(owner, self.by_name)
            yield Slip(path, f'no arm called "{pin}"', self._meant(near, arm))

    def _meant(self, owner: str, arm: str) -> str:
        """Name the pin that was meant, or what pins there are."""
        arms = _arms(self.by_name.get(owner)) or {}
        near = arm if arm in arms else closest(arm, arms)
        if near:
            return f'did you mean "{owner}.{near}"?'
        return _choice("arms", [f"{owner}.{name}" for name in arms] or self.pins())

    def place(self, pin: Any) -> Point | None:
        """Place of a pin as drawn [mm], where it is known."""
        owner, _, arm = pin.rpartition(".") if isinstance(pin, str) else ("", "", "")
        member = self.by_name.get(owner)
        table = (_arms(member) or {}).get(arm)
        return drawn.pin_of(member, table) if member is not None and table is not None else None

    def off_axis(self, place: tuple[float, ...] | None, name: str) -> float | None:
        """Distance [mm] of a place from the axis of a member, where both are known."""
        member = self.by_name.get(name)
        pivot, axis = (None, None) if member is None else (drawn.pivot_of(member), drawn.axis_of(member))
        if pivot is None or axis is None or place is None:
            return None
        return drawn.off_axis(drawn.completed(place, pivot[2]) or pivot, pivot, axis)


def slips(design: Table) -> Iterator[Slip]:
    """Yield everything that does not fit together in the checked tables of a file."""
    members = Members(design)
    if not design.get("shaft", {}) and members.complete:
        yield Slip(("shaft",), "there is no throttle shaft", "add a table [shaft.NAME]")
    sorts = {"shaft": "a shaft", "bellcrank": "a bell crank"}
    for table, later in (("shaft", "bellcrank"), ("shaft", "slide"), ("bellcrank", "slide")):
        for name in design.get(table) or {}:
            if name in (design.get(later) or {}):
                yield Slip((later, name), f"is the name of {sorts[table]} too", "give it a name of its own")
    for name, member in members.by_name.items():
        if member is not None and members.table[name] != "slide":
            yield from _member((members.table[name], name), member)
    for name, link in _rows(design, "link"):
        yield from _link(("link", name), link, members)
    for name, coupling in _rows(design, "coupling"):
        yield from _coupling(("coupling", name), coupling, members)
    yield from _driver(design, members)
    for name, stop in _rows(design, "stop"):
        yield from _stop(("stop", name), stop, members)
    for name, spring in _rows(design, "spring"):
        at = ("spring", name)
        yield from members.missing(spring.get("on"), (*at, "on"))
        yield from members.sliding(
            spring.get("on"), (*at, "on"), "does not turn", "use an extension spring: pulls, anchor, free_length, rate"
        )
        yield from members.missing_pin(spring.get("pulls"), (*at, "pulls"))
        yield from apart(spring.get("anchor"), members.place(spring.get("pulls")), (*at, "anchor"))
    heat = design.get("heat") or {}
    rise, links_rise = heat.get("rise"), heat.get("links_rise", heat.get("rise"))
    grows = clashes.of_heat(rise, links_rise, *(heat.get(key) for key in ("engine", "links", "arms")))
    yield from _told(("heat",), grows)


def _member(at: Path, member: Table) -> Iterator[Slip]:
    for name, arm in (_arms(member) or {}).items():
        if arm is not None:
            yield from arm_slips((*at, "arm", name), member, arm)
    angles = member.get("plate_angle") or {}
    plate = (angles.get(key) for key in ("shut", "idle", "wide_open"))
    yield from _told(at, clashes.of_shaft(member.get("bore"), member.get("shaft_diameter"), *plate))


def arm_slips(at: Path, member: Table, arm: Table) -> Iterator[Slip]:
    """What does not hold between an arm and the member that it is on."""
    pin = arm.get("pin")
    if drawn.along_z(member) is False:
        for key in ("radius", "angle", "station"):
            if key in arm:
                yield Slip((*at, key), "does not go with an axis other than z", "give pin = [x, y, z]")
                break
        if pin is not None and len(pin) == 2:
            yield Slip((*at, "pin"), "needs z too, the axis is not z", "write pin = [x, y, z]")
    elif pin is not None and len(pin) == 3 and "station" in arm:
        yield Slip((*at, "station"), "is in the pin's z already", "leave it out, or write pin = [x, y]")
    place, pivot, axis = drawn.pin_of(member, arm), drawn.pivot_of(member), drawn.axis_of(member)
    if (
        pin is not None
        and place is not None
        and pivot is not None
        and axis is not None
        and drawn.off_axis(place, pivot, axis) < SAME_PLACE
    ):
        yield Slip((*at, "pin"), "stands on the member's axis, so the arm has no radius", "move the pin")


def _link(at: Path, link: Table, members: Members) -> Iterator[Slip]:
    joins = link.get("joins")
    if joins is None:
        return
    at = (*at, "joins")
    for i, pin in enumerate(joins):
        yield from members.missing_pin(pin, (*at, i))
    if joins[0] == joins[1]:
        yield Slip(at, f'both ends are on "{joins[0]}"', "join two different pins")
        return
    one, other = (pin.rpartition(".")[0] for pin in joins)
    if one == other and one in members.by_name:
        yield Slip(at, f'both ends are on "{one}"', "join two different members")
        return
    first, second = members.by_name.get(one), members.by_name.get(other)
    slide = "slide" in (members.table.get(one), members.table.get(other))
    if first is not None and second is not None and not slide and drawn.same_axis(first, second):
        says = f'"{one}" and "{other}" turn about the same axis, so no link can turn one by the other'
        yield Slip(at, says, "use a [coupling.NAME] instead")
    elif "length" not in link:
        places = [members.place(pin) for pin in joins]
        yield from apart(places[0], places[1], at, "the two pins stand on the same place")


def _coupling(at: Path, coupling: Table, members: Members) -> Iterator[Slip]:
    joins = coupling.get("joins")
    if joins is not None:
        for i, name in enumerate(joins):
            yield from members.missing(name, (*at, "joins", i))
            yield from members.sliding(name, (*at, "joins", i), "does not turn", "join it with a link")
        if joins[0] == joins[1]:
            yield Slip((*at, "joins"), f'both ends are on "{joins[0]}"', "join two different members")
            return
        yield from _coaxial(at, joins, coupling.get("ratio", 1.0), members)
    yield from _told(at, clashes.of_coupling(coupling.get("ratio")))


def _coaxial(at: Path, joins: tuple[str, str], ratio: float | None, members: Members) -> Iterator[Slip]:
    """Say so of a coupling that turns two members alike on two parallel axes.

    Axes at an angle may be a bevel pair, whose sign is a matter of how its axes are drawn.
    """
    first, second = (members.by_name.get(name) for name in joins)
    if ratio != 1.0 or first is None or second is None:
        return
    apart = drawn.axes_apart(first, second)
    if apart is not None and apart > ONE_AXIS:
        says = f'ties "{joins[0]}" and "{joins[1]}" one to one, but their axes stand {apart:.4g} mm apart'
        mend = "a coupling ties shafts on one axis: mend a pivot; a pair of meshing sectors has a negative ratio"
        yield Slip((*at, "joins"), says, mend)


def _driver(design: Table, members: Members) -> Iterator[Slip]:
    if "cable" in design and "drive" in design:
        says = "does not go with [cable]: both say what turns the train"
        yield Slip(("drive",), says, "keep one of the two")
    if "cable" not in design and "drive" not in design:
        mend = 'add [cable] with pulls = "member.arm", or [drive] with turns = "member"'
        yield Slip((), "nothing says what turns the train", mend)
    drive, cable = design.get("drive") or {}, design.get("cable") or {}
    yield from members.missing(drive.get("turns"), ("drive", "turns"))
    yield from members.missing(cable.get("quadrant"), ("cable", "quadrant"))
    yield from members.sliding(
        cable.get("quadrant"), ("cable", "quadrant"), "does not turn", 'let the cable pull a pin of it: pulls = "..."'
    )
    yield from members.missing_pin(cable.get("pulls"), ("cable", "pulls"))
    yield from _profile(("cable", "profile"), cable.get("profile") or {})
    pulled, end, at = members.place(cable.get("pulls")), cable.get("casing_end"), ("cable", "casing_end")
    on_pin = [*apart(end, pulled, at)]
    yield from on_pin
    out = members.off_axis(end, cable.get("quadrant") or str(cable.get("pulls")).rpartition(".")[0])
    radius = cable.get("radius")
    if out is None:
        return
    if "quadrant" in cable and radius is not None and out < radius + SAME_PLACE:
        says = f"lies inside the quadrant, {out:.4g} mm from its axis; its radius is {radius:g} mm"
        yield Slip(at, says, "move the casing end out, or leave it out")
    elif "pulls" in cable and out < SAME_PLACE and not on_pin:
        says = "stands on the axis of the member that it pulls, where the cable has no lever arm"
        yield Slip(at, says, "move it to one side")


def _profile(at: Path, points: Mapping[str, Table]) -> Iterator[Slip]:
    """The turns of a snail quadrant's points must all go one way."""
    turns = [point["turn"] for point in points.values()]
    steps = [b - a for a, b in pairwise(turns)]
    for i, step in enumerate(steps):
        if step * (steps[0] or 1.0) <= 0.0:
            says = f"point {i + 2} stands at {turns[i + 1]:g} deg after {turns[i]:g} deg"
            yield Slip((*at, i + 1), says, "the turns of the points must all rise, or all fall")
            return


def _stop(at: Path, stop: Table, members: Members) -> Iterator[Slip]:
    name = stop.get("on")
    yield from members.missing(name, (*at, "on"))
    table = members.table.get(name or "")
    right, sort = {
        "shaft": ("plate_angle", "a shaft"),
        "slide": ("travel", "a slide"),
    }.get(table or "", ("turn", "a bell crank"))
    wrong = next((key for key in ("plate_angle", "turn", "travel") if key in stop and key != right), None)
    if table is not None and wrong and right not in stop:
        yield Slip((*at, wrong), f'does not go with {sort}, which "{name}" is', f"write {right} instead")


def _told(at: Path, found: Iterable[Clash]) -> Iterator[Slip]:
    """What does not go together inside one part, as slips."""
    yield from (Slip((*at, *clash.keys), clash.says, clash.mend) for clash in found)


def apart(
    one: tuple[float, ...] | None, other: Point | None, at: Path, says: str = "stands on the pin that it pulls"
) -> Iterator[Slip]:
    """Say so if two places are one; a place without z lies at the other's."""
    if one is not None and other is not None and math.dist(one, other[: len(one)]) < SAME_PLACE:
        yield Slip(at, says, "move one of them")


def _rows(design: Table, table: str) -> Iterator[tuple[str, Table]]:
    yield from ((name, row) for name, row in (design.get(table) or {}).items() if row is not None)


def _arms(member: Table | None) -> Mapping[str, Table | None] | None:
    """Arms of a member, pins of a slide; None where they cannot be known."""
    if member is None:
        return None
    arms: Mapping[str, Table | None] | None = member.get("pin" if "along" in member else "arm", {})
    return arms


def _choice(what: str, names: Iterable[str]) -> str:
    """Name what there is, the first few of it."""
    found = [f'"{name}"' for name, _ in zip(names, range(7), strict=False)]
    if not found:
        return f"there are no {what}"
    return f"{what} here: {', '.join(found[:6])}{' ...' if len(found) > 6 else ''}"
