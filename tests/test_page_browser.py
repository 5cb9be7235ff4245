"""The customer's page in a real browser: from a disk, by mouse and keys, on a phone, on paper, without a script."""

from __future__ import annotations

import io
import json
import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pdfplumber
import pytest
from customers import DATE, TITLE, answered, fine, harmful

from linkage.answers.mismatch import spread
from linkage.paper.approval_html import approval_html
from linkage.paper.page import page

CHROMIUM = "/usr/bin/chromium"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]  # fmt: skip

NAME = "flat_six"


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        if os.environ.get("CI") == "true":
            raise
        pytest.skip("playwright is not installed")
    if not os.path.exists(CHROMIUM):
        assert os.environ.get("CI") != "true", f"{CHROMIUM} is missing"
        pytest.skip(f"{CHROMIUM} is missing")
    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield started
        started.close()


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pages")
    texts = {
        "page": page(answered(NAME), date=DATE),
        "deep": page(answered("skew_bell_crank"), date=DATE),
        "sheet": approval_html(answered(NAME), date=DATE),
        "harm": page(harmful(), date=DATE),
        "harm_sheet": approval_html(harmful(), date=DATE),
    }
    for name, text in texts.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8")
    return folder


Open = Callable[..., Any]


@pytest.fixture
def opened(browser: Any, files: Path) -> Iterator[Open]:
    """Open a page from the disk; when the test is over, it must have asked for nothing and said nothing."""
    contexts: list[Any] = []
    told: list[str] = []

    def go(name: str = "page", *, wide: int = 1280, high: int = 900, still: bool = True, **more: Any) -> Any:
        motion = "reduce" if still else "no-preference"
        context = browser.new_context(viewport={"width": wide, "height": high}, reduced_motion=motion, **more)
        contexts.append(context)
        shown = context.new_page()
        address = (files / f"{name}.html").as_uri()
        shown.on("console", lambda message: told.append(f"console: {message.text}"))
        shown.on("pageerror", lambda error: told.append(f"error: {error}"))
        shown.on("request", lambda sent: None if sent.url == address else told.append(f"request: {sent.url}"))

        def dismissed(dialog: Any) -> None:
            told.append(f"dialog: {dialog.message}")
            dialog.dismiss()

        shown.on("dialog", dismissed)
        shown.goto(address)
        return shown

    yield go
    for context in contexts:
        context.close()
    assert told == []


def place(shown: Any) -> int:
    return int(shown.locator("#pedal").input_value())


def read_off(shown: Any) -> dict[str, str]:
    """What the page shows under the pedal, by name."""
    cells = shown.locator("#read > div")
    found = {}
    for i in range(cells.count()):
        cell = cells.nth(i)
        found[cell.locator("dt").inner_text()] = cell.locator("dd").inner_text()
    return found


def solved(percent: int) -> dict[str, float]:
    """The same from the solver."""
    run = fine(answered(NAME).run)
    assert run.pedal is not None
    assert run.cable is not None
    values = {"Pedal": run.pedal, "Cable": run.cable, "Plates apart": spread(run)}
    values |= {f"Plate {shaft}": angle for shaft, angle in run.plate_angle.items()}
    return {words: float(value[percent]) for words, value in values.items()}


def assert_solved(shown: Any, percent: int) -> None:
    read = read_off(shown)
    for words, value in solved(percent).items():
        digits = 3 if words == "Plates apart" else 2
        number = re.match(r"[\d.]+", read[words])
        assert number is not None
        assert float(number[0]) == pytest.approx(value, abs=0.5 * 10.0**-digits + 1e-9), words
    assert shown.locator("#share").inner_text() == f"{percent} %"


def drawn_at(shown: Any) -> list[dict[str, Any]]:
    """Every moving shape with the tracks that it follows and where it stands."""
    shapes: list[dict[str, Any]] = shown.evaluate(
        """() => [...document.querySelectorAll('[data-a],[data-b]')].map(shape => ({
            a: shape.dataset.a, b: shape.dataset.b,
            at: ['x1','y1','x2','y2','cx','cy'].map(name => shape.getAttribute(name))}))"""
    )
    return shapes


def assert_drawn(shown: Any, percent: int) -> None:
    """Every shape stands where its tracks are at that percent."""
    tracks = json.loads(shown.locator("#motion").text_content())["tracks"]
    shapes = drawn_at(shown)
    assert len(shapes) > 20
    for shape in shapes:
        x1, y1, x2, y2, cx, cy = (None if v is None else float(v) for v in shape["at"])
        for key, at in (("a", (x1, y1) if cx is None else (cx, cy)), ("b", (x2, y2))):
            if shape[key] is not None:
                track = np.array(tracks[int(shape[key])])[:, : percent + 1].sum(axis=1) / 10.0
                assert at == pytest.approx(tuple(track), abs=1e-9)


# moving it


def test_it_plays_by_itself_until_it_is_stopped(opened: Open) -> None:
    shown = opened(still=False)
    shown.wait_for_function("() => Number(document.getElementById('pedal').value) > 5")
    button = shown.get_by_role("button", name="Pause")
    button.click()
    stopped = place(shown)
    assert stopped > 5
    shown.evaluate("() => new Promise(done => setTimeout(done, 200))")
    assert place(shown) == stopped
    assert_solved(shown, stopped)
    assert_drawn(shown, stopped)
    assert shown.get_by_role("status").inner_text() == f"Stopped at {stopped} % of the travel."
    shown.get_by_role("button", name="Play").click()
    shown.wait_for_function(f"() => Number(document.getElementById('pedal').value) !== {stopped}")


def test_it_stands_still_for_those_who_ask_for_less_motion(opened: Open) -> None:
    shown = opened(still=True)
    shown.evaluate("() => new Promise(done => setTimeout(done, 300))")
    assert place(shown) == 0
    assert shown.get_by_role("button", name="Play").is_visible()
    assert_solved(shown, 0)
    assert_drawn(shown, 0)


def test_dragging_the_pedal_moves_the_linkage(opened: Open) -> None:
    shown = opened()
    slider = shown.get_by_role("slider", name="Pedal")
    slider.scroll_into_view_if_needed()
    box = slider.bounding_box()
    middle = box["y"] + 0.5 * box["height"]
    seen = []
    shown.mouse.move(box["x"] + 8.0, middle)
    shown.mouse.down()
    for share in (0.3, 0.52, 0.77):
        shown.mouse.move(box["x"] + share * box["width"], middle, steps=4)
        seen.append(place(shown))
        assert seen[-1] == pytest.approx(100.0 * share, abs=3.0)
        assert_solved(shown, seen[-1])
        assert_drawn(shown, seen[-1])
    shown.mouse.up()
    assert seen == sorted(set(seen))


def test_a_drag_takes_over_from_the_film(opened: Open) -> None:
    shown = opened(still=False)
    slider = shown.locator("#pedal")
    slider.dispatch_event("pointerdown")  # the hand is on it already, though it has not moved
    assert shown.get_by_role("button", name="Play").is_visible()
    shown.get_by_role("button", name="Play").click()
    slider.scroll_into_view_if_needed()
    box = slider.bounding_box()
    shown.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"])
    shown.mouse.down()
    shown.mouse.up()
    stopped = place(shown)
    assert stopped == pytest.approx(50, abs=3)
    assert shown.get_by_role("button", name="Play").is_visible()
    assert_solved(shown, stopped)


def test_every_key_of_a_slider_works(opened: Open) -> None:
    shown = opened()
    shown.keyboard.press("Tab")
    assert shown.evaluate("() => document.activeElement.id") == "play"
    shown.keyboard.press("Tab")
    assert shown.evaluate("() => document.activeElement.id") == "pedal"
    steps = {"ArrowRight": 1, "ArrowUp": 2, "ArrowLeft": 1, "End": 100, "PageDown": 90, "Home": 0, "PageUp": 10}
    for key, wanted in steps.items():
        shown.keyboard.press(key)
        assert place(shown) == wanted, key
        assert_solved(shown, wanted)
        assert_drawn(shown, wanted)
    shown.keyboard.press("Space")
    shown.wait_for_function("() => Number(document.getElementById('pedal').value) !== 10")
    shown.keyboard.press("Space")
    assert shown.get_by_role("button", name="Play").is_visible()


def test_a_screen_reader_is_told_the_place_in_words_and_is_not_talked_over(opened: Open) -> None:
    shown = opened()
    slider = shown.get_by_role("slider", name="Pedal")
    slider.focus()
    shown.keyboard.press("End")
    words = slider.get_attribute("aria-valuetext")
    read = read_off(shown)
    assert words == "100 % of the travel, " + ", ".join(f"{name} {value}" for name, value in read.items())
    assert shown.locator("[aria-live], [role=status], [role=alert], [role=log], output").count() == 1
    assert shown.get_by_role("status").inner_text() == ""
    assert shown.get_by_role("img", name=re.compile("^The linkage, front view")).count() == 1
    shown.keyboard.press("Space")  # while it plays, the words stay as they are
    shown.wait_for_function("() => Number(document.getElementById('pedal').value) < 100")
    assert slider.get_attribute("aria-valuetext") == words


def test_between_two_positions_it_draws_straight_on(opened: Open) -> None:
    shown = opened(still=False)
    shown.wait_for_function("() => Number(document.getElementById('pedal').value) > 2")
    tracks = json.loads(shown.locator("#motion").text_content())["tracks"]
    whole = [np.cumsum(track, axis=1) / 10.0 for track in tracks]
    for shape in drawn_at(shown):
        if shape["b"] is not None:
            x, y = float(shape["at"][2]), float(shape["at"][3])
            track = whole[int(shape["b"])]
            low, high = track.min(axis=1), track.max(axis=1)
            assert low[0] - 0.06 <= x <= high[0] + 0.06
            assert low[1] - 0.06 <= y <= high[1] + 0.06


# other screens, paper, no script


@pytest.mark.parametrize("name", ["page", "deep", "sheet", "harm"])
@pytest.mark.parametrize("wide", [320, 400, 768, 1280])
def test_nothing_runs_out_of_the_screen(opened: Open, name: str, wide: int) -> None:
    shown = opened(name, wide=wide, high=700)
    assert shown.evaluate("() => document.documentElement.scrollWidth") <= wide
    for figure in shown.locator("svg:visible").all():
        box = figure.bounding_box()
        assert box["x"] >= 0.0
        assert box["x"] + box["width"] <= wide + 0.5


def test_on_a_phone_the_controls_are_large_enough_and_letters_can_be_read(opened: Open) -> None:
    shown = opened(wide=400, high=800, has_touch=True, is_mobile=True, device_scale_factor=2)
    for control in (shown.get_by_role("button", name="Play"), shown.get_by_role("slider", name="Pedal")):
        assert control.bounding_box()["height"] >= 36.0
    assert shown.locator("#pedal").bounding_box()["width"] > 300.0
    sizes = shown.evaluate(
        """() => [...document.querySelectorAll('#live text, .curves text')].map(text =>
            parseFloat(getComputedStyle(text).fontSize) * text.getCTM().a)"""
    )
    assert min(sizes) > 7.5
    shown.get_by_role("button", name="Play").tap()
    shown.wait_for_function("() => Number(document.getElementById('pedal').value) > 0")


def test_the_pedal_stays_in_sight_over_the_curves(opened: Open) -> None:
    shown = opened(wide=400, high=700)
    shown.locator(".curves svg").last.scroll_into_view_if_needed()
    box = shown.locator("#pedal").bounding_box()
    assert 0.0 <= box["y"] < 700.0 - box["height"]


def test_on_paper_the_still_pictures_take_the_place_of_the_moving_one(opened: Open) -> None:
    shown = opened(wide=1000)
    assert not shown.locator(".stills").is_visible()
    shown.emulate_media(media="print")
    for hidden in ("#live", ".drive", "#read"):
        assert not shown.locator(hidden).is_visible()
    assert shown.locator(".stills figure").count() == 3
    assert shown.locator(".stills").is_visible()
    assert not shown.locator(".curves [data-a]").first.is_visible()
    with pdfplumber.open(io.BytesIO(shown.pdf(format="A4"))) as pdf:
        text = "\n".join(part.extract_text() for part in pdf.pages)
        right = max(word["x1"] for part in pdf.pages for word in part.extract_words())
        assert right < pdf.pages[0].width
        assert len(pdf.pages) <= 4
    for name, angles in answered(NAME).run.at_fraction([0.0, 0.5, 1.0]).plate_angle.items():
        for angle in angles:
            assert re.search(rf"Plate {name} {angle:.2f}°", text)
    assert "Idle" in text
    assert "Move the pedal" not in text


def test_without_a_script_the_still_pictures_are_there(opened: Open) -> None:
    shown = opened(java_script_enabled=False)
    assert not shown.locator("#live").is_visible()
    assert not shown.locator(".drive").is_visible()
    assert shown.locator(".stills svg:visible").count() == 3
    assert not shown.locator(".curves [data-b]").first.is_visible()
    text = shown.locator("body").inner_text()
    for angles in answered(NAME).run.at_fraction([0.0, 0.5, 1.0]).plate_angle.values():
        assert all(f"{angle:.2f}°" in text for angle in angles)


@pytest.mark.parametrize("name", ["harm", "harm_sheet"])
def test_a_design_cannot_write_the_page(opened: Open, name: str) -> None:
    shown = opened(name)
    assert shown.locator("h1").inner_text() == TITLE
    assert shown.locator("script").count() == (2 if name == "harm" else 0)
    assert shown.locator("img, h1 *, dd *").count() == 0
    shown.evaluate("() => new Promise(done => setTimeout(done, 100))")


def test_the_policy_holds(opened: Open, browser: Any, files: Path) -> None:
    context = browser.new_context()
    shown = context.new_page()
    said: list[str] = []
    shown.on("console", lambda message: said.append(message.text))
    shown.goto((files / "page.html").as_uri())
    shown.evaluate(
        """() => { const script = document.createElement('script'); script.textContent = 'window.got = 1';
                   document.body.append(script); }"""
    )
    assert shown.evaluate("() => window.got") is None
    assert any("Content Security Policy" in text for text in said)
    context.close()
