"""The parts of a sweep, worked out by several processes at once and handed on in order."""

from __future__ import annotations

import contextlib
import json
import os
import pickle
import queue
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

from linkage.errors import LinkageError, OutputError
from linkage.search import unfinished
from linkage.search.batch import Part, Plan, work_out

#: a sweep of no more parts than this is done before a second process has begun
_ALONE = 2

#: parts that a process has before it: the one at work and the next
_AHEAD = 2


def cores() -> int:
    """Number of processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def parts(plan: Plan, folder: Path | None, workers: int, *, stay: bool = True) -> Iterator[tuple[Part, bool]]:
    """The parts of a sweep in order, and whether each was there before.

    Parameters
    ----------
    plan : Plan
    folder : pathlib.Path, optional
        Where finished parts are kept, and looked for first. None: nowhere, all is done in this process.
    workers : int
        Processes at work at once.
    stay : bool
        Whether the parts stay in the folder once they have been handed on.

    Raises
    ------
    OutputError
        A part cannot be kept.
    LinkageError
        A worker was stopped from outside.
    """
    if folder is None:
        yield from ((work_out(plan, index), False) for index in range(plan.parts))
        return
    missing = [index for index in range(plan.parts) if not unfinished.is_there(folder, index)]
    if workers > 1 and len(missing) > _ALONE:
        yield from _together(plan, folder, missing, min(workers, len(missing)), stay)
    else:
        for index in range(plan.parts):
            found = unfinished.load(folder, index)
            yield (found, True) if found is not None else (_done_here(plan, folder, index), False)


def _done_here(plan: Plan, folder: Path, index: int) -> Part:
    part = work_out(plan, index)
    try:
        unfinished.save(folder, index, part)
    except OSError as error:
        raise OutputError(unfinished.says(folder, error)) from None
    return part


def _together(plan: Plan, folder: Path, missing: list[int], workers: int, stay: bool) -> Iterator[tuple[Part, bool]]:
    answers: queue.SimpleQueue[tuple[subprocess.Popen[bytes], bytes]] = queue.SimpleQueue()
    crew = [_hired(folder, answers) for _ in range(workers)]
    try:
        job, left = pickle.dumps(plan), iter(missing)
        for worker in crew:
            _send(worker, job)
        for worker in crew * _AHEAD:
            _next(worker, left)
        fresh = set(missing)
        awaited = set(missing)
        for index in range(plan.parts):
            while index in awaited:
                worker, line = answers.get()
                awaited.discard(_answer(worker, line, folder, stay))
                _next(worker, left)
            found = unfinished.load(folder, index)
            if not stay:
                unfinished.remove(folder, index)
            yield (found, index not in fresh) if found is not None else (_done_here(plan, folder, index), False)
    finally:
        for worker in crew:
            _let_go(worker)


def _hired(folder: Path, answers: queue.SimpleQueue[tuple[subprocess.Popen[bytes], bytes]]) -> subprocess.Popen[bytes]:
    own = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
    # arrays come and go: memory given back to the system each time is a fifth of the work (glibc; elsewhere nothing)
    own |= dict.fromkeys(("MALLOC_TRIM_THRESHOLD_", "MALLOC_MMAP_THRESHOLD_"), str(2**28))
    worker = subprocess.Popen(
        [sys.executable, "-P", "-m", "linkage.search.worker", str(folder.resolve())],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env={**os.environ, **own, "PYTHONPATH": os.pathsep.join(path for path in sys.path if path)},
    )

    def listen() -> None:
        assert worker.stdout is not None
        with worker.stdout as lines:
            for line in lines:
                answers.put((worker, line))
        answers.put((worker, b""))

    threading.Thread(target=listen, daemon=True).start()
    return worker


def _next(worker: subprocess.Popen[bytes], left: Iterator[int]) -> None:
    index = next(left, None)
    if index is not None:
        _send(worker, b"%d\n" % index)


def _send(worker: subprocess.Popen[bytes], data: bytes) -> None:
    assert worker.stdin is not None
    with contextlib.suppress(BrokenPipeError):  # its end is heard of from the other side
        worker.stdin.write(data)
        worker.stdin.flush()


def _answer(worker: subprocess.Popen[bytes], line: bytes, folder: Path, stay: bool) -> int:
    """The part that a worker has done."""
    if not line:
        status = worker.wait()
        why = f"signal {-status}" if status < 0 else f"status {status}"
        after = f"; the finished parts stay in {folder}: run the same command again" if stay else ""
        raise LinkageError(
            f"a process of the sweep was stopped from outside ({why}), as one is when memory runs short{after}"
        )
    answer = json.loads(line)
    if "errno" in answer:
        raise OutputError(unfinished.says(folder, OSError(answer["errno"], answer["says"]), stay=stay))
    if "trace" in answer:
        raise RuntimeError(f"in a process of the sweep:\n{answer['trace']}")
    return int(answer["part"])


def _let_go(worker: subprocess.Popen[bytes]) -> None:
    assert worker.stdin is not None
    with contextlib.suppress(OSError):
        worker.stdin.close()
    try:
        worker.wait(0.05)
    except subprocess.TimeoutExpired:
        worker.terminate()
        worker.wait()
