"""``fit``, ``clock``, ``pins`` and ``round`` as commands and as papers."""

from __future__ import annotations

import json
import math
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

import linkage
from linkage.answers import CAUTION
from linkage.cli import throttle_linkage
from linkage.paper.document_fit import fit_document
from linkage.paper.report_fit import fit_report
from linkage.paper.report_setup import clocking_report, rigging_report, rounding_report
from linkage.search.fit import Fit, fit

DEMO = Path(__file__).parents[1] / "demo"
PAIR = (
    *("--free", "shaft.left.arm.cross.angle=20:60"),
    *("--free", "shaft.right.arm.cross.angle=-100:-30"),
)


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def run(*args: str, text: str | None = None) -> Result:
    return CliRunner().invoke(throttle_linkage, args, input=text, prog_name="throttle-linkage")


def demo(name: str) -> str:
    return str(DEMO / f"{name}.toml")


def plain(text: str) -> str:
    """The text with its line breaks taken out."""
    return " ".join(text.split())


# ---- fit ----------------------------------------------------------------------------------------


def test_fit_writes_the_design_marked_and_a_picture() -> None:
    result = run("fit", demo("crossed_pair"), "--wish", "mismatch=0.15", *PAIR)
    assert result.exit_code == 0, result.output
    assert result.stderr.endswith("written: crossed_pair_fitted.toml, crossed_pair_fitted.png\n")
    assert Path("crossed_pair_fitted.png").read_bytes().startswith(b"\x89PNG")
    old = (DEMO / "crossed_pair.toml").read_text("utf-8").splitlines()
    new = Path("crossed_pair_fitted.toml").read_text("utf-8").splitlines()
    changed = [(a, b) for a, b in zip(old, new, strict=True) if a != b]
    assert len(changed) == 2
    for before, after in changed:
        value = before.partition("=")[2].partition("#")[0].strip()
        assert after.endswith(f"was {value}")
    answer = linkage.answers.check(linkage.read("crossed_pair_fitted.toml"))
    assert answer.verdict == "pass"
    assert answer.mismatch.largest.value < 0.115
    assert "✓ 0.114" in result.stdout


def test_fit_takes_what_the_file_wishes() -> None:
    result = run("fit", demo("slow_opening_wish"), "--out", "crank.toml", "--picture", "crank.svg")
    assert result.exit_code == 0, result.output
    assert "✓ MET" in result.stdout
    assert linkage.read("crank.toml").wish == linkage.read(demo("slow_opening_wish")).wish
    assert Path("crank.svg").read_text("utf-8").startswith("<?xml")


def test_an_option_goes_before_the_file_and_the_rest_of_the_file_holds() -> None:
    result = run("fit", demo("slow_opening_wish"), "--wish", "progression=0.5:0.45", "--json")
    found = json.loads(result.stdout)
    wished = {goal["name"]: goal["target"] for goal in found["wishes"]}
    assert wished == {"mismatch": 0.3, "opening at 50 %": 45.0, "transmission_angle": 40.0}


def test_where_not_everything_is_met_the_status_is_1_and_the_report_says_why() -> None:
    result = run(
        "fit", demo("crossed_pair"), "--wish", "mismatch=0.15",
        "--free", "shaft.left.arm.cross.angle=44:60", "--free", "shaft.right.arm.cross.angle=-100:-30",
    )  # fmt: skip
    assert result.exit_code == 1
    says = plain(result.stdout)
    assert "✗ NOT MET" in says
    assert "At the lower bound 44.000 deg of shaft.left.arm.cross.angle: one deg beyond would gain about 0.0" in says
    assert "These forbid each other" in says
    assert "the wish for mismatch; shaft.left.arm.cross.angle from 44.000 deg" in says
    assert Path("crossed_pair_fitted.toml").exists()  # the nearest is written all the same


def test_where_nothing_is_better_nothing_is_written() -> None:
    result = run("fit", demo("cross_tube"), "--free", "shaft.one.arm.lever.radius=31.9:32.1", "--wish", "mismatch=0.1")
    assert "nothing better than the design as drawn was found" in plain(result.stdout).lower()
    assert list(Path().iterdir()) == []


def test_the_second_answer_may_be_written() -> None:
    result = run("fit", demo("slow_opening_wish"), "--answer", "2", "--json")
    found = json.loads(result.stdout)
    assert len(found["answers"]) >= 2
    values = linkage.dimensions(linkage.read("slow_opening_wish_fitted.toml"))
    for path, value in found["answers"][1]["dimensions"].items():
        assert values[path] == pytest.approx(value, abs=1e-9)


def test_lengths_of_a_design_in_inches_are_inches() -> None:
    result = run(
        "fit", demo("v8_inches"), "--wish", "mismatch=0.4", "--json",
        "--free", "shaft.left.arm.drive.radius=1 1/8 in:1.25:1/64 in",
        "--free", "bellcrank.centre.arm.left.angle=40:80",
    )  # fmt: skip
    assert result.exit_code in (0, 1), result.output
    radius = json.loads(result.stdout)["answers"][0]["dimensions"]["shaft.left.arm.drive.radius"]
    assert 1.125 <= radius <= 1.25
    assert (radius * 64.0) % 1.0 == pytest.approx(0.0, abs=1e-6) or (radius * 64.0) % 1.0 == pytest.approx(
        1.0, abs=1e-6
    )


def test_a_design_from_standard_input_makes_files_named_linkage() -> None:
    text = (DEMO / "crossed_pair.toml").read_text("utf-8")
    assert run("fit", "-", "--wish", "mismatch=0.15", *PAIR, text=text).exit_code == 0
    assert Path("linkage_fitted.toml").exists()


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--free", "shaft.left.arm.cross.angle"), "write PATH=FROM:TO, or PATH=FROM:TO:STEP"),
        (("--free", "shaft.left.arm.cross.angle=3"), "must be [from, to] or [from, to, step], got a list"),
        (("--free", "shaft.left.arm.cross.angle=60:20"), "write the smaller first"),
        (("--free", "shaft.left.arm.cross.angel=20:60"), "is no path to a dimension"),
        (("--free", "shaft.left.arm.crss.angle=20:60"), 'did you mean "shaft.left.arm.cross.angle"?'),
        (("--free", "shaft.left.bore=20:60"), "is no dimension that a fit can change"),
        (("--free", "shaft.left=1:2", "--free", "shaft.left.bore=1:2"), '"left" is no table'),
        ((), "nothing may change"),
        (("--wish", "mismatch=0.1"), "nothing may change"),
        ((*PAIR, "--wish", "mismatch"), "write NAME=VALUE"),
        ((*PAIR, "--wish", "mismatsch=0.1"), 'did you mean "mismatch"?'),
        ((*PAIR, "--wish", "mismatch=-1"), "must be from 0.001 to 90 deg, got -1"),
        ((*PAIR, "--wish", "progression=0.5"), "must be points of two numbers from 0 to 1"),
        ((*PAIR, "--wish", "cable_travel=4 deg"), "must be a length"),
        ((*PAIR, "--picture", "a.gif"), '".gif" is no kind of picture; end the name in .png or .svg or .pdf'),
        ((*PAIR, "--starts", "0"), "0 is not in the range"),
    ],
)
def test_what_cannot_be_used_is_refused_before_any_file_is_written(options: tuple[str, ...], says: str) -> None:
    result = run("fit", demo("crossed_pair"), *options)
    assert result.exit_code == 2
    assert says in result.stderr
    assert result.stdout == ""
    assert "Traceback" not in result.output
    assert list(Path().iterdir()) == []


def test_a_file_that_stands_there_is_not_written_over_unasked() -> None:
    Path("crossed_pair_fitted.toml").write_text("mine", encoding="utf-8")
    result = run("fit", demo("crossed_pair"), *PAIR)
    assert result.exit_code == 2
    assert "stands there already" in result.stderr
    assert run("fit", demo("crossed_pair"), "--wish", "mismatch=0.15", *PAIR, "--force").exit_code == 0
    assert "was 51.0" in Path("crossed_pair_fitted.toml").read_text("utf-8")


def test_ctrl_c_leaves_the_best_so_far(tmp_path: Path) -> None:
    code = (
        "import os, signal, sys\n"
        "sys.argv = ['throttle-linkage', 'fit', sys.argv[1], '--wish', 'mismatch=0.1', *sys.argv[2:]]\n"
        "from linkage.search import descent\n"
        "from linkage.search import fit as module\n"
        "led = module.descend\n"
        "def stopped(*given, **more):\n"
        "    told = more['after_step']\n"
        "    def after(z, found):\n"
        "        told(z, found)\n"
        "        os.kill(os.getpid(), signal.SIGINT)\n"
        "    return led(*given, **{**more, 'after_step': after})\n"
        "module.descend = stopped\n"
        "from linkage.cli import main\n"
        "main()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", f"import sys; sys.path[:0] = {sys.path!r}\n{code}", demo("crossed_pair"), *PAIR],
        capture_output=True, encoding="utf-8", cwd=tmp_path, timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 1, done.stderr
    assert "stopped from the keyboard: this is the best so far" in plain(done.stdout).lower()
    assert "Traceback" not in done.stderr
    assert linkage.answers.check(linkage.read(tmp_path / "crossed_pair_fitted.toml")).mismatch.largest.value < 5.0


def test_the_same_command_prints_the_same() -> None:
    outs = [run("fit", demo("crossed_pair"), "--wish", "mismatch=0.15", *PAIR, "--force").stdout for _ in range(2)]
    assert outs[0] == outs[1]


# ---- the papers ---------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def found() -> Fit:
    free = {"shaft.left.arm.cross.angle": (44.0, 60.0), "shaft.right.arm.cross.angle": (-100.0, -30.0, 0.5)}
    return fit(linkage.read(demo("crossed_pair")), wish=linkage.Wish(mismatch=0.15, cable_travel=38.0), free=free)


def test_the_report_holds_every_figure_and_dimension(found: Fit) -> None:
    text = fit_report(found)
    assert max(map(len, text.splitlines())) <= 110
    row = next(line for line in text.splitlines() if line.startswith("  mismatch  "))
    cells = re.findall(r"[✓✗] ([0-9.]+)", row)
    shown = [found.start, *found.answers[:3]]
    assert [float(cell) for cell in cells] == pytest.approx([c.figures["mismatch"] for c in shown], abs=5e-4)
    for path, value in found.best.values.items():
        line = next(line for line in text.splitlines() if line.strip().startswith(path))
        assert f"{value:.3f}" in line
    assert plain(CAUTION) in plain(text)


def test_the_document_holds_the_same_and_no_nan(found: Fit) -> None:
    told = json.loads(json.dumps(fit_document(found), allow_nan=False))
    assert told["met"] is found.best.met
    assert told["answers"][0]["dimensions"] == pytest.approx(dict(found.best.values))
    assert told["start"]["figures"]["mismatch"] == pytest.approx(found.start.figures["mismatch"])
    assert {c["bound"] or c["wish"] for c in told["conflicts"]} == {c.bound or c.wish for c in found.conflicts}


def test_clock_says_it_in_one_sentence() -> None:
    result = run("clock", demo("crossed_pair"), "--out", "clocked.toml")
    assert result.exit_code == 0
    assert re.search(
        r'Turn lever "left\.cross" −10\.\d°, lever "right\.cross" −13\.\d°, '
        r'link "cross" 244\.\d\d mm: 5\.45° becomes 0\.11°\.',
        plain(result.stdout),
    )
    assert linkage.answers.check(linkage.read("clocked.toml")).verdict == "pass"
    assert "was 51.0" in Path("clocked.toml").read_text("utf-8")


def test_clock_in_inches_says_inches() -> None:
    rig = linkage.read(demo("v8_inches"))
    text = clocking_report(linkage.clocking(rig, levers=["right.drive"]))
    lengths = re.search(r"as drawn +[0-9.]+ +left ([0-9.]+), right ([0-9.]+)", text)
    assert lengths
    run = linkage.solve(rig)
    drawn = {joint.step.by.name: float(joint.length) / 25.4 for joint in run.train.joints}
    assert [float(v) for v in lengths.groups()] == pytest.approx([drawn["left"], drawn["right"]], abs=5e-4)


def test_pins_prints_holes_and_links() -> None:
    result = run("pins", demo("flat_six"), "--opening", "45", "--pin", "5 mm", "--radius", "centre=20 mm")
    assert result.exit_code == 0
    found = linkage.rigging(linkage.read(demo("flat_six")), plate_angle=45.0, pin=5.0, radius={"centre": 20.0})
    assert result.stdout == rigging_report(found)
    centre = next(line for line in result.stdout.splitlines() if line.strip().startswith("centre"))
    x, y = re.findall(r"(-?[0-9.]+), (-?[0-9.]+)", centre)[0]
    assert math.hypot(float(x), float(y) - 60.0) == pytest.approx(20.0, abs=0.1)


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--radius", "centre"), "write MEMBER=LENGTH"),
        (("--radius", "center=20"), 'no shaft or bell crank called "center"'),
        (("--pin", "5 deg"), "must be a length"),
        (("--pin", "-5"), "must be a length of 0 or more"),
        (("--opening", "120"), "must lie within every shaft's own"),
    ],
)
def test_pins_refuses_what_cannot_be(options: tuple[str, ...], says: str) -> None:
    result = run("pins", demo("flat_six"), *options)
    assert result.exit_code == 2
    assert says in result.stderr


def test_round_shows_the_loss_and_writes_the_design() -> None:
    result = run("round", demo("crossed_pair_reclocked"), "--angle", "7.5", "--links", "--out", "made.toml")
    assert result.exit_code == 0
    found = linkage.rounding(linkage.read(demo("crossed_pair_reclocked")), angle=7.5, links=True)
    assert result.stdout == rounding_report(found)
    made = linkage.answers.check(linkage.read("made.toml")).mismatch
    anywhere = next(line for line in result.stdout.splitlines() if line.strip().startswith("anywhere"))
    assert float(anywhere.split()[2]) == pytest.approx(made.largest.value, abs=5e-4)
    text = Path("made.toml").read_text("utf-8")
    assert "angle = 37.5                      # 51 - 12; was 39.0" in text
    assert re.search(r"length = 245\.33\d*  # new", text)


def test_round_with_nothing_to_do_says_so() -> None:
    assert "every dimension stands on its step already" in plain(run("round", demo("flat_six")).stdout).lower()
    assert run("round", demo("flat_six"), "--hole", "0", "--angle", "0").exit_code == 0
    assert run("round", demo("flat_six"), "--angle", "-1").exit_code == 2


def test_help_of_these_commands_loads_nothing_heavy(tmp_path: Path) -> None:
    code = (
        f"import sys; sys.path[:0] = {sys.path!r}\n"
        "from linkage.cli import throttle_linkage\n"
        "for name in ('fit', 'clock', 'pins', 'round'):\n"
        "    throttle_linkage([name, '--help'], standalone_mode=False)\n"
        "print('LOADED', *{name.partition('.')[0] for name in sys.modules})"
    )
    done = subprocess.run(
        [sys.executable, "-I", "-c", code], capture_output=True, encoding="utf-8", cwd=tmp_path, timeout=60, check=True
    )
    assert not {"numpy", "scipy", "matplotlib"} & set(done.stdout.rpartition("LOADED")[2].split())
