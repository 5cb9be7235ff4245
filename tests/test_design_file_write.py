"""Writing: the text as it was but for what changed, or a fresh one; always reading back as the linkage."""

import dataclasses
import math
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from linkage.design_file import parse, read, starter, to_text, write
from linkage.errors import DesignError, OutputError
from linkage.parts import Linkage, Pedal, PlateAngle, dimensions

DATA = Path(__file__).parent / "data"
SAMPLES = {name: (DATA / f"{name}.toml").read_text("utf-8") for name in ("every_key", "quadrant_in", "drive")}
SAMPLES |= {f"starter_{units}": starter(units) for units in ("mm", "in")}

PATHS = [(name, path) for name in ("every_key", "quadrant_in") for path in dimensions(parse(SAMPLES[name], name))]


def values(part: Any) -> Iterator[Any]:
    """Every value of a linkage but where it came from, numbers and all, in order."""
    if isinstance(part, dict):
        for name, value in part.items():
            yield name
            yield from values(value)
    elif dataclasses.is_dataclass(part):
        for at in dataclasses.fields(part):
            if at.compare:
                yield from values(getattr(part, at.name))
    elif isinstance(part, tuple):
        for value in part:
            yield from values(value)
    else:
        yield part


def same(one: Linkage, other: Linkage) -> bool:
    """Whether two linkages agree in everything, numbers to 1e-9 mm, deg, N."""
    pairs = list(zip(values(one), values(other), strict=True))
    return all(abs(a - b) <= 1e-9 if isinstance(a, float) and isinstance(b, float) else a == b for a, b in pairs)


def changed_lines(old: str, new: str) -> list[str]:
    """Lines of ``new`` that are not in ``old`` at their place, where no line was added or taken away."""
    before, after = old.split("\n"), new.split("\n")
    assert len(before) == len(after)
    return [b for a, b in zip(before, after, strict=True) if a != b]


@pytest.mark.parametrize("name", SAMPLES)
def test_an_unchanged_design_comes_back_letter_by_letter(name: str) -> None:
    assert to_text(parse(SAMPLES[name], name)) == SAMPLES[name]


@pytest.mark.parametrize("name", SAMPLES)
def test_a_fresh_text_reads_back_as_the_linkage(name: str) -> None:
    rig = parse(SAMPLES[name], name)
    fresh = to_text(dataclasses.replace(rig, source=None))
    assert "#" not in fresh
    assert same(parse(fresh), rig)
    if name in ("drive", "starter_mm"):  # every number has few digits and is in mm
        assert parse(fresh) == rig


@pytest.mark.parametrize(("name", "path"), PATHS)
def test_any_dimension_can_be_changed_in_place(name: str, path: str) -> None:
    rig = parse(SAMPLES[name], name)
    old = dimensions(rig)[path]
    new = rig.replace(path, old * 0.996 if abs(old) > 1e-12 else 1e-3 * math.pi)
    text = to_text(new)
    assert same(parse(text, name), new)
    added = text.count("\n") - SAMPLES[name].count("\n")
    if added == 0:  # the key stood there: only its line is another one (or those of points that move with a z)
        assert 1 <= len(changed_lines(SAMPLES[name], text)) <= (4 if path.endswith((".z", ".station")) else 1)
    kept = [line for line in SAMPLES[name].split("\n") if line.startswith("#")]
    assert [line for line in text.split("\n") if line.startswith("#")] == kept


@pytest.mark.parametrize(
    ("name", "path", "value", "line"),
    [
        ("every_key", "shaft.left.bore", 45.0, "bore = 45.0"),
        ("every_key", "link.left.length", 123.45678900004, "length = 123.456789"),
        ("every_key", "shaft.right.arm.lever.pin.y", 26.0, "pin = [76.2, 26.0]       # beside the shaft's end"),
        ("every_key", "bellcrank.centre.arm.cable.radius", 63.5, 'radius = "2.5 in"'),
        ("every_key", "bellcrank.centre.arm.left.angle", 94.0, 'angle = "94.0 deg"'),
        ("every_key", "spring.left.preload", 130.0, 'preload = "0.13 N m"'),
        ("every_key", "stop.crank.screw.pitch", 1.0, "screw = { radius = 20.0, pitch = 1.0 }"),
        ("every_key", "shaft.left.opens", "cw", 'opens = "cw"'),
        ("every_key", "shaft.left.plates", 3, "plates = 3"),
        ("every_key", "title", 'a "new" one', 'title = "a \\"new\\" one"'),
        ("every_key", "heat.links", 11e-6, "links = 1.1e-05"),
        ("quadrant_in", "shaft.only.pivot.x", 25.4, 'only.pivot = [1.0, "1/2 in", 0.25]'),
        ("quadrant_in", "shaft.only.pivot.y", 25.4, 'only.pivot = [0, "1.0 in", 0.25]'),
        ("quadrant_in", "bellcrank.drum.pivot.x", 12.7, "  0.5,   # level with the shaft"),
        ("quadrant_in", "bellcrank.drum.arm.out.radius", 25.4, 'radius = "1.0 in"'),
        ("quadrant_in", "shaft.only.bore", 46.0, 'only.bore = "46.0 mm"'),
        ("quadrant_in", "cable.radius", "1 1/2 in",
         'cable = { quadrant = "drum", radius = 1.5, pull_turns = "cw", casing_end = [4, 6] }'),
        ("quadrant_in", "spring.pull.rate", 4.4482216152605 / 25.4 * 6, 'rate = "6.0 lbf/in"'),
    ],
)  # fmt: skip
def test_a_change_is_written_as_the_user_would(name: str, path: str, value: Any, line: str) -> None:
    new = parse(SAMPLES[name]).replace(path, value)
    assert changed_lines(SAMPLES[name], to_text(new)) == [line]


@pytest.mark.parametrize(
    ("name", "path", "value", "after"),
    [
        ("every_key", "link.right.length", 150.0, 'hands = "right"\nlength = 150.0\n'),
        ("every_key", "shaft.right.bore", 42.0, "wide_open = 89.0 }\nbore = 42.0\n"),
        ("drive", "title", "Two", 'format = 1\ntitle = "Two"\n'),
        ("drive", "limits.gap", 4.0, "ratio = -1.0\n\n[limits]\ngap = 4.0\n"),
        ("quadrant_in", "tolerance.pivot", 2.54, "tolerance = { link_length = 0.01, pivot = 0.1 }\n"),
        ("quadrant_in", "shaft.only.shaft_diameter", 12.7, 'only.bore = "45 mm"\nonly.shaft_diameter = 0.5\n'),
        ("quadrant_in", "cable.travel", 50.8, "casing_end = [4, 6], travel = 2.0 }\n"),
        ("quadrant_in", "shaft.only.arm.Hebel-1.width", 12.7, "station = -0.5, width = 0.5 }\n"),
    ],
)
def test_a_new_key_goes_below_the_last_of_its_table(name: str, path: str, value: Any, after: str) -> None:
    new = parse(SAMPLES[name], name).replace(path, value)
    text = to_text(new)
    assert after in text
    assert same(parse(text, name), new)


@pytest.mark.parametrize(
    ("name", "path", "gone"),
    [
        ("every_key", "link.left.length", "length = 158.0\n"),
        ("every_key", "link.left.pitch", "pitch = 0.8\n"),
        ("every_key", "customer", 'customer = "nobody in particular"\n'),
        ("every_key", "heat.links_rise", "links_rise = 55.0\n"),
        ("quadrant_in", "shaft.only.bore", 'only.bore = "45 mm"\n'),
        ("quadrant_in", "cable.casing_end", ", casing_end = [4, 6]"),
    ],
)
def test_a_key_taken_away_leaves_with_its_line(name: str, path: str, gone: str) -> None:
    assert SAMPLES[name].count(gone) == 1
    assert to_text(parse(SAMPLES[name], name).replace(path, None)) == SAMPLES[name].replace(gone, "")


def test_the_first_key_in_braces_can_be_taken_away() -> None:
    text = SAMPLES["quadrant_in"].replace("{ quadrant", "{ travel = 2, quadrant")
    assert to_text(parse(text).replace("cable.travel", None)) == SAMPLES["quadrant_in"]


def test_what_hangs_on_a_z_stays_where_it_is() -> None:
    """A pin and a casing end without z take theirs from the pivot; when that moves, they are written out."""
    new = parse(SAMPLES["every_key"], "x").replace("bellcrank.centre.pivot.z", 5.0)
    text = to_text(new)
    assert "pivot = [0.0, 80.0, 5.0]" in text
    assert "casing_end = [57.0, 200.0, 0.0]" in text
    assert same(parse(text, "x"), new)


def test_a_pins_z_takes_the_place_of_its_station() -> None:
    new = parse(SAMPLES["every_key"], "x").replace("shaft.right.arm.lever.pin.z", 20.0)
    text = to_text(new)
    assert "pin = [76.2, 25.9, 20.0]       # beside" in text
    assert "station = 10.0" not in text
    assert same(parse(text, "x"), new)


def test_changing_there_and_back_changes_nothing() -> None:
    rig = parse(SAMPLES["quadrant_in"])
    there = rig.replace("shaft.only.bore", 50.0).replace("cable.radius", "2 in")
    back = there.replace("shaft.only.bore", 45.0).replace("cable.radius", 31.75)
    assert to_text(back) == SAMPLES["quadrant_in"]


def test_other_line_ends_are_kept() -> None:
    text = SAMPLES["drive"].replace("\n", "\r\n")
    new = to_text(parse(text).replace("coupling.sectors.offset", 1.0).replace("limits.gap", 4.0))
    assert "ratio = -1.0\r\noffset = 1.0\r\n\r\n[limits]\r\ngap = 4.0\r\n" in new
    assert new.replace("\r\n", "").count("\n") == 0


def test_a_text_without_a_last_line_end_can_be_added_to() -> None:
    new = parse(SAMPLES["drive"].rstrip(), "x").replace("coupling.sectors.offset", 1.0)
    assert to_text(new).endswith("ratio = -1.0\noffset = 1.0\n")
    assert same(parse(to_text(new), "x"), new)


def test_a_linkage_of_other_parts_or_units_is_written_afresh() -> None:
    rig = parse(SAMPLES["every_key"], "x")
    for new in (
        dataclasses.replace(rig, pedal=None),
        dataclasses.replace(rig, stop={}),
        dataclasses.replace(rig, units="in"),
    ):
        text = to_text(new)
        assert "#" not in text
        assert same(parse(text, "x"), new)
    inches = tomllib.loads(to_text(dataclasses.replace(rig, units="in")))
    assert inches["link"]["left"]["length"] == pytest.approx(158.0 / 25.4, abs=1e-10)
    added = dataclasses.replace(parse(SAMPLES["drive"], "x"), pedal=Pedal())
    assert "[pedal]" in to_text(added)
    assert same(parse(to_text(added), "x"), added)


def test_a_linkage_that_breaks_the_rules_is_not_written(tmp_path: Path) -> None:
    rig = parse(SAMPLES["drive"], "x")
    for source in (rig.source, None):
        broken = dataclasses.replace(rig, coupling={}, source=source)
        with pytest.raises(DesignError, match='shaft "two": is loose'):
            write(broken, tmp_path / "broken.toml")
    one = dataclasses.replace(rig.shaft["one"], plate_angle=PlateAngle(3.0, 7.0, 6.0))
    closed = dataclasses.replace(rig, shaft={**rig.shaft, "one": one})
    with pytest.raises(DesignError, match="wide_open 6 deg is not more than idle 7 deg"):
        write(closed, tmp_path / "broken.toml")
    assert list(tmp_path.iterdir()) == []


def test_a_file_is_written_and_never_over_another_unasked(tmp_path: Path) -> None:
    file = tmp_path / "new.toml"
    rig = read(DATA / "drive.toml")
    assert write(rig, file) == file
    assert file.read_bytes() == (DATA / "drive.toml").read_bytes()
    new = rig.replace("coupling.sectors.offset", 1.0)
    with pytest.raises(OutputError, match="stands there already"):
        write(new, file)
    assert file.read_bytes() == (DATA / "drive.toml").read_bytes()
    write(new, file, overwrite=True)
    assert read(file).coupling["sectors"].offset == 1.0
    assert list(tmp_path.iterdir()) == [file]


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="no folder"):
        write(read(DATA / "drive.toml"), tmp_path / "no" / "new.toml")
