"""A design file written from the parts alone, and the parts' values by their paths in the file."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any, NamedTuple

from linkage.design_file.free import rule_at
from linkage.design_file.schema import FORMAT, KEYS, NAMED_WAYS, Drive, Key
from linkage.parts import FORMS, Linkage, Rule, other_keys
from linkage.quantities import digits_for, own_scale

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_AXES = {(1.0, 0.0, 0.0): "x", (0.0, 1.0, 0.0): "y", (0.0, 0.0, 1.0): "z"}


class Leaf(NamedTuple):
    """One value of a design [mm, deg, N]: its ``key``, the ``rule`` for it, whether it is ``needed``."""

    key: Key
    rule: Rule | None
    needed: bool
    value: Any


def leaves(rig: Linkage) -> dict[tuple[str, ...], Leaf]:
    """Every value of a linkage that is not None, by its path in the design file, in file order."""
    return dict(_leaves(Linkage, rig, ()))


def fresh(rig: Linkage) -> str:
    """Write a complete design file; lengths come out in the design's own unit, what is default stays out."""
    tables: dict[tuple[str, ...], list[str]] = {(): [f"format = {FORMAT}"]}
    inline: dict[tuple[str, ...], list[str]] = {}
    for path, leaf in leaves(rig).items():
        where, name = path[:-1], path[-1]
        pair = f"{name} = {literal(leaf, rig.units)}"
        if where and where[0] == "free":
            tables.setdefault(("free",), []).append(f"{'.'.join(map(_named, path[1:]))} = {literal(leaf, rig.units)}")
            continue
        if where and where[-1] in ("plate_angle", "screw"):
            inline.setdefault(where, []).append(pair)
            continue
        lines = tables.setdefault(where, [])
        if leaf.needed or leaf.value not in ("", leaf.key.default):
            lines.append(pair)
    for path, pairs in inline.items():
        tables[path[:-1]].append(f"{path[-1]} = {{ {', '.join(pairs)} }}")
    blocks = ["\n".join(tables.pop(()))]
    for path, lines in tables.items():
        if lines or path != ("limits",):
            blocks.append("\n".join([header(path), *lines]))
    return "\n\n".join(blocks) + "\n"


def header(path: tuple[str | int, ...]) -> str:
    """Header of a table, names quoted where TOML wants it."""
    return f"[{'.'.join(_named(str(name)) for name in path)}]"


def _named(name: str) -> str:
    return name if _BARE.fullmatch(name) else quoted(name)


def literal(leaf: Leaf, units: str) -> str:
    """TOML for a value, a quantity as a bare number in the design's own unit."""
    if leaf.key.shape == "pairs":
        return f"[{', '.join(f'[{a!r}, {b!r}]' for a, b in leaf.value)}]"
    if leaf.key.shape == "rows":
        columns = row_rules(leaf.key)
        rows = [", ".join(digits_for(v, own_scale(units, r.kind)) for v, r in zip(row, columns, strict=True))
                for row in leaf.value]  # fmt: skip
        return f"[{', '.join(f'[{row}]' for row in rows)}]"
    if leaf.rule is not None:
        scale = own_scale(units, leaf.rule.kind)
        if leaf.key.shape == "bounds":
            numbers = (leaf.value.low, leaf.value.high, leaf.value.step)
            return f"[{', '.join(digits_for(v, scale) for v in numbers if v is not None)}]"
        if leaf.key.shape == "lengths":
            return f"[{', '.join(digits_for(v, scale) for v in leaf.value)}]"
        if leaf.key.shape == "quantity":
            return digits_for(leaf.value, scale)
        flat = leaf.key.name == "pivot" and leaf.value[2] == 0.0
        return f"[{', '.join(digits_for(v, scale) for v in leaf.value[: 2 if flat else 3])}]"
    if leaf.key.shape == "direction":
        named = leaf.key.name in NAMED_WAYS and _AXES.get(leaf.value)
        return f'"{named}"' if named else f"[{', '.join(repr(float(v)) for v in leaf.value)}]"
    if leaf.key.shape == "joins":
        return f"[{', '.join(map(quoted, leaf.value))}]"
    return str(leaf.value) if leaf.key.shape == "count" else quoted(leaf.value)


def row_rules(key: Key) -> list[Rule]:
    """Rules of the numbers of a row, in their order."""
    return [column.rule for column in KEYS[key.of or object].values() if column.rule is not None]


def quoted(text: str) -> str:
    """TOML basic string."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _leaves(part: type, value: Any, at: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Leaf]]:
    keys = sorted(KEYS[part].values(), key=lambda k: k.of is not None)  # single values first, as in a file
    by_form = {name for form in FORMS.get(part, ()) for name in form.needs}
    passed = other_keys(value)
    for key in keys:
        path = (*at, key.name)
        inner = getattr(value, key.name)
        if inner is None or key.name in passed:
            continue
        if key.shape == "bounds":
            for dotted, bounds in inner.items():
                there = tuple(dotted.split("."))
                sprung = {"spring": {name: {"on": s.on} if s.on else {} for name, s in value.spring.items()}}
                yield (*path, *there), Leaf(key, rule_at(there, sprung), True, bounds)
        elif key.of is Drive:
            yield (*path, "turns"), Leaf(KEYS[Drive]["turns"], None, True, inner)
        elif key.shape == "rows":
            rows = tuple(tuple(getattr(row, c.name) for c in KEYS[key.of or object].values()) for row in inner.values())
            yield path, Leaf(key, None, key.name in by_form, rows)
        elif key.shape == "tables":
            for name, row in inner.items():
                yield from _leaves(key.of or object, row, (*path, name))
        elif key.of is not None:
            yield from _leaves(key.of, inner, path)
        else:
            torsion = getattr(value, "on", None) is not None
            rule = key.torsion if torsion and key.torsion else key.rule
            yield path, Leaf(key, rule, key.needed or key.name in by_form, inner)
