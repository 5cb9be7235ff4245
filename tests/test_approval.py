"""The approval sheet: its figures are the solver's, its pages are whole, and it is the same every time."""

from __future__ import annotations

import dataclasses
import datetime
import functools
import hashlib
import html.parser
import io
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pdfplumber
import pytest
from click.testing import CliRunner, Result
from customers import DATE, DEMO, DESIGNS, TITLE, answered, harmful
from PIL import Image
from trains import parallel_pair

from linkage.answers import CAUTION, Check, check
from linkage.answers.mismatch import spread
from linkage.answers.progression import TABLE
from linkage.cli import throttle_linkage
from linkage.design_file import parse, read
from linkage.motion import solve
from linkage.paper.approval import UNSIGNED, approval, drawing_and_revision, told
from linkage.paper.approval_html import approval_html
from linkage.paper.approval_pdf import EDGE, approval_pdf, pages
from linkage.paper.asked import WORDS
from linkage.paper.chart import mismatch_chart, plate_angle_chart
from linkage.paper.ink import draw, readable, sheet, trimmed, width_of, wrapped
from linkage.paper.lines import SIGN
from linkage.paper.shapes import Bar, Dot, Words
from linkage.paper.stage import staged

PICTURES = Path(__file__).parent / "pictures"
A4 = (595.276, 841.89)
LETTER = (612.0, 792.0)


@functools.cache
def printed(name: str, paper: Any = "a4", fractions: bool = False) -> bytes:
    return approval_pdf(answered(name), date=DATE, paper=paper, fractions=fractions)


class Page(NamedTuple):
    """A page read back: its size, its lines, its words with their boxes, its smallest letter."""

    size: tuple[float, float]
    text: str
    words: list[dict[str, Any]]
    smallest: float


def read_pages(data: bytes) -> tuple[Page, ...]:
    with pdfplumber.open(io.BytesIO(data)) as pdf:
        return tuple(
            Page((page.width, page.height), page.extract_text(x_tolerance=1.5),
                 page.extract_words(x_tolerance=1.5, use_text_flow=True), min(char["size"] for char in page.chars))
            for page in pdf.pages
        )  # fmt: skip


@functools.cache
def pages_of(name: str, paper: Any = "a4", fractions: bool = False) -> tuple[Page, ...]:
    return read_pages(printed(name, paper, fractions))


def read_back(name: str, paper: Any = "a4", fractions: bool = False) -> tuple[str, ...]:
    """The text of every page."""
    return tuple(page.text for page in pages_of(name, paper, fractions))


def row(text: str, label: str) -> list[float]:
    """The numbers of the line that begins with a label."""
    (line,) = [line for line in text.splitlines() if line.startswith(label)]
    return [float(number.replace("−", "-")) for number in line.removeprefix(label).split()]


# the figures


@pytest.mark.parametrize("name", ["flat_six", "hand_set_links"])
def test_the_progression_table_is_the_solvers(name: str) -> None:
    run, text = answered(name).run, read_back(name)[1]
    at = run.at_fraction(TABLE)
    assert at.pedal is not None
    assert at.cable is not None
    wanted = {"Pedal at the pad [mm]": (at.pedal, 0.005), "Cable [mm]": (at.cable, 0.005)}
    wanted |= {f"Plate angle {shaft} [°]": (angle, 0.005) for shaft, angle in at.plate_angle.items()}
    wanted["Plates apart [°]"] = (spread(at), 0.0005)
    for label, (values, half_a_digit) in wanted.items():
        assert row(text, label) == pytest.approx(list(values), abs=half_a_digit + 1e-9), label


def test_inch_designs_are_told_in_inches_and_pounds() -> None:
    run, text = answered("v8_inches").run, read_back("v8_inches")[1]
    at = run.at_fraction(TABLE)
    assert at.pedal is not None
    assert row(text, "Pedal at the pad [in]") == pytest.approx(list(at.pedal / 25.4), abs=0.0005 + 1e-9)
    forces = answered("v8_inches").forces
    assert forces is not None
    assert forces.pedal is not None
    ends = row(text, "Force at the pedal [lbf]")
    assert (ends[0], ends[-1]) == pytest.approx(
        (forces.pedal[0] / 4.4482216152605, forces.pedal[-1] / 4.4482216152605), abs=0.005 + 1e-9
    )


@pytest.mark.parametrize("name", DESIGNS)
def test_what_is_read_off_at_idle_half_travel_and_wide_open(name: str) -> None:
    run, text = answered(name).run, read_back(name)[0]
    at = run.at_fraction([0.0, 0.5, 1.0])
    for shaft, angle in at.plate_angle.items():
        found = re.findall(rf"Plate {shaft} ([\d.]+)°", text)
        assert [float(v) for v in found] == pytest.approx(list(angle), abs=0.005 + 1e-9)


def test_fractions_are_the_nearest_sixty_fourth() -> None:
    text = "\n".join(read_back("v8_inches", "letter", True))
    found = re.findall(r"([\d.]+) in \(((?:\d+ )?\d+/\d+|\d+)\)", text)
    assert len(found) > 6
    for decimal, fraction in found:
        parts = sum(Fraction(part) for part in fraction.split())
        assert (64 * parts).denominator == 1
        assert abs(float(parts) - float(decimal)) <= 1 / 128 + 0.0005
    assert not re.findall(r" in \(", "\n".join(read_back("v8_inches")))
    with pytest.raises(ValueError, match="inches"):
        approval(answered("flat_six"), date=DATE, fractions=True)


@pytest.mark.parametrize("name", DESIGNS)
def test_every_check_stands_on_the_sheet_with_its_sign(name: str) -> None:
    answer, text = answered(name), "\n".join(read_back(name)[1:])
    asked = text[text.index("Asked against reached") : text.index("Taken for granted")]
    for word, sign in SIGN.items():
        assert asked.count(sign) == sum(one.verdict == word for one in answer.checks), word
    for one in answer.checks:
        assert WORDS[one.name] in asked


def test_words_are_known_for_every_check_of_every_example() -> None:
    names = {one.name for path in DEMO.glob("*.toml") for one in answered(path.stem).checks}
    assert names <= set(WORDS)
    assert len(names) > 30


def test_a_figure_that_passes_beyond_its_limit_is_explained() -> None:
    says = "the springs hold the play to one side."
    beyond = Check("lost_motion", "pass", 0.3, 0.2, "deg", "", says)
    within = (Check("lost_motion", "pass", 0.1, 0.2, "deg", "", says), Check("gap", "pass", 9.0, 5.0, "mm", "", says))
    short = Check("gap", "pass", 4.0, 5.0, "mm", "", says)
    answer = dataclasses.replace(answered("crossed_pair"), checks=(*within, beyond, short))
    assert [line.note for line in approval(answer, date=DATE).asked] == ["", "", *[says.capitalize()] * 2]
    found = [word for page in pages(approval(answer, date=DATE), A4) for word in page if isinstance(word, Words)]
    assert [word.text for word in found if says.capitalize() in word.text] == [f"{i} {says.capitalize()}" for i in "¹²"]
    assert {"0.300°¹", "4.00 mm²"} <= {word.text for word in found}


def test_stops_and_links_are_told() -> None:
    answer, text = answered("hand_set_links"), read_back("hand_set_links")[1]
    assert f"{answer.stops.closing.holds} holds" in text
    gap = answer.stops.closing.gaps["left.idle"]
    assert re.search(rf"left\.idle {gap:.2f}°", text)
    assert f"{float(answer.run.train.dims['link.right.length']):.2f} mm given" in text


# the words


def test_the_verdict_is_in_plain_words() -> None:
    passed = approval(answered("skew_bell_crank"), date=DATE)
    assert passed.headline == f"This linkage does what was asked of it: all {len(passed.asked)} checks pass."
    failed = approval(answered("hand_set_links"), date=DATE)
    assert "does not do what was asked" in failed.headline
    assert failed.headline.endswith("It must not be made as drawn.")
    first, *rest = read_back("hand_set_links")
    assert "FAIL" in first
    for one in answered("hand_set_links").checks:
        if one.verdict == "fail":
            assert one.says[1:] in " ".join(first.split())
    assert UNSIGNED in " ".join(rest)
    assert UNSIGNED not in " ".join(read_back("flat_six"))


def test_the_title_block() -> None:
    text = read_back("flat_six")[0]
    design = (DEMO / "flat_six.toml").read_bytes()
    digest = hashlib.sha256(design).hexdigest()
    wanted = ("Miss O. Quill (invented)", "014", "B", "31 January 2025", "millimetres, degrees", "flat_six.toml",
              " ".join(digest[i : i + 4] for i in (0, 4, 8, 12)))  # fmt: skip
    for words in wanted:
        assert words in text
    assert digest in approval_html(answered("flat_six"), date=DATE)


def test_a_changed_design_has_another_fingerprint_and_says_so() -> None:
    rig = read(DEMO / "flat_six.toml")
    one, other = (approval(check(r), date=DATE) for r in (rig, rig.replace("link.left.pitch", 1.0)))
    assert one.fingerprint != other.fingerprint
    assert ("Design file", "flat_six.toml, changed") in other.block
    assert approval(check(parallel_pair()), date=DATE).fingerprint  # no file at all


@pytest.mark.parametrize(
    ("text", "drawing", "revision"),
    [
        ("014 rev B", "014", "B"),
        ("014 rev B, as built", "014, as built", "B"),
        ("017 rev -", "017", "-"),
        ("A-12/3 Revision 2.1", "A-12/3", "2.1"),
        ("reverse gear", "reverse gear", ""),
        ("", "", ""),
    ],
)
def test_a_drawing_and_its_revision(text: str, drawing: str, revision: str) -> None:
    assert drawing_and_revision(text) == (drawing, revision)


def test_a_date_reads_alike_everywhere() -> None:
    assert told(datetime.date(2024, 2, 29)) == "29 February 2024"


def test_what_is_taken_for_granted_and_what_is_missing() -> None:
    text = " ".join(" ".join(read_back("three_side_draughts")).split())
    assert CAUTION in text
    assert "Not calculated" in text
    says = approval(answered("three_side_draughts"), date=DATE)
    (missing,) = [line for line in says.assumptions if line.startswith("Not calculated")]
    assert "what heat does" in missing
    assert "forces" not in missing
    whole = approval(answered("flat_six"), date=DATE).assumptions
    assert not [line for line in whole if line.startswith("Not calculated")]


# the pages


@pytest.mark.parametrize(("name", "paper"), [*((name, "a4") for name in DESIGNS), ("v8_inches", "letter")])
def test_two_pages_with_every_word_on_them_and_none_on_another(name: str, paper: Any) -> None:
    found = pages_of(name, paper, paper == "letter")  # with fractions, which take more room
    assert len(found) == 2
    for page in found:
        assert page.size == pytest.approx(A4 if paper == "a4" else LETTER, abs=0.5)
        assert page.smallest > 6.0
        for word in page.words:
            assert EDGE - 1.0 < word["x0"] < word["x1"] < page.size[0] - EDGE + 1.5, word["text"]
            assert 0.0 < word["top"] < word["bottom"] < page.size[1], word["text"]
        assert list(overlapping(page.words)) == []


def overlapping(words: list[dict[str, Any]]) -> Iterator[tuple[str, str]]:
    """Pairs of words that share more than the air about their letters."""
    for i, one in enumerate(words):
        for other in words[i + 1 :]:
            across = min(one["x1"], other["x1"]) - max(one["x0"], other["x0"])
            up = min(one["bottom"], other["bottom"]) - max(one["top"], other["top"])
            if across > 1.0 and up > 0.45 * min(one["bottom"] - one["top"], other["bottom"] - other["top"]):
                yield one["text"], other["text"]


def test_overlapping_words_are_found() -> None:
    box = {"x0": 0.0, "x1": 20.0, "top": 0.0, "bottom": 8.0}
    words = [
        {**box, "text": "a"},
        {**box, "x0": 15.0, "x1": 30.0, "text": "b"},
        {**box, "top": 6.0, "bottom": 14.0, "text": "c"},
    ]
    assert list(overlapping(words)) == [("a", "b")]


def test_the_sheet_looks_as_it_did_when_it_was_looked_at() -> None:
    shapes = pages(approval(answered("flat_six"), date=DATE), A4)[0]
    image = rendered(shapes, A4)
    with Image.open(PICTURES / "approval_flat_six.png") as stored:
        kept = np.asarray(stored.convert("L"), float)
    assert image.shape == kept.shape
    assert np.mean(np.abs(image - kept)) < 3.0  # of 255; another page differs by 10 and more
    other = rendered(pages(approval(answered("hand_set_links"), date=DATE), A4)[0], A4)
    assert np.mean(np.abs(other - kept)) > 6.0


def rendered(shapes: Any, size: tuple[float, float]) -> np.ndarray[Any, np.dtype[np.float64]]:
    """A page in shades of grey, 60 dots to the inch."""
    from linkage.plots import style

    with style.look():
        ax = sheet(*size)
        draw(ax, shapes)
        figure: Any = ax.get_figure()
        figure.set_dpi(60)
        figure.canvas.draw()
        pixels = np.asarray(figure.canvas.buffer_rgba())[..., :3].copy()
    return np.asarray(Image.fromarray(pixels).convert("L"), float)


def test_the_same_bytes_in_another_process(tmp_path: Path) -> None:
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "PYTHONHASHSEED": "7"}
    args = ["approve", str(DEMO / "flat_six.toml"), "--date", DATE.isoformat()]
    done = subprocess.run(
        [sys.executable, "-m", "linkage", *args], cwd=tmp_path, env=env, capture_output=True, text=True, timeout=120
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.split() == ["flat_six_approval.pdf", "flat_six_approval.html"]
    assert (tmp_path / "flat_six_approval.pdf").read_bytes() == printed("flat_six")
    page = (tmp_path / "flat_six_approval.html").read_text(encoding="utf-8")
    assert page == approval_html(answered("flat_six"), date=DATE)


def test_many_shafts_flow_over_more_pages() -> None:
    text = 'format = 1\ntitle = "many"\nunits = "mm"\n[drive]\nturns = "s0"\n'
    for i in range(26):
        text += (
            f'[shaft.s{i}]\npivot = [0.0, 0.0, {-90.0 * i}]\nopens = "cw"\n'
            f"plate_angle = {{ shut = 8.0, idle = 10.0, wide_open = {88.0 - 0.01 * i} }}\n"
        )
        text += f'[coupling.c{i}]\njoins = ["s{i - 1}", "s{i}"]\noffset = {0.003 * (i % 3)}\n' if i else ""
    answer = check(parse(text))
    found = read_pages(approval_pdf(answer, date=DATE))
    assert len(found) > 2
    assert all(list(overlapping(page.words)) == [] for page in found[1:])
    said = "\n".join(page.text for page in found)
    assert "s25.wide_open" in said
    assert "Signature" in said


# markup in a design, letters that a font lacks


def test_markup_is_text_on_paper() -> None:
    text = " ".join(read_pages(approval_pdf(harmful(), date=DATE))[0].text.split())
    assert TITLE in text
    assert "onerror=alert(2)>?? & Söhne" in text.replace("> ??", ">??")


def test_text_keeps_to_its_width() -> None:
    long = "a word, another and a-word-that-is-far-too-long-for-any-line-of-this-width and 中 more"
    for line in wrapped(long, 9.0, 80.0):
        assert width_of(line, 9.0) <= 80.0
    assert "".join(wrapped(long, 9.0, 80.0)).replace(" ", "") == readable(long).replace(" ", "")
    assert len(wrapped(long, 9.0, 80.0, most=2)) == 2
    assert width_of(trimmed(long, 9.0, 60.0), 9.0) <= 60.0
    assert trimmed("short", 9.0, 60.0) == "short"
    assert readable("a\tb\x1bc\u202ed") == "a bcd"


# the page


class _Reader(html.parser.HTMLParser):
    """Everything that a page says, and every element with its attributes."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.says: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.says.append(data)


@pytest.mark.parametrize("name", DESIGNS)
def test_the_page_says_what_the_sheet_says(name: str) -> None:
    says = approval(answered(name), date=DATE)
    cells = _Reader(approval_html(answered(name), date=DATE)).says
    for table in (says.travel, *says.tables):
        for told_row in table.rows:
            assert all(cell in cells for cell in told_row if cell)
    for line in says.asked:
        assert {line.what, line.asked, line.reached} <= set(cells)
    assert {says.caution, *says.assumptions, *(text for _, text in says.points)} <= set(cells)


def test_the_page_loads_and_runs_nothing() -> None:
    text = approval_html(harmful(), date=DATE)
    elements = _Reader(text).elements
    assert {tag for tag, _ in elements} & {"script", "img", "iframe", "object", "embed", "form"} == set()
    for _, attributes in elements:
        assert not [name for name in attributes if name.startswith("on") or name == "style"]
        assert attributes.get("src") is None
        assert attributes.get("href") in (None, "data:,")
    policy = next(a["content"] for tag, a in elements if tag == "meta" and a.get("http-equiv"))
    assert policy is not None
    assert policy.startswith("default-src 'none'; ")
    assert "script-src 'none'" in policy


# the pictures


@pytest.mark.parametrize("name", ["flat_six", "crossed_pair", "v8_inches"])
def test_links_keep_their_length_in_the_moving_picture(name: str) -> None:
    run = answered(name).run
    picture = staged(run, "front", (480.0, 300.0), shares=np.linspace(0.0, 1.0, 21))
    one, two = (np.array(run.rig.shaft[shaft].pivot[:2]) for shaft in ("left", "right"))
    dots = [shape.at for shape in picture.shapes if isinstance(shape, Dot) and not isinstance(shape.at, str)]
    apart = max(np.hypot(a[0] - b[0], a[1] - b[1]) for a in dots for b in dots if abs(a[1] - b[1]) < 1e-6)
    scale = apart / float(np.hypot(*(two - one)))  # points of the picture per mm, by the two shafts
    for link in run.rig.link.values():
        ends = [picture.tracks[f"pin {pin}"] for pin in link.joins]
        length = float(next(j.length for j in run.train.joints if j.step.by.name == link.name))
        assert np.hypot(*(ends[1] - ends[0]).T) == pytest.approx(length * scale, abs=1e-6)


def test_plates_turn_by_the_plate_angle() -> None:
    run = answered("flat_six").run
    shares = [0.0, 0.3, 1.0]
    picture = staged(run, "front", (480.0, 300.0), shares=shares)
    for shaft, angles in run.at_fraction(shares).plate_angle.items():
        along = picture.tracks[f"plate {shaft} 1"] - picture.tracks[f"plate {shaft} 0"]
        from_level = np.degrees(np.arctan2(np.abs(along[:, 1]), np.abs(along[:, 0])))
        assert from_level == pytest.approx(angles, abs=1e-6)  # the bores stand upright


def test_markers_stand_on_their_curves() -> None:
    run = answered("flat_six").run
    shares = np.linspace(0.0, 1.0, 11)
    at = run.at_fraction(shares)
    assert at.pedal is not None
    for chart, track, values in (
        (plate_angle_chart(run, (300.0, 170.0), shares), "plate angle left", at.plate_angle["left"]),
        (mismatch_chart(run, (300.0, 170.0), shares), "apart", spread(at)),
    ):
        places = chart.tracks[track]
        assert np.ptp(places[:, 0] - np.polyval(np.polyfit(at.pedal, places[:, 0], 1), at.pedal)) < 1e-6
        assert np.ptp(places[:, 1] - np.polyval(np.polyfit(values, places[:, 1], 1), values)) < 1e-6
        assert [places[:, i].min() > 0.0 for i in (0, 1)] == [True, True]


def test_names_of_a_picture_keep_clear_of_each_other() -> None:
    for name in DESIGNS:
        words = [s for s in staged(answered(name).run, "front", (480.0, 300.0)).shapes if isinstance(s, Words)]
        boxes = [{"x0": w.at[0] - 0.5 * width_of(w.text, w.size, bold=True), "top": w.at[1], "text": w.text,
                  "x1": w.at[0] + 0.5 * width_of(w.text, w.size, bold=True), "bottom": w.at[1] + w.size}
                 for w in words]  # fmt: skip
        assert list(overlapping(boxes)) == []


def test_a_picture_stands_still_where_it_is_told_to() -> None:
    picture = staged(solve(parallel_pair()), "front", (300.0, 200.0))
    assert any(isinstance(shape, Bar) and isinstance(shape.end, str) for shape in picture.shapes)
    still = picture.at(2)
    assert not still.moving
    assert still != picture.at(0)
    assert dataclasses.replace(still) == picture.at(2)


# the command


def run(*args: str) -> Result:
    return CliRunner().invoke(throttle_linkage, ["approve", *args], prog_name="throttle-linkage")


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_command_writes_over_nothing_unasked(here: Path) -> None:
    (here / "flat_six_approval.html").write_text("mine")
    result = run(str(DEMO / "flat_six.toml"))
    assert result.exit_code == 2
    assert "flat_six_approval.html: stands there already" in result.stderr
    assert os.listdir(here) == ["flat_six_approval.html"]
    assert (here / "flat_six_approval.html").read_text() == "mine"
    assert run(str(DEMO / "flat_six.toml"), "--out", "flat_six_approval.html", "--force").exit_code == 0
    assert (here / "flat_six_approval.html").read_text().startswith("<!doctype html>")


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (["--out", "sheet.txt"], "sheet.txt: an approval sheet is a PDF or a page; end the name in .pdf or .html"),
        (["--date", "31.1.2025"], '--date: must be a day written as 2026-03-01, got "31.1.2025"'),
        (["--fractions"], 'options: --fractions: is for designs in inches; this one has units = "mm"'),
        (["--out", "no/such/folder.pdf"], 'there is no folder "'),
    ],
)
def test_the_command_refuses_in_one_line(here: Path, args: list[str], says: str) -> None:
    result = run(str(DEMO / "flat_six.toml"), *args)
    assert result.exit_code == 2
    assert says in result.stderr
    assert os.listdir(here) == []
