"""The links on the bench sheet: what to cut, how far to screw in, what a turn of each does, what to buy."""

from __future__ import annotations

import numpy as np

from linkage.answers import joints
from linkage.answers.airflow import open_area_fractions, open_area_slope
from linkage.answers.sensitivities import sensitivities
from linkage.motion import Motion
from linkage.paper.lines import fixed
from linkage.paper.practice import ADJUSTMENT, Practice, RodEnd
from linkage.paper.sheet import TIED, Block, Figures, Words, table
from linkage.parts import Link, Linkage
from linkage.threads import length_per_turn

#: a slot is wider than its pin by this [mm]; common practice, no source
SLOT_ROOM = "0.1 to 0.2"
#: marks on the travel at which a turn of a link is told
PLACES = (0.0, 0.5, 1.0)


def cut_list(run: Motion, practice: Practice, told: Figures) -> list[Block]:
    """Every link: centre distance, ends, stock to cut, turns in and what is left of the thread."""
    if not run.rig.link:
        return []
    lengths, fitted = joints.lengths(run), {j.step.by.name: j.fitted for j in run.train.joints}
    u = told.units
    rows = []
    for name, link in run.rig.link.items():
        end = practice.rod_end(link)
        cells = [
            name,
            f"{link.joins[0]} -{TIED}{link.joins[1]}",
            told.cell(lengths[name]),
            "" if fitted[name] else "given",
        ]
        rows.append([*cells, *_ends(link, end, lengths[name], practice, told)])
    heading = (
        *("link", "joins", f"centres [{u}]", "", "thread", "hands", f"cut [{u}]", "turns in"),
        *(f"engaged [{u}]", "left [turns]", f"set shorter [{u}]", f"longer [{u}]"),
    )
    found: list[Block] = [table(heading, rows, "<<><<<>>>>>>")]
    found.append(
        Words(
            "Centres: ball centre to ball centre at idle, as drawn. Cut: rod or tube over all, its threads included, "
            "both ends screwed in by the turns given. Left: turns that can come out again before the least engagement."
        )
    )
    return found + _slots(run, told) + _short(run.rig, lengths, practice, told)


def _slots(run: Motion, told: Figures) -> list[Block]:
    """What to cut into the end of every slotted link, and which end of it the pin keeps to at idle."""
    found: list[Block] = []
    for joint in run.train.joints:
        if not joint.slack or joint.forward is None:
            continue
        pulls = float(joint.slot) > 0.0
        near, far = ("near", "far") if pulls else ("far", "near")
        found.append(
            Words(
                f'Link {joint.step.by.name} is slotted at the end of "{joint.step.driven}": '
                f"{told.with_unit(abs(float(joint.slot)))} from pin centre to pin centre, and the pin's diameter more "
                f"over all. Its width is the pin's and {SLOT_ROOM} mm (common practice, no source), its ends round, "
                f"its sides smooth and square to the pin. At idle the pin stands at the end {near} "
                f'"{joint.step.driving}"; opening takes it to the {far} end. Centres above are to where it stands '
                f"at idle."
            )
        )
    return found


def _ends(link: Link, end: RodEnd | None, length: float, practice: Practice, told: Figures) -> list[str]:
    hands = "left + right" if link.hands == "left+right" else "right + right"
    of = practice.thread_of(link)
    if end is None or of is None:
        return [of.designation if of is not None else "", hands, *[""] * 6]
    cut = length - 2.0 * (end.length - end.engagement)
    pitch = end.engagement / end.turns
    return [
        of.designation,
        hands,
        told.cell(cut) if cut > 0.0 else "none",
        f"{end.turns}",
        told.bare(end.engagement),
        fixed((end.engagement - end.least) / pitch, 1),
        told.bare(end.shorter),
        told.bare(end.longer),
    ]


def _short(rig: Linkage, lengths: dict[str, float], practice: Practice, told: Figures) -> list[Block]:
    """What is wrong or scant about the links' ends."""
    found: list[Block] = []
    ends = {name: practice.rod_end(link) for name, link in rig.link.items()}
    unknown = [name for name, end in ends.items() if end is None]
    if unknown:
        says = (
            f"no cut length for link {', '.join(unknown)}: give it a pitch in the design, or --thread, "
            "--rod-end-length and --thread-depth."
        )
        found.append(Words(says, "caution"))
    other = [
        name
        for name, link in rig.link.items()
        if (of := practice.thread_of(link)) is not None and link.pitch is not None and abs(of.pitch - link.pitch) > 2e-3
    ]
    if other:
        says = f"link {', '.join(other)}: the thread set for this sheet has another pitch than the design gives."
        found.append(Words(says, "caution"))
    thin = [name for name, end in ends.items() if end is not None and end.engagement < end.least - 1e-9]
    if thin:
        says = f"link {', '.join(thin)}: these ends have too little thread for the least engagement; take longer ones."
        found.append(Words(says, "fail"))
    no_room = [
        name
        for name, end in ends.items()
        if end is not None and lengths[name] - 2.0 * (end.length - end.engagement) <= 0.0
    ]
    if no_room:
        says = f"link {', '.join(no_room)}: shorter than its two ends; take shorter ends or move the arms apart."
        found.append(Words(says, "fail"))
    scant = [name for name, end in ends.items() if end is not None and min(end.shorter, end.longer) < ADJUSTMENT - 1e-9]
    if scant:
        says = (
            f"link {', '.join(scant)}: less than {told.with_unit(ADJUSTMENT)} of adjustment either way; ends with "
            "longer threads give more (--thread-depth)."
        )
        found.append(Words(says, "caution"))
    return found


def turns(run: Motion, told: Figures) -> list[Block]:
    """What the finest step of every link does at the plates."""
    known = {name: link for name, link in run.rig.link.items() if link.pitch is not None}
    if not known:
        return []
    at = run.at_fraction(PLACES)
    found = sensitivities(at)
    row = {dimension.path: i for i, dimension in enumerate(found.dimensions)}
    air = _air_per_degree(run)
    rows = []
    for name, link in known.items():
        assert link.pitch is not None
        step = length_per_turn(link.pitch, link.hands) / (6.0 if link.hands == "left+right" else 2.0)
        moved = {shaft: found.plate_angle[shaft][row[f"link.{name}.length"]] * step for shaft in run.rig.shaft}
        for shaft, by in moved.items():
            if np.max(np.abs(by)) < 1e-9:
                continue
            share = air.get(shaft)
            rows.append(
                [
                    name,
                    "a flat" if link.hands == "left+right" else "half a turn",
                    told.bare(step, 2 if told.units == "mm" else 4),
                    shaft,
                    "opens" if by[0] > 0.0 else "shuts",
                    *(fixed(abs(float(v)), 2) for v in by),
                    "" if share is None else fixed(abs(float(by[0])) * share, 0),
                ]
            )
    heading = (
        *("link", "longer by", f"[{told.units}]", "plate", "", "at idle [deg]", "half", "wide open", "idle air [%]"),
    )
    return [table(heading, rows, "<<><<>>>>")] if rows else []


def _air_per_degree(run: Motion) -> dict[str, float]:
    """Change of every shaft's open area at idle per degree of plate [%], where the bore is known."""
    idle = run.at(run.ends[0])
    dims, found = idle.train.dims, {}
    for name, fraction in open_area_fractions(idle).items():
        if fraction is None or float(fraction[0]) <= 1e-6:
            continue
        at = f"shaft.{name}"
        slope = open_area_slope(
            idle.plate_angle[name],
            shut=dims[f"{at}.plate_angle.shut"],
            shaft_ratio=dims[f"{at}.shaft_diameter"] / dims[f"{at}.bore"],
        )
        found[name] = 100.0 * float(slope[0] / fraction[0])
    return found


def to_buy(rig: Linkage, practice: Practice) -> list[Block]:
    """Rod ends and lock nuts by thread and hand."""
    count: dict[tuple[str, str], int] = {}
    for link in rig.link.values():
        of = practice.thread_of(link)
        name = of.designation if of is not None else "thread not given"
        for hand in ("left", "right") if link.hands == "left+right" else ("right", "right"):
            count[name, hand] = count.get((name, hand), 0) + 1
    rows = [[name, f"{hand} hand", f"{n}", f"{n}"] for (name, hand), n in sorted(count.items())]
    return [table(("thread", "", "rod ends", "lock nuts"), rows, "<<>>")] if rows else []
