"""Numerals as a customer's paper shows them: the design's own unit, a true minus, the nearest 1/64 where asked."""

from __future__ import annotations

import math
from dataclasses import dataclass

from linkage.paper.lines import fixed, in_own_unit, length
from linkage.paper.sheet import sixty_fourths
from linkage.quantities import INCH, own_scale, own_unit

#: units of checks that only say what is counted
_COUNTED = ("shafts", "springs")


@dataclass(frozen=True)
class Numerals:
    """How numbers are written for a design of ``units``; with ``fractions`` an inch also as the nearest 1/64."""

    units: str
    fractions: bool = False

    def length(self, mm: float | None) -> str:
        """A length [mm] in the design's own unit, without its name."""
        return signed(length(mm, self.units))

    def length_and_unit(self, mm: float) -> str:
        """A length [mm] with its unit, and as a fraction where that is asked for."""
        told = f"{self.length(mm)} {self.units}"
        return f"{told} ({self.fraction(mm)})" if self.fractions else told

    def fraction(self, mm: float) -> str:
        """A length [mm] to the nearest 1/64 of an inch, in lowest terms."""
        return signed(sixty_fourths(mm / INCH))

    def angle(self, degrees: float | None, digits: int = 2) -> str:
        """An angle [deg] with its sign for degrees."""
        text = signed(fixed(degrees, digits))
        return text if degrees is None or not math.isfinite(degrees) else f"{text}°"

    def force(self, newtons: float) -> str:
        """A force [N] in the design's own unit, without its name."""
        return signed(fixed(newtons / own_scale(self.units, "force"), 1 if self.units == "mm" else 2))

    @property
    def force_unit(self) -> str:
        """Name of the design's own unit of force."""
        return own_unit(self.units, "force")

    def of_check(self, value: float, unit: str, *, fine: bool) -> str:
        """A figure of a check with its unit, in the design's own unit."""
        number, own = in_own_unit(value, unit, self.units, fine=fine)
        if own.startswith("deg"):
            return signed(number) + own.replace("deg", "°")
        return f"{signed(number)} {'' if own in _COUNTED else own}".rstrip()


def signed(text: str) -> str:
    """A number's text with a true minus; a dash where there is no number."""
    return "–" if text == "-" else text.replace("-", "−", 1) if text.startswith("-") else text
