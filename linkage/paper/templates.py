"""Templates at true size: every lever plate and hole pattern on sheets that can be laid on the metal.

::

      title, holes                                     +      register mark: 5 mm inside the drawing's edge;
      +- - - - - - - - - - - - - -+                           neighbouring tiles share two of them, so lay
      |  +                     +  |                           mark on mark
      |        the part at        |
      |        true size          |                    |--| check bars of 100 mm and 4 in: measure them
      |  +                     +  |                           before anything is cut
      +- - - - - - - - - - - - - -+
      |--------|  100 mm, 4 in

Nothing is scaled to fit: what does not fit one sheet goes on tiles. Whoever prints must print at 100 %.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from linkage.answers import Answer
from linkage.paper.lines import fixed
from linkage.paper.outlines import box
from linkage.paper.plates import Pattern, Plate, patterns, plates
from linkage.paper.practice import Practice, checked, rules
from linkage.paper.sheet import Figures, Rules, Section, Sheet, Table, Words, facts_of, stamp_of, table
from linkage.paper.sheet_pages import PAPERS, Paper
from linkage.paper.snail_plate import SnailPlate, snail_plate

#: margin of a sheet, and how far a register mark stands inside the edge of the drawing [mm]
MARGIN, INSET = 10.0, 5.0
#: lengths of the two check bars [mm]
BARS = (100.0, 101.6)

#: most holes told at the head of a sheet
ROWS = 14

_FOOT = 19.0  # strip with the check bars [mm]
_TITLE, _ROW = 15.0, 4.4  # the head of a sheet, and each row of its table of holes [mm]
_AROUND = 9.0  # air round a part for its words [mm]


@dataclass(frozen=True)
class Template:
    """A part to cut or mark, once for every name in ``names``: a plate, or a pattern of holes."""

    part: Plate | Pattern
    names: tuple[str, ...]

    @property
    def title(self) -> str:
        """What the part is called on its sheet."""
        return ", ".join(self.names)

    @property
    def kind(self) -> str:
        """``"lever"``, ``"plate"``, ``"quadrant"`` or ``"hole pattern"``."""
        if isinstance(self.part, Pattern):
            return "hole pattern"
        if isinstance(self.part, SnailPlate):
            return "quadrant"
        return "lever" if len(self.part.holes) < 2 else "plate"

    @property
    def size(self) -> tuple[float, float, float, float]:
        """Left, bottom, right and top of the part [mm]."""
        if isinstance(self.part, Plate):
            return box(self.part.around)
        reach = [0.5 * (mark.diameter or 6.0) for mark in self.part.marks]
        xs = [m.x + s * r for m, r in zip(self.part.marks, reach, strict=True) for s in (-1.0, 1.0)]
        ys = [m.y + s * r for m, r in zip(self.part.marks, reach, strict=True) for s in (-1.0, 1.0)]
        return min(xs), min(ys), max(xs), max(ys)


class Tile(NamedTuple):
    """One sheet of a part: the ``page`` [mm], the marks' cell on it, and what of the part lies at the cell's
    lower left corner (``x``, ``y`` [mm]); ``column`` and ``row`` from the lower left, of so many."""

    page: tuple[float, float]
    cell: tuple[float, float, float, float]
    x: float
    y: float
    column: int
    row: int
    columns: int
    rows: int

    @property
    def name(self) -> str:
        """Columns by letter, rows by number from above: ``"B1"``."""
        return f"{_letters(self.column)}{self.rows - self.row}"

    def on_page(self, x: float, y: float) -> tuple[float, float]:
        """A point of the part [mm] as a point of the page [mm]."""
        return x - self.x + self.cell[0], y - self.y + self.cell[1]


def templates(answer: Answer, practice: Practice | None = None) -> tuple[Template, ...]:
    """Every lever plate and hole pattern of a design; plates that are alike once.

    Parameters
    ----------
    answer : Answer
    practice : Practice, optional
        Holes, edge, fillet, thickness and datum [mm].

    Raises
    ------
    DesignError
        A setting of the bench cannot be used.
    """
    practice = checked(practice or Practice(), answer.run.rig)
    alike: dict[Plate, list[str]] = {}
    for plate in plates(answer.run.train, practice):
        alike.setdefault(_rounded(plate), []).append(plate.name)
    by_name = {plate.name: plate for plate in plates(answer.run.train, practice)}
    found = [Template(by_name[names[0]], tuple(names)) for names in alike.values()]
    if (snail := snail_plate(answer.run, practice)) is not None:
        found.append(Template(snail, (snail.name,)))
    return (*found, *(Template(p, (p.name,)) for p in patterns(answer.run.rig, practice)))


def _rounded(plate: Plate) -> Plate:
    """What two plates must share to be cut from one template."""
    holes = tuple(
        dataclasses.replace(
            h, name="", carries="", x=round(h.x, 4) + 0.0, y=round(h.y, 4) + 0.0, diameter=round(h.diameter, 4)
        )
        for h in plate.holes
    )
    return dataclasses.replace(plate, name="", member="", station=0.0, holes=holes, hub=round(plate.hub, 4))


def tiles(template: Template, paper: Paper) -> list[Tile]:
    """The sheets that a part takes, upright or sideways, whichever are fewer; row by row from above."""
    left, bottom, right, top = template.size
    wide, high = right - left + 2.0 * _AROUND, top - bottom + 2.0 * _AROUND
    best: list[Tile] = []
    for page in (PAPERS[paper], PAPERS[paper][::-1]):
        cell = cell_of(page, template)
        across, up = math.ceil(wide / (cell[2] - cell[0])), math.ceil(high / (cell[3] - cell[1]))
        if best and across * up >= len(best):
            continue
        holes = hole_rows(template)
        x0 = _start(0.5 * (left + right), wide, cell[2] - cell[0], across, [hole[1] for hole in holes])
        y0 = _start(0.5 * (bottom + top), high, cell[3] - cell[1], up, [hole[2] for hole in holes])
        best = [
            Tile(page, cell, x0 + i * (cell[2] - cell[0]), y0 + j * (cell[3] - cell[1]), i, j, across, up)
            for j in reversed(range(up))
            for i in range(across)
        ]
    return best


def _start(middle: float, size: float, cell: float, count: int, holes: Sequence[float]) -> float:
    """Where the first cell begins: about the middle, with the seams as far from every hole as the room allows."""
    first, slack = middle - 0.5 * count * cell, 0.5 * (count * cell - size)
    if count == 1:
        return first

    def clear(start: float) -> float:
        return min(abs(start + n * cell - hole) for n in range(1, count) for hole in holes)

    tries = [first + slack * step / 20.0 for step in sorted(range(-20, 21), key=abs)]
    return max(tries, key=lambda start: round(min(clear(start), 15.0), 6))


def cell_of(page: tuple[float, float], template: Template) -> tuple[float, float, float, float]:
    """Left, bottom, right and top of the register marks on a page [mm]."""
    head = _TITLE + _ROW * min(len(hole_rows(template)), ROWS)
    return (
        MARGIN + INSET,
        MARGIN + _FOOT + INSET,
        page[0] - MARGIN - INSET,
        page[1] - MARGIN - head - INSET,
    )


def hole_rows(template: Template) -> list[tuple[str, float, float, float | None]]:
    """Name, place and diameter [mm] of every hole of a part, the pivot's first."""
    part = template.part
    if isinstance(part, Pattern):
        return [(mark.name, mark.x, mark.y, mark.diameter) for mark in part.marks]
    return [("pivot", 0.0, 0.0, part.hub), *((hole.name, hole.x, hole.y, hole.diameter) for hole in part.holes)]


def drill_list(
    answer: Answer, listed: Sequence[Template], practice: Practice, *, paper: Paper = "a4", date: str = ""
) -> Sheet:
    """The list that goes with the templates: parts, and where to centre-drill each hole [mm or in]."""
    rig = answer.run.rig
    told = Figures(rig.units, fractions=practice.fractions)
    sections = (
        Section("parts", (_parts(listed, paper, told),)),
        *(
            Section(f"centre-drill: {template.title}", (_drilled(template, told), *_seen(template, told)))
            for template in listed
        ),
        Section("rules of thumb used here", (Rules(tuple(rules(practice, rig, links=False))),)),
        Section("printing", tuple(_printing())),
    )
    return Sheet(
        "Templates and centre-drill list", rig.title, facts_of(rig, date), sections, stamp_of(answer), date=date
    )


def _parts(listed: Iterable[Template], paper: Paper, told: Figures) -> Table:
    rows = []
    for template in listed:
        left, bottom, right, top = template.size
        part = template.part
        rows.append(
            [
                template.title,
                template.kind,
                f"{len(template.names)} off" if isinstance(part, Plate) else "",
                told.bare(part.thickness) if isinstance(part, Plate) else "",
                f"{told.bare(right - left, 1)} × {told.bare(top - bottom, 1)}",
                str(len(tiles(template, paper))),
            ]
        )
    heading = ("part", "what", "", f"thick [{told.units}]", f"size [{told.units}]", "sheets")
    return table(heading, rows, "<<>>>>")


def _drilled(template: Template, told: Figures) -> Table:
    rows = []
    for name, x, y, diameter in hole_rows(template):
        work = "mark only" if diameter is None else "drill"
        if diameter is not None and (name == "pivot" or isinstance(template.part, Pattern)):
            work = "bore or ream to its shaft or bearing" if "anchor" not in name else "drill"
        size = "" if diameter is None else told.cell(diameter)
        radius, angle = math.hypot(x, y), math.degrees(math.atan2(y, x))
        polar = ["", ""] if radius < 1e-9 else [told.bare(radius), fixed(angle)]
        rows.append([name, told.cell(x), told.cell(y), *polar, size, work])
    u = told.units
    heading = ("hole", f"right [{u}]", f"up [{u}]", f"radius [{u}]", "angle [deg]", f"diameter [{u}]", "")
    return table(heading, rows, "<>>>>><")


def _seen(template: Template, told: Figures) -> list[Words]:
    part = template.part
    if isinstance(part, Pattern):
        return [Words(f"from the datum; {part.seen.says}.")]
    says = f"from the pivot, as it stands at idle, its axis towards you: {part.seen.says}; opens {part.opens}"
    says += f"; station {told.bare(part.station)} {told.units}" if len(template.names) == 1 and part.station else ""
    found = [Words(says + ".")]
    if isinstance(part, SnailPlate):
        says = f"the cable's centre line lies {told.with_unit(0.5 * part.cable)} above the bottom of the groove"
        found.append(Words(f"{says}; turn the groove as deep as the rim stands beyond its bottom."))
    wall = part.thinnest
    if wall is not None and wall[0] < 0.5 * part.edge:
        found.append(Words(f"only {told.with_unit(wall[0])} of metal between {wall[1]} and {wall[2]}.", "caution"))
    return found


def _printing() -> list[Words]:
    return [
        Words(
            'Print at 100 % ("actual size"), then measure the check bars and the distance of the register marks both '
            "ways on every sheet; paper grows and shrinks with damp. Lay the marks of neighbouring tiles on each other."
        ),
        Words(
            "Lines are the edge itself: cut outside, finish to the line. Mark both sides: a plate can be turned over."
        ),
    ]


def _letters(column: int) -> str:
    """A, B, ... Z, AA: the name of a column."""
    name = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(65 + rest) + name
    return name
