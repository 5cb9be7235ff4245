"""The frame of every page: one file that loads nothing, runs only its own script, and escapes every text."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from string import Template

from linkage.answers import Word
from linkage.paper.approval import Approval
from linkage.paper.approval_tables import Table
from linkage.paper.asked import Asked
from linkage.paper.lines import SIGN
from linkage.paper.markup import Html, joined, part, printable, tag


def framed(title: str, body: Html, script: str = "") -> str:
    """A whole HTML document; ``body`` holds the script where there is one.

    Parameters
    ----------
    title : str
    body : Html
    script : str
        The one script that may run.
    """
    style = part("look.css")
    policy = "; ".join(
        (
            "default-src 'none'",
            "img-src data:",
            f"style-src {_hash(style)}",
            f"script-src {_hash(script)}" if script else "script-src 'none'",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )
    frame = Template(part("frame.html"))
    return frame.substitute(title=joined([printable(title)]), policy=policy, style=style, body=body)


def _hash(text: str) -> str:
    digest = base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
    return f"'sha256-{digest}'"


def top(says: Approval, kind: str) -> Html:
    """Title, verdict as one word, title block."""
    badge = tag(
        "p",
        tag("span", SIGN[says.verdict], aria_hidden="true"),
        f" {says.verdict.upper()}",
        class_=f"badge {says.verdict}",
    )
    title = tag("div", tag("p", kind, class_="kind"), tag("h1", printable(says.title), dir="auto"))
    cells = (tag("div", tag("dt", name), tag("dd", printable(value) or "–", dir="auto")) for name, value in says.block)
    return tag("header", tag("div", title, badge, class_="top"), tag("dl", *cells, class_="block"))


def verdict(says: Approval) -> Html:
    """The verdict and what the linkage does, in plain words."""
    headline = tag("p", _sign(says.verdict), says.headline, class_="verdict")
    return joined([headline, tag("p", printable(" ".join(says.words)))])


def points(says: Approval) -> Html:
    """What fails and what asks for care."""
    items = [tag("li", _sign(word), printable(text)) for word, text in says.points]
    return section("What fails, and what asks for care", tag("ul", *items, class_="points")) if items else Html("")


def _sign(word: Word) -> Html:
    return joined([tag("span", SIGN[word], class_=f"sign {word}", aria_hidden="true"), _heard(word)])


def _heard(word: Word) -> Html:
    return tag("span", {"pass": "Passes: ", "caution": "Asks for care: ", "fail": "Fails: "}[word], class_="heard")


def section(title: str, *inside: object, **attributes: object) -> Html:
    """A headed section."""
    return tag("section", tag("h2", title), *inside, **attributes)


def table(data: Table, *, titled: bool = True) -> Html:
    """A table, which scrolls by itself where the screen is too narrow for it."""
    sides = ["l" if side == "<" else "n" for side in data.columns]
    head = tag("tr", *(tag("th", text, scope="col", class_=side) for text, side in zip(data.head, sides, strict=True)))
    rows = (
        tag(
            "tr",
            *(
                tag("th" if i == 0 else "td", printable(cell), class_=side, scope="row" if i == 0 else None)
                for i, (cell, side) in enumerate(zip(row, sides, strict=True))
            ),
        )
        for row in data.rows
    )
    body = scrolling(tag("table", tag("thead", head), tag("tbody", *rows)), data.title)
    note = tag("p", printable(data.note), class_="note") if data.note else Html("")
    return joined([tag("h2", data.title) if titled else "", body, note])


def scrolling(inside: Html, name: str, *, long: bool = False) -> Html:
    """What may be wider than the screen: it can be scrolled with keys too. A ``long`` one may break on paper."""
    return tag("div", inside, class_="wide long" if long else "wide", tabindex=0, role="region", aria_label=name)


def asked(lines: Sequence[Asked]) -> Html:
    """Asked against reached, every check with its sign and its place."""
    rows = []
    for line in lines:
        sign = tag("td", _sign(line.verdict), class_="l s")
        what = tag("th", line.what, class_="l what", scope="row")
        rows.append(
            tag("tr", sign, what, tag("td", line.asked, class_="n"), tag("td", printable(line.reached), class_="n"),
                tag("td", printable(line.where), class_="l where"))
        )  # fmt: skip
        if line.note:
            rows.append(tag("tr", tag("td", ""), tag("td", printable(line.note), colspan=4, class_="l note")))
    head = tag(
        "tr", tag("th", tag("span", "Verdict", class_="heard"), scope="col", class_="l s"),
        tag("th", "what", scope="col", class_="l what"), tag("th", "asked", scope="col"),
        tag("th", "reached", scope="col"), tag("th", "where", scope="col", class_="l where"),
    )  # fmt: skip
    return scrolling(tag("table", tag("thead", head), tag("tbody", *rows)), "Asked against reached", long=True)


def ending(says: Approval) -> Html:
    """What is taken for granted, and the caution."""
    items = (tag("li", printable(text)) for text in says.assumptions)
    return joined(
        [
            section("Taken for granted", tag("ul", *items, class_="taken")),
            tag("p", says.caution, class_="say"),
        ]
    )


def footer(says: Approval) -> Html:
    """Which design file it was made from, to the last digit."""
    return tag("footer", "SHA-256 of the design file: ", tag("code", says.fingerprint))
