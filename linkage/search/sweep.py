"""A sweep: the figures of the verdict worked out for every candidate of a variation."""

from __future__ import annotations

import contextlib
import dataclasses
import os
import shutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linkage.errors import DesignError, Fault, OutputError
from linkage.files import check_free
from linkage.parts import Linkage
from linkage.search import choose, crew, headings, room, sheet_files, unfinished
from linkage.search.batch import Part, Plan, Tally
from linkage.search.candidates import read_candidates
from linkage.search.choose import Aim, Choice
from linkage.search.swept import Sweep
from linkage.search.vary import Grid, Variation, variation

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

#: called after every part with the candidates done, how many of them were done before, and how many there are
Progress = Callable[[int, int, int], None]

#: a sweep of fewer candidates is done in this process
_SMALL = 60_000


def sweep(
    rig: Linkage,
    vary: Mapping[str, ArrayLike] | Variation | None = None,
    *,
    samples: int | None = None,
    seed: int = 1,
    candidates: str | Path | None = None,
    keep: Sequence[str] = (),
    best: int | None = None,
    by: str = "mismatch",
    front: Sequence[str] = (),
    slice: tuple[int, int] | None = None,
    out: str | Path | None = None,
    overwrite: bool = False,
    workers: int | None = None,
    progress: Progress | None = None,
) -> Sweep:
    """Work out the figures of the verdict for many variants of a linkage.

    A link whose ``length`` the design leaves out is fitted anew for each. A candidate that cannot be assembled,
    or locks on its way, is a row like others, with its ``reason``. The verdict is that of the motion (mismatch,
    stops, transmission, toggles, tilt, cable); what load, tolerance and heat say is for a single design.

    Parameters
    ----------
    rig : Linkage
    vary : mapping of str to array_like
        By dotted path, in [mm], [deg], [N]: values, of which every combination is taken (the last path runs
        fastest), or, with ``samples``, the two ends of a range.
    samples, seed : int
        Points that fill the box of the ranges evenly, and which ones.
    candidates : str or pathlib.Path
        In place of ``vary``: a CSV or Parquet table headed by paths.
    keep : sequence of str
        Limits such as ``"mismatch<=0.3"``; bare numbers in the design's own unit.
    best, by : int, str
        Keep the best so many by a figure.
    front : sequence of str
        Keep the candidates that no other beats in every one of these two or three figures.
    slice : (int, int)
        ``(3, 16)``: the third sixteenth of the candidates only.
    out : str or pathlib.Path
        File for the rows kept, ``.csv`` or ``.parquet``, lengths in the design's own unit. Finished parts are kept
        beside it, in ``out.unfinished``, until it is whole: the same call goes on from there.
    overwrite : bool
        Whether a file, and the parts of another sweep, may be written over.
    workers : int
        Processes at once; all processors by default. The answer is the same, bit for bit.
    progress : callable
        Told after every part: candidates done, how many of them by an earlier run, and all.

    Returns
    -------
    Sweep

    Raises
    ------
    DesignError
        What is asked for does not fit the design: every fault, before any work.
    OutputError
        The file cannot be written, stands there already, its unfinished parts are of another sweep, or there is no
        room for it.
    LinkageError
        The rows kept do not fit in memory; or a process was stopped from outside.

    Examples
    --------
    >>> import linkage
    >>> rig = linkage.read("demo/flat_six.toml")  # doctest: +SKIP
    >>> found = linkage.sweep(rig, {"bellcrank.centre.pivot.y": (50, 70)}, samples=1000)  # doctest: +SKIP
    >>> found.best(3, by="mismatch")  # doctest: +SKIP
    """
    with contextlib.ExitStack() as stack:
        target = None if out is None else Path(os.path.realpath(out) if os.path.islink(out) else out)
        folder = _ready(target, overwrite)
        if candidates is not None:
            if vary is not None:
                raise DesignError(
                    [Fault("candidates", "go in place of what is to be varied", "give one of the two", file="sweep")]
                )
            store = None if target is None else stack.enter_context(_scratch(target))
            asked: Variation = read_candidates(candidates, rig, store)
        else:
            asked = (
                variation(rig, vary or {}, samples=samples, seed=seed)
                if isinstance(vary, Mapping) or vary is None
                else vary
            )
        plan = planned(rig, asked, keep=keep, best=best, by=by, front=front, slice=slice)
        count = crew.cores() if workers is None else workers
        if isinstance(count, bool) or not isinstance(count, (int, np.integer)) or count < 1:
            raise DesignError([Fault("workers", f"must be a whole number, 1 or more, got {workers!r}", file="sweep")])
        if target is None or folder is None:
            room.check_memory(plan)
            small = plan.stop - plan.start < _SMALL
            temporary = None if small or count == 1 else stack.enter_context(_temporary())
            return _gathered(plan, crew.parts(plan, temporary, int(count), stay=False), progress)
        return _written(plan, target, folder, overwrite, int(count), progress)


def planned(
    rig: Linkage,
    asked: Variation,
    *,
    keep: Sequence[str] = (),
    best: int | None = None,
    by: str = "mismatch",
    front: Sequence[str] = (),
    slice: tuple[int, int] | None = None,
) -> Plan:
    """What a sweep is to do, once all of it is known to be sound; see :func:`sweep`."""
    kinds, faults = headings.kinds(rig, asked.paths), list[Fault]()
    chosen: tuple[Aim, ...] = ()
    limits: tuple[choose.Limit, ...] = ()
    try:
        limits = choose.limits(keep, kinds, rig.units)
    except DesignError as error:
        faults += error.faults
    try:
        chosen = choose.aims(front or ([by] if best is not None else []), kinds)
    except DesignError as error:
        faults += error.faults
    if front and best is not None:
        faults.append(Fault("best", "and a front are two ways to choose", "ask for one of them", file="sweep"))
    if front and not 2 <= len(front) <= 3:
        faults.append(Fault("front", f"must name two or three figures, got {len(front)}", file="sweep"))
    if best is not None and (isinstance(best, bool) or best < 1):
        faults.append(Fault("best", f"must be a whole number, 1 or more, got {best!r}", file="sweep"))
    part, parts = slice or (1, 1)
    if not 1 <= part <= parts:
        faults.append(Fault("slice", f"must be such as 3/16, from 1/16 to 16/16, got {part}/{parts}", file="sweep"))
    if faults:
        raise DesignError(faults)
    start, stop = (asked.rows * i // parts for i in (part - 1, part))
    if start == stop:
        says = f"{part}/{parts} of {asked.rows} candidates has none"
        raise DesignError([Fault("slice", says, "cut into fewer", file="sweep")])
    return Plan(rig, asked, Choice(limits, chosen, best), start, stop)


def _ready(target: Path | None, overwrite: bool) -> Path | None:
    """The folder for a file's unfinished parts, once the file is known to be writable."""
    if target is None:
        return None
    sheet_files.check_kind(target)
    check_free([target], overwrite=overwrite)
    return unfinished.folder_of(target)


@contextlib.contextmanager
def _scratch(target: Path) -> Iterator[Path]:
    """A file for the numbers of listed candidates, while the sweep lasts."""
    path = target.with_name(f"{target.name}.{os.getpid()}.candidates")
    try:
        yield path
    finally:
        with contextlib.suppress(OSError):
            path.unlink()


@contextlib.contextmanager
def _temporary() -> Iterator[Path]:
    import tempfile

    with tempfile.TemporaryDirectory(prefix="throttle-linkage-") as folder:
        yield Path(folder)


def _written(plan: Plan, target: Path, folder: Path, overwrite: bool, workers: int, progress: Progress | None) -> Sweep:
    """Work the parts out, keep them, and put the file in its place once it is whole."""
    growing = folder / f"whole{target.suffix.lower()}.tmp"
    columns = headings.columns_of(plan.rig, plan.variation.paths)
    repeating = plan.variation.paths if isinstance(plan.variation, Grid) else ()
    sheet: sheet_files.Sheet | None = None

    def add(numbers: Whole, table: Floats) -> None:
        nonlocal sheet
        if sheet is None:  # by now the workers are at work
            sheet = sheet_files.sheet(growing, target.suffix.lower(), columns, repeating)
        sheet.add(numbers, table)

    room.check_disk(plan, folder)
    with unfinished.folder_for(folder, unfinished.asked_for(plan), anew=overwrite):
        try:
            found = _gathered(plan, crew.parts(plan, folder, workers), progress, add)
        except BaseException:
            with contextlib.suppress(Exception):
                if sheet is not None:
                    sheet.close()
            with contextlib.suppress(OSError):
                growing.unlink()  # it takes room, and is written anew from the parts
            raise
        assert sheet is not None
        sheet.close()
        _placed(growing, target, folder, overwrite)
    shutil.rmtree(folder, ignore_errors=True)
    return dataclasses.replace(found, path=target)


def _placed(growing: Path, target: Path, folder: Path, overwrite: bool) -> None:
    """Give the whole file its name, in one step, over nothing that stands there unless asked to."""
    if overwrite:
        os.replace(growing, target)
        return
    try:
        os.link(growing, target)
    except FileExistsError:
        raise OutputError(f"{target}: stands there now; the finished parts stay in {folder}") from None
    except OSError:  # no second names on this disk
        check_free([target])
        os.replace(growing, target)


def _gathered(
    plan: Plan,
    parts: Iterator[tuple[Part, bool]],
    progress: Progress | None,
    add: Callable[[Whole, Floats], None] | None = None,
) -> Sweep:
    """Take the parts as they come: into a file by ``add``, or into memory."""
    kept: list[tuple[Whole, Floats]] = []
    sampled: list[tuple[Whole, Floats]] = []
    tally: Tally | None = None
    done = before = met = 0
    free = room.memory() if add is None else None
    for part, was_there in parts:
        tally = part.tally if tally is None else tally.and_(part.tally)
        sampled.append((part.sampled, part.sample))
        if plan.choice.narrows:
            kept = [_best_of(plan, [*kept, (part.kept, part.columns)])]
        elif add is None:
            kept.append((part.kept, part.columns))
            room.check_kept(met + part.kept.size, len(part.columns), done + part.tally.rows, free)
        else:
            add(part.kept, part.columns)
            mine = np.isin(part.sampled, part.kept, assume_unique=True)
            kept.append((part.sampled[mine], part.sample[:, mine]))
        met += part.kept.size
        done += part.tally.rows
        before += part.tally.rows if was_there else 0
        if progress is not None:
            progress(done, before, plan.stop - plan.start)
    assert tally is not None
    numbers, table = _joined(kept)
    if add is not None and plan.choice.narrows:
        add(numbers, table)
    met = len(numbers) if plan.choice.narrows else met
    return Sweep(plan.rig, plan.variation, plan.choice, numbers, table, *_joined(sampled), tally, met)


def _joined(pieces: Sequence[tuple[Whole, Floats]]) -> tuple[Whole, Floats]:
    if len(pieces) == 1:
        return pieces[0]
    return np.concatenate([numbers for numbers, _ in pieces]), np.concatenate([table for _, table in pieces], axis=1)


def _best_of(plan: Plan, pieces: Sequence[tuple[Whole, Floats]]) -> tuple[Whole, Floats]:
    """Choose again from what was chosen of some parts."""
    numbers, table = _joined(pieces)
    order = np.argsort(numbers, kind="stable")
    numbers, table = numbers[order], table[:, order]
    rows = plan.choice.chosen(dict(zip(plan.names, table, strict=True)), np.arange(len(numbers)))
    return numbers[rows], table[:, rows]
