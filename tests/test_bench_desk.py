"""What leaves the bench: files, fits, papers."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Any

import pytest

import linkage
from linkage.answers import joints
from linkage.errors import DesignError, OutputError
from linkage.parts import Bounds, Linkage, Wish
from linkage.widgets import desk
from linkage.widgets.controls import Control, controls
from linkage.widgets.session import Session

DEMO = Path(__file__).parents[1] / "demo"
LEFT, RIGHT = "shaft.left.arm.cross.angle", "shaft.right.arm.cross.angle"


def rig(name: str = "crossed_pair") -> Linkage:
    return linkage.read(DEMO / f"{name}.toml")


def sliders(design: Linkage) -> dict[str, Control]:
    return controls(design, joints.lengths(linkage.solve(design)))


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.chdir(tmp_path)


def test_a_saved_design_keeps_its_comments_and_has_what_changed(tmp_path: Path) -> None:
    session = Session(rig())
    session.answer({"kind": "set", "path": LEFT, "value": 40.5})
    reply = session.answer({"kind": "save", "name": "mine"})
    assert reply["kind"] == "done"
    assert str(tmp_path) in reply["says"]
    before = (DEMO / "crossed_pair.toml").read_text(encoding="utf-8").splitlines()
    after = Path("mine.toml").read_text(encoding="utf-8").splitlines()
    changed = [(old, new) for old, new in zip(before, after, strict=True) if old != new]
    assert changed == [("angle = 51.0", "angle = 40.5")]
    assert linkage.read("mine.toml") == session.rig


def test_a_file_that_stands_there_is_replaced_only_when_asked_again() -> None:
    session = Session(rig())
    Path("mine.toml").write_text("something dear", encoding="utf-8")
    reply = session.answer({"kind": "save", "name": "mine.toml"})
    assert (reply["kind"], reply["replace"]) == ("trouble", True)
    assert Path("mine.toml").read_text(encoding="utf-8") == "something dear"
    assert session.answer({"kind": "save", "name": "mine.toml", "replace": True})["kind"] == "done"
    assert linkage.read("mine.toml") == rig()


@pytest.mark.parametrize("name", ["", "   ", "no/such/folder/mine.toml"])
def test_a_name_that_cannot_be_is_refused_in_a_sentence(name: str) -> None:
    reply = Session(rig()).answer({"kind": "save", "name": name})
    assert reply["kind"] == "trouble"
    assert reply["says"].endswith(".")
    assert list(Path.cwd().iterdir()) == []
    with pytest.raises(OutputError):
        desk.save(rig(), name, replace=False)


def test_what_may_change_leaves_out_what_is_locked_or_does_not_move_anything() -> None:
    design = rig("flat_six")
    found = desk.choices(design, sliders(design), {"shaft.left.arm.drive.angle"})
    assert found["clocking"] == [
        "shaft.right.arm.drive.angle",
        "bellcrank.centre.arm.left.angle",
        "bellcrank.centre.arm.right.angle",
        "bellcrank.centre.arm.cable.angle",  # not the spring's
    ]
    assert found["pivots"] == ["bellcrank.centre.pivot.x", "bellcrank.centre.pivot.y"]
    assert "lengths" not in found  # both links are fitted
    given = design.replace("link.left.length", 195.0)
    assert desk.choices(given, sliders(given))["lengths"] == ["link.left.length"]


def test_bounds_are_the_sliders_and_their_steps() -> None:
    design = rig()
    one = sliders(design)[LEFT]
    found = desk.bounds(design, {"clocking": [LEFT]}, {LEFT: one})
    assert found == {LEFT: Bounds(one.low, one.high, one.step)}
    beyond = design.replace(LEFT, one.high + 10.0)
    assert desk.bounds(beyond, {"clocking": [LEFT]}, {LEFT: one})[LEFT].high == pytest.approx(one.high + 10.0)


def test_the_designs_own_table_of_what_is_free_counts_as_it_stands() -> None:
    design = rig("slow_opening_wish")
    found = desk.choices(design, sliders(design))
    assert desk.bounds(design, {"free": found["free"]}, sliders(design)) == design.free


def test_wishes_are_read_in_the_designs_own_unit_or_with_theirs() -> None:
    typed = {"mismatch": "0.2", "cable_travel": "1.5", "progression_ratio": "", "transmission_angle": "40 deg"}
    found = desk.wish(rig("v8_inches"), typed)
    assert found == Wish(mismatch=0.2, cable_travel=pytest.approx(38.1), transmission_angle=40.0)  # type: ignore[arg-type]
    asked = rig("slow_opening_wish")
    assert asked.wish is not None
    assert desk.wish(asked, {}) == asked.wish


@pytest.mark.parametrize("text", ["much", "-1", "0,2", "nan"])
def test_a_wish_that_cannot_be_is_refused(text: str) -> None:
    with pytest.raises(DesignError, match="mismatch"):
        desk.wish(rig(), {"mismatch": text})


def test_a_fit_is_one_step_back_keeps_the_locks_and_lies_on_the_steps() -> None:
    told: list[dict[str, Any]] = []
    session = Session(rig(), told.append)
    session.answer({"kind": "lock", "path": RIGHT, "locked": True})
    ask = {"kind": "fit", "from": "a", "choices": ["clocking"], "wish": {"mismatch": "2"}}
    reply = session.answer(ask)
    assert reply["kind"] == "done"
    found = linkage.dimensions(session.rig)
    assert found[RIGHT] == -51.0
    assert (found[LEFT] - 51.0) / 0.5 == pytest.approx(round((found[LEFT] - 51.0) / 0.5), abs=1e-6)
    apart = linkage.answers.check(session.rig).mismatch.largest.value
    assert apart <= 2.0  # turning one lever alone: 1.77 by hand, 5.45 as drawn
    assert f"{apart:.3f}" in reply["says"]
    assert all(one["kind"] == "progress" and one["to"] == "a" for one in told)
    assert len(told) > 3
    assert session.answer({"kind": "undo"})["state"]["changed"] == []


def test_a_fit_of_nothing_says_what_to_do() -> None:
    reply = Session(rig()).answer({"kind": "fit", "choices": [], "wish": {}})
    assert reply["kind"] == "trouble"
    assert "choose what may change" in reply["says"].lower()


def test_the_approval_sheet_is_written_as_pdf_and_page_for_the_design_as_it_stands() -> None:
    made = rig().replace(LEFT, 47.5)
    day = datetime.date(2025, 1, 31)
    pdf, page = desk.approve(made, "mine.toml", replace=False, date=day, tell=lambda _: None)
    assert (pdf.name, page.name) == ("mine_approval.pdf", "mine_approval.html")
    assert pdf.read_bytes().startswith(b"%PDF")
    text = page.read_text(encoding="utf-8")
    assert "31 January 2025" in text
    assert made.title in text


def test_an_approval_sheet_that_stands_there_is_not_replaced_unasked(tmp_path: Path) -> None:
    signed = desk.sheets_named(str(tmp_path / "mine.toml"))[1]
    signed.write_text("signed", encoding="utf-8")
    session = Session(rig())
    reply = session.answer({"kind": "approve", "name": str(tmp_path / "mine")})
    assert (reply["kind"], reply["about"], reply["replace"]) == ("trouble", "approve", True)
    assert signed.name in reply["says"]
    with pytest.raises(OutputError, match="stands there already"):
        desk.approve(rig(), str(tmp_path / "mine"), replace=False, date=datetime.date(2025, 1, 31), tell=print)
    assert [path.name for path in tmp_path.iterdir()] == [signed.name]
    assert signed.read_text(encoding="utf-8") == "signed"
    assert session.answer({"kind": "approve", "name": str(tmp_path / "mine"), "replace": True})["kind"] == "done"
    assert rig().title in signed.read_text(encoding="utf-8")
