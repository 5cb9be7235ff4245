"""Readings off the bench: a small CSV table, blanks allowed; every fault with its line.

::

    position,  travel [%], left [deg], right [deg], left flow [kg/h], right gap [mm]
    idle,      0,          9.6,        10.1,        ,                 0.11
    half,      50,         41.3,       42.0,        ,

A column ``NAME [deg]`` is the plate angle of shaft NAME, ``NAME flow [kg/h]`` the air of one of its
barrels, ``NAME gap [mm]`` the gauge that goes between plate edge and bore. Where the linkage stands is
said by ``travel [%]``, ``cable [mm]``, ``pedal [mm]`` or ``turn [deg]`` (of the driver, ccw positive; of one
that slides ``turn [mm]``, its travel), all counted from rest on the closing stop, or not at all. ``position``
names a row in words; ``idle`` and ``wide open`` say that it stands on that stop, and so does a position of 0.
Lines that begin with ``#`` are passed over; semicolons between the cells go with a decimal comma. A filled
bench record does as well: of that only the table is read.
"""

from __future__ import annotations

import csv
import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from linkage import turns
from linkage.errors import DesignError, Fault, did_you_mean
from linkage.parts import Linkage
from linkage.quantities import UNITS

What = Literal["plate", "flow", "gap", "travel", "cable", "pedal", "turn"]
At = Literal["closing", "opening", ""]

#: a table of readings is a page or two [bytes], and no more than this many rows
LARGEST_FILE, MOST_ROWS = 200_000, 500

#: what tells where the linkage stands
POSITIONS: tuple[What, ...] = ("travel", "cable", "pedal", "turn")

_ANGLE = {"deg": 1.0, "°": 1.0, "degrees": 1.0}
#: units of every kind of column and their size in deg, kg/h, mm and shares of the travel
_UNITS: dict[What, dict[str, float]] = {
    "plate": _ANGLE,
    "turn": _ANGLE,
    "flow": {"kg/h": 1.0, "lb/h": 0.45359237},
    "travel": {"%": 0.01},
    "gap": dict(UNITS["length"]),
    "cable": dict(UNITS["length"]),
    "pedal": dict(UNITS["length"]),
}
#: least and greatest that a reading may be [deg, kg/h, mm, share]; a gap: no more than half the bore
_RANGES: dict[What, tuple[float, float]] = {
    "plate": (-10.0, 120.0),
    "turn": (-30.0, 360.0),
    "flow": (0.0, 10_000.0),
    "travel": (-0.1, 1.2),
    "gap": (0.0, math.inf),
    "cable": (-1000.0, 1000.0),
    "pedal": (-1000.0, 1000.0),
}
_WORDS: dict[str, At] = {
    **dict.fromkeys(("idle", "rest", "at rest", "closed", "closing stop", "idle stop"), "closing"),
    **dict.fromkeys(("wide open", "wide_open", "wide-open", "full", "opening stop", "wide-open stop"), "opening"),
}
_HEADING = re.compile(r"\s*(?P<name>[^\[\]]*?)\s*(?:\[\s*(?P<unit>[^\[\]]*?)\s*\])?\s*")
_NUMBER = re.compile(r"[-+−]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?")
_BLANK = ("", "-", "–", "—")


@dataclass(frozen=True, slots=True)
class Reading:
    """One number read: ``what`` it is, of which ``shaft`` ("" for a position), in which ``row`` (counted
    from 0); ``value`` in [deg], [kg/h], [mm] or, of travel, a share; ``column`` is its heading."""

    what: What
    shaft: str
    row: int
    value: float
    column: str


@dataclass(frozen=True, slots=True)
class Row:
    """A position of the bench: its ``name``, its ``line`` in the file, and the stop that it stands ``at``."""

    name: str
    line: int
    at: At = ""


@dataclass(frozen=True)
class Readings:
    """A table of readings: its rows and every number in it, in the file's order."""

    rows: tuple[Row, ...]
    readings: tuple[Reading, ...]
    file: str = "readings"

    def where(self, reading: Reading) -> str:
        """A reading as a message names it: file, line, row and column."""
        row = self.rows[reading.row]
        return f'{self.file}:{row.line}: "{row.name}", {reading.column}'


@dataclass(frozen=True, slots=True)
class _Column:
    heading: str
    what: What | Literal["position", "unknown"]
    shaft: str = ""
    size: float = 1.0
    most: float = math.inf  # in the column's own unit


def read_readings(path: str | Path, rig: Linkage) -> Readings:
    """Read a table of bench readings.

    Parameters
    ----------
    path : str or pathlib.Path
        A CSV file, UTF-8; see the head of this module.
    rig : Linkage
        The design: names of shafts, and the unit of a length whose heading gives none.

    Returns
    -------
    Readings

    Raises
    ------
    DesignError
        The table cannot be used; ``faults`` lists everything that is wrong, with its line.
    """
    file = str(path)
    try:
        with open(path, "rb") as stream:
            data = stream.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise _whole(file, "there is no such file", "check the name and the folder") from None
    except IsADirectoryError:
        raise _whole(file, "is a folder", "name a table of readings in it") from None
    except (OSError, ValueError) as error:
        raise _whole(file, f"cannot be read ({getattr(error, 'strerror', None) or error})") from None
    try:
        return parse_readings(data.decode("utf-8-sig"), rig, file)
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise _whole(file, "is not UTF-8 text", "save it as CSV in UTF-8", line) from None


def parse_readings(text: str, rig: Linkage, name: str = "readings") -> Readings:
    """Read the text of a table of bench readings; ``name`` stands for the file in errors.

    Raises
    ------
    DesignError
        See :func:`read_readings`.
    """
    if len(text) > LARGEST_FILE:
        raise _whole(name, f"is larger than {LARGEST_FILE // 1000} kB", "a table of readings is a page of text")
    lines = [
        (number, line)
        for number, line in enumerate(text.splitlines(), 1)
        if line.strip(" \t,;") and not line.lstrip().startswith("#")
    ]
    lines = _without_preamble(lines)
    if not lines:
        raise _whole(name, "is empty", "begin with a line of headings, such as: travel [%], left [deg], right [deg]")
    between = ";" if ";" in lines[0][1] else "\t" if "\t" in lines[0][1] else ","
    try:
        cells = [(number, [c.strip() for c in next(csv.reader([line], delimiter=between))]) for number, line in lines]
    except csv.Error as error:
        raise _whole(name, f"is no CSV table: {error}") from None
    faults: list[Fault] = []
    first, headings = cells[0]
    columns = _columns(headings, rig, first, name, faults)
    rows, found = _table(cells[1:], columns, between == ";", name, faults)
    if not rows and not faults:
        faults.append(Fault("", "has headings but no readings", "add a line for every position", first, name))
    if len(rows) > MOST_ROWS:
        faults.append(Fault("", f"has {len(rows)} rows; {MOST_ROWS} are the most", "leave some out", None, name))
    if faults:
        raise DesignError(sorted(faults, key=lambda fault: fault.line or 0))
    return Readings(tuple(rows), tuple(found), name)


def _without_preamble(lines: list[tuple[int, str]]) -> list[tuple[int, str]]:
    """The table of a bench record, whose first lines are names with a value; any other text as it is."""
    if not lines or not lines[0][1].strip(' "').lower().startswith("bench record"):
        return lines
    table = re.compile(rf'\s*"?({"|".join(POSITIONS)})\s*\[', re.IGNORECASE)
    start = next((i for i, (_, line) in enumerate(lines) if table.match(line)), len(lines))
    return lines[start:]


def _columns(headings: list[str], rig: Linkage, line: int, file: str, faults: list[Fault]) -> list[_Column | None]:
    found: list[_Column | None] = []
    for heading in headings:
        place = f'column "{heading}"'
        if not heading:
            found.append(None)
            continue
        column = _column(heading, rig)
        if isinstance(column, tuple):
            faults.append(Fault(place, *column, line, file))
            found.append(_Column(heading, "unknown"))
            continue
        if any(c is not None and (c.what, c.shaft) == (column.what, column.shaft) for c in found):
            faults.append(
                Fault(place, "stands there twice", "put readings taken again into a row of their own", line, file)
            )
        found.append(column)
    positions = [c.heading for c in found if c is not None and c.what in POSITIONS]
    if len(positions) > 1:
        says = f"positions are given in {len(positions)} ways: {', '.join(positions)}"
        faults.append(Fault("", says, "keep the one that was measured", line, file))
    if not faults and not any(c is not None and c.shaft for c in found):
        names = ", ".join(f'"{name} [deg]"' for name in rig.shaft)
        faults.append(Fault("", "no column holds readings of a shaft", f"head one {names}", line, file))
    return found


def _column(heading: str, rig: Linkage) -> _Column | tuple[str, str]:
    """A column by its heading, or what is wrong with it and the mend."""
    match = _HEADING.fullmatch(heading)
    if match is None:
        return "cannot be read", "write a name and, in square brackets, its unit"
    name, unit = match["name"], match["unit"]
    if name.lower() == "position" and not unit:
        return _Column(heading, "position")
    shaft, what = _meaning(name, rig)
    if what is None:
        known = [*POSITIONS, "position", *rig.shaft, *(f"{s} {w}" for s in rig.shaft for w in ("flow", "gap"))]
        near = did_you_mean(name, known).removeprefix("; ")
        return "is not known", near or f"there are: {', '.join(known)}"
    if unit is None:
        unit = {"travel": "%", "flow": "kg/h"}.get(what, rig.units if what in ("gap", "cable", "pedal") else "deg")
        unit = turns.unit_of(rig, rig.driver) if what == "turn" else unit
    units = UNITS["length"] if what == "turn" and rig.slides(rig.driver) else _UNITS[what]
    if unit not in units:
        return f'has the unit "{unit}"', f"it may be {' or '.join(list(units)[:5])}"
    pushes = rig.pedal is not None and rig.pedal.pad is not None
    if rig.cable is None and (what == "cable" or (what == "pedal" and not pushes)):
        return "needs a [cable] in the design", "give positions as turn [deg] or travel [%]"
    if what == "pedal" and rig.pedal is None:
        return "needs a [pedal] in the design", "give positions as cable [mm] or travel [%]"
    if shaft and what in ("flow", "gap") and rig.shaft[shaft].bore is None:
        return f'needs the bore of shaft "{shaft}"', "add it to the design"
    size = units[unit]
    bore = rig.shaft[shaft].bore if shaft else None
    most = 0.5 * bore if what == "gap" and bore is not None else _RANGES[what][1]
    return _Column(heading, what, shaft, size, most / size)


def _meaning(name: str, rig: Linkage) -> tuple[str, What | None]:
    for what in POSITIONS:
        if name.lower() == what:
            return "", what
    if name in rig.shaft:
        return name, "plate"
    shaft, _, word = name.rpartition(" ")
    kinds: dict[str, What] = {"plate": "plate", "flow": "flow", "gap": "gap"}
    if shaft.rstrip() in rig.shaft and word in kinds:
        return shaft.rstrip(), kinds[word]
    return "", None


def _table(
    cells: list[tuple[int, list[str]]], columns: list[_Column | None], commas: bool, file: str, faults: list[Fault]
) -> tuple[list[Row], list[Reading]]:
    rows: list[Row] = []
    found: list[Reading] = []
    for line, row in cells:
        if len(row) > len(columns) and any(c not in _BLANK for c in row[len(columns) :]):
            says = f"has {len(row)} cells under {len(columns)} headings"
            mend = "write decimals with a point" if not commas and len(row) > len(columns) + 1 else "take cells away"
            faults.append(Fault("", says, mend, line, file))
            continue
        name, here = "", []
        for column, cell in zip(columns, row, strict=False):
            if column is None or cell in _BLANK:
                if column is None and cell not in _BLANK:
                    faults.append(Fault("", f'"{cell}" stands under no heading', "name its column", line, file))
                continue
            if column.what == "unknown":
                continue
            if column.what == "position":
                name = cell
                continue
            value = _value(cell, column.what, column, commas)
            if isinstance(value, tuple):
                faults.append(Fault(f'column "{column.heading}"', *value, line, file))
                continue
            here.append(Reading(column.what, column.shaft, len(rows), value * column.size, column.heading))
        at = _WORDS.get(name.lower(), "")
        if not at and any(r.what in POSITIONS and r.value == 0.0 for r in here):
            at = "closing"
        rows.append(Row(name or _called(here, columns) or f"row {len(rows) + 1}", line, at))
        found += here
    return rows, found


def _called(here: list[Reading], columns: list[_Column | None]) -> str:
    """A row without a name is called by its position."""
    for reading in here:
        if reading.what in POSITIONS:
            size = next(c.size for c in columns if c is not None and c.heading == reading.column)
            return f"{reading.column.partition('[')[0].strip()} {reading.value / size:g}"
    return ""


def _value(cell: str, what: What, column: _Column, commas: bool) -> float | tuple[str, str]:
    plain = cell.replace(",", ".") if commas else cell
    if not _NUMBER.fullmatch(plain):
        return f'"{cell}" is not a number', "leave a cell without a reading empty"
    value = float(plain.replace("−", "-"))
    low, high = _RANGES[what][0] / column.size, column.most
    if not math.isfinite(value) or not low <= value <= high:
        return f"must be from {low:g} to {high:g}, got {cell}", "read it again"
    return value


def _whole(file: str, says: str, mend: str = "", line: int | None = None) -> DesignError:
    return DesignError([Fault("", says, mend, line, file)])
