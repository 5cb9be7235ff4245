"""The customer's page: what it carries is the solver's, every text is escaped, and nothing is loaded."""

from __future__ import annotations

import base64
import functools
import hashlib
import html.parser
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from customers import DATE, DEMO, DESIGNS, TITLE, answered, fine, harmful

from linkage.answers import check
from linkage.answers.mismatch import spread
from linkage.cli import throttle_linkage
from linkage.design_file import parse
from linkage.paper.chart import plate_angle_chart
from linkage.paper.markup import Html, joined, printable, tag
from linkage.paper.numerals import Numerals
from linkage.paper.page import POSITIONS, page
from linkage.paper.shapes import Bar, Curve, Dot, Picture, Words
from linkage.paper.stage import staged, views_of
from linkage.paper.stills import size_of
from linkage.paper.svg import svg


@functools.cache
def made(name: str) -> str:
    return page(answered(name), date=DATE)


class Reader(html.parser.HTMLParser):
    """Every element with its attributes, every text, and the scripts."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.says: list[str] = []
        self.scripts: list[str] = []
        self.style = ""
        self.inside = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        self.inside = tag

    def handle_endtag(self, tag: str) -> None:
        self.inside = ""

    def handle_data(self, data: str) -> None:
        if self.inside == "script":
            self.scripts.append(data)
        elif self.inside == "style":
            self.style += data
        else:
            self.says.append(data)

    @property
    def motion(self) -> dict[str, Any]:
        """The data that the script is given, its tracks as places in points."""
        data: dict[str, Any] = json.loads(self.scripts[0])
        data["tracks"] = [np.cumsum(track, axis=1).T / 10.0 for track in data["tracks"]]
        return data


# the figures


@pytest.mark.parametrize("name", DESIGNS)
def test_what_is_read_off_is_the_solvers_at_every_percent(name: str) -> None:
    run = fine(answered(name).run)
    data = Reader(made(name)).motion
    assert data["positions"] == POSITIONS == 101
    read = {one["name"]: one["values"] for one in data["readings"]}
    wanted: dict[str, Any] = {f"Plate {shaft}": angle for shaft, angle in run.plate_angle.items()}
    wanted["Plates apart"] = spread(run)
    size = 1.0 if run.rig.units == "mm" else 25.4
    assert run.pedal is not None
    assert run.cable is not None
    wanted |= {"Pedal": run.pedal / size, "Cable": run.cable / size}
    for words, values in wanted.items():
        digits = 3 if words == "Plates apart" or (size > 1.0 and not words.startswith("Plate")) else 2
        found = [float(re.match(r"[\d.]+", told)[0]) for told in read[words]]  # type: ignore[index]
        assert found == pytest.approx(list(values), abs=0.5 * 10.0**-digits + 1e-9), words


@pytest.mark.parametrize("name", DESIGNS)
def test_every_moving_shape_follows_its_joint(name: str) -> None:
    run, reader = answered(name).run, Reader(made(name))
    tracks = reader.motion["tracks"]
    shares = np.linspace(0.0, 1.0, 101)
    followed: set[int] = set()
    for kind, attributes in reader.elements:
        for key, across, down in (
            ("data-a", *(("cx", "cy") if kind == "circle" else ("x1", "y1"))),
            ("data-b", "x2", "y2"),
        ):
            if attributes.get(key) is None:
                continue
            at = int(attributes[key] or "")
            followed.add(at)
            first = [float(attributes[axis] or "") for axis in (across, down)]
            assert first == pytest.approx(list(tracks[at][0]), abs=1e-9)  # the first pose stands in the page
    assert followed == set(range(len(tracks)))
    every = [tuple(np.rint(10.0 * track[-1]).astype(int)) for track in tracks]
    for view in views_of(run):
        picture = staged(run, view, size_of(run, view), shares=shares)
        for track in picture.tracks.values():
            last = np.array([track[-1, 0], picture.high - track[-1, 1]])
            assert tuple(np.rint(10.0 * last).astype(int)) in every
    chart = plate_angle_chart(run, (295.0, 165.0), shares)
    for shaft in run.rig.shaft:
        places = chart.tracks[f"plate angle {shaft}"]
        wanted = np.column_stack([places[:, 0], chart.high - places[:, 1]])
        assert any(np.allclose(track, wanted, atol=0.051) for track in tracks)


def test_still_pictures_and_tables_are_there_without_a_script() -> None:
    says = Reader(made("flat_six")).says
    at = answered("flat_six").run.at_fraction([0.0, 0.5, 1.0])
    assert {"Idle", "Half travel", "Wide open"} <= set(says)
    for angles in at.plate_angle.values():
        assert {f"{angle:.2f}°" for angle in angles} <= set(says)


def test_a_cable_that_shuts_is_not_told_as_a_pedal_that_opens() -> None:
    reader = Reader(made("flat_six_pulls_shut"))
    names = [one["name"] for one in reader.motion["readings"]]
    assert names[0] == "Turn of centre"
    assert not {"Pedal", "Cable", "Force at the pedal"} & set(names)
    assert "Travel" in reader.says


# what it is made of


@pytest.mark.parametrize("name", DESIGNS)
def test_the_page_is_small_and_loads_nothing(name: str) -> None:
    text = made(name)
    assert len(text.encode("utf-8")) < 400_000
    reader = Reader(text)
    assert {kind for kind, _ in reader.elements} & {
        "img",
        "iframe",
        "object",
        "embed",
        "form",
        "base",
        "audio",
    } == set()
    for _, attributes in reader.elements:
        assert not [key for key in attributes if key.startswith("on") or key in ("style", "src", "srcset", "action")]
        assert attributes.get("href") in (None, "data:,")
    assert not re.search(r"url\(|@import|fetch|XMLHttp|WebSocket|sendBeacon|import\(", reader.style + reader.scripts[1])
    assert not re.findall(r"https?://(?!www\.w3\.org/2000/svg\")", text)


def test_the_policy_allows_its_own_style_and_script_and_no_other() -> None:
    reader = Reader(made("flat_six"))
    (policy,) = [a["content"] for kind, a in reader.elements if kind == "meta" and a.get("http-equiv")]
    rules = dict(rule.split(" ", 1) for rule in (policy or "").split("; "))
    assert rules["default-src"] == "'none'"
    for rule, text in (("style-src", reader.style), ("script-src", reader.scripts[1])):
        digest = base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode()
        assert rules[rule] == f"'sha256-{digest}'"


def test_a_tube_with_two_dozen_shafts_still_fits() -> None:
    text = 'format = 1\nunits = "mm"\n[bellcrank.tube]\npivot = [-20.0, 95.0]\n'
    for i in range(24):
        text += (
            f"[bellcrank.tube.arm.a{i}]\nradius = 34.0\nangle = 240.0\nstation = {-100.0 * i}\n"
            f'[shaft.s{i}]\npivot = [0.0, 0.0, {-100.0 * i}]\nopens = "cw"\nbore = 40.0\n'
            f"plate_angle = {{ shut = 8.5, idle = 10.0, wide_open = {88.0 - 0.01 * i} }}\n"
            f"[shaft.s{i}.arm.lever]\nradius = {30.0 + 0.01 * i}\nangle = 230.0\n"
            f'[link.l{i}]\njoins = ["tube.a{i}", "s{i}.lever"]\n'
        )
    text += '[cable]\nquadrant = "tube"\nradius = 30.0\npull_turns = "cw"\n[pedal]\nratio = 2.0\n'
    made_of_many = page(check(parse(text)), date=DATE)
    assert len(made_of_many.encode("utf-8")) < 400_000
    names = [one["name"] for one in Reader(made_of_many).motion["readings"]]
    assert "Plates" in names  # the least and the greatest, not two dozen


def test_every_text_of_a_design_is_escaped() -> None:
    text = page(harmful(), date=DATE)
    reader = Reader(text)
    assert {kind for kind, _ in reader.elements} & {"img", "b"} == set()
    assert sum(kind == "script" for kind, _ in reader.elements) == len(reader.scripts) == 2
    assert "alert" not in reader.scripts[1] + reader.style
    assert TITLE in reader.says
    assert "<img src=x onerror=alert(2)>中文 & Söhne" in reader.says
    assert text.count("</script>") == 2
    assert text.count("<title>") == 1
    assert "<" not in reader.scripts[0]


def test_the_same_page_every_time_and_nothing_heavy_for_it(tmp_path: Path) -> None:
    code = (
        "import sys, datetime, linkage\nfrom linkage.paper.page import page\n"
        "from linkage.paper.approval_html import approval_html\n"
        f"answer = linkage.answers.check(linkage.read({str(DEMO / 'crossed_pair.toml')!r}))\n"
        f"date = datetime.date({DATE.year}, {DATE.month}, {DATE.day})\n"
        "approval_html(answer, date=date)\n"
        "open('made.html', 'w', encoding='utf-8', newline='').write(page(answer, date=date))\n"
        "print(*sorted({name.partition('.')[0] for name in sys.modules}))"
    )
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "PYTHONHASHSEED": "11"}
    args = [sys.executable, "-c", code]
    done = subprocess.run(args, cwd=tmp_path, env=env, capture_output=True, text=True, check=True, timeout=120)
    assert (tmp_path / "made.html").read_text(encoding="utf-8") == made("crossed_pair")
    assert {"matplotlib", "PIL", "scipy", "jinja2", "sympy"} & set(done.stdout.split()) == set()


def test_ids_are_single_and_labels_find_theirs() -> None:
    elements = Reader(made("flat_six")).elements
    ids = [a["id"] for _, a in elements if a.get("id")]
    assert len(ids) == len(set(ids))
    assert {a["for"] for kind, a in elements if kind == "label"} == {"pedal"}
    for kind, attributes in elements:
        if kind == "svg":
            assert attributes.get("aria-hidden") == "true" or attributes.get("aria-label")


# the parts


def test_markup_escapes_all_but_markup() -> None:
    assert tag("p", "<&>", Html("<i>"), class_='"') == '<p class="&quot;">&lt;&amp;&gt;<i></p>'
    assert tag("input", id="a", checked=True, hidden=False, title=None, min=0) == '<input id="a" checked min="0">'
    assert tag("line", x1="1", aria_hidden="true") == '<line x1="1" aria-hidden="true"/>'
    assert joined(["<", Html("<br>")], "-") == "&lt;-<br>"
    assert printable("a\nb\u202ec\x00d\u00a0e") == "a bcd e"


def test_a_picture_as_svg() -> None:
    picture = Picture(
        100.0, 50.0,
        (
            Bar("here", (3.0, 4.0), "#112233", 2.0, (1.0, 0.5)),
            Dot("here", 2.25, "#ffffff"),
            Curve(((0.0, 0.0), (10.0, 5.0)), fill="#000000"),
            Words((5.0, 6.0), "<a>", 9.0, "#000000", bold=True, align="end"),
        ),
        {"here": np.array([[1.0, 2.0], [5.0, 6.0]])},
    )  # fmt: skip
    text = svg(picture, says="so", live={"here": 7})
    assert 'viewBox="0 0 100 50" role="img" aria-label="so"' in text
    assert (
        '<line x1="1" y1="48" x2="3" y2="46" stroke="#112233" stroke-width="2" stroke-dasharray="1 0.5" data-a="7"/>'
        in text
    )
    assert '<circle cx="1" cy="48" r="2.2" fill="#ffffff" data-a="7"/>' in text
    assert '<path d="M0 50L10 45" fill="#000000"/>' in text
    assert 'text-anchor="end" font-weight="bold">&lt;a&gt;</text>' in text
    assert 'aria-hidden="true"' in svg(picture.at(1))
    assert "data-a" not in svg(picture.at(1), live={"here": 7})


def test_numerals() -> None:
    metric, inch = Numerals("mm"), Numerals("in", fractions=True)
    assert (metric.length(-0.004), metric.length(-12.345), metric.angle(None)) == ("0.00", "−12.35", "–")
    assert inch.length_and_unit(73.025) == "2.875 in (2 7/8)"
    assert inch.length_and_unit(-0.5) == "−0.020 in (−1/64)"
    assert (metric.force(12.34), inch.force(4.4482216152605)) == ("12.3", "1.00")
    assert metric.of_check(0.25, "deg", fine=True) == "0.250°"
    assert inch.of_check(5.08, "mm", fine=False) == "0.200 in"
    assert metric.of_check(3.0, "springs", fine=False) == "3"


# the command


def run(*args: str) -> Result:
    return CliRunner().invoke(throttle_linkage, ["page", *args], prog_name="throttle-linkage")


def test_the_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    design = str(DEMO / "crossed_pair.toml")
    assert run(design, "--date", DATE.isoformat()).stdout == "crossed_pair_page.html\n"
    assert Path("crossed_pair_page.html").read_text(encoding="utf-8") == made("crossed_pair")
    again = run(design)
    assert again.exit_code == 2
    assert "stands there already" in again.stderr
    refused = run(design, "--out", "page.pdf")
    assert (refused.exit_code, refused.stderr) == (2, "page.pdf: the page is an HTML file; end the name in .html\n")
    assert os.listdir() == ["crossed_pair_page.html"]
