"""Reading whole files: what comes out, every sort of bad file, and a fuzz."""

import copy
import dataclasses
import datetime
import math
import os
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linkage.design_file import parse, read, starter, to_text
from linkage.errors import DesignError, Fault, LinkageError
from linkage.parts import Arm, Cable, Linkage, PlateAngle, Screw, Spring

DATA = Path(__file__).parent / "data"
SAMPLES = {name: (DATA / f"{name}.toml").read_text("utf-8") for name in ("every_key", "quadrant_in", "drive")}
RAW = {name: tomllib.loads(text) for name, text in SAMPLES.items()}
LBF, INCH = 4.4482216152605, 25.4


def test_a_metric_file_is_read_as_it_stands() -> None:
    rig = read(DATA / "every_key.toml")
    assert rig.units == "mm"
    assert rig.customer == "nobody in particular"
    assert list(rig.shaft) == ["left", "right", "rear"]
    left = rig.shaft["left"]
    assert (left.name, left.pivot, left.axis, left.opens) == ("left", (-95.0, 0.0, 0.0), (0.0, 0.0, 1.0), "ccw")
    assert (left.bore, left.plates, left.shaft_diameter, left.friction_torque) == (42.0, 2, 8.0, 15.0)
    assert left.plate_angle == PlateAngle(8.0, 10.0, 89.0)
    assert left.arm["lever"] == Arm("lever", 32.0, 99.5, 12.0, width=10.0)
    assert rig.shaft["right"].plates == 1
    assert rig.shaft["right"].bore is None
    assert rig.bellcrank["centre"].axis == (0.0, 0.0, 1.0)
    assert rig.bellcrank["centre"].arm["cable"].radius == pytest.approx(60.325, rel=1e-15)  # 2 3/8 in
    assert rig.bellcrank["pedal"].axis == (1.0, 0.0, 0.0)
    assert rig.link["right"].joins == ("centre.right", "right.lever")
    assert rig.link["right"].length is None
    assert rig.coupling["rear"].offset == 0.25
    assert rig.stop["crank"].screw == Screw(20.0, 0.8)
    assert rig.spring["left"] == Spring("left", on="left", preload=120.0, rate=1.5)  # 0.12 N m
    assert rig.driver == "centre"
    assert rig.source is not None
    assert rig.source.text == SAMPLES["every_key"]


def test_points_get_their_z() -> None:
    rig = read(DATA / "every_key.toml")
    assert rig.shaft["right"].arm["lever"] == Arm("lever", pin=(76.2, 25.9, 12.0), width=9.0)  # pivot 2, station 10
    assert rig.bellcrank["centre"].arm["right"].pin == (-11.0, 17.5, 12.0)
    assert rig.cable is not None
    assert rig.cable.casing_end == (57.0, 200.0, 0.0)  # the pulled arm stands at z 0
    raised = parse(SAMPLES["every_key"].replace("angle = -18.0", "angle = -18.0\nstation = 7.0"))
    assert raised.cable is not None
    assert raised.cable.casing_end == (57.0, 200.0, 7.0)
    lowered = parse(SAMPLES["every_key"].replace("angle = 200.0", "angle = 200.0\nstation = -7.0"))
    assert lowered.spring["overall"].anchor == (-90.0, 120.0, -7.0)
    assert rig.cable.casing_axis == (0.0, -1.0, 0.0)


def test_station_runs_along_the_axis() -> None:
    text = SAMPLES["every_key"].replace("axis = [0.0, 0.0, 2.0]", "axis = [0, 0, -1]")
    rig = parse(text.replace("angle = -18.0", "angle = -18.0\nstation = 7.0"))
    assert rig.bellcrank["centre"].axis == (0.0, 0.0, -1.0)
    assert rig.cable is not None
    assert rig.cable.casing_end == (57.0, 200.0, -7.0)


def test_an_inch_file_comes_out_in_mm_and_newtons() -> None:
    rig = read(DATA / "quadrant_in.toml")
    assert rig.title == "quadrant_in"  # the file's name, for want of a title
    only = rig.shaft["only"]
    assert only.pivot == pytest.approx((0.0, 12.7, 6.35))
    assert only.bore == 45.0
    assert only.arm["Hebel-1"].radius == pytest.approx(31.75)
    assert only.arm["Hebel-1"].angle == 100.0
    assert rig.cable == Cable(
        quadrant="drum", radius=1.25 * INCH, pull_turns="cw", casing_end=(4 * INCH, 6 * INCH, 0.0)
    )
    assert rig.bellcrank["drum"].friction_torque == pytest.approx(2 / 16 * LBF * INCH)
    assert rig.spring["pull"].rate == pytest.approx(5 * LBF / INCH)
    assert rig.spring["pull"].anchor == pytest.approx((50.8, 12.7, 6.35 - 12.7))
    assert rig.spring["twist"].preload == pytest.approx(LBF * INCH)
    assert rig.spring["twist"].rate == pytest.approx(0.02 * LBF * INCH)


def test_a_drive_and_defaults() -> None:
    rig = read(DATA / "drive.toml")
    assert (rig.drive, rig.driver, rig.cable, rig.heat) == ("one", "one", None, None)
    assert rig.pedal is not None
    assert (rig.pedal.pad, rig.pedal.pivot, rig.pedal.travel) == ("one.pad", None, None)
    assert rig.coupling["sectors"].ratio == -1.0
    assert rig.limits.mismatch_at_idle == 0.1


def test_axes_are_made_unit_vectors() -> None:
    text = SAMPLES["every_key"].replace('axis = "x"', "axis = [3, 0, 4.0]")
    assert parse(text).bellcrank["pedal"].axis == pytest.approx((0.6, 0.0, 0.8), abs=1e-15)


def test_a_text_may_carry_a_byte_order_mark_and_other_line_ends(tmp_path: Path) -> None:
    file = tmp_path / "drive.toml"
    file.write_bytes(b"\xef\xbb\xbf" + SAMPLES["drive"].replace("\n", "\r\n").encode())
    assert read(file) == parse("\ufeff" + SAMPLES["drive"], "drive") == parse(SAMPLES["drive"], "drive")


def test_names_may_be_of_any_language() -> None:
    rig = parse(SAMPLES["drive"].replace("shaft.two", 'shaft."größer-2"').replace('"two"', '"größer-2"'))
    assert list(rig.shaft) == ["one", "größer-2"]


def told(file: Path | str) -> str:
    with pytest.raises(DesignError) as error:
        read(file)
    assert isinstance(error.value, LinkageError)
    return str(error.value)


def test_a_missing_file_and_a_folder_are_told(tmp_path: Path) -> None:
    assert told(tmp_path / "no.toml") == f"{tmp_path / 'no.toml'}: there is no such file; check the name and the folder"
    assert told(tmp_path) == f"{tmp_path}: is a folder; name a design file in it"
    assert "there is no such file" in told("")
    assert "cannot be read" in told("a\0b")
    assert "cannot be read" in told("x" * 5000)


def test_a_file_that_may_not_be_read_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def closed(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    with monkeypatch.context() as patch:
        patch.setattr("builtins.open", closed)
        says = told(tmp_path / "mine.toml")
    assert "may not be read; ask for permission" in says


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "is empty"),
        (b" \n\t\n", "is empty"),
        (b"\xef\xbb\xbf", "is empty"),
        (b"format = 1\n\ntitle = '\xe9'\n", ":3: is not UTF-8 text; save it as UTF-8"),
        (b"\x7fELF\x00\x01\x02", "is not TOML"),
        (b"format = 1\0", "is not TOML"),
        (b"# x\n" * 250_001, "is larger than 1000 kB"),
        (b"format = 1\nformat = 1\n", ":2: is not TOML at column 11: Cannot overwrite a value"),
        (b"[shaft.a]\n[shaft.a]\n", ":2: is not TOML"),
        (b"format = \n", ":1: is not TOML at column 10: Invalid value"),
        (b"format = 1\nunits = 'mm", "is not TOML"),
        (b"x = " + b"[" * 100_000, "has brackets nested too deeply"),
        (b"x = " + b"{x=" * 100_000, "has brackets nested too deeply"),
        (b"x = " + b"9" * 10_000, "is not TOML"),
        (b"x = 2000-13-01", "is not TOML"),
    ],
)  # fmt: skip
def test_bad_files_are_told_in_one_line(tmp_path: Path, data: bytes, says: str) -> None:
    file = tmp_path / "bad.toml"
    file.write_bytes(data)
    assert says in told(file)
    assert "\n" not in told(file)
    assert len(told(file)) < 300


def test_a_text_that_is_too_long_is_refused() -> None:
    with pytest.raises(DesignError, match="larger than 1000 kB"):
        parse(SAMPLES["drive"] + "#" * 1_000_001)


def test_the_tables_that_the_readme_shows_go_with_the_starter() -> None:
    readme = (Path(__file__).parent.parent / "README.md").read_text("utf-8")
    samples = re.findall(r"```toml\n(.*?)```", readme, re.DOTALL)
    block = parse(starter() + next(sample for sample in samples if "[slide." in sample))
    assert block.slide["pump"].pin["rod"].at == (190.0, 20.0, 0.0)
    rig = parse(starter() + next(sample for sample in samples if "[wish]" in sample))
    assert rig.wish is not None
    assert None not in dataclasses.astuple(rig.wish)
    assert len(rig.free) == 2
    assert None not in (rig.tolerance, rig.heat, rig.air, rig.play)


def test_nothing_in_a_file_is_executed(tmp_path: Path) -> None:
    mark = tmp_path / "ran"
    code = f"__import__('os').mkdir('{mark}')"
    with pytest.raises(DesignError):
        parse(
            SAMPLES["drive"].replace('"ccw"', f'"{code}"').replace("60.0", f'"{code}"').replace('["one"', f'["{code}"')
        )
    assert not mark.exists()
    assert os.listdir(tmp_path) == []


def leaf_paths(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [*([path] if path else []), *(p for key, inner in items for p in leaf_paths(inner, (*path, key)))]


NAMES = st.sampled_from(["pivot", "radius", "left", "lever", "bore", "x", "", "a b", "pulls", "ünïcode", "arm"])
VALUES = st.recursive(
    st.one_of(
        st.integers(),
        st.integers(-(10**400), 10**400),
        st.floats(),
        st.booleans(),
        st.text(max_size=12),
        st.sampled_from(["ccw", "left.lever", "centre.left", "left", "1/4 in", "1/0 in", "34", "z", "9e999 mm", "."]),
        st.just(datetime.date(2000, 1, 1)),
    ),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(NAMES, inner, max_size=3),
    max_leaves=4,
)


def check(text: str) -> Linkage | None:
    """Either a linkage of finite numbers comes out, or a DesignError whose faults can be shown."""
    faults: tuple[Fault, ...] = ()
    try:
        rig = parse(text)
    except DesignError as error:
        faults = error.faults
    else:
        assert to_text(rig) == text
        return rig
    assert faults
    for fault in faults:
        assert fault.line is None or 1 <= fault.line <= text.count("\n") + 1
        assert len(str(fault)) < 1500
        assert "\n" not in str(fault)
    return None


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_fuzz_of_values(data: st.DataObject) -> None:
    raw = copy.deepcopy(RAW[data.draw(st.sampled_from(sorted(RAW)))])
    for _ in range(data.draw(st.integers(1, 3))):
        path = data.draw(st.sampled_from(leaf_paths(raw)))
        inner: Any = raw
        for key in path[:-1]:
            inner = inner[key]
        if data.draw(st.booleans()) or isinstance(inner, list):
            inner[path[-1]] = data.draw(VALUES)
        else:
            inner[data.draw(NAMES)] = inner.pop(path[-1])
    text = tomlkit.dumps(raw)
    check(text)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_fuzz_of_the_text(data: st.DataObject) -> None:
    text = SAMPLES[data.draw(st.sampled_from(sorted(SAMPLES)))]
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        end = min(len(text), start + data.draw(st.integers(0, 20)))
        text = (
            text[:start]
            + data.draw(st.text(max_size=3) | st.sampled_from(["[[", "]", "=", '"', "\n", "''''"]))
            + text[end:]
        )
    check(text)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_fuzz_of_the_lines(data: st.DataObject) -> None:
    lines = SAMPLES[data.draw(st.sampled_from(sorted(SAMPLES)))].splitlines(keepends=True)
    for _ in range(data.draw(st.integers(1, 4))):
        at, to = (data.draw(st.integers(0, len(lines) - 1)) for _ in "ab")
        lines[at : at + data.draw(st.integers(0, 2))] = [lines[to]]
    rig = check("".join(lines))
    if rig is not None:
        assert all(math.isfinite(v) for member in rig.members.values() for v in member.pivot)
