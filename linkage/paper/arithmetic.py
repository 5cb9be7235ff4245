"""Arithmetic that can be followed with a calculator: formulas, the numbers put in, and the steps.

Every step is worked from the numbers as they stand on the paper, so whoever types them in finds the
same result to the last digit. Angles are in degrees, as on a calculator set to DEG.
"""

from __future__ import annotations

import ast
import math
import operator
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from linkage.quantities import Kind, own_scale, own_unit

#: significant digits that are carried from step to step
DIGITS = 10

_NOTHING = 1e-9
_SYMBOL = re.compile(r"[A-Za-z][A-Za-z0-9_']*")
_BRACKETS = re.compile(r"\(\((-[0-9.]+)\)\)")
_FUNCTIONS: Mapping[str, Callable[..., float]] = {
    "sin": lambda x: math.sin(math.radians(x)),
    "cos": lambda x: math.cos(math.radians(x)),
    "asin": lambda x: math.degrees(math.asin(max(-1.0, min(1.0, x)))),
    "acos": lambda x: math.degrees(math.acos(max(-1.0, min(1.0, x)))),
    "atan": lambda x: math.degrees(math.atan(x)),
    "sqrt": lambda x: math.sqrt(max(x, 0.0)),
    "abs": abs,
    "max": max,
    "min": min,
}
_OPERATORS: Mapping[type, Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}


@dataclass(frozen=True)
class Said:
    """A sentence between the steps; ``head`` begins a part of the working."""

    says: str
    head: bool = False


@dataclass(frozen=True)
class Given:
    """A number that the design gives, or that was found before: ``symbol`` = ``value`` ``unit``."""

    symbol: str
    value: str
    unit: str
    meaning: str


@dataclass(frozen=True)
class Step:
    """A step: ``symbol`` = ``formula`` = the formula with its ``numbers`` = ``value``."""

    symbol: str
    formula: str
    numbers: str
    value: str
    unit: str
    meaning: str


Part = Said | Given | Step


def number(value: float) -> str:
    """A number with the digits that are carried, in plain decimals: ``"0.0012345678"``, ``"-34.5"``."""
    if not math.isfinite(value):
        return "none"
    if abs(value) < _NOTHING:
        return "0"
    text = format(Decimal(f"{value:.{DIGITS}g}"), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def worked(expression: str) -> float:
    """Work out an expression as printed: ``+ - × / ^``, brackets, sin cos asin acos atan in degrees, sqrt abs max min.

    Examples
    --------
    >>> worked("2 × sin(30) + 3^2 / (4 - 1)")
    4.0
    """
    tree = ast.parse(expression.replace("×", "*").replace("^", "**"), mode="eval")
    return _value(tree.body)


def _value(node: ast.expr) -> float:
    if isinstance(node, ast.Constant) and isinstance(node.value, (int, float)):
        return float(node.value)
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        return -_value(node.operand)
    if isinstance(node, ast.BinOp):
        return _OPERATORS[type(node.op)](_value(node.left), _value(node.right))
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
        return _FUNCTIONS[node.func.id](*map(_value, node.args))
    raise ValueError(f"not arithmetic: {ast.unparse(node)}")


@dataclass
class Working:
    """A working in the making: what was said, given and found so far, in the units of the design."""

    units: str
    parts: list[Part] = field(default_factory=list)
    known: dict[str, float] = field(default_factory=lambda: {"pi": float(number(math.pi))})

    def head(self, says: str) -> None:
        """Begin a part of the working."""
        self.parts.append(Said(says, head=True))

    def say(self, says: str) -> None:
        """A sentence."""
        self.parts.append(Said(says))

    def given(self, symbol: str, value: float, kind: Kind, meaning: str, *, unit: str | None = None) -> float:
        """Put down a number [mm, deg, N, N.mm ...] in the design's own unit; returns it as printed."""
        own = float(value) / own_scale(self.units, kind) if unit is None else float(value)
        text = number(own)
        name = own_unit(self.units, kind) if unit is None else unit
        self.parts.append(Given(symbol, text, name, meaning))
        self.known[symbol] = float(text)
        return self.known[symbol]

    def step(self, symbol: str, formula: str, unit: str = "", meaning: str = "") -> float:
        """Work out a formula of symbols already known; returns the result as printed."""
        numbers = _BRACKETS.sub(r"(\1)", _SYMBOL.sub(self._put_in, formula))
        text = number(worked(numbers))
        self.parts.append(Step(symbol, formula, numbers, text, unit, meaning))
        self.known[symbol] = float(text)
        return self.known[symbol]

    def _put_in(self, match: re.Match[str]) -> str:
        name = match[0]
        if name in _FUNCTIONS:
            return name
        text = number(self.known[name])
        return f"({text})" if text.startswith("-") else text

    @property
    def length(self) -> str:
        """Name of the design's own unit of length."""
        return own_unit(self.units, "length")


def lines(parts: list[Part], width: int = 92) -> list[str]:
    """A working as lines of text."""
    import textwrap

    found: list[str] = []
    for part in parts:
        if isinstance(part, Said):
            if part.head and found:
                found.append("")
            found += textwrap.wrap(part.says, width, break_on_hyphens=False)
        elif isinstance(part, Given):
            left = f"    {part.symbol} = {part.value}{' ' + part.unit if part.unit else ''}"
            found.append(f"{left:<34}{part.meaning}".rstrip())
        else:
            found += _step(part, width)
    return found


def _step(step: Step, width: int) -> list[str]:
    result = f"{step.value}{' ' + step.unit if step.unit else ''}"
    says = f"   {step.meaning}" if step.meaning else ""
    middle = [] if step.numbers.strip("()") in (step.formula, step.value) else [step.numbers]
    ways = [step.formula, *middle, result] if step.formula != step.value else [result]
    line = f"    {step.symbol} = {' = '.join(ways)}{says}"
    if len(line) <= width:
        return [line]
    indent = " " * (4 + len(step.symbol))
    told = [f"    {step.symbol} = {ways[0]}", *(f"{indent} = {way}" for way in ways[1:])]
    told[-1] += says
    return [piece for way in told for piece in _folded(way, width, indent)]


def _folded(line: str, width: int, indent: str) -> list[str]:
    """A long sum broken before an operator."""
    found = []
    while len(line) > width:
        cut = max(line.rfind(f" {sign} ", 0, width) for sign in "+-×/")
        if cut <= len(indent) + 4:
            break
        found.append(line[:cut])
        line = f"{indent}   {line[cut + 1 :]}"
    return [*found, line]
