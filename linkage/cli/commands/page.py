"""``throttle-linkage page``: the customer's page."""

from __future__ import annotations

import datetime
from pathlib import Path

import click

from linkage.cli import bench_options, dated, given, screen

SECTION = "Paper"


@click.command(
    "page",
    epilog="""\b
Examples:
  throttle-linkage page linkage.toml                      writes linkage_page.html here
  throttle-linkage page linkage.toml --out for_the_customer.html --force""",
)
@given.design_file
@click.option("--out", metavar="FILE.html", type=given.path, help="File to write.")
@bench_options.fractions
@dated.date
@given.force
def command(file: str, out: str | None, fractions: bool, date: datetime.date, force: bool) -> None:
    """Write a page on which the customer moves the pedal.

    One HTML file that opens from a disk, on a phone too, and loads nothing: the linkage, its curves
    and its figures follow the pedal. FILE may be - for standard input.
    """
    from linkage.answers import check
    from linkage.errors import OutputError
    from linkage.files import check_free, write_text
    from linkage.paper.page import page

    path = Path(out or f"{given.stem(file)}_page.html")
    if path.suffix.lower() not in (".html", ".htm"):
        raise OutputError(f"{path}: the page is an HTML file; end the name in .html")
    check_free([path], overwrite=force)
    rig = given.design(file)
    dated.checked(fractions, rig)
    screen.step("checking the design")
    text = page(check(rig), date=date, fractions=fractions)
    screen.show(str(write_text(path, text, overwrite=force)))
