"""Arithmetic as printed: what a calculator finds, and nothing that is no arithmetic."""

from __future__ import annotations

import math

import pytest

from linkage.paper.arithmetic import DIGITS, Step, Working, lines, number, worked


@pytest.mark.parametrize(
    ("expression", "value"),
    [
        ("2 + 3 × 4", 14.0),
        ("(2 + 3) × 4", 20.0),
        ("2 × 3^2", 18.0),
        ("-2^2", -4.0),
        ("(-2)^2", 4.0),
        ("10 / 4 - 1", 1.5),
        ("sin(30)", 0.5),
        ("cos(60) + acos(0.5)", 60.5),
        ("atan(1) + asin(-1)", -45.0),
        ("sqrt(2) × sqrt(2)", 2.0),
        ("max(1, 2, 3) - min(4, -5)", 8.0),
        ("abs(-7.5)", 7.5),
    ],
)
def test_expressions(expression: str, value: float) -> None:
    assert worked(expression) == pytest.approx(value, rel=1e-14)


@pytest.mark.parametrize("expression", ["__import__('os')", "x", "1 if 2 else 3", "[1]", "'a'", "a.b(1)"])
def test_nothing_but_arithmetic_is_worked(expression: str) -> None:
    with pytest.raises((ValueError, KeyError)):
        worked(expression)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (-1e-12, "0"),
        (34.5, "34.5"),
        (-0.00123456789012, "-0.00123456789"),
        (1234567.0, "1234567"),
        (1.0 / 3.0, "0.3333333333"),
        (math.inf, "none"),
        (math.nan, "none"),
    ],
)
def test_numbers_are_plain_decimals_of_ten_digits(value: float, text: str) -> None:
    assert number(value) == text
    assert DIGITS == 10


def test_a_step_is_worked_from_what_is_printed() -> None:
    work = Working("in")
    assert work.given("L", 25.4 / 3.0, "length", "a length") == 0.3333333333
    assert work.step("x", "L × 3", "in") == 0.9999999999  # not 1: the printed digits rule
    assert work.step("y", "-x") == -0.9999999999
    work.step("z", "cos(y) × y^2")
    step = work.parts[-1]
    assert isinstance(step, Step)
    assert step.numbers == "cos(-0.9999999999) × (-0.9999999999)^2"


def test_a_symbol_that_is_not_known_yet_is_an_error() -> None:
    with pytest.raises(KeyError):
        Working("mm").step("a", "b + 1")


def test_long_steps_are_broken_and_short_ones_are_not() -> None:
    work = Working("mm")
    for i in range(12):
        work.given(f"value{i}", 1.0 / (i + 3.0), "length", "one of many")
    work.step("short", "value1 + value2", "mm", "a sum")
    work.step("long", " + ".join(f"value{i}^2" for i in range(12)))
    told = lines(work.parts)
    assert all(len(line) <= 92 for line in told)
    assert any(line.startswith("    short = value1 + value2 = ") and line.endswith("mm   a sum") for line in told)
    assert sum("=" in line and "value" not in line and "one of" not in line for line in told) >= 2
