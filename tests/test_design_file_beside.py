"""Faults of the tables [pedal] and [follower.NAME], each with its place and its mend; forms, paths, writing back."""

from __future__ import annotations

from pathlib import Path

import pytest

from linkage.design_file import parse, to_text
from linkage.errors import DesignError, PathError
from linkage.parts import dimensions

DEMO = Path(__file__).parents[1] / "demo"
CRANK = (DEMO / "pedal_box.toml").read_text("utf-8")
RODS = (DEMO / "push_rod.toml").read_text("utf-8")

FAULTS = [
    # text, what to replace, by what, the place, what is said
    (CRANK, "[pedal.arm.cable]", "[pedal.arm.cabel]", 'pedal, arm "cabel"',
     'is no arm of a pedal; did you mean "cable"?'),
    (CRANK, "[pedal.arm.cable]", "[pedal.arm.cabel]", 'pedal, arm "cable"',
     "is missing; add [pedal.arm.cable], the arm"),
    (CRANK, 'opens = "ccw"                     # the foot', "# the foot", "pedal, opens", "pivot needs it beside it"),
    (CRANK, "stop = 29.1 ", "stop = 29.1\nratio = 2.0\n#", "pedal, ratio", "does not go with pivot"),
    (CRANK, "stop = 29.1 ", 'stop = 29.1\npad = "front.pump"\n#', "pedal, pad", "does not go with pivot"),
    (CRANK, "casing_end = [170.0, 330.0]", "casing_end = [68.5893577751, 318.5893577751]", "pedal, casing_end",
     "stands on the pin that it pulls"),
    (CRANK, "stop = 29.1 ", "stop = 0.0 ", "pedal, stop", "must be from 0.01 to 180"),
    (RODS, 'pad = "pedal.pad"', 'pad = "pedal.pda"', "pedal, pad",
     'no arm called "pedal.pda"; did you mean "pedal.pad"?'),
    (RODS, 'pad = "pedal.pad"', 'pad = "relay.rod"', "pedal, pad", 'is on "relay", and [drive] says that "pedal"'),
    (RODS, 'pad = "pedal.pad"', 'pad = "pedal.pad"\ntravel = 90', "pedal, travel", "does not go with pad"),
    (RODS, 'pad = "pedal.pad"  ', "#", "pedal, stop", "give pivot, opens and casing_end, or pad, or ratio"),
    (CRANK, 'pin = "pump.rod"', 'pin = "pump"', 'follower "pump", pin', '"pump" is a member, not an arm'),
    (CRANK, 'pin = "pump.rod"', 'pin = "pump.rod"\non = "pump"', 'follower "pump", pin', "does not go with on"),
    (CRANK, 'on = "rear"   ', 'on = "raer"   ', 'follower "sensor", on', 'did you mean "rear"?'),
    (CRANK, "on = \"rear\"                       # degrees", "# degrees", 'follower "sensor"', "give on, or pin"),
    (CRANK, "least_stroke = 9.0", "least_stroke = 29.0", 'follower "pump", least_stroke',
     "is more than most_stroke, 20"),
    (CRANK, "starts_by = 0.2 ", "starts_by = 1.2 ", 'follower "pump", starts_by', "must be from 0 to 1, got 1.2"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "right", "wrong", "place", "says"), FAULTS)
def test_a_fault_is_told_with_its_place_and_mend(text: str, right: str, wrong: str, place: str, says: str) -> None:
    assert right in text
    with pytest.raises(DesignError) as error:
        parse(text.replace(right, wrong, 1))
    told = [str(fault) for fault in error.value.faults if fault.place == place]
    assert any(says in line for line in told), [str(fault) for fault in error.value.faults]


def test_a_pedal_that_pulls_nothing() -> None:
    cut = RODS.replace('pad = "pedal.pad"', 'pivot = [0, 0]\nopens = "cw"\ncasing_end = [100, 50]')
    with pytest.raises(DesignError, match="pulls a cable, and this design has none; name the pin"):
        parse(cut + "[pedal.arm.pad]\nradius = 200\nangle = 270\n[pedal.arm.cable]\nradius = 80\nangle = 90\n")


def test_a_pad_does_not_go_with_a_cable() -> None:
    start = CRANK.index("[pedal]")
    text = CRANK[:start] + '[pedal]\npad = "front.pump"\n' + CRANK[CRANK.index("# ---- springs") :]
    with pytest.raises(DesignError, match="drives by links, and here a cable does"):
        parse(text)


def test_a_follower_on_a_slide_names_its_pin() -> None:
    text = RODS + "[slide.rack]\norigin = [0, 0]\nalong = [1, 0]\n[slide.rack.pin.rod]\nat = [-100, -150]\n"
    text += '[link.rack]\njoins = ["relay.rod", "rack.rod"]\n[follower.rack]\non = "rack"\n'
    with pytest.raises(DesignError, match='"rack" is a slide, which does not turn; name one of its pins'):
        parse(text)


def test_pedal_and_follower_dimensions_have_their_paths() -> None:
    rig = parse(CRANK)
    known = dimensions(rig)
    assert known["pedal.arm.cable.angle"] == 45.0
    assert known["pedal.casing_end.y"] == 330.0
    assert known["follower.pump.least_stroke"] == 9.0
    assert "pedal.ratio" not in known
    changed = rig.replace("pedal.arm.cable.angle", 50.0).replace("follower.sensor.most_stroke", "90 deg")
    assert changed.pedal is not None
    assert (changed.pedal.arm["cable"].angle, changed.follower["sensor"].most_stroke) == (50.0, 90.0)
    with pytest.raises(DesignError, match='"pivot"'):
        rig.replace("pedal.ratio", 2.0)
    with pytest.raises(PathError):
        rig.replace("pedal.arm.foot.radius", 2.0)
    with pytest.raises(DesignError, match='"ratio"'):
        parse((DEMO / "flat_six.toml").read_text("utf-8")).replace("pedal.stop", 20.0)


def test_writing_back_keeps_the_comments() -> None:
    rig = parse(CRANK)
    text = to_text(rig.replace("pedal.arm.cable.angle", 50.0).replace("pedal.casing_end.x", 165.0))
    assert "angle = 50.0                      # leans towards the casing" in text
    assert "casing_end = [165.0, 330.0]       # where the casing is let" in text
    assert len(text.splitlines()) == len(CRANK.splitlines())
    for given in (CRANK, RODS):
        assert to_text(parse(given)) == given


def test_another_kind_of_pedal_is_written_fresh_and_reads_back() -> None:
    import dataclasses

    from linkage.parts import Pedal

    rig = parse(CRANK)
    by_ratio = dataclasses.replace(rig, pedal=Pedal(2.4, 120.0))
    again = parse(to_text(by_ratio))
    assert again.pedal == Pedal(2.4, 120.0)
    assert dataclasses.replace(again, source=None, title="") == dataclasses.replace(by_ratio, source=None, title="")
    rods = parse(RODS)
    assert parse(to_text(dataclasses.replace(rods, pedal=Pedal(3.0)))).pedal == Pedal(3.0)
    assert parse(to_text(dataclasses.replace(rods, source=None))).pedal == rods.pedal


def test_inches_and_units_of_their_own() -> None:
    text = CRANK.replace('units = "mm"', 'units = "in"').replace("least_stroke = 70.0", 'least_stroke = "70 deg"')
    rig = parse(text)
    assert rig.follower["pump"].least_stroke == pytest.approx(9.0 * 25.4)
    assert rig.follower["sensor"].least_stroke == 70.0
    assert rig.pedal is not None
    assert rig.pedal.casing_end == pytest.approx((170.0 * 25.4, 330.0 * 25.4, 0.0))
    assert rig.pedal.stop == 29.1


def test_the_tables_that_the_readme_shows_go_with_the_starter() -> None:
    import re

    from linkage.design_file import starter

    readme = (DEMO.parent / "README.md").read_text("utf-8")
    (block,) = [sample for sample in re.findall(r"```toml\n(.*?)```", readme, re.DOTALL) if "[pedal]" in sample]
    rig = parse(starter() + block)
    assert rig.pedal is not None
    assert (rig.pedal.stop, rig.follower["sensor"].on) == (29.1, "left")
