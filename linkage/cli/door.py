"""The way in: commands found by their files and loaded when asked for; every error one exit status."""

from __future__ import annotations

import errno
import importlib
import os
import pkgutil
import sys
from collections.abc import Iterator
from typing import Any

import click

from linkage.cli import commands, screen
from linkage.errors import AssemblyError, DesignError, Fault, LinkageError, did_you_mean

NAME = "throttle-linkage"

INPUT_ERROR, OWN_ERROR, INTERRUPTED, UNREAD = 2, 70, 130, 141

#: Headings of the help, in order.
SECTIONS = ("Begin", "Check", "Search", "Paper", "Tool")


def debugging() -> bool:
    """Whether errors of the program itself are to be shown whole."""
    return bool(os.environ.get("THROTTLE_LINKAGE_DEBUG"))


class Refusal(click.ClickException):
    """Lines for standard error and an exit status."""

    def __init__(self, says: str, status: int = INPUT_ERROR) -> None:
        super().__init__(says)
        self.exit_code = status  # type: ignore[misc]  # click reads it off the instance

    def show(self, file: Any = None) -> None:
        """Write the lines, as they are, to standard error."""
        screen.tell(self.message)


class Door(click.Group):
    """A group whose commands are the modules of :mod:`linkage.cli.commands`."""

    def __init__(self, **more: Any) -> None:
        settings = {"help_option_names": ["-h", "--help"], "max_content_width": 100}
        super().__init__(context_settings=settings, **more)

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of the commands, by their files."""
        return sorted(m.name.replace("_", "-") for m in pkgutil.iter_modules(commands.__path__))

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Load one command, and no other."""
        if cmd_name not in self.list_commands(ctx):
            return None
        command: click.Command = _module(cmd_name).command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command, or name the nearest one."""
        if args and not args[0].startswith("-") and self.get_command(ctx, args[0]) is None:
            known = self.list_commands(ctx)
            near = did_you_mean(args[0], known) or f"; there are {', '.join(known)}"
            raise click.UsageError(f'there is no command "{args[0]}"{near}', ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands under their headings."""
        rows: dict[str, list[tuple[str, str]]] = {}
        for name in self.list_commands(ctx):
            module = _module(name)
            help_line = module.command.get_short_help_str(limit=formatter.width - 14)
            rows.setdefault(module.SECTION, []).append((name, help_line))
        for heading in sorted(rows, key=lambda name: SECTIONS.index(name) if name in SECTIONS else 99):
            with formatter.section(heading):
                formatter.write_dl(rows[heading], col_max=12, col_spacing=2)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; leave with its status, or with the one of its error."""
        try:
            status = super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except LinkageError as error:
            raise Refusal("\n".join(_lines(error, ctx))) from None
        except KeyboardInterrupt:
            raise Refusal("\nstopped", INTERRUPTED) from None
        except BrokenPipeError:
            _let_go(sys.stdout)
            raise click.exceptions.Exit(UNREAD) from None
        except OSError as error:
            if error.errno != errno.ENOSPC or debugging():
                raise _own(error) from None
            _let_go(sys.stdout)
            raise Refusal("standard output: the disk is full; make room") from None
        except Exception as error:
            if debugging():
                raise
            raise _own(error) from None
        if status:
            ctx.exit(status)
        return status


def _module(name: str) -> Any:
    return importlib.import_module(f"{commands.__name__}.{name.replace('-', '_')}")


def _lines(error: LinkageError, ctx: click.Context) -> Iterator[str]:
    """One line a fault: ``file:line: place: rule; mend``."""
    rig = ctx.meta.get("linkage.design")
    if isinstance(error, AssemblyError) and rig is not None and rig.source is not None:
        from linkage.design_file.lines import line_of, spots

        line = line_of(("link", error.link), spots(rig.source.text)) if error.link else None
        yield str(Fault("", str(error), "", line, rig.source.path))
    elif isinstance(error, DesignError):
        yield from (str(fault) for fault in error.faults)
    else:
        from linkage.files import OVER

        yield str(error).replace(OVER, "--force")


def _own(error: Exception) -> Refusal:
    return Refusal(
        f"{NAME}: an error of the program itself ({type(error).__name__}: {error}); please report it with the "
        "command and the design file (THROTTLE_LINKAGE_DEBUG=1 shows it whole)",
        OWN_ERROR,
    )


def _let_go(stream: Any) -> None:
    """Point a stream that cannot be written any more at nothing, so that leaving does not trip over it."""
    try:
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, stream.fileno())
        os.close(nothing)
    except (OSError, ValueError, AttributeError):
        pass  # no real stream, as under a test's runner
