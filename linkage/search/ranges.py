"""Ranges as one types them: ``PATH=LOW:HIGH:STEP``, ``PATH=A,B,C`` and, to be sampled, ``PATH=LOW..HIGH``.

Bare numbers are in the design's own units; a number may carry a unit of its own (``1/4 in``).
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from linkage.errors import Fault, PathError
from linkage.parts import Linkage, Rule
from linkage.quantities import own_scale, own_unit, quantity_in
from linkage.search.vary import MOST_ROWS, Variation, boxed, broken, gridded, rule_at

Floats = NDArray[np.float64]

#: most values of one range
MOST_VALUES = 10_000_000

_WHOLE = 2**53  # whole numbers up to here are numbers of the machine

_FORMS = "LOW:HIGH:STEP, or A,B,C, or with samples LOW..HIGH"
_BARE = re.compile(r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?")


def asked(rig: Linkage, texts: Sequence[str], *, samples: int | None = None, seed: int = 1) -> Variation:
    """What to vary, from what was typed.

    Parameters
    ----------
    rig : Linkage
        Says the paths, their rules, and the unit of bare numbers.
    texts : sequence of str
        ``PATH=RANGE`` each.
    samples, seed : int
        Given: every range is ``LOW..HIGH``, and the box of them is filled with so many points.

    Raises
    ------
    DesignError
        With every fault of all the ranges.
    """
    faults: list[Fault] = []
    found: dict[str, Floats] = {}
    for text in texts:
        path, equals, words = (part.strip() for part in text.partition("="))
        try:
            if not equals or not path:
                raise ValueError(f'must be PATH=RANGE, got "{text}"; the range is {_FORMS}')
            if path in found:
                raise ValueError("is varied twice; give one range")
            rule = rule_at(rig, path)
            values = _ends(words, rule, rig.units) if samples is not None else _values(words, rule, rig.units)
            if says := broken(rule, values):
                raise ValueError(says)
            found[path] = values
        except PathError as error:
            faults.append(Fault(f"vary {path}", str(error), file="sweep"))
        except ValueError as error:
            says, _, mend = str(error).partition("; ")
            faults.append(Fault(f"vary {path}" if equals else "vary", says, mend, file="sweep"))
    if samples is not None:
        return boxed({path: (float(v[0]), float(v[1])) for path, v in found.items()}, samples, seed, faults)
    return gridded(found, faults)


def _ends(words: str, rule: Rule, units: str) -> Floats:
    """The two ends of ``LOW..HIGH`` [mm, deg, N]."""
    parts = re.split(r"\.\.", words)
    if len(parts) != 2 or "..." in words:
        raise ValueError(f'"{words}" is no range to be sampled; write LOW..HIGH, such as 30..40')
    low, high = (_number(part, rule, units) for part in parts)
    if not low < high:
        raise ValueError(f'"{words}" is empty; the first number must be the smaller')
    return np.array([low, high])


def _values(words: str, rule: Rule, units: str) -> Floats:
    """The values of ``LOW:HIGH:STEP`` or ``A,B,C`` [mm, deg, N]."""
    if ".." in words:
        raise ValueError(f'"{words}" is to be sampled; say how many samples, or write LOW:HIGH:STEP')
    if ":" not in words:
        parts = words.split(",")
        if not all(part.strip() for part in parts):
            raise ValueError(f'"{words}" has a value missing; write {_FORMS}')
        return np.array([_number(part, rule, units) for part in parts])
    parts = words.split(":")
    if len(parts) != 3 or not all(part.strip() for part in parts):
        raise ValueError(f'"{words}" is no range; write LOW:HIGH:STEP, such as 30:40:0.5')
    low, high, step = (_number(part, rule, units) for part in parts)
    if step <= 0.0 or low > high:
        raise ValueError(f'"{words}" is empty; LOW is to be the smaller end, STEP above nought')
    count = (high - low) / step
    if count > MOST_VALUES or count > MOST_ROWS:
        raise ValueError(f'"{words}" has more than {MOST_VALUES:,} values; make the step larger')
    steps = round(count)
    if abs(count - steps) > 1e-6:
        fewer = max(1, int(count))
        unit = own_scale(units, rule.kind)
        raise ValueError(
            f'"{words}" does not come to its end in whole steps; a step of {(high - low) / fewer / unit:.10g} '
            f"or {(high - low) / (fewer + 1) / unit:.10g} {own_unit(units, rule.kind)} does"
        )
    exact = [_exact(part) for part in parts]
    if None not in exact:  # decimals as typed: 30.1, not the nearest sum of 30 and 0.1
        first, last, each = (Fraction(number) for number in exact if number is not None)
        return _stepped(first, last, each, steps) * own_scale(units, rule.kind)
    share = np.arange(steps + 1) / max(steps, 1)
    return low * (1.0 - share) + high * share


def _stepped(first: Fraction, last: Fraction, each: Fraction, steps: int) -> Floats:
    """So many steps, and the end, every value the number nearest to the exact one."""
    unit = math.lcm(first.denominator, last.denominator, each.denominator)
    start, end, step = (int(number * unit) for number in (first, last, each))
    if max(unit, abs(start), abs(end) + step) < _WHOLE:  # then both sides of the division are exact
        found = (start + step * np.arange(steps + 1)) / unit
    else:
        found = np.array([(start + step * i) / unit for i in range(steps + 1)])
    found[-1] = end / unit
    return np.asarray(found)


def _exact(text: str) -> Decimal | None:
    """A bare decimal number exactly; None for one with a unit, or a fraction."""
    try:
        return Decimal(text.strip()) if _BARE.fullmatch(text.strip()) else None
    except InvalidOperation:
        return None


def _number(text: str, rule: Rule, units: str) -> float:
    """A number [mm, deg, N], bare in the design's own unit or with a unit of its own."""
    plain = text.strip().replace("−", "-")
    if _BARE.fullmatch(plain):
        return float(plain) * own_scale(units, rule.kind)
    if rule.kind != "number" and re.fullmatch(r"[-+]?(?:[0-9]+(?:\s+|-))?[0-9]+\s*/\s*[0-9]+", plain):
        plain += own_unit(units, rule.kind)  # a bare fraction
    return quantity_in(plain, rule.kind)
