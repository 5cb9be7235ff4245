"""Rates of springs, against the strain energy of the bent and of the twisted wire."""

import math

import pytest

from linkage.spring_wire import extension_coils, extension_rate, rod_end_tilt, torsion_coils, torsion_rate


def test_a_torsion_spring_is_a_bent_bar():
    """The wire, of length pi D N, bends under the torque: k = E I / length with I = pi d^4 / 64."""
    wire, mean, coils, modulus = 1.6, 18.0, 5.5, 207e3
    bar = modulus * math.pi * wire**4 / 64.0 / (math.pi * mean * coils)
    assert torsion_rate(wire, mean, coils, modulus) == pytest.approx(bar, rel=1e-12)
    rubbing = torsion_rate(wire, mean, coils, modulus, friction=True)
    assert rubbing / bar == pytest.approx(64.0 / (10.8 * 2.0 * math.pi), rel=1e-12)


def test_an_extension_spring_is_a_twisted_bar():
    """The wire, of length pi D N, twists under F D/2: stretch = F (D/2)^2 length / (G J), J = pi d^4 / 32."""
    wire, mean, coils, shear = 1.0, 9.0, 20.0, 79e3
    bar = shear * math.pi * wire**4 / 32.0 / ((mean / 2.0) ** 2 * math.pi * mean * coils)
    assert extension_rate(wire, mean, coils, shear) == pytest.approx(bar, rel=1e-12)


def test_ends_count_a_share():
    assert torsion_coils(4.0, (0.0, 0.0), 10.0) == 4.0
    assert torsion_coils(4.0, (30.0 * math.pi, 0.0), 10.0) == pytest.approx(5.0, abs=1e-12)
    assert extension_coils(10.0, 80.0, 200.0) == pytest.approx(10.4, abs=1e-12)


def test_a_rod_end_tilts_until_the_housing_meets_the_shoulder():
    """Shoulder corner on the ball at half its width: in the ball's own circle the two corners stand at the
    angles whose sines are half widths over radius."""
    assert rod_end_tilt(8.0, 0.0, 16.0) == pytest.approx(30.0, abs=1e-12)
    assert rod_end_tilt(8.0, 8.0, 16.0) == pytest.approx(0.0, abs=1e-12)
