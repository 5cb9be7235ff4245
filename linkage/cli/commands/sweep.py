"""``throttle-linkage sweep``: the figures of many variants of a design."""

from __future__ import annotations

import re
import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from linkage.cli import given, screen

if TYPE_CHECKING:
    from linkage.parts import Linkage
    from linkage.search.swept import Sweep

SECTION = "Search"

_PICTURES = (".png", ".svg", ".pdf")
_SHOWN = 20  # lines of a table on the screen; the file has them all
_EVERY = 0.2  # [s] between two tellings of the progress


@click.command(
    "sweep",
    epilog="""\b
Ranges (bare numbers in the design's own unit, or with one of their own such as 1/4in):
  PATH=LOW:HIGH:STEP    every value from LOW to HIGH, both included
  PATH=A,B,C            these values
  PATH=LOW..HIGH        with --samples: a range to be filled evenly

\b
Examples:
  throttle-linkage sweep linkage.toml --vary bellcrank.centre.pivot.y=50:70:0.5
  throttle-linkage sweep linkage.toml --vary shaft.left.arm.drive.radius=30..40 \\
      --vary shaft.left.arm.drive.angle=40..80 --samples 100000 \\
      --keep 'verdict!=fail' --front mismatch,progression_ratio --out front.csv
  throttle-linkage sweep linkage.toml --candidates mine.csv --out all.parquet
  throttle-linkage pick linkage.toml front.csv 4711 --out better.toml

A sweep that was stopped goes on from where it was when the same command is given again.""",
)
@given.design_file
@click.option("--vary", metavar="PATH=RANGE", multiple=True, help="A dimension and its range; may be given again.")
@click.option("--candidates", metavar="FILE", type=given.path, help="In place of --vary: a table headed by paths.")
@click.option("--samples", metavar="N", type=int, help="Fill the ranges LOW..HIGH evenly with N candidates.")
@click.option("--seed", metavar="S", type=int, default=1, show_default=True, help="Which samples.")
@click.option(
    "--keep", metavar="LIMIT", multiple=True, help="Keep what meets it, such as 'mismatch<=0.3'; may be given again."
)
@click.option("--best", metavar="N", type=int, help="Keep the best N, by --by.")
@click.option("--by", metavar="FIGURE", default="mismatch", show_default=True, help="FIGURE, or FIGURE:high or :low.")
@click.option(
    "--front", metavar="FIGURES", help="Keep what no other beats in two or three figures, with commas between."
)
@click.option("--slice", "part", metavar="K/N", help="Only the K-th of N parts, for many machines.")
@click.option("--workers", metavar="N", type=click.IntRange(1), help="Processes at once.  [default: all processors]")
@click.option("--out", metavar="FILE", type=given.path, help="File for the rows kept: .csv or .parquet.")
@click.option("--picture", metavar="FILE", type=given.path, help="Picture to draw: .png, .svg or .pdf.")
@click.option(
    "--across", metavar="PATHS", help="What the picture is drawn over: one varied dimension, or two with a comma."
)
@given.force
def command(
    file: str,
    vary: tuple[str, ...],
    candidates: str | None,
    samples: int | None,
    seed: int,
    keep: tuple[str, ...],
    best: int | None,
    by: str,
    front: str | None,
    part: str | None,
    workers: int | None,
    out: str | None,
    picture: str | None,
    across: str | None,
    force: bool,
) -> None:
    """Work out the figures of many variants of a design.

    Varies any dimension by its dotted path and gives, for every candidate, the figures of the main
    verdict: mismatch by region, progression, cable travel, stop gaps, transmission angle, toggle margins. Links
    without a length are fitted anew for each. A candidate that cannot be built is a row with its
    reason.
    """
    from linkage.files import check_free
    from linkage.search.candidates import paths_of
    from linkage.search.ranges import asked
    from linkage.search.sweep import sweep

    rig = given.design(file)
    if candidates is not None and (vary or samples is not None):
        raise click.UsageError("--candidates goes in place of --vary and --samples")
    if across is not None and picture is None:
        raise click.UsageError("--across says what a picture is drawn over; name it with --picture")
    wanted = asked(rig, vary, samples=samples, seed=seed) if candidates is None else None
    over: tuple[str, ...] = ()
    if picture is not None:
        _check_picture(picture)
        check_free([picture], overwrite=force)
        paths = wanted.paths if wanted is not None else paths_of(str(candidates), rig)
        over = _drawable(rig, paths, by, across)
    watch = _Watch()
    try:
        found = sweep(
            rig,
            wanted,
            candidates=candidates,
            keep=keep,
            best=best,
            by=by,
            front=[] if front is None else [name.strip() for name in front.split(",")],
            slice=_slice(part),
            out=out,
            overwrite=force,
            workers=workers,
            progress=watch.tell,
        )
    finally:
        watch.end()
    screen.show(_report(found, watch.seconds))
    if picture is not None:
        from linkage import plots

        screen.step("drawing")
        plots.save(plots.sweep_picture(found, by=by, over=over), picture, overwrite=force)
        screen.show(picture)


def _drawable(rig: Linkage, paths: tuple[str, ...], by: str, across: str | None) -> tuple[str, ...]:
    """What a picture is drawn over, once it is known that there is a picture of it."""
    from linkage.errors import did_you_mean
    from linkage.search.choose import aims
    from linkage.search.headings import kinds

    aims([by], kinds(rig, paths))
    over = () if across is None else tuple(path.strip() for path in across.split(","))
    if len(over) > 2:
        raise click.UsageError("--across names one varied dimension or two")
    for path in over:
        if path not in paths:
            raise click.UsageError(f'--across: "{path}" is not varied{did_you_mean(path, paths)}')
    return over


def _check_picture(path: str) -> None:
    from linkage.errors import OutputError

    kind = Path(path).suffix.lower()
    if kind not in _PICTURES:
        raise OutputError(f'{path}: "{kind}" is no kind of picture; end the name in {" or ".join(_PICTURES)}')


def _slice(text: str | None) -> tuple[int, int] | None:
    if text is None:
        return None
    match = re.fullmatch(r"\s*(\d+)\s*/\s*(\d+)\s*", text)
    if match is None:
        raise click.UsageError(f'--slice: "{text}" is no part of the whole; write such as 3/16')
    return int(match[1]), int(match[2])


class _Watch:
    """Tells how far the work is, how fast it goes and how long it will yet take."""

    def __init__(self) -> None:
        self.begun = self.fresh = self.told = time.monotonic()
        self.seconds = 0.0

    def tell(self, done: int, before: int, whole: int) -> None:
        now = time.monotonic()
        self.seconds = now - self.begun
        if done == before:
            self.fresh = now  # until here only what an earlier run had done was read
        if done < whole and now - self.told < _EVERY:
            return
        self.told = now
        rate = (done - before) / max(now - self.fresh, 1e-3)
        pace = f", {rate:,.0f} a second, {_duration((whole - done) / rate)} left" if rate > 0.0 else ""
        again = f" ({before:,} done before)" if before else ""
        screen.progress(f"{done:,} of {whole:,} candidates{again}, {100.0 * done / whole:.0f} %{pace}")

    def end(self) -> None:
        screen.progress("")


def _duration(seconds: float) -> str:
    if seconds < 90.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"


def _report(found: Sweep, seconds: float) -> str:
    from linkage.paper.report_sweep import sweep_report

    return sweep_report(found, seconds=seconds, lines=_SHOWN)
