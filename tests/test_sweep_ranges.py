"""Ranges as typed: what they become, and what is said of those that cannot be."""

from __future__ import annotations

import dataclasses
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from trains import bell_crank, coupled, skew

from linkage.errors import DesignError
from linkage.search.ranges import asked
from linkage.search.vary import Box, Grid

RADIUS = "shaft.left.arm.drive.radius"
Y = "bellcrank.centre.pivot.y"
RIG = bell_crank()


def grid(*texts: str, units: str = "mm") -> Grid:
    found = asked(dataclasses.replace(RIG, units=units), texts)  # type: ignore[arg-type]
    assert isinstance(found, Grid)
    return found


def values(text: str, units: str = "mm") -> list[float]:
    return list(grid(f"{RADIUS}={text}", units=units).values[RADIUS])


def test_both_ends_are_included_and_decimals_stay_as_typed() -> None:
    assert values("30:31:0.1") == [30.0, 30.1, 30.2, 30.3, 30.4, 30.5, 30.6, 30.7, 30.8, 30.9, 31.0]
    assert values("30:40:2.5") == [30.0, 32.5, 35.0, 37.5, 40.0]
    assert values("30:30:1") == [30.0]
    assert values(" 30 : 32 : 1 ") == [30.0, 31.0, 32.0]


def test_a_million_values_are_those_of_the_exact_steps() -> None:
    found = grid(f"{RADIUS}=30:40:0.00001").values[RADIUS]
    assert len(found) == 1_000_001
    for i in (0, 1, 3, 123_457, 999_999, 1_000_000):
        assert found[i] == float(Decimal(30) + i * Decimal("0.00001"))
    odd = "30.00000000000000001"  # past the machine's whole numbers
    found = grid(f"{RADIUS}={odd}:33.00000000000000001:0.5").values[RADIUS]
    assert list(found) == [float(Decimal(odd) + i * Decimal("0.5")) for i in range(7)]


def test_lists() -> None:
    assert values("34") == [34.0]
    assert values("36,34,35.5") == [36.0, 34.0, 35.5]


def test_units() -> None:
    assert values("1 in,35,1 1/4 in") == [25.4, 35.0, 31.75]
    assert values("1.5", "in") == pytest.approx([38.1], rel=1e-15)
    assert values("1 1/2,40 mm", "in") == pytest.approx([38.1, 40.0], rel=1e-15)
    assert values("1in:1 1/2in:1/4in") == pytest.approx([25.4, 31.75, 38.1], rel=0, abs=1e-12)
    assert values("1:1.5:0.25", "in") == pytest.approx([25.4, 31.75, 38.1], rel=0, abs=1e-12)
    angle = "shaft.left.arm.drive.angle"
    assert list(grid(f"{angle}=-10,35 deg", units="in").values[angle]) == [-10.0, 35.0]


def test_an_optional_dimension_that_the_design_leaves_out_can_be_varied() -> None:
    assert grid("link.left.length=120:130:5").rows == 3
    assert grid("cable.travel=30,40").rows == 2


def test_samples_want_ends() -> None:
    box = asked(RIG, [f"{RADIUS}=30..40", f"{Y}=50..2.5in"], samples=100, seed=7)
    assert isinstance(box, Box)
    assert box.ends == {RADIUS: (30.0, 40.0), Y: (50.0, 63.5)}
    assert (box.rows, box.seed) == (100, 7)
    assert asked(RIG, [f"{RADIUS}=.5..40."], samples=1).rows == 1


NUMBER = st.decimals(Decimal("0.01"), 500, places=2)


@given(NUMBER, st.decimals(Decimal("0.01"), 5, places=2), st.integers(0, 200))
def test_a_range_is_every_step_from_end_to_end(low: Decimal, step: Decimal, count: int) -> None:
    found = values(f"{low}:{low + count * step}:{step}")
    assert found == [float(low + i * step) for i in range(count + 1)]


@given(NUMBER, NUMBER)
def test_ends_are_taken_in_order_only(one: Decimal, other: Decimal) -> None:
    low, high = sorted((one, other))
    if low < high:
        assert asked(RIG, [f"{RADIUS}={low}..{high}"], samples=4).rows == 4
    with pytest.raises(DesignError, match="is empty"):
        asked(RIG, [f"{RADIUS}={high}..{low}"], samples=4)
    if low < high:
        with pytest.raises(DesignError, match="is empty"):
            values(f"{high}:{low}:1")


@given(st.lists(NUMBER, min_size=1, max_size=8))
def test_a_list_comes_as_it_is(numbers: list[Decimal]) -> None:
    assert values(",".join(map(str, numbers))) == [float(number) for number in numbers]


@given(st.text(max_size=30), st.sampled_from([None, 8]))
def test_whatever_is_typed_there_is_an_answer_or_a_fault(text: str, samples: int | None) -> None:
    for typed in (text, f"{RADIUS}={text}"):
        try:
            found = asked(RIG, [typed], samples=samples)
        except DesignError as error:
            assert all(fault.says and str(fault).startswith("sweep: ") for fault in error.faults)
        else:
            assert found.paths == (RADIUS,)
            block = found.block(0, min(found.rows, 100))[RADIUS]
            assert np.all((block >= 1e-3) & (block <= 1e5))


BAD: dict[str, tuple[str, str]] = {
    "no path": ("30:40:1", "must be PATH=RANGE"),
    "nothing near": ("speed=30", "write a path as the design file has it, such as shaft.left."),
    "misspelt": ("shaft.left.arm.drive.raduis=30", 'did you mean "shaft.left.arm.drive.radius"?'),
    "a word": ("shaft.left.opens=cw", "is not a dimension"),
    "a whole part": ("shaft.left=3", "is not a dimension"),
    "a point": (f"{Y[:-2]}=3", f'did you mean "{Y[:-2]}'),
    "a pin where there is a radius": ("shaft.left.arm.drive.pin.x=3", "is not a dimension"),
    "not of its form": ("cable.radius=30", "does not go with"),
    "no range": (f"{RADIUS}=", "has a value missing"),
    "a hole": (f"{RADIUS}=30,,40", "has a value missing"),
    "two colons": (f"{RADIUS}=30:40", "is no range; write LOW:HIGH:STEP"),
    "no end": (f"{RADIUS}=30::1", "is no range"),
    "backwards": (f"{RADIUS}=40:30:1", "is empty"),
    "no step": (f"{RADIUS}=30:40:0", "is empty"),
    "step back": (f"{RADIUS}=30:40:-1", "is empty"),
    "step too long": (f"{RADIUS}=30:31:0.4", "a step of 0.5 or 0.3333333333 mm does"),
    "huge": (f"{RADIUS}=1:90000:1e-9", "has more than 10,000,000 values"),
    "to be sampled": (f"{RADIUS}=30..40", "is to be sampled; say how many samples"),
    "beyond its rule": (f"{RADIUS}=0:10:1", "must be from 0.001 to 100000 mm, got 0"),
    "no number": (f"{RADIUS}=thirty", "is not a number"),
    "not finite": (f"{RADIUS}=1e999", "must be a finite number"),
    "another kind": (f"{RADIUS}=30 deg", "is the unit of an angle"),
    "python": (f"{RADIUS}=__import__('os')", "is not a number"),
}


@pytest.mark.parametrize("name", BAD)
def test_what_cannot_be_is_told(name: str) -> None:
    text, says = BAD[name]
    with pytest.raises(DesignError) as caught:
        asked(RIG, [text])
    assert says in str(caught.value)


def test_every_fault_is_told_at_once() -> None:
    with pytest.raises(DesignError) as caught:
        asked(RIG, [BAD["misspelt"][0], BAD["backwards"][0], f"{Y}=1,2", f"{Y}=3"])
    assert [fault.place for fault in caught.value.faults] == [
        "vary shaft.left.arm.drive.raduis", f"vary {RADIUS}", f"vary {Y}",
    ]  # fmt: skip
    with pytest.raises(DesignError, match="names nothing to vary"):
        asked(RIG, [])


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"samples": 0}, "samples: must be a whole number from 1"),
        ({"samples": 2**40}, "samples: must be a whole number from 1"),
        ({"samples": 5, "seed": -1}, "seed: must be a whole number"),
    ],
)
def test_samples_and_seed_have_their_rules(more: dict[str, Any], says: str) -> None:
    with pytest.raises(DesignError, match=says):
        asked(RIG, [f"{RADIUS}=30..40"], **more)
    with pytest.raises(DesignError, match=r"no range to be sampled; write LOW\.\.HIGH"):
        asked(RIG, [f"{RADIUS}=30:40:1"], samples=5)


def test_more_candidates_than_can_be_counted_are_refused() -> None:
    many = [f"{path}=1:100000:0.1" for path in (RADIUS, "shaft.right.arm.drive.radius", "cable.travel")]
    with pytest.raises(DesignError, match="are the most"):
        asked(RIG, many)


def test_pins_and_couplings_have_paths_too() -> None:
    assert asked(skew(), ["bellcrank.upright.arm.near.pin.x=100:102:1"]).rows == 3
    assert asked(coupled(), ["coupling.sync.offset=-1:1:0.5", "coupling.sectors.ratio=-1.05,-1"]).rows == 10
