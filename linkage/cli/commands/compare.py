"""``throttle-linkage compare``: what changed between two design files."""

from __future__ import annotations

import click

from linkage.cli import bench_options, given

SECTION = "Paper"


@click.command(
    "compare",
    epilog="""\b
Examples:
  throttle-linkage compare signed.toml linkage.toml
  throttle-linkage compare rev_a.toml rev_b.toml --out changes.pdf""",
)
@click.argument("first", metavar="A", type=given.path)
@click.argument("second", metavar="B", type=given.path)
@click.option("--out", metavar="FILE", type=given.path, help="File to write, .txt or .pdf; else standard output.")
@bench_options.fractions
@bench_options.paper
@bench_options.date_if_any
@given.force
def command(
    first: str, second: str, out: str | None, fractions: bool, paper: str | None, date: str | None, force: bool
) -> None:
    """Show what changed from design A to design B.

    Changed dimensions and parts, and the figures and verdicts that follow from them, side by side, in
    the unit of B. One of the two may be - for standard input.
    """
    from linkage.answers import check
    from linkage.paper.compare import comparison

    if first == second == "-":
        raise click.UsageError("only one of the two can come from standard input")
    bench_options.check_out(out, (".txt", ".pdf"), force=force)
    before, after = given.design(first), given.design(second)
    bench_options.practice(after, fractions=fractions)
    sheet = comparison(check(before), check(after), date=date or "", fractions=fractions)
    bench_options.put(sheet, out, paper=bench_options.paper_of(after, paper), force=force)
