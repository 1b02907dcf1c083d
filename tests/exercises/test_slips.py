import pytest

from workbook.exercises import slips
from workbook.exercises.exercise import check_number

# Each expected number below is worked by hand from the case stated beside it.
CASES = [
    # 2P of 5 Ah is 10 Ah, which is 10000 mAh.
    (slips.thousand(10.0, "Ah", "mAh"), "10000", "mAh"),
    # 20 min is 0.333 h.
    (slips.sixty(20.0), "0.3333", "60"),
    # 4P of 10 A: 40 A for the pack, 10 A for a cell.
    (slips.per_cell(40.0, 4), "10", "one cell"),
    (slips.per_pack(10.0, 4), "40", "whole pack"),
    # 4S at 3.6 V is 14.4 V; full 16.8 V.
    (slips.other_voltage(14.4, 3.6, {"a full cell's voltage": 4.2}), "16,8", "full"),
    # 36 W of a cell at 3 V is 12 A; at 3.6 V nominal it would be 10 A.
    (slips.other_voltage(12.0, 3.0, {"the nominal voltage": 3.6}, -1), "10", "nominal"),
    # 4P of 10 A continuous and 15 A burst: 40 A, not 60 A.
    (slips.burst_for_continuous(40.0, 10, 15), "60", "burst"),
    # 1500 gf is 14.71 N (ISO 80000-3: g = 9.80665 m/s2).
    (slips.newton_for_gram_force(1500.0), "14.71", "newton"),
    # 20 min to empty at 80 % usable is 16 min.
    (slips.reserve_left_out(16.0, 0.8), "20", "empty"),
]
RIGHT = [10, 20, 40, 10, 14.4, 12, 40, 1500, 16]


@pytest.mark.parametrize(("case", "expected"), list(zip(CASES, RIGHT, strict=True)))
def test_each_slip_is_named_and_the_right_answer_is_right(case, expected):
    made, typed, words = case
    outcome = check_number(typed, expected, 0.01, slips=made)
    assert outcome.state == "slip"
    assert words in outcome.message
    assert check_number(f"{expected:g}", expected, 0.01, slips=made).right
    assert check_number(None, expected, 0.01, slips=made).state == "unanswered"
