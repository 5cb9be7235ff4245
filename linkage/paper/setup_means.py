"""How fine the adjusters are, on a set-up card; and what serves where one is too coarse."""

from __future__ import annotations

from linkage.paper.lines import fixed
from linkage.paper.sheet import Block, Figures, Words, table
from linkage.search.adjusters import FLATS
from linkage.search.coarseness import Coarse
from linkage.search.tune import Tuning
from linkage.threads import length_per_turn

_SHARES = {2: "half", 3: "a third", 4: "a quarter", 5: "a fifth", 6: "a sixth"}


def fineness(tuning: Tuning, told: Figures) -> list[Block]:
    """What one step of every adjuster does at idle; lengths in the design's unit, angles [deg]."""
    coarse = [c for c in tuning.advice.coarse if c.too_coarse]
    rows = []
    for c in tuning.advice.coarse:
        word = "too coarse" if c.too_coarse else "fine enough"
        by = fixed(c.degrees, 3) if c.step else ""
        rows.append([f"{c.kind} {c.name}", _step(tuning, c, told), c.shaft, by, fixed(c.limit), word if c.step else ""])
    found: list[Block] = [table(("adjuster", "one step", "moves", "by [deg]", "limit [deg]", ""), rows, "<<<>><")]
    found += [Words(_instead(tuning, c, told), "caution") for c in coarse]
    if coarse:
        says = (
            "A stop screw sets its own shaft only, the link then a hair slack, so that it does not lift the shaft off: "
            "it takes that shaft up a little late. Two links whose steps differ come closer together than either alone."
        )
        found.append(Words(says))
    return found


def _step(tuning: Tuning, c: Coarse, told: Figures) -> str:
    if c.kind != "link":
        return f"{c.step:g} degrees"
    link = tuning.run.rig.link[c.name]
    if not c.step or link.pitch is None:
        return f"no pitch given; 1 {told.units} is {fixed(c.per_unit * told.scale)} degrees"
    size = f"{told.bare(c.step, 3 if told.units == 'mm' else 4)} {told.units}"
    if link.hands == "right":
        return f"half a turn, {size}"
    parts = round(length_per_turn(link.pitch, link.hands) / c.step / FLATS)
    return f"1 flat, {size}" if parts == 1 else f"1/{parts} of a flat, {size}"


def _instead(tuning: Tuning, c: Coarse, told: Figures) -> str:
    says = (
        f"{c.kind} {c.name}: one step is {fixed(c.degrees)} degrees of {c.shaft} at idle, so whole steps leave up to "
        f"{fixed(0.5 * c.degrees)}; {c.limit:g} is wanted. What serves instead: "
    )
    ways = []
    if c.screw is not None:
        ways.append(f"the idle stop screw of {c.shaft} ({c.limit:g} degrees is {fixed(c.screw)} of a turn)")
    if c.kind == "link" and tuning.run.rig.link[c.name].hands == "right":
        ways.append("left- and right-hand ends, so that the tube is turned in place")
    else:
        ways.append(f"{_SHARES.get(c.parts, f'1/{c.parts}')} of a step, by a mark")
    if c.kind == "link":
        ways.append(f"a differential thread, M6x1 outside and M5x0.8 inside ({fixed(c.differential)} degrees a flat)")
    if c.radius is not None:
        ways.append(f"a driven lever of {told.bare(c.radius, 0 if told.units == 'mm' else 1)} {told.units}")
    return says + "; ".join(ways) + "."
