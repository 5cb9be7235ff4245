"""From a raw TOML value to what a part's field holds: mm, deg, N, unit vectors, words."""

from __future__ import annotations

import math
from typing import Any, cast

from linkage.design_file.lines import Path
from linkage.design_file.schema import KEYS, LEAST_ROWS, MOST_POINTS, NAMED_WAYS, Key
from linkage.design_file.slips import Slip, nearest, shown
from linkage.parts import MOST_PLATES, Rule
from linkage.quantities import own_scale, own_unit, quantity_in

_LONGEST_TEXT = 200
_AXES = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}


def value_of(key: Key, raw: Any, at: Path, units: str, slips: list[Slip], *, torsion: bool = False) -> Any:
    """Return the value that a key holds, or None with what is wrong added to ``slips``.

    A point comes out with as many coordinates as it was given; lengths in mm, angles in deg.
    """
    if key.shape == "quantity":
        rule = cast(Rule, key.torsion if torsion and key.torsion else key.rule)
        return number_of(rule, raw, at, "", units, slips)
    if key.shape == "point":
        return _point(cast(Rule, key.rule), raw, at, units, slips)
    if key.shape == "lengths":
        return _lengths(key, raw, at, units, slips)
    if key.shape == "pairs":
        return _pairs(key, raw, at, slips)
    if key.shape == "rows":
        return _rows(key, raw, at, units, slips)
    if key.shape == "direction":
        return _direction(key, raw, at, slips)
    if key.shape == "joins":
        if isinstance(raw, list) and len(raw) == 2 and all(isinstance(e, str) and _plain(e) for e in raw):
            return tuple(raw)
        came = shown(raw)
        if isinstance(raw, list):
            came = " and ".join(map(shown, raw)) if len(raw) == 2 else f"a list of {len(raw)}"
        slips.append(Slip(at, f"must be a list of two names, got {came}", key.hint))
        return None
    says = _refusal(key, raw)
    if says:
        mend = nearest(raw.lower(), key.words) if isinstance(raw, str) else ""
        slips.append(Slip(at, f"must be {says}, got {shown(raw)}", mend))
        return None
    return raw


def _refusal(key: Key, raw: Any) -> str:
    """What a word, a text or a count must be, where it is not."""
    if key.shape == "words":
        return "" if isinstance(raw, str) and raw in key.words else " or ".join(f'"{w}"' for w in key.words)
    if key.shape == "count":
        whole = isinstance(raw, int) and not isinstance(raw, bool)
        return "" if whole and 1 <= raw <= MOST_PLATES else f"a whole number from 1 to {MOST_PLATES}"
    if not isinstance(raw, str):
        return "text in quotes"
    return "" if _plain(raw) else f"one line of text of at most {_LONGEST_TEXT} characters"


def _plain(text: str) -> bool:
    return len(text) <= _LONGEST_TEXT and text.isprintable()


def number_of(rule: Rule, raw: Any, at: Path, what: str, units: str, slips: list[Slip]) -> float | None:
    """A number in mm, deg or N, or None with what is wrong with it; ``what`` begins what is said."""
    if isinstance(raw, bool) or not isinstance(raw, (int, float, str)):
        want = "a number" if rule.kind == "number" else "a number, or a text with a unit"
        slips.append(Slip(at, f"{what}must be {want}, got {shown(raw)}"))
        return None
    try:
        value = quantity_in(raw, rule.kind) if isinstance(raw, str) else float(raw)
    except ValueError as error:
        says, _, mend = str(error).partition("; ")
        slips.append(Slip(at, what + says, mend))
        return None
    except OverflowError:
        value = math.inf
    scale = 1.0 if isinstance(raw, str) else own_scale(units, rule.kind)
    value *= scale
    if says := rule.breaks(value):
        own = f" ({shown(raw)} {own_unit(units, rule.kind)})" if scale != 1.0 else ""
        slips.append(Slip(at, f"{what}{says}{own}"))
        return None
    return value


def _point(rule: Rule, raw: Any, at: Path, units: str, slips: list[Slip]) -> tuple[float, ...] | None:
    if not isinstance(raw, list) or len(raw) not in (2, 3):
        count = f"a list of {len(raw)}" if isinstance(raw, list) else shown(raw)
        slips.append(Slip(at, f"must be [x, y] or [x, y, z], got {count}"))
        return None
    numbers = [
        number_of(rule, v, (*at, i), f"{axis} ", units, slips)
        for i, (axis, v) in enumerate(zip("xyz", raw, strict=False))
    ]
    return None if None in numbers else tuple(cast(list[float], numbers))


def _lengths(key: Key, raw: Any, at: Path, units: str, slips: list[Slip]) -> tuple[float, ...] | None:
    """A list of lengths [mm]."""
    if not isinstance(raw, list) or not 1 <= len(raw) <= MOST_PLATES:
        count = f"a list of {len(raw)}" if isinstance(raw, list) else shown(raw)
        slips.append(Slip(at, f"must be a list of 1 to {MOST_PLATES} lengths, got {count}", key.hint))
        return None
    numbers = [number_of(cast(Rule, key.rule), v, (*at, i), "", units, slips) for i, v in enumerate(raw)]
    return None if None in numbers else tuple(cast(list[float], numbers))


def _pairs(key: Key, raw: Any, at: Path, slips: list[Slip]) -> tuple[tuple[float, float], ...] | None:
    """Points of two shares each, from 0 to 1."""
    if not isinstance(raw, list) or not 1 <= len(raw) <= MOST_POINTS:
        count = f"a list of {len(raw)}" if isinstance(raw, list) else shown(raw)
        slips.append(Slip(at, f"must be a list of 1 to {MOST_POINTS} points, got {count}", key.hint))
        return None
    found = []
    for point in raw:
        numbers = isinstance(point, list) and len(point) == 2 and all(type(v) in (int, float) for v in point)
        if not numbers or not all(0.0 <= v <= 1.0 for v in point):
            slips.append(Slip(at, f"must be points of two numbers from 0 to 1, got {shown(point)}", key.hint))
            return None
        found.append((float(point[0]), float(point[1])))
    return tuple(found)


def _rows(key: Key, raw: Any, at: Path, units: str, slips: list[Slip]) -> dict[str, dict[str, Any]] | None:
    """Rows of numbers, each the fields of a part in their order; by their number from 1."""
    columns = [column for column in KEYS[key.of or object].values() if column.rule is not None]
    words = ", ".join(column.name for column in columns)
    if not isinstance(raw, list) or not LEAST_ROWS <= len(raw) <= MOST_POINTS:
        count = f"a list of {len(raw)}" if isinstance(raw, list) else shown(raw)
        says = f"must be a list of {LEAST_ROWS} to {MOST_POINTS} points [{words}], got {count}"
        slips.append(Slip(at, says, key.hint))
        return None
    found: dict[str, dict[str, Any]] = {}
    for i, row in enumerate(raw):
        if not isinstance(row, list) or len(row) != len(columns):
            count = f"a list of {len(row)}" if isinstance(row, list) else shown(row)
            slips.append(Slip((*at, i), f"point {i + 1} must be [{words}], got {count}"))
            continue
        found[str(i + 1)] = {
            column.name: number_of(cast(Rule, column.rule), value, (*at, i, j), f"point {i + 1}, {column.name} ",
                                   units, slips)
            for j, (column, value) in enumerate(zip(columns, row, strict=True))
        }  # fmt: skip
    whole = len(found) == len(raw) and all(None not in row.values() for row in found.values())
    return found if whole else None


def _direction(key: Key, raw: Any, at: Path, slips: list[Slip]) -> tuple[float, float, float] | None:
    """Return a unit vector; an axis may be named by a letter, and must have all three coordinates."""
    axis = key.name in NAMED_WAYS
    if axis and isinstance(raw, str) and raw in _AXES:
        return _AXES[raw]
    want = '"x", "y", "z" or [ax, ay, az]' if axis else "[x, y] or [x, y, z]"
    numbers = isinstance(raw, list) and all(type(v) in (int, float) for v in raw)
    if not numbers or len(raw) not in ((3,) if axis else (2, 3)):
        slips.append(Slip(at, f"must be {want}, got {shown(raw)}"))
        return None
    try:
        x, y, z = (*map(float, raw), 0.0)[:3]
        size = math.hypot(x, y, z)
    except OverflowError:
        size = math.inf
    if not 1e-9 <= size <= 1e9:
        says = "has no direction: all its numbers are zero" if size == 0.0 else "is not a usable direction"
        slips.append(Slip(at, says, f"write {want}"))
        return None
    if abs(size - 1.0) > 1e-15:
        x, y, z = x / size, y / size, z / size
    return (x, y, z)
