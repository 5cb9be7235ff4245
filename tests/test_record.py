"""The bench record: what is written comes back, every slip of pencil and spreadsheet is named with its line."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from papers import DEMO, DEMOS, answer, opened, text_of, unlike_the_stored
from plot_words import outside, overlaps, sizes
from trains import EXAMPLES, bell_crank

from linkage.cli import throttle_linkage
from linkage.errors import DesignError
from linkage.motion import solve
from linkage.paper import sheet_pages
from linkage.paper.record import ROWS, Record, form, parse_record, read_record
from linkage.paper.record_sheet import record_sheet
from linkage.paper.sheet import text

GOOD = """bench record,1
title,a car
units,mm
# a remark
date,2026-03-01

link.left.length,195.30
link.right.length,
shaft.left.arm.drive.radius,"1 3/8 in"
bellcrank.centre.arm.left.angle,65.5
travel [%],left [deg],right [deg]
0,9.5,9.6
50,44.1,
100,,87.2
"""


def refused(text: str, *, bound: bool = True) -> list[str]:
    """What is said of a record that cannot be used, a line each."""
    with pytest.raises(DesignError) as caught:
        parse_record(text, answer("flat_six").run.rig if bound else None, "r.csv")
    return str(caught.value).splitlines()


# reading


def test_a_record_is_read() -> None:
    found = parse_record(GOOD, answer("flat_six").run.rig, "r.csv")
    assert (found.told, found.units, found.readings) == ("travel", "mm", 4)
    assert found.position.tolist() == [0.0, 0.5, 1.0]
    assert found.plate_angle["left"][:2].tolist() == [9.5, 44.1]
    assert np.isnan(found.plate_angle["left"][2])
    assert np.isnan(found.plate_angle["right"][1])
    assert found.as_built == {
        "link.left.length": 195.30,
        "shaft.left.arm.drive.radius": pytest.approx(1.375 * 25.4),
        "bellcrank.centre.arm.left.angle": 65.5,
    }
    assert found.notes["title"] == "a car"
    assert found.line == (11, 12, 13) or found.line == (12, 13, 14)
    assert GOOD.splitlines()[found.line[0] - 1].startswith("0,")


def test_without_a_design_any_name_will_do() -> None:
    found = parse_record(GOOD.replace("left", "port"))
    assert set(found.plate_angle) == {"port", "right"}


@pytest.mark.parametrize(
    ("heading", "rows", "told", "position"),
    [
        ("travel [%]", "0,1\n25,2", "travel", [0.0, 0.25]),
        ("pedal [mm]", "0,1\n25.4,2", "pedal", [0.0, 25.4]),
        ("pedal [in]", "0,1\n1,2", "pedal", [0.0, 25.4]),
        ("cable [in]", '0,1\n"1/2 in",2', "cable", [0.0, 12.7]),
        ("turn [deg]", "-3,1\n40,2", "turn", [-3.0, 40.0]),
        ("Travel [%]", "0,1", "travel", [0.0]),
    ],
)
def test_positions_are_told_in_four_ways(heading: str, rows: str, told: str, position: list[float]) -> None:
    found = parse_record(f"bench record,1\nunits,mm\n{heading},left\n{rows}\n")
    assert found.told == told
    assert found.position == pytest.approx(position)


@pytest.mark.parametrize("delimiter", [";", "\t", ", "])
def test_spreadsheets_part_cells_as_they_like(delimiter: str) -> None:
    text = GOOD.replace(",", delimiter).replace('"1 3/8 in"', "34.925")
    found = parse_record(text, answer("flat_six").run.rig)
    assert found.plate_angle["right"][0] == 9.6
    assert parse_record("\n" + GOOD.replace("\n", "\r\n")).readings == 4


def test_trailing_commas_of_a_spreadsheet_are_nothing() -> None:
    text = "\n".join(line + "," * (3 - line.count(",")) if "arm" not in line else line for line in GOOD.splitlines())
    assert parse_record(text.replace(",\n", ",,\n"), answer("flat_six").run.rig).readings == 4


def test_bare_lengths_are_in_the_record_s_own_unit() -> None:
    found = parse_record("bench record,1\nunits,in\nlink.left.length,4.4\ntravel [%],left\n0,9\n")
    assert found.as_built["link.left.length"] == pytest.approx(4.4 * 25.4)


# faults


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("bench record,1", "bench record,2", 'r.csv:1: bench record: is of format "2"; this version reads format 1'),
        ("bench record,1", "some table", 'r.csv:1: must begin with "bench record,1", got "some table"'),
        ("units,mm", "units,cm", 'r.csv:3: units: must be mm or in, got "cm"'),
        ("units,mm\n", "", "r.csv: units: is needed"),
        ("link.left.length", "link.lefft.length", 'r.csv:7: link.lefft.length: is not a dimension of this design; did '
         'you mean "link.left.length"?'),
        ("195.30", "abc", 'r.csv:7: link.left.length: "abc" is not a number with a unit'),
        ("195.30", "-3", "r.csv:7: link.left.length: must be above 0, got -3"),
        ("195.30", "195,30", 'r.csv:7: link.left.length: has more than one value; write "1.25" with a point'),
        ("195.30", "5 deg", 'r.csv:7: link.left.length: must be a length, but "deg" is the unit of an angle'),
        ("link.right.length,", "link.left.length,", "r.csv:8: link.left.length: is there twice, first on line 7"),
        ("right [deg]", "rihgt", 'r.csv:11: column "rihgt": is not a shaft of this design; the shafts are left, right'),
        ("right [deg]", "left", 'r.csv:11: column "left": is there twice'),
        ("right [deg]", "right [rad]", 'r.csv:11: column "right [rad]": must be in [deg], got [rad]'),
        ("travel [%]", "travel [mm]", "r.csv:11: travel: must be in [%], got [mm]"),
        ("travel [%],left [deg],right [deg]", "position,left", "r.csv:14: has no table"),
        ("50,44.1,", "50,x,", 'r.csv:13: plate angle of "left": "x" is not a number with a unit'),
        ("50,44.1,", "50,444.1,", 'r.csv:13: plate angle of "left": must be from -30 to 150 degrees'),
        ("50,44.1,", "50,nan,", 'r.csv:13: plate angle of "left": must be a finite number'),
        ("50,44.1,", "150,44.1,", "r.csv:13: travel [%]: must be from 0 to 100, got 150"),
        ("50,44.1,", ",44.1,", "r.csv:13: travel [%]: is blank, but plate angles stand beside it"),
        ("100,,87.2", "100,,87,2", "r.csv:14: has 3 plate angles for 2 columns"),
        ("50,44.1,", "5 0,44.1,", 'r.csv:13: travel [%]: "5 0" is not a number'),
        ("0,9.5,9.6\n50,44.1,\n100,,87.2\n", "", "r.csv:11: travel [%]: the table has no lines below its heading"),
    ],
)  # fmt: skip
def test_a_slip_is_named_with_its_line(old: str, new: str, says: str) -> None:
    assert old in GOOD
    told = refused(GOOD.replace(old, new, 1))
    assert any(line.startswith(says) for line in told), told


def test_a_decimal_comma_between_semicolons_is_refused_with_the_mend() -> None:
    told = refused(GOOD.replace(",", ";").replace("9.5", "9,5").replace('"1 3/8 in"', "34"))
    assert told == ['r.csv:12: plate angle of "left": has a comma in the number "9,5"; write 9.5']


def test_all_faults_come_together_in_the_file_s_order() -> None:
    bad = GOOD.replace("mm", "cm", 1).replace("195.30", "x").replace("44.1", "y").replace("87.2", "z")
    told = refused(bad)
    numbers = [int(line.split(":")[1]) for line in told]
    assert numbers == sorted(numbers) == [3, 7, 13, 14]


@pytest.mark.parametrize("data", [b"", b"\n\n", b"\xff\xfe\x00", b"\0" * 50, b"PK\x03\x04\x14"])
def test_what_is_no_record_is_refused_in_a_line(data: bytes, tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    path.write_bytes(data)
    with pytest.raises(DesignError) as caught:
        read_record(path)
    assert str(caught.value).startswith(str(path))


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(DesignError, match="there is no such file"):
        read_record(tmp_path / "none.csv")
    with pytest.raises(DesignError, match="cannot be read"):
        read_record(tmp_path)


@settings(max_examples=200, deadline=None)
@given(st.text(alphabet='benchrcod,1\n;\t"travel[%]0.59units m\x00ü-', max_size=200))
def test_no_text_makes_it_stumble(scribble: str) -> None:
    for words in (scribble, "bench record,1\n" + scribble, GOOD + scribble):
        try:
            parse_record(words, answer("flat_six").run.rig)
        except DesignError as error:
            assert error.faults


# writing


@pytest.mark.parametrize("make", EXAMPLES.values(), ids=EXAMPLES)
@pytest.mark.parametrize("units", ["mm", "in"])
def test_a_form_reads_back(make: Any, units: Any) -> None:
    run = solve(dataclasses.replace(make(), units=units))
    empty = parse_record(form(run), run.rig)
    assert (empty.readings, empty.as_built, empty.units) == (0, {}, units)
    assert empty.position.tolist() == [row / 100.0 for row in ROWS]
    filled = parse_record(form(run, filled=True), run.rig)
    at = run.at_fraction(np.array(ROWS) / 100.0)
    for name, angle in filled.plate_angle.items():
        assert angle == pytest.approx(at.plate_angle[name], abs=0.006)
    for joint in run.train.joints:
        if joint.forward is not None:
            length = filled.as_built[f"link.{joint.step.by.name}.length"]
            assert length == pytest.approx(float(joint.length), abs=3e-5)


@pytest.mark.parametrize("told", ["travel", "pedal", "cable", "turn"])
def test_what_was_measured_is_written_out_and_read_again(told: Any) -> None:
    run = answer("v8_inches").run
    measured = Record(
        told,
        np.array([0.0, 0.25, 1.0]),
        {"left": np.array([11.5, np.nan, 88.0]), "right": np.array([11.6, 30.0, np.nan])},
        {"link.left.length": 111.8, "shaft.left.pivot.x": -76.1},
        {"date": "2026-03-01", "units": "in", "weather": "rain"},
        "in",
    )
    again = parse_record(form(run, measured=measured), run.rig)
    assert again.told == told
    assert again.position == pytest.approx(measured.position, abs=3e-5)
    for name, angle in measured.plate_angle.items():
        assert again.plate_angle[name] == pytest.approx(angle, nan_ok=True)
    assert again.as_built == pytest.approx(measured.as_built, abs=3e-5)
    assert (again.notes["weather"], again.notes["date"]) == ("rain", "2026-03-01")


def test_a_title_is_no_formula() -> None:
    rig = dataclasses.replace(bell_crank(), title='=cmd("x")', drawing="-1+2")
    written = form(solve(rig))
    assert "\ntitle,=" not in written
    assert '"(=cmd(""x""))"' in written
    assert parse_record(written, rig).notes["drawing"] == "(-1+2)"


# on paper


@pytest.mark.parametrize("name", DEMOS)
def test_the_sheets_are_whole_and_legible(name: str) -> None:
    run = answer(name).run
    measured = parse_record(form(run, filled=True), run.rig)
    for of in (record_sheet(run), record_sheet(run, measured)):
        for page in sheet_pages.pages(of):
            assert outside(page) == []
            assert overlaps(page) == []
            assert min(sizes(page)) >= 8.0


def test_what_was_measured_stands_beside_what_was_designed() -> None:
    run = answer("flat_six").run
    length = float(run.train.joints[0].length)
    written = form(run, filled=True).replace("\n50,43.93", "\n50,44.43").replace(f"{length:.6f}", f"{length + 0.2:.6f}")
    of = record_sheet(run, parse_record(written, run.rig))
    said = text(of)
    assert f"link.left.length  {length:.2f}  {length + 0.2:.2f}  0.20".split() in [
        row.split() for row in said.splitlines()
    ]
    row = next(line.split() for line in said.splitlines() if line.split()[:1] == ["50"])
    assert row[3:6] == ["43.93", "44.43", "0.50"]


@pytest.mark.parametrize("told", ["pedal", "cable", "turn"])
def test_positions_of_any_kind_are_set_beside_the_design(told: Any) -> None:
    run = answer("flat_six").run
    at = run.at_fraction([0.5])
    assert at.pedal is not None
    assert at.cable is not None
    position = {"pedal": at.pedal, "cable": at.cable, "turn": at.turn - run.ends[0]}[told]
    read = {name: angle + 0.25 for name, angle in at.plate_angle.items()}
    said = text(record_sheet(run, Record(told, position, read, {})))
    row = next(line.split() for line in said.splitlines() if line.split()[:1] == ["50"])
    assert row[5] == row[8] == "0.25"


def test_an_empty_form_asks_for_every_proof() -> None:
    said = text(record_sheet(answer("three_side_draughts").run))
    for words in ("Spring front alone", "Spring overall away", "Coupling front_middle parted", "rear 2"):
        assert words in said
    assert said.count("________") > 40
    page = sheet_pages.pages(record_sheet(answer("flat_six").run, date="2026-03-01"))[0]
    assert unlike_the_stored(page, "record_form") < 0.01


# the command


def test_the_command_writes_reads_and_prints(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    file = str(DEMO / "flat_six.toml")

    def run(*args: str) -> Any:
        return CliRunner().invoke(throttle_linkage, ["record", file, *args])

    assert run().stdout == "flat_six_record.csv\n"
    assert read_record("flat_six_record.csv").readings == 0
    assert run().exit_code == 2
    assert run("--filled", "--out", "filled.csv").exit_code == 0
    assert read_record("filled.csv", answer("flat_six").run.rig).readings == 14
    assert run("--measured", "filled.csv", "--out", "r.pdf").exit_code == 0
    assert "Plate angles" in " ".join(text_of(p) for p in opened(Path("r.pdf").read_bytes()).pages)
    assert run("--filled", "--out", "r.txt").exit_code == 0
    assert "as designed; nothing was measured" in Path("r.txt").read_text(encoding="utf-8")
    assert "exclude each other" in run("--filled", "--measured", "x.csv").stderr
    assert run("--out", "x.doc").stderr.startswith("x.doc: end the name in .csv")
    Path("bad.csv").write_text("bench record,1\nunits,mm\ntravel [%],leeft\n0,1\n", encoding="utf-8")
    bad = run("--measured", "bad.csv", "--out", "y.csv")
    assert (bad.exit_code, bad.stdout) == (2, "")
    assert bad.stderr.startswith('bad.csv:3: column "leeft": is not a shaft')
    assert not Path("y.csv").exists()
