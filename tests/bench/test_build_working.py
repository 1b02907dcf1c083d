"""Working at the bench: each step's result is its rule, and the layout's or the groups' own figure."""

from __future__ import annotations

import pytest

from workbook.bench.balance import balance_lead
from workbook.bench.build_working import joining_step, layout_steps, pin_step, weakest_steps
from workbook.bench.layout import Bay, Fittings, example_pack, layouts


@pytest.mark.parametrize("gap_mm", [0.0, 1.5])
@pytest.mark.parametrize("bay", [Bay(190.0, 85.0, 80.0), Bay(100.0, 60.0, 75.0)])
def test_every_arrangement_measures_what_its_working_says(gap_mm: float, bay: Bay) -> None:
    for layout in layouts(example_pack(6, 3), bay, Fittings(spacing_mm=gap_mm, padding_mm=2.0)):
        steps = {s.key: s for s in layout_steps(layout, bay)}
        for key in ("box_x_mm", "box_y_mm"):
            pitches, rest = steps[key].numbers.split(" x ", 1)
            pitch, diameter, skin = (
                float(t) for t in rest.replace("2 x", "").replace("mm", "").split("+")
            )
            by_hand = float(pitches) * pitch + diameter + 2.0 * skin
            assert steps[key].result == pytest.approx(by_hand, abs=0.05)
        left = [steps[f"left_{side}_mm"].result for side in ("length", "width", "height")]
        assert layout.fits == (min(left) >= -1e-9)
        assert steps["layout_mass_g"].result == pytest.approx(layout.mass_g)


def test_staggered_rows_lie_closer_by_the_height_of_a_triangle() -> None:
    pack = example_pack(6, 3)
    square, staggered = (
        layouts(pack, packings=(kind,), max_layers=1)[0] for kind in ("square", "staggered")
    )
    # three rows: two steps of one pitch against two of sqrt(3)/2 of it
    closer = square.box_mm[1] - staggered.box_mm[1]
    assert closer == pytest.approx(2 * 21.2 * (1 - 3**0.5 / 2), abs=0.01)


def test_weakest_group_by_hand() -> None:
    steps = weakest_steps([(4.7, 4.8, 4.9), (4.6, 4.9, 4.8)])
    assert [s.result for s in steps] == pytest.approx([14.4, 14.3, 14.3])


def test_pins_add_and_are_those_of_the_lead() -> None:
    lead = balance_lead(6, arrival_cell_v=3.5)
    for pin in range(1, 7):
        assert pin_step(lead, pin, 3.5).result == pytest.approx(lead.pins[pin].arrival_v)
    with pytest.raises(ValueError, match="pin is 7"):
        pin_step(lead, 7, 3.5)


def test_joining_by_ohms_law() -> None:
    assert joining_step(0.1, 25.0).result == pytest.approx(0.1 / 0.050)
