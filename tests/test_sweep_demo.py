"""The sweep that the demo's README shows gives what it says."""

from __future__ import annotations

import csv
import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

import linkage
from linkage.answers import check
from linkage.cli import throttle_linkage

ROOT = Path(linkage.__file__).parents[1]
TEXT = (ROOT / "demo" / "README.md").read_text(encoding="utf-8")


def shown() -> list[str]:
    """The words of the command."""
    block = re.search(r"^    throttle-linkage (sweep .*?)\n\n", TEXT, re.DOTALL | re.MULTILINE)
    assert block is not None
    return shlex.split(block[1].replace("\\\n", " "))


def table() -> dict[int, list[float]]:
    """Of every candidate of the table: pivot, arms, mismatch, progression ratio, cable travel."""
    rows = re.findall(r"^\| [^|]+ \| (\d+) \| (.*) \|$", TEXT, re.MULTILINE)
    return {int(number): [float(n) for n in re.findall(r"[\d.]+", rest)] for number, rest in rows}


def test_the_front_is_as_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    words = [str(ROOT / word) if word.startswith("demo/") else word for word in shown()]
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(throttle_linkage, words, prog_name="throttle-linkage")
    assert result.exit_code == 0, result.output
    assert "200,475 candidates in" in result.stdout
    assert Path("front.png").exists()
    with open("front.csv", encoding="utf-8", newline="") as stream:
        front = {int(row["candidate"]): row for row in csv.DictReader(stream)}
    assert len(front) == 10
    told = table()
    assert len(told) == 3
    for number, values in told.items():
        arms = [
            f"bellcrank.centre.arm.{arm}.{what}" for arm in ("left", "right") for what in ("radius [mm]", "angle [deg]")
        ]
        names = ["bellcrank.centre.pivot.y [mm]", *arms, "mismatch [deg]", "progression_ratio", "cable_travel [mm]"]
        half = [0.0] * 5 + [5e-4, 5e-4, 5e-3]  # of the last digit told
        for name, value, within in zip(names, values, half, strict=True):
            assert float(front[number][name]) == pytest.approx(value, rel=0, abs=within + 1e-9)
        rig = linkage.read(ROOT / "demo" / "flat_six.toml")
        for name, value in zip(names[:5], values, strict=False):
            rig = rig.replace(name.partition(" ")[0], value)
        answer = check(rig)
        assert answer.verdict == "pass"
        assert answer.mismatch.largest.value == pytest.approx(values[5], rel=0, abs=6e-4)
