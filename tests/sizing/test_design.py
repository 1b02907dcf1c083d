"""A design is changed by the names of its figures."""

from __future__ import annotations

import pytest

from tests.conftest import straight_cell
from tests.sizing.multirotors import six


def test_a_change_goes_to_the_part_that_has_the_figure() -> None:
    design = six()
    cell = straight_cell(mass_g=60.0)
    changed = design.changed(payload_g=10.0, parallel=4, landing_v=3.3, cell=cell)
    assert (changed.craft.payload_g, changed.pack.parallel) == (10.0, 4)
    assert (changed.flight.landing_v, changed.pack.cell) == (3.3, cell)
    assert (design.craft.payload_g, design.pack.parallel) == (350.0, 3)


@pytest.mark.parametrize("name", ["name", "wing_span", "today"])
def test_a_figure_that_no_part_has_is_refused(name: str) -> None:
    with pytest.raises(TypeError, match=f"no part of a design has {name}"):
        six().changed(**{name: 1.0})
