"""``throttle-linkage explain``: the arithmetic behind a verdict."""

from __future__ import annotations

import click

from linkage.cli import bench_options, given, screen

SECTION = "Paper"


@click.command(
    "explain",
    epilog="""\b
Examples:
  throttle-linkage explain linkage.toml                          lists the checks
  throttle-linkage explain linkage.toml mismatch_at_idle
  throttle-linkage explain linkage.toml transmission_angle toggle_margin --out sums.pdf
  throttle-linkage explain linkage.toml --all --out sums.txt""",
)
@given.design_file
@click.argument("checks", metavar="[CHECK]...", nargs=-1)
@click.option("--all", "every", is_flag=True, help="Explain every check of the design.")
@click.option("--out", metavar="FILE", type=given.path, help="File to write, .txt or .pdf; else standard output.")
@bench_options.paper
@bench_options.date_if_any
@given.force
def command(
    file: str, checks: tuple[str, ...], every: bool, out: str | None, paper: str | None, date: str | None, force: bool
) -> None:
    """Show how a check comes to its figure, step by step.

    The formula with its book, the numbers put in, and every step, so that it can be followed with a
    calculator. Without a CHECK the names of the checks are listed. FILE may be - for standard input.
    """
    from linkage.answers import check

    bench_options.check_out(out, (".txt", ".pdf"), force=force)
    rig = given.design(file)
    answer = check(rig)
    names = [found.name for found in answer.checks]
    if not checks and not every:
        screen.show("\n".join(names))
        screen.tell(f"next: throttle-linkage explain {file} {names[0]}")
        return
    from linkage.paper.explain import explain, sheet

    found = [explain(answer, name) for name in (names if every else checks)]
    dated = sheet(answer, found, date=date or "")
    bench_options.put(dated, out, paper=bench_options.paper_of(rig, paper), force=force)
