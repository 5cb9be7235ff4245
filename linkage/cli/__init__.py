"""The command line, ``throttle-linkage``.

Results go to standard output, everything else to standard error. A command is one file of
:mod:`linkage.cli.commands`: it offers ``command`` (a click command) and ``SECTION`` (the heading
of the help under which it stands), imports nothing heavy at its top, and returns its exit status.

=====  ==============================================================
 exit  meaning
=====  ==============================================================
    0  done; of ``check``: every check passes, cautions allowed
    1  ``check``: a check fails; ``verify``: an example is not met
    2  the input cannot be used, or the output cannot be written
   70  an error of the program itself (``THROTTLE_LINKAGE_DEBUG=1`` shows it whole)
  130  stopped from the keyboard
  141  nobody reads the output any more
=====  ==============================================================
"""

from __future__ import annotations

import click

import linkage
from linkage.cli.door import NAME, Door, debugging

__all__ = ["main", "throttle_linkage"]


@click.group(
    cls=Door,
    name=NAME,
    epilog="""\b
Begin with:
  throttle-linkage demo                  the example, worked through into a folder
  throttle-linkage new my_linkage.toml   a commented design file of your own
  throttle-linkage check my_linkage.toml

Exit status: 0 all checks pass (cautions allowed), 1 a check fails, 2 the input cannot be used.""",
)
@click.version_option(linkage.__version__, prog_name=NAME, message="%(prog)s %(version)s")
def throttle_linkage() -> None:
    """Check throttle linkages: from a small design file to a verdict.

    A design file (TOML) names the shafts, bell cranks, links and the cable of a throttle linkage.
    Every command reads one; a name of - reads it from standard input.
    """


def main() -> None:
    """Run the command line; leaves with its exit status."""
    import sys
    import warnings

    if not (sys.warnoptions or debugging()):
        warnings.simplefilter("ignore")  # what a warning would say, the report says in words
    throttle_linkage.main(prog_name=NAME)
