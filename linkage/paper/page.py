"""The customer's page: a pedal to move and a linkage that follows, in one file that needs no network.

The page's script does no mechanics: every joint's place and every figure it shows were worked out
here, at a hundred and one positions of the pedal; between two of them it only draws straight on.
"""

from __future__ import annotations

import datetime
import json
from collections.abc import Mapping

import numpy as np

from linkage.answers import Answer
from linkage.paper.approval import Approval, approval
from linkage.paper.approval_html import CHART, apart_in_words, plates_in_words, tables
from linkage.paper.chart import mismatch_chart, plate_angle_chart
from linkage.paper.framed import asked, ending, footer, framed, points, section, top, verdict
from linkage.paper.markup import Html, joined, part, printable, tag
from linkage.paper.readings import Readings, pulls_open, readings
from linkage.paper.shapes import Picture
from linkage.paper.stage import staged, views_of, with_kinks
from linkage.paper.stills import NAMES, seen, size_of, stills
from linkage.paper.svg import svg
from linkage.train import compared

#: positions of the pedal that the page knows, both ends included
POSITIONS = 101


def page(answer: Answer, *, date: datetime.date, fractions: bool = False) -> str:
    """Write the customer's page as a single HTML file.

    Parameters
    ----------
    answer : Answer
    date : datetime.date
        Written on the page.
    fractions : bool
        In a design in inches, show the nearest 1/64 [in] beside the decimals.

    Returns
    -------
    str
        A document that loads nothing, the same for the same design and date. Lengths in the design's
        own unit [mm or in], angles in [deg].

    Raises
    ------
    ValueError
        Fractions are asked for in a design in mm.

    Examples
    --------
    >>> from datetime import date
    >>> import linkage
    >>> from linkage.design_file import parse, starter
    >>> text = page(linkage.answers.check(parse(starter())), date=date(2025, 1, 31))
    >>> "default-src 'none'" in text
    True
    """
    says = approval(answer, date=date, fractions=fractions)
    shares = with_kinks(answer.run, np.linspace(0.0, 1.0, POSITIONS))
    views, curves = _pictures(says, shares)
    pictures = [*views.values(), *curves.values()]
    tracks: dict[Steps, int] = {}
    live = [{name: tracks.setdefault(_steps(p, name), len(tracks)) for name in p.tracks} for p in pictures]
    drawn = [svg(p, says=says_, live=n) for p, says_, n in zip(pictures, [*views, *curves], live, strict=True)]
    read = readings(answer.run.at_fraction(shares), says.numerals)
    script = part("page.js")
    parts = [
        top(says, "Throttle linkage"),
        verdict(says),
        section("Idle, half travel, wide open", stills(says), class_="stills"),
        tag(
            "div",
            section("Move the pedal", tag("div", *drawn[: len(views)], class_="views"), id="live"),
            seen(says),
            _drive(says),
            _read(read),
            section("Over the travel", tag("div", *drawn[len(views) :], class_="pair"), class_="curves"),
        ),
        points(says),
        tables(says),
        section("Asked against reached", asked(says.asked)),
        ending(says),
        footer(says),
        tag("script", Html(_data(list(tracks), read)), type="application/json", id="motion"),
        tag("script", Html(script)),
    ]
    return framed(says.title, joined(parts, "\n"), script)


def _pictures(says: Approval, shares: np.ndarray[tuple[int], np.dtype[np.float64]]) -> tuple[
    Mapping[str, Picture], Mapping[str, Picture]
]:  # fmt: skip
    """Moving views of the linkage and moving curves, each by its words."""
    run = says.answer.run
    letters = 10.0 if len(views_of(run)) == 1 else 13.0
    views = {
        f"The linkage, {NAMES[view]}; it moves with the pedal": staged(
            run, view, size_of(run, view), shares=shares, letters=letters
        )
        for view in views_of(run)
    }
    curves = {printable(plates_in_words(says)): plate_angle_chart(run, CHART, shares)}
    if len(compared(run.rig)) > 1:
        curves[apart_in_words(says)] = mismatch_chart(run, CHART, shares)
    return views, curves


def _drive(says: Approval) -> Html:
    """The pedal that moves the linkage."""
    name = "Pedal" if pulls_open(says.answer.run) else "Travel"
    slider = tag("input", id="pedal", type="range", min=0, max=POSITIONS - 1, step=1, value=0, autocomplete="off")
    ends = tag("div", tag("span", "idle"), tag("span", "wide open"), class_="ends", aria_hidden="true")
    return tag(
        "div",
        tag("button", "Play", id="play", type="button"),
        _FOOT,
        tag("label", name, for_="pedal"),
        tag("div", slider, ends, class_="way"),
        tag("span", "0 %", id="share", aria_hidden="true"),
        tag("p", "", id="told", role="status", class_="heard"),
        class_="drive",
    )


def _read(read: tuple[Readings, ...]) -> Html:
    """What is read off, at idle until the script runs."""
    cells = (
        tag("div", tag("dt", printable(one.name)), tag("dd", one.values[0], id=f"read-{i}"))
        for i, one in enumerate(read)
    )
    return tag("dl", *cells, class_="readings", id="read")


#: a pedal, a sketch that belongs to no car
_FOOT = Html(
    '<svg class="foot" viewBox="0 0 54 44" aria-hidden="true"><path d="M2 41H52" stroke="#5c6670" stroke-width="1.6"/>'
    '<g id="foot"><path d="M9 39L27 8" stroke="#1b1f24" stroke-width="3.4" stroke-linecap="round"/>'
    '<path d="M22 4L33 11" stroke="#1b1f24" stroke-width="6" stroke-linecap="round"/></g>'
    '<circle cx="9" cy="39" r="3.2" fill="#fff" stroke="#1b1f24" stroke-width="1.6"/></svg>'
)


Steps = tuple[tuple[int, ...], tuple[int, ...]]


def _steps(picture: Picture, name: str) -> Steps:
    """A track in tenths of a point, across and down from the upper left corner: its first place, then each step."""
    places = picture.tracks[name]
    axes = (places[:, 0], picture.high - places[:, 1])
    across, down = (tuple(np.diff(np.rint(10.0 * axis).astype(int), prepend=0).tolist()) for axis in axes)
    return across, down


def _data(tracks: list[Steps], read: tuple[Readings, ...]) -> str:
    """What the script needs: the tracks, and the figures as written."""
    shown = [{"name": printable(one.name), "values": one.values} for one in read]
    data = {"positions": POSITIONS, "tracks": tracks, "readings": shown}
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")
