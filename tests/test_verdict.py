"""The verdict: each limit decides, at its own figure, and the worst check is the verdict."""

import dataclasses

import pytest
import trains

from linkage import solve
from linkage.answers import CAUTION, check
from linkage.parts import Link, Stop


def by_name(rig):
    return {c.name: c for c in check(rig).checks}


@pytest.fixture
def sound():
    """The crossed pair tilted by 12 degrees: every mismatch small, everything reached."""
    return trains.crossed_pair(39.0, -63.0, other_wide_open=90.0)


def test_a_sound_pair_passes_everything(sound):
    answer = check(sound)
    assert answer.verdict == "pass"
    assert {c.verdict for c in answer.checks} == {"pass"}


LIMITS = [
    ("mismatch_at_idle", "mismatch_at_idle", +1),
    ("mismatch_off_idle", "mismatch_off_idle", +1),
    ("mismatch", "mismatch", +1),
    ("mismatch_at_wide_open", "mismatch_at_wide_open", +1),
    ("transmission_angle", "transmission_angle", -1),
    ("toggle_margin", "toggle_margin", -1),
    ("tilt", "tilt", +1),
    ("wide_open_shortfall", "wide_open_shortfall", +1),
]


@pytest.mark.parametrize(("name", "limit", "side"), LIMITS)
def test_a_limit_decides_at_its_own_figure(name, limit, side):
    """Set just kinder than the figure the check passes; just stricter it fails, and so does the verdict."""
    rig = trains.hand_set() if name != "tilt" else trains.cross_tube()
    value = by_name(rig)[name].value
    assert value is not None
    assert value > 1e-3
    kinder = by_name(rig.replace(f"limits.{limit}", value + side * 1e-6))
    stricter = check(rig.replace(f"limits.{limit}", value - side * 1e-6))
    assert kinder[name].verdict in ("pass", "caution")
    assert {c.name: c.verdict for c in stricter.checks}[name] == "fail"
    assert stricter.verdict == "fail"


def test_transmission_has_a_band_of_caution(sound):
    value = by_name(sound)["transmission_angle"].value
    assert by_name(sound.replace("limits.transmission_angle", value - 9.9))["transmission_angle"].verdict == "caution"
    assert by_name(sound.replace("limits.transmission_angle", value - 10.1))["transmission_angle"].verdict == "pass"
    assert check(sound.replace("limits.transmission_angle", value - 9.9)).verdict == "caution"


def test_a_link_may_have_its_own_tilt_limit():
    rig = trains.cross_tube()
    value = by_name(rig)["tilt"].value
    link = by_name(rig)["tilt"].where.split('"')[1]
    assert by_name(rig.replace(f"link.{link}.tilt_limit", value - 0.1))["tilt"].verdict == "fail"


def test_a_shaft_that_turns_the_wrong_way():
    rig = trains.bell_crank().replace("shaft.right.opens", "ccw")
    checks = by_name(rig)
    assert checks["opening_direction"].verdict == "fail"
    assert '"right"' in checks["opening_direction"].says
    assert checks["travel"].verdict == "fail"


def test_a_toggle_before_the_stop():
    # a long arm to the left pulls a short one, drawn at 130 degrees, towards itself: some 50 degrees on
    # (78 are asked) the short arm points at the pull and stands in line with the link
    rig = trains.rig(
        trains.crank("pull", (-200.0, 0.0, 0.0), trains.arms(out=(60.0, 90.0))),
        trains.shaft("a", (0.0, 0.0, 0.0), "ccw", trains.arms(drive=(20.0, 130.0))),
        trains.Link("cross", ("pull.out", "a.drive")),
        drive="pull",
    )
    checks = by_name(rig)
    ends = [c for name, c in checks.items() if name.endswith("_stop") and c.verdict == "fail"]
    assert ends
    assert "dead point" in ends[0].says
    assert 'link "cross"' in ends[0].where


def test_a_crank_stop_on_the_wrong_side_leaves_no_travel():
    rig = trains.bell_crank()
    wrong = trains.with_stop(rig, Stop("slip", "centre", "opening", turn=-5.0 if check(rig).run.turn[-1] > 0 else 5.0))
    checks = by_name(wrong)
    assert checks["travel"].verdict == "fail"
    assert "slip" in checks["travel"].says


def test_every_sentence_is_one_and_says_what_it_says():
    for make in trains.EXAMPLES.values():
        for c in check(make()).checks:
            assert c.says, c.name
            assert "\n" not in c.says
            assert "nan" not in c.says
            assert c.says.endswith((".", "clear of binding", "is kinder")) or c.verdict == "caution"


def test_the_caution_says_the_four_things():
    for words in ("not a certificate", "each spring alone", "engine off", "regulations"):
        assert words in CAUTION


def test_a_closing_stop_that_holds_every_plate_open_is_no_pass():
    """A crank's closing stop short of the shafts' own: up to 2 degrees of plate ask for care, more fail."""

    def closing(turn):
        rig = trains.bell_crank()
        sense = solve(rig).train.opens
        on = Stop("crank", "centre", limits="closing", turn=sense * turn)
        return check(dataclasses.replace(rig, stop={"crank": on}))

    told = {turn: closing(turn) for turn in (-5.0, 0.5, 20.0)}
    stops = {turn: {c.name: c for c in answer.checks}["closing_stop"] for turn, answer in told.items()}
    assert {turn: stop.verdict for turn, stop in stops.items()} == {-5.0: "pass", 0.5: "caution", 20.0: "fail"}
    assert told[20.0].verdict == "fail"
    for turn in (0.5, 20.0):
        lifts = {n: a[0] - told[turn].run.rig.shaft[n].plate_angle.idle for n, a in told[turn].run.plate_angle.items()}
        name = min(lifts, key=lifts.get)
        assert f'shaft "{name}" {lifts[name]:.2f} degrees above its idle stop' in stops[turn].says


def test_no_travel_between_dead_points_names_the_link_not_a_stop():
    """A closing stop beyond the dead point that ends the opening: no stop holds at either end."""
    rig = trains.rig(
        trains.shaft("a", (0.0, 0.0, 0.0), "ccw", trains.arms(drive=(30.0, 90.0)), idle=12.0, wide_open=119.0),
        trains.crank("c", (0.0, 100.0, 0.0), trains.arms(drive=(60.0, 120.0))),
        Link("cross", ("c.drive", "a.drive")),
        Stop("s", "c", limits="closing", turn=150.0),
        Stop("t", "c", limits="closing", turn=-150.0),
        drive="c",
    )
    travel = by_name(rig)["travel"]
    assert travel.verdict == "fail"
    assert "None" not in travel.says + travel.where
    assert travel.says.startswith('there is no travel: a dead point of link "')
