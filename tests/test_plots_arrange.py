"""How the views share a page."""

from __future__ import annotations

import pytest

from linkage.plots.arrange import Box, Need, arrange

PAGE = Box(0.5, 0.4, 10.0, 7.0)


def test_one_view_takes_the_page() -> None:
    assert arrange([Need(3.0, 2.0, 1.0, 1.0)], PAGE)[1] == [PAGE]


@pytest.mark.parametrize(
    "needs",
    [
        [Need(300.0, 80.0, 1.5, 1.5), Need(300.0, 90.0, 1.5, 1.0), Need(90.0, 80.0, 1.5, 1.0)],
        [Need(120.0, 160.0, 1.5, 1.5), Need(120.0, 330.0, 1.5, 1.0), Need(330.0, 160.0, 1.5, 1.0)],
        [Need(120.0, 160.0, 1.5, 1.5), Need(330.0, 160.0, 1.5, 1.0)],
    ],
)
def test_the_boxes_tile_the_page_with_the_first_at_the_upper_left(needs: list[Need]) -> None:
    boxes = arrange(needs, PAGE)[1]
    assert len(boxes) == len(needs)
    assert sum(box.wide * box.high for box in boxes) == pytest.approx(PAGE.wide * PAGE.high)
    for i, one in enumerate(boxes):
        assert PAGE.left - 1e-9 <= one.left < one.left + one.wide <= PAGE.left + PAGE.wide + 1e-9
        assert PAGE.bottom - 1e-9 <= one.bottom < one.bottom + one.high <= PAGE.bottom + PAGE.high + 1e-9
        for two in boxes[i + 1 :]:
            across = min(one.left + one.wide, two.left + two.wide) - max(one.left, two.left)
            up = min(one.bottom + one.high, two.bottom + two.high) - max(one.bottom, two.bottom)
            assert min(across, up) < 1e-9
    assert boxes[0].left == pytest.approx(PAGE.left)
    assert boxes[0].bottom + boxes[0].high == pytest.approx(PAGE.bottom + PAGE.high)


def test_wide_views_are_stacked_and_tall_ones_stand_side_by_side() -> None:
    wide = arrange([Need(300.0, 30.0, 0.1, 0.1)] * 2, PAGE)[1]
    tall = arrange([Need(30.0, 300.0, 0.1, 0.1)] * 2, PAGE)[1]
    assert [box.wide for box in wide] == [PAGE.wide] * 2
    assert [box.high for box in tall] == [PAGE.high] * 2


def test_a_page_of_the_right_shape_scores_higher() -> None:
    tall = [Need(100.0, 300.0, 0.5, 0.5)]
    assert arrange(tall, Box(0.0, 0.0, 7.0, 10.0))[0] > arrange(tall, Box(0.0, 0.0, 10.0, 7.0))[0]
