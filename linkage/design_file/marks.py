"""A changed design file with its changed lines marked: ``angle = 40.3  # was 51.0``."""

from __future__ import annotations

import re

from linkage.design_file.lines import Path, spots
from linkage.design_file.write import to_text
from linkage.parts import Linkage

_MARK = re.compile(r"(?:; |  # )was [^;#]*$")


def marked_text(rig: Linkage) -> str:
    """The text of a linkage that was read and changed, a mark on every line that changed.

    The mark says what stood there, after the line's own comment if it has one; a mark of an earlier
    change gives way to it. New lines say that they are new. Without a source the text is a fresh one.
    """
    text = to_text(rig)
    if rig.source is None:
        return text
    old, new = spots(rig.source.text), spots(text)
    marks: dict[int, str] = {}
    for path, _ in rig.changes:
        at = _spot_of(path, new)
        if at is None:
            continue
        was = old.get(at)
        value = None if was is None else rig.source.text[was.value_start : was.value_end]
        if value != text[new[at].value_start : new[at].value_end]:
            line = text.count("\n", 0, new[at].value_end)  # where the value ends: a list may take several
            marks.setdefault(line, "new" if value is None else f"was {' '.join(value.split())}")
    lines = text.split("\n")
    for i, mark in marks.items():
        lines[i] = _with_mark(lines[i], mark)
    return "\n".join(lines)


def _spot_of(path: str, found: dict[Path, object]) -> Path | None:
    """Where a dotted path stands in a text: its own key, or the list or table that it is an element of."""
    keys: Path = tuple(path.split("."))
    for size in range(len(keys), 1, -1):
        if keys[:size] in found:
            return keys[:size]
    return None


def _with_mark(line: str, mark: str) -> str:
    ending = "\r" if line.endswith("\r") else ""
    bare = _MARK.sub("", line.removesuffix("\r")).rstrip()
    return f"{bare}{'; ' if _has_comment(bare) else '  # '}{mark}{ending}"


def _has_comment(line: str) -> bool:
    """Whether a # stands outside the strings of a line of TOML."""
    return "#" in re.sub(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'', "", line)
