"""The first pass over a design file: every table's keys and values against the schema."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from linkage.design_file.free import read_free
from linkage.design_file.lines import Path
from linkage.design_file.schema import FORMAT, KEYS, LONGEST_NAME, NAME, Key, not_in
from linkage.design_file.slips import Slip, closest, nearest, shown
from linkage.design_file.values import value_of
from linkage.parts import FORMS, Form, Linkage

#: Most parts of one sort (shafts, arms of a member, links ...).
MOST_PARTS = 200


def checked(raw: Mapping[str, Any], slips: list[Slip]) -> dict[str, Any]:
    """Check a whole file; quantities come out in mm, deg, N.

    A key that is there but cannot be used comes out as None, so that later checks neither miss it
    nor trip over it; what is wrong is added to ``slips``.
    """
    if "format" not in raw:
        slips.append(Slip(("format",), "is missing", f"add format = {FORMAT} at the top"))
    elif type(raw["format"]) is not int or raw["format"] != FORMAT:
        slips.append(Slip(("format",), f"must be {FORMAT}, got {shown(raw['format'])}"))
    units = "in" if raw.get("units") == "in" else "mm"
    rest = {key: value for key, value in raw.items() if key != "format"}
    return checked_table(Linkage, rest, (), units, slips)


def checked_table(part: type, raw: Mapping[str, Any], at: Path, units: str, slips: list[Slip]) -> dict[str, Any]:
    """Check one table that holds a part, and those inside it; see :func:`checked`."""
    keys = KEYS[part]
    clean: dict[str, Any] = {}
    for name, value in raw.items():
        path = (*at, name)
        if name not in keys:
            if (meant := closest(name, keys)) and meant not in raw:
                clean[meant] = None  # so that nothing is said about the key that was meant
            mend = nearest(name, keys) or f"known here: {', '.join(keys)}"
            slips.append(Slip(path, "is not a known key", mend))
        elif keys[name].shape == "bounds":
            clean[name] = read_free(raw, path, units, slips)
        elif keys[name].of is not None and keys[name].shape != "rows":
            clean[name] = _inner(keys[name], value, path, units, slips)
        else:
            torsion = "on" in raw
            clean[name] = value_of(keys[name], value, path, units, slips, torsion=torsion)
    for key in keys.values():
        if key.needed and key.name not in clean:
            slips.append(Slip((*at, key.name), "is missing", f"add it: {key.hint}"))
    if part in FORMS:
        _one_form(FORMS[part], clean, at, slips)
    return clean


def _inner(key: Key, raw: Any, at: Path, units: str, slips: list[Slip]) -> dict[str, Any] | None:
    """Check a table, or a table of named tables, inside another."""
    part = key.of
    assert part is not None
    if key.shape == "table":
        if isinstance(raw, dict):
            return checked_table(part, raw, at, units, slips)
        mend = _single(".".join(map(str, at)), raw) or f"its keys: {', '.join(KEYS[part])}"
        slips.append(Slip(at, f"must be a table, got {shown(raw)}", mend))
        return None
    head = ".".join(str(k) for k in at)
    if not isinstance(raw, dict):
        slips.append(Slip(at, f"must be tables with a name each, got {shown(raw)}", f"write [{head}.NAME]"))
        return None
    if len(raw) > MOST_PARTS:
        slips.append(Slip(at, f"has {len(raw)} parts, and {MOST_PARTS} are the most"))
        return None
    clean: dict[str, Any] = {}
    for name, table in raw.items():
        if not NAME.fullmatch(name) or len(name) > LONGEST_NAME:
            says = f"{shown(name)} is not a usable name"
            mend = f'use letters, digits, "_" and "-", at most {LONGEST_NAME}'
            slips.append(Slip((*at, name), says, mend))
        if isinstance(table, dict):
            clean[name] = checked_table(part, table, (*at, name), units, slips)
        else:
            mend = _single(f"{head}.{name}", table) or f'is "{name}" a key of a part? Name the part: [{head}.NAME]'
            slips.append(Slip((*at, name), f"must be a table, got {shown(table)}", mend))
            clean[name] = None
    return clean


def _single(head: str, raw: Any) -> str:
    """The mend of a table that stands in double brackets, nothing where it does not."""
    tables = isinstance(raw, list) and raw and all(isinstance(row, dict) for row in raw)
    more = ", and give each of them a name of its own" if tables and len(raw) > 1 else ""
    return f"write it in single brackets: [{head}]{more}" if tables else ""


def _one_form(forms: tuple[Form, ...], clean: Mapping[str, Any], at: Path, slips: list[Slip]) -> None:
    """Say so where a part is given in no way, in two ways at once, or in half a way."""
    own = {form: [k for k in (*form.needs, *form.may) if k in _only(form, forms)] for form in forms}
    given = {form: next(k for k in own[form] if k in clean) for form in forms if set(own[form]) & set(clean)}
    ways = ", or ".join(map(_way, forms))
    if not given:  # what forms share tells the last of them, nothing at all the one that needs nothing
        shared = [(form, key) for form in forms for key in form.needs if key in clean]
        given = dict([*((form, form.may[0]) for form in forms if not form.needs), *shared][-1:])
    if not given:
        slips.append(Slip(at, "does not say how it is given", f"give {ways}"))
    elif len(given) > 1:
        first, second = list(given.values())[:2]
        slips.append(Slip((*at, second), f"does not go with {first}", f"give {ways}"))
    else:
        (form, key), *_ = given.items()
        for other in clean:
            if other in not_in(form, forms):
                slips.append(Slip((*at, other), f"does not go with {key}", f"give {ways}"))
        for missing in form.needs:
            if missing not in clean:
                slips.append(Slip((*at, missing), "is missing", f"{key} needs it beside it"))


def _only(form: Form, forms: tuple[Form, ...]) -> set[str]:
    """Keys that belong to this form and to no other."""
    every = {*form.needs, *form.may}
    return every.difference(*((*other.needs, *other.may) for other in forms if other is not form))


def _way(form: Form) -> str:
    """What to give for this form, in words."""
    *others, last = form.needs or form.may[:1]
    return " and ".join(filter(None, (", ".join(others), last)))
