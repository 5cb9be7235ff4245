"""``throttle-linkage pins``: rigging pins, and links fitted between them."""

from __future__ import annotations

import click

from linkage.cli import given, screen

SECTION = "Paper"


@click.command(
    "pins",
    epilog="""\b
Examples:
  throttle-linkage pins linkage.toml
  throttle-linkage pins linkage.toml --opening 45 --pin "5 mm" --radius centre=25""",
)
@given.design_file
@click.option("--opening", metavar="DEG", type=float, help="Plate angle of the second position; else half-way.")
@click.option("--pin", metavar="LENGTH", default="4.8 mm", show_default=True, help="Diameter of the pins.")
@click.option("--radius", "radii", metavar="MEMBER=LENGTH", multiple=True, help="Radius of a member's hole; repeat it.")
def command(file: str, opening: float | None, pin: str, radii: tuple[str, ...]) -> None:
    """Place rigging pins.

    Holes that lock every shaft and bell crank at idle and at one opening, and for every link the
    length with which it then just slips on, and the flats from there. Lengths are in the design's
    own unit or carry one. FILE may be - for standard input.
    """
    from linkage.paper.report_setup import rigging_report
    from linkage.search.rigging import rigging

    rig = given.design(file)
    sizes = {}
    for option in radii:
        member, sign, size = option.partition("=")
        if not sign:
            raise click.UsageError(f'--radius "{option}": write MEMBER=LENGTH')
        sizes[member.strip()] = given.length(size, rig.units, "--radius")
    found = rigging(rig, plate_angle=opening, radius=sizes, pin=given.length(pin, rig.units, "--pin"))
    screen.show(rigging_report(found))
