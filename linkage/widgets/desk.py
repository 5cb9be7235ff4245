"""What leaves the bench: a design file, a fit's answer, the customer's approval sheet."""

from __future__ import annotations

import dataclasses
import datetime
import re
from collections.abc import Callable, Collection, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from linkage.errors import DesignError, Fault, OutputError
from linkage.parts import Bounds, Linkage, Wish, dimensions, rule_of
from linkage.quantities import own_scale, own_unit, quantity_in
from linkage.widgets.controls import Control

if TYPE_CHECKING:
    from linkage.search.fit import Fit

Tell = Callable[[str], None]

_STARTS = 16  # a bench answers in seconds; the command line may look longer

#: what a fit may be given to change, by the paths it stands for
CHOICES: Mapping[str, tuple[str, str]] = {
    "free": ("what the design's [free] table names", ""),
    "clocking": ("clocking of levers", r".*\.arm\.[^.]+\.angle"),
    "radii": ("radii of levers", r".*\.arm\.[^.]+\.radius"),
    "pins": ("places of pins", r".*\.arm\.[^.]+\.pin\.[xyz]|slide\.[^.]+\.pin\.[^.]+\.at\.[xyz]"),
    "pivots": ("pivots of bell cranks", r"bellcrank\.[^.]+\.pivot\.[xy]"),
    "lengths": ("lengths of links that are given", r"link\.[^.]+\.length"),
}

#: wishes that can be typed in at the bench
WISHES = ("mismatch", "transmission_angle", "progression_ratio", "cable_travel")


def file_named(name: str) -> Path:
    """The design file that a typed name means; it may leave out ``.toml``."""
    path = Path(name.strip())
    return path if path.suffix.lower() == ".toml" else Path(f"{path}.toml")


def save(rig: Linkage, name: str, *, replace: bool) -> Path:
    """Write a design file, its comments kept.

    Raises
    ------
    OutputError
        A file stands there and is not to be replaced, or it cannot be written.
    """
    from linkage.design_file import write

    if not name.strip():
        raise OutputError("Give the file a name.")
    return write(rig, file_named(name), overwrite=replace)


def sheets_named(name: str) -> tuple[Path, Path]:
    """The approval sheet as PDF and as page, beside the design file of a typed name."""
    stem = re.sub(r"\.toml$", "", name.strip(), flags=re.IGNORECASE) or "linkage"
    return Path(f"{stem}_approval.pdf"), Path(f"{stem}_approval.html")


def approve(rig: Linkage, name: str, *, replace: bool, date: datetime.date, tell: Tell) -> tuple[Path, Path]:
    """Write the approval sheet as PDF and page, see :func:`sheets_named`.

    Raises
    ------
    OutputError
        A sheet stands there and is not to be replaced, or it cannot be written.
    """
    from linkage.answers import check
    from linkage.files import check_free, write_bytes, write_text
    from linkage.paper.approval_html import approval_html
    from linkage.paper.approval_pdf import approval_pdf

    for_print, for_screen = sheets_named(name)
    check_free((for_print, for_screen), overwrite=replace)
    tell("Checking the design …")
    answer = check(rig)
    tell("Drawing the sheet …")
    pdf = approval_pdf(answer, date=date, paper="letter" if rig.units == "in" else "a4")
    html = approval_html(answer, date=date)
    return (
        write_bytes(for_print, pdf, overwrite=replace),
        write_text(for_screen, html, overwrite=replace),
    )


def choices(rig: Linkage, sliders: Mapping[str, Control], locked: Collection[str] = ()) -> dict[str, list[str]]:
    """Paths behind every choice that this design has, without what is locked."""
    found = {"free": [path for path in rig.free if path not in locked]}
    for key, (_, pattern) in CHOICES.items():
        if pattern:
            paths = [path for path in sliders if re.fullmatch(pattern, path) and path not in locked]
            found[key] = [path for path in paths if _moves(rig, path)]
    return {key: paths for key, paths in found.items() if paths}


def _moves(rig: Linkage, path: str) -> bool:
    """Whether the motion hangs on a dimension: a spring's arm and a fitted length do not move it."""
    keys = path.split(".")
    if keys[0] == "link":
        return rig.link[keys[1]].length is not None
    if "arm" not in keys:
        return True
    joined = {pin for link in rig.link.values() for pin in link.joins}
    pulled = None if rig.cable is None else rig.cable.pulls
    return f"{keys[1]}.{keys[3]}" in {*joined, pulled}


def bounds(rig: Linkage, chosen: Mapping[str, list[str]], sliders: Mapping[str, Control]) -> dict[str, Bounds]:
    """Bounds [mm, deg] of what was chosen of :func:`choices`: its sliders' ranges, in steps that can be made."""
    now = dimensions(rig)
    return {
        path: rig.free[path] if key == "free" else _reach(sliders[path], now[path])
        for key, paths in chosen.items()
        for path in paths
    }


def _reach(slider: Control, now: float) -> Bounds:
    low = min(slider.low * slider.scale, slider.snapped(now))
    high = max(slider.high * slider.scale, slider.snapped(now))
    return Bounds(low, high, slider.step * slider.scale)


def wishes(rig: Linkage) -> list[dict[str, str]]:
    """The wishes that can be typed in, in the design's own units, with what it wishes already."""
    found = []
    for at in (field for field in dataclasses.fields(Wish) if field.name in WISHES):
        rule = rule_of(Wish(), at)
        kind = "number" if rule is None else rule.kind
        value = getattr(rig.wish, at.name, None)
        shown = "" if value is None else f"{value / own_scale(rig.units, kind):g}"
        found.append({"name": at.name, "label": _told(at.name), "unit": own_unit(rig.units, kind), "value": shown})
    return found


def wish(rig: Linkage, typed: Mapping[str, str]) -> Wish:
    """The design's wish with what was typed in its place [mm, deg]; an empty box wishes nothing."""
    own = rig.wish or Wish()
    at = {field.name: field for field in dataclasses.fields(Wish)}
    asked: dict[str, Any] = {name: _wished(rig, own, at[name], typed[name]) for name in WISHES if name in typed}
    return dataclasses.replace(own, **asked)


def _wished(rig: Linkage, own: Wish, at: dataclasses.Field[Any], text: str) -> float | None:
    rule = rule_of(own, at)
    assert rule is not None
    plain = text.strip()
    if not plain:
        return None
    try:
        value = float(plain.replace("−", "-")) * own_scale(rig.units, rule.kind)
    except ValueError:
        try:
            value = quantity_in(plain, rule.kind)
        except ValueError as error:
            raise DesignError([Fault(at.name, f"{_told(at.name)} {error}")]) from None
    if says := rule.breaks(value):
        raise DesignError([Fault(at.name, f"{_told(at.name)} {says}")])
    return value


def fitted(rig: Linkage, asked: Wish, free: Mapping[str, Bounds], tell: Tell) -> Fit:
    """Fit a design, telling how far it is.

    Raises
    ------
    DesignError
        Nothing may change, or nothing within the bounds can be put together.
    """
    from linkage.search.fit import fit

    if not free:
        raise DesignError([Fault("", "choose what may change, and unlock it")])

    def progress(stage: str, worst: float) -> None:
        tell(f"{stage.capitalize()}: the furthest wish is at {worst:.3g} of what is allowed …")

    return fit(rig, wish=asked, free=free, starts=_STARTS, answers=1, progress=progress)


def said(found: Fit) -> str:
    """What came of a fit, in a few sentences."""
    return " ".join(_said(found))


def _said(found: Fit) -> Iterator[str]:
    best, start = found.best, found.start
    if best is found.start or not found.answers:
        yield "Nothing better than the design as it stands was found within these ranges."
    else:
        before, after = start.figures["mismatch"], best.figures["mismatch"]
        yield f"Fitted, in steps that can be made: mismatch {before:.3f} → {after:.3f}°."
    if best.met:
        yield "Every wish is met and no check of the motion fails."
    else:
        misses = [_told(name) for name in (*best.unmet, best.fails) if name]
        yield f"Not everything is met: it misses {' and '.join(dict.fromkeys(misses))}."
        for one in [conflict for conflict in found.conflicts if conflict.forbids][:1]:
            what = f"the wish for {_told(one.wish)}" if one.wish else f"the {one.side} end of {one.bound}"
            yield f"What forbids it is {what}."
    if found.stopped:
        yield "It was stopped: this is the best so far."


def _told(name: str) -> str:
    return name.replace("_", " ")
