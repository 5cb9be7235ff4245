"""``throttle-linkage verify``: the published examples against the installed code."""

from __future__ import annotations

import click

from linkage.cli import screen

SECTION = "Tool"


@click.command(
    "verify",
    epilog="""\b
Example:
  throttle-linkage verify

Exit status: 0 every example is met, 1 one is not.""",
)
def command() -> int:
    """Work the published examples with the code as installed.

    Source by source: what the book prints, what the program finds, and the difference.
    """
    from linkage import published

    screen.step("working the published examples")
    rows = published.verify()
    screen.show(published.report(rows))
    return 1 if any(row.passed is False for row in rows) else 0  # None: not computed here
