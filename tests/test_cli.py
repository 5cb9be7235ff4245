"""The command line: results out, words for people beside them, one exit status for each outcome."""

from __future__ import annotations

import csv
import inspect
import io
import json
import os
import pty
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Literal

import click
import pytest
from click.testing import CliRunner, Result
from trains import hand_set, parallel_pair

import linkage
from linkage.answers import airflow, check
from linkage.cli import commands as folder
from linkage.cli import given, screen, throttle_linkage
from linkage.cli.commands import demo
from linkage.design_file import json_schema, starter, to_text
from linkage.errors import OutputError
from linkage.paper.document import document
from linkage.paper.report import report

COMMANDS = tuple(sorted(path.stem for path in Path(folder.__file__).parent.glob("[!_]*.py")))

#: One fault as the errors are printed: file, line if there is one, and words.
FAULT = re.compile(r"^(?:.*\.toml|standard input)(?::\d+)?: \S.*$")


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for name in ("NO_COLOR", "THROTTLE_LINKAGE_DEBUG"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def good() -> str:
    Path("good.toml").write_text(starter("mm"), encoding="utf-8")
    return "good.toml"


def run(*args: str, text: str | bytes | None = None) -> Result:
    """Run in this process."""
    return CliRunner().invoke(throttle_linkage, args, input=text, prog_name="throttle-linkage")


def call(*args: str, **more: Any) -> subprocess.CompletedProcess[str]:
    """Run in a process of its own, from whatever folder."""
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), **more.pop("env", {})}
    more = {"encoding": "utf-8", **more}
    args = (sys.executable, "-m", "linkage", *args)
    return subprocess.run(args, capture_output=True, env=env, timeout=120, **more)


def refused(result: Result, *says: str) -> None:
    """Status 2, nothing on standard output, and every fault on a line of its own."""
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    for words in says:
        assert words in result.stderr


# what there is


def test_help_lists_every_command_with_a_sentence() -> None:
    out = run("--help").stdout
    for name in COMMANDS:
        assert re.search(rf"^  {name} +[A-Z].*\.$", out, re.MULTILINE), name
    context = click.Context(throttle_linkage)
    assert throttle_linkage.list_commands(context) == sorted(COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_shows_an_example_of_itself(name: str) -> None:
    result = run(name, "-h")
    assert result.exit_code == 0
    assert f"throttle-linkage {name}" in re.split("Examples?[:,]", result.stdout)[1]


def test_version() -> None:
    assert run("--version").stdout == f"throttle-linkage {linkage.__version__}\n"


def test_a_command_is_one_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "hail_all.py").write_text(
        "import click\nSECTION = 'Paper'\n@click.command('hail-all')\ndef command():\n"
        "    'Hail everybody.'\n    click.echo('hail')\n    return 1\n"
    )
    monkeypatch.setattr(folder, "__path__", [*folder.__path__, str(tmp_path)])
    assert re.search(r"\n  hail-all +Hail everybody\.", run("--help").stdout)
    result = run("hail-all")
    assert (result.stdout, result.exit_code) == ("hail\n", 1)


def test_a_wrong_command_names_the_nearest() -> None:
    refused(run("chek"), 'there is no command "chek"; did you mean "check"?')
    refused(run("zzz"), 'there is no command "zzz"; there are ' + ", ".join(COMMANDS))
    assert run().exit_code == 2


# check


def test_check_prints_the_report_and_nothing_else(good: str) -> None:
    result = run("check", good)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout == report(check(linkage.read(good)))


def test_check_fails_with_status_1() -> None:
    Path("bad.toml").write_text(to_text(hand_set()), encoding="utf-8")
    result = run("check", "bad.toml")
    assert (result.exit_code, result.stderr) == (1, "")
    assert "✗ FAIL" in result.stdout
    assert run("check", "bad.toml", "--json").exit_code == 1


def test_json_is_one_document_and_nothing_else(good: str) -> None:
    result = run("check", good, "--json", "--positions", "5")
    assert (result.exit_code, result.stderr) == (0, "")
    found = json.loads(result.stdout)
    assert found == json.loads(json.dumps(document(check(linkage.read(good), positions=5))))
    assert len(found["travel"]["turn"]) == 5


def test_a_name_of_minus_is_standard_input(good: str) -> None:
    text = Path(good).read_bytes()
    assert json.loads(run("check", "-", "--json", text=text).stdout)["verdict"] == "pass"
    assert run("check", "-", "--json", text=b"\xef\xbb\xbf" + text).exit_code == 0
    refused(run("check", "-", text=b"\xff\xfe\x00"), "standard input:1: is not UTF-8 text")
    refused(run("check", "-", text=""), "standard input: is empty")


# what cannot be used


def spoilt(old: str, new: str) -> bytes:
    """The starter with one thing changed."""
    text = starter("mm")
    assert old in text
    return text.replace(old, new, 1).encode()


def first_number(key: str) -> str:
    """The first line of the starter that gives a key a bare number."""
    match = re.search(rf"^{key} = [-\d.]+", starter("mm"), re.MULTILINE)
    assert match is not None
    return match[0]


BAD: dict[str, tuple[bytes, str]] = {
    "misspelt key": (spoilt("bore =", "boer ="), 'did you mean "bore"?'),
    "empty": (b"", "is empty"),
    "blank": (b" \n\n", "is empty"),
    "binary": (bytes(range(256)), "is not UTF-8 text"),
    "zeros": (b"\0" * 100, "is not TOML"),
    "not a number": (spoilt(first_number("radius"), "radius = nan"), "must be a finite number"),
    "endless": (spoilt(first_number("radius"), "radius = -inf"), "must be a finite number"),
    "huge": (spoilt(first_number("radius"), "radius = 1e300"), "must be from"),
    "too huge": (spoilt(first_number("radius"), "radius = 1e999"), "must be"),
    "deep": (b"format = 1\na = " + b"[" * 50_000, "nested too deeply"),
    "deep tables": (b"format = 1\na = " + b"{a=" * 50_000, "nested too deeply"),
    "other format": (spoilt("format = 1", "format = 99"), "this version reads format 1"),
    "html": (b"<!doctype html><html></html>", "is not TOML"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_file_that_cannot_be_used_says_why(name: str) -> None:
    data, says = BAD[name]
    Path("bad.toml").write_bytes(data)
    for command in ("check", "table", "plot"):
        result = run(command, "bad.toml")
        refused(result, says)
        assert all(FAULT.match(line) for line in result.stderr.splitlines())
    assert os.listdir() == ["bad.toml"]


def test_all_faults_are_told_at_once_each_with_its_line() -> None:
    text = starter("mm").replace("bore =", "boer =").replace("radius =", "raduis =")
    Path("bad.toml").write_text(text, encoding="utf-8")
    result = run("check", "bad.toml")
    refused(result)
    lines = text.splitlines()
    told = {int(n) for n in re.findall(r"^bad\.toml:(\d+): ", result.stderr, re.MULTILINE)}
    assert {n for n, line in enumerate(lines, 1) if line.startswith(("boer =", "raduis ="))} <= told


def test_a_link_that_cannot_reach_is_told_with_its_line_and_by_how_much() -> None:
    text = to_text(parallel_pair().replace("link.side.length", 100.0))
    Path("short.toml").write_text(text, encoding="utf-8")
    result = run("check", "short.toml")
    refused(result, 'link "side"', "too short by", "reaches")
    line = int(result.stderr.split(":")[1])
    assert text.splitlines()[line - 1].startswith("[link.side")


def test_a_folder_a_missing_and_a_locked_file(good: str, monkeypatch: pytest.MonkeyPatch) -> None:
    Path("folder").mkdir()
    refused(run("check", "folder"), "folder: is a folder; name a design file in it")
    refused(run("check", "none.toml"), "none.toml: there is no such file")
    refused(run("check", ""), "there is no such file")

    def locked(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("builtins.open", locked)  # root may read everything
    refused(run("check", good), "good.toml: may not be read")


def test_a_locked_file_is_told_in_one_line(good: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing of the usage beside it, as where whoever runs the tests may read everything."""
    monkeypatch.setattr("os.access", lambda *_, **__: False)

    def closed(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("builtins.open", closed)
    told = run("check", good)
    assert told.exit_code == 2
    assert told.stderr == "good.toml: may not be read; ask for permission to read it\n"


def test_a_file_that_stands_there_is_told_with_the_option(good: str) -> None:
    told = run("new", good).stderr
    assert told == "good.toml: stands there already; choose another name, or write over it with --force\n"


@pytest.mark.parametrize("number", ["1", "0", "-5", "1e9", "100002", "nan", "", "9" * 5000])
def test_a_number_of_positions_out_of_bounds(good: str, number: str) -> None:
    for command in ("check", "table"):
        refused(run(command, good, "--positions", number), "--positions")


def test_the_least_and_most_positions(good: str, monkeypatch: pytest.MonkeyPatch) -> None:
    assert len(run("table", good, "--positions", "2").stdout.splitlines()) == 3
    asked = []

    def noted(_: object, *, positions: int) -> None:
        asked.append(positions)
        raise OutputError("enough")

    monkeypatch.setattr("linkage.motion.solve", noted)
    refused(run("table", good, "--positions", "100001"), "enough")
    assert asked == [100_001]


# new, table, schema


def test_new_writes_a_file_that_passes_and_is_not_written_over() -> None:
    both: tuple[Literal["mm", "in"], ...] = ("mm", "in")
    for units in both:
        result = run("new", f"{units}.toml", "--units", units)
        assert (result.exit_code, result.stdout) == (0, f"{units}.toml\n")
        assert Path(f"{units}.toml").read_text(encoding="utf-8") == starter(units)
        assert linkage.read(f"{units}.toml").units == units
        assert run("check", f"{units}.toml").exit_code == 0
    Path("mm.toml").write_text("mine")
    refused(run("new", "mm.toml"), "mm.toml: stands there already")
    assert Path("mm.toml").read_text() == "mine"
    assert run("new", "mm.toml", "--force").exit_code == 0
    assert run("new", "-").stdout == starter("mm")
    refused(run("new", "x.toml", "--units", "cm"), "--units")


def test_table_is_csv_that_adds_up(good: str) -> None:
    result = run("table", good, "--positions", "5")
    assert (result.exit_code, result.stderr) == (0, "")
    rows = list(csv.DictReader(io.StringIO(result.stdout)))
    assert [rows[0]["travel [%]"], rows[-1]["travel [%]"]] == ["0", "100"]
    assert len(rows) == 5
    assert run("table", good, "--positions", "5", "--out", "t.csv").stdout == "t.csv\n"
    assert Path("t.csv").read_text(encoding="utf-8") == result.stdout
    refused(run("table", good, "--out", "t.csv"), "t.csv: stands there already", "--force")
    assert run("table", good, "--out", "t.csv", "--force").exit_code == 0
    refused(run("table", good, "--out", "none/t.csv"), "there is no folder")
    refused(run("table", good, "--out", "."), "is a folder")


def test_schema_is_the_schema() -> None:
    assert json.loads(run("schema").stdout) == json_schema()


# pictures and the demo


def test_plot_offers_every_picture_there_is() -> None:
    from linkage import plots

    def of_a_run_alone(name: str) -> bool:
        first, *rest = inspect.signature(getattr(plots, name)).parameters.values()
        needed = [p for p in rest if p.default is p.empty and p.kind is not p.VAR_KEYWORD]
        return first.name == "run" and not needed

    assert set(given.PICTURES) == {name for name in plots.__all__ if of_a_run_alone(name)}


@pytest.mark.parametrize(("kind", "begins"), [("png", b"\x89PNG"), ("svg", b"<?xml"), ("pdf", b"%PDF-")])
def test_plot_writes_the_kind_that_the_name_says(good: str, kind: str, begins: bytes) -> None:
    result = run("plot", good, "--picture", "progression", "--out", f"p.{kind}")
    assert (result.exit_code, result.stdout) == (0, f"p.{kind}\n")
    assert Path(f"p.{kind}").read_bytes().startswith(begins)


def test_plot_refuses_before_it_draws(good: str, monkeypatch: pytest.MonkeyPatch) -> None:
    from linkage import plots

    drawn: list[object] = []
    monkeypatch.setattr(plots, "overview", drawn.append)
    Path("good_overview.png").write_bytes(b"mine")
    refused(run("plot", good), "good_overview.png: stands there already")
    refused(run("plot", good, "--out", "p.jpg"), ".png", ".svg", ".pdf")
    refused(run("plot", good, "--out", "p"), ".png")
    refused(run("plot", good, "--out", "none/p.png"), "there is no folder")
    refused(run("plot", good, "--picture", "mona_lisa"), "--picture")
    assert drawn == []
    assert Path("good_overview.png").read_bytes() == b"mine"


def test_demo_fills_a_folder_and_does_not_write_over_it() -> None:
    result = run("demo", "out")
    assert result.exit_code == 0, result.stderr
    made = sorted(os.listdir("out"))
    for name in ("overview.pdf", "overview.png", "drawing.pdf", "report.txt", "positions.csv", "answer.json"):
        assert f"flat_six_{name}" in made
    for line in result.stdout.splitlines():
        assert Path(line.split()[0]).is_file()
    for name in re.findall(r'"(approve|page) out/flat_six.toml"', result.stderr):
        assert run(name, "out/flat_six.toml").exit_code == 0
    assert '"approve ' in result.stderr
    answer = check(linkage.read("out/flat_six.toml"))
    assert Path("out/flat_six_report.txt").read_text(encoding="utf-8") == report(answer)
    assert json.loads(Path("out/flat_six_answer.json").read_text(encoding="utf-8"))["title"] == answer.run.rig.title
    Path("out/flat_six_report.txt").write_text("mine")
    refused(run("demo", "out"), "flat_six_report.txt: stands there already", "flat_six.toml: stands there")
    assert Path("out/flat_six_report.txt").read_text() == "mine"
    Path("file").touch()
    refused(run("demo", "file"), "a file stands where a folder should")


def test_the_demo_takes_the_designs_that_lie_in_the_package_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "demos").mkdir()
    (tmp_path / "demos" / "flat_six.toml").write_text("format = 1\n", encoding="utf-8")
    monkeypatch.setattr("importlib.resources.files", lambda _: tmp_path)
    assert demo.designs() == {"flat_six.toml": "format = 1\n"}


# verify


def test_verify_works_the_published_examples() -> None:
    result = run("verify")
    assert result.exit_code == 0
    assert re.search(r"\d{3} passed, 0 failed", result.stdout)


def test_verify_says_so_when_an_example_is_not_met(monkeypatch: pytest.MonkeyPatch) -> None:
    right = airflow.open_area_fraction
    monkeypatch.setattr(airflow, "open_area_fraction", lambda *a, **more: right(*a, **more) + 1e-3)
    result = run("verify")
    assert result.exit_code == 1
    assert re.search(r"[1-9]\d* failed", result.stdout)


# completion


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_prints_a_script_that_the_shell_reads(shell: str) -> None:
    script = run("completion", shell).stdout
    assert "_THROTTLE_LINKAGE_COMPLETE" in script
    if shutil.which(shell):
        subprocess.run([shell, "-n"], input=script, text=True, check=True)


def test_completing_a_command_and_an_option(good: str) -> None:
    for words, at, found in (("ch", 1, "check"), ("check --js", 2, "--json"), ("plot x --picture over", 4, "overview")):
        env = {
            "_THROTTLE_LINKAGE_COMPLETE": "bash_complete",
            "COMP_WORDS": f"throttle-linkage {words}",
            "COMP_CWORD": str(at),
        }
        assert call(env=env).stdout.splitlines() == [f"plain,{found}"]


# what goes wrong besides


def test_an_error_of_the_program_itself_is_one_line(good: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("by nought")

    monkeypatch.setattr("linkage.answers.check", broken)
    result = run("check", good)
    assert (result.exit_code, result.stdout) == (70, "")
    assert re.fullmatch(r"throttle-linkage: .*\(ZeroDivisionError: by nought\); please report .*\n", result.stderr)
    monkeypatch.setenv("THROTTLE_LINKAGE_DEBUG", "1")
    assert isinstance(run("check", good).exception, ZeroDivisionError)


def test_stopped_from_the_keyboard(good: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("linkage.answers.check", stopped)
    result = run("check", good)
    assert (result.exit_code, result.stdout, result.stderr.strip()) == (130, "", "stopped")


def test_an_output_error_is_told_line_by_line(good: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OutputError("a: taken\nb: taken")

    monkeypatch.setattr("linkage.answers.check", full)
    result = run("check", good)
    assert (result.exit_code, result.stderr) == (2, "a: taken\nb: taken\n")


@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_a_reader_that_leaves_is_no_error(good: str, unbuffered: str) -> None:
    script = f'"{sys.executable}" -m linkage table {good} --positions 20000; echo "status $?" >&2'
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "PYTHONUNBUFFERED": unbuffered}
    args = ["bash", "-c", f"{{ {script}; }} | head -c 10"]
    done = subprocess.run(args, capture_output=True, text=True, timeout=120, env=env)
    assert (done.stdout, done.stderr) == ("travel [%]", "status 141\n")


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs a full device")
def test_a_full_disk_is_told(good: str) -> None:
    with open("/dev/full", "w") as full:
        env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
        args = [sys.executable, "-m", "linkage", "check", good]
        done = subprocess.run(args, stdout=full, stderr=subprocess.PIPE, text=True, env=env, timeout=120)
    assert (done.returncode, done.stderr) == (2, "standard output: the disk is full; make room\n")


# what it looks like


def _on_terminal(*args: str, **env: str) -> str:
    """Standard output as a terminal gets it."""
    ours, theirs = pty.openpty()
    told = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "TERM": "xterm", **env}
    with subprocess.Popen([sys.executable, "-m", "linkage", *args], stdout=theirs, stderr=theirs, env=told) as process:
        os.close(theirs)
        text = b"".join(_read(ours))
        os.close(ours)
    assert process.returncode == 0
    return text.decode().replace("\r\n", "\n")


def _read(end: int) -> Iterator[bytes]:
    try:
        while data := os.read(end, 65536):
            yield data
    except OSError:  # Linux says so when the other end is closed
        return


def test_a_terminal_gets_colour_and_the_same_words(good: str) -> None:
    piped = call("check", good).stdout
    shown = _on_terminal("check", good)
    assert "\x1b[" not in piped
    assert "\x1b[32m" in shown
    assert re.sub(r"\x1b\[[0-9;]*m", "", shown) == piped
    assert _on_terminal("check", good, NO_COLOR="1") == piped
    assert _on_terminal("check", good, TERM="dumb") == piped


def test_poor_encodings_get_plain_signs_in_the_same_columns(good: str) -> None:
    full = call("check", good).stdout
    for encoding in ("ascii", "latin-1", "cp1252"):
        told = {"PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"}
        plain = call("check", good, env=told, encoding=encoding)
        assert (plain.returncode, plain.stderr) == (0, "")
        assert [len(line) for line in plain.stdout.splitlines()] == [len(line) for line in full.splitlines()]
        assert "+ PASS" in plain.stdout


def test_a_design_cannot_write_to_the_terminal(good: str) -> None:
    wild = "\x1b[31mred\x9b2J\u202eend"
    text = starter("mm").replace("bore =", json.dumps(wild) + " =", 1)
    result = run("check", "-", text=text)
    refused(result, "red")
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202e]", result.stderr)


@pytest.mark.parametrize("say", [screen.show, screen.tell])
def test_controls_in_words_are_taken_out(say: Callable[[str], None], capsys: pytest.CaptureFixture[str]) -> None:
    say("a\x1b[31mb\x07\r\u202ec\n\td")
    assert "".join(capsys.readouterr()) == "a?[31mb???c\n\td\n"
