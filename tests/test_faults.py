"""Springs lost and links parted: against the same parts built without them, and hand arithmetic."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable

import numpy as np
import pytest
from sprung import extension, on_each, one_shaft, sprung, torsion
from trains import EXAMPLES, arms, bell_crank, coupled, crank, crossed_pair, rig, series, shaft

from linkage.answers import faults as told
from linkage.answers.faults import Closing, FaultCase, Faults, faults
from linkage.answers.forces import forces
from linkage.motion import solve
from linkage.parts import Cable, Link, Linkage, Stop


def report(linkage: Linkage) -> Faults:
    found = faults(solve(linkage))
    assert found is not None
    return found


def cases(linkage: Linkage) -> dict[str, FaultCase]:
    return {case.lost: case for case in report(linkage).cases}


def least(linkage: Linkage) -> dict[str, float]:
    """Least closing torque of every shaft of a whole linkage."""
    found = forces(solve(linkage))
    assert found is not None
    return {name: at.value for name, at in found.least_shaft.items()}


def least_of(shafts: Iterable[tuple[str, Closing]]) -> dict[str, float]:
    return {name: at.least_torque for name, at in shafts}


def test_every_part_is_lost_once_in_the_order_of_the_file() -> None:
    linkage = sprung(bell_crank(), *on_each(bell_crank()))
    assert [case.lost for case in report(linkage).cases] == [
        "nothing", "cable", "spring.on_left", "spring.on_right", "link.left", "link.right",
    ]  # fmt: skip
    assert "cable" not in cases(sprung(crossed_pair(), torsion("s", "a", 100.0)))
    assert "coupling.sync" in cases(sprung(coupled(), *on_each(coupled())))


def test_a_lost_spring_is_the_linkage_without_it() -> None:
    linkage = sprung(
        bell_crank(), *on_each(bell_crank()), extension("over", "centre.cable", (40.0, 140.0, 0.0), 60.0, 0.5, 4.0),
        friction=12.0,
    )  # fmt: skip
    found = cases(linkage)
    for name in linkage.spring:
        left = {other: spring for other, spring in linkage.spring.items() if other != name}
        wanted = least(dataclasses.replace(linkage, spring=left))
        assert least_of(found[f"spring.{name}"].shafts.items()) == pytest.approx(wanted, rel=1e-12)
        assert all(at.springs == tuple(left) for at in found[f"spring.{name}"].shafts.values())
    assert least_of(found["nothing"].shafts.items()) == pytest.approx(least(linkage), rel=1e-12)
    assert found["cable"].shafts == found["nothing"].shafts


def test_a_shaft_cut_off_has_its_own_spring_only() -> None:
    linkage = sprung(bell_crank(), *on_each(bell_crank()), friction=15.0)
    at = cases(linkage)["link.left"].shafts["left"]
    # 120 N mm at idle, rising with the opening, friction 15
    assert at.closes
    assert at.least_torque == pytest.approx(105.0)
    assert at.plate_angle == pytest.approx(10.0)
    assert at.ratio == pytest.approx(8.0)
    assert at.springs == ("on_left",)


def test_the_part_with_the_driver_is_the_linkage_built_without_the_other() -> None:
    linkage = sprung(bell_crank(), *on_each(bell_crank()), torsion("mid", "centre", 50.0, 0.5), friction=8.0)
    found = cases(linkage)["link.left"].shafts["right"]
    alone = rig(
        linkage.shaft["right"], linkage.bellcrank["centre"], linkage.link["right"], cable=linkage.cable,
        spring={name: linkage.spring[name] for name in ("on_right", "mid")},
    )  # fmt: skip
    assert found.least_torque == pytest.approx(least(alone)["right"], rel=1e-12)
    assert set(found.springs) == {"on_right", "mid"}


def test_a_part_runs_over_its_own_travel_not_that_of_the_whole() -> None:
    # the spring of the second shaft dies away beyond where the first shaft's stop would hold it
    shafts = (
        shaft("a", (0.0, 0.0, 0.0), "ccw", arms(drive=(30.0, 51.0)), idle=12.0, wide_open=60.0),
        shaft("b", (250.0, 0.0, 0.0), "ccw", arms(drive=(30.0, 51.0), hook=(20.0, 0.0)), idle=12.0, wide_open=95.0),
    )
    linkage = rig(*shafts, Link("side", ("a.drive", "b.drive")), drive="a")
    # anchor 140 degrees behind the pin: over centre after 40 degrees of turn... of 48 together, 83 alone
    fading = extension("fading", "b.hook", (250.0 - 80.0 * 0.766, -80.0 * 0.643, 0.0), 30.0, 0.2, 2.0)
    linkage = sprung(linkage, fading, torsion("a1", "a", 400.0), torsion("a2", "a", 400.0))
    found = cases(linkage)
    assert found["nothing"].verdict == "pass"
    assert not found["link.side"].shafts["b"].closes
    assert found["link.side"].shafts["b"].plate_angle == pytest.approx(95.0)
    assert found["link.side"].shafts["a"].closes
    # its own further stop keeps the spring on its good side
    kept = dataclasses.replace(linkage, stop={"short": Stop("short", "b", "opening", plate_angle=40.0)})
    at = cases(kept)["link.side"].shafts["b"]
    assert at.closes
    assert at.plate_angle == pytest.approx(40.0)


def test_a_shaft_without_a_spring_stays_open_when_its_link_parts() -> None:
    linkage = sprung(bell_crank(), torsion("one", "left", 200.0), torsion("two", "left", 200.0))
    case = cases(linkage)["link.right"]
    assert case.verdict == "fail"
    assert not case.shafts["right"].closes
    assert case.shafts["right"].springs == ()
    assert case.shafts["right"].least_torque == 0.0
    assert case.shafts["left"].closes
    run = solve(linkage)
    checks = {check.name: check for check in told.checks(run, faults(run))}
    assert checks["link_parted"].verdict == "fail"
    assert "no spring left" in checks["link_parted"].says
    assert '"right"' in checks["link_parted"].where
    assert checks["spring_lost"].verdict == "pass"
    assert checks["closing_sources"].verdict == "pass"


def test_friction_holds_what_a_weak_spring_leaves() -> None:
    weak = sprung(bell_crank(), torsion("a", "left", 14.0), torsion("b", "right", 300.0), friction=15.0)
    case = cases(weak)["link.left"]
    assert not case.shafts["left"].closes
    assert case.shafts["left"].least_torque == pytest.approx(-1.0)
    edge = sprung(bell_crank(), torsion("a", "left", 15.0), torsion("b", "right", 300.0), friction=15.0)
    assert not cases(edge)["link.left"].shafts["left"].closes  # just balanced: it stays where it is
    care = sprung(bell_crank(), torsion("a", "left", 18.0), torsion("b", "right", 300.0), friction=15.0)
    assert cases(care)["link.left"].shafts["left"].closes
    assert cases(care)["link.left"].verdict == "caution"  # 18 over 15: 1.2, less than 1.3


def test_the_whole_train_wants_twice_the_friction_and_a_broken_one_less() -> None:
    two = one_shaft(torsion("s", "a", 24.0), torsion("t", "a", 24.0), friction=30.0)
    assert cases(two)["nothing"].verdict == "caution"  # 48 over 30: 1.6
    three = one_shaft(*(torsion(name, "a", 24.0) for name in "stu"), friction=30.0)
    assert cases(three)["nothing"].verdict == "pass"  # 72 over 30: 2.4
    assert cases(three)["spring.s"].verdict == "pass"  # 48 over 30
    assert cases(two)["spring.s"].verdict == "fail"


def test_couplings_part_like_links() -> None:
    linkage = sprung(coupled(), *on_each(coupled()))
    parted = cases(linkage)["coupling.sync"]
    assert parted.verdict == "pass"
    assert parted.shafts["rear"].springs == ("on_rear",)
    assert set(parted.shafts["front"].springs) == {"on_front", "on_twin"}
    without = sprung(coupled(), torsion("x", "front", 100.0), torsion("y", "twin", 100.0))
    run = solve(without)
    checks = {check.name: check for check in told.checks(run, faults(run))}
    assert checks["coupling_parted"].verdict == "fail"
    assert '"rear"' in checks["coupling_parted"].says


def test_in_a_series_all_beyond_the_link_goes_with_it() -> None:
    linkage = sprung(series(), *on_each(series()))
    found = cases(linkage)
    assert found["link.front"].shafts["one"].springs == ("on_one",)
    assert found["link.front"].shafts["two"].springs == ("on_two", "on_three")
    assert found["link.front"].shafts["three"].springs == ("on_two", "on_three")
    assert found["link.rear"].shafts["three"].springs == ("on_three",)


def test_a_bell_crank_keeps_the_way_its_spring_was_wound() -> None:
    # pedal - relay - shaft: the relay turns cw to open; cut off with the shaft, its spring still closes it
    linkage = EXAMPLES["tilted"]()
    senses = solve(linkage).member_turn["relay"]
    assert senses[-1] * senses[len(senses) // 2] > 0.0
    case = cases(sprung(linkage, torsion("s", "relay", 80.0), torsion("p", "pedal", 80.0)))["link.long"]
    assert case.shafts["plates"].closes
    assert case.shafts["plates"].springs == ("s",)


def test_sources_count_springs_that_close() -> None:
    one = solve(one_shaft(torsion("s", "a", 100.0)))
    checks = {check.name: check for check in told.checks(one, faults(one))}
    assert checks["closing_sources"].verdict == "fail"
    assert checks["spring_lost"].verdict == "fail"
    assert "add a second spring" in checks["spring_lost"].says
    assert "571.124" in checks["closing_sources"].says
    two = report(one_shaft(torsion("s", "a", 100.0), torsion("t", "a", 20.0), friction=30.0))
    assert two.sources == {"a": ("s", "t")}
    assert two.alone == ("s",)
    opening = extension("o", "a.hook", (-20.0, 200.0, 0.0), 5.0, 0.01, 0.1)  # pulls the throttle open
    crossing = extension("c", "a.hook", (-90.0, -50.0, 0.0), 5.0, 0.01, 0.1)  # shuts it as far as 29 deg, then opens
    found = report(one_shaft(torsion("s", "a", 100.0), opening, crossing))
    assert found.sources == {"a": ("s",)}


def test_no_springs_is_said_not_guessed() -> None:
    run = solve(bell_crank())
    assert faults(run) is None
    assert "[spring.NAME]" in told.lacks(run.rig)
    assert told.checks(run, None) == ()


def wrong_way(linkage: Linkage, name: str) -> Linkage:
    """The linkage with one shaft drawn to open the other way."""
    part = linkage.shaft[name]
    turned = dataclasses.replace(part, opens="cw" if part.opens == "ccw" else "ccw")
    return dataclasses.replace(linkage, shaft={**linkage.shaft, name: turned})


def test_a_shaft_that_turns_the_wrong_way_does_not_close() -> None:
    linkage = sprung(bell_crank(), torsion("l", "left", 900.0), torsion("r", "right", 50.0))
    found = cases(wrong_way(linkage, "right"))
    assert found["nothing"].shafts["left"].closes
    assert not found["nothing"].shafts["right"].closes  # it opens while the left one shuts
    assert found["link.right"].shafts["right"].closes  # by itself it goes where its own spring turns it


def test_friction_is_against_the_closing_of_a_shaft_that_turns_the_wrong_way_too() -> None:
    linkage = wrong_way(sprung(bell_crank(), torsion("l", "left", 900.0)), "right")
    smooth, rough = (
        cases(sprung(linkage, *linkage.spring.values(), friction=f))["nothing"].shafts["right"] for f in (0.0, 20.0)
    )
    assert rough.least_torque < smooth.least_torque < 0.0


def test_a_relay_keeps_its_spring_as_wound_when_it_is_cut_off_with_a_shaft_drawn_wrong() -> None:
    fan = rig(
        crank("d", (0.0, 100.0, 0.0), arms(one=(30.0, 140.0), two=(30.0, 140.0, 50.0), three=(30.0, 140.0, 90.0))),
        shaft("a", (0.0, 0.0, 0.0), "ccw", arms(drive=(30.0, 140.0))),
        shaft("b", (0.0, 0.0, 50.0), "ccw", arms(drive=(30.0, 140.0))),
        crank("m", (0.0, 0.0, 90.0), arms(to=(30.0, 140.0), out=(30.0, 230.0))),
        shaft("z", (100.0, 0.0, 90.0), "ccw", arms(drive=(30.0, 230.0))),
        Link("one", ("d.one", "a.drive")), Link("two", ("d.two", "b.drive")), Link("three", ("d.three", "m.to")),
        Link("last", ("m.out", "z.drive")),
        drive="d",
    )  # fmt: skip
    fan = sprung(fan, torsion("s", "a", 100.0), torsion("relay", "m", 80.0))
    assert cases(fan)["link.three"].shafts["z"].closes
    # wound to close with the train, it turns this shaft open
    case = cases(wrong_way(fan, "z"))["link.three"]
    assert not case.shafts["z"].closes
    assert case.shafts["z"].least_torque < 0.0


def test_a_part_that_its_own_drawing_cannot_assemble_is_no_pass() -> None:
    # 22 mm short, the first link holds the crank 44 deg on; only there does the last one reach (85.4 to 109.4 mm)
    linkage = rig(
        shaft("a", (0.0, 0.0, 0.0), "ccw", arms(out=(30.0, 60.0)), idle=10.0, wide_open=30.0),
        crank("m", (100.0, 0.0, 0.0), arms(to=(30.0, 60.0), out=(30.0, 240.0))),
        shaft("z", (200.0, 0.0, 0.0), "ccw", arms(to=(12.0, 100.0)), idle=10.0, wide_open=80.0),
        Link("first", ("a.out", "m.to"), length=78.0),
        Link("last", ("m.out", "z.to"), length=100.0),
        drive="a",
    )
    run = solve(sprung(linkage, torsion("s", "z", 100.0), torsion("t", "a", 100.0)))
    found = faults(run)
    assert found is not None
    case = next(case for case in found.cases if case.lost == "link.first")
    assert case.verdict == "fail"
    assert not case.shafts["z"].closes
    assert np.isnan(case.shafts["z"].least_torque)
    checks = {check.name: check for check in told.checks(run, found)}
    assert "cannot be judged" in checks["link_parted"].says


@pytest.mark.parametrize("name", sorted(EXAMPLES))
def test_a_spring_on_every_shaft_passes_every_parted_link(name: str) -> None:
    linkage = EXAMPLES[name]()
    found = cases(sprung(linkage, *on_each(linkage), friction=5.0))
    parted = [case for lost, case in found.items() if lost.startswith(("link.", "coupling."))]
    assert parted
    assert {case.verdict for case in parted} == {"pass"}
    assert all(set(case.shafts) == set(linkage.shaft) for case in parted)


def test_dead_centres_and_no_travel_are_answered() -> None:
    for angle in (150.0, 178.0, 182.0, 185.0):
        linkage = crossed_pair(angle, -51.0, other_wide_open=170.0)
        report(sprung(linkage, *on_each(linkage), friction=5.0))
    still = one_shaft(torsion("s", "a", 100.0), torsion("t", "a", 50.0), friction=10.0)
    still = dataclasses.replace(still, stop={"shut": Stop("shut", "a", "opening", plate_angle=10.0)})
    assert cases(still)["spring.s"].shafts["a"].least_torque == pytest.approx(40.0)
    shuts = dataclasses.replace(bell_crank(), cable=Cable(quadrant="centre", radius=30.0, pull_turns="cw"))
    assert cases(sprung(shuts, *on_each(shuts)))["link.left"].verdict == "pass"
