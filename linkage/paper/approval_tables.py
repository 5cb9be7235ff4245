"""The tables of the approval sheet: the travel, mismatch, stops, plates, links."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from linkage import turns
from linkage.answers import Answer, forces, joints
from linkage.answers.airflow import open_area_fractions
from linkage.answers.extremes import Extreme
from linkage.answers.mismatch import REGION, spread
from linkage.answers.progression import TABLE
from linkage.answers.stops import End
from linkage.paper.lines import fixed
from linkage.paper.numerals import Numerals
from linkage.paper.readings import pulls_open
from linkage.paper.sections import per_what
from linkage.paper.shapes import Floats
from linkage.parts import Linkage
from linkage.train import compared


@dataclass(frozen=True)
class Table:
    """A title, column heads, rows of text, ``<`` or ``>`` for each column, and a note below."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    columns: str
    note: str = ""


def travel(answer: Answer, numerals: Numerals) -> Table:
    """The progression table: everything through the travel, shafts that read alike in one row.

    Parameters
    ----------
    answer : Answer
    numerals : Numerals
        Writes [mm], [deg], [N] in the design's own units.
    """
    run, units = answer.run, numerals.units
    at = run.at_fraction(TABLE)
    rows: list[tuple[str, ...]] = []
    opens = pulls_open(run)
    if opens and at.pedal is not None:
        rows += _lengths("Pedal at the pad", at.pedal, numerals)
    if at.cable is not None:
        rows += _lengths("Cable" if opens else "Cable (negative: paid out)", at.cable, numerals)
    foot = forces.pedal_force(at)[0] if answer.forces is not None and opens else None
    if foot is not None:
        rows.append((f"Force at the pedal [{numerals.force_unit}]", *(numerals.force(float(v)) for v in foot)))
    if not opens:
        rows.append(_driver(answer, numerals, at.turn))
    rows += _alike("Plate angle", "°", {name: _angles(angle) for name, angle in at.plate_angle.items()})
    if len(at.plate_angle) > 1:
        rows.append(("Plates apart [°]", *_angles(spread(at), 3)))
    areas = {
        name: tuple(fixed(100.0 * float(v), 1) for v in area)
        for name, area in open_area_fractions(at).items()
        if area is not None
    }
    rows += _alike("Open area", "% of the bore", areas)
    return Table(
        "Progression: through the travel",
        ("Travel [%]", *(f"{100.0 * share:.0f}" for share in TABLE)),
        tuple(rows),
        "<" + ">" * len(TABLE),
        _progression(answer, units),
    )


def _driver(answer: Answer, numerals: Numerals, turn: Floats) -> tuple[str, ...]:
    """The row of the driver's turns, or of the travel of one that slides."""
    rig = answer.run.rig
    if rig.slides(rig.driver):
        return (f"Travel of {rig.driver} [{numerals.units}]", *(numerals.length(float(v)) for v in turn))
    return (f"Turn of {rig.driver} [°]", *_angles(turn))


def _progression(answer: Answer, units: str) -> str:
    found = answer.progression
    scale = 25.4 if units == "in" and found.per == "mm" else 1.0
    low, middle, high = (fixed(gain * scale, 1 if scale > 1.0 else 2) for gain in found.gains)
    per = per_what(answer, units)
    says = f'"{found.shaft}" opens {low}° per {per} at idle, {middle}° at half travel, {high}° at wide open'
    if found.ratio is not None:
        how = "slowly first" if found.ratio > 1.02 else "fast first" if found.ratio < 0.98 else "evenly"
        says += f": it opens {how}, the last {fixed(found.ratio)} times the first"
    return says + "."


def tables(answer: Answer, numerals: Numerals) -> tuple[Table, ...]:
    """The smaller tables, those that have something to say."""
    found = (_plates(answer, numerals), _mismatch(answer), _stops(answer, numerals), _links(answer, numerals))
    return tuple(table for table in found if table.rows)


def _lengths(name: str, values: Floats, numerals: Numerals) -> list[tuple[str, ...]]:
    rows = [(f"{name} [{numerals.units}]", *(numerals.length(float(v)) for v in values))]
    if numerals.fractions:
        rows.append(("  to the nearest 1/64", *(numerals.fraction(float(v)) for v in values)))
    return rows


def _angles(values: Floats, digits: int = 2) -> tuple[str, ...]:
    return tuple(fixed(float(v), digits).replace("-", "−") for v in values)


def _alike(what: str, unit: str, rows: Mapping[str, tuple[str, ...]]) -> list[tuple[str, ...]]:
    """Rows that read alike under one name."""
    same: dict[tuple[str, ...], list[str]] = {}
    for name, cells in rows.items():
        same.setdefault(cells, []).append(name)
    return [(f"{what} {', '.join(names)} [{unit}]", *cells) for cells, names in same.items()]


def _plates(answer: Answer, numerals: Numerals) -> Table:
    rig = answer.run.rig
    ends = answer.run.at(answer.run.ends)
    rows = []
    for name, shaft in rig.shaft.items():
        first, last = (numerals.angle(float(v)) for v in ends.plate_angle[name])
        asked = shaft.plate_angle
        way = "ccw" if shaft.opens == "ccw" else "cw"
        rows.append((name, way, numerals.angle(asked.idle), first, numerals.angle(asked.wide_open), last))
    head = ("Shaft", "opens", "idle, asked", "reached", "wide open", "reached")
    return Table("Plates at the ends of the travel", head, tuple(rows), "<<>>>>")


def _mismatch(answer: Answer) -> Table:
    apart, limits = answer.mismatch, answer.run.rig.limits
    if len(compared(answer.run.rig)) < 2:
        return Table("", (), (), "")
    regions: tuple[tuple[str, Extreme | None, float], ...] = (
        (f"First {REGION:.0f}° of opening", apart.off_idle, limits.mismatch_off_idle),
        ("Middle", apart.middle, limits.mismatch),
        (f"Last {REGION:.0f}°", apart.last, limits.mismatch_at_wide_open),
    )
    rows = [("At the closing stop", fixed(apart.at_idle, 3), fixed(limits.mismatch_at_idle), "0 %")]
    for name, most, limit in regions:
        if most is not None:
            rows.append((name, fixed(most.value, 3), fixed(limit), f"{abs(100.0 * most.fraction):.0f} %"))
    rows.append(("At the opening stop", fixed(apart.at_wide_open, 3), "", "100 %"))
    rows.append(("Root mean square", fixed(apart.rms, 3), "", "all"))
    note = ""
    if apart.flow_at_idle_percent is not None:
        note = f"At idle the plates differ by {fixed(apart.flow_at_idle_percent, 1)} % in open area, and so in air."
    head = ("How far the plates stand apart", "most [°]", "limit [°]", "at travel")
    return Table("Mismatch between the shafts", head, tuple(rows), "<>>>", note)


def _stops(answer: Answer, numerals: Numerals) -> Table:
    rows: list[tuple[str, ...]] = []
    ends = (("Closing", answer.stops.closing), ("Opening", answer.stops.opening))
    for side, end in ends:
        rows += _end(side, end, answer.run.rig, numerals)
    return _trimmed("Stop positions", ("End", "Stop", "left to it", "at its screw", "turns"), rows, "<<>>>")


def _trimmed(title: str, head: Sequence[str], rows: Sequence[Sequence[str]], columns: str) -> Table:
    """A table without the columns that are empty all the way down."""
    kept = [i for i in range(len(head)) if any(row[i] for row in rows)]
    shown = tuple(tuple(row[i] for i in kept) for row in rows)
    return Table(title, tuple(head[i] for i in kept), shown, "".join(columns[i] for i in kept))


def _end(side: str, end: End, rig: Linkage, numerals: Numerals) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = [(side, end.holds or "a dead point, no stop", "holds", "", "")]
    for name, gap in sorted(end.gaps.items(), key=lambda item: item[1]):
        screw = end.screws.get(name)
        at_screw = ("", "") if screw is None else (numerals.length_and_unit(screw.distance), fixed(screw.turns))
        slides = rig.slides(turns.member_of_stop(rig, name))
        left = numerals.length_and_unit(gap) if slides else numerals.angle(gap)
        rows.append(("", name, left, *at_screw))
    return rows


def _links(answer: Answer, numerals: Numerals) -> Table:
    run = answer.run
    lengths = joints.lengths(run)
    fitted = {joint.step.by.name: joint.fitted for joint in run.train.joints}
    rows = []
    for name, link in run.rig.link.items():
        turn = None if link.pitch is None else link.pitch * (2.0 if link.hands == "left+right" else 1.0)
        cells = (name, " – ".join(link.joins), numerals.length_and_unit(lengths[name]))
        rows.append((*cells, "fitted" if fitted[name] else "given", "" if turn is None else numerals.length(turn)))
    return _trimmed("Links", ("Link", "joins", "length", "", f"a turn [{numerals.units}]"), rows, "<<><>")
