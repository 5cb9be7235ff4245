"""What must hold between the values of the pedal and of the followers, which stand beside the train."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from linkage.design_file import drawn
from linkage.design_file.drawn import Table
from linkage.design_file.references import Members, apart, arm_slips
from linkage.design_file.slips import Slip, nearest

#: the arms of a pedal that is a bell crank of its own
ARMS = {"pad": "the foot presses", "cable": "the cable is hooked to"}


def slips(design: Table) -> Iterator[Slip]:
    """Yield everything that does not fit together in the tables ``[pedal]`` and ``[follower.NAME]``."""
    members = Members(design)
    pedal = design.get("pedal") or {}
    if "pivot" in pedal:
        yield from _crank(design, pedal)
    elif "pad" in pedal:
        yield from _pad(design, pedal["pad"], members)
    for name, follower in (design.get("follower") or {}).items():
        if follower is not None:
            yield from _follower(name, follower, members)


def _crank(design: Table, pedal: Table) -> Iterator[Slip]:
    """A pedal that pulls the cable by an arm of its own."""
    if "cable" not in design and "drive" in design:
        mend = 'name the pin that the foot presses instead: pad = "member.arm"'
        yield Slip(("pedal", "pivot"), "pulls a cable, and this design has none", mend)
    arms = pedal.get("arm", {})
    if arms is None:
        return
    for name, does in ARMS.items():
        if name not in arms:
            yield Slip(("pedal", "arm", name), "is missing", f"add [pedal.arm.{name}], the arm that {does}")
    for name, arm in arms.items():
        if name not in ARMS:
            mend = nearest(name, ARMS) or "a pedal has the arms pad and cable"
            yield Slip(("pedal", "arm", name), "is no arm of a pedal", mend)
        elif arm is not None:
            yield from arm_slips(("pedal", "arm", name), pedal, arm)
    hooked = drawn.pin_of(pedal, arms["cable"]) if arms.get("cable") is not None else None
    yield from apart(pedal.get("casing_end"), hooked, ("pedal", "casing_end"))


def _pad(design: Table, pad: Any, members: Members) -> Iterator[Slip]:
    """A pedal that is the driver of the train."""
    at = ("pedal", "pad")
    if "cable" in design:
        mend = "give [drive] turns instead of [cable], or draw the pedal by its pivot, arms and casing_end"
        yield Slip(at, "drives by links, and here a cable does", mend)
        return
    yield from members.missing_pin(pad, at)
    if not isinstance(pad, str):
        return
    owner, driver = pad.rpartition(".")[0], (design.get("drive") or {}).get("turns")
    if owner in members.by_name and driver in members.by_name and owner != driver:
        says = f'is on "{owner}", and [drive] says that "{driver}" is turned'
        yield Slip(at, says, f'write turns = "{owner}" in [drive], or name an arm of "{driver}"')
    yield from members.sliding(owner, at, "does not turn", "a pad is the pin of a bell crank")


def _follower(name: str, follower: Table, members: Members) -> Iterator[Slip]:
    at = ("follower", name)
    on = follower.get("on")
    yield from members.missing(on, (*at, "on"))
    mend = f'name one of its pins: pin = "{on}.PIN"'
    yield from members.sliding(on, (*at, "on"), "does not turn", mend)
    yield from members.missing_pin(follower.get("pin"), (*at, "pin"))
    for low, high in (("least_stroke", "most_stroke"), ("starts_by", "complete_by")):
        least, most = follower.get(low), follower.get(high)
        if least is not None and most is not None and least > most:
            yield Slip((*at, low), f"{least:g} is more than {high}, {most:g}", "exchange the two")
