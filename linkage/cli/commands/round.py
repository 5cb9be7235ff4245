"""``throttle-linkage round``: dimensions brought to what can be made."""

from __future__ import annotations

import click

from linkage.cli import given, screen

SECTION = "Search"


@click.command(
    "round",
    epilog="""\b
Examples:
  throttle-linkage round job_fitted.toml --out job_made.toml
  throttle-linkage round job_fitted.toml --hole "1/64 in" --angle 15 --links""",
)
@given.design_file
@click.option("--hole", metavar="LENGTH", default="0.1 mm", show_default=True, help="Step of arm radii and pins.")
@click.option("--angle", metavar="DEG", type=float, default=0.5, show_default=True, help="Step of arm angles.")
@click.option("--links", is_flag=True, help="Bring link lengths to whole flats of their adjusters too.")
@click.option("--out", metavar="FILE.toml", type=given.path, help="Write the design so rounded, changes marked.")
@given.force
def command(file: str, hole: str, angle: float, links: bool, out: str | None, force: bool) -> None:
    """Round to what can be made, and show the loss.

    Holes to a tenth, angles to the indexing at hand, links to flats; the steps on either side are
    tried together. A step of 0 leaves its dimensions alone. FILE may be - for standard input.
    """
    from linkage.design_file.marks import marked_text
    from linkage.files import check_free, write_text
    from linkage.paper.report_setup import rounding_report
    from linkage.search.rounding import rounding

    if out is not None:
        check_free([out], overwrite=force)
    rig = given.design(file)
    if angle < 0.0:
        raise click.UsageError(f"--angle: must not be negative, got {angle:g}")
    step = given.length(hole, rig.units, "--hole")
    found = rounding(rig, hole=step or None, angle=angle or None, links=links)
    screen.show(rounding_report(found))
    if out is not None:
        screen.tell(f"written: {write_text(out, marked_text(found.rig), overwrite=force)}")
