"""The last step of reading: parts from checked tables, every point with its z."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from linkage.design_file import drawn
from linkage.design_file.drawn import Table
from linkage.design_file.schema import KEYS
from linkage.parts import Linkage, Point, Source


def built(design: Table, title: str, source: Source) -> Linkage:
    """Make the linkage of tables in which no pass has found a fault [mm, deg, N]."""
    tables: dict[str, Any] = {key.name: {} for key in KEYS[Linkage].values() if key.shape == "tables"}
    tables |= {"title": title, "units": "mm", **_completed(design)}
    drive = tables.pop("drive", {}).get("turns")
    rig: Linkage = _made(Linkage, tables, drive=drive, source=source)
    return rig


def _made(part: type, table: Table, **more: Any) -> Any:
    """Make a part and the parts inside it."""
    fields = dict(table)
    for key in KEYS[part].values():
        if key.of is None or key.name not in table:
            continue
        inner = table[key.name]
        if key.shape == "table":
            fields[key.name] = _made(key.of, inner)
        else:
            fields[key.name] = {name: _made(key.of, row, name=name) for name, row in inner.items()}
    return part(**fields, **more)


def _completed(design: Table) -> dict[str, Any]:
    """Give every point of the tables its z."""
    members: dict[str, Table] = {**design.get("slide", {}), **design.get("bellcrank", {}), **design["shaft"]}
    whole = dict(design)
    for table in ("shaft", "bellcrank"):
        whole[table] = {name: _member(member) for name, member in design.get(table, {}).items()}
    whole["slide"] = {name: _slide(block) for name, block in design.get("slide", {}).items()}
    if cable := design.get("cable"):
        if "pulls" in cable:
            z = _pin(cable["pulls"], members)[2]
        else:
            z = (drawn.pivot_of(members[cable["quadrant"]]) or (0.0, 0.0, 0.0))[2]
        whole["cable"] = {**cable, "casing_end": drawn.completed(cable.get("casing_end"), z)}
    if pedal := design.get("pedal"):
        whole["pedal"] = _pedal(pedal)
    if rocking := design.get("rocking"):
        whole["rocking"] = {**rocking, "axis": drawn.completed(rocking["axis"], 0.0)}
    whole["spring"] = {name: _spring(row, members) for name, row in design.get("spring", {}).items()}
    return whole


def _member(member: Table) -> dict[str, Any]:
    arms = {name: _arm(member, arm) for name, arm in member.get("arm", {}).items()}
    return {**member, "pivot": drawn.pivot_of(member), "arm": arms}


def _pedal(pedal: Table) -> Table:
    if "pivot" not in pedal:
        return pedal
    drawn_by = _member(pedal)
    return {**drawn_by, "casing_end": drawn.completed(pedal["casing_end"], drawn_by["pivot"][2])}


def _slide(block: Table) -> dict[str, Any]:
    pins = {name: {**pin, "at": drawn.pin_of(block, pin)} for name, pin in block.get("pin", {}).items()}
    return {**block, "origin": drawn.completed(block["origin"], 0.0), "pin": pins}


def _arm(member: Table, arm: Table) -> Table:
    if "pin" not in arm:
        return arm
    rest = {key: value for key, value in arm.items() if key != "station"}  # it is in the pin's z
    return {**rest, "pin": drawn.pin_of(member, arm)}


def _spring(spring: Table, members: Mapping[str, Table]) -> Table:
    if "pulls" not in spring:
        return spring
    z = _pin(spring["pulls"], members)[2]
    return {**spring, "anchor": drawn.completed(spring["anchor"], z)}


def _pin(pin: str, members: Mapping[str, Table]) -> Point:
    owner, _, arm = pin.rpartition(".")
    place = drawn.pin_of(members[owner], members[owner]["pin" if "along" in members[owner] else "arm"][arm])
    assert place is not None, pin
    return place
