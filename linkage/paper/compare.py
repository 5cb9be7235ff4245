"""What changed between two designs: the dimensions, and the figures that follow, side by side."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from linkage import turns
from linkage.answers import Answer, Check, joints
from linkage.design_file.fresh import Leaf, leaves
from linkage.design_file.schema import KEYS
from linkage.paper.lines import fixed, in_own_unit
from linkage.paper.sheet import Block, Figures, Section, Sheet, Words, facts_of, table
from linkage.parts import Linkage
from linkage.quantities import Kind, own_scale, own_unit

Path = tuple[str, ...]

_SAME = 1e-9
_NAMED = ("shaft", "bellcrank", "slide", "link", "coupling", "stop", "spring", "follower", "arm", "pin")
_INNER = ("screw", "plate_angle")
_WORSE = {"pass": 0, "caution": 1, "fail": 2}
_TITLES = ("title", "customer", "drawing", "seen_from")


@dataclass(frozen=True)
class Change:
    """One value of a design that changed, by its dotted ``path``.

    ``before`` and ``after`` are [mm], [deg], [N] ... for quantities (``kind`` says of what), or words; None
    where the value is on one side only.
    """

    path: str
    kind: Kind | None
    before: Any
    after: Any


def changes(before: Linkage, after: Linkage) -> tuple[Change, ...]:
    """Every value in which two designs differ, in file order; a part that is on one side only comes once.

    Parameters
    ----------
    before, after : Linkage

    Returns
    -------
    tuple of Change
        Lengths [mm], angles [deg], forces [N], torques [N.mm].

    Examples
    --------
    >>> from linkage.design_file import parse, starter
    >>> rig = parse(starter())
    >>> [c.path for c in changes(rig, rig.replace("limits.tilt", 12.0))]
    ['limits.tilt']
    """
    old, new = _flat(before), _flat(after)
    found: list[Change] = []
    told: set[str] = set()
    for path in (*new, *(path for path in old if path not in new)):
        one, other = old.get(path), new.get(path)
        if one is not None and other is not None:
            if not _same(one[1], other[1]):
                found.append(Change(".".join(path), other[0], one[1], other[1]))
            continue
        part = _whole_part(path, old if one is None else new)
        if part is None:
            kind = (one or other or (None, None))[0]
            found.append(Change(".".join(path), kind, one and one[1], other and other[1]))
        elif part not in told:
            told.add(part)
            found.append(Change(part, None, "there" if one else None, "there" if other else None))
    return tuple(found)


Flat = dict[Path, tuple[Kind | None, Any]]


def _flat(rig: Linkage) -> Flat:
    """Every value by its path, points coordinate by coordinate."""
    found: Flat = {}
    for path, leaf in leaves(rig).items():
        if leaf.key.shape == "point" and isinstance(leaf.value, tuple):
            found |= {(*path, axis): (_kind(leaf), v) for axis, v in zip("xyz", leaf.value, strict=True)}
        elif leaf.key.shape == "rows":
            columns = [(name, key.rule) for name, key in KEYS[leaf.key.of or object].items()]
            found |= {
                (*path, str(i), name): (None if rule is None else rule.kind, v)
                for i, row in enumerate(leaf.value, 1)
                for (name, rule), v in zip(columns, row, strict=True)
            }
        else:
            found[path] = (_kind(leaf), leaf.value)
    return found


def _kind(leaf: Leaf) -> Kind | None:
    return None if leaf.rule is None else leaf.rule.kind


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return math.isclose(one, other, rel_tol=_SAME, abs_tol=_SAME)
    return bool(one == other)


def _whole_part(path: Path, there: Flat) -> str | None:
    """The outermost named part (or table) of a path of which the other side has nothing at all."""
    for size in range(1, len(path)):
        table = size == 1 and path[0] not in _NAMED
        if not (table or (size > 1 and path[size - 2] in _NAMED) or path[size - 1] in _INNER):
            continue
        if not any(other[:size] == path[:size] for other in there):
            return ".".join(path[:size])
    return None


def comparison(before: Answer, after: Answer, *, date: str = "", fractions: bool = False) -> Sheet:
    """What changed between two designs, as a sheet.

    Parameters
    ----------
    before, after : Answer
    date : str
    fractions : bool
        Show the nearest 1/64 in.

    Returns
    -------
    Sheet
        Lengths in the later design's own unit [mm or in], angles [deg].
    """
    rigs = before.run.rig, after.run.rig
    told = Figures(rigs[1].units, fractions=fractions)
    found = changes(*rigs)
    sections = (
        Section("verdict", tuple(_verdict(before, after))),
        Section("dimensions and parts that changed", tuple(_changed(found, told))),
        Section("figures that changed", tuple(_figures(before, after, told))),
        Section("checks that changed", tuple(_checks(before, after, told))),
    )
    facts = (*(f"{name}: {_who(rig)}" for name, rig in zip("AB", rigs, strict=True)), *facts_of(rigs[1], date)[-1:])
    return Sheet("What changed, A to B", rigs[1].title, facts, sections, date=date)


def _who(rig: Linkage) -> str:
    told = [rig.source.path.replace("\\", "/").rpartition("/")[2] if rig.source else "", rig.title]
    return " · ".join(filter(None, (*told, f"drawing {rig.drawing}" if rig.drawing else "")))


def _verdict(before: Answer, after: Answer) -> Iterator[Block]:
    yield Words(f"A: {before.verdict}. B: {after.verdict}.", after.verdict)
    worse = [c.name for one, c in _pairs(before, after) if one and c and _WORSE[c.verdict] > _WORSE[one.verdict]]
    better = [c.name for one, c in _pairs(before, after) if one and c and _WORSE[c.verdict] < _WORSE[one.verdict]]
    for words, names in (("worse", worse), ("better", better)):
        if names:
            yield Words(f"{words}: {', '.join(name.replace('_', ' ') for name in names)}.")


def _pairs(before: Answer, after: Answer) -> list[tuple[Check | None, Check | None]]:
    """Every check of either answer with its fellow, in order."""
    old, new = ({check.name: check for check in answer.checks} for answer in (before, after))
    return [(old.get(name), new.get(name)) for name in (*new, *(name for name in old if name not in new))]


def _changed(found: tuple[Change, ...], told: Figures) -> list[Block]:
    if not found:
        return [Words("nothing: the two say the same.")]
    rows = [_row(change, told) for change in found]
    return [table(("", "", "A", "B", "change"), rows, "<<>>>")]


def _row(change: Change, told: Figures) -> list[str]:
    """A change with as many decimals as show it."""
    before, after, kind = change.before, change.after, change.kind
    if kind is None:
        return [change.path, "", _words(before), _words(after), ""]
    size = own_scale(told.units, kind)
    numbers = [float(v) / size for v in (before, after) if v is not None]
    by = numbers[1] - numbers[0] if len(numbers) == 2 else 0.0
    digits = 3 if told.units == "in" and kind == "length" else 2
    shown = [*numbers, by] if by else numbers
    while digits < 9 and any(v and abs(v) < 0.5 * 10.0**-digits for v in shown):
        digits += 1
    cells = ["-" if v is None else _own(float(v), told, digits, kind) for v in (before, after)]
    change_by = f"{by:+.{digits}f}" if len(numbers) == 2 else ""
    return [change.path, own_unit(told.units, kind), *cells, change_by]


def _own(value: float, told: Figures, digits: int, kind: Kind) -> str:
    """A quantity in the design's own unit; a length with its fraction where asked."""
    if kind == "length" and told.fractions:
        return told.cell(value)
    return fixed(value / own_scale(told.units, kind), digits)


def _words(value: Any) -> str:
    if value is None:
        return "-"
    if isinstance(value, tuple):
        return ", ".join(f"{v:g}" if isinstance(v, float) else str(v) for v in value)
    return str(value)


def _figures(before: Answer, after: Answer, told: Figures) -> list[Block]:
    """Figures that a builder looks at first: those that both have and that differ as printed."""
    old, new = (dict(_listed(answer, told)) for answer in (before, after))
    rows = [
        [name, old.get(name, "-"), new.get(name, "-")]
        for name in (*new, *(name for name in old if name not in new))
        if old.get(name) != new.get(name)
    ]
    return [table(("", "A", "B"), rows, "<>>")] if rows else [Words("none, as far as they are printed.")]


def _listed(answer: Answer, told: Figures) -> Iterator[tuple[str, str]]:
    run, u = answer.run, told.units
    for name, size in joints.lengths(run).items():
        yield f"link {name}, centres [{u}]", told.cell(size)
    driven, moved = run.rig.driver, abs(run.ends[1] - run.ends[0])
    of_driver = f"driver {turns.word_of(run.rig, driven)}, idle to wide open [{turns.unit_of(run.rig, driven)}]"
    yield of_driver, told.cell(moved) if run.rig.slides(driven) else fixed(moved)
    yield "closing held by", answer.stops.closing.holds or "a dead point"
    yield "opening held by", answer.stops.opening.holds or "a dead point"
    half, end = run.at_fraction([0.5]), run.at(run.ends[1])
    for name in run.rig.shaft:
        yield f"{name}, plate at half travel [deg]", fixed(float(half.plate_angle[name][0]))
        yield f"{name}, plate at wide open [deg]", fixed(float(end.plate_angle[name][0]))
    if answer.progression.ratio is not None:
        yield "progression, wide open to idle", fixed(answer.progression.ratio)
    if answer.cable is not None:
        yield f"cable with its free play [{u}]", told.cell(answer.cable.needed)
    if answer.pedal is not None and answer.pedal.opens:
        yield f"pedal pad [{u}]", told.cell(answer.pedal.needed)
    if answer.forces is not None and answer.forces.most_pedal is not None:
        force = own_scale(u, "force")
        yield f"pedal effort at the most [{own_unit(u, 'force')}]", fixed(answer.forces.most_pedal.value / force, 1)


def _checks(before: Answer, after: Answer, told: Figures) -> list[Block]:
    rows, same = [], 0
    for one, other in _pairs(before, after):
        check = other or one
        assert check is not None
        cells = [_check(found, told) for found in (one, other)]
        if cells[0] == cells[1]:
            same += 1
            continue
        unit = in_own_unit(1.0, check.unit, told.units)[1] if check.value is not None else ""
        rows.append([check.name.replace("_", " "), unit, *cells[0], *cells[1]])
    found: list[Block] = [table(("check", "", "A", "", "B", ""), rows, "<<><><")] if rows else []
    return [*found, Words(f"{same} other checks read the same.")]


def _check(check: Check | None, told: Figures) -> tuple[str, str]:
    if check is None:
        return "-", "not judged"
    fine = check.limit is not None and check.limit < 1.0
    value = "-" if check.value is None else in_own_unit(check.value, check.unit, told.units, fine=fine)[0]
    return value, check.verdict.upper() if check.verdict == "fail" else check.verdict
