"""``throttle-linkage pick``: a candidate of a sweep as a design file."""

from __future__ import annotations

import click

from linkage.cli import given, screen

SECTION = "Search"


@click.command(
    "pick",
    epilog="""\b
Examples:
  throttle-linkage pick linkage.toml front.csv 4711 --out better.toml
  throttle-linkage pick linkage.toml front.csv 4711 | throttle-linkage check -""",
)
@given.design_file
@click.argument("table", metavar="TABLE", type=given.path)
@click.argument("candidate", metavar="CANDIDATE", type=int)
@click.option("--out", metavar="FILE.toml", type=given.path, help="File to write; else standard output.")
@given.force
def command(file: str, table: str, candidate: int, out: str | None, force: bool) -> None:
    """Write a candidate of a sweep as a design file.

    FILE is the design that was swept, TABLE the file that the sweep wrote, CANDIDATE the number in
    its first column. Comments and layout of the design stay; links without a length stay without.
    """
    from linkage.design_file import to_text
    from linkage.files import check_free, write_text
    from linkage.search.candidates import picked

    if out is not None:
        check_free([out], overwrite=force)
    text = to_text(picked(given.design(file), table, candidate))
    if out is None:
        screen.show_data(text)
        return
    screen.show(str(write_text(out, text, overwrite=force)))
    screen.tell(f"next: throttle-linkage check {out}")
