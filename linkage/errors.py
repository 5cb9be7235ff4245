"""Every error the package raises on purpose, as one small tree.

::

    LinkageError                   except linkage.LinkageError: ...   catches all of them
    |- DesignError(ValueError)     the design file cannot be used; .faults lists every fault
    |- PathError(KeyError)         a dotted path names nothing in the design; .near has the nearest
    |- AssemblyError(ValueError)   the parts cannot be put together; .link and .short_by say where
    `- OutputError(OSError)        a file cannot be written, or stands there already
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in a design: place, rule, what came, the mend."""

    place: str
    says: str
    mend: str = ""
    line: int | None = None
    file: str = ""

    def __str__(self) -> str:
        where = self.file or "design"
        if self.line is not None:
            where += f":{self.line}"
        text = f"{where}: {self.place}: {self.says}" if self.place else f"{where}: {self.says}"
        return f"{text}; {self.mend}" if self.mend else text


class LinkageError(Exception):
    """Base of all errors of this package."""


class DesignError(LinkageError, ValueError):
    """A design cannot be used; ``faults`` carries every fault found, in file order."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__("\n".join(str(f) for f in self.faults))


class PathError(LinkageError, KeyError):
    """A dotted path does not name a dimension of the design; ``near`` holds likely ones."""

    def __init__(self, path: str, known: Iterable[str], says: str = "") -> None:
        self.path = path
        self.near: tuple[str, ...] = tuple(difflib.get_close_matches(path, list(known), 3, 0.5))
        self.says = says or f'"{path}" is not a dimension of this design'
        super().__init__(path)

    def __str__(self) -> str:
        return self.says + did_you_mean(self.path, self.near)


class AssemblyError(LinkageError, ValueError):
    """The parts cannot be put together; ``link`` names the link and ``short_by`` is in mm."""

    def __init__(self, says: str, *, link: str = "", short_by: float = 0.0) -> None:
        self.link = link
        self.short_by = short_by
        super().__init__(says)


class OutputError(LinkageError, OSError):
    """A result cannot be written where it was asked for."""


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return ``'; did you mean "x"?'`` for the nearest known word, or nothing."""
    near = difflib.get_close_matches(word, list(known), 1, 0.6)
    return f'; did you mean "{near[0]}"?' if near else ""
