"""``throttle-linkage table``: every position, for a spreadsheet."""

from __future__ import annotations

import click

from linkage.cli import given, screen

SECTION = "Check"


@click.command(
    "table",
    epilog="""\b
Examples:
  throttle-linkage table linkage.toml > positions.csv
  throttle-linkage table linkage.toml --out positions.csv --positions 201""",
)
@given.design_file
@click.option("--out", metavar="FILE.csv", type=given.path, help="File to write; else standard output.")
@given.positions
@given.force
def command(file: str, out: str | None, positions: int, force: bool) -> None:
    """Put every position of the travel into a CSV table.

    Travel, cable, pedal, the plate angle and open area of every shaft, the mismatch, every link's
    angles. Headings carry the units; lengths are in the design's own unit. FILE may be - for
    standard input.
    """
    from linkage.files import check_free, write_bytes
    from linkage.motion import solve
    from linkage.paper.spreadsheet import csv_bytes, csv_text

    if out is not None:
        check_free([out], overwrite=force)
    if positions > 10_000:
        screen.step(f"working out {positions} positions")
    run = solve(given.design(file), positions=positions)
    if out is None:
        screen.show_data(csv_text(run))
    else:
        screen.show(str(write_bytes(out, csv_bytes(run), overwrite=force)))
