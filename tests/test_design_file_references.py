"""What refers to what: every rule between the values of a file, one fault at a time and all at once."""

from pathlib import Path

import pytest

from linkage.design_file import parse, read
from linkage.errors import DesignError

SOUND = (Path(__file__).parent / "data" / "every_key.toml").read_text("utf-8")
QUADRANT = (Path(__file__).parent / "data" / "quadrant_in.toml").read_text("utf-8")
LEFT = 'joins = ["centre.left", "left.lever"]'

FAULTS = [
    # what to replace, by what, the place, what is said
    (LEFT, 'joins = ["centre.left", "lfet.lever"]', 'link "left", joins',
     'no arm called "lfet.lever"; did you mean "left.lever"?'),
    (LEFT, 'joins = ["centre.lift", "left.lever"]', 'link "left", joins',
     'no arm called "centre.lift"; did you mean "centre.left"?'),
    (LEFT, 'joins = ["centre.q", "left.lever"]', 'link "left", joins',
     'arms here: "centre.left", "centre.right", "centre.cable", "centre.spring"'),
    (LEFT, 'joins = ["centre.left", "qqqq.lever"]', 'link "left", joins',
     'arms here: "centre.left", "centre.right", "centre.cable", "centre.spring", "pedal.rod", "left.lever" ...'),
    (LEFT, 'joins = ["centre.left", "left"]', 'link "left", joins',
     '"left" is a member, not an arm; name one of its arms: "left.lever"'),
    (LEFT, 'joins = ["centre.left", "rear"]', 'link "left", joins',
     '"rear" is a member, not an arm; give it an arm'),
    (LEFT, 'joins = ["centre.left", "rear.lever"]', 'link "left", joins', 'no arm called "rear.lever"'),
    (LEFT, 'joins = ["centre.left", "centre.left"]', 'link "left", joins', 'both ends are on "centre.left"'),
    (LEFT, 'joins = ["centre.left", "centre.right"]', 'link "left", joins', 'both ends are on "centre"; '),
    ('joins = ["left", "rear"]', 'joins = ["left", "raer"]', 'coupling "rear", joins',
     'no shaft, bell crank or slide called "raer"; did you mean "rear"?'),
    ('joins = ["left", "rear"]', 'joins = ["left", "qqq"]', 'coupling "rear", joins',
     'members here: "centre", "pedal", "left", "right", "rear"'),
    ('joins = ["left", "rear"]', 'joins = ["left.lever", "rear"]', 'coupling "rear", joins',
     'name the member alone: "left"'),
    ('joins = ["left", "rear"]', 'joins = ["left", "left"]', 'coupling "rear", joins', 'both ends are on "left"'),
    ("ratio = 1.0", "ratio = 0", 'coupling "rear", ratio', "must not be 0"),
    ('pulls = "centre.cable"', 'pulls = "centre.cabel"', "cable, pulls", 'did you mean "centre.cable"?'),
    ('pulls = "centre.spring"', 'pulls = "spring"', 'spring "overall", pulls', 'no arm called "spring"'),
    ('on = "left"', 'on = "lefty"', 'spring "left", on', 'did you mean "left"?'),
    ('on = "right"', 'on = "rigth"', 'stop "shaft", on', 'did you mean "right"?'),
    ("[bellcrank.pedal]", '[bellcrank.left]\npivot = [3, 4]\n[bellcrank.pedal]', 'bellcrank "left"',
     "is the name of a shaft too"),
    ("shut = 8.0, idle = 10.0", "shut = 8.0, idle = 7.5", 'shaft "left", plate_angle, idle',
     "idle 7.5 deg is less than shut 8 deg"),
    ("wide_open = 89.0", "wide_open = 10", 'shaft "left", plate_angle, wide_open',
     "wide_open 10 deg is not more than idle 10 deg"),
    ("bore = 42.0", "bore = 8.0", 'shaft "left", shaft_diameter', "8 mm is not less than the bore, 8 mm"),
    # arms and axes
    ('axis = "z"', 'axis = "y"', 'shaft "left", arm "lever", radius', "does not go with an axis other than z"),
    ('axis = "z"', "axis = [1e-6, 0, 1]", 'shaft "left", arm "lever", radius', "give pin = [x, y, z]"),
    ("pin = [-20.0, 60.0, 310.0]", "pin = [-20.0, 60.0]", 'bellcrank "pedal", arm "rod", pin',
     "needs z too, the axis is not z"),
    ("pin = [-20.0, 60.0, 310.0]", "pin = [-20.0, 0.0, 300.0005]", 'bellcrank "pedal", arm "rod", pin',
     "stands on the member's axis"),
    ("pin = [-11.0, 17.5, 12.0]", "pin = [0, 80, 12.0]", 'bellcrank "centre", arm "right", pin',
     "stands on the member's axis"),
    ("pin = [76.2, 25.9]", "pin = [76.2, 25.9, 3]", 'shaft "right", arm "lever", station', "is in the pin's z already"),
    # places that are one
    (LEFT + "\nlength = 158.0", 'joins = ["centre.left", "other.lever"]', 'link "left", joins',
     "the two pins stand on the same place"),
    ("anchor = [-90.0, 120.0]", 'anchor = [-28.1907786, 69.7393957]', 'spring "overall", anchor',
     "stands on the pin that it pulls"),
    # the driver
    ("[cable]", '[drive]\nturns = "centre"\n[cable]', "drive", "does not go with [cable]"),
    # stops
    ('on = "right"', 'on = "centre"', 'stop "shaft", plate_angle', 'does not go with a bell crank, which "centre" is'),
    ('on = "centre"', 'on = "left"', 'stop "crank", turn', 'which "left" is; write plate_angle instead'),
    # the train
    ('joins = ["left", "rear"]', 'joins = ["left", "right"]', 'coupling "rear", joins', "closes a loop"),
    ("[coupling.rear]\njoins = [\"left\", \"rear\"]\nratio = 1.0\noffset = 0.25\n", "", 'shaft "rear"', "is loose"),
]  # fmt: skip

# a member with an arm whose pin is just where the left arm of the bell crank ends
OTHER = """
[bellcrank.other]
pivot = [40.0, 200.0]
arm.lever = { pin = [-4.02986840, 156.89447629, 12.0] }
[coupling.other]
joins = ["left", "other"]
"""


@pytest.mark.parametrize(("right", "wrong", "place", "says"), FAULTS)
def test_a_single_fault_is_told_with_its_place_and_mend(right: str, wrong: str, place: str, says: str) -> None:
    assert right in SOUND
    text = SOUND.replace(right, wrong, 1) + (OTHER if "other." in wrong else "")
    with pytest.raises(DesignError) as error:
        parse(text)
    told = {fault.place: str(fault) for fault in error.value.faults}
    assert says in told[place]
    assert len(told) == 1 or "centre.left" in wrong or "joins" in wrong, told


def test_the_line_is_that_of_the_element() -> None:
    with pytest.raises(DesignError) as error:
        parse(SOUND.replace('  "right.lever",', '  "right.leaver",'))
    (fault,) = error.value.faults
    assert SOUND.splitlines()[(fault.line or 0) - 1] == '  "right.lever",'


def test_members_on_one_axis_want_a_coupling() -> None:
    text = SOUND.replace(
        'opens = "ccw"\nplate_angle = { shut = 7.0',
        'opens = "ccw"\narm.a = { radius = 3, angle = 4 }\nplate_angle = { shut = 7.0',
    )
    with pytest.raises(DesignError, match=r'"left" and "rear" turn about the same axis.*use a \[coupling.NAME\]'):
        parse(text + '[link.no]\njoins = ["left.lever", "rear.a"]\n')


def test_a_casing_end_on_the_pin_is_refused() -> None:
    text = SOUND.replace('radius = "2 3/8 in"\nangle = -18.0', "pin = [57.0, 60.0]")
    with pytest.raises(DesignError, match="cable, casing_end: stands on the pin that it pulls"):
        parse(text.replace("casing_end = [57.0, 200.0]", "casing_end = [57.0, 60.0]"))


def test_an_unknown_quadrant_is_refused() -> None:
    with pytest.raises(DesignError, match='cable, quadrant: no shaft, bell crank or slide called "dram"; did you mean "drum"'):
        parse(QUADRANT.replace('quadrant = "drum"', 'quadrant = "dram"'))


def test_a_file_without_driver_or_shaft_says_what_to_add() -> None:
    with pytest.raises(DesignError) as error:
        parse("format = 1\n")
    told = str(error.value)
    assert "there is no throttle shaft; add a table [shaft.NAME]" in told
    assert 'add [cable] with pulls = "member.arm", or [drive] with turns = "member"' in told


def test_a_fault_is_not_told_twice() -> None:
    """Where a table cannot be used, what refers into it is left alone."""
    with pytest.raises(DesignError) as error:
        parse(
            SOUND.replace("[bellcrank.centre]", "[bellcrank]\ncentre = 3\n[bellcranck.centre]").replace(
                "[bellcrank.centre.", "[bellcranck.centre."
            )
        )
    assert [fault.place for fault in error.value.faults] == ['bellcrank "centre"', "bellcranck"]


def test_five_faults_of_five_sorts_are_all_told_in_line_order(tmp_path: Path) -> None:
    wrong = {
        'opens = "ccw"\nbore': 'opns = "ccw"\nbore',
        "bore = 42.0": 'bore = "42,0 mm"',
        "idle = 10.0, wide_open = 88.5": "idle = 6.0, wide_open = 88.5",
        '  "right.lever",': '  "rihgt.lever",',
        "free_length = 45.0\n": "",
    }
    text = SOUND
    for right, bad in wrong.items():
        assert right in text
        text = text.replace(right, bad, 1)
    file = tmp_path / "five.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(DesignError) as error:
        read(file)
    lines = text.splitlines()
    told = [(fault.place, lines[(fault.line or 0) - 1]) for fault in error.value.faults]
    assert told == [
        ('shaft "left", opns', 'opns = "ccw"'),
        ('shaft "left", bore', 'bore = "42,0 mm"'),
        ('shaft "rear", plate_angle, idle', "plate_angle = { shut = 7.0, idle = 6.0, wide_open = 88.5 }"),
        ('link "right", joins', '  "rihgt.lever",'),
        ('spring "overall", free_length', "[spring.overall]"),
    ]
    assert (
        str(error.value)
        .splitlines()[3]
        .startswith(
            f'{file}:{lines.index(chr(32) * 2 + chr(34) + "rihgt.lever" + chr(34) + ",") + 1}: link "right", joins: '
        )
    )
