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
    # axes of a coupling
    ('joins = ["left", "rear"]', 'joins = ["left", "right"]', 'coupling "rear", joins',
     'ties "left" and "right" one to one, but their axes stand 190 mm apart; a coupling ties shafts on one axis: '
     "mend a pivot; a pair of meshing sectors has a negative ratio"),
    ("pivot = [-95.0, 0.0, -180.0]", "pivot = [-95.0, 0.6, -180.0]", 'coupling "rear", joins',
     "axes stand 0.6 mm apart"),
    # heat
    ("links = 12e-6\narms = 12e-6\nlinks_rise = 55.0", "links = -0.001\nlinks_rise = 1000", "heat, links",
     "-0.001 per kelvin makes it 100 % shorter at a rise of 1000 K; metals have from 5e-6 to 30e-6"),
    ("rise = 75.0\nengine = 23e-6", "rise = 700\nengine = 9e-4", "heat, engine", "63 % longer at a rise of 700 K"),
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
    ('joins = ["left", "rear"]\nratio = 1.0', 'joins = ["left", "right"]\nratio = -1.0', 'coupling "rear", joins',
     "closes a loop"),
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


def test_a_casing_end_on_the_axis_of_its_driver_is_refused() -> None:
    with pytest.raises(DesignError, match="cable, casing_end: stands on the axis of the member that it pulls"):
        parse(SOUND.replace("casing_end = [57.0, 200.0]", "casing_end = [0.0, 80.0]"))


@pytest.mark.parametrize(("place", "sound"), [("[1, 4]", False), ("[1.24, 4]", False), ("[0, 2.74]", True)])
def test_a_casing_end_inside_the_quadrant_is_refused(place: str, sound: bool) -> None:
    text = QUADRANT.replace("casing_end = [4, 6]", f"casing_end = {place}")
    if sound:
        assert parse(text).cable is not None
        return
    with pytest.raises(DesignError, match=r"casing_end: lies inside the quadrant, .* its radius is 31.75 mm; move the"):
        parse(text)


@pytest.mark.parametrize(
    ("ratio", "y", "says"),
    [("1.0", "0.4", ""), ("-1.0", "40.0", ""), ("1.5", "40.0", ""), ("1.0", "0.51", "0.51 mm apart")],
)
def test_only_a_coupling_one_to_one_wants_one_axis(ratio: str, y: str, says: str) -> None:
    """Meshing sectors and a chain of another ratio tie axes that stand apart."""
    text = SOUND.replace("pivot = [-95.0, 0.0, -180.0]", f"pivot = [-95.0, {y}, -180.0]")
    text = text.replace("ratio = 1.0\noffset", f"ratio = {ratio}\noffset")
    if not says:
        assert parse(text).coupling["rear"].ratio == float(ratio)
        return
    with pytest.raises(DesignError, match=says):
        parse(text)


def test_an_unknown_quadrant_is_refused() -> None:
    with pytest.raises(
        DesignError, match='cable, quadrant: no shaft, bell crank or slide called "dram"; did you mean "drum"'
    ):
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


RELAY = "[bellcrank.relay]\npivot = [0, 300]\n[bellcrank.relay.arm.to]\nradius = 30\nangle = 60\n"
STAGED = SOUND.replace("[bellcrank.pedal]", f"{RELAY}[bellcrank.pedal]").replace(
    "[coupling.rear]", '[link.stage]\njoins = ["centre.left", "relay.to"]\nslot = 6.0\n[coupling.rear]'
)


@pytest.mark.parametrize(
    ("right", "wrong", "place", "says"),
    [
        ("slot = 6.0", "slot = 0", 'link "stage", slot', "must be from 0.001"),
        ("slot = 6.0", "slot = -6.0", 'link "stage", slot', "must be from 0.001"),
        ("ratio = 1.0", "gap = -1.0", 'coupling "rear", gap', "must be from 0 to 180"),
        ("slot = 6.0", "slot = 6.0", 'link "stage", slot', 'leaves "relay" free until it is taken up'),
        ("slot = 6.0", "slto = 6.0", 'link "stage", slto', 'did you mean "slot"?'),
    ],
)
def test_what_is_wrong_with_a_slot(right: str, wrong: str, place: str, says: str) -> None:
    assert right in STAGED
    with pytest.raises(DesignError) as error:
        parse(STAGED.replace(right, wrong, 1))
    found = [f"{fault.says}; {fault.mend}" for fault in error.value.faults if fault.place == place]
    assert len(found) == 1
    assert says in found[0]


def test_a_stop_of_its_own_lets_a_crank_rest() -> None:
    stop = '[stop.relay]\non = "relay"\nlimits = "closing"\nturn = 0\n[coupling.rear]'
    assert parse(STAGED.replace("[coupling.rear]", stop)).link["stage"].slot == 6.0
