"""Short papers for the bench: clocking advice, rigging pins, and what rounding costs."""

from __future__ import annotations

import math

from linkage.answers import CAUTION
from linkage.paper.lines import WIDTH, aligned, fixed, length, sentence, wrapped
from linkage.paper.report_fit import value_of
from linkage.parts import Linkage
from linkage.search.clocking import Clocking, Turned
from linkage.search.rigging import RiggedLink, Rigging, Slip
from linkage.search.rounding import Rounding

_MOST_WAYS = 12
_REGIONS = (
    ("at the closing stop", "mismatch_at_idle", "mismatch_at_idle"),
    ("first 10 degrees", "mismatch_off_idle", "mismatch_off_idle"),
    ("middle", "mismatch_middle", "mismatch"),
    ("last 10 degrees", "mismatch_last", "mismatch_at_wide_open"),
    ("anywhere", "mismatch", ""),
)


def clocking_report(found: Clocking) -> str:
    """Clocking advice as plain text: the sentence, then every way that was tried.

    Angles in degrees, lengths in the design's own unit [mm or in].
    """
    rig = found.drawn.rig
    blocks = [_head(rig, "clocking advice"), sentence(found.says)]
    rows = [["turn", "", "mismatch [deg]", f"links [{rig.units}]"], *_way(found.drawn, "as drawn", rig.units)]
    for way in found.ways[:_MOST_WAYS]:
        rows += _way(way, "" if way.turns else "nothing, links made to fit", rig.units)
    blocks.append(["WAYS", *aligned(rows, "<>><")])
    if len(found.ways) > _MOST_WAYS:
        blocks[-1] += sentence(f"{len(found.ways) - _MOST_WAYS} more ways are worse than these.")
    blocks.append(
        sentence("turns are in degrees, counter-clockwise positive in the drawing; each lever turns on its own shaft.")
    )
    return _joined(blocks)


def rigging_report(found: Rigging) -> str:
    """Rigging pins as plain text: the holes, then how the links are fitted between them.

    Angles in degrees, lengths in the design's own unit [mm or in].
    """
    rig, units = found.rig, found.rig.units
    size = f"{length(found.pin, units)} {units}"
    blocks = [_head(rig, f"rigging pins of {size}, at idle and with the plates at {found.plate_angle:g} degrees")]
    rows = [["member", "radius", "at", "idle x, y", "opening x, y", "apart", "turns", "0.1 mm is"]]
    for pin in found.pins:
        deep = 2 if max(abs(pin.idle[2]), abs(pin.opening[2])) < 1e-9 else 3
        places = [", ".join(length(v, units) for v in place[:deep]) for place in (pin.idle, pin.opening)]
        near = " !" if pin.too_near else ""
        rows.append(
            [pin.member, length(pin.radius, units), f"{fixed(pin.angle, 0)}°", *places,
             length(pin.apart, units) + near, f"{fixed(pin.turn, 1)}°", f"{fixed(pin.per_tenth)}°"]
        )  # fmt: skip
    blocks.append([f"HOLES [{units}]", *aligned(rows, "<>>>>>>>")])
    says = (
        "the hole of a member stands at a radius and an angle as drawn; the bracket behind it has one hole for idle "
        "and one for the opening. Drill member and bracket together: a hole a tenth off turns the member so far."
    )
    if any(pin.too_near for pin in found.pins):
        says += " Marked !: the bracket's two holes run into each other; give that member a larger radius."
    blocks.append(sentence(says))
    if found.blocks:
        places = [f'"{name}" {length(travel, units)} {units}' for name, travel in found.blocks.items()]
        blocks.append(
            sentence(f"what slides has no pin: clamp it as drawn at idle, and for the opening along its guide from "
                     f"there by {', '.join(places)}.")
        )  # fmt: skip
    if found.links:
        blocks.append(
            [f"LINKS [{units}]", *aligned([_LINKS, *(_link(link, units) for link in found.links)], "<>>>>>>>>")]
        )
        blocks.append(sentence(_LINK_WORDS))
    return _joined(blocks)


def rounding_report(found: Rounding) -> str:
    """What was rounded and what it costs, as plain text.

    Angles in degrees, lengths in the design's own unit [mm or in].
    """
    rig = found.rig
    blocks = [_head(rig, "rounded to what can be made")]
    if not found.dimensions:
        return _joined([*blocks, sentence("every dimension stands on its step already.")])
    rows = [["", "exact", "made", "nearest", "step", ""]]
    for row in found.dimensions:
        cells = [value_of(rig, row.path, value) for value in (row.exact, row.made, row.nearest, row.step)]
        rows.append([row.path, *(text for text, _ in cells), cells[0][1]])
    blocks.append(["DIMENSIONS", *aligned(rows, "<>>>><")])
    rows = [["mismatch [deg]", "exact", "made", "nearest", "limit"]]
    for words, figure, limit in _REGIONS:
        values = [fixed(side[figure], 3) for side in (found.exact, found.made, found.nearest)]
        rows.append([words, *values, fixed(getattr(rig.limits, limit)) if limit else ""])
    blocks.append(["WHAT IT COSTS", *aligned(rows, "<>>>>")])
    blocks.append(
        sentence(
            "made: the steps on either side of every dimension tried together, the furthest region against its limit "
            "as small as can be. Nearest: each dimension rounded by itself."
        )
    )
    return _joined(blocks)


def _head(rig: Linkage, what: str) -> list[str]:
    return ["═" * WIDTH, *wrapped(rig.title), *sentence(what), "═" * WIDTH]


def _joined(blocks: list[list[str]]) -> str:
    blocks = [*blocks, ["─" * WIDTH, *sentence(CAUTION)]]
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"


def _way(way: Turned, words: str, units: str) -> list[list[str]]:
    """Rows of one way, a lever each."""
    links = ", ".join(f"{name} {length(size, units)}" for name, size in way.lengths.items())
    if way.ends_agree:
        links += "; both ends exact"
    first = [fixed(way.mismatch, 3), links]
    if not way.turns:
        return [[words, "", *first]]
    levers = [[lever, f"{turn:+.2f}"] for lever, turn in way.turns.items()]
    return [[*levers[0], *first], *([*row, "", ""] for row in levers[1:])]


_LINKS = ["link", "length", "at idle", "turn", "at opening", "turn", "plates shut", "turn", "one step"]

_LINK_WORDS = (
    "at idle and at the opening: the pins in every member, the length with which the link just slips on, and what then "
    "makes it the design's, + longer. Plates shut: the bell cranks pinned at idle and every plate snapped shut on its "
    "bore, no pin in a shaft. Turns are in flats of the tube, or in half turns (h) of an end that must come off. Lock "
    "nuts last, then try both pins again."
)


def _link(link: RiggedLink, units: str) -> list[str]:
    def cells(slip: Slip) -> list[str]:
        if slip.flats is None:
            return [length(slip.length, units), "-"]
        turn = 0.0 if abs(slip.flats) < 0.05 else slip.flats
        return [length(slip.length, units), f"{turn:+.1f}{'h' if link.half_turns else ''}" if turn else "none"]

    step = "-" if link.flat is None or math.isnan(link.flat) else length(link.flat, units)
    return [link.link, length(link.length, units), *cells(link.idle), *cells(link.opening), *cells(link.shut), step]
