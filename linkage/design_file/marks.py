"""A changed design file with its changed lines marked: ``angle = 40.3  # was 51.0``."""

from __future__ import annotations

import re

from linkage.design_file.lines import Path, Spot, spots
from linkage.design_file.write import to_text
from linkage.parts import Linkage

_MARK = re.compile(r"(?:; |  # )(?:[\w-]+ )?was [^;#]*$")


def marked_text(rig: Linkage) -> str:
    """The text of a linkage that was read and changed, a mark on every line that changed.

    The mark says what stood there, after the line's own comment if it has one; a mark of an earlier
    change gives way to it. New lines say that they are new. Without a source the text is a fresh one.
    """
    text = to_text(rig)
    if rig.source is None:
        return text
    old, new = spots(rig.source.text), spots(text)
    marks: dict[int, tuple[str, int]] = {}
    for path, _ in rig.changes:
        at = _spot_of(path, new)
        if at is None:
            continue
        was = old.get(at)
        value = None if was is None else rig.source.text[was.value_start : was.value_end]
        if value != text[new[at].value_start : new[at].value_end]:
            line = text.count("\n", 0, new[at].value_end)  # where the value ends: a list may take several
            key = f"{at[-1]} " if was is not None and was.inline else ""  # one of several on its line
            if isinstance(at[-1], int):
                key = f"point-{path.split('.')[-2]} "
            says = "new" if value is None else f"{key}was {' '.join(value.split())}"
            if value is not None and "\n" in value:  # too long to tell
                says = "was another"
            marks.setdefault(line, (says, _column(rig.source.text, was)))
    lines = text.split("\n")
    for i, (mark, column) in marks.items():
        lines[i] = _with_mark(lines[i], mark, column)
    return "\n".join(lines)


def _spot_of(path: str, found: dict[Path, Spot]) -> Path | None:
    """Where a dotted path stands in a text: its own key, or the list or table that it is an element of."""
    keys: Path = tuple(path.split("."))
    for size in range(2, len(keys)):
        if keys[:size] in found and (*keys[:size], 0, 0) in found:  # a number in a row of a list, from 1
            column = ("turn", "moment_arm").index(str(keys[-1]))
            return (*keys[:size], int(keys[-2]) - 1, column)
    for size in range(len(keys), 0, -1):
        if keys[:size] in found:
            return keys[:size]
    return None


def _column(text: str, was: Spot | None) -> int:
    """Where the comment began on the line on which a value ended."""
    if was is None:
        return 0
    start = text.rfind("\n", 0, was.value_end) + 1
    line = text[start:].partition("\n")[0]
    return _comment_at(line) if _comment_at(line) > 0 else 0


def _with_mark(line: str, mark: str, column: int) -> str:
    ending = "\r" if line.endswith("\r") else ""
    bare = _MARK.sub("", line.removesuffix("\r")).rstrip()
    at = _comment_at(bare)
    if at < 0:
        return f"{bare}  # {mark}{ending}"
    pair = bare[:at].rstrip()  # the comment stays in its column where the new value leaves room
    return f"{pair:{max(column, len(pair) + 2)}}{bare[at:]}; {mark}{ending}"


def _comment_at(line: str) -> int:
    """Where the comment of a line of TOML begins, -1 without one: the first # outside its strings."""
    return re.sub(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'', lambda m: "_" * len(m[0]), line).find("#")
