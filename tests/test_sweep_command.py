"""The commands ``sweep`` and ``pick``: what they print, write and refuse."""

from __future__ import annotations

import csv
import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

import linkage
from linkage.cli import throttle_linkage
from linkage.search.sweep import sweep

FLAGSHIP = str(Path(__file__).parents[1] / "demo" / "flat_six.toml")
INCHES = str(Path(__file__).parents[1] / "demo" / "v8_inches.toml")
Y, RADIUS, ANGLE = "bellcrank.centre.pivot.y", "shaft.left.arm.drive.radius", "shaft.left.arm.drive.angle"
BOX = ("--vary", f"{Y}=55..65", "--vary", f"{RADIUS}=34..36", "--samples", "400")


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def run(*args: str) -> Result:
    return CliRunner().invoke(throttle_linkage, args, prog_name="throttle-linkage")


def done(*args: str) -> str:
    result = run(*args)
    assert (result.exit_code, result.stderr.strip()) == (0, ""), result.output
    return result.stdout


def refused(result: Result, says: str) -> None:
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert says in result.stderr
    assert "Traceback" not in result.stderr
    assert not list(Path().iterdir())


def rows(path: str) -> list[dict[str, str]]:
    with open(path, encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_it_tells_what_there_was_and_what_moves_what() -> None:
    out = done("sweep", FLAGSHIP, *BOX)
    found = sweep(linkage.read(FLAGSHIP), {Y: (55.0, 65.0), RADIUS: (34.0, 36.0)}, samples=400)
    counts = found.verdicts()
    assert counts["pass"] + counts["fail"] + counts["caution"] == 400
    assert f"  pass     {counts['pass']:3d}" in out
    assert "400 candidates in" in out
    least = next(line for line in out.splitlines() if line.startswith("  mismatch [deg]")).split()
    assert float(least[2]) == pytest.approx(found["mismatch"].min(), abs=5e-4)
    moved = next(line for line in out.splitlines() if line.startswith("  length:right ") and "%" in line)
    assert "100 % centre.pivot.y rises" in moved  # the right link's length hangs on nothing else here
    assert "calculation, not a certificate" in out


def test_keep_best_front_and_slice() -> None:
    done("sweep", FLAGSHIP, *BOX, "--keep", "verdict!=fail", "--keep", "mismatch<=0.5", "--out", "kept.csv")
    kept = rows("kept.csv")
    assert 0 < len(kept) < 400
    assert all(row["verdict"] != "fail" and float(row["mismatch [deg]"]) <= 0.5 for row in kept)
    out = done("sweep", FLAGSHIP, *BOX, "--best", "3", "--by", "progression_ratio", "--out", "best.csv")
    best = [float(row["progression_ratio"]) for row in rows("best.csv")]
    assert len(best) == 3
    assert best == sorted(best, reverse=True)
    assert "THE BEST 3 BY PROGRESSION_RATIO (MOST FIRST)" in out
    out = done("sweep", FLAGSHIP, *BOX, "--front", "mismatch, progression_ratio", "--out", "front.csv")
    assert f"THE FRONT OF MISMATCH (LESS) AND PROGRESSION_RATIO (MORE): {len(rows('front.csv'))} CANDIDATES" in out
    done("sweep", FLAGSHIP, *BOX, "--out", "all.csv")
    for part in range(1, 4):
        done("sweep", FLAGSHIP, *BOX, "--slice", f"{part}/3", "--out", f"{part}.csv")
    assert rows("1.csv") + rows("2.csv") + rows("3.csv") == rows("all.csv")


def test_a_grid_in_the_designs_own_unit() -> None:
    path = "bellcrank.jackshaft.pivot.y"
    rig = linkage.read(INCHES)
    if path not in linkage.dimensions(rig):
        path = next(path for path in linkage.dimensions(rig) if path.endswith(".pivot.y"))
    start = round(linkage.dimensions(rig)[path] / 25.4, 3)
    done("sweep", INCHES, "--vary", f"{path}={start}:{start + 0.1:.3f}:0.05", "--out", "grid.csv")
    found = rows("grid.csv")
    assert [float(row[f"{path} [in]"]) for row in found] == pytest.approx([start, start + 0.05, start + 0.1], abs=1e-12)


def test_a_picked_row_is_the_design_with_those_values() -> None:
    done("sweep", FLAGSHIP, *BOX, "--best", "2", "--out", "best.csv")
    row = rows("best.csv")[0]
    result = run("pick", FLAGSHIP, "best.csv", row["candidate"], "--out", "better.toml")
    assert (result.exit_code, result.stdout) == (0, "better.toml\n")
    better, before = linkage.read("better.toml"), linkage.read(FLAGSHIP)
    changed = {
        path: value for path, value in linkage.dimensions(better).items() if linkage.dimensions(before)[path] != value
    }
    assert changed == {Y: pytest.approx(float(row[f"{Y} [mm]"])), RADIUS: pytest.approx(float(row[f"{RADIUS} [mm]"]))}
    assert better.link["left"].length is None
    text = Path("better.toml").read_text(encoding="utf-8")
    assert "# stands up: the link passes above the shaft" in text  # the comments stay
    from linkage.answers.mismatch import mismatch

    assert mismatch(linkage.solve(better)).largest.value == pytest.approx(float(row["mismatch [deg]"]), abs=1e-8)
    assert done("pick", FLAGSHIP, "best.csv", row["candidate"]) == text
    assert run("pick", FLAGSHIP, "best.csv", row["candidate"], "--out", "better.toml").exit_code == 2
    assert "has no candidate 987654" in run("pick", FLAGSHIP, "best.csv", "987654").stderr
    Path("other.csv").write_text(f"{Y}\n60\n", encoding="utf-8")
    assert 'has no column "candidate"' in run("pick", FLAGSHIP, "other.csv", "0").stderr
    assert "is not a dimension of this design" in run("pick", INCHES, "best.csv", row["candidate"]).stderr


def test_parquet_is_picked_from_too() -> None:
    done("sweep", FLAGSHIP, *BOX, "--out", "all.parquet")
    done("sweep", FLAGSHIP, *BOX, "--out", "all.csv")
    texts = [done("pick", FLAGSHIP, name, "123") for name in ("all.parquet", "all.csv")]
    assert texts[0] == texts[1]


def test_candidates_from_a_file() -> None:
    Path("mine.csv").write_text(f"{Y},{RADIUS} [in]\n60,1.375\n58,1 3/8 in\n", encoding="utf-8")
    done("sweep", FLAGSHIP, "--candidates", "mine.csv", "--out", "all.csv")
    found = rows("all.csv")
    assert [float(row[f"{RADIUS} [mm]"]) for row in found] == pytest.approx([34.925, 34.925])
    assert [float(row[f"{Y} [mm]"]) for row in found] == [60.0, 58.0]


def test_a_picture_over_what_a_file_does_not_vary_is_refused_before_the_work(tmp_path: Path) -> None:
    Path("mine.csv").write_text(f"{Y}\n60\n61\n", encoding="utf-8")
    result = run(
        "sweep", FLAGSHIP, "--candidates", "mine.csv", "--out", "all.csv", "--picture", "a.png", "--across", ANGLE
    )
    assert result.exit_code == 2
    assert "is not varied" in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["mine.csv"]


def test_of_rows_in_a_file_the_report_tells_how_many() -> None:
    out = done("sweep", FLAGSHIP, *BOX[:-1], "150000", "--keep", "verdict!=fail", "--out", "kept.csv")
    kept = len(rows("kept.csv"))
    assert 1000 < kept < 150_000
    assert f"CANDIDATES KEPT: {kept:,}, in kept.csv" in out
    assert f"… and {kept - 20:,} more." in out


def test_lines_of_the_report_fit_the_sheet() -> None:
    ranges = (f"{Y}=55..65", f"{RADIUS}=34..36", f"{ANGLE}=55..58", "bellcrank.centre.arm.left.angle=60..70")
    out = done("sweep", FLAGSHIP, *(word for text in ranges for word in ("--vary", text)), "--samples", "4000")
    table = out[out.index("WHAT MOVES WHAT") : out.index("CANDIDATES KEPT")]
    assert max(map(len, table.splitlines())) <= 96
    assert " %" in table
    assert "One dimension is varied" in done("sweep", FLAGSHIP, "--vary", f"{Y}=55:65:1")


def test_pictures() -> None:
    out = done("sweep", FLAGSHIP, *BOX, "--picture", "map.png")
    assert out.endswith("map.png\n")
    assert Path("map.png").read_bytes().startswith(b"\x89PNG")
    done("sweep", FLAGSHIP, *BOX, "--picture", "curve.svg", "--across", Y, "--by", "cable_travel")
    assert Path("curve.svg").read_text(encoding="utf-8").startswith("<?xml")


@pytest.mark.parametrize(
    ("args", "says"),
    [
        ((), "names nothing to vary"),
        (("--vary", f"{Y}=65:55:1"), "is empty"),
        (("--vary", "bellcrank.center.pivot.y=55:65:1"), 'did you mean "bellcrank.centre.pivot.y"?'),
        ((*BOX, "--keep", "mismach<1"), 'did you mean "mismatch"?'),
        ((*BOX, "--keep", "mismatch<1e"), "keep mismatch<1e:"),
        ((*BOX, "--by", "speed", "--best", "3"), '"speed" is not a figure'),
        ((*BOX, "--front", "mismatch"), "must name two or three figures"),
        ((*BOX, "--slice", "4"), "is no part of the whole; write such as 3/16"),
        ((*BOX, "--slice", "5/4"), "must be such as 3/16"),
        ((*BOX, "--out", "all.xlsx"), "is no kind of table"),
        ((*BOX, "--out", "no/all.csv"), "there is no folder"),
        ((*BOX, "--picture", "all.gif"), "is no kind of picture"),
        ((*BOX, "--picture", "a.png", "--across", ANGLE), "is not varied"),
        ((*BOX, "--picture", "a.png", "--by", "speed"), '"speed" is not a figure'),
        ((*BOX, "--across", Y), "name it with --picture"),
        ((*BOX, "--candidates", "mine.csv"), "goes in place of --vary"),
        (("--candidates", "mine.csv"), "mine.csv: "),
        ((*BOX, "--workers", "0"), "--workers"),
    ],
)
def test_what_cannot_be_is_refused(args: tuple[str, ...], says: str) -> None:
    refused(run("sweep", FLAGSHIP, *args), says)


def test_somebody_who_watches_sees_how_far_it_is() -> None:
    main, other = pty.openpty()
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    words = ["sweep", FLAGSHIP, *BOX[:-1], "60000", "--best", "1", "--workers", "1"]
    with subprocess.Popen(
        [sys.executable, "-m", "linkage", *words], stdout=subprocess.DEVNULL, stderr=other, env=env
    ) as process:
        os.close(other)
        seen = b""
        while True:
            try:
                piece = os.read(main, 4096)
            except OSError:
                break
            if not piece:
                break
            seen += piece
        os.close(main)
    assert process.returncode == 0
    last = seen.decode().rstrip("\r\x1b[K").rpartition("\r\x1b[K")[2]
    assert last.startswith("60,000 of 60,000 candidates, 100 %, ")
    assert " a second" in last
