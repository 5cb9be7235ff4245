"""``throttle-linkage completion``: the script that lets a shell complete commands and options."""

from __future__ import annotations

import click

from linkage.cli import screen
from linkage.cli.door import NAME

SECTION = "Tool"


@click.command(
    "completion",
    epilog="""\b
Examples, each a line for the shell's start file:
  bash   ~/.bashrc   eval "$(throttle-linkage completion bash)"
  zsh    ~/.zshrc    eval "$(throttle-linkage completion zsh)"
  fish   ~/.config/fish/config.fish
                     throttle-linkage completion fish | source""",
)
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
@click.pass_context
def command(ctx: click.Context, shell: str) -> None:
    """Print the completion script for a shell.

    With it, the Tab key completes commands, options and file names.
    """
    from click.shell_completion import get_completion_class

    kind = get_completion_class(shell)
    assert kind is not None  # click knows all three
    variable = f"_{NAME}_COMPLETE".replace("-", "_").upper()
    completing = kind(ctx.find_root().command, {}, NAME, variable)
    script = completing.source_template % completing.source_vars()
    screen.show_data(script.strip() + "\n")
