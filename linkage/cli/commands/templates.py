"""``throttle-linkage templates``: lever plates and hole patterns at true size."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import click

from linkage.cli import bench_options, given, screen

SECTION = "Paper"


@click.command(
    "templates",
    epilog="""\b
Examples:
  throttle-linkage templates linkage.toml                 writes into linkage_templates/
  throttle-linkage templates linkage.toml --hole 6.1 --edge 6 --fillet 12 --thickness 5
  throttle-linkage templates v8.toml --folder cut --paper letter --fractions --force

Print at 100 % and measure the check bars before anything is cut.""",
)
@given.design_file
@click.option("--folder", metavar="FOLDER", type=given.path, help="Folder to write into (made if it is not there).")
@click.option("--dxf/--no-dxf", default=True, show_default=True, help="Write a DXF file of every part as well.")
@bench_options.datum
@bench_options.thread
@bench_options.lengths({**bench_options.LENGTHS, **bench_options.QUADRANT})
@bench_options.fractions
@bench_options.paper
@bench_options.date
@given.force
def command(
    file: str, folder: str | None, dxf: bool, paper: str | None, date: str | None, force: bool, **settings: Any
) -> None:
    """Write templates at true size.

    A PDF to lay on the metal, a centre-drill list, and a DXF file of every part: levers, bell-crank
    plates webbed round their pivot, a snail quadrant with its groove, bracket hole patterns. FILE may
    be - for standard input.
    """
    from linkage.answers import check
    from linkage.files import check_free, make_folder, write_bytes, write_text
    from linkage.paper import sheet_pages
    from linkage.paper.sheet import Figures, text
    from linkage.paper.template_pages import sheets
    from linkage.paper.templates import drill_list, templates

    to = Path(folder or f"{given.stem(file)}_templates")
    rig = given.design(file)
    practice = bench_options.practice(rig, **settings)
    answer = check(rig)
    listed = templates(answer, practice)
    on, day = bench_options.paper_of(rig, paper), bench_options.date_of(date)
    told = Figures(rig.units, fractions=practice.fractions)
    cuts = {}
    if dxf:
        from linkage.paper.dxf import dxf_bytes

        names = _names([template.title for template in listed])
        cuts = {f"{name}.dxf": dxf_bytes(t, rig, told, date=day) for name, t in zip(names, listed, strict=True)}
    make_folder(to)
    paths = [to / "templates.pdf", to / "drill_list.txt", *(to / name for name in cuts)]
    check_free(paths, overwrite=force)
    screen.step("drawing")
    pdf = sheet_pages.pdf(sheets(answer, listed, practice, paper=on, date=day))
    write_bytes(paths[0], pdf, overwrite=force)
    write_text(paths[1], text(drill_list(answer, listed, practice, paper=on, date=day)), overwrite=force)
    for path, data in zip(paths[2:], cuts.values(), strict=True):
        write_bytes(path, data, overwrite=force)
    screen.show("\n".join(map(str, paths)))


def _names(titles: list[str]) -> list[str]:
    """A file name for every part: plain letters, no two alike."""
    found: list[str] = []
    for title in titles:
        plain = re.sub(r"[^A-Za-z0-9+-]+", "_", title).strip("_")[:60] or "part"
        name, number = plain, 1
        while name.lower() in (other.lower() for other in found):
            number += 1
            name = f"{plain}_{number}"
        found.append(name)
    return found
