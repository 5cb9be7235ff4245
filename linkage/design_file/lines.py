"""Where the keys of a TOML text stand: lines for the errors, spans for the changes.

``tomllib`` reads a text but says nothing about places. This scan walks a text that ``tomllib`` has
accepted, so it need not judge it: it finds tables, arrays of tables, dotted and quoted keys,
inline tables, the elements of arrays, and steps over strings and comments.
"""

from __future__ import annotations

import contextlib
import re
import tomllib
from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a key stands: its ``line`` (from 1), where its key starts, and the span of its value.

    ``header`` marks a ``[table]`` line, whose span is that of the header; ``inline`` a key inside
    an inline table or an element of an array.
    """

    line: int
    start: int
    value_start: int
    value_end: int
    header: bool = False
    inline: bool = False


def spots(text: str) -> dict[Path, Spot]:
    """Find every key, table and array element of a TOML text by its path, in the text's order.

    Where the text cannot be followed (it is no TOML) the spots found so far are returned.
    """
    scan = _Scan(text)
    with contextlib.suppress(_Lost, RecursionError):
        scan.run()
    return scan.found


def line_of(path: Path, found: Mapping[Path, Spot]) -> int | None:
    """Line of a key, or of the nearest table around it that the text writes out."""
    for size in range(len(path), 0, -1):
        if path[:size] in found:
            return found[path[:size]].line
    return None


class _Lost(Exception):
    """The text is not what a TOML text can be here."""


_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_STRING = re.compile(r'"""(?:[^\\]|\\.)*?"{3,5}' r"|'''.*?'{3,5}" r'|"(?:[^"\\\n]|\\.)*"' r"|'[^'\n]*'", re.DOTALL)
_SCALAR = re.compile(r"[^,\]}#\n]+")


class _Scan:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.found: dict[Path, Spot] = {}
        self.rows: dict[Path, int] = {}  # arrays of tables: how many so far
        self.starts = [0, *(m.end() for m in re.finditer("\n", text))]

    def run(self) -> None:
        base: Path = ()
        while self.skip(_BLANK) < len(self.text):
            if self.text[self.at] == "[":
                base = self.header()
            else:
                self.pair(base, inline=False)

    def header(self) -> Path:
        start = self.at
        array = self.text.startswith("[[", start)
        self.at += 2 if array else 1
        names = self.dotted()
        base: Path = ()
        for i, name in enumerate(names):
            base = (*base, name)
            if array and i == len(names) - 1:
                self.rows[base] = self.rows.get(base, -1) + 1
            if base in self.rows:
                base = (*base, self.rows[base])
        self.expect("]]" if array else "]")
        for size in range(1, len(base)):
            self.found.setdefault(base[:size], Spot(self.line(start), start, start, start))
        self.found[base] = Spot(self.line(start), start, start, self.at, header=True)
        return base

    def pair(self, base: Path, *, inline: bool) -> None:
        start = self.at
        names = self.dotted()
        self.expect("=")
        self.skip(_SPACE)
        path: Path = (*base, *names)
        for size in range(len(base) + 1, len(path)):
            self.found.setdefault(path[:size], Spot(self.line(start), start, start, start, inline=inline))
        self.value(path, start, inline=inline)

    def value(self, path: Path, start: int, *, inline: bool) -> None:
        opened = self.at
        self.found[path] = Spot(self.line(start), start, opened, opened, inline=inline)
        first = self.text[opened : opened + 1]
        if first == "[":
            self.listed(path)
        elif first == "{":
            self.table(path)
        elif first in ('"', "'"):
            self.take(_STRING)
        else:
            scalar = self.take(_SCALAR)
            self.at -= len(scalar) - len(scalar.rstrip())
        self.found[path] = Spot(self.line(start), start, opened, self.at, inline=inline)

    def listed(self, path: Path) -> None:
        self.at += 1
        count = 0
        while self.next_is_not("]"):
            self.value((*path, count), self.at, inline=True)
            count += 1
            self.comma()

    def table(self, path: Path) -> None:
        self.at += 1
        while self.next_is_not("}"):
            self.pair(path, inline=True)
            self.comma()

    def next_is_not(self, closing: str) -> bool:
        """Step over blanks; step past ``closing`` if it comes next."""
        if self.skip(_BLANK) >= len(self.text):
            raise _Lost
        if self.text[self.at] != closing:
            return True
        self.at += 1
        return False

    def comma(self) -> None:
        self.skip(_BLANK)
        if self.text.startswith(",", self.at):
            self.at += 1

    def dotted(self) -> list[str]:
        names = []
        while True:
            self.skip(_SPACE)
            if self.text[self.at : self.at + 1] in ('"', "'") and self.at < len(self.text):
                names.append(_unquoted(self.take(_STRING)))
            else:
                names.append(self.take(_BARE))
            self.skip(_SPACE)
            if not self.text.startswith(".", self.at):
                return names
            self.at += 1

    def skip(self, pattern: re.Pattern[str]) -> int:
        if match := pattern.match(self.text, self.at):
            self.at = match.end()
        return self.at

    def take(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:
            raise _Lost
        self.at = match.end()
        return match[0]

    def expect(self, word: str) -> None:
        if not self.text.startswith(word, self.at):
            raise _Lost
        self.at += len(word)

    def line(self, at: int) -> int:
        return bisect_right(self.starts, at)


def _unquoted(name: str) -> str:
    try:
        return str(tomllib.loads(f"k = {name}")["k"])
    except tomllib.TOMLDecodeError:
        raise _Lost from None
