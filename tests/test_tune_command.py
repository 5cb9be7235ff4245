"""``tune`` as a command."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from benches import DEMO
from click.testing import CliRunner, Result

import linkage
from linkage.answers.mismatch import mismatch
from linkage.cli import throttle_linkage
from linkage.paper.document_tuning import tuning_document
from linkage.paper.setup_card import setup_card
from linkage.paper.sheet import text

JOB, READINGS = str(DEMO / "bench_job.toml"), str(DEMO / "bench_job_readings.csv")


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def run(*args: str, given: str | None = None) -> Result:
    return CliRunner().invoke(throttle_linkage, ["tune", *args], input=given, prog_name="throttle-linkage")


def test_it_prints_the_set_up_card() -> None:
    result = run(JOB, READINGS)
    assert result.exit_code == 0, result.output
    assert result.stdout == text(setup_card(linkage.tune(linkage.read(JOB), READINGS)))


def test_it_writes_the_card_the_picture_and_the_linkage_as_found() -> None:
    result = run(JOB, READINGS, "--card", "card.pdf", "--picture", "apart.svg", "--as-found", "found.toml", "--json")
    assert result.exit_code == 0, result.output
    found = linkage.tune(linkage.read(JOB), READINGS)
    assert json.loads(result.stdout) == json.loads(json.dumps(tuning_document(found)))
    assert Path("card.pdf").read_bytes().startswith(b"%PDF")
    assert "<svg" in Path("apart.svg").read_text("utf-8")
    built = mismatch(linkage.solve(linkage.read("found.toml")))
    assert built.at_idle == pytest.approx(found.advice.before.at_idle, abs=1e-6)


def test_options_reach_the_answer() -> None:
    result = run(
        JOB, READINGS, "--json", "--flat-parts", "3", "--adjust", "link.left.length", "--noise", "0.3", "--by-hand"
    )
    assert result.exit_code == 0, result.output
    answer = json.loads(result.stdout)
    assert [a["path"] for a in answer["adjusters"]] == ["link.left.length"]
    assert answer["adjusters"][0]["step"] == pytest.approx(2 * 0.8 / 18)
    assert answer["set_by_hand"]
    plain = json.loads(run(JOB, READINGS, "--json").stdout)
    assert answer["chi_square"] < plain["chi_square"]


def test_readings_that_do_not_fit_leave_with_1() -> None:
    lines = ["left [deg],right [deg]", "9.5,9.5", "30,70", "60,20", "80,60", "50,85", "20,40", "70,10"]
    Path("wild.csv").write_text("\n".join(lines), encoding="utf-8")
    result = run(JOB, "wild.csv")
    assert result.exit_code == 1, result.output
    assert "do not fit this linkage" in " ".join(result.stdout.split())


@pytest.mark.parametrize(
    ("args", "says"),
    [
        ((JOB, "none.csv"), "none.csv: there is no such file; check the name and the folder"),
        ((JOB, READINGS, "--card", "card.png"), "card.png: end the name in .pdf"),
        ((JOB, READINGS, "--adjust", "link.lefft.length"), 'did you mean "link.left.length"'),
        ((JOB, READINGS, "--noise", "-1"), "noise, plate: must be from 1e-06 to 1000, got -1.0"),
        ((JOB, READINGS, "--gap-noise", "thin"), "--gap-noise"),
        ((JOB, READINGS, "--flat-parts", "0"), "--flat-parts"),
    ],
)
def test_what_cannot_be_used_leaves_with_2_and_a_line(args: tuple[str, ...], says: str) -> None:
    result = run(*args)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert says in result.stderr
    assert "Traceback" not in result.stderr


def test_every_fault_of_a_table_is_told() -> None:
    Path("bad.csv").write_text("left [deg],rihgt [deg]\nx,1\n200,1\n", encoding="utf-8")
    result = run(JOB, "bad.csv")
    assert result.exit_code == 2
    assert [line.split(": ")[0] for line in result.stderr.splitlines()] == ["bad.csv:1", "bad.csv:2", "bad.csv:3"]


def test_the_design_from_standard_input() -> None:
    design = Path(JOB).read_text(encoding="utf-8")
    result = run("-", READINGS, "--json", given=design)
    assert result.exit_code == 0, result.output
    assert json.loads(result.stdout)["title"] == "Flat six, second set, on the bench"
