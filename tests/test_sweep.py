"""Sweeps as a whole: the same answer however they are cut, stopped, filled or shared out."""

from __future__ import annotations

import csv
import json
import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray
from trains import bell_crank, coupled, parallel_pair

import linkage
from linkage.answers import check
from linkage.design_file import read, to_text, write
from linkage.errors import DesignError, LinkageError, OutputError
from linkage.motion import solve
from linkage.search import batch, crew, room, unfinished
from linkage.search.figures import REASONS, VERDICTS, names_of
from linkage.search.sweep import planned, sweep
from linkage.search.swept import Sweep
from linkage.search.vary import variation

Floats = NDArray[np.float64]

RADIUS, ANGLE = "shaft.b.arm.drive.radius", "shaft.b.arm.drive.angle"
PAIR = parallel_pair().replace("shaft.b.plate_angle.wide_open", 90.0)
RANGES = {RADIUS: (26.0, 34.0), ANGLE: (45.0, 57.0)}


def same(one: Sweep, other: Sweep) -> bool:
    """Bit for bit."""
    return one.numbers.tobytes() == other.numbers.tobytes() and one.table.tobytes() == other.table.tobytes()


# what it says


def test_a_row_is_the_single_answer() -> None:
    rig = bell_crank()
    paths = ("bellcrank.centre.pivot.y", "shaft.left.arm.drive.radius")
    found = sweep(rig, {paths[0]: (52.0, 62.0), paths[1]: (32.0, 36.0)}, samples=40)
    assert len(found) == 40
    for i in (0, 7, 39):
        one = rig
        for path in paths:
            one = one.replace(path, float(found[path][i]))
        run = solve(one)
        answer = check(run, trials=2)
        assert found["mismatch"][i] == pytest.approx(answer.mismatch.largest.value, rel=0, abs=1e-9)
        assert found["cable_travel"][i] == pytest.approx(answer.stops.opening.cable, rel=0, abs=1e-9)
        lengths = [float(joint.length) for joint in run.train.joints]  # no length is given: fitted anew for each
        assert [found["length:left"][i], found["length:right"][i]] == pytest.approx(lengths, rel=0, abs=1e-9)
        assert to_text(found.design(i)) == to_text(one)


def test_what_cannot_be_built_is_a_row_with_its_reason() -> None:
    found = sweep(PAIR, {"link.side.length": [150.0, 250.0, 252.0, 330.0]})
    assert REASONS[int(found["reason"][0]) - 1] == "cannot be assembled"
    assert list(found["verdict"]) == [2.0, 0.0, 2.0, 2.0]
    assert np.isnan(found["mismatch"][[0, 3]]).all()
    assert np.isfinite(found["mismatch"][[1, 2]]).all()
    assert found.verdicts() == {"pass": 1, "caution": 0, "fail": 3}
    assert sum(found.reasons().values()) == 3
    assert found.reasons()["cannot be assembled"] == 2
    assert list(found.columns()["verdict"]) == ["fail", "pass", "fail", "fail"]


def test_a_design_that_never_goes_together_is_rows_of_reasons() -> None:
    rig = PAIR.replace("link.side.length", 150.0)
    found = sweep(rig, {"limits.mismatch": [0.5, 1.0]})
    assert [REASONS[int(r) - 1] for r in found["reason"]] == ["cannot be assembled"] * 2
    assert list(found["limits.mismatch"]) == [0.5, 1.0]
    ratios = sweep(coupled(), {"coupling.sectors.ratio": [-1.0, 0.0, -1.1]})
    assert list(ratios["reason"] == REASONS.index("cannot be assembled") + 1) == [False, True, False]


def test_the_columns_are_named_before_the_work() -> None:
    for rig in (PAIR, bell_crank(), coupled()):
        path = next(path for path in linkage.dimensions(rig) if path.endswith(".radius"))
        assert sweep(rig, {path: [30.0]}).names == (path, *names_of(rig))


def test_keep_best_and_front_are_of_all() -> None:
    whole = sweep(PAIR, RANGES, samples=70_000)
    assert len(whole) == whole.tally.rows == 70_000
    kept = sweep(PAIR, RANGES, samples=70_000, keep=["mismatch<=1", "verdict!=fail"], workers=1)
    meets = (whole["mismatch"] <= 1.0) & (whole["verdict"] != VERDICTS.index("fail"))
    assert 10 < np.count_nonzero(meets) < 70_000
    assert np.array_equal(kept.numbers, whole.numbers[meets])
    best = sweep(PAIR, RANGES, samples=70_000, best=5, by="transmission_angle")
    assert list(best["transmission_angle"]) == sorted(whole["transmission_angle"])[::-1][:5]
    assert same(best, whole.best(5, by="transmission_angle"))
    front = sweep(PAIR, RANGES, samples=70_000, front=["mismatch", "transmission_angle"], keep=["mismatch<=1"])
    assert same(
        front, sweep(PAIR, RANGES, samples=70_000, keep=["mismatch<=1"]).front("mismatch", "transmission_angle")
    )
    assert front.tally.rows == 70_000


def test_tally_and_sample_are_of_all_candidates() -> None:
    found = sweep(PAIR, RANGES, samples=120_000, keep=["mismatch<=0.2"])
    whole = sweep(PAIR, RANGES, samples=120_000)
    least, greatest = (np.nanmin(whole["mismatch"]), np.nanmax(whole["mismatch"]))
    row = found.summary()["figure"].index("mismatch [deg]")
    assert (found.summary()["least"][row], found.summary()["greatest"][row]) == (least, greatest)
    assert found.summary()["mean"][row] == pytest.approx(np.nanmean(whole["mismatch"]), rel=1e-12)
    assert len(found.sampled) == pytest.approx(batch.SAMPLE, rel=0.02)
    assert np.array_equal(found.of_sample("mismatch"), whole["mismatch"][found.sampled], equal_nan=True)
    assert np.array_equal(np.histogram(found.sampled, 12)[0] > 7500, np.ones(12, bool))


# however it is cut


def test_the_same_bits_for_any_number_of_workers() -> None:
    one, two, three = (sweep(PAIR, RANGES, samples=80_000, workers=n) for n in (1, 2, 3))
    assert same(one, two)
    assert same(one, three)


def test_the_same_bits_for_any_block(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = sweep(bell_crank(), {"bellcrank.centre.pivot.y": (50.0, 66.0)}, samples=9000, workers=1)
    for block, part in ((1000, 3000), (4097, 5000), (1, 9000)):
        monkeypatch.setattr(batch, "BLOCK", block)
        monkeypatch.setattr(batch, "PART", part)
        rows = 40 if block == 1 else 9000
        cut = sweep(bell_crank(), {"bellcrank.centre.pivot.y": (50.0, 66.0)}, samples=rows, workers=1)
        assert cut.table.tobytes() == np.ascontiguousarray(whole.table[:, :rows]).tobytes()


def test_the_same_bits_in_any_order() -> None:
    values = np.linspace(26.0, 34.0, 301)
    order = np.random.default_rng(2).permutation(301)
    straight, mixed = sweep(PAIR, {RADIUS: values}), sweep(PAIR, {RADIUS: values[order]})
    assert np.ascontiguousarray(straight.table[:, order]).tobytes() == mixed.table.tobytes()


@pytest.mark.parametrize("parts", [3, 16])
def test_slices_together_are_the_whole(parts: int) -> None:
    for more in (
        {"vary": RANGES, "samples": 20_001},
        {"vary": {RADIUS: np.linspace(26, 34, 67), ANGLE: np.arange(45.0, 57)}},
    ):
        whole = sweep(PAIR, **more)
        cut = [sweep(PAIR, slice=(i + 1, parts), **more) for i in range(parts)]
        assert np.array_equal(np.concatenate([s.numbers for s in cut]), whole.numbers)
        assert np.concatenate([s.table for s in cut], axis=1).tobytes() == whole.table.tobytes()


def test_a_slice_far_on_in_a_huge_sweep_is_cheap() -> None:
    found = sweep(PAIR, RANGES, samples=2**30 - 1, slice=(123_456, 1_000_000))
    assert found.numbers[0] == (2**30 - 1) * 123_455 // 1_000_000
    # slice k of n ends at the whole part of rows x k / n
    assert len(found) == (2**30 - 1) * 123_456 // 1_000_000 - (2**30 - 1) * 123_455 // 1_000_000


# in files


def test_csv_opens_in_a_spreadsheet_and_says_its_units(tmp_path: Path) -> None:
    out = tmp_path / "all.csv"
    rig = linkage.read(Path(linkage.__file__).parents[1] / "demo" / "v8_inches.toml")
    path = next(path for path in linkage.dimensions(rig) if path.endswith(".pivot.y"))
    start = linkage.dimensions(rig)[path]
    found = sweep(rig, {path: start + np.linspace(-3.0, 3.0, 50)}, out=out)
    text = out.read_text(encoding="utf-8")
    rows = list(csv.reader(text.splitlines()))
    assert len({len(row) for row in rows}) == 1
    assert [row[0] for row in rows] == ["candidate", *map(str, range(50))]
    assert f"{path} [in]" in rows[0]
    assert not [heading for heading in rows[0] if heading[0] in "=+-@"]
    frame = pd.read_csv(out)
    assert list(frame["verdict"]) == [VERDICTS[int(v)] for v in found["verdict"]]
    assert (frame[f"{path} [in]"] * 25.4).to_numpy() == pytest.approx(found[path], rel=1e-14)
    assert frame["mismatch [deg]"].to_numpy() == pytest.approx(found["mismatch"], rel=0, abs=1e-9)
    assert (frame["cable_travel [in]"] * 25.4).to_numpy() == pytest.approx(found["cable_travel"], rel=0, abs=1e-6)
    assert not unfinished.folder_of(out).exists()


def test_parquet_holds_every_bit(tmp_path: Path) -> None:
    out = tmp_path / "all.parquet"
    lengths = {"link.side.length": [150.0, 250.0, 252.0], RADIUS: [29.0, 30.0]}
    found, written = sweep(PAIR, lengths), sweep(PAIR, lengths, out=out)
    frame = pd.read_parquet(out)
    assert list(frame.columns) == list(found.columns())
    for heading, column in found.columns().items():
        if heading in ("verdict", "reason"):
            assert list(frame[heading]) == list(column)
        else:
            assert frame[heading].to_numpy(float).tobytes() == np.asarray(column, float).tobytes() or np.array_equal(
                frame[heading].to_numpy(float), column, equal_nan=True
            )
    assert frame["mismatch [deg]"].isna().sum() == 2
    assert written.path == out


def test_files_are_the_same_bytes_however_they_came(tmp_path: Path) -> None:
    for kind in ("csv", "parquet"):
        files = [tmp_path / f"{n}.{kind}" for n in (1, 2)]
        for n, out in enumerate(files, 1):
            sweep(PAIR, RANGES, samples=50_000, keep=["mismatch<=1"], out=out, workers=n)
        assert files[0].read_bytes() == files[1].read_bytes()
        assert files[0].stat().st_size > 1000


def test_candidates_from_a_file(tmp_path: Path) -> None:
    first = sweep(PAIR, RANGES, samples=3000, out=tmp_path / "first.csv")
    for name in ("first.csv", "first.parquet"):
        if name.endswith("parquet"):
            sweep(PAIR, RANGES, samples=3000, out=tmp_path / name)
        again = sweep(PAIR, candidates=tmp_path / name, out=tmp_path / f"again_{name}")
        assert same(first, again)
        assert (tmp_path / f"again_{name}").read_bytes() == (tmp_path / name).read_bytes()
    assert sorted(f.name for f in tmp_path.iterdir()) == [
        "again_first.csv",
        "again_first.parquet",
        "first.csv",
        "first.parquet",
    ]
    with pytest.raises(DesignError, match="go in place of what is to be varied"):
        sweep(PAIR, RANGES, candidates=tmp_path / "first.csv")


def test_blank_lines_and_empty_rows_of_a_spreadsheet_are_passed_over(tmp_path: Path) -> None:
    text = f"{RADIUS},{ANGLE}\n30,50\n\n,\n \n31,51\n,\n"
    (tmp_path / "list.csv").write_text(text, encoding="utf-8")
    found = sweep(PAIR, candidates=tmp_path / "list.csv")
    assert (list(found[RADIUS]), list(found[ANGLE])) == ([30.0, 31.0], [50.0, 51.0])


def test_a_bad_row_of_a_parquet_table_is_told_by_its_number(tmp_path: Path) -> None:
    numbers = np.full(30_000, 30.0)
    numbers[25_000] = -1.0
    pd.DataFrame({RADIUS: numbers}).to_parquet(tmp_path / "list.parquet")
    with pytest.raises(DesignError, match=f"row 25001, {RADIUS}: must be from"):
        sweep(PAIR, candidates=tmp_path / "list.parquet")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is empty"),
        ("candidate,mismatch [deg]\n0,1\n", "no column that names a dimension"),
        (f"{RADIUS}\n", "has no candidates"),
        (f"{RADIUS},zzz\n30,1\n", '"zzz" is not a dimension'),
        (f"{RADIUS} [deg]\n30\n", '"deg" is no unit of it'),
        (f"{RADIUS},{RADIUS} [in]\n30,1\n", "comes twice"),
        (f"{RADIUS};{ANGLE}\n30;50\n", "has semicolons"),
        (f"{RADIUS}\n30,5\n", "line 2 has 2 cells"),
        (f"{RADIUS}\n30\nabc\n", f"line 3, {RADIUS}: must be a number, got 'abc'"),
        (f"{RADIUS}\n\n30\n-3\n", f"line 4, {RADIUS}: must be from 0.001 to 100000 mm, got -3"),
        (f"{RADIUS},{ANGLE}\n30,50\n,50\n", f"line 3, {RADIUS}: must be a number, got ''"),
    ],
)
def test_a_file_that_lists_no_candidates_is_told(tmp_path: Path, text: str, says: str) -> None:
    (tmp_path / "list.csv").write_text(text, encoding="utf-8")
    with pytest.raises(DesignError) as caught:
        sweep(PAIR, candidates=tmp_path / "list.csv", out=tmp_path / "out.csv")
    assert says in str(caught.value)
    assert [f.name for f in tmp_path.iterdir()] == ["list.csv"]


def test_nothing_is_overwritten_unasked(tmp_path: Path) -> None:
    out = tmp_path / "all.csv"
    out.write_text("mine")
    with pytest.raises(OutputError, match="stands there already"):
        sweep(PAIR, {RADIUS: [30.0]}, out=out)
    assert out.read_text() == "mine"
    sweep(PAIR, {RADIUS: [30.0]}, out=out, overwrite=True)
    assert out.read_text().startswith("candidate,")
    for name, says in (("all.xls", "is no kind of table"), ("no/all.csv", "there is no folder")):
        with pytest.raises(OutputError, match=says):
            sweep(PAIR, {RADIUS: [30.0]}, out=tmp_path / name)


def test_without_pyarrow_one_line_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(OutputError, match="Parquet needs pyarrow, which is not installed"):
        sweep(PAIR, {RADIUS: [30.0]}, out=tmp_path / "all.parquet")
    sweep(PAIR, {RADIUS: [30.0]}, out=tmp_path / "all.csv")
    assert [f.name for f in tmp_path.iterdir()] == ["all.csv"]


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"keep": ["mismach<1"]}, 'did you mean "mismatch"'),
        ({"best": 3, "by": "speed"}, '"speed" is not a figure'),
        ({"front": ["mismatch"]}, "must name two or three figures"),
        ({"front": ["mismatch", "tilt"], "best": 3}, "are two ways to choose"),
        ({"best": 0}, "must be a whole number, 1 or more"),
        ({"slice": (0, 4)}, "must be such as 3/16"),
        ({"slice": (5, 4)}, "must be such as 3/16"),
        ({"slice": (1, 99)}, "has none"),
        ({"workers": 0}, "must be a whole number, 1 or more"),
    ],
)
def test_what_cannot_be_is_told_before_any_work(
    more: dict[str, Any], says: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batch, "figures", lambda *_: pytest.fail("worked out"))
    with pytest.raises(DesignError) as caught:
        sweep(PAIR, {RADIUS: [30.0, 31.0]}, out=tmp_path / "all.csv", **more)
    assert says in str(caught.value)
    assert not list(tmp_path.iterdir())


# where there is too little room


def test_rows_that_do_not_fit_in_memory_are_told_before_any_work(monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patched:
        patched.setattr(batch, "figures", lambda *_: pytest.fail("worked out"))
        with pytest.raises(
            DesignError, match=r"1,073,741,823 candidates, all kept, take .* of memory; .* are free; write"
        ):
            sweep(PAIR, RANGES, samples=2**30 - 1)
    columns = 1 + len(sweep(PAIR, RANGES, samples=1).names)
    monkeypatch.setattr(room, "memory", lambda: 2 * 8 * columns * 100)
    assert len(sweep(PAIR, RANGES, samples=100)) == 100
    with pytest.raises(DesignError, match="101 candidates, all kept"):
        sweep(PAIR, RANGES, samples=101)
    assert len(sweep(PAIR, RANGES, samples=60_000, best=3)) == 3


def test_kept_rows_that_do_not_fit_in_memory_end_the_sweep_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    columns = 1 + len(sweep(PAIR, RANGES, samples=1).names)
    monkeypatch.setattr(room, "memory", lambda: 2 * 8 * columns * 20_000)
    assert len(sweep(PAIR, RANGES, samples=40_000, keep=["mismatch<=0.5"])) < 20_000
    with pytest.raises(LinkageError, match=r"kept of the first 32,768 candidates do not fit .* of memory; write them"):
        sweep(PAIR, RANGES, samples=40_000, keep=["mismatch<=1000"])


def test_parts_that_do_not_fit_on_the_disk_are_told_before_any_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batch, "figures", lambda *_: pytest.fail("worked out"))
    grid = {RADIUS: np.linspace(26.0, 34.0, 1_000_000), ANGLE: np.linspace(45.0, 57.0, 100_000)}
    with pytest.raises(OutputError, match=r"the parts of 100,000,000,000 candidates, all kept, take .* TB"):
        sweep(PAIR, grid, out=tmp_path / "all.parquet")
    assert not list(tmp_path.iterdir())


def test_parts_in_memory_only_leave_nothing_on_the_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import tempfile

    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    most = 0

    def count(*_: int) -> None:
        nonlocal most
        most = max(most, sum(1 for _ in tmp_path.glob("*/part_????????")))

    sweep(PAIR, RANGES, samples=20 * batch.PART, best=1, workers=2, progress=count)
    assert most < 15  # those read are gone; a few are ahead
    assert not list(tmp_path.iterdir())


# however it is stopped

ROWS = 400_000
KEEP = "mismatch<=2"


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The file as it comes when nothing goes wrong."""
    out = tmp_path_factory.mktemp("undisturbed") / "kept.csv"
    sweep(PAIR, RANGES, samples=ROWS, keep=[KEEP], out=out)
    return out.read_bytes()


def command(folder: Path) -> list[str]:
    design = folder / "pair.toml"
    if not design.exists():
        write(PAIR, design)
    vary = [word for path, (low, high) in RANGES.items() for word in ("--vary", f"{path}={low}..{high}")]
    words = ["sweep", str(design), *vary, "--samples", str(ROWS), "--keep", KEEP, "--out", str(folder / "kept.csv")]
    return [sys.executable, "-m", "linkage", *words, "--workers", "2"]


def begun(folder: Path, **more: Any) -> subprocess.Popen[str]:
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    return subprocess.Popen(command(folder), env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **more)


def ended(process: subprocess.Popen[str]) -> tuple[int, str, str]:
    out, err = process.communicate(timeout=300)
    return process.returncode, out, err


def parts_in(folder: Path) -> list[Path]:
    return sorted(unfinished.folder_of(folder / "kept.csv").glob("part_????????"))


def until(true: Callable[[], bool]) -> None:
    for _ in range(6000):
        if true():
            return
        time.sleep(0.01)
    pytest.fail("waited in vain")


def children(process: subprocess.Popen[str]) -> list[int]:
    listed = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    return [int(pid) for pid in listed.read_text().split()]


def alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


needs_proc = pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="looks for processes in /proc")


@needs_proc
def test_killed_it_keeps_what_is_done_and_goes_on_from_there(tmp_path: Path, undisturbed: bytes) -> None:
    for kept in (2, 8):
        process = begun(tmp_path)
        until(lambda kept=kept, process=process: len(parts_in(tmp_path)) >= kept or process.poll() is not None)  # type: ignore[misc]
        workers = children(process)
        process.send_signal(signal.SIGKILL)
        assert ended(process)[0] == -signal.SIGKILL
        until(lambda workers=workers: not any(map(alive, workers)))  # type: ignore[misc]
        assert not (tmp_path / "kept.csv").exists()
    done = {path: path.stat().st_mtime_ns for path in parts_in(tmp_path)}
    assert len(done) >= 8
    seen = []
    again = sweep(
        read(tmp_path / "pair.toml"), RANGES, samples=ROWS, keep=[KEEP], out=tmp_path / "kept.csv",
        progress=lambda *counts: seen.append((*counts, {p: p.stat().st_mtime_ns for p in done if p.exists()})),
    )  # fmt: skip
    assert seen[-1][:3] == (ROWS, len(done) * batch.PART, ROWS)
    assert all(times == done for *_, times in seen)  # not one was written again
    assert (tmp_path / "kept.csv").read_bytes() == undisturbed
    assert again.tally.rows == ROWS
    assert again.kept == undisturbed.count(b"\n") - 1
    assert sorted(f.name for f in tmp_path.iterdir()) == ["kept.csv", "pair.toml"]


@needs_proc
def test_a_worker_killed_ends_the_sweep_in_words(tmp_path: Path, undisturbed: bytes) -> None:
    process = begun(tmp_path)
    until(lambda: len(parts_in(tmp_path)) >= 2)
    os.kill(children(process)[0], signal.SIGKILL)
    status, out, err = ended(process)
    assert (status, out) == (2, "")
    assert "was stopped from outside (signal 9)" in err
    assert "run the same command again" in err
    assert "Traceback" not in err
    status, out, err = ended(begun(tmp_path))
    assert (status, err) == (0, "")
    assert (tmp_path / "kept.csv").read_bytes() == undisturbed


def test_interrupted_it_says_so_and_goes_on_again(tmp_path: Path, undisturbed: bytes) -> None:
    process = begun(tmp_path, start_new_session=True)
    until(lambda: len(parts_in(tmp_path)) >= 2)
    os.killpg(process.pid, signal.SIGINT)  # as from the keyboard: workers get it too
    status, out, err = ended(process)
    assert (status, out, err) == (130, "", "\nstopped\n")
    assert ended(begun(tmp_path))[0] == 0
    assert (tmp_path / "kept.csv").read_bytes() == undisturbed


@pytest.mark.parametrize("most", [20_000, 2_000_000])
def test_out_of_room_it_keeps_what_is_done(tmp_path: Path, undisturbed: bytes, most: int) -> None:
    """A limit on the size of a file: so small that no part can be kept, or that only the whole cannot."""
    assert len(undisturbed) > 2_000_000

    def little_room() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))

    command(tmp_path)
    status, out, err = ended(begun(tmp_path, preexec_fn=little_room))
    assert (status, out) == (2, "")
    assert "cannot be written (File too large); the finished parts stay there" in err
    assert "Traceback" not in err
    assert not (tmp_path / "kept.csv").exists()
    assert bool(parts_in(tmp_path)) == (most > 1_000_000)
    assert ended(begun(tmp_path))[0] == 0
    assert (tmp_path / "kept.csv").read_bytes() == undisturbed


def test_only_the_same_sweep_goes_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = tmp_path / "all.csv"
    ask: dict[str, Any] = {"vary": {RADIUS: np.linspace(28.0, 32.0, 50_000)}, "out": out, "workers": 1}

    def stop(*_: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        sweep(PAIR, **ask, progress=stop)
    folder = unfinished.folder_of(out)
    assert json.loads((folder / "asked.json").read_text())["slice"] == "0 to 50000"
    for other, says in (
        ({**ask, "keep": ["mismatch<1"]}, "another keep"),
        ({**ask, "slice": (1, 2)}, "another slice"),
        ({**ask, "vary": {RADIUS: np.linspace(28.0, 32.1, 50_000)}}, "another candidates"),
    ):
        with pytest.raises(OutputError, match=says):
            sweep(PAIR, **other)
    with pytest.raises(OutputError, match="another design"):
        sweep(PAIR.replace("shaft.a.arm.drive.radius", 30.5), **ask)
    with monkeypatch.context() as patched:
        patched.setattr(np, "__version__", "0")  # as another release of the program would be
        with pytest.raises(OutputError, match="another version"):
            sweep(PAIR, **ask)
    assert len(parts_in_folder(folder)) == 1
    before: list[int] = []
    sweep(PAIR, **ask, progress=lambda done, earlier, whole: before.append(earlier))
    assert before[-1] == batch.PART
    assert not folder.exists()
    with pytest.raises(KeyboardInterrupt):
        sweep(PAIR, **ask, progress=stop, overwrite=True)
    sweep(PAIR, **{**ask, "vary": {RADIUS: [30.0]}}, overwrite=True)  # throws the other's parts away
    assert len(out.read_text().splitlines()) == 2
    assert not folder.exists()


def parts_in_folder(folder: Path) -> list[Path]:
    return sorted(folder.glob("part_????????"))


def test_a_part_that_came_to_harm_is_done_again(tmp_path: Path) -> None:
    out = tmp_path / "all.csv"
    ask: dict[str, Any] = {"vary": RANGES, "samples": 40_000, "out": out, "workers": 1}
    sweep(PAIR, **ask)
    wanted = out.read_bytes()
    out.unlink()
    count = 0

    def stop(*_: int) -> None:
        nonlocal count
        count += 1
        if count == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        sweep(PAIR, **ask, progress=stop)
    first, second = parts_in_folder(unfinished.folder_of(out))
    data = bytearray(first.read_bytes())
    data[5000] ^= 1  # one bit
    first.write_bytes(data)
    second.write_bytes(second.read_bytes()[:1000])
    sweep(PAIR, **ask)
    assert out.read_bytes() == wanted


def test_the_sample_of_a_part_does_not_hold_the_rest_of_it(tmp_path: Path) -> None:
    plan = planned(PAIR, variation(PAIR, RANGES, samples=1_000_000))
    unfinished.save(tmp_path, 0, batch.work_out(plan, 0))
    part = unfinished.load(tmp_path, 0)
    assert part is not None
    assert 1000 < part.sampled.size < 3000
    for array in (part.sampled, part.sample):  # kept to the end of a sweep, of all its parts
        assert array.base is None or array.base.nbytes == array.nbytes


def test_a_file_of_noughts_is_no_part(tmp_path: Path) -> None:
    (tmp_path / "part_00000003").write_bytes(bytes(4096))  # as a power cut may leave one
    assert unfinished.is_there(tmp_path, 3)
    assert unfinished.load(tmp_path, 3) is None


def test_two_at_once_do_not_meet(tmp_path: Path) -> None:
    folder = tmp_path / "x.unfinished"
    with (
        unfinished.folder_for(folder, {"a": "b"}),
        pytest.raises(OutputError, match="another process is working"),
        unfinished.folder_for(folder, {"a": "b"}),
    ):
        pass


# as a whole


def test_a_result_shows_itself() -> None:
    found = sweep(PAIR, {RADIUS: np.linspace(29.0, 31.0, 100)})
    title, head, first, *_, last = str(found).splitlines()
    assert "100 candidates" in title
    assert title.endswith("100 kept")
    assert head.split()[:3] == ["candidate", RADIUS, "[mm]"]
    assert (first.split()[:2], last.split()[:2]) == (["0", "29.000"], ["99", "31.000"])
    assert "gap:" not in head
    assert "<table>" in found._repr_html_()
    assert "gap:" in found._repr_html_()
    frame = found.to_frame()
    assert frame.shape == (100, 1 + len(found.names))
    assert list(frame.columns[:2]) == ["candidate", f"{RADIUS} [mm]"]
    with pytest.raises(DesignError, match="must be from 0 to 99"):
        found.design(100)


def test_all_processors_are_used_unless_told() -> None:
    assert crew.cores() >= 1
    assert linkage.sweep is sweep


def test_a_file_that_came_meanwhile_is_left_alone(tmp_path: Path) -> None:
    out = tmp_path / "all.csv"

    def another(*_: int) -> None:
        out.write_text("mine")

    with pytest.raises(OutputError, match="stands there now"):
        sweep(PAIR, {RADIUS: [30.0]}, out=out, progress=another)
    assert out.read_text() == "mine"
    out.unlink()
    sweep(PAIR, {RADIUS: [30.0]}, out=out)
    assert len(out.read_text().splitlines()) == 2


def test_a_link_is_followed(tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    (tmp_path / "all.csv").symlink_to(tmp_path / "there" / "real.csv")
    sweep(PAIR, {RADIUS: [30.0]}, out=tmp_path / "all.csv")
    assert (tmp_path / "all.csv").is_symlink()
    assert (tmp_path / "there" / "real.csv").read_text().startswith("candidate,")
