"""Numbers with units, as a workshop writes them: ``"1 1/4 in"``, ``"12.7 mm"``, ``"2.5 N/mm"``.

Strict on purpose: an unknown unit, a decimal comma, a unit of another kind, a division by zero or
an infinite value is refused with the mend, never guessed at.

References
----------
NIST SP 811 (2008), appendix B.8: the inch is 25.4 mm and the pound-force 4.4482216152605 N, both
exact (from memory).
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Literal, NamedTuple

from linkage.errors import did_you_mean

Kind = Literal["length", "angle", "force", "torque", "spring_rate", "torsion_rate", "number"]
Units = Literal["mm", "in"]

INCH = 25.4  # [mm]
POUND_FORCE = 4.4482216152605  # [N]

#: What a bare number of a design file means: its unit's name and its size in mm, deg, N.
OWN: Mapping[str, Mapping[Kind, tuple[str, float]]] = {
    "mm": {
        "length": ("mm", 1.0),
        "angle": ("deg", 1.0),
        "force": ("N", 1.0),
        "torque": ("N·mm", 1.0),
        "spring_rate": ("N/mm", 1.0),
        "torsion_rate": ("N·mm/deg", 1.0),
        "number": ("", 1.0),
    },
    "in": {
        "length": ("in", INCH),
        "angle": ("deg", 1.0),
        "force": ("lbf", POUND_FORCE),
        "torque": ("lbf·in", POUND_FORCE * INCH),
        "spring_rate": ("lbf/in", POUND_FORCE / INCH),
        "torsion_rate": ("lbf·in/deg", POUND_FORCE * INCH),
        "number": ("", 1.0),
    },
}

_LENGTH = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": INCH,
    "inch": INCH,
    "inches": INCH,
    '"': INCH,
    "″": INCH,
    "thou": INCH / 1000.0,
    "ft": 12.0 * INCH,
}
_ANGLE = {"deg": 1.0, "°": 1.0, "degree": 1.0, "degrees": 1.0, "rad": 180.0 / math.pi}
_FORCE = {"N": 1.0, "kN": 1000.0, "lbf": POUND_FORCE, "ozf": POUND_FORCE / 16.0, "kgf": 9.80665}
_TORQUE = {
    **{f"{f}·{d}": _FORCE[f] * _LENGTH[d] for f in _FORCE for d in ("mm", "cm", "m", "in", "ft")},
    **{f"{d}·{f}": _FORCE[f] * _LENGTH[d] for f in ("lbf", "ozf") for d in ("in", "ft")},
    "Nmm": 1.0,
    "Ncm": 10.0,
    "Nm": 1000.0,
}

#: Every unit that may be written, by kind, with its size in mm, deg, N, N.mm, N/mm, N.mm/deg.
UNITS: Mapping[Kind, Mapping[str, float]] = {
    "length": _LENGTH,
    "angle": _ANGLE,
    "force": _FORCE,
    "torque": _TORQUE,
    "spring_rate": {f"{f}/{d}": _FORCE[f] / _LENGTH[d] for f in _FORCE for d in ("mm", "cm", "m", "in", "ft")},
    "torsion_rate": {f"{t}/{a}": _TORQUE[t] / _ANGLE[a] for t in _TORQUE for a in _ANGLE},
    "number": {},
}

_NAMES: Mapping[Kind, str] = {
    "length": "a length",
    "angle": "an angle",
    "force": "a force",
    "torque": "a torque",
    "spring_rate": "a spring rate (force per length)",
    "torsion_rate": "a torsion spring's rate (torque per angle)",
    "number": "a plain number",
}

#: Longer texts than this are no quantity; it keeps the work bounded.
LONGEST_TEXT = 80

_FRACTION = r"(?:(?P<whole>[0-9]+)(?:\s+|-))?(?P<over>[0-9]+)\s*/\s*(?P<under>[0-9]+)"
_DECIMAL = r"(?P<decimal>(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?)"
_QUANTITY = re.compile(rf"(?P<sign>[-+]?)\s*(?:{_FRACTION}|{_DECIMAL})\s*(?P<unit>.*)", re.DOTALL)
_COMMA = re.compile(r"[-+]?[0-9][0-9.]*,[0-9][0-9.,]*")
_TIMES = re.compile(r"\s*[·⋅*]\s*|(?<=\w)\s*[-.]\s*(?=\w)|\s+")


class Written(NamedTuple):
    """A quantity as written: its ``value`` in mm, deg, N ..., its ``unit`` and that unit's ``size``."""

    value: float
    unit: str
    size: float


def quantity_in(text: str, kind: Kind) -> float:
    """Read a number with its unit.

    Parameters
    ----------
    text : str
        A decimal number, fraction or mixed number and a unit: ``"12.7 mm"``, ``'3/16"'``,
        ``"1-1/4 in"``, ``"35°"``, ``"1.2 N m"``, ``"5 lbf/in"``.
    kind : str
        What it must be: ``"length"``, ``"angle"``, ``"force"``, ``"torque"``, ``"spring_rate"``
        (extension spring), ``"torsion_rate"`` (torsion spring) or ``"number"`` (a fraction
        without a unit).

    Returns
    -------
    float
        [mm], [deg], [N], [N.mm], [N/mm], [N.mm/deg] or a plain number.

    Raises
    ------
    ValueError
        The text is not such a quantity; the message says why and what to write instead.

    Examples
    --------
    >>> quantity_in("1 1/4 in", "length")
    31.75
    """
    return read_quantity(text, kind).value


def read_quantity(text: str, kind: Kind) -> Written:
    """Like :func:`quantity_in`, and return the unit [mm, deg, N ... per unit] that was written as well."""
    text = text.strip()
    plain = text.replace("−", "-")
    if not plain:
        raise ValueError(f"is empty; write {_NAMES[kind]} such as {_example(kind)}")
    if len(plain) > LONGEST_TEXT:
        raise ValueError(f"is too long for a quantity ({len(plain)} characters)")
    if not plain.isprintable():
        raise ValueError("has characters that cannot be printed; write it on one line with plain spaces")
    if comma := _COMMA.match(plain):
        raise ValueError(f'has a comma in the number "{comma[0]}"; {_without_comma(comma[0])}')
    match = _QUANTITY.fullmatch(plain)
    if match is None:
        if plain.lstrip("+-").lower().startswith(("inf", "nan")):
            raise ValueError(f'must be a finite number, got "{text}"')
        raise ValueError(f'"{text}" is not a number with a unit; write {_NAMES[kind]} such as {_example(kind)}')
    number = _number(match, text)
    unit = match["unit"]
    if kind == "number":
        if unit:
            raise ValueError(f'is a plain number and takes no unit, got "{text}"')
        if match["over"] is None:
            raise ValueError(f'is a number in quotes, "{text}"; write {plain} (no quotes)')
        return Written(number, "", 1.0)
    if not unit:
        own = OWN["mm"][kind][0]
        if match["over"] is not None:
            raise ValueError(f'has no unit, "{text}"; write "{plain} {OWN["in"][kind][0]}" or "{plain} {own}"')
        raise ValueError(
            f'is a number in quotes without a unit, "{text}"; write {plain} (no quotes) or "{plain} {own}"'
        )
    size = _size(unit, kind)
    value = number * size
    if not math.isfinite(value):
        raise ValueError(f'must be a finite number, got "{text}"')
    return Written(value, unit, size)


def own_unit(units: str, kind: Kind) -> str:
    """Name of the unit of a bare number in a design of ``units`` "mm" or "in": mm, deg, N, lbf ..."""
    return OWN[units][kind][0]


def own_scale(units: str, kind: Kind) -> float:
    """Size [mm, deg, N, N.mm, N/mm, N.mm/deg] of the design's own unit.

    A bare number times it is what the parts hold; what the parts hold divided by it is what the
    design file and the papers show.
    """
    return OWN[units][kind][1]


def digits_for(value: float, size: float = 1.0, within: float = 1e-9) -> str:
    """Write ``value / size`` with ten digits, or as many more as read back to ``within`` of ``value``."""
    for digits in range(10, 18):
        text = f"{value / size:.{digits}g}"
        if abs(float(text) * size - value) <= within:
            break
    shown = repr(float(text))
    return "0.0" if shown == "-0.0" else shown


def _number(match: re.Match[str], text: str) -> float:
    if match["over"] is None:
        number = float(match["decimal"])
    elif int(match["under"]) == 0:
        raise ValueError(f'divides by zero, "{text}"')
    else:
        number = int(match["whole"] or 0) + int(match["over"]) / int(match["under"])
    if not math.isfinite(number):
        raise ValueError(f'must be a finite number, got "{text}"')
    return -number if match["sign"] == "-" else number


def _size(unit: str, kind: Kind) -> float:
    plain = _TIMES.sub("·", re.sub(r"\s*/\s*", "/", unit))
    if plain in UNITS[kind]:
        return UNITS[kind][plain]
    for other, known in UNITS.items():
        if plain in known:
            raise ValueError(f'must be {_NAMES[kind]}, but "{unit}" is the unit of {_NAMES[other]}')
    hint = did_you_mean(plain, UNITS[kind]) or did_you_mean(plain.lower(), UNITS[kind])
    raise ValueError(f'has an unknown unit "{unit}"{hint or f"; write {_example(kind)}"}')


def _example(kind: Kind) -> str:
    return {
        "length": '"12.7 mm" or "1/2 in"',
        "angle": '"35 deg"',
        "force": '"6 N" or "1.5 lbf"',
        "torque": '"120 N mm" or "1 lbf in"',
        "spring_rate": '"1.2 N/mm" or "7 lbf/in"',
        "torsion_rate": '"1.5 N mm/deg"',
        "number": '1.5 or "3/2"',
    }[kind]


def _without_comma(number: str) -> str:
    if "." in number:
        return f"write {number.replace(',', '')}"
    if re.fullmatch(r"[-+]?[1-9][0-9]{0,2}(,[0-9]{3})+", number):
        return f"write {number.replace(',', '.', 1).replace(',', '')} or {number.replace(',', '')}"
    return f"write {number.replace(',', '.', 1).replace(',', '')}"
