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


def test_labels_stay_on_the_figure():
    places = place_labels([Box(0, 198, 50)] * 5, 18, 0, 200)
    assert all(0 <= p <= 200 for p in places)
    assert np.diff(np.sort(places)).min() >= 18
