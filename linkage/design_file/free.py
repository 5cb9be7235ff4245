"""The ``[free]`` table: what a fit may change, each by its dotted path.

::

    [free]
    shaft.left.arm.drive.angle = [60.0, 85.0]           # from, to
    bellcrank.centre.arm.left.radius = [30.0, 50.0, 0.5]  # from, to, step counted from the first

TOML reads such a path as tables within tables; here they become one flat mapping again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from linkage.design_file.lines import Path
from linkage.design_file.schema import KEYS
from linkage.design_file.slips import Slip, nearest, shown
from linkage.design_file.values import number_of
from linkage.parts import Bounds, Linkage, Rule, dimensions

#: Most dimensions that a fit may change.
MOST_FREE = 20

_WANT = "[from, to] or [from, to, step]"
_DEEPEST = 8


def read_free(design: Mapping[str, Any], at: Path, units: str, slips: list[Slip]) -> dict[str, Bounds] | None:
    """The raw ``[free]`` table of a design as bounds by dotted path [mm, deg, N]; None where it is unusable."""
    found: dict[str, Bounds] = {}
    raw = design[str(at[-1])]
    if not isinstance(raw, dict):
        slips.append(Slip(at, f"must be a table, got {shown(raw)}", f"write a dotted path = {_WANT} on each line"))
        return None
    for path, value in _flat(raw, at):
        bounds = _bounds(rule_at(path[len(at) :], design), value, path, units, slips)
        if bounds is not None:
            found[".".join(map(str, path[len(at) :]))] = bounds
    if len(found) > MOST_FREE:
        slips.append(Slip(at, f"has {len(found)} dimensions, and {MOST_FREE} are the most"))
    return found


def unknown(rig: Linkage) -> Iterator[Slip]:
    """Say so of every free path that is no dimension of its design; a fitted link's length is one."""
    known = {*dimensions(rig), *(f"link.{name}.length" for name in rig.link)}
    for path in rig.free:
        if path not in known:
            yield Slip(("free", *path.split(".")), "is not a dimension of this design", nearest(path, known))


def rule_at(path: Path, design: Mapping[str, Any]) -> Rule | None:
    """Rule of the quantity at a dotted path, None where the path leads to none."""
    part: type | None = Linkage
    keys = [str(key) for key in path]
    while keys and part is not None:
        key = KEYS[part].get(keys.pop(0))
        if key is None:
            return None
        if key.shape == "point":
            return key.rule if keys in (["x"], ["y"], ["z"]) else None
        if key.shape == "quantity":
            table = design.get(str(path[0]), {})
            row = table.get(path[1]) if isinstance(table, dict) and len(path) > 1 else None
            torsion = key.torsion is not None and isinstance(row, dict) and "on" in row
            return (key.torsion if torsion else key.rule) if not keys else None
        if key.shape in ("tables", "rows") and keys:
            keys.pop(0)
        part = key.of
    return None


def _flat(raw: Mapping[str, Any], at: Path) -> Iterator[tuple[Path, Any]]:
    for name, value in raw.items():
        if isinstance(value, dict) and value and len(at) < _DEEPEST:
            yield from _flat(value, (*at, name))
        else:
            yield (*at, name), value


def _bounds(rule: Rule | None, raw: Any, at: Path, units: str, slips: list[Slip]) -> Bounds | None:
    if rule is None:
        quoted = any("." in str(key) for key in at)
        mend = "write the path without quotes" if quoted else "write a path such as shaft.NAME.arm.ARM.angle"
        slips.append(Slip(at, "is no path to a dimension", mend))
        return None
    if not isinstance(raw, list) or len(raw) not in (2, 3):
        slips.append(Slip(at, f"must be {_WANT}, got {shown(raw)}"))
        return None
    names = ("from ", "to ", "step ")
    rules = (rule, rule, Rule(rule.kind, 1e-6))
    numbers = [number_of(r, v, at, name, units, slips) for r, v, name in zip(rules, raw, names, strict=False)]
    low, high, step = (*numbers, None)[:3]
    if low is None or high is None or (len(raw) == 3 and step is None):
        return None
    if low >= high:
        slips.append(Slip(at, f"goes from {shown(raw[0])} to {shown(raw[1])}", "write the smaller first"))
        return None
    return Bounds(low, high, step)
