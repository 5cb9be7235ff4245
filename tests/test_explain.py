"""Explanations: every step as printed is true, and every one comes to the figure of its check."""

from __future__ import annotations

import dataclasses
import math
import re
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from papers import DEMO, answer, opened, text_of
from trains import EXAMPLES, cross_tube, crossed_pair, skew, tilted

import linkage
from linkage.answers import (
    Answer,
    check,
    clearance,
    faults,
    flow,
    forces,
    heat,
    lost_motion,
    rocking,
    tolerance,
    twist,
    verdict,
)
from linkage.cli import throttle_linkage
from linkage.errors import PathError
from linkage.paper import sheet_pages
from linkage.paper.arithmetic import Given, Step
from linkage.paper.explain import EXPLAINED, Explanation, explain, sheet
from linkage.paper.lines import KINDS
from linkage.paper.sheet import text
from linkage.parts import Limits
from linkage.quantities import own_scale

ALL_DEMOS = tuple(sorted(path.stem for path in DEMO.glob("*.toml")))

#: an own reader of printed arithmetic: Python's floats, degrees
CALCULATOR: dict[str, Any] = {
    "__builtins__": {},
    "sin": lambda x: math.sin(math.radians(x)),
    "cos": lambda x: math.cos(math.radians(x)),
    "asin": lambda x: math.degrees(math.asin(min(1.0, max(-1.0, x)))),
    "acos": lambda x: math.degrees(math.acos(min(1.0, max(-1.0, x)))),
    "atan": lambda x: math.degrees(math.atan(x)),
    "sqrt": lambda x: math.sqrt(max(x, 0.0)),
    "abs": abs,
    "max": max,
    "min": min,
}


def typed_in(expression: str) -> float:
    """What a calculator shows."""
    return float(eval(expression.replace("×", "*").replace("^", "**"), CALCULATOR))


def last_digit(printed: str) -> float:
    """Size of the last of ten significant digits of a printed number; below 1e-9 nothing is printed."""
    value = abs(float(printed))
    return 2e-9 if value == 0.0 else 10.0 ** (math.floor(math.log10(value)) - 9)


def follow(found: Explanation) -> None:
    """Every step, from the numbers printed above it and no others, to the digits printed."""
    known = {"pi": "3.141592654"}
    for part in found.parts:
        if isinstance(part, Given):
            known[part.symbol] = part.value
        if not isinstance(part, Step):
            continue
        put_in = re.sub(r"[A-Za-z]\w*", lambda m: f"({known[m[0]]})" if m[0] in known else m[0], part.formula)
        for expression in (part.numbers, put_in):
            assert abs(typed_in(expression) - float(part.value)) <= 0.501 * last_digit(part.value), (part, expression)
        known[part.symbol] = part.value


def comes_out(of: Answer, found: Explanation) -> None:
    """The last step is the check's figure, far finer than it is shown."""
    value = found.check.value
    if value is None:
        return
    kind = KINDS.get(found.check.unit)
    value /= own_scale(of.run.rig.units, kind) if kind else 1.0
    if not math.isfinite(value):
        assert found.found is None
        return
    assert found.found is not None, found.check.name
    assert found.found == pytest.approx(value, rel=2e-6, abs=2e-6), found.check.name


@pytest.mark.parametrize("name", ALL_DEMOS)
def test_every_check_of_every_demo_can_be_followed(name: str) -> None:
    of = answer(name)
    for one in of.checks:
        found = explain(of, one.name)
        assert found.books
        follow(found)
        comes_out(of, found)


@pytest.mark.parametrize("make", EXAMPLES.values(), ids=EXAMPLES)
def test_every_check_of_every_example_train_can_be_followed(make: Any) -> None:
    of = check(make())
    for one in of.checks:
        found = explain(of, one.name)
        follow(found)
        comes_out(of, found)


def test_a_train_that_jams_explains_its_travel() -> None:
    # two shafts drawn to open against each other on a link that turns them alike: no travel
    pair = crossed_pair()
    jammed = dataclasses.replace(
        pair, shaft={name: dataclasses.replace(part, opens="ccw") for name, part in pair.shaft.items()}
    )
    of = check(jammed)
    names = [one.name for one in of.checks]
    assert "travel" in names
    for name in ("travel", "opening_direction", "closing_stop", "opening_stop"):
        found = explain(of, name)
        follow(found)
        comes_out(of, found)


def test_links_of_skew_and_slanting_axes_and_offset_pins_are_followed_in_space() -> None:
    for make in (skew, tilted, cross_tube):
        found = explain(check(make()), "transmission_angle")
        assert any(step.symbol == "w3" for step in found.steps) or any(
            isinstance(part, Given) and part.symbol == "w3" for part in found.parts
        )


def test_a_toggle_that_ends_the_travel_is_confirmed() -> None:
    rig = linkage.read(DEMO / "flat_six.toml")
    from linkage.parts import PlateAngle

    shafts = {n: dataclasses.replace(s, plate_angle=PlateAngle(0.0, 0.0, 120.0)) for n, s in rig.shaft.items()}
    of = check(dataclasses.replace(rig, shaft=shafts, stop={}))
    found = explain(of, "opening_stop")
    follow(found)
    comes_out(of, found)
    near = next(step for step in found.steps if step.symbol == "z")
    scale = next(float(step.value) for step in found.steps if step.symbol == "q")
    assert abs(float(near.value)) < 1e-6 * scale


def test_there_is_a_working_for_every_check_that_the_answers_can_make() -> None:
    """The names of checks as the answers' own sources write them."""
    made: set[str] = set()
    for module in (verdict, forces, faults, tolerance, heat, clearance, lost_motion, flow, rocking, twist):
        made |= _names(Path(str(module.__file__)).read_text(encoding="utf-8"))
    for name in ("link_forces.py", "spring_checks.py"):
        made |= _names((Path(str(verdict.__file__)).parent / name).read_text(encoding="utf-8"))
    assert made >= {"mismatch_at_idle", "gap", "spring_lost", "closing_stop"}
    assert made - set(EXPLAINED) == set()


def _names(source: str) -> set[str]:
    found = set(re.findall(r'Check\(\s*"([a-z_]+)"', source))
    found |= set(re.findall(r'"(mismatch[a-z_]*|[a-z]+_lost|[a-z]+_parted|heat_[a-z_]+|twist_[a-z]+_[a-z]+)"', source))
    found |= {f"{side}_stop" for side in ("closing", "opening")} if 'f"{side}_stop"' in source else set()
    return found


def test_numbers_put_in_are_the_design_s() -> None:
    found = explain(answer("flat_six"), "mismatch_at_wide_open")
    given = {(part.symbol, part.value) for part in found.parts if isinstance(part, Given)}
    assert {("r1", "45"), ("a1", "65"), ("r2", "35"), ("a2", "72"), ("o1y", "60"), ("p0", "9.5")} <= given


def test_an_inch_design_is_worked_in_inches() -> None:
    found = explain(answer("v8_inches"), "cable_travel")
    units = {part.unit for part in found.parts if isinstance(part, (Given, Step))}
    assert "in" in units
    assert "mm" not in units
    springs = explain(answer("v8_inches"), "return_force")
    assert springs.steps[-1].unit == "lbf·in"


def test_what_the_check_says_and_its_limit_stand_below_the_sums() -> None:
    of = answer("flat_six")
    said = " ".join(text(sheet(of, [explain(of, "transmission_angle")])).split())
    assert "After: R. S. Hartenberg and J. Denavit" in said
    assert "The check says 48.53 deg; it must be at least 30.00: pass." in said
    said = " ".join(text(sheet(of, [explain(of, "pull_direction")])).split())
    assert "Verdict: pass." in said


def test_a_name_may_be_said_with_spaces() -> None:
    of = answer("flat_six")
    assert explain(of, "Mismatch at idle").check.name == "mismatch_at_idle"


def test_a_check_that_is_not_there_names_the_nearest() -> None:
    with pytest.raises(PathError) as caught:
        explain(answer("flat_six"), "mismach")
    assert 'did you mean "mismatch"' in str(caught.value)
    with pytest.raises(PathError, match="heat_at_idle"):
        explain(answer("crossed_pair"), "heat_at_idle")
    try:
        explain(answer("crossed_pair"), "heat_at_idle")
    except PathError as error:
        assert "lacks what it needs" in str(error)


def test_the_command_lists_explains_and_writes(tmp_path: Path) -> None:
    file = str(DEMO / "crossed_pair.toml")
    listed = CliRunner().invoke(throttle_linkage, ["explain", file])
    assert listed.exit_code == 0
    assert listed.stdout.split() == [one.name for one in answer("crossed_pair").checks]
    told = CliRunner().invoke(throttle_linkage, ["explain", file, "mismatch", "gap"])
    assert told.exit_code == 0
    assert "MISMATCH\n" in told.stdout
    assert "GAP\n" in told.stdout
    out = str(tmp_path / "sums.pdf")
    assert CliRunner().invoke(throttle_linkage, ["explain", file, "mismatch", "--out", out]).exit_code == 0
    words = " ".join(text_of(page) for page in opened(Path(out).read_bytes()).pages)
    assert "The check says 5.448 deg" in words
    assert CliRunner().invoke(throttle_linkage, ["explain", file, "mismatch", "--out", out]).exit_code == 2
    wrong = CliRunner().invoke(throttle_linkage, ["explain", file, "mismatsch"])
    assert (wrong.exit_code, wrong.stdout) == (2, "")
    assert 'did you mean "mismatch"' in wrong.stderr


def test_pages_hold_every_line() -> None:
    of = answer("skew_bell_crank")
    made = sheet(of, [explain(of, "mismatch")])
    pages = sheet_pages.pages(made)
    from plot_words import outside, overlaps

    assert all(outside(page) == [] and overlaps(page) == [] for page in pages)


def test_limits_of_one_s_own_are_told() -> None:
    rig = dataclasses.replace(answer("crossed_pair").run.rig, limits=Limits(mismatch=6.0))
    of = check(rig)
    assert "at most 6.00" in " ".join(text(sheet(of, [explain(of, "mismatch")])).split())
