"""Open area of a plate, against numerical projection of the tilted disc and its shaft."""

import numpy as np
import pytest
import trains

from linkage import solve
from linkage.answers.airflow import open_area, open_area_fraction


def projected(psi: float, shut: float, a: float, strips: int = 400_000) -> float:
    """Bore less plate and shaft, strip by strip along the shaft: an independent route to the open fraction.

    In units of the bore's radius. A plate that shuts at ``shut`` is the ellipse which, so tilted,
    covers the bore; at psi it covers |y| <= sqrt(1 - x^2) cos(psi)/cos(shut). The shaft covers |y| <= a.
    """
    x = (np.arange(strips) + 0.5) / strips
    bore = np.sqrt(1.0 - x * x)
    plate = bore * np.cos(np.radians(psi)) / np.cos(np.radians(shut))
    hidden = np.minimum(np.maximum(plate, a), bore)
    return float(np.sum(bore - hidden) / np.sum(bore))


@pytest.mark.parametrize("a", [0.0, 0.1, 0.2])
@pytest.mark.parametrize("shut", [0.0, 7.0])
@pytest.mark.parametrize("psi", [7.0, 8.0, 30.0, 60.0, 79.0, 85.0, 90.0])
def test_against_numerical_projection(psi, shut, a):
    assert open_area_fraction(psi, shut=shut, shaft_ratio=a) == pytest.approx(projected(psi, shut, a), abs=2e-6)


def test_shut_and_below_is_shut_and_past_the_axis_folds_back():
    assert open_area_fraction([12.0, 5.0], shut=12.0, shaft_ratio=0.2).tolist() == pytest.approx([0.0, 0.0], abs=1e-15)
    assert open_area_fraction(95.0, shut=5.0) == pytest.approx(float(open_area_fraction(85.0, shut=5.0)), abs=1e-15)


def test_just_off_shut_nothing_cancels():
    """To first order the slit of a thin plate opens by tan(shut) per radian, of the bore's area."""
    small = 1e-9
    found = float(open_area_fraction(12.0 + small, shut=12.0))
    assert found == pytest.approx(np.tan(np.radians(12.0)) * np.radians(small), rel=1e-6)


def test_a_shaft_counts_all_its_plates():
    rig = trains.bell_crank().replace("shaft.left.plates", 3)
    area = open_area(solve(rig, positions=5))
    one = np.pi * 45.0**2 / 4.0 * open_area_fraction(solve(rig, positions=5).plate_angle["left"], shut=10.0)
    assert area["left"] == pytest.approx(3.0 * one, abs=1e-9)
    assert open_area(solve(rig.replace("shaft.left.bore", None)))["left"] is None
