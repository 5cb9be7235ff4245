"""The examples as data, and the comparison of one value: what is expected, what is got, how far apart."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from importlib import resources
from typing import Any, NamedTuple

EXACT = 1e-9  # tolerance of the exact values, in the unit of each quantity

Leaf = float | str | bool | None
Given = Mapping[str, Any]


class Measured(NamedTuple):
    """A computed number and its unit; degrees compare modulo a full turn."""

    value: float
    unit: str


#: What a kind's function finds: the layout and the names of the data, a :class:`Measured` at each
#: number's place and None where the linkage cannot be assembled.
Found = Mapping[str, Any]
Worked = Callable[[Given], Found]


@dataclass(frozen=True, slots=True)
class Row:
    """One value of one example.

    ``expected`` and ``got`` are in ``unit``; None means "cannot be assembled". ``difference`` and
    ``tolerance`` are None where words or yes/no are compared. ``passed`` is None where this version
    does not compute the quantity: neither passed nor failed.
    """

    id: str
    kind: str
    source: str
    how_come_by: str
    quantity: str
    expected: Leaf
    got: Leaf
    difference: float | None
    tolerance: float | None
    unit: str
    passed: bool | None


# status in the data -> how the printed outputs, and how the exact values, were come by
_FROM_MEMORY = ("from memory", "computed, inputs or formula from memory")
_RECALLED = ("from memory", "computed, inputs read at a copy of the source")
_HOW: Mapping[str, tuple[str, str]] = {
    "inputs or formula from memory; exact values computed": _FROM_MEMORY,
    "inputs and published outputs or formula from memory; exact values computed": _FROM_MEMORY,
    "inputs read at a copy of the source; published outputs recalled; exact values computed": _RECALLED,
    "inputs read at a copy of the source; exact values computed": _RECALLED,
    "inputs and outputs read at the source": ("read at the source", "computed, inputs read at the source"),
    "computed, no published source": ("computed, no published source",) * 2,
}


def examples() -> list[dict[str, Any]]:
    """Every example of ``checks.json``, in its order."""
    text = resources.files("linkage.published").joinpath("checks.json").read_text(encoding="utf-8")
    found: list[dict[str, Any]] = json.loads(text)["checks"]
    return found


def compared(example: Mapping[str, Any], work: Worked | None) -> Iterator[Row]:
    """Rows of one example: each value the source prints, then each exact value.

    The data's ``published_tolerance`` is one number, or one for each quantity that the source prints.
    """
    found: Found = {} if work is None else work(example["inputs"])
    printed, exact = _HOW[example["status"]]
    for expected, how, tolerance in (
        (example["published"], printed, example["published_tolerance"]),
        (example["exact"], exact, EXACT),
    ):
        for path, leaf in _leaves(expected):
            if leaf is None and expected is example["published"]:
                continue  # a printed value that was not come by: there is nothing to meet
            within = tolerance[path[0]] if isinstance(tolerance, Mapping) else tolerance
            yield _row(example, how, path, leaf, within, found)


def _row(
    example: Mapping[str, Any],
    how: str,
    path: tuple[str | int, ...],
    expected: Leaf,
    tolerance: float | None,
    found: Found,
) -> Row:
    name = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in path).lstrip(".")
    known, got = _looked_up(found, path)
    unit, difference = "", None
    if isinstance(got, Measured):
        got, unit = got
    if isinstance(expected, bool | str) or expected is None or isinstance(got, bool | str) or got is None:
        tolerance = None
        passed = type(got) is type(expected) and got == expected
    else:
        difference = float(got) - float(expected)
        if unit == "deg":
            difference = math.remainder(difference, 360.0)
        if tolerance is None:
            raise ValueError(f'example "{example["id"]}": printed numbers need a published_tolerance')
        passed = abs(difference) <= tolerance
    return Row(
        example["id"],
        example["kind"],
        example["source"],
        how,
        name,
        expected,
        got,
        difference,
        tolerance,
        unit,
        passed if known else None,
    )


def _leaves(part: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[tuple[str | int, ...], Leaf]]:
    if isinstance(part, dict):
        for key, inner in part.items():
            yield from _leaves(inner, (*path, key))
    elif isinstance(part, list):
        for place, inner in enumerate(part):
            yield from _leaves(inner, (*path, place))
    else:
        yield path, part


def _looked_up(found: Any, path: tuple[str | int, ...]) -> tuple[bool, Any]:
    """Whether the quantity is computed at all, and what came out."""
    for step in path:
        if found is None:
            return True, None  # cannot be assembled: so are all its parts
        if isinstance(step, str) and step not in found:
            return False, None
        found = found[step]
    return True, found
