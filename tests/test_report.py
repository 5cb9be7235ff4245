"""The report: the verdict first and in words, figures where they belong, in the design's own unit."""

from __future__ import annotations

import dataclasses
import math
import re

import pytest
from trains import EXAMPLES, bell_crank, cross_tube, hand_set, parallel_pair, with_stop

from linkage.answers import CAUTION, Answer, Check, check, joints
from linkage.paper import report as report_module
from linkage.paper.lines import WIDTH, aligned, bar, fixed, in_own_unit, length
from linkage.paper.report import AT_LEAST, left_out, report
from linkage.parts import Heat, Linkage, Pedal, Screw, Stop, Tolerance

SIGN = {"pass": "✓", "caution": "!", "fail": "✗"}


@pytest.fixture(scope="module")
def answers() -> dict[str, Answer]:
    return {name: check(make()) for name, make in EXAMPLES.items()}


def _section(text: str, heading: str) -> list[str]:
    lines = text.splitlines()
    start = lines.index(heading) + 1
    return lines[start : lines.index("", start)] if "" in lines[start:] else lines[start:]


def _block(text: str, heading: str) -> str:
    """A section with the blank lines inside it, up to the next heading."""
    return re.split(r"\n\n(?=[A-Z][A-Z ]+\n|─)", text.split(f"{heading}\n", 1)[1])[0]


def test_the_verdict_stands_above_all_figures(answers: dict[str, Answer]) -> None:
    for name, answer in answers.items():
        text = report(answer)
        verdict = text.split("═\n\n")[1].splitlines()[0]
        assert verdict.startswith(f"{SIGN[answer.verdict]} {answer.verdict.upper()}"), name
        assert text.index(verdict) < text.index("CHECKS")


def test_every_check_that_does_not_pass_is_told_in_words_fails_first(answers: dict[str, Answer]) -> None:
    told = 0
    for answer in answers.values():
        words = " ".join(report(answer).split("CHECKS")[0].split()).lower()
        at = []
        for word in ("fail", "caution"):
            for one in answer.checks:
                if one.verdict == word:
                    at.append(words.index(" ".join(one.says.split()).lower()))
        assert at == sorted(at)
        told += len(at)
    assert told > 10


def test_the_number_of_fails_is_told() -> None:
    answer = check(hand_set())
    fails = sum(one.verdict == "fail" for one in answer.checks)
    assert fails > 1
    assert f"{fails} of {len(answer.checks)} checks fail" in report(answer)


def test_every_check_has_its_line_with_sign_and_word(answers: dict[str, Answer]) -> None:
    for answer in answers.values():
        lines = _section(report(answer), "CHECKS")[1:]
        assert len(lines) == len(answer.checks)
        for line, one in zip(lines, answer.checks, strict=True):
            assert line.split()[:2] == [SIGN[one.verdict], "FAIL" if one.verdict == "fail" else one.verdict]
            assert one.name.replace("_", " ") in line
            assert line.endswith(one.where)


def test_max_and_min_agree_with_what_passes_and_fails(answers: dict[str, Answer]) -> None:
    """Whether a limit is a floor or a ceiling is told of every check the way the verdict took it."""
    met: set[str] = set()
    for answer in answers.values():
        for one in answer.checks:
            if one.value is None or one.limit is None or one.verdict == "caution":
                continue
            good = one.value >= one.limit if one.name in AT_LEAST else one.value <= one.limit + 1e-9
            assert good == (one.verdict == "pass"), one
            met.add(one.name)
    assert AT_LEAST & met
    assert met - AT_LEAST


def test_the_caution_closes_every_report(answers: dict[str, Answer]) -> None:
    for answer in answers.values():
        assert " ".join(report(answer).rpartition("─\n")[2].split()) == CAUTION


def test_no_line_is_wider_than_a_hundred_columns(answers: dict[str, Answer]) -> None:
    for answer in answers.values():
        assert max(len(line) for line in report(answer).splitlines()) <= 100


def test_a_long_name_wraps_where_a_check_was_met() -> None:
    name = "the_lever_at_the_far_end_of_the_cross_shaft_behind_the_head"
    rig = bell_crank()
    link = dataclasses.replace(rig.link["left"], name=name)
    text = report(check(dataclasses.replace(rig, link={name: link, "right": rig.link["right"]})))
    lines = _section(text, "CHECKS")[1:]
    assert max(map(len, lines)) <= 100
    assert f'link"{name}",' in "".join("".join(lines).split())


def test_words_of_matrices_do_not_occur(answers: dict[str, Answer]) -> None:
    for answer in answers.values():
        assert not re.search(r"\b(nan|inf|array|jacobian|matrix|None|rad)\b", report(answer))


def _travel_rows(text: str) -> dict[str, list[float]]:
    rows = {}
    for line in _section(text, "THROUGH THE TRAVEL"):
        name, *numbers = re.split(r" {2,}", line.strip())
        rows[name] = [float(n) for n in numbers]
    return rows


def test_a_parallelogram_stands_where_arithmetic_puts_it() -> None:
    """Equal arms on equal centres: both plates open evenly from 12 to 90 degrees."""
    rows = _travel_rows(report(check(parallel_pair())))
    shares = [0, 10, 25, 50, 75, 90, 100]
    assert rows["travel [%]"] == shares
    by_hand = [round(12 + 78 * share / 100, 2) for share in shares]
    assert rows["a, plate angle [deg]"] == by_hand
    assert rows["b, plate angle [deg]"] == by_hand
    assert rows["mismatch [deg]"] == [0.0] * 7
    assert "evenly" in report(check(parallel_pair()))


def test_lengths_are_in_the_designs_own_unit() -> None:
    """One linkage, once in mm and once in inches: 25.4 mm to the inch, angles the same."""
    rig = dataclasses.replace(bell_crank(), pedal=Pedal(ratio=4.0))
    metric = report(check(rig))
    inch = report(check(dataclasses.replace(rig, units="in")))
    rows, rows_in = _travel_rows(metric), _travel_rows(inch)
    for name in ("cable", "pedal pad"):
        for mm, inches in zip(rows[f"{name} [mm]"], rows_in[f"{name} [in]"], strict=True):
            assert abs(mm - 25.4 * inches) <= 0.005 + 25.4 * 0.0005
    assert rows["left, plate angle [deg]"] == rows_in["left, plate angle [deg]"]
    found = {m[1]: float(m[2]) for m in re.finditer(r"^  (\w+) .* ([\d.]+)  fitted", metric, re.MULTILINE)}
    for name, mm in found.items():
        match = re.search(rf"^  {name} .* ([\d.]+)  fitted", inch, re.MULTILINE)
        assert match is not None
        assert abs(mm - 25.4 * float(match[1])) <= 0.005 + 25.4 * 0.0005
    assert len(found) == 2
    assert " mm" not in inch
    assert " in " not in metric.split("LINKS")[1].split("CAUTION")[0].replace(" in it", "")


def test_pedal_pad_moves_by_the_ratio_with_the_free_play() -> None:
    rig = dataclasses.replace(bell_crank(), pedal=Pedal(ratio=4.0))
    rows = _travel_rows(report(check(rig)))
    assert rows["pedal pad [mm]"] == pytest.approx([4.0 * c for c in rows["cable [mm]"]], abs=0.02)


def test_the_stop_that_holds_and_every_other_gap_is_told() -> None:
    answer = check(hand_set())
    block = _block(report(answer), "TRAVEL AND STOPS")
    assert re.search(rf"closing +{answer.stops.closing.holds} +holds", block)
    assert re.search(rf"opening +{answer.stops.opening.holds} +holds", block)
    for end in (answer.stops.closing, answer.stops.opening):
        for name, gap in end.gaps.items():
            assert re.search(rf"{re.escape(name)} +{gap:.2f}$", block, re.MULTILINE)


def test_a_gap_is_told_in_turns_of_its_screw() -> None:
    """A stop one degree past the end, on a screw of 1 mm pitch 57.296 mm out, is one turn away."""
    rig = bell_crank()
    end = check(rig).run.ends[1]
    stop = Stop("crank", "centre", "opening", turn=end + 1.0, screw=Screw(180.0 / math.pi, 1.0))
    block = _block(report(check(with_stop(rig, stop))), "TRAVEL AND STOPS")
    assert re.search(r"crank +1\.00 +1\.00 +1\.00$", block, re.MULTILINE)


def test_one_shaft_has_no_mismatch_to_tell() -> None:
    text = report(check(EXAMPLES["tilted"]()))
    assert "MISMATCH" not in text
    assert "CABLE" not in text


def test_a_pull_that_shuts_is_told_and_mended() -> None:
    rig = bell_crank()
    assert rig.cable is not None
    wrong = dataclasses.replace(rig, cable=dataclasses.replace(rig.cable, casing_end=(60.0, 260.0, 0.0)))
    text = report(check(wrong))
    assert "SHUTS the throttles" in text
    assert "other side of its pivot" in text.split("CHECKS")[0]


def _hints(rig: Linkage) -> str:
    return "\n".join(left_out(check(rig)))


def test_what_the_design_leaves_out_is_named_until_it_is_there() -> None:
    rig = cross_tube()
    assert rig.cable is not None
    assert "add [pedal]" in _hints(rig)
    assert "add travel to [cable]" in _hints(rig)
    rig = dataclasses.replace(rig, pedal=Pedal(4.0), cable=dataclasses.replace(rig.cable, travel=50.0))
    assert "add [pedal]" not in _hints(rig)
    assert "add travel to [cable]" not in _hints(rig)
    assert "add travel to [pedal]" in _hints(rig)


@pytest.mark.parametrize(
    ("key", "table", "part"),
    [("heat", "[heat]", Heat(75.0, 23e-6, 12e-6)), ("tolerance", "[tolerance]", Tolerance(0.2, 0.1, 0.5, 0.1))],
)
def test_a_hint_promises_only_answers_that_exist(key: str, table: str, part: object) -> None:
    exists = key in {field.name for field in dataclasses.fields(Answer)}
    assert (table in _hints(cross_tube())) == exists
    assert table not in _hints(dataclasses.replace(cross_tube(), **{key: part}))  # type: ignore[arg-type]


def test_another_section_is_one_more_row(monkeypatch: pytest.MonkeyPatch) -> None:
    more = (*report_module.SECTIONS, ("heat", lambda answer: ["  warm"]), ("nothing", lambda answer: []))
    monkeypatch.setattr(report_module, "SECTIONS", more)
    text = report(check(parallel_pair()))
    assert "\n\nHEAT\n  warm\n\n" in text
    assert "NOTHING" not in text


def test_checks_in_other_units_come_in_the_designs_own() -> None:
    rig = dataclasses.replace(parallel_pair(), units="in")
    answer = check(rig)
    force = Check("pull", "pass", 44.482216152605, 88.96443230521, "N", "idle", "fine.")
    torque = Check("closing_torque", "pass", None, 1129.848290276167, "N.mm", "", "fine.")
    text = report(dataclasses.replace(answer, checks=(force, torque)))
    assert re.search(r"pull +10\.00 +max 20\.00 +lbf +idle", text)
    assert re.search(r"closing torque +- +max 10\.00 +lbf·in", text)


def test_numbers_are_written_as_people_write_them() -> None:
    assert [fixed(v) for v in (-0.001, 1.0, None, math.nan, math.inf)] == ["0.00", "1.00", "-", "-", "none"]
    assert length(25.4, "in") == "1.000"
    assert length(25.4, "mm") == "25.40"
    assert in_own_unit(2.0, "shafts", "mm") == ("2", "shafts")
    assert in_own_unit(0.0625, "deg", "mm", fine=True) == ("0.062", "deg")
    assert [bar(v, 4) for v in (0.0, 0.5, 1.0, 1.7, -1.0, math.nan)] == [
        *("····", "██··", "████", "████", "····", "····"),
    ]
    assert aligned([["a", "10"], ["bcd", "5"]], "<>", "") == ["a    10", "bcd   5"]
    assert WIDTH <= 100


def test_the_angles_of_a_link_are_of_the_curve_whatever_the_positions() -> None:
    """The report of two positions tells the same angles as that of many."""
    few, many = (report(check(cross_tube(), positions=n)).split("LINKS")[1] for n in (2, 1801))
    assert few == many
    answer = check(cross_tube(), positions=1801)
    for name, angle in joints.transmission_angles(answer.run).items():
        tilt = max(t.max() for t in joints.tilts(answer.run)[name])
        assert re.search(rf"^  {name} .* {angle.min():.1f} to {angle.max():.1f} +{tilt:.1f}$", few, re.MULTILINE)
