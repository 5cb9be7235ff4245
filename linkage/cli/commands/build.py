"""``throttle-linkage build``: the bench sheet."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from linkage.cli import bench_options, given, screen

SECTION = "Paper"


@click.command(
    "build",
    epilog="""\b
Examples:
  throttle-linkage build linkage.toml                     writes linkage_bench.pdf here
  throttle-linkage build linkage.toml --text | less
  throttle-linkage build linkage.toml --datum=-175,0 --thread M6x1 --rod-end-length 36 --thread-depth 20
  throttle-linkage build v8.toml --fractions --paper letter""",
)
@given.design_file
@click.option("--out", metavar="FILE.pdf", type=given.path, help="File to write.")
@click.option("--text", "as_text", is_flag=True, help="Print the sheet as plain text instead.")
@bench_options.datum
@bench_options.bores
@bench_options.thread
@bench_options.lengths(bench_options.ROD_ENDS)
@bench_options.lengths(bench_options.LENGTHS)
@bench_options.fractions
@bench_options.paper
@bench_options.date
@given.force
def command(
    file: str, out: str | None, as_text: bool, paper: str | None, date: str | None, force: bool, **settings: Any
) -> None:
    """Write the bench sheet of a design.

    Coordinates from a datum, lever holes and clocking, the link cut list, stops, springs, which
    dimension to hold, and the set-up card in order. Lengths of options are in the design's own unit
    or carry one ("1/4 in"). FILE may be - for standard input.
    """
    from linkage.answers import check
    from linkage.errors import OutputError
    from linkage.files import check_free, write_bytes
    from linkage.paper.bench import bench_sheet

    path = Path(out or f"{given.stem(file)}_bench.pdf")
    if not as_text:
        if path.suffix.lower() != ".pdf":
            raise OutputError(f'{path}: a bench sheet is a PDF; end the name in .pdf, or print it with "--text"')
        check_free([path], overwrite=force)
    rig = given.design(file)
    practice = bench_options.practice(rig, **settings)
    answer = check(rig)
    sheet = bench_sheet(answer, practice, date=bench_options.date_of(date))
    if as_text:
        from linkage.paper.sheet import text

        screen.show(text(sheet))
        return
    screen.step("drawing")
    from linkage.paper import sheet_pages
    from linkage.plots import drawing

    pages = sheet_pages.pages(sheet, bench_options.paper_of(rig, paper))
    data = sheet_pages.pdf([*pages, drawing(answer.run, at=(0.0,))])
    screen.show(str(write_bytes(path, data, overwrite=force)))
