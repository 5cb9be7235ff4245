"""The look: told apart without colour, and no trace left behind."""

from __future__ import annotations

import matplotlib
import pytest
from matplotlib.axes import Axes

from linkage.plots import style


@pytest.mark.parametrize("count", [2, 5, 7])
def test_up_to_seven_lines_differ_in_dashes_and_marks_alone(count: int) -> None:
    pens = style.pens(f"shaft {i}" for i in range(count)).values()
    assert len({str(pen.dashes) for pen in pens}) == count
    assert len({pen.marker for pen in pens}) == count
    assert len({pen.colour for pen in pens}) == count


def test_a_full_house_of_shafts_has_a_pen_each() -> None:
    pens = style.pens(f"shaft {i}" for i in range(24)).values()
    assert len({(pen.colour, str(pen.dashes), pen.marker) for pen in pens}) == 24


def test_equal_curves_show_under_one_another() -> None:
    widths = [pen.width for pen in style.pens("abcd").values()]
    assert widths == sorted(widths, reverse=True)
    assert len(set(widths)) == 4


def test_the_readers_settings_come_back() -> None:
    with matplotlib.rc_context({"font.size": 21.0, "axes.facecolor": "#123456"}):
        before = dict(matplotlib.rcParams)
        with style.look():
            assert matplotlib.rcParams["font.size"] == style.PLAIN
            assert matplotlib.rcParams["axes.facecolor"] == style.PAPER
        assert dict(matplotlib.rcParams) == before


def test_a_notebook_goes_on_showing_pictures() -> None:
    with matplotlib.rc_context({"interactive": False}):
        with style.look():
            matplotlib.interactive(True)  # as the notebook does when the first picture is drawn
        assert matplotlib.is_interactive()


@pytest.mark.parametrize(
    ("mm", "units", "text"),
    [
        (123.64, "mm", "123.6"),
        (-0.02, "mm", "0.0"),
        (-20.0, "mm", "−20.0"),
        (31.75, "in", "1.250"),
        (-0.001, "in", "0.000"),
    ],
)
def test_lengths_in_the_designs_own_unit(mm: float, units: str, text: str) -> None:
    assert style.length_text(mm, units) == text


@pytest.mark.parametrize(("degrees", "text"), [(88.04, "88.0°"), (-167.3, "−167.3°"), (-0.01, "0.0°")])
def test_angles_to_a_tenth(degrees: float, text: str) -> None:
    assert style.angle_text(degrees) == text


def test_axes_without_a_figure_are_refused() -> None:
    made: Axes = style.figure(2.0, 2.0).add_subplot()
    made.remove()
    with pytest.raises(ValueError, match="these axes stand on no figure"):
        style.figure_of(made)


def test_a_page_shows_itself_in_a_notebook() -> None:
    picture = style.figure(2.0, 1.0)._repr_png_()  # type: ignore[attr-defined]
    assert picture.startswith(b"\x89PNG\r\n")
