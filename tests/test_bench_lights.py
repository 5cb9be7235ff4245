"""The bench's lights: quick ones and those in full agree, check by check."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import linkage
from linkage.answers import check
from linkage.answers.checks import Check
from linkage.motion import Motion
from linkage.parts import Linkage
from linkage.widgets import lights

DEMO = Path(__file__).parents[1] / "demo"
NAMES = sorted(path.stem for path in DEMO.glob("*.toml"))


def rig(name: str) -> Linkage:
    return linkage.read(DEMO / f"{name}.toml")


def _agree(run: Motion) -> None:
    full = {one.name: one for one in lights.PARTS["motion"](run)}
    quick = {one.name: one for one in lights.live(run)}
    assert list(quick) == list(full)
    for name, one in quick.items():
        told = full[name]
        assert one.verdict == told.verdict, name
        assert one.unit == told.unit, name
        assert one.limit == told.limit, name
        if told.value is None:
            assert one.value is None, name
        else:
            # what the light shows of the samples of 61 positions: a hump's top to a few thousandths
            within = 5e-3 if name in ("tilt", "cable_angle", "opens_throughout", "cable_swing") else 1e-6
            assert one.value == pytest.approx(told.value, abs=within), name


@pytest.mark.parametrize("name", NAMES)
def test_quick_lights_say_what_the_verdict_says(name: str) -> None:
    _agree(linkage.solve(rig(name), positions=61))


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("link.left.length", 190.0),  # set wrong: fails at idle
        ("link.left.length", 199.0),
        ("shaft.left.opens", "cw"),  # turns the wrong way
        ("shaft.left.arm.drive.angle", 20.0),
        ("shaft.left.arm.drive.angle", 150.0),
        ("stop.crank.turn", 30.0),
        ("shaft.left.plate_angle.wide_open", 60.0),
        ("bellcrank.centre.arm.cable.angle", 250.0),  # the cable pulls shut
        ("bellcrank.centre.arm.cable.angle", 150.0),
        ("shaft.right.arm.drive.station", 40.0),  # tilts the rod ends
        ("cable.travel", 30.0),
        ("pedal.travel", 60.0),
    ],
)
def test_quick_lights_say_what_the_verdict_says_of_faults(path: str, value: float | str) -> None:
    run = linkage.solve(rig("flat_six").replace(path, value), positions=61)
    full = [one.verdict for one in lights.PARTS["motion"](run)]
    assert set(full) - {"pass"}, "this variant was to show a fault"
    _agree(run)


def test_quick_lights_agree_on_designs_made_at_random() -> None:
    dice = np.random.default_rng(20)
    design = rig("flat_six")
    paths = [p for p in linkage.dimensions(design) if ".arm." in p and p.endswith(("radius", "angle"))]
    seen = set()
    for _ in range(12):
        made = design
        for path in paths:
            old = linkage.dimensions(design)[path]
            made = made.replace(path, old + dice.normal(0.0, 1.5))
        run = linkage.solve(made, positions=61)
        _agree(run)
        seen |= {one.verdict for one in lights.live(run)}
    assert seen >= {"pass", "fail"}


def test_the_parts_together_are_the_whole_verdict() -> None:
    run = linkage.solve(rig("flat_six"))
    parts = [one for part in lights.PARTS.values() for one in part(run)]
    assert parts == list(check(run).checks)


def test_a_light_shows_the_designs_own_units_and_what_holds_it() -> None:
    inch = Check("cable_travel", "fail", 50.8, 25.4, "mm", "opening stop", "too much.")
    assert lights.shown(inch, "in") == {
        "name": "cable_travel", "label": "cable travel", "word": "fail", "found": "2.000", "limit": "max 1.000",
        "unit": "in", "where": "opening stop", "says": "Too much.",
    }  # fmt: skip
    angle = lights.shown(Check("transmission_angle", "pass", 41.25, 30.0, "deg", "", ""), "mm")
    assert (angle["found"], angle["limit"], angle["unit"]) == ("41.25", "min 30.00", "°")
    bare = lights.shown(Check("pull_direction", "pass", None, None, "", "", "Opens."), "mm")
    assert (bare["found"], bare["limit"], bare["unit"]) == ("", "", "")
