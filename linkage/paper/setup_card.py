"""The set-up card of a bench tuning: what to turn, in which order, what to expect of it and when to stop.

The order is the trade's (common practice, no source): idle stops first and by themselves, then the
links, which just slip on, then the wide-open stop, the cable last.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from linkage.answers.airflow import open_area_fraction, open_area_slope
from linkage.answers.checks import Word
from linkage.answers.dimension_errors import Dimension
from linkage.answers.progression import TABLE
from linkage.paper.lines import fixed
from linkage.paper.sheet import NO_SOURCE, Block, Figures, Section, Sheet, Steps, Words, facts_of, table
from linkage.parts import dimensions
from linkage.search.advice import FLATS, SURE, Move
from linkage.search.coarseness import Coarse
from linkage.search.estimate import COVERAGE, Bad
from linkage.search.priors import BY_HAND, by_tolerance, is_setting
from linkage.search.readings import Reading
from linkage.search.stop_screws import ScrewTurn
from linkage.search.tune import Tuning
from linkage.threads import length_per_turn

_NUMBERS = "no one two three four five six seven eight nine ten eleven twelve".split()


def setup_card(tuning: Tuning, *, date: str = "") -> Sheet:
    """The set-up card of a bench tuning.

    Parameters
    ----------
    tuning : Tuning
    date : str
        The date that the card carries.

    Returns
    -------
    Sheet
        Lengths in the design's own unit [mm or in], angles [deg].
    """
    rig = tuning.run.rig
    told = Figures(rig.units)
    sections = (
        Section("do this, in this order", (Steps(tuple(_steps(tuning, told))),)),
        Section("what to expect", tuple(_expect(tuning))),
        Section("when to stop", tuple(_when_to_stop(tuning))),
        Section("how fine the adjusters are", tuple(_fineness(tuning, told))),
        Section("what is built, as the readings say", tuple(_built(tuning, told))),
        Section("readings", tuple(_readings(tuning, told))),
    )
    facts = (*facts_of(rig, date), f"readings: {tuning.readings.file.replace(chr(92), '/').rpartition('/')[2]}")
    return Sheet("Set-up card", rig.title, facts, sections, _stamp(tuning), date=date)


def name_of(dimension: Dimension) -> str:
    """A dimension in plain words: ``"length of link left"``."""
    table_name, name, *rest = dimension.path.split(".")
    if table_name == "link":
        return f"length of link {name}"
    if table_name == "coupling":
        return f"offset of coupling {name}"
    if rest[0] == "pivot":
        return f"pivot of {name}, {rest[1]}"
    if rest[2] == "angle":
        return f"clocking of {'lever' if table_name == 'shaft' else 'arm'} {name}.{rest[1]}"
    return f"radius of {'lever' if table_name == 'shaft' else 'arm'} {name}.{rest[1]}"


def _stamp(tuning: Tuning) -> tuple[Word, str]:
    advice, found = tuning.advice, tuning.estimate
    if not found.fits:
        return "fail", (
            "the readings do not fit this linkage, whatever its dimensions: turn nothing. Look for a shaft or a "
            "position mistaken for another, a wrong drawing, or play."
        )
    idle = f"{fixed(advice.after.at_idle)} ± {fixed(advice.after_within[0])} degrees"
    odds = f"odds of all limits being kept: {round(100.0 * advice.odds_after)} in 100"
    if advice.stop:
        word: Word = "pass" if advice.odds_before >= SURE else "caution"
        return word, f"turn nothing: {advice.why}. Mismatch at idle {idle}; {odds}."
    count = len(advice.moves)
    many = _NUMBERS[count] if count < len(_NUMBERS) else str(count)
    return "caution", (
        f"{many} adjustment{'s' if count > 1 else ''}, then read again. Mismatch at idle now "
        f"{fixed(advice.before.at_idle)} ± {fixed(advice.before_within[0])} degrees, then {idle}; {odds}."
    )


def _steps(tuning: Tuning, told: Figures) -> Iterator[str]:
    advice = tuning.advice
    if advice.stop or not tuning.estimate.fits:
        yield "Nothing is to be turned. Lock what was slackened, mark it with paint."
        yield _CLOSING
        return
    yield "Engine off. Take the cable and every link off; leave the springs on."
    yield from _idle_stops(tuning)
    for move in advice.moves:
        if move.adjuster.kind != "link":
            yield _lever(tuning, move)
    moved = {move.adjuster.name: move for move in advice.moves if move.adjuster.kind == "link"}
    for name in tuning.run.rig.link:
        says = _link(tuning, moved[name], told) if name in moved else f"Link {name}: leave it as it is."
        yield f"{says} Both levers at idle, it just slips on; its lock nuts."
    yield from _wide_open(tuning)
    yield "Cable on again, with its free play. Read all positions again and compare with the table below."
    yield _CLOSING


_CLOSING = (
    "Closing, engine off: open fully and let go, each spring alone in turn. Every shaft comes back to its stop by itself."
)


def _idle_stops(tuning: Tuning) -> Iterator[str]:
    screws = {s.on: s for s in tuning.advice.screws if s.side == "closing"}
    for name, shaft in tuning.run.rig.shaft.items():
        screw = screws.get(name)
        wanted = shaft.plate_angle.idle if screw is None else screw.wanted
        says = f"Idle stop of {name}, by itself: plate at {fixed(wanted)} degrees."
        if screw is not None and screw.now is not None and screw.turns is not None:
            says += (
                f" At rest it stood at {fixed(screw.now)} ± {fixed(screw.within)}: if it was {screw.name} that held it "
                f"there, {_turns(screw)}; else until the plate stands right."
            )
        yield says


def _turns(screw: ScrewTurn) -> str:
    assert screw.turns is not None
    if abs(screw.turns) < 0.02:
        return "leave it"
    return f"{fixed(abs(screw.turns))} turns {'in' if screw.turns > 0.0 else 'out'}"


def _lever(tuning: Tuning, move: Move) -> str:
    way = "counter-clockwise" if move.by > 0.0 else "clockwise"
    amount = f"{fixed(abs(move.by), 1)} degrees {way} as drawn"
    if move.adjuster.kind == "lever":
        shaft = move.adjuster.name.partition(".")[0]
        return f"Lever {move.adjuster.name}: slacken its clamp and turn it on shaft {shaft} by {amount}; clamp it again."
    second = tuning.run.rig.coupling[move.adjuster.name].joins[1]
    return f"Coupling {move.adjuster.name}: turn {second} by {amount} against the other with the sync screw."


def _link(tuning: Tuning, move: Move, told: Figures) -> str:
    name = move.adjuster.name
    link = tuning.run.rig.link[name]
    error, _ = tuning.estimate.of_path(move.adjuster.path)
    joint = next(j for j in tuning.run.train.joints if j.step.by.name == name)
    now = float(joint.length) + error
    verb = "longer" if move.by > 0.0 else "shorter"
    lengths = f"{told.with_unit(abs(move.by))} {verb}: from {told.bare(now)} to {told.bare(now + move.by)} as estimated"
    if move.steps is None:
        return f"Link {name}: make it {lengths}."
    if link.hands == "right":
        half = abs(move.steps)
        way = "out" if move.by > 0.0 else "in"
        return f"Link {name}: take one end off and screw it {way} by {_count(half, 'half turn')}, {lengths}."
    flats = abs(move.steps) * move.adjuster.turn * FLATS
    return f"Link {name}: turn the tube by {_flats(flats)}, the way that makes it {lengths}."


def _flats(flats: float) -> str:
    """Flats as a fitter counts them: whole turns too where there are any."""
    whole = round(flats, 4)
    shown = f"{whole:g} flat{'' if whole == 1.0 else 's'}"
    turns = int(whole // FLATS)
    if turns == 0:
        return shown
    left = whole - FLATS * turns
    rest = f" and {left:g} flat{'' if left == 1.0 else 's'}" if left > 1e-9 else ""
    return f"{shown} ({_count(turns, 'turn')}{rest})"


def _count(number: int, noun: str) -> str:
    return f"{_NUMBERS[number] if number < len(_NUMBERS) else number} {noun}{'' if number == 1 else 's'}"


def _wide_open(tuning: Tuning) -> Iterator[str]:
    advice = tuning.advice
    ends = advice.adjusted.at(advice.adjusted.ends[1]).plate_angle
    screw = next((s for s in advice.screws if s.side == "opening"), None)
    if screw is None:
        plates = ", ".join(f"{name} {fixed(float(angle[0]))}" for name, angle in ends.items())
        yield f"Wide-open stop last: plates then at {plates} degrees; look down every bore."
        return
    run = tuning.run
    widest = max(float(angle[0]) for angle in run.at(run.ends[1]).plate_angle.values())
    says = f"Wide-open stop last: {screw.name} so that the plate that opens furthest stands at {fixed(widest)} degrees"
    if screw.turns is not None:
        says += f"; from where it stood, {_turns(screw)}"
    yield f"{says}. Look down every bore."


def _expect(tuning: Tuning) -> list[Block]:
    advice, limits = tuning.advice, tuning.run.rig.limits
    before, after = advice.before, advice.after
    rows = [
        ["at idle", before.at_idle, after.at_idle, limits.mismatch_at_idle],
        ["first 10 degrees", before.off_idle.value, after.off_idle.value, limits.mismatch_off_idle],
        *(
            [["middle", before.middle.value, after.middle.value, limits.mismatch]]
            if before.middle is not None and after.middle is not None
            else []
        ),
        ["last 10 degrees", before.last.value, after.last.value, limits.mismatch_at_wide_open],
    ]
    cells = [
        [str(row[0]), fixed(float(row[1])), "" if advice.stop else fixed(float(row[2])), fixed(float(row[3]))]
        for row in rows
    ]
    found: list[Block] = [table(("mismatch [deg]", "as found", "then", "limit"), cells, "<>>>")]
    says = (
        f"Give or take at idle {fixed(advice.before_within[0])} as found"
        + ("" if advice.stop else f", {fixed(advice.after_within[0])} then")
        + f" ({COVERAGE:g} standard deviations). Odds that every limit is kept: {_odds(advice.odds_before)} as found"
        + ("" if advice.stop else f", {_odds(advice.odds_after)} then")
        + ". As found means with every idle stop set as drawn. Each figure is of the linkage as estimated, solved afresh."
    )
    found.append(Words(says))
    at = advice.adjusted.at_fraction(TABLE)
    names = list(at.plate_angle)
    plates = [[f"{100.0 * share:.0f}", *(fixed(float(at.plate_angle[n][i])) for n in names)] for i, share in enumerate(TABLE)]
    found.append(table(("travel [%]", *(f"{name} [deg]" for name in names)), plates, ">" + ">" * len(names)))
    return found


def _odds(odds: float) -> str:
    return f"{round(100.0 * odds)} in 100"


def _when_to_stop(tuning: Tuning) -> list[Block]:
    advice, noise, limits = tuning.advice, tuning.noise, tuning.run.rig.limits
    limit = limits.mismatch_at_idle
    pair = 2.0**0.5 * noise.plate
    often = math.ceil((COVERAGE * pair / limit) ** 2)
    found: list[Block] = []
    if advice.stop:
        found.append(Words(f"Now: {advice.why}.", "pass" if advice.odds_before >= SURE else "caution"))
    found.append(
        Words(
            f"Stop when every limit of the table is kept, or when two shafts differ by less than {fixed(COVERAGE * pair)} "
            f"degrees, {COVERAGE:g} standard deviations of one reading against another: below that one reading of each "
            f"cannot tell. To tell {limit:g} degrees with this protractor takes {often} readings of each shaft at idle."
        )
    )
    told = [
        f'{100.0 * by:.0f} % of the idle air of "{name}"' for name in tuning.run.rig.shaft if (by := _air(tuning, name, limit))
    ]
    if told:
        found.append(
            Words(f"An airflow meter tells more at idle: {limit:g} degrees is {', '.join(told)}. Add NAME flow [kg/h] to the table.")
        )
    return found


def _air(tuning: Tuning, name: str, by: float) -> float | None:
    """Share of a shaft's idle air in ``by`` degrees of its plate."""
    shaft = tuning.run.rig.shaft[name]
    if shaft.bore is None:
        return None
    at = {"shut": shaft.plate_angle.shut, "shaft_ratio": shaft.shaft_diameter / shaft.bore}
    area = float(open_area_fraction(shaft.plate_angle.idle, **at))
    return float(open_area_slope(shaft.plate_angle.idle, **at)) * by / area if area > 1e-6 else None


def _fineness(tuning: Tuning, told: Figures) -> list[Block]:
    rows = []
    for c in tuning.advice.coarse:
        rows.append([_called(c), _step(tuning, c, told), c.shaft, fixed(c.degrees, 3) if c.step else "", fixed(c.limit),
                     "too coarse" if c.too_coarse else "fine enough" if c.step else "any amount"])  # fmt: skip
    heading = ("adjuster", "one step", "moves", "by [deg]", "limit [deg]", "")
    found: list[Block] = [table(heading, rows, "<<<>><")]
    for c in tuning.advice.coarse:
        if c.too_coarse:
            found.append(Words(_instead(tuning, c, told), "caution"))
    if any(c.too_coarse for c in tuning.advice.coarse):
        found.append(
            Words(
                "A stop screw sets its own shaft only, with the link so that it does not lift the shaft off it: the link then "
                "takes that shaft up a little late. Two links whose steps differ, turned together, come closer than one."
            )
        )
    return found


def _called(c: Coarse) -> str:
    return {"link": "link", "lever": "lever", "coupling": "coupling"}[c.kind] + f" {c.name}"


def _step(tuning: Tuning, c: Coarse, told: Figures) -> str:
    if c.kind != "link":
        return f"{c.step:g} degrees"
    if not c.step:
        return f"no pitch given; 1 mm is {fixed(c.per_unit)} degrees"
    if tuning.run.rig.link[c.name].hands == "right":
        return f"half a turn, {told.bare(c.step, 3)} {told.units}"
    parts = round(length_per_turn(tuning.run.rig.link[c.name].pitch or 0.0, "left+right") / c.step / FLATS)
    return f"{'1 flat' if parts == 1 else f'1/{parts} flat'}, {told.bare(c.step, 3)} {told.units}"


def _instead(tuning: Tuning, c: Coarse, told: Figures) -> str:
    says = (
        f"{_called(c)}: whole steps leave up to {fixed(0.5 * c.degrees)} degrees of {c.shaft} at idle; {c.limit:g} is wanted. "
        "What serves instead: "
    )
    ways = []
    if c.screw is not None:
        ways.append(f"the idle stop screw of {c.shaft} ({c.limit:g} degrees is {fixed(c.screw)} of a turn)")
    if c.kind == "link" and tuning.run.rig.link[c.name].hands == "left+right":
        ways.append(f"{_share(c.parts)} of a step, told by a mark on the tube")
    elif c.kind == "link":
        ways.append("left- and right-hand ends, that the tube may be turned in place")
    ways.append(f"a differential thread, M6x1 over M5x0.8 ({fixed(c.differential, 3)} degrees a flat)")
    if c.radius is not None:
        ways.append(f"a driven lever of {told.with_unit(c.radius)}")
    return says + "; ".join(ways) + "."


def _share(parts: int) -> str:
    return {2: "half", 3: "a third", 4: "a quarter", 5: "a fifth", 6: "a sixth"}.get(parts, f"1/{parts}")


def _built(tuning: Tuning, told: Figures) -> list[Block]:
    found, rig = tuning.estimate, tuning.run.rig
    tolerance = by_tolerance(rig, found.dimensions)
    drawn = dict(dimensions(rig))
    for joint in tuning.run.train.joints:
        drawn.setdefault(f"link.{joint.step.by.name}.length", float(joint.length))
    rows, quiet = [], 0
    for i, d in enumerate(found.dimensions):
        clear = abs(found.error[i]) > max(found.within[i], tolerance[i])
        if not (is_setting(d) or d.path in found.let_go or clear):
            quiet += 1
            continue
        size = told.scale if d.unit == "mm" else 1.0
        digits = 2 if size == 1.0 else 3
        was = drawn.get(d.path)
        mark = "out of tolerance" if clear else "let go" if d.path in found.let_go else ""
        rows.append(
            [name_of(d), "" if was is None else fixed(was / size, digits), _signed(float(found.error[i]) / size, digits),
             fixed(float(found.within[i]) / size, digits), fixed(float(tolerance[i]) / size, digits),
             told.units if d.unit == "mm" else "deg", mark]
        )  # fmt: skip
    heading = ("dimension", "drawn", "built less drawn", "give or take", "tolerance", "", "")
    blocks: list[Block] = [table(heading, rows, "<>>>><<")]
    says = f"Give or take is {COVERAGE:g} standard deviations, about 95 %."
    if quiet:
        says += f" The other {quiet} dimensions show nothing beyond their tolerance."
    if rig.tolerance is None:
        says += f" The design has no [tolerance]: link lengths 0.25, radii and pivots 0.1 mm, clockings 0.5 degrees are taken ({NO_SOURCE})."
    blocks.append(Words(says))
    if found.set_by_hand:
        by = f"{told.bare(BY_HAND['mm'])} {told.units} and {BY_HAND['deg']:g} degrees"
        blocks.append(
            Words(
                "Parts within their tolerances do not explain the readings, so link lengths and clockings were taken as "
                f"set by hand, anywhere within {by}."
            )
        )
    for path in found.let_go:
        dimension = next(d for d in found.dimensions if d.path == path)
        blocks.append(Words(f"{name_of(dimension)} is out of its tolerance, or another that reads alike: measure it.", "caution"))
    blocks.append(Words(f"The readings tell {found.apart.seen} of {found.apart.of} ways in which the doubtful dimensions can be wrong."))
    blocks += [Words(_alike(tuning, a.dimensions, a.counts, told)) for a in found.apart.alike]
    return blocks


def _alike(tuning: Tuning, listed: tuple[Dimension, ...], counts: tuple[float, ...], told: Figures) -> str:
    if len(listed) == 1:
        return f"No reading says anything of the {name_of(listed[0])}."
    names = [name_of(d) for d in listed]
    joined = " and ".join([", ".join(names[:-1]), names[-1]])
    like = []
    for d, count in zip(listed[1:], counts, strict=True):
        size = told.scale if d.unit == "mm" else 1.0
        one = told.scale if listed[0].unit == "mm" else 1.0
        unit = told.units if d.unit == "mm" else "degrees"
        like.append(f"{_signed(count * one / size, 2)} {unit} of the {name_of(d)}")
    unit = told.units if listed[0].unit == "mm" else "degree"
    settable = [n for n, d in zip(names, listed, strict=True) if is_setting(d)]
    mends = ("either" if len(settable) == 2 else "any one") if len(settable) == len(listed) else " or ".join(settable)
    mend = f" Setting {mends} mends it." if settable else ""
    return f"{joined} cannot be told apart: 1 {unit} of the first reads like {' with '.join(like)}.{mend}"


def _readings(tuning: Tuning, told: Figures) -> list[Block]:
    found, table_of = tuning.estimate, tuning.readings
    used = found.expected.used
    columns = list(dict.fromkeys(r.column for r in used))
    bad = {r for b in found.bad for r in (b.reading, *b.or_else)}
    cells: dict[tuple[int, str], str] = {}
    for r, fitted in zip(used, found.fitted, strict=True):
        mark = "!" if r in bad else ""
        cells[r.row, r.column] = f"{mark}{_value(r, r.value, told)} / {_value(r, float(fitted), told)}"
    rows = [
        [row.name, *(cells.get((i, c), "") for c in columns)]
        for i, row in enumerate(table_of.rows)
        if any((i, c) in cells for c in columns)
    ]
    heads = [f"{c.partition('[')[0].strip()} [{_unit(next(r for r in used if r.column == c), told)}]" for c in columns]
    blocks: list[Block] = [table(("position", *heads), rows, "<" + ">" * len(columns))]
    kinds = {"plate": (tuning.noise.plate, "degrees"), "flow": (tuning.noise.flow, "kg/h"), "gap": (tuning.noise.gap, "mm")}
    trust = [f"{kinds[k][0]:g} {kinds[k][1]}" for k in kinds if any(r.what == k for r in used)]
    if tuning.noise.zero:
        trust.append(f"the protractor's zero {tuning.noise.zero:g} degrees")
    blocks.append(
        Words(
            f"Read / expected of the linkage as estimated. Readings are trusted to {', '.join(trust)} (one standard deviation). "
            f"Chi square {fixed(found.fit.chi2, 1)} with {found.freedom} degrees of freedom: so large or larger {_odds(found.likelihood)}."
        )
    )
    blocks += [Words(_bad(tuning, b, told), "caution") for b in found.bad]
    return blocks


def _bad(tuning: Tuning, bad: Bad, told: Figures) -> str:
    r = bad.reading
    unit = _unit(r, told)
    says = (
        f"{tuning.readings.where(r)}: read {_value(r, r.value, told)} {unit}, where the others lead one to expect "
        f"{_value(r, bad.expect, told)} ± {_value(r, bad.within, told)}: {fixed(abs(bad.off), 1)} standard deviations off, "
        f"{fixed(tuning.estimate.critical, 1)} are allowed. Left out; read it again."
    )
    if bad.or_else:
        others = ", ".join(tuning.readings.where(o) for o in bad.or_else)
        says += f" It may be {others} instead: nothing else checks the two, so both are left out."
    return says


def _value(r: Reading, value: float, told: Figures) -> str:
    if r.what in ("gap", "cable", "pedal"):
        return told.bare(value, 2 if told.units == "mm" else 4)
    return fixed(100.0 * value if r.what == "travel" else value, 1 if r.what == "travel" else 2)


def _unit(r: Reading, told: Figures) -> str:
    return {"plate": "deg", "turn": "deg", "flow": "kg/h", "travel": "%"}.get(r.what, told.units)


def _signed(value: float, digits: int) -> str:
    text = fixed(value, digits)
    return text if text.startswith("-") or float(text) == 0.0 else f"+{text}"

