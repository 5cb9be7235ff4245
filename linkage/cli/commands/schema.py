"""``throttle-linkage schema``: the JSON Schema of design files."""

from __future__ import annotations

import click

from linkage.cli import screen

SECTION = "Tool"


@click.command(
    "schema",
    epilog="""\b
Example:
  throttle-linkage schema > design-file.schema.json
and begin a design file with this line, for an editor that understands it:
  #:schema ./design-file.schema.json""",
)
def command() -> None:
    """Print the JSON Schema of design files.

    An editor that knows it completes keys and marks mistakes while you type.
    """
    import json

    from linkage.design_file import json_schema

    screen.show_data(json.dumps(json_schema(), indent=1, ensure_ascii=False) + "\n")
