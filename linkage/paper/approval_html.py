"""The approval sheet as a page: one file, no script, the same figures as on paper."""

from __future__ import annotations

import datetime

from linkage.answers import Answer
from linkage.paper.approval import SIGNATURES, UNSIGNED, Approval, approval
from linkage.paper.chart import mismatch_chart, plate_angle_chart
from linkage.paper.framed import asked, ending, footer, framed, points, section, table, top, verdict
from linkage.paper.markup import Html, joined, tag
from linkage.paper.stills import seen, stills
from linkage.paper.svg import svg
from linkage.train import compared

CHART = (295.0, 165.0)  # of a page's curves, in their own units


def approval_html(answer: Answer, *, date: datetime.date, fractions: bool = False) -> str:
    """Write the approval sheet as a single HTML file.

    Parameters
    ----------
    answer : Answer
    date : datetime.date
        Written on the sheet.
    fractions : bool
        In a design in inches, show the nearest 1/64 [in] beside the decimals.

    Returns
    -------
    str
        A document that loads nothing and runs nothing, the same for the same design and date.
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
    >>> text = approval_html(linkage.answers.check(parse(starter())), date=date(2025, 1, 31))
    >>> text.startswith("<!doctype html>")
    True
    """
    says = approval(answer, date=date, fractions=fractions)
    parts = [
        top(says, "Throttle linkage · approval sheet"),
        verdict(says),
        points(says),
        section("Idle, half travel, wide open", stills(says), seen(says)),
        section("Over the travel", charts(says)),
        tables(says),
        section("Asked against reached", asked(says.asked)),
        ending(says),
        _signatures(says),
        footer(says),
    ]
    return framed(f"Approval sheet: {says.title}", joined(parts, "\n"))


def charts(says: Approval) -> Html:
    """The curves, standing still."""
    run = says.answer.run
    shown = [svg(plate_angle_chart(run, CHART), says=plates_in_words(says))]
    if len(compared(run.rig)) > 1:
        shown.append(svg(mismatch_chart(run, CHART), says=apart_in_words(says)))
    return tag("div", *shown, class_="pair")


def plates_in_words(says: Approval) -> str:
    """The first curve in words."""
    low, high = says.poses[0], says.poses[-1]
    told = [
        f"{one.name} from {one.value} to {other.value}"
        for one, other in zip(low.readings, high.readings, strict=True)
        if one.name.startswith("Plate") and one.name != "Plates apart"
    ]
    return f"Curve of the plate angles over the travel: {', '.join(told)}"


def apart_in_words(says: Approval) -> str:
    """The second curve in words."""
    most = says.answer.mismatch.largest
    return f"Curve of how far the plates stand apart over the travel: {says.numerals.angle(most.value, 3)} at the most"


def tables(says: Approval) -> Html:
    """The tables, the travel first."""
    small = (tag("div", table(one)) for one in says.tables)
    return joined([table(says.travel), tag("div", *small, class_="pair")])


def _signatures(says: Approval) -> Html:
    unsigned = tag("p", UNSIGNED, class_="fail") if says.verdict == "fail" else Html("")
    lines = (
        tag(
            "div",
            tag("h3", title),
            *(tag("span", label) for label in ("Name", "Signature", "Date")),
            class_="sign-here",
        )
        for title in SIGNATURES
    )
    return joined([unsigned, *lines])
