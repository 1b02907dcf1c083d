"""Cells of a pack, one by one."""

from workbook.widgets.palette import LIMIT
from workbook.widgets.wiring_picture import WiringPicture


def test_every_cell_and_joint_is_drawn_and_too_much_current_is_told():
    picture = WiringPicture()
    picture.update([0.0, 3.6, 7.2, 10.8], 2, 12.0, 6.0, over=False)
    assert picture.svg.value.count(">6 A<") == 6
    assert all(f">{volts}<" in picture.svg.value for volts in ("0.0", "3.6", "7.2", "10.8"))
    assert LIMIT.colour not in picture.svg.value
    picture.update([0.0, 3.6, 7.2, 10.8], 2, 60.0, 30.0, over=True)
    assert LIMIT.colour in picture.svg.value
    assert "more than its continuous current" in picture.finding_text
