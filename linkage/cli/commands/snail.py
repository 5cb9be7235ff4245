"""``throttle-linkage snail``: the snail quadrant that gives a wished progression."""

from __future__ import annotations

from pathlib import Path

import click

from linkage.cli import given, screen
from linkage.cli.commands.fit import wish_of
from linkage.cli.commands.plot import KINDS

SECTION = "Search"


@click.command(
    "snail",
    epilog="""\b
Examples:
  throttle-linkage snail job.toml                             by the table [wish] of the file
  throttle-linkage snail job.toml --wish progression=0.25:0.18,0.5:0.40
  throttle-linkage snail job.toml --wish progression_ratio=1.8 --wish cable_travel=44 --out job_b.toml

\b
Wishes that count: progression (shares of cable travel : shares of opening), progression_ratio,
cable_travel (left out: as it is).
Exit status: 0 the groove can be cut, 1 it has a cusp, 2 the input cannot be used.""",
)
@given.design_file
@click.option("--wish", "wishes", metavar="NAME=VALUE", multiple=True, help="What is wished; repeat it.")
@click.option(
    "--points", metavar="N", type=click.IntRange(3, 20), default=13, show_default=True, help="Points of the profile."
)
@click.option("--out", metavar="FILE.toml", type=click.Path(), help="Design file to write.")
@click.option("--picture", metavar="PATH", type=click.Path(), help="Picture to write: .png, .svg or .pdf.")
@click.option("--json", "as_json", is_flag=True, help="Print the quadrant as one JSON document.")
@given.force
def command(
    file: str, wishes: tuple[str, ...], points: int, out: str | None, picture: str | None, as_json: bool, force: bool
) -> int:
    """Work out a snail quadrant for a progression.

    The moment arm at every turn of the driver, of all that do what is wished the smoothest; whether a
    groove for it can be cut, and where it would have a cusp. Writes the design file with the profile, its
    comments kept and its changed lines marked, and a picture of before and after. FILE may be - for
    standard input.
    """
    from linkage.design_file.marks import marked_text
    from linkage.errors import OutputError
    from linkage.files import check_free, write_text
    from linkage.search.snail import snail

    to, shown = Path(out or f"{given.stem(file)}_snail.toml"), Path(picture or f"{given.stem(file)}_snail.png")
    if shown.suffix.lower() not in KINDS:
        raise OutputError(f'{shown}: "{shown.suffix}" is no kind of picture; end the name in {" or ".join(KINDS)}')
    check_free([to, shown], overwrite=force)
    rig = given.design(file)
    found = snail(rig, wish=wish_of(rig, wishes), points=points)
    if as_json:
        import json

        from linkage.paper.report_snail import snail_document

        screen.show_data(json.dumps(snail_document(found), ensure_ascii=False, allow_nan=False) + "\n")
    else:
        from linkage.paper.report_snail import snail_report

        screen.show(snail_report(found))
    write_text(to, marked_text(found.rig), overwrite=force)
    screen.step("drawing")
    from linkage import plots

    plots.save(plots.snail(found.before, found.after, wish=found.wish), shown, overwrite=force)
    screen.tell(f"written: {to}, {shown}")
    return 0 if found.sound else 1
