"""Columns of a sweep as people read them: headings with units, lengths in the design's own, verdicts in words."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from linkage.parts import Linkage
from linkage.quantities import Kind, own_scale, own_unit
from linkage.search.choose import kinds_of
from linkage.search.figures import REASONS, VERDICTS, names_of
from linkage.search.vary import rule_at

#: heading of the candidates' numbers
NUMBER = "candidate"

#: columns whose numbers stand for words
WORDS: Mapping[str, tuple[str, ...]] = {"verdict": VERDICTS, "reason": ("", *REASONS)}

_HEADING = re.compile(r"(?P<name>.*?)\s*(?:\[(?P<unit>[^\]]*)\])?\s*", re.DOTALL)


@dataclass(frozen=True)
class Column:
    """A column's name, its heading, the size of its unit [mm, deg, N], and whether it is a varied dimension."""

    name: str
    heading: str
    size: float
    varied: bool


def kinds(rig: Linkage, paths: Sequence[str]) -> dict[str, Kind]:
    """What kind of quantity each varied dimension and each figure of a design is."""
    return {**{path: rule_at(rig, path).kind for path in paths}, **kinds_of(names_of(rig), rig)}


def columns_of(rig: Linkage, paths: Sequence[str]) -> tuple[Column, ...]:
    """The columns of a sweep that varies some paths, in order."""
    found = []
    for name, kind in kinds(rig, paths).items():
        unit = own_unit(rig.units, kind)
        found.append(Column(name, f"{name} [{unit}]" if unit else name, own_scale(rig.units, kind), name in paths))
    return tuple(found)


def named(heading: str) -> tuple[str, str]:
    """Name and unit of a column by its heading, the unit empty where it has none."""
    match = _HEADING.fullmatch(heading.strip())
    assert match is not None
    return match["name"], match["unit"] or ""
