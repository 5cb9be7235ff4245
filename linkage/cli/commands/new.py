"""``throttle-linkage new``: a commented design file to begin from."""

from __future__ import annotations

from typing import Literal

import click

from linkage.cli import given, screen

SECTION = "Begin"


@click.command(
    "new",
    epilog="""\b
Examples:
  throttle-linkage new                          writes linkage.toml here
  throttle-linkage new hill_special.toml --units in
  throttle-linkage new - | throttle-linkage check -""",
)
@click.argument("path", default="linkage.toml", type=given.path)
@click.option(
    "--units",
    type=click.Choice(["mm", "in"]),
    default="mm",
    show_default=True,
    help="Unit of the file's bare lengths.",
)
@given.force
def command(path: str, units: Literal["mm", "in"], force: bool) -> None:
    """Write a commented design file to begin from.

    It is a small linkage that works; change its numbers into yours. PATH
    may be - for standard output.
    """
    from linkage.design_file import starter
    from linkage.files import write_text

    if path == "-":
        screen.show_data(starter(units))
        return
    screen.show(str(write_text(path, starter(units), overwrite=force)))
    screen.tell(f"next: throttle-linkage check {path}")
