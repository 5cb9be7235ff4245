"""``throttle-linkage fit``: the dimensions with which a linkage does what is wished."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from linkage.cli import given, screen
from linkage.cli.commands.plot import KINDS

if TYPE_CHECKING:
    from linkage.parts import Bounds, Linkage, Wish

SECTION = "Search"


@click.command(
    "fit",
    epilog="""\b
Examples:
  throttle-linkage fit job.toml                       by the tables [wish] and [free] of the file
  throttle-linkage fit job.toml --wish mismatch=0.2 \\
      --free shaft.left.arm.drive.angle=60:85 --free bellcrank.centre.arm.left.radius=30:45:0.5
  throttle-linkage fit job.toml --answer 2 --out job_b.toml

\b
Wishes: mismatch, stops_together, progression_ratio, progression (0.25:0.12,0.5:0.34),
cable_travel, transmission_angle, closing_torque, mismatch_as_made.
Exit status: 0 every wish is met and no check fails, 1 not, 2 the input cannot be used.""",
)
@given.design_file
@click.option("--free", "free", metavar="PATH=FROM:TO[:STEP]", multiple=True, help="What may change; repeat it.")
@click.option("--wish", "wishes", metavar="NAME=VALUE", multiple=True, help="What is wished; repeat it.")
@click.option("--starts", metavar="N", type=click.IntRange(1, 4096), default=32, show_default=True, help="Starts.")
@click.option("--seed", metavar="N", type=click.IntRange(0), default=1, show_default=True, help="Of the starts.")
@click.option(
    "--answer", metavar="N", type=click.IntRange(1, 20), default=1, show_default=True, help="Answer to write."
)
@click.option("--out", metavar="FILE.toml", type=given.path, help="Design file to write.")
@click.option("--picture", metavar="PATH", type=given.path, help="Picture to write: .png, .svg or .pdf.")
@click.option("--json", "as_json", is_flag=True, help="Print the answers as one JSON document.")
@given.force
def command(
    file: str, free: tuple[str, ...], wishes: tuple[str, ...], starts: int, seed: int, answer: int, out: str | None,
    picture: str | None, as_json: bool, force: bool,
) -> int:  # fmt: skip
    """Find dimensions that do what is wished.

    What may change and what is wished stand in the tables [free] and [wish] of the file, or are given
    as options, which go before the file's. The limits of the verdict are always kept in sight. Writes
    the design file, its comments kept and its changed lines marked, and a picture of before and after.
    Ctrl-C leaves the best so far. FILE may be - for standard input.
    """
    from linkage.design_file.marks import marked_text
    from linkage.errors import OutputError
    from linkage.files import check_free, write_text
    from linkage.search.fit import fit

    to, shown = Path(out or f"{given.stem(file)}_fitted.toml"), Path(picture or f"{given.stem(file)}_fitted.png")
    if shown.suffix.lower() not in KINDS:
        raise OutputError(f'{shown}: "{shown.suffix}" is no kind of picture; end the name in {" or ".join(KINDS)}')
    check_free([to, shown], overwrite=force)
    rig = given.design(file)
    found = fit(
        rig, wish=wish_of(rig, wishes), free=_free(rig, free), starts=starts, seed=seed, answers=max(5, answer),
        progress=_Progress(),
    )  # fmt: skip
    if as_json:
        import json

        from linkage.paper.document_fit import fit_document

        screen.show_data(json.dumps(fit_document(found), ensure_ascii=False, allow_nan=False) + "\n")
    else:
        from linkage.paper.report_fit import fit_report

        screen.show(fit_report(found))
    if found.best is not found.start:
        chosen = found.answers[min(answer, len(found.answers)) - 1]
        write_text(to, marked_text(chosen.rig), overwrite=force)
        _draw(found.start.rig, chosen.rig, found.wish, shown, force)
        screen.tell(f"written: {to}, {shown}")
    return 0 if found.best.met else 1


class _Progress:
    """Tells a stage when it begins, and how far it is once a second."""

    def __init__(self) -> None:
        self.stage, self.last = "", 0.0

    def __call__(self, stage: str, worst: float) -> None:
        now = time.monotonic()
        if stage == self.stage and now - self.last < 1.0:
            return
        self.stage, self.last = stage, now
        screen.step(f"{stage}: the furthest wish at {worst:.3g} of what is allowed")


def _draw(before: Linkage, after: Linkage, wish: Wish, path: Path, force: bool) -> None:
    from linkage.motion import solve

    runs = [solve(rig) for rig in (before, after)]
    screen.step("drawing")
    from linkage import plots

    plots.save(plots.before_after(*runs, wish=wish), path, overwrite=force)


def _free(rig: Linkage, options: tuple[str, ...]) -> dict[str, Bounds] | None:
    """What may change by the options; None where there are none."""
    from linkage.design_file.free import read_free

    if not options:
        return None
    raw: dict[str, Any] = {}
    for option in options:
        path, value = _split(option, "--free", "PATH=FROM:TO, or PATH=FROM:TO:STEP")
        at = raw
        *tables, last = path.split(".")
        for name in tables:
            at = at.setdefault(name, {})
            if not isinstance(at, dict):
                raise click.UsageError(f'--free "{option}": "{name}" is no table')
        at[last] = [_number(part) for part in value.split(":")]
    slips: list[Any] = []
    springs = {name: {"on": spring.on} if spring.on else {} for name, spring in rig.spring.items()}
    found = read_free({"free": raw, "spring": springs}, ("free",), rig.units, slips)
    _refuse(slips)
    return dict(found or {})


def wish_of(rig: Linkage, options: tuple[str, ...]) -> Wish | None:
    """The wishes of the options before those of the file; None where there are none."""
    import dataclasses

    from linkage.design_file.tables import checked_table
    from linkage.parts import Wish

    if not options:
        return None
    raw: dict[str, Any] = {}
    for option in options:
        name, value = _split(option, "--wish", "NAME=VALUE")
        points = [[_number(part) for part in point.split(":")] for point in value.split(",")]
        raw[name] = points if name == "progression" else _number(value)
    slips: list[Any] = []
    checked = checked_table(Wish, raw, ("wish",), rig.units, slips)
    _refuse(slips)
    return dataclasses.replace(rig.wish or Wish(), **checked)


def _split(option: str, name: str, want: str) -> tuple[str, str]:
    left, sign, right = option.partition("=")
    if not sign or not left.strip() or not right.strip():
        raise click.UsageError(f'{name} "{option}": write {want}')
    return left.strip(), right.strip()


def _number(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text.strip()


def _refuse(slips: list[Any]) -> None:
    from linkage.design_file.slips import place
    from linkage.errors import DesignError, Fault

    if slips:
        raise DesignError([Fault(slip.place or place(slip.path), slip.says, slip.mend) for slip in slips])
