"""What changed: every value, once, in the design's unit, and the figures that follow."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from papers import DEMO, answer, opened, text_of
from plot_words import outside, overlaps
from trains import EXAMPLES, bell_crank, with_stop

import linkage
from linkage.answers import check
from linkage.cli import throttle_linkage
from linkage.paper import sheet_pages
from linkage.paper.compare import Change, changes, comparison
from linkage.paper.sheet import text
from linkage.parts import Linkage, Spring, Stop


def said(before: Linkage, after: Linkage, **more: Any) -> str:
    return text(comparison(check(before), check(after), **more))


def row(told: str, name: str) -> list[str]:
    return next(line.split() for line in told.splitlines() if line.strip().startswith(name))


@pytest.mark.parametrize("make", EXAMPLES.values(), ids=EXAMPLES)
def test_a_design_has_not_changed_against_itself(make: Any) -> None:
    assert changes(make(), make()) == ()
    told = said(make(), make())
    assert "Nothing: the two say the same." in told
    assert "None, as far as they are printed." in told


def test_every_changed_number_comes_once_with_both_values() -> None:
    before = bell_crank()
    after = before.replace("shaft.left.arm.drive.radius", 35.5).replace("bellcrank.centre.pivot.y", 57.0)
    after = after.replace("link.left.length", 120.0)
    assert changes(before, after) == (
        Change("shaft.left.arm.drive.radius", "length", 34.0, 35.5),
        Change("bellcrank.centre.pivot.y", "length", 58.0, 57.0),
        Change("link.left.length", "length", None, 120.0),
    )


def test_words_are_told_as_words() -> None:
    before = bell_crank()
    after = before.replace("shaft.right.opens", "ccw").replace("title", "another")
    assert [(c.path, c.before, c.after, c.kind) for c in changes(before, after)] == [
        ("title", "test", "another", None),
        ("shaft.right.opens", "cw", "ccw", None),
    ]


def test_a_part_that_came_or_went_comes_once() -> None:
    before = bell_crank()
    after = with_stop(before, Stop("screw", "centre", "opening", turn=60.0))
    after = dataclasses.replace(after, spring={"new": Spring("new", on="left", preload=10.0, rate=1.0)})
    assert changes(before, after) == (
        Change("stop.screw", None, None, "there"),
        Change("spring.new", None, None, "there"),
    )
    assert {c.before for c in changes(after, before)} == {"there"}


def test_a_table_that_came_comes_once() -> None:
    rig = answer("flat_six").run.rig
    without = dataclasses.replace(rig, heat=None, play=None)
    assert [c.path for c in changes(without, rig)] == ["heat", "play"]


def test_an_arm_drawn_by_its_pin_instead() -> None:
    rig = bell_crank()
    arm = dataclasses.replace(rig.shaft["left"].arm["drive"], radius=None, angle=None, pin=(-104.0, 33.0, 0.0))
    shaft = dataclasses.replace(rig.shaft["left"], arm={"drive": arm})
    found = {
        c.path: (c.before, c.after) for c in changes(rig, dataclasses.replace(rig, shaft={**rig.shaft, "left": shaft}))
    }
    assert found["shaft.left.arm.drive.pin.x"] == (None, -104.0)
    assert found["shaft.left.arm.drive.radius"] == (34.0, None)


def test_numbers_stand_in_the_later_design_s_unit() -> None:
    before = bell_crank()
    after = dataclasses.replace(before.replace("cable.free_play", 2.54), units="in")
    told = said(before, after)
    assert row(told, "cable.free_play") == ["cable.free_play", "in", "0.000", "0.100", "+0.100"]
    assert row(told, "units") == ["units", "mm", "in"]
    larger = after.replace("shaft.left.arm.drive.radius", 25.4 * 1.375)
    told = said(after, larger, fractions=True)
    assert "1.375 (1 3/8)" in told


def test_a_change_too_small_for_two_decimals_is_shown_with_more() -> None:
    before = bell_crank()
    told = said(before, before.replace("shaft.left.pivot.x", -112.0004))
    assert row(told, "shaft.left.pivot.x")[2:] == ["-112.0000", "-112.0004", "-0.0004"]


def test_the_classic_fault_and_its_mend_side_by_side() -> None:
    told = text(comparison(answer("crossed_pair"), answer("crossed_pair_reclocked")))
    assert "A: fail. B: pass." in told
    assert "Better: mismatch off idle, mismatch, mismatch at wide open." in told
    # the two levers, 51 and -51 degrees, both turned back by 12
    assert row(told, "shaft.left.arm.cross.angle")[2:] == ["51.00", "39.00", "-12.00"]
    assert row(told, "mismatch      ")[2:] == ["5.448", "FAIL", "0.140", "pass"]
    # by hand, of the demo's own file
    assert row(told, "link cross, centres")[-2:] == ["254.31", "244.60"]
    back = text(comparison(answer("crossed_pair_reclocked"), answer("crossed_pair")))
    assert "Worse: mismatch off idle" in back


def test_a_check_that_one_side_cannot_judge_is_told() -> None:
    told = text(comparison(answer("flat_six"), answer("v8_inches")))
    assert row(told, "heat at idle")[-3:] == ["-", "not", "judged"]


def test_pages_are_whole() -> None:
    of = comparison(answer("flat_six"), answer("v8_inches"), date="2026-03-01")
    pages = sheet_pages.pages(of)
    assert len(pages) > 1
    for page in pages:
        assert outside(page) == []
        assert overlaps(page) == []


def test_the_command(tmp_path: Path) -> None:
    files = [str(DEMO / f"crossed_pair{end}.toml") for end in ("", "_reclocked")]
    result = CliRunner().invoke(throttle_linkage, ["compare", *files])
    assert result.exit_code == 0
    assert "A: crossed_pair.toml · Crossed pair" in result.stdout
    out = str(tmp_path / "changes.pdf")
    assert CliRunner().invoke(throttle_linkage, ["compare", *files, "--out", out]).exit_code == 0
    assert "What changed" in text_of(opened(Path(out).read_bytes()).pages[0]).replace("WHAT CHANGED", "What changed")
    assert CliRunner().invoke(throttle_linkage, ["compare", *files, "--out", out]).exit_code == 2
    one = (DEMO / "crossed_pair.toml").read_bytes()
    piped = CliRunner().invoke(throttle_linkage, ["compare", "-", files[1]], input=one)
    assert "244.60" in piped.stdout
    assert CliRunner().invoke(throttle_linkage, ["compare", "-", "-"], input=one).exit_code == 2
    missing = CliRunner().invoke(throttle_linkage, ["compare", files[0], "none.toml"])
    assert (missing.exit_code, missing.stdout) == (2, "")
    assert "none.toml: there is no such file" in missing.stderr
    refused = CliRunner().invoke(throttle_linkage, ["compare", *files, "--fractions"])
    assert "is for designs in inches" in refused.stderr


def test_a_rewritten_file_has_not_changed(tmp_path: Path) -> None:
    path = tmp_path / "copy.toml"
    linkage.write(answer("v8_inches").run.rig, path)
    assert changes(linkage.read(DEMO / "v8_inches.toml"), linkage.read(path)) == ()
