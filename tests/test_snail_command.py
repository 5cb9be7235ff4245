"""``throttle-linkage snail``: what it prints, what it writes, its exit status."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

import linkage
from linkage.cli import throttle_linkage

DEMO = Path(__file__).parents[1] / "demo"


def run(*words: str) -> Result:
    return CliRunner().invoke(throttle_linkage, ["snail", *words])


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_it_writes_the_profile_and_a_picture(here: Path) -> None:
    done = run(str(DEMO / "crossed_pair_reclocked.toml"), "--wish", "progression=0.5:0.42")
    assert done.exit_code == 0, done.output
    assert "50.0        42.00            42.00" in done.output
    assert "not a certificate" in done.output
    assert "give it before the groove is cut" in done.output  # no casing end
    text = (here / "crossed_pair_reclocked_snail.toml").read_text(encoding="utf-8")
    assert "# on a round quadrant: equal degrees for equal cable" in text
    assert linkage.parse(text).cable.profile is not None  # type: ignore[union-attr]
    assert (here / "crossed_pair_reclocked_snail.png").read_bytes()[1:4] == b"PNG"
    again = run(str(DEMO / "crossed_pair_reclocked.toml"), "--wish", "progression=0.5:0.42")
    assert again.exit_code == 2
    assert "--force" in again.output


def test_the_demo_by_its_own_wish(here: Path) -> None:
    done = run(str(DEMO / "snail.toml"), "--points", "9", "--json")
    assert done.exit_code == 0, done.output
    found = json.loads(done.stdout)
    rig = linkage.read(DEMO / "snail.toml")
    assert rig.cable is not None
    assert rig.cable.profile is not None
    drawn = [p.moment_arm for p in rig.cable.profile.values()]
    assert [arm for _, arm in found["profile"]] == pytest.approx(drawn, abs=0.16)  # "rounded to what ... can follow"
    assert found["sound"] is True
    assert found["cable_travel"]["after"] == pytest.approx(38.0, abs=1e-3)
    assert [p["opens"] for p in found["progression"]] == pytest.approx([0.18, 0.4], abs=1e-5)


def test_a_cusp_is_exit_status_1_and_is_written_all_the_same(here: Path) -> None:
    done = run(
        str(DEMO / "crossed_pair_reclocked.toml"), "--wish", "progression=0.25:0.15,0.5:0.38",
        "--wish", "progression_ratio=2.2", "--points", "9", "--out", "cusp.toml", "--picture", "cusp.svg",
    )  # fmt: skip
    assert done.exit_code == 1, done.output
    assert "would have a cusp from" in " ".join(done.output.split())
    assert (here / "cusp.toml").exists()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--wish", "progression=0.5:0.05"), "no moment arm above 0"),
        (("--wish", "progression"), "write NAME=VALUE"),
        (("--picture", "x.doc"), "is no kind of picture"),
        (("--points", "2"), "2"),
    ],
)
def test_what_cannot_be_used(here: Path, words: tuple[str, ...], says: str) -> None:
    done = run(str(DEMO / "cross_tube.toml"), *words)
    assert done.exit_code == 2
    assert says in done.output
    assert not list(here.iterdir())
