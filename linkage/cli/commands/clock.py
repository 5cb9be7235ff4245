"""``throttle-linkage clock``: which levers to turn on their shafts."""

from __future__ import annotations

import click

from linkage.cli import given, screen

SECTION = "Search"


@click.command(
    "clock",
    epilog="""\b
Examples:
  throttle-linkage clock linkage.toml
  throttle-linkage clock linkage.toml --lever left.drive --lever right.drive --out clocked.toml""",
)
@given.design_file
@click.option("--lever", "levers", metavar="MEMBER.ARM", multiple=True, help="A lever that may be turned; repeat it.")
@click.option(
    "--within", metavar="DEG", type=click.FloatRange(0.1, 179.0), default=40.0, show_default=True,
    help="How far each may be turned, either way.",
)  # fmt: skip
@click.option("--seed", metavar="N", type=click.IntRange(0), default=1, show_default=True, help="Of the starts.")
@click.option("--out", metavar="FILE.toml", type=given.path, help="Write the design so clocked, changes marked.")
@given.force
def command(file: str, levers: tuple[str, ...], within: float, seed: int, out: str | None, force: bool) -> None:
    """Advise how to clock the levers.

    Each lever alone, pairs and all together: by how many degrees to turn them, what link lengths go
    with that, and what becomes of the mismatch. FILE may be - for standard input.
    """
    from linkage.design_file.marks import marked_text
    from linkage.files import check_free, write_text
    from linkage.paper.report_setup import clocking_report
    from linkage.search.clocking import clocking

    if out is not None:
        check_free([out], overwrite=force)
    rig = given.design(file)
    screen.step("turning levers")
    found = clocking(rig, levers=levers or None, within=within, seed=seed)
    screen.show(clocking_report(found))
    if out is not None:
        screen.tell(f"written: {write_text(out, marked_text(found.best.rig), overwrite=force)}")
