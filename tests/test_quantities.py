"""Quantities: what a workshop writes, against the definitions of the units."""

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkage.quantities import OWN, UNITS, Kind, digits_for, own_scale, own_unit, quantity_in, read_quantity

INCH = Fraction(254, 10)
POUND = Fraction("0.45359237") * Fraction("9.80665")  # N, by definition

GOOD: list[tuple[str, Kind, Fraction]] = [
    ("12.7 mm", "length", Fraction("12.7")),
    ("12.7mm", "length", Fraction("12.7")),
    ("  -3 cm ", "length", Fraction(-30)),
    ("−3 cm", "length", Fraction(-30)),
    ("+.5 m", "length", Fraction(500)),
    ("1.e1 mm", "length", Fraction(10)),
    ("2.5E-1 mm", "length", Fraction("0.25")),
    ("1/4 in", "length", INCH / 4),
    ('3/16"', "length", INCH * 3 / 16),
    ("1 1/4 in", "length", INCH * 5 / 4),
    ("1-1/4 in", "length", INCH * 5 / 4),
    ("-1 1/4 inch", "length", -INCH * 5 / 4),
    ("2 inches", "length", INCH * 2),
    ("5 thou", "length", INCH / 200),
    ("1 ft", "length", INCH * 12),
    ("35 deg", "angle", Fraction(35)),
    ("35°", "angle", Fraction(35)),
    ("22 1/2 degrees", "angle", Fraction("22.5")),
    ("6 N", "force", Fraction(6)),
    ("1.5 lbf", "force", POUND * 3 / 2),
    ("16 ozf", "force", POUND),
    ("2 kgf", "force", Fraction("19.6133")),
    ("1.2 N m", "torque", Fraction(1200)),
    ("120 N mm", "torque", Fraction(120)),
    ("120 N·mm", "torque", Fraction(120)),
    ("120 N*mm", "torque", Fraction(120)),
    ("120 N.mm", "torque", Fraction(120)),
    ("0.12 Nm", "torque", Fraction(120)),
    ("14 lbf in", "torque", POUND * INCH * 14),
    ("14 in-lbf", "torque", POUND * INCH * 14),
    ("1 ft·lbf", "torque", POUND * INCH * 12),
    ("2.5 N/mm", "spring_rate", Fraction("2.5")),
    ("2.5 N / mm", "spring_rate", Fraction("2.5")),
    ("5 lbf/in", "spring_rate", POUND / INCH * 5),
    ("1000 N/m", "spring_rate", Fraction(1)),
    ("1.5 N mm/deg", "torsion_rate", Fraction("1.5")),
    ("1.5 N·mm/°", "torsion_rate", Fraction("1.5")),
    ("2 lbf in/deg", "torsion_rate", POUND * INCH * 2),
    ("3/2", "number", Fraction(3, 2)),
    ("-1 1/2", "number", Fraction(-3, 2)),
]


@pytest.mark.parametrize(("text", "kind", "exact"), GOOD)
def test_a_quantity_is_read_in_mm_deg_and_newtons(text: str, kind: Kind, exact: Fraction) -> None:
    assert quantity_in(text, kind) == pytest.approx(float(exact), rel=1e-15)


def test_radians_are_turned_into_degrees() -> None:
    assert quantity_in("1 rad", "angle") == pytest.approx(math.degrees(1.0), rel=1e-15)


BAD: list[tuple[str, Kind, str]] = [
    ("", "length", "is empty"),
    ("   ", "length", "is empty"),
    ("34", "length", 'write 34 (no quotes) or "34 mm"'),
    ("34", "torque", '"34 N·mm"'),
    ("1/4", "length", 'write "1/4 in" or "1/4 mm"'),
    ("1/4", "force", 'write "1/4 lbf" or "1/4 N"'),
    ("34", "number", "write 34 (no quotes)"),
    ("3 mm", "number", "takes no unit"),
    ("12,7 mm", "length", "write 12.7"),
    ("1,000.5 mm", "length", "write 1000.5"),
    ("1,000 mm", "length", "write 1.000 or 1000"),
    ("12 mmm", "length", 'did you mean "mm"?'),
    ("12 MM", "length", 'did you mean "mm"?'),
    ("5 furlong", "length", 'unknown unit "furlong"'),
    ("5 lb", "force", 'did you mean "lbf"?'),
    ("12 34 mm", "length", 'unknown unit "34 mm"'),
    ("1.5/2 in", "length", "unknown unit"),
    ("1_000 mm", "length", "unknown unit"),
    ("0x10 mm", "length", "unknown unit"),
    ("12 deg", "length", "is the unit of an angle"),
    ("12 mm", "angle", "is the unit of a length"),
    ("2 N/mm", "torsion_rate", "is the unit of a spring rate"),
    ("2 N mm/deg", "spring_rate", "is the unit of a torsion spring's rate"),
    ("2 N mm", "force", "is the unit of a torque"),
    ("1/0 in", "length", "divides by zero"),
    ("1 1/0 in", "length", "divides by zero"),
    ("inf mm", "length", "finite"),
    ("-Infinity mm", "length", "finite"),
    ("nan mm", "length", "finite"),
    ("1e400 mm", "length", "finite"),
    ("1e308 m", "length", "finite"),
    ("mm", "length", "is not a number with a unit"),
    ("about 3 mm", "length", "is not a number with a unit"),
    ("--3 mm", "length", "is not a number with a unit"),
    ("٣ mm", "length", "is not a number with a unit"),
    ("9" * 200 + " mm", "length", "too long"),
    ("3\nmm", "length", "one line"),
]


@pytest.mark.parametrize(("text", "kind", "says"), BAD)
def test_anything_else_is_refused_with_the_mend(text: str, kind: Kind, says: str) -> None:
    with pytest.raises(ValueError) as error:  # noqa: PT011  the message is looked at below
        quantity_in(text, kind)
    assert says in str(error.value)


@given(st.text(max_size=90), st.sampled_from(list(UNITS)))
def test_no_text_gives_anything_but_a_finite_number_or_a_value_error(text: str, kind: Kind) -> None:
    said = ""
    try:
        assert math.isfinite(quantity_in(text, kind))
    except ValueError as error:
        said = str(error)
    assert said.isprintable()


@given(st.sampled_from([(kind, unit) for kind in UNITS for unit in UNITS[kind]]), st.integers(1, 99))
def test_every_unit_that_is_listed_can_be_written(unit: tuple[Kind, str], number: int) -> None:
    written = read_quantity(f"{number} {unit[1]}", unit[0])
    assert written.value == number * UNITS[unit[0]][unit[1]]
    assert written.size == UNITS[unit[0]][unit[1]]


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("kind", [kind for kind in UNITS if kind != "number"])
def test_a_bare_number_is_in_the_designs_own_unit(units: str, kind: Kind) -> None:
    assert own_scale(units, kind) == pytest.approx(quantity_in(f"1 {own_unit(units, kind)}", kind), rel=1e-15)


def test_a_plain_number_has_no_unit_in_any_design() -> None:
    assert {(own_unit(units, "number"), own_scale(units, "number")) for units in OWN} == {("", 1.0)}


@given(st.floats(-1e6, 1e6), st.sampled_from([1.0, 25.4, 4.4482216152605]))
def test_written_digits_read_back(value: float, size: float) -> None:
    assert abs(float(digits_for(value, size)) * size - value) <= 1e-9


@pytest.mark.parametrize(
    ("value", "size", "text"),
    [(0.1 + 0.2, 1.0, "0.3"), (31.75, 25.4, "1.25"), (-0.0, 1.0, "0.0"), (40.0, 1.0, "40.0"), (2.3e-5, 1.0, "2.3e-05")],
)
def test_written_digits_are_few(value: float, size: float, text: str) -> None:
    assert digits_for(value, size) == text
