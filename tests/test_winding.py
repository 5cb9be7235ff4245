"""The train wound up against torsion bars and free links solved all at once, and against sums by hand."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable

import numpy as np
import pytest
from elastic import Bars, long_shafts
from sprung import extension, on_each, one_shaft, sprung, torsion
from trains import bell_crank, coupled, cross_tube, skew

from linkage.answers import springs
from linkage.answers.winding import twisted
from linkage.motion import Motion, solve
from linkage.parts import SIGN, Linkage, Section

STEEL = 79_300.0  # [N/mm^2]


def bars(rig: Linkage, member: str, section: Section) -> Linkage:
    """The linkage with a bell crank that twists."""
    crank = dataclasses.replace(rig.bellcrank[member], twist=section)
    return dataclasses.replace(rig, bellcrank={**rig.bellcrank, member: crank})


def tube() -> Linkage:
    """The cross tube twisted between its three drop links, cable at one end, a spring on each shaft."""
    linkage = sprung(cross_tube(), *on_each(cross_tube(), 300.0, 2.0), friction=15.0)
    return bars(linkage, "tube", Section(10.0, 1.0))


def both() -> Linkage:
    """A bell crank with two long shafts, and a spring over all that pulls on it."""
    over = extension("over", "centre.cable", (40.0, 140.0, 0.0), 60.0, 0.5, 4.0)
    return long_shafts(sprung(bell_crank(), *on_each(bell_crank(), 250.0, 1.5), over, friction=20.0))


def in_a_row() -> Linkage:
    """Shafts coupled end to end and by sectors, each twisting: what one does the next hands on."""
    linkage = long_shafts(sprung(coupled(), *on_each(coupled(), 200.0, 1.0), friction=10.0), length=80.0)
    ends = {"sync": (-10.0, 85.0), "sectors": (85.0, 85.0)}
    ties = {n: dataclasses.replace(c, stations=ends[n]) for n, c in linkage.coupling.items()}
    return dataclasses.replace(linkage, coupling=ties)


def upright() -> Linkage:
    return long_shafts(sprung(skew(), *on_each(skew(), 150.0, 1.0), friction=8.0), length=-200.0)


CASES: dict[str, Callable[[], Linkage]] = {make.__name__: make for make in (tube, both, in_a_row, upright)}


@pytest.mark.parametrize("way", ["opening", "closing"])
@pytest.mark.parametrize("name", CASES)
def test_every_grip_stands_where_torsion_bars_put_it(name: str, way: str) -> None:
    run = solve(CASES[name](), positions=4)
    here = run.at(run.turn[1:-1])
    found = twisted(here, way)  # type: ignore[arg-type]
    assert found.settled
    for i in range(len(here.turn)):
        expected = Bars(here, i, 1.0 if way == "opening" else -1.0).solve()
        for shaft, plates in found.moved.items():
            section = run.rig.shaft[shaft].twist
            for k, row in enumerate(plates, 1):
                # a shaft that does not twist turns as one, wherever its plates are
                at = expected[shaft, f"plate {k}" if section is not None else "pivot"]
                away = SIGN[run.rig.shaft[shaft].opens] * math.degrees(at - math.radians(here.member_turn[shaft][i]))
                assert row[i] == pytest.approx(away, abs=1e-7)
        assert max(float(np.max(np.abs(plates))) for plates in found.moved.values()) > 0.01


def lever(station: float, *, diameter: float = 8.0, friction: float = 0.0, preload: float = 1000.0) -> Linkage:
    """A shaft turned at its pivot, its spring at a station, plates at 0, 150 and 300 mm."""
    one = one_shaft(torsion("s", "a", preload), friction=friction)
    section = Section(diameter, plates_at=(0.0, 150.0, 300.0))
    made = dataclasses.replace(one.shaft["a"], plates=3, twist=section)
    return dataclasses.replace(
        one, shaft={"a": made}, spring={"s": dataclasses.replace(one.spring["s"], station=station)}
    )


def per(torque: float, length: float) -> float:
    """Twist of 8 mm of steel [deg]."""
    return math.degrees(torque * length / (STEEL * math.pi * 8.0**4 / 32.0))


def test_a_spring_at_the_far_end_by_hand() -> None:
    """1000 N.mm over 150 and 300 mm: the far plate lags 0.539 degrees behind the quadrant."""
    found = twisted(solve(lever(300.0), positions=3), "opening").plates["a"]
    expected = np.array([[0.0], [-per(1000.0, 150.0)], [-per(1000.0, 300.0)]])
    np.testing.assert_allclose(found, np.repeat(expected, 3, axis=1), atol=1e-12)
    assert found[2][0] == pytest.approx(-0.539, abs=5e-4)


def test_a_spring_beside_what_turns_it_twists_nothing() -> None:
    found = twisted(solve(lever(0.0), positions=3), "opening")
    assert np.max(np.abs(found.plates["a"])) < 1e-12
    assert np.max(np.abs(found.apart)) < 1e-12


def test_friction_is_shared_by_the_plates_and_changes_sides() -> None:
    """60 N.mm on three plates: 20 beyond the middle, 40 before it, both ways."""
    run = solve(lever(0.0, friction=60.0), positions=3)
    lag = per(20.0, 150.0) + per(40.0, 150.0)
    assert twisted(run, "opening").plates["a"][2][0] == pytest.approx(-lag, abs=1e-12)
    assert twisted(run, "closing").plates["a"][2][0] == pytest.approx(lag, abs=1e-12)


def test_what_is_carried_past_the_arm_is_what_the_forces_say_reaches_it() -> None:
    """A shaft a thousand times as stiff: the torque in it is that of the springs and friction of a rigid one."""
    rig = long_shafts(sprung(bell_crank(), *on_each(bell_crank(), 250.0, 1.5), friction=20.0), diameter=45.0)
    run = solve(rig, positions=5)
    for opening, way in ((True, "opening"), (False, "closing")):
        reach = springs.loads(run, springs.spring_torque(run), opening=opening).at["left"]
        wound = twisted(run, way).members["left"]  # type: ignore[arg-type]
        here = wound.grips.index("arm drive")
        beyond = wound.torque[here] if here < len(wound.torque) else -wound.torque[-1]
        # the plates lie beyond the arm, and so does the spring: all of it passes there
        np.testing.assert_allclose(np.abs(beyond), np.abs(reach), rtol=1e-5)


def test_half_the_stiffness_twists_twice_as_far_to_first_order() -> None:
    run = solve(both(), positions=3)
    section = run.rig.shaft["left"].twist
    assert section is not None

    def most(share: float) -> float:
        made = {n: dataclasses.replace(s, twist=dataclasses.replace(section, stiffness_share=share))
                for n, s in run.rig.shaft.items()}  # fmt: skip
        again = solve(dataclasses.replace(run.rig, shaft=made), positions=3)
        return float(np.min(twisted(again, "opening").plates["left"]))

    assert most(0.5) / most(1.0) == pytest.approx(2.0, rel=0.01)


def resting(run: Motion) -> dict[str, np.ndarray]:  # type: ignore[type-arg]
    found = twisted(run.at(run.ends[0]), "resting")
    assert found.settled
    return {name: plates[:, 0] for name, plates in found.moved.items()}


def test_at_rest_each_shaft_is_wound_between_its_spring_and_its_own_stop() -> None:
    """Stops at the levers, 250 N.mm at 300 mm, friction against the closing at three plates: by hand."""
    found = resting(solve(both()))
    # beyond the last plate 250; before each plate a third of 20 less
    third = 20.0 / 3.0
    lags = [per(250.0 - 20.0, 50.0)]
    lags.append(lags[0] + per(250.0 - 20.0 + third, 100.0))
    lags.append(lags[1] + per(250.0 - 20.0 + 2.0 * third, 100.0))
    # the plates of both shafts turn back, shut, by the spring's own give: 1.5 N.mm a degree, a third of one per cent
    for plates in found.values():
        np.testing.assert_allclose(plates, [-lag for lag in lags], rtol=4e-3)
        assert np.all(plates > -np.array(lags))


def test_at_rest_a_stop_beside_the_spring_leaves_only_friction() -> None:
    rig = both()
    shafts = {n: dataclasses.replace(s, twist=dataclasses.replace(s.twist, stops_at=300.0), friction_torque=0.0)
              for n, s in rig.shaft.items()}  # type: ignore[type-var]  # fmt: skip
    found = resting(solve(dataclasses.replace(rig, shaft=shafts)))
    # the arm's link carries what the crank's own spring leaves over, to the first shaft alone
    assert np.max(np.abs(found["right"])) < 1e-9


def test_at_rest_what_is_left_over_goes_to_the_stop_that_holds() -> None:
    """A stop on the crank holds: no shaft stands on its own, so each is wound between its spring and its arm."""
    from linkage.parts import Stop

    rig = both()
    held = dataclasses.replace(rig, stop={"crank": Stop("crank", "centre", "closing", turn=1.0)})
    run = solve(held)
    assert run.travel.stops[int(run.travel.closing_holds)].name == "crank"
    rest, closing = (twisted(run.at(run.ends[0]), way) for way in ("resting", "closing"))  # type: ignore[arg-type]
    for name in rig.shaft:
        # the crank does not twist, so it is all one whether the cable or the stop holds it
        np.testing.assert_allclose(rest.moved[name], closing.moved[name], atol=1e-10)
        assert rest.members[name].held == "arm drive"


def test_a_shaft_too_soft_to_hold_its_spring_says_so() -> None:
    soft = lever(300.0)
    spring = dataclasses.replace(soft.spring["s"], rate=50.0)
    weak = dataclasses.replace(soft.shaft["a"], twist=Section(1.0, plates_at=(0.0, 150.0, 300.0)))
    found = twisted(solve(dataclasses.replace(soft, spring={"s": spring}, shaft={"a": weak})), "opening")
    assert not found.settled
    assert np.all(np.isnan(found.plates["a"]))
