"""Options of the commands that write papers for the bench: rod ends, holes, edges, datum, paper."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from linkage.paper.practice import Practice
    from linkage.paper.sheet import Sheet
    from linkage.parts import Linkage

Command = TypeVar("Command", bound=Callable[..., Any])

#: Lengths that a bench may set, by the name of their option, with their help.
LENGTHS = {
    "hole": "Diameter of the pin holes (default: the links' thread and a little play).",
    "pivot-hole": "Diameter of a bell crank's pivot hole (default: its hub_diameter, else 10 mm).",
    "edge": "Metal from a hole's rim to the edge of its plate (default: the pin hole's diameter).",
    "thickness": "Thickness of the lever plates (default: 4 mm or 5/32 in).",
    "fillet": "Radius of the fillets between arms (default: 8 mm or 5/16 in).",
}
QUADRANT = {
    "cable": "Diameter of the inner cable on a snail quadrant (default: 1.5 mm).",
    "nipple": "Diameter of the hole for the cable's end (default: 6.5 mm).",
    "rim": "How far the quadrant's rim goes beyond the cable's centre line (default: 3 mm).",
}
ROD_ENDS = {
    "rod-end-length": "From the ball's centre to the end of its thread (default: ball sockets of DIN 71802).",
    "thread-depth": "Usable thread of a rod end (default: of the same sockets).",
}

paper = click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    help="Paper (default: a4, letter for a design in inches).",
)

date = click.option(
    "--date", metavar="DATE", help="Date on the sheet (default: today's); the same date gives the same bytes."
)

date_if_any = click.option("--date", metavar="DATE", help="Date on the sheet (default: none).")

fractions = click.option("--fractions", is_flag=True, help="Show the nearest 1/64 in beside decimals of an inch.")

datum = click.option(
    "--datum", metavar="X,Y", help="Where coordinates are measured from, in the drawing (default: its origin)."
)

bores = click.option(
    "--bores",
    metavar="[SHAFT=]DEG",
    multiple=True,
    help="Direction of the bores in the drawing (default: 90, upright); once for each shaft that differs.",
)

thread = click.option("--thread", metavar="THREAD", help='Thread of the rod ends, "M6x1" (default: by the pitch).')


def lengths(names: dict[str, str]) -> Callable[[Command], Command]:
    """One option for every length [in the design's own unit, or with its own: "1/4 in"]."""

    def dressed(command: Command) -> Command:
        for name, says in reversed(names.items()):
            command = click.option(f"--{name}", metavar="LENGTH", help=says)(command)
        return command

    return dressed


def practice(rig: Linkage, **given: Any) -> Practice:
    """The settings of the bench from what was typed; every fault of them at once.

    Lengths are bare numbers in the design's own unit or carry their unit.

    Raises
    ------
    DesignError
        An option cannot be read, or not be used with this design.
    """
    from linkage.errors import DesignError, Fault
    from linkage.paper.practice import Practice, checked

    faults: list[Fault] = []
    found: dict[str, Any] = {"fractions": bool(given.get("fractions")), "thread": given.get("thread")}

    def read(option: str, text: str, kind: Any) -> float | None:
        try:
            return _quantity(text, kind, rig.units)
        except ValueError as error:
            faults.append(Fault(f"--{option}", str(error), file="options"))
            return None

    if found["fractions"] and rig.units != "in":
        faults.append(Fault("--fractions", "is for designs in inches", 'this one has units = "mm"', file="options"))
    for name in (*LENGTHS, *QUADRANT, *ROD_ENDS):
        text = given.get(name.replace("-", "_"))
        if text is not None:
            found[name.replace("-", "_")] = read(name, text, "length")
    if given.get("datum") is not None:
        parts = given["datum"].split(",")
        if len(parts) != 2:
            says = f'must be two lengths with a comma between, got "{given["datum"]}"'
            faults.append(Fault("--datum", says, "write it like --datum=-175,0", file="options"))
        else:
            x, y = (read("datum", part.strip(), "length") for part in parts)
            found["datum"] = (x or 0.0, y or 0.0)
    found["bores"] = {}
    for text in given.get("bores") or ():
        name, _, angle = text.rpartition("=")
        value = read("bores", angle.strip(), "angle")
        if value is not None:
            found["bores"][name.strip()] = value
    if faults:
        raise DesignError(faults)
    return checked(Practice(**found), rig)


def _quantity(text: str, kind: Any, units: str) -> float:
    """A quantity as typed: a bare number is in the design's own unit."""
    import math

    from linkage.quantities import own_scale, quantity_in

    try:
        bare = float(text)
    except ValueError:
        return quantity_in(text, kind)
    if not math.isfinite(bare):
        raise ValueError(f'must be a finite number, got "{text}"')
    return bare * own_scale(units, kind)


def paper_of(rig: Linkage, chosen: str | None) -> Any:
    """The paper chosen, or the one that goes with the design's unit."""
    return chosen or ("letter" if rig.units == "in" else "a4")


def date_of(chosen: str | None) -> str:
    """The date chosen, or today's."""
    from linkage.paper.sheet import today

    return today() if chosen is None else chosen


def put(sheet: Sheet, out: str | None, *, paper: str, force: bool) -> None:
    """A sheet to standard output, or into the file ``out``, a PDF or plain text by the ending of its name."""
    from linkage.cli import screen
    from linkage.files import write_bytes, write_text
    from linkage.paper.sheet import text

    if out is None:
        screen.show(text(sheet))
    elif out.lower().endswith(".pdf"):
        from linkage.paper import sheet_pages

        screen.step("drawing")
        data = sheet_pages.pdf(sheet_pages.pages(sheet, "letter" if paper == "letter" else "a4"))
        screen.show(str(write_bytes(out, data, overwrite=force)))
    else:
        screen.show(str(write_text(out, text(sheet), overwrite=force)))


def check_out(out: str | None, endings: tuple[str, ...], *, force: bool) -> None:
    """Make sure, before any work, that a file may be written and ends as it should."""
    from linkage.errors import OutputError
    from linkage.files import check_free

    if out is None:
        return
    if not out.lower().endswith(endings):
        raise OutputError(f"{out}: end the name in {' or '.join(endings)}")
    check_free([out], overwrite=force)
