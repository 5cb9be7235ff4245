"""What a set-up card says of the linkage as built, and of the readings that say so."""

from __future__ import annotations

from linkage.answers.dimension_errors import Dimension
from linkage.paper.lines import fixed
from linkage.paper.sheet import NO_SOURCE, Block, Figures, Words, table
from linkage.parts import dimensions
from linkage.search.estimate import COVERAGE, Bad
from linkage.search.priors import BY_HAND, USUAL, by_tolerance, is_setting
from linkage.search.readings import Reading
from linkage.search.told_apart import Alike
from linkage.search.tune import Tuning


def name_of(dimension: Dimension) -> str:
    """A dimension in plain words: ``"length of link left"``."""
    part, name, *rest = dimension.path.split(".")
    if part == "link":
        return f"length of link {name}"
    if part == "coupling":
        return f"offset of coupling {name}"
    if rest[0] == "pivot":
        return f"pivot of {name}, {rest[1]}"
    if part == "slide":
        return f"pin {name}.{rest[1]}, {rest[-1]}"
    of = f"{'lever' if part == 'shaft' else 'arm'} {name}.{rest[1]}"
    return f"clocking of {of}" if rest[2] == "angle" else f"radius of {of}"


def odds(chance: float) -> str:
    """A chance as odds in a hundred."""
    return f"{round(100.0 * chance)} in 100"


def built(tuning: Tuning, told: Figures) -> list[Block]:
    """The dimensions that were set, those out of tolerance, and what cannot be told apart."""
    found, rig = tuning.estimate, tuning.run.rig
    tolerance = by_tolerance(rig, found.dimensions)
    drawn = dict(dimensions(rig))
    for joint in tuning.run.train.joints:
        drawn.setdefault(f"link.{joint.step.by.name}.length", float(joint.length))
    rows, quiet = [], 0
    for d, error, within, limit in zip(found.dimensions, found.error, found.within, tolerance, strict=True):
        out = abs(error) > max(within, limit)
        if not (is_setting(d) or d.path in found.let_go or out):
            quiet += 1
            continue
        was = "" if d.path not in drawn else _cell(d, drawn[d.path], told)
        mark = "out of tolerance" if out else ""
        numbers = [_signed(_cell(d, float(error), told)), *(_cell(d, float(v), told) for v in (within, limit))]
        rows.append([name_of(d), was, *numbers, told.units if d.unit == "mm" else "deg", mark])
    heading = ("dimension", "drawn", "built less drawn", "give or take", "tolerance", "", "")
    says = f"Give or take: {COVERAGE:g} standard deviations, about 95 %."
    if quiet:
        says += f" The other {quiet} dimensions show nothing beyond their tolerance."
    blocks: list[Block] = [table(heading, rows, "<>>>><<"), Words(says), *_taken_for_granted(tuning, told)]
    listed = {d.path: d for d in found.dimensions}
    blocks += [
        Words(
            f"{name_of(listed[path])}: out of its tolerance, or something that reads alike is. Measure it.", "caution"
        )
        for path in found.let_go
    ]
    tell = f"The readings tell {found.apart.seen} of {found.apart.of} ways in which the settings can be wrong."
    return [*blocks, Words(tell), *(Words(_alike(alike, told)) for alike in found.apart.alike)]


def _taken_for_granted(tuning: Tuning, told: Figures) -> list[Words]:
    says = []
    if tuning.run.rig.tolerance is None:
        lengths = f"lengths {told.bare(USUAL.link_length)}, radii and pivots {told.bare(USUAL.pivot)} {told.units}"
        says.append(
            Words(f"No [tolerance] is given: taken are {lengths}, clockings {USUAL.arm_angle:g} degrees [{NO_SOURCE}].")
        )
    if tuning.estimate.set_by_hand:
        by = f"{told.bare(BY_HAND['mm'])} {told.units} and {BY_HAND['deg']:g} degrees"
        says.append(
            Words(f"Link lengths and clockings were taken as set by hand, anywhere within {by} of the drawing.")
        )
    return says


def _cell(d: Dimension, value: float, told: Figures) -> str:
    return told.bare(value) if d.unit == "mm" else fixed(value)


def _alike(alike: Alike, told: Figures) -> str:
    first, *others = alike.dimensions
    if not others:
        return f"No reading says anything of the {name_of(first)}."
    names = [name_of(d) for d in alike.dimensions]
    like = []
    for d, count in zip(others, alike.counts, strict=True):
        per = count * (told.scale if first.unit == "mm" else 1.0) / (told.scale if d.unit == "mm" else 1.0)
        like.append(f"{_signed(fixed(per))} {told.units if d.unit == 'mm' else 'degrees'} of the {name_of(d)}")
    one = f"1 {told.units if first.unit == 'mm' else 'degree'} of the first reads like {' with '.join(like)}"
    says = f"{', '.join(names[:-1])} and {names[-1]} cannot be told apart: {one}."
    settable = [name for name, d in zip(names, alike.dimensions, strict=True) if is_setting(d)]
    if len(settable) == len(names) == 2:
        return f"{says} Setting either mends it."
    if len(settable) == len(names):
        return f"{says} Any one of them may be left as it is: setting the others mends it."
    return f"{says} Setting the {' or the '.join(settable)} mends it." if settable else says


def readings(tuning: Tuning, told: Figures) -> list[Block]:
    """Every reading beside what the linkage as estimated would give, and the bad ones by name."""
    found, used = tuning.estimate, tuning.estimate.expected.used
    bad = {r for b in found.bad for r in (b.reading, *b.or_else)}
    columns = {r.column: r for r in used}
    cells = {
        (r.row, r.column): f"{'! ' if r in bad else ''}{_value(r, r.value, told)} / {_value(r, float(v), told)}"
        for r, v in zip(used, found.fitted, strict=True)
    }
    rows = [
        [row.name, *(cells.get((i, column), "") for column in columns)]
        for i, row in enumerate(tuning.readings.rows)
        if any((i, column) in cells for column in columns)
    ]
    heads = [f"{column.partition('[')[0].strip()} [{_unit(r, told)}]" for column, r in columns.items()]
    noise = tuning.noise
    trust = {"plate": f"{noise.plate:g} degrees", "flow": f"{noise.flow:g} kg/h"}
    trust["gap"] = f"{told.bare(noise.gap, 3)} {told.units}"
    trusted = [says for what, says in trust.items() if any(r.what == what for r in used)]
    if noise.zero:
        trusted.append(f"the protractor's zero {noise.zero:g} degrees")
    says = (
        f"Read / expected of the linkage as estimated. Trusted to {', '.join(trusted)}, one standard deviation. Chi "
        f"square {fixed(found.fit.chi2, 1)} with {found.freedom} degrees of freedom; one so large or larger comes "
        f"{odds(found.likelihood)}."
    )
    blocks: list[Block] = [table(("position", *heads), rows, "<" + ">" * len(heads)), Words(says)]
    return blocks + [Words(_bad(tuning, b, told), "caution") for b in found.bad]


def _bad(tuning: Tuning, bad: Bad, told: Figures) -> str:
    r = bad.reading
    expect = f"{_value(r, bad.expect, told)} ± {_value(r, bad.within, told)}"
    says = (
        f"reading {tuning.readings.where(r)}: read {_value(r, r.value, told)} {_unit(r, told)} where the others lead "
        f"one to expect {expect}; {fixed(abs(bad.off), 1)} standard deviations off, "
        f"{fixed(tuning.estimate.critical, 1)} are allowed. "
    )
    if not bad.or_else:
        return says + "Left out; read it again."
    others = " or ".join(tuning.readings.where(o) for o in bad.or_else)
    return says + f"Or else {others} is wrong: nothing tells which, so both are left out; read them again."


def _value(r: Reading, value: float, told: Figures) -> str:
    if r.what in ("gap", "cable", "pedal"):
        return told.bare(value, 2 if told.units == "mm" else 4)
    return fixed(100.0 * value, 1) if r.what == "travel" else fixed(value)


def _unit(r: Reading, told: Figures) -> str:
    return {"plate": "deg", "turn": "deg", "flow": "kg/h", "travel": "%"}.get(r.what, told.units)


def _signed(text: str) -> str:
    return text if text.startswith("-") or not float(text) else f"+{text}"
