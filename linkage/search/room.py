"""Room for a sweep's rows, in memory and on disk: what will not fit is told before the work, not in the middle of it.

Only what is certain is held against it: where every row is kept their number says how much they take, where limits
choose among them nobody knows beforehand.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from linkage.errors import DesignError, Fault, LinkageError, OutputError
from linkage.search import unfinished
from linkage.search.batch import PART, Plan

_WORD = 8  # bytes of a number
_TWICE = 2  # rows in memory stand there twice while their parts are joined


def check_memory(plan: Plan) -> None:
    """Make sure that rows which are to stay in memory will fit there.

    Raises
    ------
    DesignError
        They do not.
    """
    need, has = _TWICE * bytes_of(plan), memory()
    if has is not None and need > has:
        says = f"{plan.stop - plan.start:,} candidates, all kept, take {_told(need)} of memory; {_told(has)} are free"
        raise DesignError([Fault("out", says, _MEND, file="sweep")])


def check_kept(rows: int, columns: int, of: int, has: int | None) -> None:
    """Make sure, while rows come, that those kept still fit in the memory that there was [bytes].

    Raises
    ------
    LinkageError
        They do not.
    """
    if has is not None and _TWICE * _WORD * (1 + columns) * rows > has:
        raise LinkageError(
            f"sweep: the {rows:,} kept of the first {of:,} candidates do not fit in {_told(has)} of memory; {_MEND}"
        )


def check_disk(plan: Plan, folder: Path) -> None:
    """Make sure that the parts of a sweep fit on the disk where they are to be kept.

    Raises
    ------
    OutputError
        They do not.
    """
    there = sum(PART for index in range(plan.parts) if unfinished.is_there(folder, index)) if folder.exists() else 0
    need = bytes_of(plan, but=there)
    has = shutil.disk_usage(folder.parent).free
    if need > has:
        raise OutputError(
            f"{folder}: the parts of {plan.stop - plan.start:,} candidates, all kept, take {_told(need)}, and the file "
            f"about as much again; {_told(has)} are free: keep fewer (--keep, --best, --front), work on a slice "
            "(--slice), or name a file on another disk"
        )


def bytes_of(plan: Plan, *, but: int = 0) -> int:
    """What the rows of a sweep take [bytes], all ``but`` so many; 0 where it is chosen among them."""
    if plan.choice.limits or plan.choice.narrows:
        return 0
    return _WORD * (1 + len(plan.names)) * max(0, plan.stop - plan.start - but)


def memory() -> int | None:
    """Memory that is free for this process [bytes], None where the system does not say."""
    try:
        with open("/proc/meminfo", encoding="ascii") as lines:
            return next(1024 * int(line.split()[1]) for line in lines if line.startswith("MemAvailable:"))
    except (OSError, StopIteration, ValueError):
        pass
    try:
        return os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
    except (AttributeError, OSError, ValueError):
        return None


def _told(count: int) -> str:
    size = float(count)
    for unit in ("kB", "MB", "GB"):
        size /= 1000.0
        if size < 999.5:
            return f"{size:.3g} {unit}"
    return f"{size / 1000.0:.4g} TB"


_MEND = "write them to a file (--out), or keep fewer (--keep, --best, --front)"
