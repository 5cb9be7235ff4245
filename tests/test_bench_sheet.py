"""The bench sheet: every number by another route, every rule with its source, pages that can hang over a bench."""

from __future__ import annotations

import dataclasses
import math
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from papers import DEMO, DEMOS, answer, opened, text_of, unlike_the_stored
from plot_words import outside, overlaps, sizes
from trains import bell_crank, coupled, hand_set, series

from linkage.answers import check
from linkage.answers.mismatch import spread
from linkage.cli import throttle_linkage
from linkage.motion import solve
from linkage.paper import bench_hold, sheet_pages
from linkage.paper.bench import bench_sheet
from linkage.paper.bench_levers import from_plate, plate_line
from linkage.paper.practice import Practice, rules
from linkage.paper.sheet import Rules, Section, Sheet, Table, text
from linkage.parts import Linkage, PlateAngle, Stop


def sheet(name: str, **settings: Any) -> Sheet:
    return bench_sheet(answer(name), Practice(**settings), date="2026-03-01")


def section(of: Sheet, name: str) -> Section:
    return next(s for s in of.sections if s.name.startswith(name))


def rows(of: Sheet, name: str, index: int = 0) -> dict[str, dict[str, str]]:
    """A table of a section: rows by their first cell, cells by their heading."""
    tables = [block for block in section(of, name).blocks if isinstance(block, Table)]
    return {row[0]: dict(zip(tables[index].heading, row, strict=True)) for row in tables[index].rows}


# links


def test_the_cut_list_by_hand() -> None:
    # the pins of flat_six.toml, by its angles and radii
    def pin(x: float, y: float, radius: float, degrees: float) -> tuple[float, float]:
        return x + radius * math.cos(math.radians(degrees)), y + radius * math.sin(math.radians(degrees))

    centres = math.dist(pin(0.0, 60.0, 45.0, 65.0), pin(-175.0, 0.0, 35.0, 72.0))
    left = rows(sheet("flat_six"), "link cut list")["left"]
    assert float(left["centres [mm]"]) == pytest.approx(centres, abs=0.005)
    # DIN 71802, M5: 22 mm from the ball's centre to the end, 10.2 of thread; 1.5 x 5 = 7.5 engaged at least:
    # 11 turns of 0.8 are 8.8, near the middle of 7.5 to 10.2
    assert (left["thread"], left["turns in"], left["engaged [mm]"]) == ("M5x0.8", "11", "8.80")
    assert float(left["cut [mm]"]) == pytest.approx(centres - 2 * (22.0 - 8.8), abs=0.005)
    assert float(left["left [turns]"]) == pytest.approx((8.8 - 7.5) / 0.8, abs=0.06)
    assert float(left["set shorter [mm]"]) == pytest.approx(2 * (10.2 - 8.8))
    assert float(left["longer [mm]"]) == pytest.approx(2 * (8.8 - 7.5))


def test_rod_ends_of_one_s_own() -> None:
    found = sheet("flat_six", thread="M6x1", rod_end_length=36.0, thread_depth=22.0)
    left = rows(found, "link cut list")["left"]
    # the middle of 9 to 22 is 15.5: 16 turns by Python's rounding to even
    assert left["turns in"] == "16"
    assert float(left["cut [mm]"]) == pytest.approx(float(left["centres [mm]"]) - 2 * (36.0 - 16.0), abs=0.011)
    said = text(found)
    assert "another pitch than the design gives" in said
    assert "as set for this sheet" in " ".join(said.split())
    assert "of adjustment either way; ends" not in said


def test_links_without_a_pitch_have_no_cut_length_and_say_why() -> None:
    found = bench_sheet(check(bell_crank()))
    said = text(found)
    assert "no cut length for link left, right" in said.lower()
    assert "cut [mm]" not in rows(found, "link cut list")["left"]
    with_thread = bench_sheet(check(bell_crank()), Practice(thread="M5x0.8"))
    assert "cut [mm]" in rows(with_thread, "link cut list")["left"]


def test_too_little_thread_and_too_short_a_link_fail() -> None:
    said = text(sheet("flat_six", thread_depth=5.0))
    assert "✗ Link left, right: these ends have too little thread" in said
    said = text(sheet("cross_tube", rod_end_length=60.0))
    assert "shorter than its two ends" in said


def test_a_flat_moves_the_plate_as_a_longer_link_does() -> None:
    run = answer("flat_six").run
    told = rows(sheet("flat_six"), "what a turn")["left"]
    flat = 1.6 / 6.0  # a turn of a left- and right-handed link is two pitches
    length = float(run.train.joints[0].length)
    changed = run.rig.replace("link.left.length", length + flat)
    for heading, share in (("at idle [deg]", 0.0), ("half", 0.5), ("wide open", 1.0)):
        turn = float(run.turn_at_fraction([share])[0])
        moved = solve(changed).at(turn).plate_angle["left"][0] - run.at(turn).plate_angle["left"][0]
        assert float(told[heading]) == pytest.approx(moved, abs=0.015), heading
    assert told[""] == "opens"


def test_what_to_buy() -> None:
    bought = [block for block in section(sheet("cross_tube"), "to buy").blocks if isinstance(block, Table)]
    assert [row[:3] for row in bought[0].rows] == [
        ("M5x0.8", "left hand", "4"),
        ("M5x0.8", "right hand", "4"),
    ]


# levers


def test_coordinates_from_a_datum_of_choice() -> None:
    found = rows(sheet("flat_six", datum=(-175.0, 0.0)), "coordinates")
    assert [found["right"][k] for k in ("x right [mm]", "y up [mm]")] == ["350.00", "0.00"]
    assert found["casing end"]["to you [mm]"] == "20.00"
    assert found["centre"]["y up [mm]"] == "60.00"


@pytest.mark.parametrize("name", DEMOS)
def test_lever_and_plate_angle_agree_with_the_picture_s_own_vectors(name: str) -> None:
    """Plate and lever as vectors: the plate's line, turned ccw by the told angle, lies along the lever."""
    run = answer(name).run
    idle = run.at(run.ends[0])
    found = rows(sheet(name), "clocking")
    for pin, cells in found.items():
        member, arm = pin.rsplit(".", 1)
        if member not in run.rig.shaft:
            continue
        shaft = run.rig.shaft[member]
        sense = 1.0 if shaft.opens == "ccw" else -1.0
        psi = math.radians(float(idle.plate_angle[member][0]))
        plate = np.array([math.cos(psi), sense * math.sin(psi)])  # bores upright: shut is level
        by = math.radians(float(cells["plate to lever [deg]"]))
        turned = np.array([[math.cos(by), -math.sin(by)], [math.sin(by), math.cos(by)]]) @ plate
        at = math.radians(float(shaft.arm[arm].angle or 0.0) + float(idle.member_turn[member][0]))
        assert abs(turned[0] * math.sin(at) - turned[1] * math.cos(at)) < 2e-4


def test_bores_that_lean_turn_the_plate_with_them() -> None:
    shaft = answer("flat_six").run.rig.shaft["left"]
    upright = plate_line(shaft, 9.5, Practice())
    leaning = plate_line(shaft, 9.5, Practice(bores={"left": 120.0}))
    assert upright == pytest.approx(9.5)
    assert leaning == pytest.approx(39.5)
    assert plate_line(shaft, 9.5, Practice(bores={"": 120.0})) == pytest.approx(39.5)
    assert from_plate(72.0, upright) == pytest.approx(62.5)
    assert from_plate(10.0, 170.0) == pytest.approx(20.0)


def test_straight_lines_between_holes_by_hand() -> None:
    found = rows(sheet("flat_six", hole=5.0), "straight-line")
    first = next(iter(rows(sheet("flat_six", hole=5.0), "straight-line").values()))
    # two arms of 45 and 35 mm, 65 - 13 = 52 degrees apart: the law of cosines
    apart = math.sqrt(45.0**2 + 35.0**2 - 2 * 45.0 * 35.0 * math.cos(math.radians(52.0)))
    table = next(b for b in section(sheet("flat_six", hole=5.0), "straight-line").blocks if isinstance(b, Table))
    row = next(r for r in table.rows if r[1] == "centre.right")
    assert float(row[2]) == pytest.approx(apart, abs=0.005)
    assert float(row[3]) == pytest.approx(apart + 5.0, abs=0.005)
    # left.drive: 35 mm at 72 degrees from (-175, 0), to the bell crank's pivot at (0, 60)
    x, y = -175.0 + 35.0 * math.cos(math.radians(72.0)), 35.0 * math.sin(math.radians(72.0))
    assert float(first["centres at idle [mm]"]) == pytest.approx(math.dist((x, y), (0.0, 60.0)), abs=0.005)
    assert found["left.drive"]["to"] == "centre of centre"


# stops, springs, set-up


def test_stop_screws_by_hand() -> None:
    found = rows(sheet("flat_six"), "stops")["crank"]
    assert float(found["chord [mm]"]) == pytest.approx(2 * 30.0 * math.sin(math.radians(61.5 / 2)), abs=0.005)
    assert float(found["a turn [deg]"]) == pytest.approx(math.degrees(1.0 / 30.0), abs=0.005)
    assert found["left [deg]"] == "holds"
    assert rows(sheet("flat_six"), "stops")["left.wide_open"]["left [deg]"] == "0.23"


def test_springs_by_hand() -> None:
    found = rows(sheet("flat_six"), "springs")["left"]
    opened_by = 87.7675 - 9.5  # the plate at the opening stop, of the report
    assert found["idle [N·mm]"] == "200"
    assert float(found["wide open [N·mm]"]) == pytest.approx(200.0 + 2.5 * opened_by, abs=0.6)
    assert found["wound up [deg]"] == "80"  # 200 / 2.5
    pulled = rows(sheet("flat_six"), "springs", 1)["overall"]
    # the pin at 25 mm, 240 degrees from (0, 60); the anchor at (-90, 38)
    pin = 25.0 * math.cos(math.radians(240.0)), 60.0 + 25.0 * math.sin(math.radians(240.0))
    length = math.dist(pin, (-90.0, 38.0))
    assert float(pulled["idle [mm]"]) == pytest.approx(length, abs=0.005)
    assert float(pulled["idle [N]"]) == pytest.approx(5.0 + 0.4 * (length - 70.0), abs=0.06)


def test_the_set_up_card_is_in_order() -> None:
    said = text(sheet("flat_six"))
    card = said[said.index("SET-UP CARD") : said.index("CLOSING PROOF")]
    order = ["Engine off", "Idle stop of left", "Link left", "Wide open", "Pedal stop", "Cable: connect", "Closing"]
    places = [card.index(words) for words in order]
    assert places == sorted(places)
    # the edge of a 45 mm plate, shut at 8 and standing at 9.5 degrees
    gap = 22.5 * (1.0 - math.cos(math.radians(9.5)) / math.cos(math.radians(8.0)))
    assert f"{gap:.2f} mm between its edge and the bore" in " ".join(card.split())
    # 1.5 degrees at 22 mm with 0.8 mm pitch
    assert f"{math.radians(1.5) * 22.0 / 0.8:.2f} turns of idle_screw_left" in " ".join(card.split())


def test_a_pull_that_shuts_is_not_connected() -> None:
    said = text(bench_sheet(check(__import__("linkage").read(DEMO / "flat_six_pulls_shut.toml"))))
    assert "✗ FAIL   Do not build from this sheet: pull direction fails." in said
    assert "Do not connect the cable" in said


def test_springs_alone_and_parts_away_are_told() -> None:
    said = text(sheet("flat_six"))
    assert "spring overall alone  closes every shaft" in said
    assert re.search(r"✓ +link left +180 +330", said)
    pair = text(sheet("crossed_pair"))
    assert re.search(r"spring left alone +\S", pair)


def test_a_design_without_springs_or_cable_still_has_a_sheet() -> None:
    for rig in (bell_crank(), coupled(), series(), hand_set()):
        said = text(bench_sheet(check(rig)))
        assert "no spring is in the design" in said
        assert "not a certificate" in said


def test_a_travel_that_no_stop_ends_is_told() -> None:
    rig = answer("flat_six").run.rig
    shafts = {
        name: dataclasses.replace(shaft, plate_angle=PlateAngle(0.0, 0.0, 120.0)) for name, shaft in rig.shaft.items()
    }
    said = text(bench_sheet(check(dataclasses.replace(rig, shaft=shafts, stop={}))))
    assert "no stop ends the opening" in said


# which dimension to hold


def test_slips_are_what_a_wrong_part_does_to_the_mismatch() -> None:
    run = answer("flat_six").run
    listed, loose, at = bench_hold.slips(run, links_set=False)
    row = {d.path: i for i, d in enumerate(listed)}
    step = 1e-4
    for path in ("link.left.length", "shaft.right.arm.drive.radius", "bellcrank.centre.arm.left.angle"):
        given = float(run.train.joints[0].length) if path == "link.left.length" else run.train.dims[path]
        # links are cut to the nominal lengths
        rig = run.rig
        for joint in run.train.joints:
            rig = rig.replace(f"link.{joint.step.by.name}.length", float(joint.length))
        share = (at.turn - run.ends[0]) / (run.ends[1] - run.ends[0])
        changes = []
        for wrong in (step, -step):
            other = solve(rig.replace(path, given + wrong))
            if other.travel.closing_holds != run.travel.closing_holds:
                continue  # both shafts stand at their stops as drawn: the other one comes to hold
            first, last = other.ends
            angles = other.at(first + share * (last - first)).plate_angle
            drawn = at.plate_angle["left"] - at.plate_angle["right"]
            changes.append(np.abs(angles["left"] - angles["right"] - drawn) / step)
        assert changes
        assert loose[row[path]] == pytest.approx(changes[0], rel=1e-3, abs=1e-4), path


def test_what_may_be_out_keeps_the_limits_and_a_little_more_does_not() -> None:
    run = answer("flat_six").run
    cells = rows(sheet("flat_six"), "which dimension")["right.drive, radius"]
    within = float(re.findall(r"[\d.]+", cells["may be out by"])[0])

    def kept(by: float) -> bool:
        """Fitted links are set so that the shafts stand at idle as drawn."""
        other = solve(run.rig.replace("shaft.right.arm.drive.radius", 28.0 + by))
        apart = check(other).mismatch
        limits = run.rig.limits
        pairs = [(apart.off_idle, limits.mismatch_off_idle), (apart.last, limits.mismatch_at_wide_open)]
        pairs += [(apart.middle, limits.mismatch)] if apart.middle is not None else []
        return all(most.value <= limit for most, limit in pairs)

    assert kept(0.9 * within)
    assert kept(-0.9 * within)
    assert not (kept(1.25 * within) and kept(-1.25 * within))


def test_the_first_to_hold_is_the_tightest() -> None:
    found = next(b for b in section(sheet("v8_inches"), "which dimension").blocks if isinstance(b, Table))
    at = found.heading.index("may be out by")
    tight = [float(re.findall(r"[\d.]+", row[at])[0]) for row in found.rows if row[at].endswith(" in")]
    assert tight == sorted(tight)
    assert all(row[1] in ("0.005 in", "0.5 deg") for row in found.rows)


def test_coaxial_shafts_are_held_by_their_couplings() -> None:
    found = rows(sheet("three_side_draughts"), "which dimension")
    # 0.5 degree at a coupling is 0.5 degree between the shafts on either side of it
    assert found["coupling front_middle, offset"]["links set [deg]"] == "0.50"
    drawn = float(spread(answer("three_side_draughts").run).max())
    room = answer("three_side_draughts").run.rig.limits.mismatch_at_idle - drawn
    told = float(re.findall(r"[\d.]+", found["coupling front_middle, offset"]["may be out by"])[0])
    assert told == pytest.approx(room, abs=0.006)


# rules, units, look


@pytest.mark.parametrize("name", DEMOS)
def test_every_rule_of_thumb_has_its_source(name: str) -> None:
    (block,) = section(sheet(name), "rules").blocks
    assert isinstance(block, Rules)
    assert block.rules == tuple(rules(Practice(), answer(name).run.rig))
    for says, source in block.rules:
        assert says
        assert "no source" in source or "DIN" in source or "as set" in source


def test_an_inch_sheet_shows_decimals_and_the_nearest_sixty_fourth_where_asked() -> None:
    plain = rows(sheet("v8_inches"), "lever holes")["left"]
    assert plain["radius [in]"] == "1.188"
    fractions = rows(sheet("v8_inches", fractions=True), "lever holes")["left"]
    assert fractions["radius [in]"].replace("\u00a0", " ") == "1.188 (1 3/16)"
    assert " mm" not in text(sheet("v8_inches")).replace("4 to 6 mm", "").replace("steel 3 mm", "")


@pytest.mark.parametrize("name", DEMOS)
def test_the_pages_are_whole_and_legible(name: str) -> None:
    pages = sheet_pages.pages(sheet(name, fractions=name == "v8_inches"), "letter" if name == "v8_inches" else "a4")
    for page in pages:
        assert outside(page) == []
        assert overlaps(page) == []
        assert min(sizes(page)) >= 8.0


def test_the_first_page_looks_as_it_was_looked_at() -> None:
    page = sheet_pages.pages(sheet("flat_six"))[0]
    assert unlike_the_stored(page, "bench_sheet") < 0.01
    assert unlike_the_stored(sheet_pages.pages(sheet("flat_six", hole=6.0))[0], "bench_sheet") > 0.01


def test_text_and_pages_say_the_same() -> None:
    of = sheet("flat_six")
    printed = " ".join(text_of(page) for page in opened(sheet_pages.pdf(sheet_pages.pages(of))).pages)
    for cell in ("195.24", "168.84", "62.50", "36.89 mm", "30.68", "common practice, no source"):
        assert cell in printed
        assert cell in text(of)


def test_a_name_with_odd_letters_is_only_a_name() -> None:
    rig = bell_crank()
    stop = Stop("a$b_{x} %", "centre", "opening", turn=60.0)
    odd: Linkage = dataclasses.replace(rig, title="$\\alpha$ & <b> %s", stop={stop.name: stop})
    of = bench_sheet(check(odd))
    assert "a$b_{x} %" in text(of)
    assert "$\\alpha$ & <b> %s" in text_of(opened(sheet_pages.pdf(sheet_pages.pages(of))).pages[0])


# the command


def test_the_command_writes_the_same_bytes_on_the_same_day(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    file = str(DEMO / "crossed_pair.toml")
    first = CliRunner().invoke(throttle_linkage, ["build", file, "--date", "2026-03-01"])
    assert (first.exit_code, first.stdout) == (0, "crossed_pair_bench.pdf\n")
    assert CliRunner().invoke(throttle_linkage, ["build", file, "--date", "2026-03-01"]).exit_code == 2
    args = ["build", file, "--date", "2026-03-01", "--out", "again.pdf"]
    assert CliRunner().invoke(throttle_linkage, args).exit_code == 0
    assert Path("again.pdf").read_bytes() == Path("crossed_pair_bench.pdf").read_bytes()


def test_the_command_prints_text_and_reads_its_settings() -> None:
    args = ["build", str(DEMO / "flat_six.toml"), "--text", "--datum=-175,0", "--bores", "left=45", "--hole", "1/4 in"]
    result = CliRunner().invoke(throttle_linkage, args)
    assert result.exit_code == 0, result.output
    assert "x -175.00, y 0.00 mm" in result.stdout
    assert "left 45.0, right 90.0 degrees" in result.stdout
    assert "Pin holes 6.35 mm" in result.stdout


def test_the_command_refuses_what_is_no_pdf() -> None:
    result = CliRunner().invoke(throttle_linkage, ["build", str(DEMO / "flat_six.toml"), "--out", "x.doc"])
    assert result.exit_code == 2
    assert result.stderr.startswith("x.doc: a bench sheet is a PDF")
