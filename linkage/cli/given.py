"""What commands are given: a design file, a number of positions, leave to write over files."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from linkage.parts import Linkage

#: Most positions that one may ask for.
MOST_POSITIONS = 100_001

#: Pictures of :mod:`linkage.plots` that a command can draw, by name.
PICTURES = (
    *("overview", "drawing", "curves", "road", "footwell"),
    *("linkage_view", "plate_angles", "mismatch", "progression", "gain", "open_area", "transmission"),
    *("return_torque", "effort", "link_forces", "tolerance_shares", "hot_and_cold", "least_gap"),
    *("lost_motion", "air_apart", "rocking", "twist", "staging", "pedal_view", "underfoot", "followers"),
)

#: A name of a file; whether it can be read is told by what reads it, in one line.
path = click.Path(readable=False)

design_file = click.argument("file", metavar="FILE", type=path)

positions = click.option(
    "--positions",
    metavar="N",
    type=click.IntRange(2, MOST_POSITIONS),
    default=91,
    show_default=True,
    help="Positions from the closing to the opening stop, both included.",
)

force = click.option("--force", is_flag=True, help="Write over files that stand there.")


def design(file: str) -> Linkage:
    """Read the design file that a command was given; ``-`` is standard input."""
    from linkage.design_file import read

    rig = _from_standard_input() if file == "-" else read(file)
    click.get_current_context().meta["linkage.design"] = rig
    return rig


def stem(file: str) -> str:
    """Name for files made from a design file."""
    return "linkage" if file == "-" else Path(file).stem


def _from_standard_input() -> Linkage:
    from linkage.design_file import parse
    from linkage.errors import DesignError, Fault

    name = "standard input"
    data = b"" if sys.stdin is None else sys.stdin.buffer.read(4_000_001)
    try:
        return parse(data.decode("utf-8"), name)
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise DesignError([Fault("", "is not UTF-8 text", "send a design file", line, name)]) from None


def length(text: str, units: str, option: str) -> float:
    """A length that an option gave, in mm: a bare number in the design's own unit, or with its own."""
    from linkage.quantities import own_scale, quantity_in

    try:
        value = float(text) * own_scale(units, "length")
    except ValueError:
        try:
            value = quantity_in(text, "length")
        except ValueError as error:
            raise click.UsageError(f"{option}: {error}") from None
    if not 0.0 <= value < 1e5:
        raise click.UsageError(f'{option}: must be a length of 0 or more, got "{text}"')
    return value
