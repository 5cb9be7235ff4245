"""Lines of a plain text paper: aligned tables, wrapped sentences, bars, numbers in the design's own unit."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence

from linkage.quantities import Kind, own_scale, own_unit

#: Columns of a sheet of plain text.
WIDTH = 96

#: A table may be a little wider; a last column with less room than that is not wrapped.
WIDEST, _NARROW = 100, 12

#: Signs of the verdicts, so that colour never speaks alone.
SIGN = {"pass": "✓", "caution": "!", "fail": "✗"}

#: Kinds of quantity by the unit in which the answers hold them.
KINDS: dict[str, Kind] = {
    "mm": "length",
    "N": "force",
    "N.mm": "torque",
    "N·mm": "torque",
    "N/mm": "spring_rate",
}


def fixed(value: float | None, digits: int = 2) -> str:
    """A number with so many decimals, ``-`` where there is none, never ``-0.00``."""
    if value is None or math.isnan(value):
        return "-"
    if math.isinf(value):
        return "none"
    text = f"{value:.{digits}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def length(mm: float | None, units: str) -> str:
    """A length [mm] as a bare number in the design's own unit: hundredths of a mm, thousandths of an inch."""
    return fixed(None if mm is None else mm / own_scale(units, "length"), 2 if units == "mm" else 3)


def in_own_unit(value: float, unit: str, units: str, *, fine: bool = False) -> tuple[str, str]:
    """A figure of the answers and its unit as the paper shows them, in a design of ``units``.

    ``fine`` gives an angle three decimals; a count comes without any.
    """
    value, unit = per_own(value, unit, units)
    kind = KINDS.get(unit)
    if kind == "length":
        return length(value, units), own_unit(units, kind)
    if kind is not None:
        return fixed(value / own_scale(units, kind)), own_unit(units, kind)
    if unit.startswith("deg"):
        return fixed(value, 3 if fine else 2), unit
    return fixed(value, 0 if value == round(value) else 2), unit


def per_own(value: float, unit: str, units: str) -> tuple[float, str]:
    """Degrees for each mm of a block's travel, for each inch in a design of inches; all else as it is."""
    return (value * own_scale(units, "length"), "deg/in") if (unit, units) == ("deg/mm", "in") else (value, unit)


def sentence(text: str, indent: str = "  ") -> list[str]:
    """Words wrapped to the sheet, the first letter large."""
    return wrapped(text[:1].upper() + text[1:], indent)


def wrapped(text: str, indent: str = "  ") -> list[str]:
    """Words wrapped to the sheet."""
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


def aligned(rows: Sequence[Sequence[str]], columns: str, indent: str = "  ") -> list[str]:
    """Rows of cells under each other; ``columns`` has ``<`` (left) or ``>`` (right) for each.

    A last column of words that leaves the sheet is wrapped below itself.
    """
    widths = [max(len(row[i]) for row in rows) for i in range(len(columns))]
    room = WIDEST - len(indent) - sum(widths[:-1]) - 2 * (len(widths) - 1)
    if columns[-1] != "<" or widths[-1] <= room or room < _NARROW:
        return [_in_line(row, columns, widths, indent) for row in rows]
    lines = []
    for row in rows:
        first, *more = textwrap.wrap(row[-1], room, break_on_hyphens=False) or [""]
        lines.append(_in_line([*row[:-1], first], columns, widths, indent))
        lines += [" " * (len(indent) + sum(widths[:-1]) + 2 * (len(widths) - 1)) + line for line in more]
    return lines


def _in_line(row: Sequence[str], columns: str, widths: Sequence[int], indent: str) -> str:
    cells = (f"{cell:{side}{width}}" for cell, side, width in zip(row, columns, widths, strict=True))
    return (indent + "  ".join(cells)).rstrip()


def bar(share: float, size: int) -> str:
    """A bar that fills ``share`` (0 to 1) of ``size`` columns."""
    filled = round(size * min(max(share, 0.0), 1.0)) if math.isfinite(share) else 0
    return "█" * filled + "·" * (size - filled)
