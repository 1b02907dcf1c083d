"""A design is changed by the names of its figures."""

from __future__ import annotations

import numpy as np
import pytest

from tests.conftest import DESIGNS, straight_cell
from tests.sizing.multirotors import six
from workbook.bench.bench_settings import Bay
from workbook.bench.transport import passenger_class
from workbook.errors import InputError
from workbook.files.design_file import read_design
from workbook.sizing.design import Constraints, Design
from workbook.sizing.limits import ground_limits
from workbook.sizing.sweep import sweep


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


def test_constraints_bind_when_they_should() -> None:
    """Each constraint by arithmetic: volume over the hexagonal packing, prices, watt-hours, mass."""
    start = read_design(DESIGNS / "survey_six.toml").design
    pack = start.pack  # 18 cells of 21.2 x 70.1 mm, 67.2 g, 4.30 each
    volume_cm3 = 18 * np.pi / 4 * 21.2**2 * 70.1 / 1000 / 0.9068997
    side = float(np.sqrt(volume_cm3 * 1000 / 70.1))
    for asked, key, holds in (
        (Constraints(Bay(70.1, side * 1.001, side * 1.001)), "bay_volume", True),
        (Constraints(Bay(70.1, side * 0.999, side * 0.999)), "bay_volume", False),
        (Constraints(Bay(70.0, 500.0, 60.0)), "bay_size", True),
        (Constraints(Bay(69.0, 69.0, 69.0)), "bay_size", False),
        (Constraints(Bay(500.0, 500.0, 21.0)), "bay_size", False),
        (Constraints(max_price=77.5), "price", True),
        (Constraints(max_price=77.3), "price", False),
        (Constraints(transport=0), "transport", False),
        (Constraints(max_pack_mass_g=float(pack.mass_g) - 1), "pack_mass", False),
    ):
        limit = next(x for x in ground_limits(start, asked) if x.key == key)
        assert bool(limit.broken) != holds, (key, asked)
    assert passenger_class(np.array([100.0, 100.1, 160.0, 160.1])).tolist() == [0, 1, 1, 2]
    with pytest.raises(InputError, match="above 0 mm"):
        Constraints(Bay(0.0, 10.0, 10.0))
    with pytest.raises(InputError, match="transport"):
        Constraints(transport=3)


def test_a_cell_without_a_price_does_not_pass_a_money_limit(six_rotor: Design) -> None:
    found = sweep(
        six_rotor,
        (straight_cell(),),
        (6,),
        (3,),
        constraints=Constraints(max_price=1e6),
        screen=False,
    )
    assert [r.key for r in found.rejections if r.binds] == ["price"]
