"""What the customer's papers are asked for: a date, and fractions where the design is in inches."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from linkage.parts import Linkage


def _day(_context: click.Context, _option: click.Parameter, text: str | None) -> datetime.date:
    if text is None:
        return datetime.date.today()
    try:
        return datetime.datetime.strptime(text.strip(), "%Y-%m-%d").date()
    except ValueError:
        raise click.UsageError(f'--date: must be a day written as 2026-03-01, got "{text}"') from None


#: the date on a paper, as a :class:`datetime.date`
date = click.option(
    "--date",
    metavar="YYYY-MM-DD",
    callback=_day,
    help="Date on the paper (default: today's); the same date gives the same bytes.",
)


def checked(fractions: bool, rig: Linkage) -> bool:
    """Whether fractions are wanted; an error where the design is not in inches."""
    from linkage.errors import DesignError, Fault

    if fractions and rig.units != "in":
        raise DesignError(
            [Fault("--fractions", "is for designs in inches", 'this one has units = "mm"', file="options")]
        )
    return fractions
