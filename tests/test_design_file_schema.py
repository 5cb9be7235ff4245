"""Keys read off the parts, and the JSON Schema made from them."""

import json
import re
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from linkage.design_file import json_schema, starter
from linkage.design_file.schema import KEYS
from linkage.parts import FORMS, Linkage
from linkage.quantities import UNITS

DATA = Path(__file__).parent / "data"
VALID = {name: (DATA / f"{name}.toml").read_text("utf-8") for name in ("every_key", "quadrant_in", "drive")}
VALID["profile"] = (DATA / "profile.toml").read_text("utf-8")
VALID["staged"] = (DATA / "staged.toml").read_text("utf-8")
VALID["slide"] = (DATA / "slide.toml").read_text("utf-8")
VALID |= {f"starter {units}": starter(units) for units in ("mm", "in")}

validator = jsonschema.Draft202012Validator(json_schema())


def test_the_schema_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(json_schema())


def test_the_shipped_schema_is_up_to_date() -> None:
    shipped = files("linkage.design_file").joinpath("design.schema.json").read_text("utf-8")
    assert shipped == json.dumps(json_schema(), indent=1, ensure_ascii=False) + "\n", (
        "write json.dumps(json_schema(), indent=1, ensure_ascii=False) and a newline to design.schema.json"
    )


def test_every_key_is_explained() -> None:
    unexplained = [f"{part.__name__}.{key.name}" for part in KEYS for key in KEYS[part].values() if not key.says]
    assert unexplained == []


def test_every_key_stands_in_a_sample() -> None:
    """The sample files together use every key of every table, so every key is read by a test."""
    used: set[tuple[type, str]] = set()

    def walk(part: type, table: dict[str, Any]) -> None:
        for name, value in table.items():
            used.add((part, name))
            of = KEYS[part][name].of if name in KEYS[part] else None
            if of is not None and KEYS[part][name].shape == "rows":
                used.update((of, column) for column in KEYS[of])
            elif of is not None:
                rows = value.values() if KEYS[part][name].shape == "tables" else [value]
                for row in rows:
                    walk(of, row)

    for text in VALID.values():
        walk(Linkage, tomllib.loads(text))
    assert {(part, name) for part, keys in KEYS.items() for name in keys} - used == set()


def test_forms_name_keys_that_there_are() -> None:
    for part, forms in FORMS.items():
        for form in forms:
            assert {*form.needs, *form.may} <= set(KEYS[part])


@pytest.mark.parametrize("name", VALID)
def test_valid_files_pass_the_schema(name: str) -> None:
    validator.validate(tomllib.loads(VALID[name]))


def test_the_starter_with_everything_taken_in_passes_the_schema() -> None:
    validator.validate(tomllib.loads(re.sub(r"(?m)^#(?=[^ \n])", "", starter("in"))))


WRONG = {
    "unknown key": ("bore = 42.0\n", "bores = 42.0\n"),
    "format": ("format = 1", "format = 2"),
    "no shaft needed key": ('opens = "ccw"\n', ""),
    "word": ('opens = "ccw"', 'opens = "left"'),
    "bool for a number": ("bore = 42.0", "bore = true"),
    "bare number in quotes": ("bore = 42.0", 'bore = "42"'),
    "unit of another kind": ("bore = 42.0", 'bore = "42 deg"'),
    "negative size": ("bore = 42.0", "bore = -42.0"),
    "angle out of range": ("shut = 8.0", "shut = 80.0"),
    "half an arm": ("radius = 32.0\n", ""),
    "arm given twice": ("radius = 32.0\n", "radius = 32.0\npin = [1, 2]\n"),
    "one coordinate": ("pivot = [-95.0, 0.0]", "pivot = [-95.0]"),
    "fractional plates": ("plates = 2", "plates = 2.5"),
    "cable given twice": ('pulls = "centre.cable"', 'pulls = "centre.cable"\nquadrant = "centre"'),
    "cable and drive": ("[cable]", '[drive]\nturns = "centre"\n[cable]'),
    "one end": ('joins = ["centre.left", "left.lever"]', 'joins = ["centre.left"]'),
    "axis": ('axis = "z"', "axis = [0, 1]"),
    "name with a space": ("[stop.crank]", '[stop."the crank"]'),
    "springs mixed": ('on = "left"\npreload', 'on = "left"\nfree_length = 3\npreload'),
    "number with a unit": ("ratio = 3.0", 'ratio = "3 mm"'),
}


@pytest.mark.parametrize("fault", WRONG)
def test_wrong_files_fail_the_schema(fault: str) -> None:
    right, wrong = WRONG[fault]
    assert VALID["every_key"].count(right) >= 1
    with pytest.raises(jsonschema.ValidationError):
        validator.validate(tomllib.loads(VALID["every_key"].replace(right, wrong, 1)))


@pytest.mark.parametrize("kind", UNITS)
def test_the_schema_takes_every_unit(kind: str) -> None:
    pattern = re.compile(json_schema()["$defs"][kind]["pattern"])
    for unit in UNITS[kind]:  # type: ignore[index]
        assert pattern.search(f"1 1/2 {unit}"), unit
        assert pattern.search(f"-1.5e3 {unit.replace('·', ' ')}"), unit
    assert not pattern.search("34")
    assert not pattern.search("1.5 parsec")
