"""Words on a drawing: where they go, and that they go nowhere they should not."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.axes import Axes
from plot_words import overlaps, words

from linkage.plots import labels, style
from linkage.plots.labels import Board, Label


@pytest.fixture
def ax() -> Axes:
    """Axes of 360 x 216 pt that count in points."""
    made: Axes = style.figure(5.0, 3.0).add_axes((0.0, 0.0, 1.0, 1.0))
    made.set_axis_off()
    made.set(xlim=(0.0, 360.0), ylim=(0.0, 216.0))
    return made


def board_on(ax: Axes) -> Board:
    """A board that may write all over its axes."""
    return Board(ax, (2.0, 2.0, 358.0, 214.0))


def middles(ax: Axes) -> dict[str, tuple[float, float]]:
    """Middle of every text [pt]."""
    scale = 72.0 / style.figure_of(ax).dpi
    return {
        text: (0.5 * scale * (box.x0 + box.x1), 0.5 * scale * (box.y0 + box.y1))
        for text, box in words(style.figure_of(ax))
    }


def test_points_of_the_page_and_back(ax: Axes) -> None:
    ax.set(xlim=(-10.0, 26.0), ylim=(100.0, 121.6))  # ten points to a unit
    board = board_on(ax)
    assert board.on_page((0.0, 101.0)) == pytest.approx((100.0, 10.0))
    assert board.data(np.array([[100.0, 10.0]]))[0] == pytest.approx((0.0, 101.0))
    assert board.point == pytest.approx(0.1)


def test_a_lone_label_stands_close_to_the_middle_of_its_line(ax: Axes) -> None:
    board = board_on(ax)
    board.drawn([(60.0, 100.0), (300.0, 100.0)], 3.0)
    assert board.place([Label("", "123.6", (60.0, 100.0), (300.0, 100.0))]) == []
    x, y = middles(ax)["123.6"]
    assert x == pytest.approx(180.0, abs=1.0)
    assert 4.0 < abs(y - 100.0) < 16.0


def test_labels_of_one_point_do_not_lie_on_one_another(ax: Axes) -> None:
    board = board_on(ax)
    at = (180.0, 108.0)
    names = [f"label {i}" for i in range(12)]
    assert board.place([Label(name, "plate 9.0° → 88.0°", at, at) for name in names]) == []
    assert {text for text, _ in words(style.figure_of(ax))} >= set(names)
    assert overlaps(style.figure_of(ax)) == []


def test_a_label_keeps_off_what_is_drawn_and_written(ax: Axes) -> None:
    board = board_on(ax)
    board.drawn([(0.0, 112.0), (360.0, 112.0)], 3.0)  # right above the point
    board.boxes.append((0.0, 0.0, 360.0, 90.0))  # everything below it
    board.place([Label("", "here", (180.0, 104.0), (180.0, 104.0))])
    _, y = middles(ax)["here"]
    assert y > 112.0


def test_labels_without_room_are_handed_back(ax: Axes) -> None:
    board = board_on(ax)
    board.boxes.append((0.0, 0.0, 360.0, 216.0))
    lost = Label("", "nowhere", (180.0, 108.0), (180.0, 108.0))
    assert board.place([lost]) == [lost]
    assert words(style.figure_of(ax)) == []


def test_a_label_never_hides_a_main_line_even_where_there_is_no_other_room(ax: Axes) -> None:
    board = board_on(ax)
    for y in np.arange(0.0, 216.0, 6.0):
        board.drawn([(0.0, y), (360.0, y)], 3.0)
    lost = Label("", "a long label here", (180.0, 108.0), (180.0, 108.0))
    assert board.place([lost]) == [lost]


def test_a_far_label_has_a_leader_to_its_part(ax: Axes) -> None:
    board = board_on(ax)
    board.boxes.append((130.0, 60.0, 230.0, 156.0))
    before = len(ax.lines)
    board.place([Label("", "far", (180.0, 108.0), (180.0, 108.0))])
    (leader,) = ax.lines[before:]
    assert np.min(np.hypot(*(np.asarray(leader.get_xydata()) - (180.0, 108.0)).T)) == pytest.approx(0.0, abs=1e-9)


def test_length_of_a_line_within_a_box() -> None:
    boxes = np.array([[0.0, 0.0, 10.0, 10.0], [20.0, 0.0, 30.0, 10.0]])
    pieces = np.array([[-5.0, 5.0, 25.0, 5.0], [5.0, -5.0, 5.0, 5.0], [-1.0, 0.0, 9.0, 10.0]])
    want = [[10.0, 5.0, 9.0 * np.sqrt(2.0)], [5.0, 0.0, 0.0]]
    assert labels._inside(boxes, pieces) == pytest.approx(np.array(want))


def test_wrapped_lines_are_no_wider_than_asked(ax: Axes) -> None:
    text = "Lengths in millimetres, true, pin centre to pin centre, and so on to the end of the line."
    done = labels.wrapped(ax, text, 8.0, 120.0)
    assert done.replace("\n", " ") == text
    assert done.count("\n") >= 2
    assert labels.text_size(ax, done, 8.0)[0] <= 120.0


def test_wrapped_lines_may_be_cut_short(ax: Axes) -> None:
    done = labels.wrapped(ax, "word " * 60, 8.0, 120.0, lines=2)
    assert done.count("\n") == 1
    assert done.endswith("…")
