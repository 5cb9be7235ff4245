"""Reading the bench record, or every fault of it; :mod:`linkage.paper.record` says how it is written."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from linkage.errors import DesignError, Fault, did_you_mean
from linkage.motion.assembly import table_of
from linkage.parts import Linkage, dimensions
from linkage.quantities import Kind, own_scale, quantity_in

Floats = NDArray[np.float64]
Told = Literal["travel", "pedal", "cable", "turn"]

#: the first word of a record, and its format
FIRST, FORMAT = "bench record", 1

_HEADINGS: Mapping[str, tuple[Told, Kind]] = {
    "travel": ("travel", "number"),
    "pedal": ("pedal", "length"),
    "cable": ("cable", "length"),
    "turn": ("turn", "angle"),
}
_HEADING = re.compile(r"(?P<name>.*?)\s*(?:\[(?P<unit>[^\]]*)\])?")
_OWN_UNITS = {"number": ("%",), "length": ("mm", "in"), "angle": ("deg",)}
_TABLES = ("shaft.", "bellcrank.", "link.", "coupling.", "cable.", "pedal.", "stop.", "spring.")


@dataclass(frozen=True, eq=False)
class Record:
    """A bench record: lengths [mm], angles [deg].

    ``told`` says how the positions are told: ``"travel"`` (share 0..1), ``"pedal"`` or ``"cable"`` [mm],
    ``"turn"`` of the driver from the closing stop, ccw positive [deg]; ``position`` has shape (n,).
    ``plate_angle`` [deg] has shape (n,) for every shaft of the table, ``nan`` where nothing was read.
    ``as_built`` are the dimensions that were measured, by the design's dotted paths; ``notes`` all other
    lines by name; ``line`` the file's line of each position.
    """

    told: Told
    position: Floats
    plate_angle: Mapping[str, Floats]
    as_built: Mapping[str, float]
    notes: Mapping[str, str] = field(default_factory=dict)
    units: Literal["mm", "in"] = "mm"
    line: tuple[int, ...] = ()
    source: str = ""

    @property
    def readings(self) -> int:
        """How many plate angles were read."""
        return int(sum(np.isfinite(angle).sum() for angle in self.plate_angle.values()))


def parse_record(text: str, rig: Linkage | None = None, name: str = "record") -> Record:
    """Read the text of a bench record; see :func:`read_record`. Lengths [mm], angles [deg]."""
    rows = list(_rows(text))
    if not rows:
        raise whole(name, "is empty", "throttle-linkage record writes a form to fill")
    reading = _Reading(name, rig)
    record = reading.read(rows)
    if reading.faults:
        raise DesignError(sorted(reading.faults, key=lambda fault: fault.line or 0))
    assert record is not None
    return record


def _rows(text: str) -> Iterator[tuple[int, list[str]]]:
    """Lines that say something, with their number, as stripped cells without empty ones at the end."""
    delimiter = _delimiter(text)
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip(" \t,;") or line.lstrip().startswith(("#", '"#')):
            continue
        cells = [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter, skipinitialspace=True))]
        while len(cells) > 1 and not cells[-1]:  # a spreadsheet fills every line up to the longest
            cells.pop()
        yield number, cells


def _delimiter(text: str) -> str:
    """What parts the cells: that which follows the first word of the file, else a comma."""
    first = next((line for line in text.splitlines() if line.strip().strip('"').lower().startswith(FIRST)), "")
    found = re.search(r"[,;\t]", first)
    return found[0] if found else ","


class _Reading:
    """One reading of a record: its faults so far."""

    def __init__(self, file: str, rig: Linkage | None) -> None:
        self.file, self.rig = file, rig
        self.faults: list[Fault] = []
        self.known = {} if rig is None else dimensions(rig) | _fitted(rig)

    def fault(self, line: int | None, place: str, says: str, mend: str = "") -> None:
        """Note one fault."""
        self.faults.append(Fault(place, says, mend, line, self.file))

    def read(self, rows: Sequence[tuple[int, list[str]]]) -> Record | None:
        """Read all rows; None where there is no table."""
        line, first = rows[0]
        if first[0].lower() != FIRST:
            says = f'must begin with "{FIRST},{FORMAT}", got "{first[0][:40]}"'
            self.fault(line, "", says, "throttle-linkage record writes a form to fill")
            return None
        if first[1:2] != [str(FORMAT)]:
            came = f'"{first[1]}"' if len(first) > 1 else "nothing"
            self.fault(line, FIRST, f"is of format {came}", f"this version reads format {FORMAT}")
            return None
        start = next((i for i, (_, cells) in enumerate(rows) if i and self.is_heading(cells)), None)
        pairs = rows[1:start]
        units = self.units(pairs)
        notes, as_built = self.pairs(pairs, units)
        if start is None:
            says = 'has no table: a line that begins with "travel [%]", "pedal [mm]", "cable [mm]" or "turn [deg]"'
            self.fault(rows[-1][0], "", says, "throttle-linkage record writes a form to fill")
            return None
        return self.table(rows[start:], units, notes, as_built)

    def is_heading(self, cells: Sequence[str]) -> bool:
        """Whether a line is the heading of the table."""
        match = _HEADING.fullmatch(cells[0])
        return len(cells) > 1 and match is not None and match["unit"] is not None and match["name"].lower() in _HEADINGS

    def units(self, pairs: Sequence[tuple[int, list[str]]]) -> Literal["mm", "in"]:
        """The unit of bare lengths."""
        found = [(line, cells[1] if len(cells) > 1 else "") for line, cells in pairs if cells[0].lower() == "units"]
        if not found:
            self.fault(None, "units", "is needed: the unit of the lengths", 'add a line "units,mm" or "units,in"')
            return "mm"
        line, value = found[0]
        if value == "in":
            return "in"
        if value != "mm":
            self.fault(line, "units", f'must be mm or in, got "{value}"')
        return "mm"

    def pairs(
        self, pairs: Sequence[tuple[int, list[str]]], units: Literal["mm", "in"]
    ) -> tuple[dict[str, str], dict[str, float]]:
        """Notes and dimensions as built."""
        notes: dict[str, str] = {}
        built: dict[str, float] = {}
        seen: dict[str, int] = {}
        for line, cells in pairs:
            name, rest = cells[0], cells[1:]
            value = rest[0] if rest else ""
            if name in seen:
                self.fault(line, name, f"is there twice, first on line {seen[name]}", "keep one of them")
            seen.setdefault(name, line)
            if any(rest[1:]) and name.startswith(_TABLES):
                self.fault(line, name, "has more than one value", 'write "1.25" with a point, not "1,25"')
            elif name.startswith(_TABLES):
                self.dimension(line, name, value, units, built)
            else:
                notes[name] = ", ".join(cell for cell in rest if cell)
        return notes, built

    def dimension(self, line: int, path: str, value: str, units: Literal["mm", "in"], built: dict[str, float]) -> None:
        """One dimension as built."""
        if self.rig is not None and path not in self.known:
            near = did_you_mean(path, self.known).removeprefix("; ")
            self.fault(line, path, "is not a dimension of this design", near)
            return
        kind = kind_of(path)
        if not value:
            return
        number = self.number(line, path, value, kind, units)
        if number is None:
            return
        if path.endswith((".length", ".radius")) and number <= 0.0:
            self.fault(line, path, f"must be above 0, got {value}")
            return
        built[path] = number

    def number(self, line: int, place: str, value: str, kind: Kind, units: Literal["mm", "in"]) -> float | None:
        """A cell as a number: bare in the record's own unit, or with its own."""
        if re.fullmatch(r"[-+]?\d+,\d+", value):
            self.fault(line, place, f'has a comma in the number "{value}"', f"write {value.replace(',', '.')}")
            return None
        try:
            bare = float(value)
        except ValueError:
            try:
                if kind == "number":
                    raise ValueError(f'"{value}" is not a number') from None
                return quantity_in(value, kind)
            except ValueError as error:
                self.fault(line, place, str(error))
                return None
        if not math.isfinite(bare):
            self.fault(line, place, f"must be a finite number, got {value}", "leave the cell blank if it was not read")
            return None
        return bare * own_scale(units, kind)

    def table(
        self,
        rows: Sequence[tuple[int, list[str]]],
        units: Literal["mm", "in"],
        notes: dict[str, str],
        as_built: dict[str, float],
    ) -> Record | None:
        """The table of plate angles."""
        line, heading = rows[0]
        match = _HEADING.fullmatch(heading[0])
        assert match is not None
        told, kind = _HEADINGS[match["name"].lower()]
        if told == "turn" and self.rig is not None and self.rig.slides(self.rig.driver):
            kind = "length"
        if match["unit"] not in _OWN_UNITS[kind]:
            want = " or ".join(f"[{unit}]" for unit in _OWN_UNITS[kind])
            self.fault(line, match["name"], f"must be in {want}, got [{match['unit']}]")
            return None
        own: Literal["mm", "in"] = "in" if match["unit"] == "in" else "mm"
        shafts = self.shafts(line, heading[1:])
        positions: list[float] = []
        lines: list[int] = []
        angles: list[list[float]] = []
        for at, cells in rows[1:]:
            position = self.number(at, heading[0], cells[0], kind, own) if cells[0] else None
            if not cells[0] and any(cells[1:]):
                self.fault(at, heading[0], "is blank, but plate angles stand beside it", "write where they were read")
            read = self.angles(at, shafts, cells[1:])
            if position is None:
                continue
            if told == "travel" and not -1e-9 <= position <= 100.0 + 1e-9:
                self.fault(at, heading[0], f"must be from 0 to 100, got {cells[0]}")
            positions.append(position / 100.0 if told == "travel" else position)
            lines.append(at)
            angles.append(read)
        if not positions and not self.faults:
            self.fault(line, heading[0], "the table has no lines below its heading", "add a line for every position")
        if any(name is None for name in shafts) or self.faults:
            return None
        columns = np.array(angles, float).reshape(len(positions), len(shafts))
        by_shaft = {name: columns[:, i] for i, name in enumerate(shafts) if name is not None}
        return Record(told, np.array(positions, float), by_shaft, as_built, notes, units, tuple(lines), self.file)

    def shafts(self, line: int, heading: Sequence[str]) -> list[str | None]:
        """The shafts of the table's columns; None where the heading cannot be used."""
        found: list[str | None] = []
        for cell in heading:
            match = _HEADING.fullmatch(cell)
            name = "" if match is None else match["name"]
            unit = "deg" if match is None or match["unit"] is None else match["unit"]
            says = ""
            if not name:
                says = "has no name"
            elif unit != "deg":
                says = f"must be in [deg], got [{unit}]"
            elif name in found:
                says = "is there twice"
            elif self.rig is not None and name not in self.rig.shaft:
                says = "is not a shaft of this design"
            if says:
                mend = "" if self.rig is None else f"the shafts are {', '.join(self.rig.shaft)}"
                self.fault(line, f'column "{cell}"', says, mend)
            found.append(None if says else name)
        if not found:
            self.fault(line, "", "has no column for a shaft", "add one for every shaft, by its name")
        return found

    def angles(self, line: int, shafts: Sequence[str | None], cells: Sequence[str]) -> list[float]:
        """The plate angles of one line, nan where blank."""
        if any(cells[len(shafts) :]):
            says = f"has {len(cells)} plate angles for {len(shafts)} columns"
            self.fault(line, "", says, 'write "9.5" with a point, not "9,5"')
        read = []
        for name, cell in zip(shafts, [*cells, *[""] * len(shafts)][: len(shafts)], strict=True):
            place = f'plate angle of "{name}"'
            number = self.number(line, place, cell, "angle", "mm") if cell else None
            if number is not None and not -30.0 <= number <= 150.0:
                self.fault(
                    line, place, f"must be from -30 to 150 degrees, got {cell}", "measure from square to the bore"
                )
            read.append(math.nan if number is None else number)
        return read


def kind_of(path: str) -> Kind:
    """What quantity a dotted path holds."""
    if path.endswith((".angle", ".offset", ".turn", ".plate_angle", ".shut", ".idle", ".wide_open")):
        return "angle"
    if path.endswith(".ratio"):
        return "number"
    return "length"


def _fitted(rig: Linkage) -> dict[str, float]:
    """Paths that a design may leave out, but a builder can measure: fitted lengths, arms drawn by their pins."""
    arms = [f"{table_of(rig, name)}.arm.{arm}" for name, member in rig.turning.items() for arm in member.arm]
    paths = [f"link.{name}.length" for name in rig.link] + [f"{at}.{key}" for at in arms for key in ("radius", "angle")]
    return dict.fromkeys(paths, math.nan)


def whole(file: str, says: str, mend: str = "", line: int | None = None) -> DesignError:
    return DesignError([Fault("", says, mend, line, file)])
