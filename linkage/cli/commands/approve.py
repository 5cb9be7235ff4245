"""``throttle-linkage approve``: the approval sheet."""

from __future__ import annotations

import datetime
from pathlib import Path

import click

from linkage.cli import bench_options, dated, given, screen

SECTION = "Paper"

KINDS = (".pdf", ".html")


@click.command(
    "approve",
    epilog="""\b
Examples:
  throttle-linkage approve linkage.toml                   writes linkage_approval.pdf and .html here
  throttle-linkage approve linkage.toml --out sheet.pdf --date 2026-03-01
  throttle-linkage approve v8.toml --fractions --paper letter --force""",
)
@given.design_file
@click.option("--out", metavar="PATH", type=given.path, help="The one file to write: .pdf or .html.")
@bench_options.paper
@bench_options.fractions
@dated.date
@given.force
def command(file: str, out: str | None, paper: str | None, fractions: bool, date: datetime.date, force: bool) -> None:
    """Write the sheet that a customer approves.

    The linkage at idle, half travel and wide open, its progression, mismatch and stops, what was
    asked against what was reached, the verdict in plain words, and lines to sign. FILE may be - for
    standard input.
    """
    from linkage.answers import check
    from linkage.errors import OutputError
    from linkage.files import check_free, write_bytes, write_text

    paths = [Path(out)] if out else [Path(f"{given.stem(file)}_approval{kind}") for kind in KINDS]
    for path in paths:
        if path.suffix.lower() not in KINDS:
            raise OutputError(f"{path}: an approval sheet is a PDF or a page; end the name in .pdf or .html")
    check_free(paths, overwrite=force)
    rig = given.design(file)
    dated.checked(fractions, rig)
    screen.step("checking the design")
    answer = check(rig)
    for path in paths:
        screen.step(f"writing {path}")
        if path.suffix.lower() == ".html":
            from linkage.paper.approval_html import approval_html

            written = write_text(path, approval_html(answer, date=date, fractions=fractions), overwrite=force)
        else:
            from linkage.paper.approval_pdf import approval_pdf

            on = bench_options.paper_of(rig, paper)
            data = approval_pdf(answer, date=date, paper=on, fractions=fractions)
            written = write_bytes(path, data, overwrite=force)
        screen.show(str(written))
