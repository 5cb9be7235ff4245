"""What must hold of the mountings on engine and body, and of the stations along a shaft."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from linkage.design_file.drawn import Table
from linkage.design_file.lines import Path
from linkage.design_file.slips import Slip

_TABLES = ("shaft", "bellcrank", "slide")


def slips(design: Table) -> Iterator[Slip]:
    """Yield everything that does not fit together in ``mounted``, ``twist`` and the stations of a file."""
    members = {
        name: (table, row) for table in _TABLES for name, row in (design.get(table) or {}).items() if row is not None
    }
    cable = design.get("cable") or {}
    for name, (table, row) in members.items():
        if table == "shaft" and row.get("mounted") == "body":
            says = "is on the body, and a throttle shaft turns in its carburettor, on the engine"
            yield Slip((table, name, "mounted"), says, "leave it out; mount the bell crank before it on the body")
        if row.get("twist") is not None:
            turned = name in (cable.get("quadrant"), (design.get("drive") or {}).get("turns"))
            yield from _section((table, name), row, row["twist"], turned=turned)
    if cable.get("mounted") == "body" and "quadrant" in cable and "casing_end" not in cable:
        yield Slip(("cable", "mounted"), "says what the casing ends on, and not where", "add casing_end beside it")
    for name, coupling in (design.get("coupling") or {}).items():
        if coupling is not None:
            yield from _coupling(("coupling", name), coupling, members)


def _coupling(at: Path, coupling: Table, members: dict[str, tuple[str, Table]]) -> Iterator[Slip]:
    joins, stations = coupling.get("joins"), coupling.get("stations")
    if stations is not None and len(stations) != 2:
        says = f"must be two, one on each of the members that it joins, got {len(stations)}"
        yield Slip((*at, "stations"), says, "write [s, s]")
    if joins is None or not all(name in members for name in joins):
        return
    one, other = (members[name][1].get("mounted", "engine") for name in joins)
    if one is not None and other is not None and one != other:
        says = f'"{joins[0]}" is mounted on the {one} and "{joins[1]}" on the {other}: a coupling would shear'
        yield Slip((*at, "joins"), says, "mount both alike, or join them with a link")


def _section(at: Path, member: Table, twist: Table, *, turned: bool) -> Iterator[Slip]:
    here, shaft = (*at, "twist"), at[0] == "shaft"
    thick: Any = twist.get("diameter", member.get("shaft_diameter"))
    if "diameter" not in twist and "shaft_diameter" not in member:
        yield Slip((*here, "diameter"), "is missing", "add it: what twists has a thickness")
    wall = twist.get("wall")
    if wall is not None and thick is not None and 2.0 * wall > thick:
        says = f"{wall:g} mm is more than half the diameter, {thick:g} mm"
        yield Slip((*here, "wall"), says, "leave it out for a solid shaft")
    if "material" in twist and "shear_modulus" in twist:
        yield Slip((*here, "shear_modulus"), "does not go with material", "keep one of the two")
    if not shaft:
        for key, mend in (
            ("plates_at", "plates are on a [shaft.NAME]"),
            ("stops_at", "give its [stop.NAME] the station"),
        ):
            if key in twist:
                yield Slip((*here, key), "does not go with a bell crank", mend)
    places, plates = twist.get("plates_at"), member.get("plates", 1)
    if shaft and places is not None and plates is not None and len(places) != plates:
        says = f"gives {len(places)} of the {plates} plates" if plates > 1 else f"gives {len(places)} plates, not 1"
        yield Slip((*here, "plates_at"), says, f"give {plates} stations, or mend plates")
    if "turned_at" in twist and not turned:
        mend = "leave it out: the arms, links and couplings that turn it have stations of their own"
        yield Slip((*here, "turned_at"), "does not go with a member that no quadrant and no [drive] turns", mend)
