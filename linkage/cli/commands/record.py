"""``throttle-linkage record``: the form for what was built and measured."""

from __future__ import annotations

from pathlib import Path

import click

from linkage.cli import bench_options, given, screen

SECTION = "Paper"

KINDS = (".csv", ".pdf", ".txt")


@click.command(
    "record",
    epilog="""\b
Examples:
  throttle-linkage record linkage.toml                     writes linkage_record.csv, to be filled
  throttle-linkage record linkage.toml --out form.pdf      the same for a pencil
  throttle-linkage record linkage.toml --filled --out example.csv
  throttle-linkage record linkage.toml --measured linkage_record.csv --out record.pdf""",
)
@given.design_file
@click.option("--out", metavar="FILE", type=given.path, help="File to write: .csv, .pdf or .txt.")
@click.option("--filled", is_flag=True, help="Fill in what the design should give, as an example.")
@click.option(
    "--measured",
    metavar="FILE.csv",
    type=given.path,
    help="Fill in what was measured, from a record that was filled.",
)
@bench_options.paper
@bench_options.date_if_any
@given.force
def command(
    file: str, out: str | None, filled: bool, measured: str | None, paper: str | None, date: str | None, force: bool
) -> None:
    """Write the bench record of a build: an empty form, or one filled.

    A CSV table for a spreadsheet, or a sheet for a pencil: dimensions as built, plate angles at marks
    of the travel, air of each barrel, the closing proof. FILE may be - for standard input.
    """
    from linkage.files import write_text
    from linkage.motion import solve
    from linkage.paper.record import form, read_record
    from linkage.paper.record_sheet import record_sheet

    if filled and measured is not None:
        raise click.UsageError("--filled and --measured exclude each other")
    path = out or f"{given.stem(file)}_record.csv"
    bench_options.check_out(path, KINDS, force=force)
    rig = given.design(file)
    run = solve(rig)
    read = None if measured is None else read_record(measured, rig)
    if Path(path).suffix.lower() == ".csv":
        text = form(run, filled=filled, measured=read, date=date or "")
        screen.show(str(write_text(path, text, overwrite=force)))
        return
    if filled:
        from linkage.paper.record import parse_record

        read = parse_record(form(run, filled=True, date=date or ""), rig)
    sheet = record_sheet(run, read, date=date or "")
    bench_options.put(sheet, path, paper=bench_options.paper_of(rig, paper), force=force)
