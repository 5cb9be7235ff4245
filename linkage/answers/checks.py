"""A check: one limit held against its figure. With :mod:`extremes` the ground of the answers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Word = Literal["pass", "caution", "fail"]

#: said with every verdict and on every sheet
CAUTION = (
    "This is a calculation, not a certificate. A throttle that sticks open can kill: prove the closing by "
    "hand, engine off, with each spring alone. Local vehicle regulations, the event's rules and licensed "
    "practice come first."
)


@dataclass(frozen=True)
class Check:
    """One limit: its ``name``, ``verdict``, ``value`` and ``limit`` (None where there is no number) in
    ``unit`` ("deg", "mm", "N", ...; lengths in mm), ``where`` it was found, and the sentence it ``says``."""

    name: str
    verdict: Word
    value: float | None
    limit: float | None
    unit: str
    where: str
    says: str


def worst(checks: Iterable[Check]) -> Word:
    """The verdict over all checks: the worst of them."""
    found = {check.verdict for check in checks}
    return "fail" if "fail" in found else "caution" if "caution" in found else "pass"


def percent(fraction: float) -> str:
    """A share of the travel as the sentences say it."""
    return f"{abs(100.0 * fraction):.0f} % of the travel"  # never "-0 %"
