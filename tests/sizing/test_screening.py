"""What is said of a candidate before it is sized, against the candidate sized."""

from __future__ import annotations

import numpy as np
import pytest

from tests.conftest import DESIGNS
from workbook.battery.discharge import constant_power
from workbook.files.cell_file import catalogue, find_cell
from workbook.files.design_file import read_design
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.limits import flight_limits
from workbook.sizing.screening import forecast_limits, screening_table

MANY = 20_000


@pytest.mark.parametrize(
    ("name", "keys"),
    [("survey_six", ["endurance"]), ("survey_wing", ["range", "endurance"])],
)
@pytest.mark.parametrize("pack_c", [25.0, -5.0])
def test_a_forecast_is_never_worse_than_the_candidate_sized(
    name: str, keys: list[str], pack_c: float
) -> None:
    """Random packs, payloads and joints; cold cells, of higher resistance and less charge, too."""
    rng = np.random.default_rng(3)
    designs = read_design(DESIGNS / f"{name}.toml").design.changed(
        series=rng.integers(3, 9, MANY).astype(float),
        parallel=rng.integers(1, 9, MANY).astype(float),
        payload_g=rng.uniform(0.0, 600.0, MANY),
        joint_mohm=rng.uniform(2.0, 25.0, MANY),
        pack_temperature_c=pack_c,
    )
    flight = designs.flight
    table = screening_table(designs.pack.cell.model, flight.landing_v, flight.reserve_pct)
    found = forecast_limits(designs, table)
    assert [limit.key for limit in found] == keys
    point = craft_type_of(designs).operate(designs)
    exact = {limit.key: limit for limit in flight_limits(designs, point)}
    known = np.isfinite(point.power_w)
    for limit in found:
        sized = exact[limit.key]
        assert not (limit.broken & ~sized.broken).any()
        assert not limit.broken[~known].any()
        assert 0 < np.count_nonzero(limit.broken) < MANY
        missed = np.count_nonzero((sized.broken & ~limit.broken)[known])
        assert missed < 0.1 * np.count_nonzero(sized.broken)


@pytest.mark.parametrize("name", sorted(catalogue()))
def test_beyond_the_table_no_full_cell_takes_off(name: str) -> None:
    model = find_cell(name).model
    table = screening_table(model, 3.1, 15.0)
    past = constant_power(model, table.power_w[-1] * np.array([0.98, 1.001]), 3.1, 0.85)
    assert past.start_v[0] >= 3.1
    assert past.time_s[1] == 0.0


def test_a_landing_voltage_above_rest_leaves_no_time() -> None:
    table = screening_table(find_cell("Bittern").model, 4.5, 15.0)
    assert table.longest_s([1.0, 20.0]).tolist() == [0.0, 0.0]
