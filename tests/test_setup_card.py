"""The set-up card: steps in the order of the trade, figures that agree with the answer, bad readings by name."""

from __future__ import annotations

import dataclasses
import functools
import re
from typing import Any

import numpy as np
import pytest
from benches import DEMO, Bench, blank, error_of, toleranced
from trains import bell_crank, coupled, crossed_pair

import linkage
from linkage.answers import CAUTION
from linkage.paper import sheet_pages
from linkage.paper.document_tuning import tuning_document
from linkage.paper.lines import WIDTH
from linkage.paper.setup_card import setup_card
from linkage.paper.setup_found import name_of
from linkage.paper.setup_steps import steps
from linkage.paper.sheet import Figures, text
from linkage.parts import Linkage
from linkage.search.adjusters import Adjuster
from linkage.search.advice import Advice, Move
from linkage.search.noise import Noise
from linkage.search.tune import Tuning


@functools.cache
def demo(which: str = "readings") -> Tuning:
    return linkage.tune(linkage.read(DEMO / "bench_job.toml"), DEMO / f"bench_job_{which}.csv")


def plain(tuning: Tuning) -> str:
    """The card with its line breaks taken out."""
    return " ".join(text(setup_card(tuning)).split())


def tuned(rig: Linkage, *, noise: Noise | None = None, **error: float) -> Tuning:
    bench = Bench(rig, blank(rig, (0.0, 0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0)), noise or Noise(plate=0.01))
    return linkage.tune(rig, bench.read(error_of(bench, **error), np.random.default_rng(1)), noise=bench.noise)


def with_moves(tuning: Tuning, *moves: Move) -> Tuning:
    advice: Advice = dataclasses.replace(tuning.advice, moves=moves, stop=False)
    return dataclasses.replace(tuning, advice=advice)


def step(tuning: Tuning, word: str) -> str:
    return next(s for s in steps(tuning, Figures(tuning.run.rig.units)) if s.startswith(word))


def test_idle_stops_first_then_links_then_wide_open_then_the_cable() -> None:
    order = [
        "Engine off",
        "Idle stop of left",
        "Idle stop of right",
        "Link left",
        "Link right",
        "Wide-open",
        "Cable on",
    ]
    told = list(steps(demo(), Figures("mm")))
    assert [next(i for i, s in enumerate(told) if s.startswith(word)) for word in order] == list(range(7))
    assert told[7].startswith("Closing, engine off")


def test_the_demo_s_card_says_what_the_answer_says() -> None:
    told, advice = plain(demo()), demo().advice
    for move in advice.moves:
        flats = abs(move.steps or 0)
        word = "longer" if move.by > 0.0 else "shorter"
        pattern = rf"Link {move.adjuster.name}: turn the tube by {flats} flats?\b[^:]*? {abs(move.by):.2f} mm {word}"
        assert re.search(pattern, told)
    assert f"at idle 0.00 {advice.before.at_idle:.2f} {advice.after.at_idle:.2f} 0.10" in told
    assert f"odds of all limits being kept: {round(100 * advice.odds_after)} in 100" in told
    assert CAUTION in told


def test_the_bad_reading_is_named_by_file_line_row_and_column() -> None:
    told = plain(demo())
    assert re.search(r'bench_job_readings\.csv:18: "travel 50", right \[deg\]: read 34\.50 deg where the others', told)
    assert "! 34.50 /" in told


def test_too_coarse_is_said_with_what_serves_instead() -> None:
    told = plain(demo())
    for name in ("left", "right"):
        coarse = next(c for c in demo().advice.coarse if c.name == name)
        assert coarse.too_coarse
        assert f"Link {name}: one step is {coarse.degrees:.2f} degrees of {name} at idle" in told
    for means in ("the idle stop screw of left", "of a step, by a mark", "a differential thread", "a driven lever of"):
        assert means in told


def test_when_there_is_nothing_to_turn() -> None:
    again = demo("readings_again")
    told = list(steps(again, Figures("mm")))
    assert told[0] == "Turn nothing."
    assert len(told) == 2
    assert "Turn nothing: " + again.advice.why in plain(again)
    assert "afterwards" not in plain(again)


def test_readings_that_do_not_fit_stop_the_work() -> None:
    rig = toleranced(bell_crank())
    bench = Bench(rig, blank(rig, tuple(np.linspace(0.0, 1.0, 8))))
    values = bench.exact(np.zeros(len(bench.listed)))
    astray = np.random.default_rng(1).normal(0.0, 6.0, values.size)
    tuning = linkage.tune(rig, bench.written(values + astray))
    assert not tuning.estimate.fits
    told = plain(tuning)
    assert "FAIL" in told
    assert "The readings do not fit this linkage" in told
    assert next(iter(steps(tuning, Figures("mm")))) == "Turn nothing."


@pytest.mark.parametrize(
    ("steps_of", "by", "turn", "says"),
    [
        (1, 0.2667, 1 / 6, "turn the tube by 1 flat, the way that drives both ends out, 0.27 mm longer"),
        (-6, -1.6, 1 / 6, "turn the tube by 6 flats (one turn), the way that draws both ends in, 1.60 mm shorter"),
        (13, 3.4667, 1 / 6, "turn the tube by 13 flats (two turns and 1 flat)"),
        (-5, -0.3333, 1 / 24, "turn the tube by 1.25 flats, the way"),
        (None, 0.5, 0.0, "make it 0.50 mm longer"),
    ],
)
def test_flats_turns_and_ways(steps_of: int | None, by: float, turn: float, says: str) -> None:
    move = Move(Adjuster("link.left.length", "link", "left", 0.1, turn=turn), by, steps_of)
    assert says in step(with_moves(demo(), move), "Link left")
    assert step(with_moves(demo(), move), "Link right").startswith("Link right: leave its length.")


@pytest.mark.parametrize(
    ("halves", "says"), [(3, "screw it out by three half turns"), (-1, "screw it in by one half turn,")]
)
def test_an_end_that_must_come_off(halves: int, says: str) -> None:
    tuning = demo()
    rig = tuning.run.rig.replace("link.left.hands", "right")
    tuning = dataclasses.replace(tuning, run=linkage.solve(rig))
    move = Move(Adjuster("link.left.length", "link", "left", 0.4, turn=0.5), 0.4 * halves, halves)
    assert says in step(with_moves(tuning, move), "Link left: take one end off")


def test_levers_and_sync_screws() -> None:
    lever = Move(Adjuster("shaft.left.arm.drive.angle", "lever", "left.drive", 0.1, 0.2), -1.3, -13)
    assert "turn it on its shaft by 1.3 degrees clockwise" in step(with_moves(demo(), lever), "Lever left.drive")
    tuning = tuned(toleranced(coupled()), coupling_sync_offset=1.4)
    sync = Move(Adjuster("coupling.sync.offset", "coupling", "sync", 0.1, 0.2), 0.4, 4)
    says = step(with_moves(tuning, sync), "Coupling sync")
    assert "until front has turned by 0.4 degrees counter-clockwise as drawn against rear" in says


def test_inches_are_inches() -> None:
    rig = dataclasses.replace(toleranced(bell_crank()), units="in")
    told = plain(tuned(rig, link_right_length=1.27))
    assert "3.00 mm" not in told
    assert re.search(r"length of link right 5\.\d{3} [+-]0\.\d{3} 0\.\d{3} 0\.008 in", told)


@pytest.mark.parametrize("which", ["readings", "readings_again"])
def test_it_fits_the_sheet_and_the_page(which: str) -> None:
    card = setup_card(demo(which), date="2026-03-01")
    assert max(map(len, text(card).splitlines())) <= WIDTH
    pages = sheet_pages.pages(card)
    assert 2 <= len(pages) <= 4
    assert sheet_pages.pdf(pages).startswith(b"%PDF")


def test_a_link_and_a_lever_that_read_alike_are_told_in_words() -> None:
    """At idle alone a mismatch is all that is seen, whatever makes it."""
    rig = toleranced(crossed_pair())
    bench = Bench(rig, blank(rig, (0.0, 0.0)))
    told = plain(linkage.tune(rig, bench.read(error_of(bench, cross_length=1.0), np.random.default_rng(2))))
    assert "The readings tell 1 of 3 ways in which the settings can be wrong." in told
    pattern = (
        r"Length of link cross and clocking of lever \w\.drive cannot be told apart: 1 mm of the first reads like "
    )
    assert re.search(
        pattern + r"[+-]\d\.\d\d degrees of the clocking of lever \w\.drive\. Setting either mends it\.", told
    )


def test_tolerances_that_are_not_given_are_said() -> None:
    told = plain(tuned(dataclasses.replace(bell_crank(), tolerance=None)))
    assert "No [tolerance] is given: taken are lengths 0.25, radii and pivots 0.10 mm, clockings 0.5 degrees" in told


def test_every_dimension_has_a_name_of_its_own() -> None:
    for rig in (bell_crank(), coupled(), crossed_pair()):
        names = [name_of(d) for d in Bench(toleranced(rig)).listed]
        assert len(set(names)) == len(names)


def test_the_document_is_plain_data_that_agrees() -> None:
    import json

    tuning = demo()
    document: dict[str, Any] = json.loads(json.dumps(tuning_document(tuning), allow_nan=False))
    assert [m["path"] for m in document["adjustments"]] == [m.adjuster.path for m in tuning.advice.moves]
    assert document["mismatch"]["afterwards"]["at_idle"] == tuning.advice.after.at_idle
    (bad,) = document["bad_readings"]
    assert (bad["row"], bad["line"], bad["column"], bad["read"]) == ("travel 50", 18, "right [deg]", 34.5)
    for m, move in zip(document["adjustments"], tuning.advice.moves, strict=True):
        assert m["turns"] == pytest.approx((move.steps or 0) / 6.0)


def test_the_document_of_a_design_in_inches() -> None:
    rig = dataclasses.replace(toleranced(bell_crank()), units="in")
    tuning = tuned(rig, link_right_length=1.27)
    document = tuning_document(tuning)
    millimetres = tuning.estimate.of_path("link.right.length")[0]
    assert document["dimensions"]["link.right.length"]["error"] == pytest.approx(millimetres / 25.4)
    degrees = tuning.estimate.of_path("shaft.left.arm.drive.angle")[0]
    assert document["dimensions"]["shaft.left.arm.drive.angle"]["error"] == pytest.approx(degrees)
