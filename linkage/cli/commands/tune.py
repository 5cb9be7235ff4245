"""``throttle-linkage tune``: from readings off the bench, what is built and what to turn."""

from __future__ import annotations

from pathlib import Path

import click

from linkage.cli import given, screen
from linkage.cli.commands.plot import KINDS

SECTION = "Search"


@click.command(
    "tune",
    epilog="""\b
READINGS is a small CSV table, blanks allowed:
  position,  travel [%], left [deg], right [deg], left flow [kg/h], right gap [mm]
  idle,      0,          9.6,        10.1,        ,                 0.11
  half,      50,         41.3,       42.0,        ,

\b
Columns: NAME [deg] plate angle, NAME flow [kg/h] of one barrel, NAME gap [mm] at the plate
edge; travel [%], cable [mm], pedal [mm] or turn [deg] from rest, or none; position names a row
("idle" and "wide open" say that it stands on that stop). A filled bench record does as well:
its table is read, its lengths as built are not, they follow from the readings.

\b
Examples:
  throttle-linkage tune linkage.toml readings.csv
  throttle-linkage tune linkage.toml readings.csv --noise 0.1 --flat-parts 2
  throttle-linkage tune linkage.toml readings.csv --adjust link.left.length --adjust link.right.length
  throttle-linkage tune linkage.toml readings.csv --card card.pdf --picture mismatch.png

Exit status: 0 done, 1 the readings do not fit this linkage, 2 the input cannot be used.""",
)
@given.design_file
@click.argument("readings", metavar="READINGS", type=given.path)
@click.option("--noise", metavar="DEG", type=float, default=0.2, show_default=True, help="Of a plate angle, one sigma.")
@click.option("--flow-noise", metavar="KG/H", type=float, default=0.2, show_default=True, help="Of a flow reading.")
@click.option("--gap-noise", metavar="LENGTH", default="0.02 mm", show_default=True, help="Of a gap.")
@click.option(
    "--zero", metavar="DEG", type=float, default=0.0, show_default=True, help="Doubt of the protractor's zero."
)
@click.option("--by-hand", is_flag=True, help="Links and levers were set by eye: take no tolerance for them.")
@click.option("--adjust", metavar="PATH", multiple=True, help="What may be adjusted; repeat it. Else all there is.")
@click.option("--flat-parts", metavar="N", type=click.IntRange(1, 60), default=1, show_default=True,
              help="Parts of a flat to which a tube is counted.")  # fmt: skip
@click.option("--seed", metavar="N", type=click.IntRange(0), default=1, show_default=True, help="Of the odds.")
@click.option("--card", metavar="FILE.pdf", type=given.path, help="Set-up card to write.")
@click.option("--picture", metavar="PATH", type=given.path, help="Picture to write: .png, .svg or .pdf.")
@click.option("--as-found", metavar="FILE.toml", type=given.path, help="Design file of the linkage as estimated.")
@click.option("--json", "as_json", is_flag=True, help="Print the answer as one JSON document.")
@given.force
def command(
    file: str, readings: str, noise: float, flow_noise: float, gap_noise: str, zero: float, by_hand: bool,
    adjust: tuple[str, ...], flat_parts: int, seed: int, card: str | None, picture: str | None, as_found: str | None,
    as_json: bool, force: bool,
) -> int:  # fmt: skip
    """Say what to turn on the bench, by how much.

    From plate angles, air flows or gaps read at some positions: what the built lengths and clockings
    are, how sure that is, which reading is bad, and the set-up card: which link by how many flats, which
    lever by how many degrees, which stop screw by how many turns, the mismatch to expect, when to
    stop. FILE may be - for standard input.
    """
    from linkage.errors import OutputError
    from linkage.files import check_free, write_bytes
    from linkage.search.noise import Noise
    from linkage.search.tune import tune

    for path, kinds in ((card, (".pdf",)), (picture, KINDS), (as_found, (".toml",))):
        if path is not None and Path(path).suffix.lower() not in kinds:
            raise OutputError(f"{path}: end the name in {' or '.join(kinds)}")
    check_free([path for path in (card, picture, as_found) if path is not None], overwrite=force)
    rig = given.design(file)
    gap = given.length(gap_noise, rig.units, "--gap-noise")
    trust = Noise(plate=noise, flow=flow_noise, gap=gap, zero=zero)
    screen.step("trying adjustments")
    found = tune(rig, readings, noise=trust, adjust=adjust or None, flat_parts=flat_parts, by_hand=by_hand, seed=seed)
    if as_json:
        import json

        from linkage.paper.document_tuning import tuning_document

        screen.show_data(json.dumps(tuning_document(found), ensure_ascii=False, allow_nan=False) + "\n")
    else:
        from linkage.paper.setup_card import setup_card
        from linkage.paper.sheet import text

        screen.show(text(setup_card(found)))
    if card is not None:
        from linkage.paper import sheet_pages
        from linkage.paper.setup_card import setup_card

        pages = sheet_pages.pages(setup_card(found), "letter" if rig.units == "in" else "a4")
        write_bytes(card, sheet_pages.pdf(pages), overwrite=force)
    if picture is not None:
        from linkage import plots

        plots.save(plots.tuned(found), picture, overwrite=force)
    if as_found is not None:
        from linkage.design_file import write

        write(found.advice.found.rig, as_found, overwrite=force)
    return 0 if found.estimate.fits else 1
