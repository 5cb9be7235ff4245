"""``throttle-linkage check``: the report and the verdict."""

from __future__ import annotations

import click

from linkage.cli import given, screen

SECTION = "Check"


@click.command(
    "check",
    epilog="""\b
Examples:
  throttle-linkage check linkage.toml
  throttle-linkage check linkage.toml --json > answer.json
  throttle-linkage check linkage.toml && echo "good to build"

Exit status: 0 all checks pass (cautions allowed), 1 a check fails, 2 the file cannot be used.""",
)
@given.design_file
@click.option("--json", "as_json", is_flag=True, help="Print the answer as one JSON document.")
@given.positions
def command(file: str, as_json: bool, positions: int) -> int:
    """Report on a design and give a verdict.

    What fails comes first, in words, with what would mend it; the figures follow. FILE may be -
    for standard input.
    """
    from linkage.answers import check

    answer = check(given.design(file), positions=positions)
    if as_json:
        import json

        from linkage.paper.document import document

        screen.show_data(json.dumps(document(answer), ensure_ascii=False, allow_nan=False) + "\n")
    else:
        from linkage.paper.report import report

        screen.show(report(answer))
    return 1 if answer.verdict == "fail" else 0
