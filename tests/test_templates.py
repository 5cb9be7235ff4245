"""Templates read back and measured: PDF and DXF give the design's dimensions to a hundredth of a mm."""

from __future__ import annotations

import builtins
import io
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from click.testing import CliRunner
from ezdxf._options import options
from ezdxf.math import bulge_to_arc
from papers import DEMO, DEMOS, POINT, answer, opened, text_of, unlike_the_stored
from plot_words import outside, overlaps, sizes

from linkage.cli import throttle_linkage
from linkage.errors import DesignError, OutputError
from linkage.motion.assembly import arm_frame
from linkage.paper.dxf import LAYERS, dxf_bytes
from linkage.paper.outlines import sampled
from linkage.paper.plates import Pattern, Plate, patterns, plates, sight
from linkage.paper.practice import Practice
from linkage.paper.sheet import Figures, text
from linkage.paper.sheet_pages import pdf
from linkage.paper.template_pages import page, sheets
from linkage.paper.templates import BARS, Template, drill_list, hole_rows, templates, tiles

HUNDREDTH = 0.01  # [mm]


def listed(name: str, **settings: Any) -> tuple[Template, ...]:
    return templates(answer(name), Practice(**settings))


def one(name: str, part: str, **settings: Any) -> Template:
    return next(t for t in listed(name, **settings) if part in t.names)


def told(name: str) -> Figures:
    return Figures(answer(name).run.rig.units)


# plates


def test_the_holes_of_a_flat_plate_are_the_arms_by_hand() -> None:
    plate = one("flat_six", "centre left+right").part
    assert isinstance(plate, Plate)
    left, right = plate.holes
    assert (left.x, left.y) == pytest.approx((45.0 * math.cos(math.radians(65.0)), 45.0 * math.sin(math.radians(65.0))))
    assert (right.radius, right.angle) == pytest.approx((35.0, 13.0))
    assert (plate.opens, left.carries) == ("ccw", "link left")


def test_an_upright_bell_crank_is_seen_from_above() -> None:
    # its file gives the pin [26.5, -27.0, -37.5]: seen from above 26.5 to the right and 37.5 ahead
    plate = one("skew_bell_crank", "upright left+right").part
    assert isinstance(plate, Plate)
    right = next(hole for hole in plate.holes if hole.name == "right")
    assert (right.x, right.y) == pytest.approx((26.5, 37.5))
    assert plate.seen.says == "x right, -z up"


@pytest.mark.parametrize(
    "axis", [(0, 0, 1), (0, 0, -1), (0, 1, 0), (0, -1, 0), (1, 0, 0), (-1, 0, 0), (0.36, 0.48, 0.8)]
)
def test_a_part_is_seen_with_its_axis_towards_the_eye(axis: tuple[float, float, float]) -> None:
    seen = sight((float(axis[0]), float(axis[1]), float(axis[2])))
    right, up, out = np.array(seen.right), np.array(seen.up), np.array(seen.out)
    assert np.cross(right, up) == pytest.approx(out)
    assert [np.linalg.norm(v) for v in (right, up)] == pytest.approx([1.0, 1.0])


@pytest.mark.parametrize("name", DEMOS)
def test_turning_a_plate_on_paper_is_turning_its_member(name: str) -> None:
    run = answer(name).run
    at = run.at(run.ends[1])
    for plate in plates(run.train, Practice()):
        turn = math.radians(float(at.member_turn[plate.member][0]))
        for hole in plate.holes:
            frame = arm_frame(run.rig, run.train.dims, plate.member, hole.name)
            c, s = (float(x[0]) for x in at.pose[plate.member])
            space = [frame.r * (c * frame.e1[i] + s * frame.e2[i]) for i in range(3)]
            flat = plate.seen.flat((space[0], space[1], space[2]))
            there = hole.x * math.cos(turn) - hole.y * math.sin(turn), hole.x * math.sin(turn) + hole.y * math.cos(turn)
            assert flat == pytest.approx(there, abs=1e-9)


def test_levers_that_are_alike_share_a_template() -> None:
    tubes = listed("cross_tube")
    assert [t.names for t in tubes[:2]] == [
        ("one", "two", "three", "four"),
        ("tube one", "tube two", "tube three", "tube four"),
    ]
    assert tubes[0].names != listed("flat_six")[0].names


@pytest.mark.parametrize("name", DEMOS)
@pytest.mark.parametrize("settings", [{}, {"edge": 3.0, "fillet": 0.0, "hole": 6.4}, {"edge": 9.0, "fillet": 30.0}])
def test_the_outline_keeps_the_edge_distance_everywhere(name: str, settings: dict[str, float]) -> None:
    for template in listed(name, **settings):
        if isinstance(template.part, Pattern):
            continue
        points = sampled(template.part.around, 0.2)
        for _, x, y, diameter in hole_rows(template):
            assert diameter is not None
            rim = min(math.dist(point, (x, y)) for point in points) - 0.5 * diameter
            assert rim >= template.part.edge - 1e-6


def test_a_thin_wall_between_holes_is_told() -> None:
    sheet = drill_list(answer("flat_six"), listed("flat_six", hole=20.0, edge=60.0), Practice(hole=20.0, edge=60.0))
    assert "of metal between" in text(sheet)
    assert "of metal between" not in text(drill_list(answer("flat_six"), listed("flat_six"), Practice()))


# patterns


def test_a_pattern_is_measured_from_the_datum() -> None:
    (pattern,) = patterns(answer("flat_six").run.rig, Practice(datum=(-175.0, 0.0)))
    places = {mark.name: (mark.x, mark.y) for mark in pattern.marks}
    assert places["left"] == (0.0, 0.0)
    assert places["centre"] == (175.0, 60.0)
    assert places["casing end"] == (55.0, 90.0)


def test_coaxial_pivots_are_one_mark_with_their_depths() -> None:
    (pattern,) = patterns(answer("three_side_draughts").run.rig, Practice())
    assert pattern.marks[0].name == "front, middle, rear"
    assert pattern.marks[0].depths == (0.0, -178.0, -356.0)


def test_skew_axes_have_a_pattern_each() -> None:
    flat, upright = patterns(answer("skew_bell_crank").run.rig, Practice())
    assert [mark.name for mark in flat.marks] == ["left", "right"]
    # the casing end is at [37, -7, -120]: seen from above 120 ahead
    assert next((m.x, m.y) for m in upright.marks if m.name == "casing end") == (37.0, 120.0)


# the PDF, measured


class Measured:
    """A page in mm from its lower left corner."""

    def __init__(self, read: Any) -> None:
        self.high = float(read.height) * POINT
        self.read = read

    def lines(self) -> Iterator[tuple[float, float, float, float, float]]:
        """Straight lines x0, y0, x1, y1 and width [mm]."""
        for line in self.read.lines:
            (x0, y0), (x1, y1) = line["pts"]
            yield x0 * POINT, self.high - y0 * POINT, x1 * POINT, self.high - y1 * POINT, line["linewidth"] * POINT

    def circles(self) -> Iterator[tuple[float, float, float]]:
        """Centre and diameter [mm] of the closed curves that are as high as wide."""
        for curve in self.read.curves:
            x0, x1, top, bottom = (float(curve[key]) * POINT for key in ("x0", "x1", "top", "bottom"))
            if abs((x1 - x0) - (bottom - top)) < 1e-3:
                yield 0.5 * (x0 + x1), self.high - 0.5 * (top + bottom), x1 - x0


def measured(figures: list[Any]) -> list[Measured]:
    return [Measured(read) for read in opened(pdf(figures)).pages]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_check_bars_are_true(paper: Any) -> None:
    template = one("flat_six", "left")
    (tile,) = tiles(template, paper)
    (found,) = measured([page(template, tile, answer("flat_six").run.rig, told("flat_six"))])
    long = sorted(abs(x1 - x0) for x0, y0, x1, y1, _ in found.lines() if abs(y1 - y0) < 1e-6)
    for bar in BARS:
        assert min(abs(size - bar) for size in long) < 1e-3, bar
    assert float(found.read.width) * POINT == pytest.approx(tile.page[0], abs=1e-3)


@pytest.mark.parametrize("name", ["flat_six", "v8_inches", "skew_bell_crank"])
def test_every_hole_measured_in_the_pdf_is_the_design_s(name: str) -> None:
    run = answer(name).run
    levers = [t for t in listed(name) if isinstance(t.part, Plate)]
    spots = [tiles(template, "a4")[0] for template in levers]
    found = measured([page(t, tile, run.rig, told(name)) for t, tile in zip(levers, spots, strict=True)])
    for template, tile, read_back in zip(levers, spots, found, strict=True):
        plate = template.part
        assert isinstance(plate, Plate)
        circles = list(read_back.circles())
        hub = tile.on_page(0.0, 0.0)
        for hole in plate.holes:
            # straight from the parts, not from the plate
            arm = run.rig.members[plate.member].arm[hole.name]
            radius = arm.radius or math.dist(arm.pin or (0, 0, 0), arm_frame_centre(run, plate.member, hole.name))
            at = min(circles, key=lambda c: math.dist(c[:2], tile.on_page(hole.x, hole.y)))
            assert math.dist(at[:2], hub) == pytest.approx(radius, abs=HUNDREDTH)
            assert at[2] == pytest.approx(hole.diameter, abs=HUNDREDTH)
        middle = min(circles, key=lambda c: math.dist(c[:2], hub))
        assert math.dist(middle[:2], hub) < HUNDREDTH
        assert middle[2] == pytest.approx(plate.hub, abs=HUNDREDTH)


def arm_frame_centre(run: Any, member: str, arm: str) -> Any:
    return arm_frame(run.rig, run.train.dims, member, arm).centre


def test_tiles_fit_mark_on_mark() -> None:
    template = one("flat_six", "pivots")
    both = tiles(template, "a4")
    assert [tile.name for tile in both] == ["A1", "B1"]
    pages = measured([page(template, tile, answer("flat_six").run.rig, told("flat_six")) for tile in both])
    places = []
    for tile, found in zip(both, pages, strict=True):
        circles = [c for c in found.circles() if abs(c[2] - 4.0) > 1e-3]  # not the register marks
        for x, y, size in circles:
            places.append((x - tile.cell[0] + tile.x, y - tile.cell[1] + tile.y, size))
        crosses = {(round(x, 2), round(y, 2)) for x, y, size in found.circles() if abs(size - 4.0) < 1e-3}
        left, bottom, right, top = tile.cell
        assert crosses == {(round(x, 2), round(y, 2)) for x in (left, right) for y in (bottom, top)}
    here, there = (min(places, key=lambda p: math.dist(p[:2], (x, 0.0))) for x in (-175.0, 175.0))
    assert math.dist(here[:2], there[:2]) == pytest.approx(350.0, abs=HUNDREDTH)
    centre = min(places, key=lambda p: math.dist(p[:2], (0.0, 60.0)))
    assert math.dist(here[:2], centre[:2]) == pytest.approx(math.hypot(175.0, 60.0), abs=HUNDREDTH)


def test_a_seam_keeps_clear_of_holes() -> None:
    template = one("flat_six", "pivots")
    for tile in tiles(template, "a4"):
        for _, x, y, _ in hole_rows(template):
            px, py = tile.on_page(x, y)
            inside = tile.cell[1] <= py <= tile.cell[3]
            assert not inside or min(abs(px - tile.cell[0]), abs(px - tile.cell[2])) > 8.0


def test_many_tiles_are_named_by_column_and_row() -> None:
    template = one("flat_six", "left", edge=250.0)
    names = [tile.name for tile in tiles(template, "a4")]
    assert names[0] == "A1"
    assert len(set(names)) == len(names) > 4
    assert {name[0] for name in names} >= {"A", "B", "C"}


@pytest.mark.parametrize("name", DEMOS)
def test_the_sheets_are_whole_and_legible(name: str) -> None:
    paper: Any = "letter" if name == "v8_inches" else "a4"
    practice = Practice(fractions=name == "v8_inches")
    figures = sheets(answer(name), templates(answer(name), practice), practice, paper=paper, date="2026-03-01")
    for figure in figures:
        assert outside(figure) == []
        assert overlaps(figure) == []
        assert min(sizes(figure)) >= 8.0


def test_the_sheets_say_how_to_print_and_what_they_are() -> None:
    figures = sheets(answer("flat_six"), listed("flat_six"), Practice(), date="2026-03-01")
    words = [text_of(read) for read in opened(pdf(figures)).pages]
    assert all("print at 100 %" in page for page in words[2:])
    assert "Print at 100 %" in " ".join(words[:2])
    assert "not a certificate" in words[0]
    assert any(page.startswith("Plate: centre left+right") and "4.00 mm thick" in page for page in words)
    assert any("tile A1 of 2 × 1" in page for page in words)


def test_the_same_day_gives_the_same_bytes() -> None:
    first, second = (
        pdf(sheets(answer("flat_six"), listed("flat_six")[:1], Practice(), date="2026-03-01")) for _ in range(2)
    )
    assert first == second


def test_a_template_looks_as_it_was_looked_at() -> None:
    template = one("flat_six", "centre left+right")
    (tile,) = tiles(template, "a4")
    figure = page(template, tile, answer("flat_six").run.rig, told("flat_six"), date="2026-03-01")
    assert unlike_the_stored(figure, "template_bell_crank") < 0.01
    template = one("skew_bell_crank", "pivots of upright")
    (tile,) = tiles(template, "a4")
    other = page(template, tile, answer("skew_bell_crank").run.rig, told("skew_bell_crank"), date="2026-03-01")
    assert unlike_the_stored(other, "template_pattern") < 0.01
    template = one("flat_six", "centre left+right", fillet=2.0)  # another fillet is another picture
    figure = page(template, tiles(template, "a4")[0], answer("flat_six").run.rig, told("flat_six"), date="2026-03-01")
    assert unlike_the_stored(figure, "template_bell_crank") > 0.01


# the DXF, measured


def read(name: str, template: Template) -> Any:
    data = dxf_bytes(template, answer(name).run.rig, told(name), date="2026-03-01")
    return ezdxf.read(io.StringIO(data.decode("utf-8")))  # type: ignore[attr-defined]


@pytest.mark.parametrize("name", DEMOS)
def test_every_dxf_is_clean_and_gives_the_design_s_dimensions(name: str) -> None:
    rig = answer(name).run.rig
    size = 1.0 if rig.units == "mm" else 25.4
    for template in listed(name):
        drawing = read(name, template)
        audit = drawing.audit()
        assert (audit.errors, audit.fixes) == ([], [])
        assert drawing.header["$INSUNITS"] == (4 if rig.units == "mm" else 1)
        space = drawing.modelspace()
        assert {entity.dxf.layer for entity in space} <= set(LAYERS)
        circles = [
            (e.dxf.center.x * size, e.dxf.center.y * size, 2 * e.dxf.radius * size) for e in space.query("CIRCLE")
        ]
        rows = [row for row in hole_rows(template) if row[3] is not None]
        assert len(circles) == len(rows)
        for _, x, y, diameter in rows:
            at = min(circles, key=lambda c: math.dist(c[:2], (x, y)))
            assert math.dist(at[:2], (x, y)) < HUNDREDTH
            assert at[2] == pytest.approx(diameter, abs=HUNDREDTH)
        if isinstance(template.part, Plate):
            around(space, template.part, size)


def around(space: Any, plate: Plate, size: float) -> None:
    """The outline is one closed polyline, of the arcs and tangents of the plate."""
    (polyline,) = space.query("LWPOLYLINE[layer=='OUTLINE']")
    assert polyline.closed
    corners = [(x * size, y * size, bulge) for x, y, bulge in polyline.get_points("xyb")]
    radii = []
    for (x0, y0, bulge), (x1, y1, _) in zip(corners, [*corners[1:], corners[0]], strict=True):
        if bulge:
            centre, _, _, radius = bulge_to_arc((x0, y0), (x1, y1), bulge)
            radii.append((radius, (centre.x, centre.y), bulge > 0.0))
    for hole in plate.holes:
        boss = 0.5 * hole.diameter + plate.edge
        assert any(
            math.dist(centre, (hole.x, hole.y)) < HUNDREDTH and abs(radius - boss) < HUNDREDTH
            for radius, centre, outwards in radii
            if outwards
        )
    assert all(abs(radius - plate.fillet) < HUNDREDTH for radius, _, outwards in radii if not outwards)


def test_the_same_part_gives_the_same_dxf() -> None:
    template = one("flat_six", "left")
    rig = answer("flat_six").run.rig
    assert dxf_bytes(template, rig, told("flat_six")) == dxf_bytes(template, rig, told("flat_six"))
    assert options.write_fixed_meta_data_for_testing is False


def test_without_ezdxf_one_line_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def without(name: str, *args: Any, **more: Any) -> Any:
        if name.partition(".")[0] == "ezdxf":
            raise ImportError(name)
        return real(name, *args, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(OutputError) as caught:
        dxf_bytes(one("flat_six", "left"), answer("flat_six").run.rig, told("flat_six"))
    assert "pip install" in str(caught.value)
    assert "\n" not in str(caught.value)


# the command


def test_the_command_writes_a_folder_and_nothing_over_another(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    args = ["templates", str(DEMO / "flat_six.toml"), "--date", "2026-03-01"]
    result = CliRunner().invoke(throttle_linkage, args)
    assert result.exit_code == 0, result.output
    names = {path.name for path in (tmp_path / "flat_six_templates").iterdir()}
    assert {"templates.pdf", "drill_list.txt", "left.dxf", "centre_left+right.dxf", "pivots.dxf"} <= names
    assert len(result.stdout.split()) == len(names)
    again = CliRunner().invoke(throttle_linkage, args)
    assert again.exit_code == 2
    assert "stands there already" in again.stderr
    assert CliRunner().invoke(throttle_linkage, [*args, "--force", "--no-dxf"]).exit_code == 0


def test_settings_in_inches_carry_their_unit(tmp_path: Path) -> None:
    args = ["templates", str(DEMO / "v8_inches.toml"), "--folder", str(tmp_path / "cut"), "--no-dxf"]
    result = CliRunner().invoke(throttle_linkage, [*args, "--hole", "1/4 in", "--edge", "0.25", "--thickness", "4 mm"])
    assert result.exit_code == 0, result.output
    words = (tmp_path / "cut" / "drill_list.txt").read_text(encoding="utf-8")
    assert "Pin holes 0.250 in" in words
    assert "0.250 in of metal from the rim" in words
    assert "Plates 0.157 in thick" in words


@pytest.mark.parametrize(
    ("option", "says"),
    [
        (["--hole", "abc"], '"abc" is not a number'),
        (["--edge", "-1"], "must be from 0.5"),
        (["--fillet", "1e9"], "must be from 0 to 1000 mm"),
        (["--hole", "nan"], "must be a finite number"),
        (["--datum", "3"], "two lengths with a comma"),
        (["--fractions"], "is for designs in inches"),
        (["--thread", "M66"], 'write it like "M6x1"'),
    ],
)
def test_a_setting_that_cannot_be_used_is_named(option: list[str], says: str, tmp_path: Path) -> None:
    args = ["templates", str(DEMO / "flat_six.toml"), "--folder", str(tmp_path / "cut"), *option]
    result = CliRunner().invoke(throttle_linkage, args)
    assert result.exit_code == 2
    assert result.stderr.startswith(f"options: {option[0]}: ")
    assert says in result.stderr
    assert not (tmp_path / "cut").exists()


def test_a_shaft_that_is_not_there_is_refused() -> None:
    with pytest.raises(DesignError, match='no shaft is called "lefft"; did you mean "left"'):
        templates(answer("flat_six"), Practice(bores={"lefft": 45.0}))
