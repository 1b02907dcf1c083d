"""A check that several tests share."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.sizing.limits import Limit


def assert_same_limits(alone: tuple[Limit, ...], together: tuple[Limit, ...], place: int) -> None:
    """The limits of one design are those of the same design in an array, at its place."""
    assert [limit.key for limit in alone] == [limit.key for limit in together]
    for one, many in zip(alone, together, strict=True):
        margins = (
            np.broadcast_to(many.margin_pct, (place + 1,))
            if np.ndim(many.margin_pct) == 0
            else many.margin_pct
        )
        assert margins[place] == pytest.approx(float(one.margin_pct), rel=1e-9, nan_ok=True), (
            one.key
        )
