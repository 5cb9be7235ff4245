"""Sections in torsion against the trade's table, the thin tube, and integration over the section."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from linkage.answers.torsion import SHEAR_MODULUS, between, modulus_of, second_moment, specific, stiffness, wind_up
from linkage.parts import BellCrank, Section, Shaft


@pytest.mark.parametrize(
    ("diameter", "wall", "degrees"), [(8.0, None, 0.54), (10.0, None, 0.22), (12.7, 1.6, 0.12), (16.0, 1.5, 0.06)]
)
def test_the_trades_table_of_one_newton_metre_over_300_mm(diameter: float, wall: float | None, degrees: float) -> None:
    member = BellCrank("tube", (0.0, 0.0, 0.0), twist=Section(diameter, wall))
    assert specific(member) == pytest.approx(degrees, abs=0.005)


def test_eight_millimetres_of_steel_by_hand() -> None:
    """pi x 8^4 / 32 = 402.12 mm^4; 1000 x 300 / (79 300 x 402.12) = 0.009408 rad = 0.5390 deg."""
    assert second_moment(8.0) == pytest.approx(402.12, abs=0.005)
    assert specific(Shaft("a", (0.0, 0.0, 0.0), shaft_diameter=8.0, twist=Section())) == pytest.approx(0.5390, abs=5e-5)


def test_the_second_moment_is_that_of_the_rings() -> None:
    for diameter, wall in ((9.0, None), (12.7, 1.6), (16.0, 8.0), (16.0, 9.0)):
        inside = 0.0 if wall is None else max(0.5 * diameter - wall, 0.0)
        rings, _ = quad(lambda r: 2.0 * math.pi * r**3, inside, 0.5 * diameter)
        assert second_moment(diameter, wall) == pytest.approx(rings, rel=1e-12)


def test_a_thin_tube_comes_to_the_textbooks_thin_tube() -> None:
    """J of a thin tube: 2 pi R^3 t, R at the middle of its wall; the next term is (t / 2 R)^2."""
    middle, wall = 10.0, 0.01
    assert second_moment(2.0 * middle + wall, wall) == pytest.approx(2.0 * math.pi * middle**3 * wall, rel=1e-6)


def test_materials_moduli_and_what_slots_leave() -> None:
    def made(**more: object) -> Shaft:
        return Shaft("a", (0.0, 0.0, 0.0), shaft_diameter=8.0, twist=Section(**more))  # type: ignore[arg-type]

    whole = stiffness(made())
    assert whole == pytest.approx(79_300.0 * second_moment(8.0), rel=1e-12)
    assert stiffness(made(stiffness_share=0.7)) == pytest.approx(0.7 * whole, rel=1e-12)
    assert stiffness(made(diameter=16.0)) == pytest.approx(16.0 * whole, rel=1e-12)
    assert stiffness(made(shear_modulus=26.0)) == pytest.approx(26.0 / 79.3 * whole, rel=1e-12)
    for material in SHEAR_MODULUS:
        section = Section(material=material)  # type: ignore[arg-type]
        assert modulus_of(section) == SHEAR_MODULUS[material]
    # an isotropic metal: G = E / (2 (1 + nu)); E and Poisson's ratio from memory, so within two in a hundred
    for material, elastic, poisson in (
        ("steel", 207.0, 0.292), ("stainless", 190.0, 0.305), ("aluminium", 71.7, 0.333), ("titanium", 114.0, 0.34)
    ):  # fmt: skip
        assert SHEAR_MODULUS[material] == pytest.approx(elastic / (2.0 * (1.0 + poisson)), rel=0.02)
    assert stiffness(Shaft("a", (0.0, 0.0, 0.0))) == math.inf


def test_a_chain_of_torsion_bars_by_its_stiffness_matrix() -> None:
    """Finite elements: k = G J / L a bar, the first station held, the others free to turn under their torques."""
    stations, stiff = np.array([-40.0, 0.0, 25.0, 25.0, 180.0, 300.0]), 3.1e7
    loads = np.array([[0.0, 40.0, -250.0, 30.0, 90.0, 400.0], [0.0, -10.0, 5.0, 0.0, 0.0, -80.0]]).T
    loads[0] = -np.sum(loads[1:], axis=0)
    bars = np.zeros((6, 6))
    for i, span in enumerate(np.diff(stations)):
        k = stiff / max(span, 1e-7)  # two grips at one station: as good as rigid
        bars[np.ix_([i, i + 1], [i, i + 1])] += k * np.array([[1.0, -1.0], [-1.0, 1.0]])
    expected = np.linalg.solve(bars[1:, 1:], loads[1:])
    found = wind_up(stations, loads, stiff)
    assert found[0] == pytest.approx([0.0, 0.0], abs=0.0)
    np.testing.assert_allclose(found[1:], expected, rtol=1e-6, atol=1e-12)
    # what is carried past the last bar is the last torque
    assert between(stations, loads)[-1] == pytest.approx([400.0, -80.0], abs=1e-12)
