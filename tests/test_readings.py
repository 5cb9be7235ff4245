"""Tables of bench readings: what may be written, and every fault with its line."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from trains import bell_crank, crossed_pair

from linkage.errors import DesignError
from linkage.parts import Cable, Linkage, Pedal
from linkage.search.readings import LARGEST_FILE, MOST_ROWS, POSITIONS, Readings, parse_readings, read_readings

RIG = bell_crank()


def inch() -> Linkage:
    return dataclasses.replace(RIG, units="in")


def with_cable() -> Linkage:
    cable = Cable(quadrant="centre", radius=30.0, pull_turns="ccw")
    return dataclasses.replace(RIG, cable=cable, drive=None, pedal=Pedal(ratio=3.0))


def cells(found: Readings) -> list[tuple[str, str, int, float]]:
    return [(r.what, r.shaft, r.row, r.value) for r in found.readings]


def faults(text: str, rig: Linkage = RIG) -> list[str]:
    with pytest.raises(DesignError) as caught:
        parse_readings(text, rig, "bench.csv")
    return [str(fault) for fault in caught.value.faults]


# ---- what may be written ---------------------------------------------------------------------------


def test_every_kind_of_column_in_its_unit() -> None:
    text = (
        "# a remark\n"
        "position,travel [%],left [deg],right plate [°],left flow [kg/h],right flow [lb/h],"
        "left gap [thou],right gap [in]\n"
        "idle,,9.6,10.1,4.2,10,4,0.01\n"
        "\n"
        ",50,,42.0,,,,\n"
    )
    found = parse_readings(text, RIG, "bench.csv")
    assert [(row.name, row.line, row.at) for row in found.rows] == [("idle", 3, "closing"), ("travel 50", 5, "")]
    assert cells(found) == [
        ("plate", "left", 0, 9.6),
        ("plate", "right", 0, 10.1),
        ("flow", "left", 0, 4.2),
        ("flow", "right", 0, pytest.approx(4.5359237, abs=1e-12)),
        ("gap", "left", 0, pytest.approx(0.1016, abs=1e-12)),
        ("gap", "right", 0, pytest.approx(0.254, abs=1e-12)),
        ("travel", "", 1, 0.5),
        ("plate", "right", 1, 42.0),
    ]
    assert found.where(found.readings[-1]) == 'bench.csv:5: "travel 50", right plate [°]'


def test_a_heading_without_a_unit_has_the_design_s_own() -> None:
    found = parse_readings("left,right gap,left flow\n9,0.01,4\n", inch())
    assert cells(found) == [
        ("plate", "left", 0, 9.0),
        ("gap", "right", 0, pytest.approx(0.254, abs=1e-12)),
        ("flow", "left", 0, 4.0),
    ]


@pytest.mark.parametrize(("heading", "value"), [("cable [in]", 25.4), ("pedal [mm]", 1.0), ("turn [deg]", 1.0)])
def test_where_the_linkage_stands(heading: str, value: float) -> None:
    found = parse_readings(f"{heading},left [deg]\n0,9\n1,10\n", with_cable())
    assert [r.value for r in found.readings if r.what in POSITIONS] == [0.0, pytest.approx(value, abs=1e-12)]
    assert [row.at for row in found.rows] == ["closing", ""]


@pytest.mark.parametrize(
    ("name", "at"), [("idle", "closing"), ("At Rest", "closing"), ("Wide open", "opening"), ("a third", "")]
)
def test_the_name_of_a_row_may_say_the_stop(name: str, at: str) -> None:
    assert parse_readings(f"position,left [deg]\n{name},9\n", RIG).rows[0].at == at


@pytest.mark.parametrize(
    "text",
    [
        "left [deg];right [deg]\n9,5;10,25\n",
        "left [deg]\tright [deg]\n9.5\t10.25\n",
        '"left [deg]","right [deg]"\n"9.5",10.25\n',
    ],
)
def test_semicolons_with_decimal_commas_tabs_and_quotes(text: str) -> None:
    assert [r.value for r in parse_readings(text, RIG).readings] == [9.5, 10.25]


def test_a_filled_bench_record_is_read_for_its_table() -> None:
    record = "bench record,1\nunits,mm\nlink.left.length,195.3\ntravel [%],left [deg],right [deg]\n0,9.5,9.6\n50,44,\n"
    found = parse_readings(record, RIG)
    assert cells(found)[:3] == [("travel", "", 0, 0.0), ("plate", "left", 0, 9.5), ("plate", "right", 0, 9.6)]
    assert [row.line for row in found.rows] == [5, 6]


def test_the_same_from_a_file_with_a_byte_order_mark(tmp_path: Path) -> None:
    text = "left [deg],right [deg]\n9,10\n"
    path = tmp_path / "bench.csv"
    path.write_text(text, encoding="utf-8-sig")
    assert read_readings(path, RIG).readings == parse_readings(text, RIG).readings
    assert read_readings(path, RIG).file == str(path)


@given(st.lists(st.one_of(st.none(), st.floats(-9.99, 119.99)), min_size=1, max_size=8))
def test_blanks_are_no_readings_and_numbers_come_back(values: list[float | None]) -> None:
    text = "position,left [deg]\n" + "".join(f"p,{'' if v is None else repr(v)}\n" for v in values)
    assert [r.value for r in parse_readings(text, RIG).readings] == [v for v in values if v is not None]


# ---- what may not ------------------------------------------------------------------------------------


def test_all_faults_are_told_together_each_with_its_line() -> None:
    text = "travel [%],lefft [deg],right [mm],left [deg],left [deg]\n10,1,2,3,4\n"
    assert faults(text) == [
        'bench.csv:1: column "lefft [deg]": is not known; did you mean "left"?',
        'bench.csv:1: column "right [mm]": has the unit "mm"; it may be deg or ° or degrees',
        'bench.csv:1: column "left [deg]": stands there twice; put readings taken again into a row of their own',
    ]
    text = "left [deg],right gap [mm]\n9..5,1\n\n200,x\n12,23\n1,2,3\n"
    assert faults(text) == [
        'bench.csv:2: column "left [deg]": "9..5" is not a number; leave a cell without a reading empty',
        'bench.csv:4: column "left [deg]": must be from -10 to 120, got 200; read it again',
        'bench.csv:4: column "right gap [mm]": "x" is not a number; leave a cell without a reading empty',
        'bench.csv:5: column "right gap [mm]": must be from 0 to 22.5, got 23; read it again',
        "bench.csv:6: has 3 cells under 2 headings; take cells away",
    ]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "bench.csv: is empty; begin with a line of headings"),
        ("# only a remark\n", "bench.csv: is empty; begin with a line of headings"),
        ("left [deg]\n", "bench.csv:1: has headings but no readings"),
        ("travel [%]\n10\n", 'bench.csv:1: no column holds readings of a shaft; head one "left [deg]"'),
        (
            "travel [%],turn [deg],left [deg]\n1,2,3\n",
            "bench.csv:1: positions are given in 2 ways: travel [%], turn [deg]",
        ),
        ("left [deg],\n1,2\n", 'bench.csv:2: "2" stands under no heading'),
        ("left [[deg]\n1\n", 'column "left [[deg]": cannot be read'),
        ("bench record,1\nunits,mm\n", "bench.csv: is empty"),
        ("left [deg]\n" + "1\n" * (MOST_ROWS + 1), f"has {MOST_ROWS + 1} rows; {MOST_ROWS} are the most"),
        ("left [deg]\n1e999\n", "must be from -10 to 120, got 1e999"),
        ("x" * (LARGEST_FILE + 1), "is larger than 200 kB"),
    ],
)
def test_what_cannot_be_used_is_said(text: str, says: str) -> None:
    assert says in faults(text)[0]


def test_a_cable_or_a_pedal_position_needs_them_in_the_design() -> None:
    pair = crossed_pair()
    assert "needs a [cable] in the design" in faults("cable [mm],a [deg]\n1,2\n", pair)[0]
    assert "needs a [cable] in the design" in faults("pedal [mm],a [deg]\n1,2\n", pair)[0]
    without = dataclasses.replace(with_cable(), pedal=None)
    assert "needs a [pedal] in the design" in faults("pedal [mm],left [deg]\n1,2\n", without)[0]


def test_a_gap_or_a_flow_needs_the_bore() -> None:
    shafts = {name: dataclasses.replace(shaft, bore=None) for name, shaft in RIG.shaft.items()}
    bare = dataclasses.replace(RIG, shaft=shafts)
    assert faults("left gap [mm],left [deg]\n1,1\n", bare) == [
        'bench.csv:1: column "left gap [mm]": needs the bore of shaft "left"; add it to the design'
    ]


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda path: None, "there is no such file"),
        (lambda path: path.mkdir(), "is a folder"),
        (lambda path: path.write_bytes(b"left [deg]\n\xff\n"), ":2: is not UTF-8 text"),
        (lambda path: path.write_bytes(b"x" * (LARGEST_FILE + 1)), "is larger than"),
    ],
)
def test_a_file_that_cannot_be_read_is_said(make: object, says: str, tmp_path: Path) -> None:
    path = tmp_path / "bench.csv"
    make(path)  # type: ignore[operator]
    with pytest.raises(DesignError) as caught:
        read_readings(path, RIG)
    assert says in str(caught.value)
    assert str(path) in str(caught.value)


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        found = parse_readings("left [deg],right [deg]\n" + text, RIG)
    except DesignError as error:
        assert error.faults
    else:
        assert all(-10.0 <= r.value <= 120.0 for r in found.readings)
