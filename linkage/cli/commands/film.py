"""``throttle-linkage film``: the travel as a motion picture."""

from __future__ import annotations

from pathlib import Path

import click

from linkage.cli import given, screen

SECTION = "Paper"


@click.command(
    "film",
    epilog="""\b
Examples:
  throttle-linkage film linkage.toml                      writes linkage_travel.gif here
  throttle-linkage film linkage.toml --out travel.gif --force""",
)
@given.design_file
@click.option("--out", metavar="FILE.gif", type=given.path, help="File to write.")
@given.force
def command(file: str, out: str | None, force: bool) -> None:
    """Make a motion picture of the travel, to send with a message.

    A GIF that plays without end, from idle to wide open and back, with the pedal and the plates read
    off. FILE may be - for standard input.
    """
    from linkage.errors import OutputError
    from linkage.files import check_free, write_bytes
    from linkage.motion import solve

    path = Path(out or f"{given.stem(file)}_travel.gif")
    if path.suffix.lower() != ".gif":
        raise OutputError(f"{path}: a motion picture is a GIF; end the name in .gif")
    check_free([path], overwrite=force)
    run = solve(given.design(file))
    screen.step("drawing")
    from linkage.paper.animation import film

    screen.show(str(write_bytes(path, film(run), overwrite=force)))
