"""Changing single values in the text of a design file, and nothing else in it."""

from __future__ import annotations

import tomllib
from typing import Any

from linkage.design_file.fresh import Leaf, header, leaves, literal, quoted, row_rules
from linkage.design_file.lines import Path, Spot, spots
from linkage.parts import Linkage
from linkage.quantities import digits_for, own_scale, read_quantity

_SAME = 1e-9


def changed(text: str, old: Linkage, new: Linkage) -> str:
    """Change in ``text``, which reads as ``old``, every value [mm, deg, N] that ``new`` has otherwise."""
    before, after = leaves(old), leaves(new)
    for path, leaf in after.items():
        if path not in before and not leaf.needed and leaf.value == leaf.key.default:
            continue
        if path not in before or not _same(before[path].value, leaf.value):
            text = _set(text, path, leaf, before.get(path), old.units)
    for path in before:
        if path not in after:
            text = _removed(text, path)
    return text


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) <= _SAME * min(1.0, max(abs(one), abs(other)))
    if isinstance(one, tuple) and isinstance(other, tuple) and len(one) == len(other):
        return all(map(_same, one, other))
    return bool(one == other)


def _set(text: str, path: Path, leaf: Leaf, before: Leaf | None, units: str) -> str:
    found = spots(text)
    if path not in found:
        return _inserted(text, found, path, literal(leaf, units))
    if leaf.value == "" and not leaf.needed:
        return _removed(text, path)
    if leaf.key.shape == "point" and before is not None:
        return _set_point(text, path, leaf, before, units)
    if leaf.key.shape == "rows" and before is not None and len(before.value) == len(leaf.value):
        return _set_rows(text, path, leaf, before, units)
    return _put(text, found[path], _in_unit_of(text, path, leaf.value, leaf, units) or literal(leaf, units))


def _set_point(text: str, path: Path, leaf: Leaf, before: Leaf, units: str) -> str:
    """Change the coordinates that differ, each in its place; a z that the file left out is added."""
    for i, value in enumerate(leaf.value):
        if _same(value, before.value[i]):
            continue
        found = spots(text)
        assert leaf.rule is not None
        number = digits_for(value, own_scale(units, leaf.rule.kind))
        at = (*path, i)
        if at in found:
            text = _put(text, found[at], _in_unit_of(text, at, value, leaf, units) or number)
        else:
            last = found[(*path, i - 1)].value_end
            text = f"{text[:last]}, {number}{text[last:]}"
            if (station := (*path[:-1], "station")) in found:
                text = _removed(text, station)  # a pin's z says it now
    return text


def _set_rows(text: str, path: Path, leaf: Leaf, before: Leaf, units: str) -> str:
    """Change the numbers that differ, each in its place."""
    rules = row_rules(leaf.key)
    for i, (row, old) in enumerate(zip(leaf.value, before.value, strict=True)):
        for j, (value, was) in enumerate(zip(row, old, strict=True)):
            if not _same(value, was):
                at, one = (*path, i, j), leaf._replace(rule=rules[j])
                number = digits_for(value, own_scale(units, rules[j].kind))
                text = _put(text, spots(text)[at], _in_unit_of(text, at, value, one, units) or number)
    return text


def _in_unit_of(text: str, path: Path, value: Any, leaf: Leaf, units: str) -> str:
    """Return ``value`` in the unit that the file gave at ``path``, or nothing if it gave none."""
    raw: Any = tomllib.loads(text)
    for key in path:
        raw = raw[key]
    if not isinstance(raw, str) or leaf.rule is None:
        return ""
    written = read_quantity(raw, leaf.rule.kind)
    if not written.unit:  # a fraction
        return ""
    unit = "in" if written.unit in ('"', "″") else written.unit
    return quoted(f"{digits_for(value, written.size)} {unit}")


def _put(text: str, spot: Spot, value: str) -> str:
    return text[: spot.value_start] + value + text[spot.value_end :]


def _inserted(text: str, found: dict[Path, Spot], path: Path, value: str) -> str:
    """Add a key below the last of its table; inside braces if that is how the table is written."""
    table, name = path[:-1], path[-1]
    newline = "\r\n" if "\r\n" in text else "\n"
    beside = [s for p, s in found.items() if p[:-1] == table and not s.header and s.value_end > s.start]
    if beside:
        last = max(beside, key=lambda spot: spot.value_end)
        if last.inline:
            return f"{text[: last.value_end]}, {name} = {value}{text[last.value_end :]}"
        start = text.rfind("\n", 0, last.start) + 1
        dotted = text[last.start : last.value_start].rpartition("=")[0].rpartition(".")
        pair = f"{text[start : last.start]}{dotted[0]}{dotted[1]}{name} = {value}"
        return _line_after(text, last.value_end, pair, newline)
    if table in found and found[table].header:
        return _line_after(text, found[table].value_end, f"{name} = {value}", newline)
    if table in found and found[table].value_end > found[table].value_start:
        return _put(text, found[table], f"{{ {name} = {value} }}")
    return _line_after(text, len(text), f"{newline}{header(table)}{newline}{name} = {value}", newline)


def _line_after(text: str, at: int, line: str, newline: str) -> str:
    """Put a line below the one that ``at`` stands in."""
    end = text.find("\n", at)
    if end < 0:
        joint = "" if text.endswith("\n") else newline
        return f"{text}{joint}{line}{newline}"
    return f"{text[: end + 1]}{line}{newline}{text[end + 1 :]}"


def _removed(text: str, path: Path) -> str:
    """Take a key away: with its line, or out of its braces."""
    found = spots(text)
    if path not in found:
        return text
    spot = found[path]
    if not spot.inline:
        start, end = text.rfind("\n", 0, spot.start) + 1, text.find("\n", spot.value_end)
        return text[:start] + (text[end + 1 :] if end >= 0 else "")
    before, after = text[: spot.start].rstrip(), text[spot.value_end :]
    if before.endswith(","):
        return before[:-1] + after
    rest = after.lstrip()
    return text[: spot.start] + (rest[1:].lstrip() if rest.startswith(",") else rest)
