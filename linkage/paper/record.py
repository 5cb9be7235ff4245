"""The bench record: what was built and what was measured, as a CSV table that a spreadsheet and a pencil can fill.

::

    bench record,1                                first line: what it is, and its format
    title,Flat six hill special                   lines of a name and a value: notes, blank if unknown
    units,mm                                      of every bare length below: mm or in (needed)
    date,2026-03-01
    link.left.length,195.30                       as built: any dimension of the design by its dotted
    shaft.left.arm.drive.radius,                  path, in units or with its own ("4 55/64 in"), degrees
                                                  for angles; blank: not measured
    travel [%],left [deg],right [deg]             heading of the table: how the position is told, then a
    0,9.5,9.6                                     column of plate angles for every shaft, by name
    50,44.1,                                      a blank cell: not read there
    100,87.6,87.2

The position is one of ``travel [%]`` (share of the travel, 0 at the closing stop to 100 at the opening
stop), ``pedal [mm]``, ``cable [mm]`` (from the closing stop; pedal: from its rest; ``[in]`` likewise) or
``turn [deg]`` (of the driver, from the closing stop, ccw positive). Plate angles are from the plane
square to the bore. Lines that begin with ``#``, and empty lines, are passed over. Cells may be parted by
commas, semicolons or tabs; a decimal point is a point. :func:`read_record` reads it, or names every
fault with its line.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from linkage.answers import joints
from linkage.motion import Motion
from linkage.motion.assembly import arm_frame, table_of
from linkage.paper.record_reading import FIRST, FORMAT, Record, kind_of, parse_record, whole
from linkage.parts import Linkage
from linkage.quantities import own_scale

__all__ = ["Record", "form", "parse_record", "read_record"]

#: shares of the travel at which an empty form asks for plate angles [%]
ROWS = (0.0, 10.0, 25.0, 50.0, 75.0, 90.0, 100.0)

#: notes of a form, in order
NOTES = ("title", "drawing", "units", "date", "measured by", "instrument", "engine temperature", "remarks")

_LARGEST = 1_000_000  # [bytes]


def read_record(path: str | Path, rig: Linkage | None = None) -> Record:
    """Read a bench record.

    Parameters
    ----------
    path : str or pathlib.Path
        A CSV file as :mod:`linkage.paper.record` describes.
    rig : Linkage, optional
        The design that was built: then every shaft and every dimension must be one of its own.

    Returns
    -------
    Record
        Lengths [mm], angles [deg], travel 0..1.

    Raises
    ------
    DesignError
        The record cannot be used; ``faults`` lists everything that is wrong, with file and line.

    Examples
    --------
    >>> from linkage.paper.record import read_record
    >>> read_record("flat_six_record.csv").told  # doctest: +SKIP
    'travel'
    """
    file = str(path)
    try:
        with open(path, "rb") as stream:
            data = stream.read(_LARGEST + 1)
    except FileNotFoundError:
        raise whole(file, "there is no such file", "check the name and the folder") from None
    except (OSError, ValueError) as error:
        raise whole(file, f"cannot be read ({getattr(error, 'strerror', None) or error})") from None
    if len(data) > _LARGEST:
        raise whole(file, f"is larger than {_LARGEST // 1000} kB", "a bench record is a few kB of text")
    try:
        return parse_record(data.decode("utf-8-sig"), rig, file)
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise whole(file, "is not UTF-8 text", "save it as CSV UTF-8 from the spreadsheet", line) from None


def form(
    run: Motion, *, filled: bool = False, measured: Record | None = None, date: str = "", rows: Sequence[float] = ROWS
) -> str:
    """A bench record as CSV text: an empty form, or one filled.

    Parameters
    ----------
    run : Motion
        Of the design that is built.
    filled : bool
        Fill in what the design should give, as an example of how it is done.
    measured : Record, optional
        Fill in what was measured.
    date : str
        For the form's own line; blank to be filled by hand.
    rows : sequence of float
        Shares of the travel to ask for [%].

    Returns
    -------
    str
        Lengths in the design's own unit [mm or in], angles [deg].
    """
    rig = run.rig
    units = rig.units if measured is None else measured.units
    scale = own_scale(units, "length")
    notes = {"title": rig.title, "drawing": rig.drawing, "units": units, "date": date}
    if filled:
        notes["remarks"] = "as designed; nothing was measured"
    if measured is not None:
        notes |= {name: value for name, value in measured.notes.items() if name != "units"}
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([FIRST, FORMAT])
    for name in (*NOTES, *(name for name in notes if name not in NOTES)):
        writer.writerow([name, _safe(notes.get(name, ""))])
    for path, value in _built(run, measured, filled=filled).items():
        size = scale if kind_of(path) == "length" else 1.0
        writer.writerow([path, "" if value is None else _cell(value / size)])
    writer.writerows(_table(run, measured, filled=filled, rows=rows))
    return out.getvalue()


def _built(run: Motion, measured: Record | None, *, filled: bool) -> dict[str, float | None]:
    """The dimensions that a form asks for, and what was measured besides."""
    found: dict[str, float | None] = {path: value if filled else None for path, value in nominal(run).items()}
    return found if measured is None else {**found, **measured.as_built}


def nominal(run: Motion) -> dict[str, float]:
    """What a form asks for, as designed [mm]: every link's length and every arm's radius, by dotted path."""
    found = {f"link.{name}.length": size for name, size in joints.lengths(run).items()}
    for name, member in run.rig.turning.items():
        for arm in member.arm:
            radius = float(arm_frame(run.rig, run.train.dims, name, arm).r)
            found[f"{table_of(run.rig, name)}.arm.{arm}.radius"] = radius
    return found


def _table(run: Motion, measured: Record | None, *, filled: bool, rows: Sequence[float]) -> Iterator[list[str]]:
    shafts = list(run.rig.shaft)
    if measured is not None:
        slides = run.rig.slides(run.rig.driver)
        unit = {"travel": "%", "turn": measured.units if slides else "deg"}.get(measured.told, measured.units)
        own = own_scale(measured.units, "length")
        size = {"travel": 0.01, "turn": own if slides else 1.0}.get(measured.told, own)
        yield [f"{measured.told} [{unit}]", *(f"{name} [deg]" for name in measured.plate_angle)]
        for i, at in enumerate(measured.position):
            yield [_cell(at / size), *(_cell(float(angle[i])) for angle in measured.plate_angle.values())]
        return
    yield ["travel [%]", *(f"{name} [deg]" for name in shafts)]
    at = run.at_fraction(np.asarray(rows, float) / 100.0)
    for i, share in enumerate(rows):
        angles = [_cell(round(float(at.plate_angle[name][i]), 2)) if filled else "" for name in shafts]
        yield [_cell(share), *angles]


def _cell(value: float) -> str:
    return "" if math.isnan(value) else f"{round(value, 6) + 0.0:.10g}"


def _safe(value: str) -> str:
    """A note on one line, which no spreadsheet takes for a formula."""
    plain = " ".join(value.split())
    return f"({plain})" if plain[:1] in ("=", "+", "-", "@") else plain
