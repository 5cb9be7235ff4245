"""The first pass: keys, shapes and values, one fault at a time, in a file that is sound otherwise."""

from pathlib import Path

import pytest

from linkage.design_file import parse
from linkage.errors import DesignError

SOUND = (Path(__file__).parent / "data" / "every_key.toml").read_text("utf-8")
BIG = "9" * 400

FAULTS = [
    # what to replace, by what, the place, a piece of what is said
    ("format = 1", "", "format", "is missing; add format = 1"),
    ("format = 1", "format = 0", "format", "must be 1, got 0"),
    ("format = 1", "format = 2", "format", "a newer one may read this file"),
    ("format = 1", f"format = {BIG}", "format", "far too large"),
    ("format = 1", "format = true", "format", "must be 1, got true"),
    ("format = 1", "format = 1.0", "format", "must be 1, got 1.0"),
    ('units = "mm"', 'units = "cm"', "units", 'must be "mm" or "in", got "cm"'),
    ('units = "mm"', "units = 1", "units", 'must be "mm" or "in", got 1'),
    ('customer = "nobody', 'customr = "nobody', "customr", 'not a known key; did you mean "customer"?'),
    ("[play]", "[shafts]\n[play]", "shafts", 'did you mean "shaft"?'),
    ("bore = 42.0", "xyzzy = 42.0", 'shaft "left", xyzzy', "not a known key; known here: pivot, axis"),
    ("bore = 42.0", "boer = 42.0", 'shaft "left", boer', 'did you mean "bore"?'),
    ("bore = 42.0", "bore = true", 'shaft "left", bore', "must be a number, or a text with a unit, got true"),
    ("bore = 42.0", "bore = [42.0]", 'shaft "left", bore', "got a list"),
    ("bore = 42.0", "bore = 1979-05-27", 'shaft "left", bore', "got 1979-05-27"),
    ("bore = 42.0", "bore = nan", 'shaft "left", bore', "must be a finite number, got nan"),
    ("bore = 42.0", "bore = -inf", 'shaft "left", bore', "must be a finite number, got -inf"),
    ("bore = 42.0", "bore = 0", 'shaft "left", bore', "must be from 0.001 to 100000 mm, got 0"),
    ("bore = 42.0", "bore = 1e300", 'shaft "left", bore', "must be from 0.001 to 100000 mm, got 1e+300"),
    ("bore = 42.0", f"bore = {BIG}", 'shaft "left", bore', "must be a finite number"),
    ("bore = 42.0", 'bore = "42"', 'shaft "left", bore', 'write 42 (no quotes) or "42 mm"'),
    ("bore = 42.0", 'bore = "42,5 mm"', 'shaft "left", bore', 'comma in the number "42,5"; write 42.5'),
    ("bore = 42.0", 'bore = "42 deg"', 'shaft "left", bore', "must be a length"),
    ("plates = 2", "plates = 2.0", 'shaft "left", plates', "must be a whole number from 1 to 24, got 2.0"),
    ("plates = 2", "plates = 0", 'shaft "left", plates', "must be a whole number from 1 to 24, got 0"),
    ("plates = 2", "plates = true", 'shaft "left", plates', "got true"),
    ('opens = "ccw"', 'opens = "CCW"', 'shaft "left", opens', 'got "CCW"; did you mean "ccw"?'),
    ('opens = "ccw"\n', "", 'shaft "left", opens', "is missing; add it: which way the shaft turns"),
    ("pivot = [-95.0, 0.0]\n", "", 'shaft "left", pivot', "is missing"),
    ("pivot = [-95.0, 0.0]", "pivot = [-95.0]", 'shaft "left", pivot', "[x, y, z], got a list of 1"),
    ("pivot = [-95.0, 0.0]", "pivot = 3", 'shaft "left", pivot', "must be [x, y] or [x, y, z], got 3"),
    ("pivot = [-95.0, 0.0]", 'pivot = [-95.0, "0"]', 'shaft "left", pivot', 'y is a number in quotes'),
    ("pivot = [-95.0, 0.0]", "pivot = [-95.0, false]", 'shaft "left", pivot', "y must be a number"),
    ("shut = 8.0", "shut = 61", 'shaft "left", plate_angle, shut', "must be from 0 to 60 deg, got 61"),
    ("shut = 8.0, ", "", 'shaft "left", plate_angle, shut', "is missing"),
    ("plate_angle = { shut = 8.0, idle = 10.0, wide_open = 89.0 }", "plate_angle = 8", 'shaft "left", plate_angle',
     "must be a table, got 8; its keys: shut, idle, wide_open"),
    ('axis = "z"', 'axis = "w"', 'shaft "left", axis', 'must be "x", "y", "z" or [ax, ay, az], got "w"'),
    ('axis = "z"', "axis = [0, 1]", 'shaft "left", axis', "got a list"),
    ('axis = "z"', "axis = [0, 0, 0.0]", 'shaft "left", axis', "has no direction"),
    ('axis = "z"', "axis = [0, 0, inf]", 'shaft "left", axis', "not a usable direction"),
    ('axis = "z"', f"axis = [0, 0, {BIG}]", 'shaft "left", axis', "not a usable direction"),
    ("casing_axis = [0.0, -1.0]", "casing_axis = [0, 0]", "cable, casing_axis", "has no direction"),
    ("[stop.crank]", "[stop.'the crank']", 'stop "the crank"', '"the crank" is not a usable name'),
    ("[stop.crank]", "[stop.'a.b']", 'stop "a.b"', "not a usable name"),
    ("[stop.crank]", "[stop.'']", 'stop ""', "not a usable name"),
    ("[stop.crank]", f"[stop.{'n' * 61}]", "stop ", "at most 60"),
    ("[stop.crank]", "[[stop.crank]]", 'stop "crank"',
     "must be a table, got a list; write it in single brackets: [stop.crank]"),
    ("[shaft.left.arm.lever]", "[[shaft.left.arm.lever]]", 'shaft "left", arm "lever"',
     "write it in single brackets: [shaft.left.arm.lever]"),
    ("[pedal]\n", "[[pedal]]\n[[pedal]]\n", "pedal",
     "write it in single brackets: [pedal], and give each of them a name of its own"),
    ("[stop.crank]", "[stop]\nn = 1\n[stop.crank]", 'stop "n"', "Name the part: [stop.NAME]"),
    ('joins = ["left", "rear"]', 'joins = ["left"]', 'coupling "rear", joins', "two names, got a list of 1"),
    ('joins = ["left", "rear"]', "joins = [1, 2]", 'coupling "rear", joins', "two names, got 1 and 2"),
    ('seen_from = "the rear of the engine"', "seen_from = 4", "seen_from", "must be text in quotes, got 4"),
    ('seen_from = "the rear of the engine"', 'seen_from = "a\\nb"', "seen_from", "must be one line of text"),
    ('seen_from = "the rear of the engine"', f'seen_from = "{BIG}"', "seen_from", "at most 200 characters"),
    ("ratio = 3.0", 'ratio = "3"', "pedal, ratio", "write 3 (no quotes)"),
    ("ratio = 3.0", "ratio = [3]", "pedal, ratio", "must be a number, got a list"),
    ("rate = 1.5", 'rate = "1.5 N/mm"', 'spring "left", rate', "must be a torsion spring's rate"),
    ('rate = "1.2 N/mm"', 'rate = "1 N mm/deg"', 'spring "overall", rate', "must be a spring rate"),
    # forms
    ("radius = 32.0\n", "", 'shaft "left", arm "lever", radius', "is missing; angle needs it beside it"),
    ("angle = 99.5\n", "", 'shaft "left", arm "lever", angle', "is missing; radius needs it beside it"),
    ("radius = 32.0\nangle = 99.5\nstation = 12.0\n", "", 'shaft "left", arm "lever"',
     "does not say how it is given; give radius and angle, or pin"),
    ("radius = 32.0\n", "radius = 32.0\npin = [1, 2]\n", 'shaft "left", arm "lever", pin', "does not go with radius"),
    ("casing_end = [57.0, 200.0]\n", "", "cable, casing_end", "is missing; pulls needs it beside it"),
    ("travel = 42.0", "radius = 42.0", "cable, radius", "does not go with pulls"),
    ("turn = 38.0\n", "", 'stop "crank"', "does not say how it is given; give turn, or plate_angle"),
    ("turn = 38.0\n", "turn = 38.0\nplate_angle = 3\n", 'stop "crank", plate_angle', "does not go with turn"),
    ("rate = 1.5\n", "", 'spring "left", rate', "is missing; on needs it beside it"),
    ("free_length = 45.0\n", "", 'spring "overall", free_length', "is missing; pulls needs it beside it"),
    ('on = "left"\npreload', 'on = "left"\ninitial_tension = 3\npreload', 'spring "left", initial_tension',
     "does not go with on; give on and rate, or pulls, anchor, free_length and rate"),
]  # fmt: skip


@pytest.mark.parametrize(("right", "wrong", "place", "says"), FAULTS)
def test_a_single_fault_is_told_with_its_place_and_mend(right: str, wrong: str, place: str, says: str) -> None:
    assert right in SOUND
    with pytest.raises(DesignError) as error:
        parse(SOUND.replace(right, wrong, 1))
    assert len(error.value.faults) == 1, str(error.value)
    fault = error.value.faults[0]
    assert fault.place == place or (place.endswith(" ") and fault.place.startswith(place))
    assert says in str(fault)


def test_a_range_is_told_in_the_designs_own_unit_too() -> None:
    with pytest.raises(DesignError, match=r"from 0.001 to 100000 mm, got 127000 \(5000 in\)"):
        parse(SOUND.replace('units = "mm"', 'units = "in"').replace("bore = 42.0", "bore = 5000"))


def test_too_many_parts_are_refused() -> None:
    links = "".join(f'[link.l{i}]\njoins = ["centre.left", "left.lever"]\n' for i in range(201))
    many = SOUND.replace("[link.left]", links + "[link.left]")
    with pytest.raises(DesignError, match="has 204 parts, and 200 are the most") as error:
        parse(many)
    assert error.value.faults[0].place == "link"


def test_numbers_may_be_whole_and_carry_their_own_unit() -> None:
    rig = parse(SOUND.replace("bore = 42.0", "bore = 42").replace("width = 9.0", 'width = "1/2 in"'))
    assert rig.shaft["left"].bore == 42.0
    assert isinstance(rig.shaft["left"].bore, float)
    assert rig.shaft["right"].arm["lever"].width == 12.7
