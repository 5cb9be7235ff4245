"""A sheet for the bench: what stands on it, once, for the printer and for the terminal.

A :class:`Sheet` is sections of blocks: tables, paragraphs, numbered steps to tick off, rules of thumb
with their sources, pictures. :func:`text` writes it as plain text; :mod:`linkage.paper.sheet_pages`
draws its pages.
"""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from linkage.answers import CAUTION, Answer, Word
from linkage.paper.lines import SIGN, WIDTH, aligned, wrapped
from linkage.parts import Linkage
from linkage.quantities import own_scale

if TYPE_CHECKING:
    from matplotlib.axes import Axes

#: a space at which no line is broken
TIED = "\u00a0"
_NARROW = 8  # letters: a heading is not broken closer than this

#: said of a figure that everybody uses and no book is known for
NO_SOURCE = "common practice, no source"


@dataclass(frozen=True)
class Table:
    """Rows of cells under a heading; ``columns`` has ``<`` (left) or ``>`` (right) for each."""

    heading: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    columns: str
    ruled: bool = False  # cells to be written in by hand


@dataclass(frozen=True)
class Words:
    """A paragraph; ``mark`` is a verdict whose sign stands before it."""

    says: str
    mark: Word | None = None


@dataclass(frozen=True)
class Rules:
    """Rules of thumb, each with where it is from."""

    rules: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Steps:
    """Steps in order, to be ticked off."""

    steps: tuple[str, ...]
    first: int = 1


@dataclass(frozen=True)
class Working:
    """Lines that keep their own breaks: arithmetic, forms to fill in."""

    lines: tuple[str, ...]


@dataclass(frozen=True)
class Picture:
    """A picture across the page, ``height`` [mm], drawn on axes; plain text leaves it out."""

    height: float
    draw: Callable[[Axes], Any]


Block = Table | Words | Rules | Steps | Working | Picture


@dataclass(frozen=True)
class Section:
    """A headed part of a sheet; an empty one is left out. ``fresh`` begins a new page."""

    name: str
    blocks: tuple[Block, ...]
    fresh: bool = False


@dataclass(frozen=True)
class Sheet:
    """A whole sheet: what ``kind``, the ``title`` of the design, ``facts`` that identify it, its sections.

    ``stamp`` is the verdict with a sentence; ``foot`` stands at the foot of every page.
    """

    kind: str
    title: str
    facts: tuple[str, ...]
    sections: tuple[Section, ...]
    stamp: tuple[Word, str] | None = None
    foot: str = CAUTION
    date: str = field(default="")


def facts_of(rig: Linkage, date: str = "") -> tuple[str, ...]:
    """What identifies a design: whose, which drawing, which file, how seen, in what units."""
    whose = [
        f"drawing {rig.drawing}" if rig.drawing else "",
        f"for {rig.customer}" if rig.customer else "",
        rig.source.path.replace("\\", "/").rpartition("/")[2] if rig.source else "",
        date,
    ]
    how = [
        f"seen from {rig.seen_from}" if rig.seen_from else "",
        f"lengths in {'mm' if rig.units == 'mm' else 'inches'}, angles in degrees, counter-clockwise positive",
    ]
    return tuple(" · ".join(fact for fact in line if fact) for line in (whose, how) if any(line))


def stamp_of(answer: Answer) -> tuple[Word, str]:
    """The verdict over a design, as a sheet for the bench says it."""
    fails = [check.name.replace("_", " ") for check in answer.checks if check.verdict == "fail"]
    if fails:
        return "fail", f"do not build from this sheet: {', '.join(fails)} {'fails' if len(fails) == 1 else 'fail'}."
    cares = [check.name.replace("_", " ") for check in answer.checks if check.verdict == "caution"]
    if cares:
        return "caution", f"no check fails; take care with: {', '.join(cares)}."
    return "pass", f"all {len(answer.checks)} checks pass."


def today() -> str:
    """The date of today as a sheet carries it: ``2026-03-01``."""
    return datetime.date.today().isoformat()


class Figures:
    """How the lengths of one sheet are written: in the design's own unit, with the nearest 1/64 in where asked."""

    def __init__(self, units: str, *, fractions: bool = False) -> None:
        self.units = units
        self.fractions = fractions and units == "in"
        self.scale = own_scale(units, "length")

    def bare(self, mm: float | None, digits: int | None = None) -> str:
        """A length [mm] without its unit: hundredths of a mm, thousandths of an inch."""
        if mm is None or mm != mm:
            return "-"
        text = f"{mm / self.scale:.{(2 if self.units == 'mm' else 3) if digits is None else digits}f}"
        return text.removeprefix("-") if float(text) == 0.0 else text

    def cell(self, mm: float | None) -> str:
        """A length [mm] for a table, the nearest 1/64 beside it where asked."""
        bare = self.bare(mm)
        if not self.fractions or mm is None or bare == "-":
            return bare
        return f"{bare} ({sixty_fourths(mm / self.scale).replace(' ', TIED)})"

    def with_unit(self, mm: float | None) -> str:
        """A length [mm] with its unit, as a sentence says it."""
        return f"{self.cell(mm)} {self.units}"


def sixty_fourths(inches: float) -> str:
    """The nearest 1/64 of a length [in], in lowest terms: ``"1 3/16"``, ``"-5/64"``, ``"0"``.

    Examples
    --------
    >>> sixty_fourths(1.1875), sixty_fourths(-0.08), sixty_fourths(0.004), sixty_fourths(0.996)
    ('1 3/16', '-5/64', '0', '1')
    """
    parts = round(abs(inches) * 64.0)
    if not parts:
        return "0"
    whole, over = divmod(parts, 64)
    under = 64
    while over and over % 2 == 0:
        over, under = over // 2, under // 2
    told = [str(whole)] if whole else []
    told += [f"{over}/{under}"] if over else []
    return ("-" if inches < 0.0 else "") + " ".join(told)


def text(sheet: Sheet) -> str:
    """The whole sheet as plain text, about a hundred columns wide."""
    head = ["═" * WIDTH, *wrapped(f"{sheet.kind.upper()}   {sheet.title}")]
    head += [line for fact in sheet.facts for line in wrapped(fact)]
    blocks = [[*head, "═" * WIDTH]]
    if sheet.stamp is not None:
        word, says = sheet.stamp
        blocks.append(_marked(f"{word.upper()}   {says[:1].upper()}{says[1:]}", word, ""))
    for section in sheet.sections:
        told = [lines for block in section.blocks if (lines := _lines(block))]
        if told:
            told[0] = [section.name.upper(), *told[0]]
            blocks += told
    if sheet.foot:
        blocks.append(["─" * WIDTH, *wrapped(sheet.foot)])
    return "\n\n".join("\n".join(block) for block in blocks).replace(TIED, " ") + "\n"


def _lines(block: Block) -> list[str]:
    if isinstance(block, Table):
        if block.ruled:
            return _form(block)
        return aligned([*_headings(block), *block.rows], block.columns) if block.rows else []
    if isinstance(block, Words):
        says = block.says[:1].upper() + block.says[1:]
        return _marked(says, block.mark, "  ") if block.mark else wrapped(says)
    if isinstance(block, Rules):
        told = [f"- {says[:1].upper()}{says[1:]} [{source}]." for says, source in block.rules]
        return [line for rule in told for line in _hung(rule)]
    if isinstance(block, Steps):
        found: list[str] = []
        for number, step in enumerate(block.steps, block.first):
            lines = wrapped(step, " " * 9)
            found += [f"  [ ] {number:>2} {lines[0][9:]}", *lines[1:]]
        return found
    if isinstance(block, Working):
        return [f"  {line}".rstrip() for line in block.lines]
    return []


def _headings(block: Table) -> list[tuple[str, ...]]:
    """The heading in as many lines as keep its columns narrow, the last line nearest the cells."""
    if not any(block.heading):
        return []
    told = []
    for i, words in enumerate(block.heading):
        room = max(_NARROW, *(len(row[i]) for row in block.rows))
        told.append(textwrap.wrap(words, room, break_long_words=False, break_on_hyphens=False) or [""])
    most = max(map(len, told))
    told = [[""] * (most - len(lines)) + lines for lines in told]
    return [tuple(lines[n] for lines in told) for n in range(most)]


def _hung(rule: str) -> list[str]:
    first, *rest = wrapped(rule, "    ")
    return ["  " + first[4:6] + first[6:], *rest]


def _form(block: Table) -> list[str]:
    """A table whose empty cells are drawn as lines to write on."""
    rows = [[cell or "________" for cell in row] for row in block.rows]
    return aligned([*_headings(block), *rows], block.columns) if rows else []


def _marked(says: str, mark: Word | None, indent: str) -> list[str]:
    sign = f"{indent}{SIGN[mark]} " if mark else indent
    lines = wrapped(says, " " * len(sign))
    return [sign + lines[0][len(sign) :], *lines[1:]]


def table(heading: Sequence[str], rows: Sequence[Sequence[str]], columns: str, *, ruled: bool = False) -> Table:
    """A table from any sequences; columns that are empty in every row are left out."""
    kept = [i for i in range(len(heading)) if ruled or any(row[i] for row in rows)]
    return Table(
        tuple(heading[i] for i in kept),
        tuple(tuple(row[i] for i in kept) for row in rows),
        "".join(columns[i] for i in kept),
        ruled,
    )
