"""What the passes over a design file note down: a path into the file, what is wrong, the mend."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from itertools import islice
from typing import Any, NamedTuple

from linkage.design_file.lines import Path

#: Tables whose next name is a part's own: ``link.left`` is told as ``link "left"``.
NAMED = ("shaft", "bellcrank", "slide", "link", "coupling", "stop", "spring", "follower", "arm", "pin")

_MOST_TRIED = 400  # so that a wrong word in a vast file costs little
_LONGEST_TRIED = 60
_LONGEST_SHOWN = 60


class Slip(NamedTuple):
    """One fault before its line is looked up; ``place`` overrides what the path would say."""

    path: Path
    says: str
    mend: str = ""
    place: str = ""


def place(path: Path) -> str:
    """Tell a path in words: ``("link", "left", "joins", 1)`` is ``link "left", joins``."""
    told: list[str] = []
    named = False
    for key in path:
        if isinstance(key, int):
            continue
        if named:
            told[-1] += f" {shown(key)}"
        else:
            told.append(shown(key)[1:-1])
        named = not named and key in NAMED
    return ", ".join(told)


def closest(word: str, known: Iterable[str]) -> str:
    """Return the known word nearest to ``word``, or nothing if none is near."""
    if len(word) > _LONGEST_TRIED:
        return ""
    return next(iter(difflib.get_close_matches(word, list(islice(known, _MOST_TRIED)), 1, 0.6)), "")


def nearest(word: str, known: Iterable[str]) -> str:
    """Return ``'did you mean "x"?'`` for the nearest known word, or nothing."""
    near = closest(word, known)
    return f'did you mean "{near}"?' if near else ""


def shown(value: Any) -> str:
    """Return what came, as a file would have it, cut short; tables and lists by their sort only."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, int) and abs(value) >= 10**_LONGEST_SHOWN:
        return "a number far too large"
    text = "".join(c if c.isprintable() else " " for c in str(value)[: _LONGEST_SHOWN + 1])
    if len(text) > _LONGEST_SHOWN:
        text = text[:_LONGEST_SHOWN] + "..."
    return f'"{text}"' if isinstance(value, str) else text
