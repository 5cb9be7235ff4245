"""Thread designations, sizes and turns."""

from __future__ import annotations

import pytest

from linkage.errors import DesignError
from linkage.threads import length_per_turn, thread


@pytest.mark.parametrize(
    ("designation", "nominal", "pitch"),
    [
        ("M5x0.8", 5.0, 0.8),
        ("m8 x 1.25", 8.0, 1.25),
        ("M10×1.5", 10.0, 1.5),
        ("1/4-28 UNF", 6.35, 25.4 / 28),
        ("5/16-24", 7.9375, 25.4 / 24),
        ("10-32 UNF", 4.826, 0.79375),
        ("#10-24 UNC", 4.826, 25.4 / 24),
    ],
)
def test_designations(designation: str, nominal: float, pitch: float) -> None:
    found = thread(designation)
    assert found.nominal == pytest.approx(nominal, rel=1e-15)
    assert found.pitch == pytest.approx(pitch, rel=1e-15)


@pytest.mark.parametrize(
    "designation",
    ["", "M8", "M8x", "M8x0", "M8x9", "M0x1", "1/0-28", "1/4-0 UNF", "1/4", "8", "M8x1,25", "M8x1.25 LH?"],
)
def test_an_unreadable_designation_says_how_to_write_it(designation: str) -> None:
    with pytest.raises(DesignError, match=r'thread: must be .* got ".*"; write it like "M6x1"'):
        thread(designation)


def test_minor_diameter_is_the_tables_to_their_last_digit() -> None:
    # ISO 724, internal thread minor diameter D1, three decimals (from memory)
    for designation, minor in {"M5x0.8": 4.134, "M6x1": 4.917, "M8x1.25": 6.647, "M10x1.5": 8.376}.items():
        assert thread(designation).minor == pytest.approx(minor, rel=0.0, abs=5e-4)


def test_a_tube_with_both_hands_moves_two_pitches_a_turn() -> None:
    assert length_per_turn(0.8, "left+right") == 1.6
    assert length_per_turn(0.8, "right") == 0.8
    assert thread("M6x1").turns_in(9.0) == 9.0
