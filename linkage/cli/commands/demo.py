"""``throttle-linkage demo``: the example design, worked through into a folder."""

from __future__ import annotations

from pathlib import Path

import click

from linkage.cli import given, screen

SECTION = "Begin"

FLAGSHIP = "flat_six"
SHEETS = ("overview", "drawing", "curves", "road")


@click.command(
    "demo",
    epilog="""\b
Examples:
  throttle-linkage demo
  throttle-linkage demo ~/linkage-demo --force""",
)
@click.argument("folder", default="linkage-demo", type=given.path)
@given.force
def command(folder: str, force: bool) -> None:
    """Work an example through into a FOLDER, to see what there is.

    It gets the example design files and, of the first of them, the report, the pictures, the table
    of positions and the answer as JSON. The numbers of the examples are invented.
    """
    import json

    from linkage import plots
    from linkage.answers import check
    from linkage.design_file import read
    from linkage.files import check_free, make_folder, write_bytes, write_text
    from linkage.paper.document import document
    from linkage.paper.report import report
    from linkage.paper.spreadsheet import csv_bytes

    examples = designs()
    to = Path(folder)
    made = ["report.txt", "positions.csv", "answer.json"]
    made += [f"{name}.{kind}" for name in SHEETS for kind in ("pdf", "png")]
    names = [*examples, *(f"{FLAGSHIP}_{name}" for name in made)]
    make_folder(to)
    check_free([to / name for name in names], overwrite=force)

    for name, text in examples.items():
        write_text(to / name, text, overwrite=force)
    screen.step("checking the design")
    answer = check(read(to / f"{FLAGSHIP}.toml"))
    write_text(to / f"{FLAGSHIP}_report.txt", report(answer), overwrite=force)
    write_bytes(to / f"{FLAGSHIP}_positions.csv", csv_bytes(answer.run), overwrite=force)
    text = json.dumps(document(answer), ensure_ascii=False, allow_nan=False) + "\n"
    write_text(to / f"{FLAGSHIP}_answer.json", text, overwrite=force)
    for name in SHEETS:
        screen.step(f"drawing the {name}")
        sheet = getattr(plots, name)(answer.run)
        for kind in ("pdf", "png"):
            plots.save(sheet, to / f"{FLAGSHIP}_{name}.{kind}", overwrite=force)
    screen.show(_what_to_open(to, {name: read(to / name).title for name in examples}))
    design = to / f"{FLAGSHIP}.toml"
    screen.tell(f'for the customer: "approve {design}" writes the sheet to sign, "page {design}" a page with a pedal')


def designs() -> dict[str, str]:
    """Texts of the example designs by file name: those of the package, or of the checkout it runs from."""
    from importlib.resources import files

    package = files("linkage")
    for folder in (package / "demos", Path(str(package)).parent / "demo"):
        if folder.is_dir():
            found = {f.name: f.read_text(encoding="utf-8") for f in folder.iterdir() if f.name.endswith(".toml")}
            if found:
                return dict(sorted(found.items()))
    raise FileNotFoundError("the example designs are not installed")


def _what_to_open(to: Path, titles: dict[str, str]) -> str:
    told = {
        f"{FLAGSHIP}_overview.pdf": "the linkage and its curves on one sheet: open this first",
        f"{FLAGSHIP}_drawing.pdf": "the linkage with its dimensions",
        f"{FLAGSHIP}_curves.pdf": "plate angles, progression and mismatch over the travel",
        f"{FLAGSHIP}_road.pdf": "forces, closing with a spring away, tolerance, heat and clearance",
        f"{FLAGSHIP}_report.txt": "the verdict and all figures in words",
        f"{FLAGSHIP}_positions.csv": "every position, for a spreadsheet",
        f"{FLAGSHIP}_answer.json": "the same answer for another program",
        f"{FLAGSHIP}.toml": "the design itself: change a number and check it again",
    }
    told |= {name: f"example: {title}" for name, title in titles.items() if name not in told}
    width = max(len(str(to / name)) for name in told)
    return "\n".join(f"{to / name!s:{width}}  {says}" for name, says in told.items())
