"""Any layout at all, for tests that must hold for every one."""

from hypothesis import strategies as st

from workbook.bench.arrange import grids
from workbook.bench.layout import Fittings, example_pack, lay_out


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
