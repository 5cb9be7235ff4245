"""A train that has come apart: each part as a linkage of its own."""

from __future__ import annotations

import dataclasses

from linkage.answers.springs import member_of
from linkage.parts import Linkage
from linkage.train import ends, order, restless


def beyond(rig: Linkage, member: str) -> set[str]:
    """Names of a member and of all that is driven through it."""
    found = {member}
    for step in order(rig):
        if step.driving in found:
            found.add(step.driven)
    return found


def part_of(rig: Linkage, members: set[str], driver: str) -> Linkage:
    """The linkage of some members alone, turned by ``driver``, with all that is fixed to them.

    What a slot or a tang drives that no stop holds any more hangs free, and is left out.
    """

    has_driver = rig.driver in members
    part = dataclasses.replace(
        rig,
        shaft={name: part for name, part in rig.shaft.items() if name in members},
        bellcrank={name: part for name, part in rig.bellcrank.items() if name in members},
        slide={name: part for name, part in rig.slide.items() if name in members},
        link={name: by for name, by in rig.link.items() if {*ends(by)} <= members},
        coupling={name: by for name, by in rig.coupling.items() if {*ends(by)} <= members},
        stop={name: stop for name, stop in rig.stop.items() if stop.on in members},
        spring={name: spring for name, spring in rig.spring.items() if member_of(spring) in members},
        cable=rig.cable if has_driver else None,
        pedal=rig.pedal if has_driver else None,
        drive=rig.drive if has_driver else driver,
        changes=(),
    )
    for loose in restless(part):
        return part_of(rig, members - beyond(part, loose.driven), driver)
    return part
