"""The linkage standing still at idle, half travel and wide open, for a page: pictures and what is read off."""

from __future__ import annotations

from linkage.motion import Motion
from linkage.paper.approval import SHOWN, Approval, Pose
from linkage.paper.fitting import extent, margins
from linkage.paper.markup import Html, printable, tag
from linkage.paper.stage import staged, views_of
from linkage.paper.svg import svg
from linkage.plots.views import ViewName

#: what a view is called
NAMES: dict[ViewName, str] = {"front": "front view", "plan": "view from above", "side": "view from the right"}

_WIDE = 480.0  # of a picture, in its own units
_TALLEST = 0.8  # of its width


def size_of(run: Motion, view: ViewName) -> tuple[float, float]:
    """Width and height of a page's picture of a view, in its own units."""
    wide, high = extent(run, view)
    beside = margins((_WIDE, _WIDE))[0]
    return _WIDE, min((_WIDE - 2.0 * beside) * high / wide + 44.0, _TALLEST * _WIDE)


def stills(says: Approval) -> Html:
    """A figure for each pose."""
    run, shares = says.answer.run, [share for share, _ in SHOWN]
    pictures = {view: staged(run, view, size_of(run, view), shares=shares, letters=20.0) for view in views_of(run)}
    figures = []
    for i, pose in enumerate(says.poses):
        shown = [svg(picture.at(i), says=described(pose, view)) for view, picture in pictures.items()]
        figures.append(tag("figure", tag("figcaption", pose.name), tag("div", *shown, class_="views"), read_off(pose)))
    return tag("div", *figures, class_="three")


def read_off(pose: Pose) -> Html:
    """What is read off at a pose, as a list."""
    rows = (tag("div", tag("dt", printable(r.name)), tag("dd", r.value)) for r in pose.readings)
    return tag("dl", *rows, class_="list")


def described(pose: Pose, view: ViewName) -> str:
    """A picture in words."""
    told = ", ".join(f"{reading.name.lower()} {reading.value}" for reading in pose.readings)
    return printable(f"The linkage at {pose.name.lower()}, {NAMES[view]}: {told}")


def seen(says: Approval) -> Html:
    """From where the linkage is seen."""
    run = says.answer.run
    first, *others = (NAMES[view] for view in views_of(run))
    whence = f", seen from {run.rig.seen_from}" if run.rig.seen_from else ""
    told = "; ".join([f"{first[:1].upper()}{first[1:]}{whence}", *others])
    return tag("p", printable(f"{told}."), class_="note")
