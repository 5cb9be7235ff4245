"""The approval sheet: what a customer agrees to before anything is made, in words and numerals.

Here is what it says; :mod:`linkage.paper.approval_pdf` prints it and
:mod:`linkage.paper.approval_html` makes a page of it.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from datetime import date as Date

from linkage.answers import CAUTION, Answer, Word
from linkage.answers.checks import percent
from linkage.design_file import to_text
from linkage.paper import approval_tables
from linkage.paper.approval_tables import Table
from linkage.paper.asked import Asked, asked_and_reached
from linkage.paper.assumptions import assumptions, not_calculated
from linkage.paper.numerals import Numerals
from linkage.paper.readings import Reading, pulls_open, readings
from linkage.parts import Linkage
from linkage.train import compared

#: shares of the travel at which the linkage is shown, and their names
SHOWN = ((0.0, "Idle"), (0.5, "Half travel"), (1.0, "Wide open"))

#: who signs
SIGNATURES = ("Approved for making: the customer", "Designed and checked: the builder")

#: said above the signatures where a check fails
UNSIGNED = "Not to be signed as it stands: mend what fails, then issue this sheet anew."

_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)


@dataclass(frozen=True)
class Pose:
    """The linkage at a ``share`` of its travel: the position's ``name`` and what is read off there."""

    share: float
    name: str
    readings: tuple[Reading, ...]


@dataclass(frozen=True)
class Approval:
    """Everything that the sheet says. ``block`` is the title block, ``words`` what the linkage does in
    plain words, ``points`` the sentences behind the verdict."""

    answer: Answer
    numerals: Numerals
    title: str
    block: tuple[tuple[str, str], ...]
    verdict: Word
    headline: str
    words: tuple[str, ...]
    points: tuple[tuple[Word, str], ...]
    poses: tuple[Pose, ...]
    travel: Table
    tables: tuple[Table, ...]
    asked: tuple[Asked, ...]
    assumptions: tuple[str, ...]
    caution: str
    fingerprint: str


def approval(answer: Answer, *, date: Date, fractions: bool = False) -> Approval:
    """Put together the approval sheet of an answer.

    Parameters
    ----------
    answer : Answer
    date : datetime.date
        Written on the sheet.
    fractions : bool
        In a design in inches, show the nearest 1/64 [in] beside the decimals.

    Returns
    -------
    Approval
        Lengths in the design's own unit [mm or in], angles in [deg].

    Raises
    ------
    ValueError
        Fractions are asked for in a design in mm.

    Examples
    --------
    >>> from datetime import date
    >>> import linkage
    >>> from linkage.design_file import parse, starter
    >>> approval(linkage.answers.check(parse(starter())), date=date(2025, 1, 31)).block[3]
    ('Date', '31 January 2025')
    """
    run, rig = answer.run, answer.run.rig
    if fractions and rig.units != "in":
        raise ValueError(f"fractions: sixty-fourths go with a design in inches; this one is in {rig.units}")
    numerals = Numerals(rig.units, fractions)
    at = run.at_fraction([share for share, _ in SHOWN])
    read = readings(at, numerals)
    poses = [Pose(share, name, tuple(r.at(i) for r in read)) for i, (share, name) in enumerate(SHOWN)]
    fingerprint = hashlib.sha256(to_text(rig).encode("utf-8")).hexdigest()
    return Approval(
        answer=answer,
        numerals=numerals,
        title=rig.title,
        block=_block(rig, date, fingerprint),
        verdict=answer.verdict,
        headline=headline(answer),
        words=plain_words(answer, numerals),
        points=points(answer),
        poses=tuple(poses),
        travel=approval_tables.travel(answer, numerals),
        tables=approval_tables.tables(answer, numerals),
        asked=asked_and_reached(answer, numerals),
        assumptions=(*assumptions(answer, numerals), *not_calculated(answer)),
        caution=CAUTION,
        fingerprint=fingerprint,
    )


def headline(answer: Answer) -> str:
    """The verdict in one plain sentence."""
    fails, cares = (sum(check.verdict == word for check in answer.checks) for word in ("fail", "caution"))
    total = len(answer.checks)
    care = f"{_count(cares)} {'asks' if cares == 1 else 'ask'} for care"
    if fails:
        also = f", and {care}" if cares else ""
        return (
            f"This linkage does not do what was asked of it: {_count(fails)} of {total} checks "
            f"{'fails' if fails == 1 else 'fail'}{also}. It must not be made as drawn."
        )
    if cares:
        return f"This linkage does what was asked of it: of {total} checks none fails; {care}."
    return f"This linkage does what was asked of it: all {total} checks pass."


def plain_words(answer: Answer, numerals: Numerals) -> tuple[str, ...]:
    """What the linkage does, in a few plain sentences; lengths in the design's own unit [mm or in]."""
    rig, found = answer.run.rig, []
    if answer.cable is not None and answer.cable.opens and pulls_open(answer.run):
        cable = numerals.length_and_unit(answer.cable.needed)
        found.append(f"Wide open takes {cable} of cable.")
        if answer.pedal is not None and answer.pedal.opens:
            pad = numerals.length_and_unit(answer.pedal.needed)
            found = [f"Wide open takes {pad} of pedal and {cable} of cable."]
    first, half, last = (row.plate_angle for row in answer.progression.table if row.fraction in (0.0, 0.5, 1.0))
    if last - first > 1e-9:
        share = 100.0 * (half - first) / (last - first)
        found.append(
            f"Half way the throttles stand at {numerals.angle(half)}, {share:.0f} % of their way from "
            f"{numerals.angle(first)} to {numerals.angle(last)}."
        )
    for at in answer.staging.pick_ups if answer.staging is not None else ():
        if at.taken_up and at.shafts:
            names, first_named = " and ".join(at.shafts), next(iter(rig.shaft))
            found.append(
                f"Throttle{'' if len(at.shafts) == 1 else 's'} {names} come{'s' if len(at.shafts) == 1 else ''} in at "
                f"{percent(at.fraction)}, with {first_named} at {numerals.angle(at.plate_angle)}."
            )
    if len(compared(rig)) > 1:
        most, idle = answer.mismatch.largest, numerals.angle(answer.mismatch.at_idle, 3)
        apart = (
            f"stand {numerals.angle(most.value, 3)} apart at the most (at {percent(most.fraction)}), {idle} at idle."
        )
        found.append(f"The plates {apart if most.value >= 5e-4 else 'keep together to a thousandth of a degree.'}")
    return tuple(found)


def points(answer: Answer) -> tuple[tuple[Word, str], ...]:
    """What fails and what asks for care, in a sentence each, the gravest first."""
    words: tuple[Word, ...] = ("fail", "caution")
    return tuple(
        (word, check.says[:1].upper() + check.says[1:])
        for word in words
        for check in answer.checks
        if check.verdict == word
    )


def _count(number: int) -> str:
    small = ("none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
    return small[number] if number < len(small) else str(number)


def _block(rig: Linkage, date: Date, fingerprint: str) -> tuple[tuple[str, str], ...]:
    drawing, revision = drawing_and_revision(rig.drawing)
    file = rig.source.path.replace("\\", "/").rpartition("/")[2] if rig.source else ""
    if rig.changes and file:
        file += ", changed"
    return (
        ("Customer", rig.customer),
        ("Drawing", drawing),
        ("Revision", revision),
        ("Date", told(date)),
        ("Units", "millimetres, degrees" if rig.units == "mm" else "inches, degrees"),
        ("Seen from", rig.seen_from or "the +z side"),
        ("Design file", file),
        ("Fingerprint", " ".join(fingerprint[i : i + 4] for i in range(0, 16, 4))),
    )


def drawing_and_revision(text: str) -> tuple[str, str]:
    """A drawing's number and its revision: ``"014 rev B"`` is 014, B."""
    match = re.fullmatch(r"(.*?)[\s,;-]*\brev(?:ision)?\b\.?\s*([\w.]+|-)(?!\w)(.*)", text.strip(), re.IGNORECASE)
    if match is None:
        return text, ""
    return match[1] + match[3], match[2]


def told(date: Date) -> str:
    """A date in words, the same in every country."""
    return f"{date.day} {_MONTHS[date.month - 1]} {date.year}"
