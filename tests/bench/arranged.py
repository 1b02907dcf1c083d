"""A pack of an invented cell, and any layout at all, for tests that must hold for every one."""

from hypothesis import strategies as st

from workbook.battery.cell import Cell
from workbook.battery.pack import Pack
from workbook.bench.arrange import grids
from workbook.bench.layout import Fittings, lay_out


def example_pack(series: int, parallel: int) -> Pack:
    """A pack of an invented 21700 cell of round figures, without curves."""
    cell = Cell(
        name="Invented",
        cell_format="21700",
        kind="energy",
        mass_g=69.0,
        diameter_mm=21.2,
        height_mm=70.2,
        rated_capacity_ah=4.9,
        typical_capacity_ah=5.0,
        nominal_v=3.6,
        charge_v=4.2,
        cutoff_v=2.5,
        continuous_a=10.0,
        burst_a=15.0,
        burst_s=10.0,
        standard_charge_a=1.5,
        max_charge_a=3.5,
        resistance_mohm=25.0,
    )
    return Pack(cell, series, parallel)


@st.composite
def any_layout(draw):
    series, parallel = draw(st.integers(1, 14)), draw(st.integers(1, 8))
    layers = draw(st.sampled_from((1, 2, 3, 14)))
    grid = draw(st.sampled_from(list(grids(series, parallel, ("square", "staggered"), layers))))
    fittings = Fittings(
        spacing_mm=draw(st.sampled_from((0.0, 0.8, 2.0))),
        tabs=draw(st.sampled_from(("one", "each"))),
    )
    return lay_out(example_pack(series, parallel), grid, None, fittings)
