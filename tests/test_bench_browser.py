"""The bench on the screen: JupyterLab in Chromium, driven as a hand would drive it."""

from __future__ import annotations

import json
import math
import os
import shutil
import socket
import statistics
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import linkage

ROOT = Path(__file__).parents[1]
CHROMIUM = Path("/usr/bin/chromium")
FLAGS = (
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
)

RADIUS = "shaft.left.arm.drive.radius"
ANGLE = "shaft.left.arm.drive.angle"
LENGTH = "link.left.length"

if os.environ.get("CI") != "true":
    pytest.importorskip("playwright")
    pytest.importorskip("jupyterlab")
    pytest.importorskip("anywidget")
    if not CHROMIUM.exists():
        pytest.skip("no chromium here", allow_module_level=True)

BENCH = """
import linkage
bench = linkage.bench(linkage.read("../demo/flat_six.toml"))
bench
"""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the notebooks, the demos and a notebook that has only a bench."""
    import nbformat

    folder = tmp_path_factory.mktemp("lab")
    for name in ("notebooks", "demo"):
        shutil.copytree(ROOT / name, folder / name)
    book: Any = nbformat.v4.new_notebook()  # type: ignore[no-untyped-call]
    book.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3", "language": "python"}
    book.cells.append(nbformat.v4.new_code_cell(BENCH.strip()))  # type: ignore[no-untyped-call]
    nbformat.write(book, folder / "notebooks" / "bench_only.ipynb")  # type: ignore[no-untyped-call]
    return folder


@pytest.fixture(scope="module")
def lab(shop: Path) -> Iterator[str]:
    """JupyterLab over that folder; its address."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    at = f"http://127.0.0.1:{port}"
    places = {f"JUPYTER_{name}_DIR": str(shop / ".jupyter" / name.lower()) for name in ("CONFIG", "DATA", "RUNTIME")}
    command = [
        *(sys.executable, "-m", "jupyterlab", "--no-browser", "--ip=127.0.0.1", f"--port={port}", "--allow-root"),
        *("--IdentityProvider.token=", f"--ServerApp.root_dir={shop}"),
    ]
    paths = os.pathsep.join([str(ROOT), *filter(None, [os.environ.get("PYTHONPATH", "")])])
    settings = shop / ".jupyter" / "config" / "jupyter_server_config.d"  # where an installed package puts them
    settings.mkdir(parents=True)
    shutil.copy(ROOT / "linkage" / "widgets" / "jupyter_server_config.json", settings / "throttle-linkage.json")
    with (shop / "jupyter.log").open("w") as log:
        running = subprocess.Popen(
            command, cwd=shop, stdout=log, stderr=log, env={**os.environ, **places, "PYTHONPATH": paths}
        )  # fmt: skip
        try:
            _until_it_answers(f"{at}/api", running, shop / "jupyter.log")
            yield at
        finally:
            running.terminate()
            running.wait(timeout=30)


def _until_it_answers(address: str, running: subprocess.Popen[bytes], log: Path) -> None:
    for _ in range(240):
        if running.poll() is not None:
            pytest.fail(f"JupyterLab does not start:\n{log.read_text()[-2000:]}")
        try:
            with urllib.request.urlopen(address, timeout=5):
                return
        except (urllib.error.URLError, OSError):
            time.sleep(0.5)
    pytest.fail("JupyterLab does not answer")


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=str(CHROMIUM), args=list(FLAGS))
        yield browser
        browser.close()


def opened(chromium: Any, lab: str, notebook: str, *, width: int = 1400, height: int = 1000, zoom: int = 1) -> Any:
    """A page with a notebook that has been run from top to bottom, its bench at rest."""
    size = {"width": width // zoom, "height": height // zoom}
    page = chromium.new_context(viewport=size, device_scale_factor=zoom).new_page()
    page.set_default_timeout(120_000)
    page.goto(f"{lab}/lab/tree/notebooks/{notebook}.ipynb?reset")
    page.locator(".jp-Notebook .jp-Cell").first.wait_for()
    page.locator("#jp-main-statusbar").get_by_text("| Idle").wait_for()  # the kernel is there
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.locator('li.lm-Menu-item[data-command="runmenu:run-all"]').click()
    _scrolled_to_the_bench(page)
    rested(page)
    _scrolled_to_the_bench(page)  # pictures above it may have come since
    return page


def _scrolled_to_the_bench(page: Any) -> None:
    """A long notebook keeps only the cells that are looked at on the page."""
    down = """e => {
      const end = e.scrollTop + e.clientHeight >= e.scrollHeight - 4;
      e.scrollTop = end ? 0 : e.scrollTop + 300;
    }"""
    for _ in range(300):
        if page.locator(".linkage-bench .lb-head").is_visible():
            page.locator(".linkage-bench .lb-head").scroll_into_view_if_needed()
            return
        page.locator(".jp-WindowedPanel-outer").first.evaluate(down)
        page.wait_for_timeout(400)
    pytest.fail(f"no bench on the page:\n{page.locator('.jp-Notebook').inner_text()[-1500:]}")


def rested(page: Any) -> None:
    """Wait until every check is worked out for what is on the screen."""
    page.wait_for_function(
        "() => { const b = document.querySelector('.linkage-bench');"
        " return b.dataset.left === '0' && !b.dataset.asking; }"
    )


@pytest.fixture(scope="module")
def page(chromium: Any, lab: str) -> Any:
    return opened(chromium, lab, "bench_only")


@pytest.fixture(autouse=True)
def _begin_as_drawn(request: pytest.FixtureRequest) -> Iterator[None]:
    yield
    if "page" in request.fixturenames:
        page = request.getfixturevalue("page")
        if page.get_by_role("button", name="Forget it").is_visible():
            page.get_by_role("button", name="Forget it").click()
        if page.get_by_role("button", name="Reset all").is_enabled():
            page.get_by_role("button", name="Reset all").click()
        press(page, 0)
        rested(page)


def put(page: Any, path: str, text: str) -> None:
    """Type a value and press Enter."""
    box = page.locator(f'.lb-box[data-path="{path}"]')
    box.fill(text)
    box.press("Enter")
    rested(page)


def value(page: Any, path: str) -> str:
    return str(page.locator(f'.lb-box[data-path="{path}"]').input_value())


def press(page: Any, percent: float) -> None:
    """Put the pedal at a share of the travel."""
    page.locator(".lb-pedal").evaluate(
        "(e, v) => { e.value = v; e.dispatchEvent(new Event('input', { bubbles: true })); }", percent
    )
    page.wait_for_function("v => document.querySelector('.lb-at').textContent.startsWith(`${v} %`)", arg=percent)


def on_screen(page: Any, kind: str, name: str) -> tuple[float, float]:
    """Middle of a circle of the drawing [px]."""
    circle = page.locator(f'.lb-drawing .lb-layer-{kind} [data-key="{name}"]')
    return float(circle.get_attribute("cx")), float(circle.get_attribute("cy"))


def pin_out(page: Any, pin: str) -> tuple[float, float]:
    """Where a pin stands from its pivot on the screen [mm], by the distance of the shafts, 350 mm."""
    left, right = (on_screen(page, "pivots", f"{side} ring") for side in ("left", "right"))
    size = 350.0 / (right[0] - left[0])
    x, y = on_screen(page, "handles", f"pin:{pin}")
    at = on_screen(page, "pivots", f"{pin.partition('.')[0]} ring")
    return size * (x - at[0]), -size * (y - at[1])


def polar(radius: float, angle: float) -> tuple[float, float]:
    return radius * math.cos(math.radians(angle)), radius * math.sin(math.radians(angle))


def word(page: Any, light: str) -> str:
    return str(page.locator(f'.lb-light[data-name="{light}"] .lb-word').inner_text())


# ---- what is on the screen ---------------------------------------------------------------------------


def test_the_first_notebook_runs_and_puts_a_bench_on_the_screen(chromium: Any, lab: str) -> None:
    page = opened(chromium, lab, "01_first_linkage")
    assert page.locator(".lb-head h2").inner_text() == "V4, first survey"
    assert "FAIL" in page.locator(".lb-badge").inner_text()
    assert page.locator('[data-mime-type="application/vnd.jupyter.stderr"]').count() == 0
    page.context.close()


def test_the_drawing_stands_as_drawn(page: Any) -> None:
    assert pin_out(page, "left.drive") == pytest.approx(polar(35.0, 72.0), abs=0.1)
    assert pin_out(page, "right.drive") == pytest.approx(polar(28.0, -89.5), abs=0.1)
    assert page.locator(".lb-badge b").inner_text() == "PASS"


def test_a_dragged_slider_moves_the_drawing_the_figures_and_the_verdict(page: Any) -> None:
    slider = page.locator(f'.lb-range[data-path="{RADIUS}"]')
    slider.scroll_into_view_if_needed()
    box = slider.bounding_box()
    x, y = box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"]
    page.mouse.move(x, y)
    page.mouse.down()
    for step in range(1, 21):
        page.mouse.move(x + 4.0 * step, y)
    page.mouse.up()
    rested(page)
    radius = float(value(page, RADIUS))
    assert radius > 40.0
    assert pin_out(page, "left.drive") == pytest.approx(polar(radius, 72.0), abs=0.1)
    answer = linkage.answers.check(linkage.read(ROOT / "demo" / "flat_six.toml").replace(RADIUS, radius))
    checks = {check.name: check for check in answer.checks}
    for name in ("mismatch", "mismatch_off_idle", "wide_open_shortfall", "transmission_angle"):
        assert word(page, name).lower() == checks[name].verdict
    found = page.locator('.lb-light[data-name="mismatch"] .lb-found').inner_text()
    assert found == f"{checks['mismatch'].value:.3f}°"
    assert page.locator(".lb-badge b").inner_text() == "FAIL"
    assert checks["mismatch"].says[:40].lower() in page.locator(".lb-care").inner_text().lower()


def test_undo_and_redo_by_button_and_by_key(page: Any) -> None:
    put(page, ANGLE, "80")
    put(page, RADIUS, "36")
    page.get_by_role("button", name="Undo").click()
    rested(page)
    assert (value(page, RADIUS), value(page, ANGLE)) == ("35.00", "80.00")
    page.locator(".lb-pedal").focus()
    page.keyboard.press("Control+z")
    rested(page)
    assert value(page, ANGLE) == "72.00"
    assert pin_out(page, "left.drive") == pytest.approx(polar(35.0, 72.0), abs=0.1)
    page.keyboard.press("Control+Shift+z")
    rested(page)
    assert value(page, ANGLE) == "80.00"
    assert pin_out(page, "left.drive") == pytest.approx(polar(35.0, 80.0), abs=0.1)


def test_a_typed_value_may_bring_its_own_unit_and_a_wrong_one_is_told_beside_it(page: Any) -> None:
    put(page, RADIUS, "1 1/4 in")
    assert value(page, RADIUS) == "31.75"
    put(page, RADIUS, "33,5")
    row = page.locator(f'.lb-row[data-path="{RADIUS}"]')
    assert "comma" in row.locator(".lb-says").inner_text()
    assert row.locator(".lb-box").get_attribute("aria-invalid") == "true"
    assert pin_out(page, "left.drive") == pytest.approx(polar(31.75, 72.0), abs=0.1)
    row.locator(".lb-box").press("Escape")
    assert value(page, RADIUS) == "31.75"
    assert not row.locator(".lb-says").is_visible()


def test_keys_move_a_slider_by_its_step_and_stay_at_the_bench(page: Any) -> None:
    cells = page.locator(".jp-Cell").count()
    slider = page.locator(f'.lb-range[data-path="{ANGLE}"]')
    slider.focus()
    for key in ("ArrowRight", "ArrowRight", "ArrowUp", "d", "d", "a", "z"):
        page.keyboard.press(key)
    rested(page)
    assert value(page, ANGLE) == "72.75"  # three steps of the design's clocking tolerance, a quarter degree
    assert page.locator(".jp-Cell").count() == cells
    assert page.evaluate("document.activeElement.dataset.path") == ANGLE


def test_a_pin_is_dragged_on_the_drawing(page: Any) -> None:
    handle = page.locator('.lb-handle[data-key="pin:left.drive"]')
    box = handle.bounding_box()
    x, y = box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"]
    scale = (on_screen(page, "pivots", "right ring")[0] - on_screen(page, "pivots", "left ring")[0]) / 350.0
    start, end = polar(35.0, 72.0), polar(40.0, 90.0)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + scale * (end[0] - start[0]), y - scale * (end[1] - start[1]), steps=8)
    page.mouse.up()
    rested(page)
    assert float(value(page, RADIUS)) == pytest.approx(40.0, abs=0.5)
    assert float(value(page, ANGLE)) == pytest.approx(90.0, abs=1.0)
    assert pin_out(page, "left.drive") == pytest.approx(
        polar(float(value(page, RADIUS)), float(value(page, ANGLE))), abs=0.1
    )
    handle.focus()
    before = float(value(page, RADIUS))
    for _ in range(4):
        page.keyboard.press("ArrowUp")  # half a millimetre each, straight along the arm
    rested(page)
    assert float(value(page, RADIUS)) == pytest.approx(before + 2.0, abs=0.15)


def test_what_is_locked_cannot_be_moved(page: Any) -> None:
    lock = page.get_by_role("button", name="Lock Shaft left, arm drive, radius")
    lock.click()
    rested(page)
    assert page.locator(f'.lb-range[data-path="{RADIUS}"]').is_disabled()
    assert lock.get_attribute("aria-pressed") == "true"
    lock.click()
    rested(page)
    assert page.locator(f'.lb-range[data-path="{RADIUS}"]').is_enabled()


def test_the_pedal_turns_the_plates_without_the_kernel(page: Any) -> None:
    sent = page.evaluate("document.querySelector('.linkage-bench').bench.kernel.sent")
    press(page, 100)
    plate = page.locator('.lb-plate[data-key="left"]')
    x1, y1, x2, y2 = (float(plate.get_attribute(name)) for name in ("x1", "y1", "x2", "y2"))
    run = linkage.solve(linkage.read(ROOT / "demo" / "flat_six.toml"))
    assert run.cable is not None
    assert run.pedal is not None
    angle = math.degrees(math.atan2(abs(y2 - y1), abs(x2 - x1)))
    assert angle == pytest.approx(float(run.plate_angle["left"][-1]), abs=0.3)
    assert page.locator(".lb-at").inner_text() == f"100 % · cable {run.cable[-1]:.1f} mm · pad {run.pedal[-1]:.1f} mm"
    page.get_by_role("button", name="Play").click()
    page.wait_for_function("() => !document.querySelector('.lb-at').textContent.startsWith('100 %')")
    page.get_by_role("button", name="Pause").click()
    assert page.evaluate("document.querySelector('.linkage-bench').bench.kernel.sent") == sent


def test_a_kept_design_shows_behind_the_new_one(page: Any) -> None:
    assert page.locator(".lb-layer-ghost path").count() == 0
    page.get_by_role("button", name="Keep to compare").click()
    put(page, RADIUS, "38")
    assert page.locator(".lb-layer-ghost path").count() == 1
    assert page.locator(".lb-field .lb-kept").count() == 3
    light = page.locator('.lb-light[data-name="mismatch"]')
    assert "kept 0.324" in light.inner_text()
    page.get_by_role("button", name="Back to the kept one").click()
    rested(page)
    assert value(page, RADIUS) == "35.00"


def test_parts_that_do_not_go_together_are_told_in_the_bench(page: Any) -> None:
    page.get_by_role("checkbox", name="fitted").first.uncheck()
    put(page, LENGTH, "120")
    assert page.locator(".lb-badge b").inner_text() == "CANNOT BE ASSEMBLED"
    assert "too short" in page.locator(".lb-gone").inner_text()
    assert page.locator(".lb-layer-links line").count() == 0  # nothing stale is left on the drawing
    assert page.locator(".lb-dot, .lb-curve").count() == 0  # nor in the curves and the lights
    assert "".join(page.locator(".lb-now").all_inner_texts()).strip() == ""
    assert set(page.locator(".lb-light .lb-word").all_inner_texts()) == {"–"}
    assert "".join(page.locator(".lb-light .lb-found").all_inner_texts()) == ""
    assert page.locator(".jp-OutputArea-output pre").count() == 0
    page.get_by_role("button", name="Undo").click()
    rested(page)
    assert not page.locator(".lb-gone").is_visible()
    assert page.locator(".lb-layer-links line").count() == 2


def test_a_value_far_out_leaves_nothing_behind(page: Any) -> None:
    page.get_by_role("group", name="View").get_by_role("button", name="Fit").click()
    slider = page.locator(f'.lb-range[data-path="{RADIUS}"]')
    ends = [slider.get_attribute(end) for end in ("min", "max")]
    apart = on_screen(page, "pivots", "right ring")[0] - on_screen(page, "pivots", "left ring")[0]
    put(page, RADIUS, "9000")
    assert slider.input_value() == "9000"
    page.get_by_role("button", name="Undo").click()
    rested(page)
    assert [slider.get_attribute(end) for end in ("min", "max")] == ends
    now = on_screen(page, "pivots", "right ring")[0] - on_screen(page, "pivots", "left ring")[0]
    assert now == pytest.approx(apart, abs=0.5)  # the drawing fills its frame again


def test_save_as_design_file(page: Any, shop: Path) -> None:
    put(page, RADIUS, "35.5")
    page.get_by_label("Name of the design file").fill("mine")
    for words in ("Save as design file", "Replace that file"):
        page.get_by_role("button", name=words).click()
        page.wait_for_function("() => /Saved as|stands there/.test(document.querySelector('.lb-note').textContent)")
        text = (shop / "notebooks" / "mine.toml").read_text(encoding="utf-8")
        assert "stands up: the link passes above the shaft" in text  # a comment of the file it was read from
        assert linkage.dimensions(linkage.parse(text))[RADIUS] == 35.5
        page.get_by_label("Name of the design file").fill("mine.toml")
        if words == "Save as design file":
            page.get_by_role("button", name=words).click()
            page.get_by_role("button", name="Replace that file").wait_for()
    assert "mine.toml" in page.locator(".lb-note").inner_text()


def test_the_approval_sheet_is_made_and_replaced_only_when_asked(page: Any, shop: Path) -> None:
    page.get_by_label("Name of the design file").fill("signed")
    told = "() => /approval sheet is|stands there/.test(document.querySelector('.lb-note').textContent)"
    for says in ("The approval sheet is", "stands there"):
        page.get_by_role("button", name="Make the approval sheet").click()
        page.wait_for_function(told)
        assert says in page.locator(".lb-note").inner_text()
    assert (shop / "notebooks" / "signed_approval.pdf").read_bytes().startswith(b"%PDF")
    assert page.get_by_role("button", name="Replace that sheet").is_visible()
    page.get_by_label("Name of the design file").fill("other")
    assert page.get_by_role("button", name="Make the approval sheet").is_visible()


def test_send_to_fit_comes_back_as_one_step(page: Any) -> None:
    put(page, ANGLE, "80")
    assert page.locator(".lb-badge b").inner_text() == "FAIL"
    page.get_by_role("button", name="Send to fit").click()
    page.get_by_role("button", name="Fit", exact=True).last.click()
    page.wait_for_function("() => document.querySelector('.lb-note').textContent.startsWith('Fitted')")
    rested(page)
    assert word(page, "mismatch") == "pass"
    page.get_by_role("button", name="Undo fit").click()
    rested(page)
    assert (value(page, ANGLE), word(page, "mismatch")) == ("80.00", "FAIL")
    page.get_by_role("button", name="Send to fit").click()


# ---- for everyone -----------------------------------------------------------------------------------


def test_lights_speak_by_shape_and_word(page: Any) -> None:
    put(page, ANGLE, "76")
    seen = page.evaluate(
        "() => [...document.querySelectorAll('.lb-light')].map(e =>"
        " [e.dataset.word, e.querySelector('.lb-word').textContent, e.querySelector('path').getAttribute('d')])"
    )
    by_word = {told: {(text, shape) for one, text, shape in seen if one == told} for told, _, _ in seen}
    assert set(by_word) >= {"pass", "fail"}
    assert all(len(looks) == 1 for looks in by_word.values())
    assert len({next(iter(looks)) for looks in by_word.values()}) == len(by_word)


def test_the_keyboard_reaches_everything_and_everything_has_a_name(page: Any) -> None:
    faults = page.evaluate(
        """() => {
          const bench = document.querySelector('.linkage-bench');
          const all = [...bench.querySelectorAll('button, input, summary, [tabindex]')];
          const name = (e) => e.getAttribute('aria-label') || e.innerText || e.textContent
            || [...(e.labels ?? [])].map((l) => l.innerText || l.textContent).join();
          const bad = all.filter((e) => e.tabIndex < 0 || !name(e).trim());
          return [all.length, bad.map((e) => e.outerHTML.slice(0, 120))];
        }"""
    )
    assert faults[0] > 300
    assert faults[1] == []


@pytest.mark.parametrize(("width", "zoom"), [(1400, 2), (1024, 1), (700, 1)])
def test_nothing_is_cut_off_when_it_is_narrow_or_large(chromium: Any, lab: str, width: int, zoom: int) -> None:
    page = opened(chromium, lab, "bench_only", width=width, height=1600, zoom=zoom)
    over = page.evaluate(
        """() => [...document.querySelectorAll('.linkage-bench, .linkage-bench *:not(svg *):not(.lb-hidden)')]
          .filter((e) => e.clientWidth > 0 && !e.matches('input, .lb-unit, .lb-stage'))
          .filter((e) => e.scrollWidth > e.clientWidth + 1)
          .map((e) => e.className + ' ' + e.scrollWidth + ' > ' + e.clientWidth)"""
    )
    assert over == []
    page.context.close()


# ---- how fast --------------------------------------------------------------------------------------

WATCH = """([slider, shown]) => {
  const bench = document.querySelector('.linkage-bench');
  const [moving, told] = [slider, shown].map((one) => bench.querySelector(one));
  const kernel = bench.bench.kernel;
  const seen = window.seen = { moved: [], shown: [], most: 0, sent: 0 };
  moving.addEventListener('input', (e) => seen.moved.push([moving.valueAsNumber, e.timeStamp]), true);
  const send = kernel.model.send.bind(kernel.model);
  let flying = 0;
  kernel.model.send = (message) => {
    flying += 1;
    seen.sent += 1;
    seen.most = Math.max(seen.most, flying);
    send(message);
  };
  const heard = kernel.heard.bind(kernel);
  kernel.heard = (reply) => {
    if (reply.to === kernel.name && reply.kind !== 'progress') flying -= 1;
    heard(reply);
  };
  new MutationObserver(() => {
    const value = Number(told.value);
    const after = new MessageChannel(); // its task runs when the frame that is being made is painted
    after.port1.onmessage = () => seen.shown.push([value, performance.now()]);
    after.port2.postMessage(0);
  }).observe(bench.querySelector('.lb-layer-links'), { attributes: true, subtree: true });
}"""


def drawn_to_and_fro(page: Any, slider: str, shown: str, reach: float) -> dict[str, Any]:
    """Drag a slider for two seconds or so; what was asked for and what was seen, when."""
    page.evaluate(WATCH, [slider, shown])
    moving = page.locator(slider)
    moving.scroll_into_view_if_needed()
    box = moving.bounding_box()
    x, y = box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"]
    page.mouse.move(x, y)
    page.mouse.down()
    for step in range(120):
        page.mouse.move(x + reach * math.sin(step / 11.0), y)
        page.wait_for_timeout(12)
    page.mouse.up()
    rested(page)
    return dict(page.evaluate("window.seen"))


def test_the_drawing_follows_the_hand(chromium: Any, lab: str, record_property: Any) -> None:
    """Newest wins, one question in the air, and what is left on the screen is what was asked for last.

    The time from a move of the hand to the screen is printed and not judged: it is the machine's too.
    """
    page = opened(chromium, lab, "bench_only")
    slider = f'.lb-range[data-path="{RADIUS}"]'
    seen = drawn_to_and_fro(page, slider, f'.lb-box[data-path="{RADIUS}"]', 40.0)
    last = seen["moved"][-1][0]
    assert float(value(page, RADIUS)) == pytest.approx(last)
    assert float(page.locator(slider).input_value()) == pytest.approx(last)
    assert pin_out(page, "left.drive") == pytest.approx(polar(last, 72.0), abs=0.1)
    assert seen["most"] == 1
    assert seen["sent"] <= 2 * len(seen["moved"]) + 2  # of each move the drawing, and where the hand rests the rest
    record_property("bench, from a slider to the screen", figures(seen))
    page.context.close()


def test_the_drawing_follows_the_foot(chromium: Any, lab: str, record_property: Any) -> None:
    """The pedal asks the kernel for nothing, and the drawing stands where it was left."""
    page = opened(chromium, lab, "bench_only")
    seen = drawn_to_and_fro(page, ".lb-pedal", ".lb-pedal", 90.0)
    last = seen["moved"][-1][0]
    assert seen["sent"] == 0
    assert page.locator(".lb-at").inner_text().startswith(f"{math.floor(last + 0.5)} %")
    run = linkage.solve(linkage.read(ROOT / "demo" / "flat_six.toml")).at_fraction(last / 100.0)
    turned = 72.0 + float(run.member_turn["left"][0])
    assert pin_out(page, "left.drive") == pytest.approx(polar(35.0, turned), abs=0.2)
    record_property("bench, from the pedal to the screen", figures(seen))
    page.context.close()


def figures(seen: dict[str, list[list[float]]]) -> str:
    """From the last move to a value until that value is on the screen."""
    found = []
    for shown, when in seen["shown"]:
        moves = [at for moved, at in seen["moved"] if abs(moved - shown) < 1e-6 and at <= when]
        if moves:
            found.append(when - moves[-1])
    assert len(found) > 5, json.dumps(seen)[:500]
    middle, late = statistics.median(found), sorted(found)[int(0.9 * len(found))]
    told = f"median {middle:.0f} ms, nine in ten within {late:.0f} ms over {len(found)} repaints"
    return f"{told}; load {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors"
