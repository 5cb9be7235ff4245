"""``throttle-linkage plot``: pictures of a design."""

from __future__ import annotations

from pathlib import Path

import click

from linkage.cli import given, screen

SECTION = "Check"

KINDS = (".png", ".svg", ".pdf")


@click.command(
    "plot",
    epilog="""\b
Examples:
  throttle-linkage plot linkage.toml                      writes linkage_overview.png here
  throttle-linkage plot linkage.toml --out sheet.pdf
  throttle-linkage plot linkage.toml --picture curves --out curves.svg --force""",
)
@given.design_file
@click.option("--out", metavar="PATH", type=given.path, help="File to write: .png, .svg or .pdf.")
@click.option(
    "--picture",
    metavar="NAME",
    type=click.Choice(given.PICTURES),
    default=given.PICTURES[0],
    show_default=True,
    help=f"What to draw: {', '.join(given.PICTURES)}.",
)
@given.force
def command(file: str, out: str | None, picture: str, force: bool) -> None:
    """Draw a design.

    The kind of picture file goes by the ending of its name. FILE may be - for standard input.
    """
    from linkage.errors import OutputError
    from linkage.files import check_free
    from linkage.motion import solve

    path = Path(out or f"{given.stem(file)}_{picture}.png")
    if path.suffix.lower() not in KINDS:
        raise OutputError(f'{path}: "{path.suffix}" is no kind of picture; end the name in {" or ".join(KINDS)}')
    check_free([path], overwrite=force)
    run = solve(given.design(file))
    screen.step("drawing")
    from linkage import plots

    plots.save(getattr(plots, picture)(run), path, overwrite=force)
    screen.show(str(path))
