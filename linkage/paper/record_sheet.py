"""The bench record on paper: a form to fill with a pencil, or what was measured beside what was designed."""

from __future__ import annotations

import numpy as np

from linkage.motion import Motion
from linkage.paper.lines import fixed
from linkage.paper.record import NOTES, ROWS, Record, nominal
from linkage.paper.sheet import Block, Figures, Section, Sheet, Steps, Words, facts_of, table

#: speeds at which the barrels are compared; common practice, no source
_SPEEDS = ("at idle, hot", "at 2000 to 3000 rpm, held steady")


def record_sheet(run: Motion, measured: Record | None = None, *, date: str = "") -> Sheet:
    """The record of one build: dimensions as built, plate angles, air, the closing proof.

    Parameters
    ----------
    run : Motion
        Of the design.
    measured : Record, optional
        What was measured; without it the cells are left to be written in.
    date : str

    Returns
    -------
    Sheet
        Lengths in the design's own unit [mm or in], angles [deg].
    """
    told = Figures(run.rig.units)
    sections = (
        Section("who and when", (_notes(measured),)),
        Section("as built", tuple(_built(run, measured, told))),
        Section("plate angles", tuple(_angles(run, measured, told))),
        Section("air, each barrel", () if measured is not None else tuple(_air(run))),
        Section("proved, engine off", (_proofs(run),)),
    )
    kind = "Bench record" if measured is None else "Bench record, filled"
    return Sheet(kind, run.rig.title, facts_of(run.rig, date), sections, date=date)


def _notes(measured: Record | None) -> Block:
    names = [name for name in NOTES if name not in ("title", "drawing", "units")]
    found = (
        {} if measured is None else {n: v for n, v in measured.notes.items() if n not in ("title", "drawing", "units")}
    )
    rows = [[name, found.get(name, "")] for name in (*names, *(name for name in found if name not in names))]
    return table(("", ""), rows, "<<", ruled=True)


def _built(run: Motion, measured: Record | None, told: Figures) -> list[Block]:
    u = told.units
    built = {} if measured is None else dict(measured.as_built)
    rows = []
    for path, value in nominal(run).items():
        at = built.pop(path, None)
        cells = ["", ""] if at is None else [told.bare(at), told.bare(at - value)]
        rows.append([path, told.bare(value), *cells])
    rows += [[path, "", told.bare(at) if not path.endswith(".angle") else fixed(at), ""] for path, at in built.items()]
    heading = ("dimension", f"design [{u}]", f"as built [{u}]", f"out by [{u}]")
    return [table(heading, rows, "<>>>", ruled=True)]


def _angles(run: Motion, measured: Record | None, told: Figures) -> list[Block]:
    """Plate angles at marks of the travel, as designed and as measured."""
    at = run.at_fraction(np.array(ROWS) / 100.0) if measured is None else _where(run, measured)
    if at is None:
        assert measured is not None
        rows = [[fixed(float(p), 2), *(fixed(float(a[i])) for a in measured.plate_angle.values())]
                for i, p in enumerate(measured.position)]  # fmt: skip
        return [table((measured.told, *(f"{n} [deg]" for n in measured.plate_angle)), rows, ">" * len(rows[0]))]
    shafts = list(run.rig.shaft) if measured is None else list(measured.plate_angle)
    heading = ["travel [%]"]
    if at.cable is not None:
        heading.append(f"cable [{told.units}]")
    if at.pedal is not None:
        heading.append(f"pad [{told.units}]")
    for name in shafts:
        heading += [f"{name}, design [deg]", f"{name} [deg]"] + (["out by"] if measured is not None else [])
    rows, fine = [], 1 if told.units == "mm" else 2
    for i, share in enumerate(at.fraction):
        row = [fixed(100.0 * float(share), 0)]
        row += [told.bare(float(at.cable[i]), fine)] if at.cable is not None else []
        row += [told.bare(float(at.pedal[i]), fine)] if at.pedal is not None else []
        for name in shafts:
            design = float(at.plate_angle[name][i])
            row.append(fixed(design))
            if measured is None:
                row.append("")
                continue
            read = float(measured.plate_angle[name][i])
            row += [fixed(read), fixed(read - design)]
        rows.append(row)
    found: list[Block] = [table(heading, rows, ">" * len(heading), ruled=measured is None)]
    says = "from the plane square to the bore, with a digital gauge set to nothing on the flange of the body."
    return [*found, Words(says)]


def _where(run: Motion, measured: Record) -> Motion | None:
    """The design's motion at the positions of a record; None where they cannot be told."""
    if measured.told == "travel":
        return run.at_fraction(np.clip(measured.position, 0.0, 1.0))
    if measured.told == "turn":
        return run.at(run.ends[0] + measured.position)
    foot = run.pedal_line
    if measured.told == "pedal" and foot is not None and (run.by_cable or run.cable is None):
        return run.at(run.turn_at_moved(foot.moved_at(np.asarray(measured.position))))
    if measured.told == "pedal" or not run.by_cable or run.cable is None:
        return None
    end = run.at(run.ends[1]).cable
    assert end is not None
    return run.at_fraction(np.clip(measured.position / float(end[0]), 0.0, 1.0))


def _air(run: Motion) -> list[Block]:
    barrels = [f"{name} {n}" for name, shaft in run.rig.shaft.items() for n in range(1, shaft.plates + 1)]
    rows = [[speed if i == 0 else " ", barrel, "", "", ""] for speed in _SPEEDS for i, barrel in enumerate(barrels)]
    heading = ("", "barrel", "before", "after", "what was turned, how many flats")
    return [table(heading, rows, "<<<<<", ruled=True)]


def _proofs(run: Motion) -> Block:
    steps = [f"Spring {name} alone: every shaft comes back to its stop from wide open." for name in run.rig.spring]
    steps += [f"Spring {name} away: every shaft comes back to its stop." for name in run.rig.spring]
    steps += [f"Link {name} away: every shaft comes back to its stop." for name in run.rig.link]
    steps += [f"Coupling {name} parted: every shaft comes back to its stop." for name in run.rig.coupling]
    steps += [
        "Wide open by the pedal, helper in the seat: every plate in line with its bore, the pedal on its own stop.",
        "Free play at idle; casing moved by hand moves no plate. Lock nuts, pins, paint marks.",
        "Done again hot.",
    ]
    return Steps(tuple(steps))
