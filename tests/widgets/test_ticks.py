import numpy as np
import pytest

from workbook.widgets.ticks import Box, place_labels, ticks_for


@pytest.mark.parametrize("given", [None, (0.0, 0.3), (-5.0, 5.0), (3.0, 3.0)])
def test_ticks_are_round_and_inside(given):
    axis = ticks_for([[1.0, 43.0]], given)
    assert axis.low < axis.high
    assert ((axis.values >= axis.low - 1e-9) & (axis.values <= axis.high + 1e-9)).all()
    assert 2 <= len(axis.values) <= 12
    printed = [format(v, axis.number_format) for v in axis.values]
    assert [float(p) for p in printed] == pytest.approx(axis.values)
    assert len(set(printed)) == len(printed)


def test_an_axis_of_nothing_but_nought_does_not_go_below_it():
    assert ticks_for([[0.0, 0.0]]).low == 0.0  # a flight of no minutes has no negative time


def test_an_axis_stands_still_while_its_asked_end_moves_a_little():
    ends = [ticks_for([], (0.0, top)).high for top in np.linspace(20.1, 22.4, 24)]
    assert set(ends) == {21.0, 22.0, 23.0}  # a fifth of the step of 5


def test_labels_stay_on_the_figure():
    places = [box.middle for box in place_labels([Box(0, 198, 50)] * 5, 18, 0, 200)]
    assert all(0 <= p <= 200 for p in places)
    assert np.diff(np.sort(places)).min() >= 18


def test_a_label_goes_to_the_other_side_of_its_point_rather_than_onto_another():
    own = Box(110, 100, 60, other_left=30)
    [free] = place_labels([own], 18, 0, 200, marks=np.array([[100.0], [100.0]]))
    assert (free.left, free.middle) == (110, 100)
    column = np.array([np.full(9, 140.0), np.linspace(0, 200, 9)])
    [moved] = place_labels([own], 18, 0, 200, marks=column)
    assert moved.left == 30


def test_names_on_one_line_keep_a_space_between_them():
    one, other = place_labels([Box(0, 50, 60), Box(62, 50, 60)], 18, 0, 200)
    assert abs(one.middle - other.middle) >= 18  # 2 px from end to start would be read as one name


def test_a_label_never_covers_one_that_is_there_already():
    wished, there = Box(0, 50, 60), Box(20, 50, 60)
    [moved] = place_labels([wished], 18, 0, 200, standing=[there])
    assert abs(moved.middle - there.middle) > 18  # the height of a line
    [free] = place_labels([wished], 18, 0, 200, standing=[Box(20, 90, 60)])
    assert free == wished
