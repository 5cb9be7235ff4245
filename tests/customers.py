"""What the tests of the customer's papers share: designs to put on paper, and a design that means harm."""

from __future__ import annotations

import datetime
import functools
from pathlib import Path

from linkage.answers import Answer, check
from linkage.design_file import parse, read
from linkage.motion import Motion

DEMO = Path(__file__).parent.parent / "demo"

#: every way in which a linkage may lie: flat, failing, in inches, skew, on a quadrant, coupled
DESIGNS = ("flat_six", "hand_set_links", "v8_inches", "skew_bell_crank", "cross_tube", "three_side_draughts")

DATE = datetime.date(2025, 1, 31)

TITLE = '<script>alert(1)</script> & "Mühle" — Čapek’s Ω'
HARM = {
    'title = "Flat six hill special, induction linkage"': f"title = '{TITLE}'",
    'customer = "Miss O. Quill (invented)"': "customer = '<img src=x onerror=alert(2)>中文 & Söhne'",
    'seen_from = "the rear of the engine"': "seen_from = '</script><svg onload=alert(3)>'",
    'drawing = "014 rev B"': "drawing = '</style>-->${title}014 rev B'",
}


@functools.cache
def answered(name: str) -> Answer:
    """The answer of one of the demo designs."""
    return check(read(DEMO / f"{name}.toml"))


@functools.cache
def harmful() -> Answer:
    """The answer of a design whose every text would be markup."""
    text = (DEMO / "flat_six.toml").read_text(encoding="utf-8")
    for right, wrong in HARM.items():
        assert right in text
        text = text.replace(right, wrong)
    return check(parse(text, "<b>harm</b>.toml"))


def fine(run: Motion) -> Motion:
    """A motion at every percent of its travel."""
    return run.at_fraction([i / 100.0 for i in range(101)])
