"""The approval sheet printed: one or two pages A4 or letter, the same bytes for the same design and date."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from io import BytesIO

from linkage.answers import Answer
from linkage.paper.approval import SIGNATURES, UNSIGNED, Approval, approval
from linkage.paper.approval_tables import Table
from linkage.paper.chart import mismatch_chart, plate_angle_chart
from linkage.paper.ink import draw, readable, sheet, trimmed, width_of, wrapped
from linkage.paper.lines import SIGN
from linkage.paper.poses import poses_set
from linkage.paper.shapes import Curve, Picture, Shape, Words, moved, scaled
from linkage.paper.sheet_pages import PAPERS, POINT, Paper
from linkage.paper.typeset import (
    CELL,
    COLOUR,
    COLOURS,
    SMALL,
    TEXT,
    Rows,
    beside,
    blank,
    bullets,
    fitted,
    heading,
    marked,
    paragraph,
    set_table,
    stacked,
)
from linkage.plots.style import FAINT, INK, SOFT
from linkage.train import compared

EDGE = 38.0  # margin at the sides [pt]
_TOP, _FOOT = 30.0, 38.0  # margins above and below [pt]
_GAP = 9.0  # between the parts of a page [pt]
_CHARTS = (128.0, 215.0)  # least and greatest height of the curves [pt]
_MIDDLE = 18.0  # between two columns [pt]
_SMALLER = (1.0, 0.95, 0.9, 1.0)  # sizes of letter that are tried for the pages after the first
_POINTS = 11  # most lines of what fails on the first page


def approval_pdf(answer: Answer, *, date: datetime.date, paper: Paper = "a4", fractions: bool = False) -> bytes:
    """Print the approval sheet.

    Parameters
    ----------
    answer : Answer
    date : datetime.date
        Written on the sheet; the file carries no other date.
    paper : {"a4", "letter"}
    fractions : bool
        In a design in inches, show the nearest 1/64 [in] beside the decimals.

    Returns
    -------
    bytes
        A PDF, the same for the same design, date and paper. Lengths in the design's own unit
        [mm or in], angles in [deg].

    Raises
    ------
    ValueError
        Fractions are asked for in a design in mm.

    Examples
    --------
    >>> from datetime import date
    >>> import linkage
    >>> answer = linkage.answers.check(linkage.read("demo/flat_six.toml"))  # doctest: +SKIP
    >>> made = approval_pdf(answer, date=date(2025, 1, 31))  # doctest: +SKIP
    """
    says = approval(answer, date=date, fractions=fractions)
    size = PAPERS[paper][0] / POINT, PAPERS[paper][1] / POINT
    return _printed(pages(says, size), size, says, date)


def _printed(
    sheets: Sequence[tuple[Shape, ...]], size: tuple[float, float], says: Approval, date: datetime.date
) -> bytes:
    from matplotlib.backends.backend_pdf import PdfPages

    from linkage.plots import style

    buffer = BytesIO()
    stamp = datetime.datetime(date.year, date.month, date.day, tzinfo=datetime.UTC)
    about = {
        "Title": f"Approval sheet: {readable(says.title)}",
        "CreationDate": stamp,
        "Creator": None,
        "Producer": None,
    }
    with style.look({"pdf.fonttype": 42}), PdfPages(buffer, metadata=about) as made:
        for shapes in sheets:
            ax = sheet(*size)
            draw(ax, shapes)
            made.savefig(ax.get_figure())
    return buffer.getvalue()


def pages(says: Approval, size: tuple[float, float]) -> list[tuple[Shape, ...]]:
    """The shapes of every page ``size`` [pt]: pictures and verdict on the first, tables and signatures after it.

    What follows the first page is set a little smaller where it would else need a third.
    """
    wide, room = size[0] - 2.0 * EDGE, size[1] - _TOP - _FOOT
    for share in _SMALLER:
        after = [scaled(page, share) for page in _bodies(says, wide / share, room / share)]
        if len(after) == 1:
            break
    found = [_first(says, wide, room), *after]
    return [
        (*moved(page, EDGE, size[1] - _TOP - page.high), *_foot(says, size, number, len(found)))
        for number, page in enumerate(found, 1)
    ]


def _bodies(says: Approval, wide: float, room: float) -> list[Picture]:
    bodies: list[list[Picture]] = [[]]
    left = room
    for part in _after(says, wide, room):
        if part.high > left and bodies[-1]:
            bodies.append([])
            left = room
        bodies[-1].append(part)
        left -= part.high + _GAP
    return [stacked(body, _GAP) for body in bodies]


def _foot(says: Approval, size: tuple[float, float], number: int, count: int) -> Iterator[Shape]:
    y = _FOOT - 14.0
    yield Curve(((EDGE, y + 11.0), (size[0] - EDGE, y + 11.0)), FAINT, 0.6)
    block = dict(says.block)
    told = " · ".join(part for part in (says.title, block["Drawing"], block["Date"]) if part)
    page = f"page {number} of {count}"
    mark = f"fingerprint {block['Fingerprint']}   {page}"
    room = size[0] - 2.0 * EDGE - width_of(mark, SMALL) - 16.0
    yield Words((EDGE, y), trimmed(told, SMALL, room), SMALL, SOFT)
    yield Words((size[0] - EDGE, y), mark, SMALL, SOFT, align="end")


def _first(says: Approval, wide: float, high: float) -> Picture:
    top = [_title(says, wide), _block(says, wide), _verdict(says, wide)]
    left = high - sum(part.high for part in top) - 4.5 * _GAP
    poses = poses_set(says, wide, left - _CHARTS[0])
    charts = _charts(says, wide, min(left - poses.high, _CHARTS[1]))
    return stacked([*top, poses, charts], _GAP)


def _title(says: Approval, wide: float) -> Picture:
    badge = f"{SIGN[says.verdict]}  {says.verdict.upper()}"
    room = width_of(badge, 12.0, bold=True) + 22.0
    kind = paragraph("THROTTLE LINKAGE  ·  APPROVAL SHEET", wide - room, SMALL, colour=SOFT, bold=True)
    left = stacked([kind, _name(says.title, wide - room - 10.0)], 1.0)
    box = ((2.0, 2.0), (room - 2.0, 2.0), (room - 2.0, 26.0), (2.0, 26.0), (2.0, 2.0))
    words = Words((0.5 * room, 10.0), badge, 12.0, COLOUR[says.verdict], True, "middle")
    right = Picture(room, 28.0, (Curve(box, COLOUR[says.verdict], 1.6), words))
    return beside([Picture(wide - room, left.high, left.shapes), right], middle=False)


def _name(title: str, wide: float) -> Picture:
    """A title in two large lines, or in smaller ones where it is long."""
    for size in (17.0, 13.5):
        if len(wrapped(title, size, wide, bold=True)) <= 2:
            return paragraph(title, wide, size, bold=True)
    return paragraph(title, wide, 11.0, bold=True, most=4)


def _block(says: Approval, wide: float) -> Picture:
    """The title block: a ruled grid of four columns."""
    shares = (0.26, 0.25, 0.24, 0.25)
    columns = [share * wide for share in shares]
    rows = []
    for start in range(0, len(says.block), len(columns)):
        cells = []
        for (name, value), across in zip(says.block[start : start + 4], columns, strict=False):
            label = paragraph(name, across - 14.0, SMALL, colour=SOFT)
            body = fitted(value or "–", across - 14.0, 8.4, 7.0)
            inside = stacked([label, body])
            cells.append(Picture(across, inside.high + 6.0, moved(inside, 7.0, 4.0)))
        rows.append(beside(cells))
    grid = stacked(rows)
    lines: list[Shape] = []
    y = grid.high
    for row in [None, *rows]:
        y -= row.high if row is not None else 0.0
        edge = row is None or row is rows[-1]
        lines.append(Curve(((0.0, y), (wide, y)), INK if edge else FAINT, 0.9 if edge else 0.6))
    x = 0.0
    for across in columns[:-1]:
        x += across
        lines.append(Curve(((x, 0.0), (x, grid.high)), FAINT, 0.6))
    return Picture(wide, grid.high, (*grid.shapes, *lines))


def _verdict(says: Approval, wide: float) -> Picture:
    """The verdict in plain words, then what fails and what asks for care."""
    parts = [marked(says.verdict, says.headline, wide, 9.6)]
    parts += [Picture(wide, part.high, moved(part, 1.5 * 9.6, 0.0)) for part in
              [paragraph(" ".join(says.words), wide - 1.5 * 9.6, TEXT)]]  # fmt: skip
    lines = 0
    for told, (word, text) in enumerate(says.points):
        part = marked(word, text, wide, TEXT)
        lines += round(part.high / (1.3 * TEXT))
        if lines > _POINTS and told:
            more = len(says.points) - told
            parts.append(paragraph(f"And {more} more, under “Asked against reached”.", wide, TEXT, colour=SOFT))
            break
        parts.append(part)
    return stacked(parts, 2.0)


def _charts(says: Approval, wide: float, high: float) -> Picture:
    run = says.answer.run
    if len(compared(run.rig)) < 2:
        return plate_angle_chart(run, (wide, high))
    left = 0.55 * (wide - _MIDDLE)
    return beside([plate_angle_chart(run, (left, high)), mismatch_chart(run, (wide - _MIDDLE - left, high))], _MIDDLE)


def _after(says: Approval, wide: float, room: float) -> Iterator[Picture]:
    """What stands below the pictures, in parts that are not broken."""
    yield from _unbroken(set_table(says.travel, wide), room)
    half = 0.5 * (wide - _MIDDLE)
    left, right = (stacked([set_table(t, half).whole for t in says.tables[i::2]], _GAP) for i in (0, 1))
    if max(left.high, right.high) < room:
        yield beside([left, right], _MIDDLE)
    else:
        for table in says.tables:
            yield from _unbroken(set_table(table, wide), room)
    yield from _asked(says, wide, room)
    middle = (len(says.assumptions) + 1) // 2
    sides = [bullets(part, half, CELL - 0.3) for part in (says.assumptions[:middle], says.assumptions[middle:])]
    yield stacked([heading("Taken for granted", wide), blank(wide, 2.0), beside(sides, _MIDDLE)])
    unsigned = [marked("fail", UNSIGNED, wide, TEXT)] if says.verdict == "fail" else []
    yield stacked([_caution(says, wide), *unsigned, _signatures(wide)], 4.0)


def _unbroken(rows: Rows, room: float) -> Iterator[Picture]:
    """A table in one piece where a page can hold it, else in pieces."""
    if rows.whole.high <= room:
        yield rows.whole
        return
    piece = [rows.head]
    for row in (*rows.rows, *rows.foot):
        if sum(part.high for part in piece) + row.high > room:
            yield stacked(piece)
            piece = [rows.head]
        piece.append(row)
    yield stacked(piece)


def _asked(says: Approval, wide: float, room: float) -> Iterator[Picture]:
    """Asked against reached in two columns, each line with its sign, and the notes below."""
    half = 0.5 * (wide - _MIDDLE)
    notes = [line for line in says.asked if line.note]
    raised = [_raised(notes.index(line) + 1) if line in notes else "" for line in says.asked]
    reached = [trimmed(line.reached, CELL, 0.25 * half) + note for line, note in zip(says.asked, raised, strict=True)]
    table = Table(
        "",
        ("", "", "asked", "reached"),
        tuple(
            (SIGN[line.verdict], line.what, line.asked, told) for line, told in zip(says.asked, reached, strict=True)
        ),
        "<<>>",
    )
    rows = set_table(table, half, size=CELL - 0.2, fixed={0: 9.0}, gap=6.0, colours={0: COLOURS, 2: SOFT})
    head = heading("Asked against reached", wide)
    told = [paragraph(f"{_raised(i)} {line.note}", wide, SMALL, colour=SOFT) for i, line in enumerate(notes, 1)]
    most = max(1, int((room - head.high - rows.head.high - 40.0) / max(row.high for row in rows.rows)))
    for start in range(0, len(rows.rows), 2 * most):
        part = rows.rows[start : start + 2 * most]
        middle = (len(part) + 1) // 2
        columns = [stacked([rows.head, *side]) for side in (part[:middle], part[middle:]) if side]
        last = start + 2 * most >= len(rows.rows)
        yield stacked([head, beside(columns, _MIDDLE), *([blank(wide, 3.0), *told] if told and last else [])])


def _raised(number: int) -> str:
    return "".join("⁰¹²³⁴⁵⁶⁷⁸⁹"[int(digit)] for digit in str(number))


def _caution(says: Approval, wide: float) -> Picture:
    body = paragraph(says.caution, wide - 20.0, TEXT, bold=True)
    high = body.high + 10.0
    box = ((0.5, 0.5), (wide - 0.5, 0.5), (wide - 0.5, high - 0.5), (0.5, high - 0.5), (0.5, 0.5))
    return Picture(wide, high, (Curve(box, INK, 0.9), *moved(body, 10.0, 5.0)))


def _signatures(wide: float) -> Picture:
    """A line for each who signs: name, signature, date."""
    rows: list[Picture] = []
    for title in SIGNATURES:
        shapes: list[Shape] = []
        left = 0.0
        for label, share in (("Name", 0.36), ("Signature", 0.4), ("Date", 0.24)):
            start, end = left + width_of(label, SMALL) + 5.0, left + share * wide - 12.0
            end = wide if label == "Date" else end
            shapes += [Words((left, 2.0), label, SMALL, SOFT), Curve(((start, 1.0), (end, 1.0)), INK, 0.6)]
            left += share * wide
        rows += [paragraph(title, wide, TEXT, bold=True), Picture(wide, 23.0, tuple(shapes)), blank(wide, 5.0)]
    return stacked(rows[:-1])
