"""The bench's session: what is asked, what is answered, what can be undone; and the widget around it."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path
from typing import Any

import pytest

import linkage
from linkage.parts import Linkage
from linkage.plots import style
from linkage.widgets.session import Session

DEMO = Path(__file__).parents[1] / "demo"
FRONT = Path(linkage.__file__).parent / "widgets" / "front"

RADIUS = "shaft.left.arm.drive.radius"
ANGLE = "shaft.left.arm.drive.angle"
LENGTH = "link.left.length"


def rig(name: str = "flat_six") -> Linkage:
    return linkage.read(DEMO / f"{name}.toml")


@pytest.fixture
def session() -> Session:
    return Session(rig())


def asked(session: Session, kind: str, **more: Any) -> dict[str, Any]:
    reply = session.answer({"kind": kind, "seq": 7, "from": "here", **more})
    assert (reply["seq"], reply["to"]) == (7, "here")
    json.dumps(reply, allow_nan=False)
    return reply


def put(session: Session, path: str, value: Any, gesture: str = "") -> dict[str, Any]:
    reply = asked(session, "set", path=path, value=value, gesture=gesture)
    return reply.get("state", reply)  # type: ignore[no-any-return]


@pytest.mark.parametrize("name", sorted(path.stem for path in DEMO.glob("*.toml")))
def test_every_demo_can_be_put_on_the_bench(name: str) -> None:
    reply = asked(Session(rig(name)), "hello")
    assert reply["kind"] == "hello"
    assert reply["design"]["title"] == rig(name).title
    assert reply["state"]["why"] == ""
    assert len(reply["state"]["motion"]["fraction"]) == 61


def test_a_slider_changes_the_design_and_everything_answers_for_it(session: Session) -> None:
    state = put(session, RADIUS, 36.5)
    assert session.rig == rig().replace(RADIUS, 36.5)
    assert state["values"][RADIUS] == 36.5
    assert state["changed"] == [RADIUS]
    moved = linkage.solve(session.rig, positions=61).plate_angle["left"]
    assert state["motion"]["opening"]["left"] == pytest.approx(moved.tolist(), abs=5e-4)


@pytest.mark.parametrize(
    ("text", "mm"),
    [("1.25", 31.75), ("1 1/4", 31.75), ("1-1/4 in", 31.75), ("30 mm", 30.0), ("  1.25 ", 31.75), (1.25, 31.75)],
)
def test_what_is_typed_is_in_the_designs_own_unit_or_brings_its_own(text: str | float, mm: float) -> None:
    session = Session(rig("v8_inches"))
    put(session, RADIUS, text)
    assert linkage.dimensions(session.rig)[RADIUS] == pytest.approx(mm, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "says"),
    [("12,7", "comma"), ("-3", "it must be from 0.001 to"), ("round", "not a number"), ("3 deg", "must be a length")],
)
def test_what_cannot_be_is_refused_in_a_sentence_and_changes_nothing(session: Session, text: str, says: str) -> None:
    reply = asked(session, "set", path=RADIUS, value=text)
    assert (reply["kind"], reply["about"]) == ("trouble", RADIUS)
    assert says in reply["says"].lower()
    assert session.rig == rig()


def test_a_range_is_told_in_the_designs_own_unit() -> None:
    session = Session(rig("v8_inches"))
    says = asked(session, "set", path="shaft.left.arm.drive.radius", value="9e9")["says"]
    assert says == "It must be from 3.93701e-05 to 3937.01 in, not 9e+09."


def test_a_minus_typed_as_a_true_minus_is_a_minus(session: Session) -> None:
    put(session, ANGLE, "−12.5")
    assert linkage.dimensions(session.rig)[ANGLE] == -12.5


def test_one_drag_is_one_thing_to_undo(session: Session) -> None:
    for value in (35.5, 36.0, 36.5):
        put(session, RADIUS, value, gesture="one")
    put(session, ANGLE, 75.0, gesture="two")
    state = asked(session, "undo")["state"]
    assert session.rig == rig().replace(RADIUS, 36.5)
    assert (state["undo"], state["redo"]) == ("Shaft left, arm drive, radius", "Shaft left, arm drive, angle")
    state = asked(session, "undo")["state"]
    assert session.rig == rig()
    assert (state["undo"], state["changed"]) == ("", [])
    asked(session, "redo")
    asked(session, "redo")
    assert session.rig == rig().replace(RADIUS, 36.5).replace(ANGLE, 75.0)
    assert asked(session, "redo")["state"]["redo"] == ""


def test_a_gesture_that_changes_nothing_is_nothing_to_undo_and_spoils_none(session: Session) -> None:
    put(session, ANGLE, 75.0)
    put(session, RADIUS, 35.0, gesture="still")
    state = put(session, RADIUS, 36.0, gesture="still")
    assert session.rig == rig().replace(ANGLE, 75.0).replace(RADIUS, 36.0)
    assert state["undo"] == "Shaft left, arm drive, radius"
    asked(session, "undo")
    assert session.rig == rig().replace(ANGLE, 75.0)


def test_a_change_after_undo_takes_the_place_of_what_was_undone(session: Session) -> None:
    put(session, RADIUS, 36.0)
    asked(session, "undo")
    assert put(session, ANGLE, 70.0)["redo"] == ""
    asked(session, "undo")
    assert session.rig == rig()


def test_reset_of_one_and_of_all(session: Session) -> None:
    put(session, RADIUS, 36.0)
    put(session, ANGLE, 75.0)
    assert asked(session, "reset", path=RADIUS)["state"]["changed"] == [ANGLE]
    assert asked(session, "reset")["state"]["changed"] == []
    assert session.rig == rig()
    asked(session, "undo")
    assert linkage.dimensions(session.rig)[ANGLE] == 75.0


def test_reset_of_all_leaves_what_is_locked(session: Session) -> None:
    asked(session, "set", path=RADIUS, value=40.0)
    asked(session, "set", path=LENGTH, value=200.0)
    asked(session, "set", path=ANGLE, value=80.0)
    asked(session, "lock", path=RADIUS, locked=True)
    asked(session, "lock", path=LENGTH, locked=True)
    assert asked(session, "reset")["state"]["changed"] == [RADIUS, LENGTH]
    assert linkage.dimensions(session.rig)[RADIUS] == 40.0
    assert session.rig.link["left"].length == 200.0


def test_what_is_locked_stays(session: Session) -> None:
    assert asked(session, "lock", path=RADIUS, locked=True)["state"]["locked"] == [RADIUS]
    assert "locked" in asked(session, "set", path=RADIUS, value=40.0)["says"]
    pin = {"handle": "pin:left.drive", "at": 0, "view": "front", "to": [-175.0, 50.0], "gesture": "g"}
    asked(session, "drag", **pin)
    assert session.rig == rig().replace(ANGLE, 90.0)  # the pin was put upright; its radius did not follow
    asked(session, "lock", path=RADIUS, locked=False)
    asked(session, "drag", **pin)
    assert linkage.dimensions(session.rig)[RADIUS] == pytest.approx(50.0)


def test_a_link_is_fitted_until_its_length_is_given(session: Session) -> None:
    first = asked(session, "hello")["state"]
    assert LENGTH in first["fitted"]
    assert LENGTH not in first["values"]
    state = put(session, LENGTH, 195.2)
    assert LENGTH not in state["fitted"]
    assert state["changed"] == [LENGTH]
    state = put(session, LENGTH, None)
    assert LENGTH in state["fitted"]
    assert session.rig == rig()


def test_a_fitted_length_that_follows_is_not_a_change(session: Session) -> None:
    state = put(session, RADIUS, 40.0)
    assert state["changed"] == [RADIUS]
    length = linkage.answers.joints.lengths(linkage.solve(session.rig))["left"]
    assert state["values"][LENGTH] == pytest.approx(length)


def test_parts_that_cannot_be_put_together_are_said_so_and_can_be_undone(session: Session) -> None:
    state = put(session, LENGTH, 50.0)
    assert (state["motion"], state["live"], state["left"]) == (None, [], [])
    assert '"left"' in state["why"]
    assert re.search(r"\d mm", state["why"])
    drag = {"handle": "pin:left.drive", "at": 0, "view": "front", "to": [0, 0]}
    assert asked(session, "drag", **drag)["kind"] == "trouble"
    assert asked(session, "undo")["state"]["why"] == ""


def test_a_design_that_cannot_be_put_together_still_comes_to_the_bench() -> None:
    session = Session(rig().replace(LENGTH, 50.0))
    assert asked(session, "hello")["state"]["motion"] is None
    assert put(session, LENGTH, None)["motion"] is not None


def test_the_checks_in_full_come_part_by_part_and_go_with_a_change(session: Session) -> None:
    left = len(asked(session, "hello")["state"]["left"])
    for count in range(left - 1, -1, -1):
        assert len(asked(session, "settle")["left"]) == count
    settled = asked(session, "settle")["settled"]
    told = [light["name"] for part in settled.values() for light in part]
    checks = linkage.answers.check(rig()).checks
    assert told == [check.name for check in checks]
    assert all(light["says"] for part in settled.values() for light in part)
    state = put(session, RADIUS, 36.0)
    assert state["settled"] == {}
    assert len(state["left"]) == left


def test_a_kept_design_stays_to_be_compared_and_gone_back_to(session: Session) -> None:
    assert "Nothing is kept" in asked(session, "back")["says"]
    put(session, RADIUS, 36.0)
    kept = asked(session, "keep")["kept"]
    put(session, RADIUS, 40.0)
    assert asked(session, "hello")["kept"] == kept
    assert asked(session, "back")["state"]["motion"] == kept["motion"]
    assert session.rig == rig().replace(RADIUS, 36.0)
    assert asked(session, "forget")["kept"] is None


@pytest.mark.parametrize(
    "message",
    [
        {"kind": "fly"},
        {},
        {"kind": "set", "path": "no.such.path", "value": 1},
        {"kind": "set", "path": RADIUS, "value": [1]},
        {"kind": "drag", "handle": "pin:nobody.none", "at": 0, "view": "front", "to": [0, 0]},
        {"kind": "drag", "handle": "pin:left.drive", "at": 0, "view": "askew", "to": [0, 0]},
        {"kind": "drag", "handle": "pin:left.drive", "at": 999, "view": "front", "to": [0, 0]},
    ],
)
def test_whatever_goes_wrong_is_a_sentence_in_the_bench(session: Session, message: dict[str, Any]) -> None:
    reply = session.answer({"seq": 1, "from": "x", **message})
    assert reply["kind"] == "trouble"
    assert reply["says"].endswith(".")
    assert session.rig == rig()
    assert asked(session, "hello")["kind"] == "hello"


def test_the_widget_answers_its_front_end() -> None:
    bench = linkage.bench(rig())
    sent: list[Any] = []
    bench.send = lambda content, *_: sent.append(content)
    bench._handle_custom_msg({"kind": "set", "path": RADIUS, "value": 37.0, "seq": 3, "from": "a"}, [])
    assert sent[0]["kind"] == "state"
    assert bench.rig == rig().replace(RADIUS, 37.0)


def test_without_the_notebooks_parts_the_bench_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delitem(sys.modules, "linkage.widgets.widget", raising=False)
    monkeypatch.setitem(sys.modules, "anywidget", None)
    with pytest.raises(ImportError, match=r"pip install .*\[notebook\]"):
        linkage.bench(rig())


def test_the_bench_wears_the_houses_colours() -> None:
    text = (FRONT / "bench.css").read_text(encoding="utf-8")
    worn = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", text))
    named = {name: getattr(style, name.upper()) for name in ("ink", "soft", "faint", "grid", "paper", "body")}
    named |= {"good": style.GOOD, "warn": style.WARN, "bad": style.BAD, "blue": style.PALETTE[0].lower()}
    assert worn == named
