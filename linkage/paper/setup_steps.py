"""The steps of a set-up card, in the order of the trade.

Idle stops first and by themselves, then levers and links, which just slip on, then the wide-open
stop, the cable last (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator

from linkage.paper.lines import fixed
from linkage.paper.sheet import Figures
from linkage.search.adjusters import FLATS
from linkage.search.advice import Move
from linkage.search.stop_screws import ScrewTurn
from linkage.search.tune import Tuning

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")

_OFF = "Engine off. Take the cable and every link off; leave the springs on."
_CLOSING = (
    "Closing, engine off: open fully and let go, each spring alone in turn. Every shaft comes back to its stop by "
    "itself. Then lock every nut and mark it with paint."
)

_LEAST_TURN = 0.02  # of a screw, that is worth telling


def steps(tuning: Tuning, told: Figures) -> Iterator[str]:
    """What to do, a sentence or two a step; lengths in the design's unit."""
    advice, rig = tuning.advice, tuning.run.rig
    if advice.stop:
        yield "Turn nothing."
        yield _CLOSING
        return
    yield _OFF
    yield from _idle_stops(tuning)
    for move in advice.moves:
        if move.adjuster.kind != "link":
            yield _lever(tuning, move)
    moved = {move.adjuster.name: move for move in advice.moves if move.adjuster.kind == "link"}
    for name in rig.link:
        says = _link(tuning, moved[name], told) if name in moved else f"Link {name}: leave its length."
        yield f"{says} With both its levers at idle it just slips on and moves neither; then its lock nuts."
    yield from _wide_open(tuning)
    again = "Read all positions again and compare with the table below."
    yield again if rig.cable is None else f"Cable on, with its free play. {again}"
    yield _CLOSING


def spelt(number: int) -> str:
    """A small number in letters."""
    return _NUMBERS[number] if number < len(_NUMBERS) else str(number)


def _idle_stops(tuning: Tuning) -> Iterator[str]:
    screws = {screw.on: screw for screw in tuning.advice.screws if screw.side == "closing"}
    for name, shaft in tuning.run.rig.shaft.items():
        screw = screws.get(name)
        wanted = shaft.plate_angle.idle if screw is None else screw.wanted
        says = f"Idle stop of {name}, by itself: plate at {fixed(wanted)} degrees."
        if screw is not None and screw.now is not None:
            says += (
                f" At rest it stood at {fixed(screw.now)} ± {fixed(screw.within)}: if {screw.name} held it there, "
                f"{_turns(screw)}; if a link did, until the plate stands right."
            )
        yield says


def _turns(screw: ScrewTurn) -> str:
    turns = screw.turns or 0.0
    return "leave it" if abs(turns) < _LEAST_TURN else f"{fixed(abs(turns))} turns {'in' if turns > 0.0 else 'out'}"


def _lever(tuning: Tuning, move: Move) -> str:
    name = move.adjuster.name
    amount = f"{fixed(abs(move.by), 1)} degrees {'counter-clockwise' if move.by > 0.0 else 'clockwise'} as drawn"
    if move.adjuster.kind == "lever":
        return f"Lever {name}: slacken its clamp, turn it on its shaft by {amount}, clamp it."
    first, second = tuning.run.rig.coupling[name].joins
    return f"Coupling {name}: sync screw, until {second} has turned by {amount} against {first}."


def _link(tuning: Tuning, move: Move, told: Figures) -> str:
    name = move.adjuster.name
    joint = next(j for j in tuning.run.train.joints if j.step.by.name == name)
    now = float(joint.length) + tuning.estimate.of_path(move.adjuster.path)[0]
    longer = move.by > 0.0
    length = (
        f"{told.with_unit(abs(move.by))} {'longer' if longer else 'shorter'} "
        f"({told.bare(now)} to {told.bare(now + move.by)} {told.units}, as estimated)"
    )
    if move.steps is None:
        return f"Link {name}: make it {length}."
    turned = abs(move.steps) * move.adjuster.turn
    if tuning.run.rig.link[name].hands == "right":
        halves = _count(round(2.0 * turned), "half turn")
        return f"Link {name}: take one end off and screw it {'out' if longer else 'in'} by {halves}, {length}."
    ends = "drives both ends out" if longer else "draws both ends in"
    return f"Link {name}: turn the tube by {_flats(FLATS * turned)}, the way that {ends}, {length}."


def _flats(flats: float) -> str:
    """Flats as a fitter counts them, with the whole turns in them."""
    shown = f"{flats:.4g} flat{'' if abs(flats - 1.0) < 1e-9 else 's'}"
    turns = int((flats + 1e-9) // FLATS)
    rest = flats - FLATS * turns
    if turns == 0:
        return shown
    more = f" and {rest:.4g} flat{'' if abs(rest - 1.0) < 1e-9 else 's'}" if rest > 1e-9 else ""
    return f"{shown} ({_count(turns, 'turn')}{more})"


def _count(number: int, noun: str) -> str:
    return f"{spelt(number)} {noun}{'' if number == 1 else 's'}"


def _wide_open(tuning: Tuning) -> Iterator[str]:
    run, advice = tuning.run, tuning.advice
    screw = next((s for s in advice.screws if s.side == "opening"), None)
    if screw is None:
        ends = advice.adjusted.at(advice.adjusted.ends[1]).plate_angle
        plates = ", ".join(f"{name} {fixed(float(angle[0]))}" for name, angle in ends.items())
        yield f"Wide-open stop last: plates then at {plates} degrees. Look down every bore."
        return
    widest = max(float(angle[0]) for angle in run.at(run.ends[1]).plate_angle.values())
    says = f"Wide-open stop last, {screw.name}: until the plate that opens furthest stands at {fixed(widest)} degrees"
    if screw.turns is not None:
        says += f"; from where it stood, {_turns(screw)}"
    yield f"{says}. Look down every bore."
