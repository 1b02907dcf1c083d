"""A cell known only by a few discharge curves tells constant-power flights of a full electrochemical model.

Source: PyBaMM's DFN with published parameter sets (Chen et al., J. Electrochem. Soc. 167, 080534, 2020, and
others); see simulated_cells.py. All to 3.0 V from full; 0.5 % is what the project asks for at 8 to 15 W.
"""

from __future__ import annotations

import pytest

from tests.published import report_cell_prediction as report
from tests.published.simulated_cells import CAPACITY_AH, cell, charged
from workbook.battery.charge import CHARGE_RESISTANCE, SPREAD_S, at_charge, charge
from workbook.battery.derating import COLD_CAUTION
from workbook.battery.discharge import constant_power

pytestmark = pytest.mark.long


def test_the_library_still_gives_its_own_figures() -> None:
    """1 It to 2.5 V: 4.992 Ah and 17.505 Wh (PyBaMM 26.10.1.1, noted once)."""
    run = cell("Chen2020", "Discharge at 5.0 A until 2.5 V")
    assert run.charge_ah[-1] == pytest.approx(4.992, rel=2e-3)
    assert run.energy_wh == pytest.approx(17.505, rel=2e-3)


def test_four_curves() -> None:
    for row in report.isothermal("Chen2020", report.FOUR, (8, 12, 15)):
        assert abs(row.time_pct) < 0.5, row
        assert abs(row.energy_pct) < 0.5, row
        assert row.rms_mv < 15.0, row


def test_four_curves_at_twenty_watts() -> None:
    (row,) = report.isothermal("Chen2020", report.FOUR, (20,))
    assert abs(row.time_pct) < 1.0
    assert abs(row.energy_pct) < 1.0


def test_the_closed_form_and_the_stepped_cell_agree() -> None:
    model = report.fitted("Chen2020", report.FOUR)
    (row,) = report.isothermal("Chen2020", report.FOUR, (15,))
    assert constant_power(model, 15.0, 3.0).time_s == pytest.approx(row.ours_s, rel=2e-5)


@pytest.mark.parametrize("its", [report.THREE, report.TWO])
def test_fewer_curves(its: tuple[float, ...]) -> None:
    """No bound is asked for; seen: 0.22 % and 8 mV at most."""
    for row in report.isothermal("Chen2020", its, (8, 12, 15, 20)):
        assert abs(row.time_pct) < 0.5, row
        assert row.rms_mv < 15.0, row


def test_curves_read_by_eye() -> None:
    """Points rounded to 5 mV and 10 mAh; seen: 0.21 % and 6 mV at most."""
    for row in report.read_by_eye((8, 12, 15, 20)):
        assert abs(row.time_pct) < 0.5, row


@pytest.mark.parametrize("parameters", ["OKane2022", "Mohtat2020"])
def test_other_cells(parameters: str) -> None:
    """Seen: 0.25 % and 6 mV, 0.34 % and 7 mV; the second is a pouch cell, its highest curve left out."""
    for row in report.isothermal(parameters, report.FOUR, (8, 12, 15, 20)):
        assert abs(row.time_pct) < 0.75, row
        assert row.rms_mv < 15.0, row


def test_a_cell_that_heats_itself() -> None:
    """Curves and flight both self-heated; seen: 0.25 %, and the end 1.5 to 2.8 K low.

    Against the library's lumped heat without that of diffusion the end is up to 8 K high instead.
    """
    for row in report.self_heated((8, 15, 20)):
        assert abs(row.time_pct) < 0.75, row
        assert -4.0 < row.end_k < 0.0, row


@pytest.mark.parametrize(
    ("parameters", "seen_pct"),
    # Seen, not wished for: curves at 25 C and two factors do not tell how a given cell bears the cold.
    # The first set loses little at 0 C, so the plan is short of it; the second is so hard hit at 15 W
    # that the plan promises a quarter more than there is.
    [("Chen2020", {8: -14.0, 15: -21.7}), ("ORegan2022", {8: -12.6, 15: 26.3})],
)
def test_without_cold_curves_the_plan_in_the_cold_is_only_a_rough_one(
    parameters: str, seen_pct
) -> None:
    """A record of how far out it is, with 5 points to either side; the workbook says so in words."""
    for row in report.in_the_cold(parameters, tuple(seen_pct)):
        assert row.time_pct == pytest.approx(seen_pct[row.power_w], abs=5.0), row
    assert "26 % more" in COLD_CAUTION
    assert "22 % less" in COLD_CAUTION


@pytest.mark.parametrize(
    "parameters", ["Chen2020", "OKane2022", "ORegan2022", "Ecker2015", "Marquis2019", "Mohtat2020"]
)
def test_with_cold_curves_a_flight_at_0_c_is_told_within_5_percent(parameters: str) -> None:
    """Three curves at 0 C beside those at 25 C; time and energy of 8, 12 and 15 W for 5 Ah down to 3.0 V.

    Seen: within 1.7 %, but for ORegan2022, which chokes: +1.3, -3.7 and -0.6 %.
    """
    for row in report.in_the_cold(parameters, (8, 12, 15), curves_c=(0.0,)):
        assert abs(row.time_pct) < 5.0, row
        assert abs(row.energy_pct) < 5.0, row


def test_where_a_cold_cell_chokes_the_plan_is_short_and_not_long() -> None:
    """Ai2020 at 0 C, seen -1.0 to -5.6 %; and ORegan2022 between its curves, at 10 C, seen -4.4 to -10.3 %."""
    rows = report.in_the_cold("Ai2020", (8, 12, 15), curves_c=(0.0,))
    rows += report.in_the_cold("ORegan2022", (8, 12, 15), 10.0, (0.0,))
    for row in rows:
        assert -12.0 < row.time_pct < 1.0, row


@pytest.mark.parametrize("parameters", ["Chen2020", "OKane2022", "Marquis2019"])
def test_between_cold_curves_and_room_temperature(parameters: str) -> None:
    """At 10 C from curves at 25 and 0 C; seen: within 1 %."""
    for row in report.in_the_cold(parameters, (8, 12, 15), 10.0, (0.0,)):
        assert abs(row.time_pct) < 3.0, row


@pytest.mark.parametrize("it", [0.3, 0.5, 0.7, 1.0])
@pytest.mark.parametrize("parameters", ["Chen2020", "OKane2022", "Mohtat2020", "Ai2020"])
def test_the_time_of_a_charge_lies_between_its_two_ends(parameters: str, it: float) -> None:
    """From empty to 4.2 V and 0.05 It; only discharge curves are given to the cell.

    Seen of Chen2020: 220, 147, 119 and 101 min, stated as 207 to 221, 131 to 148, 103 to 123 and 84 to 107.
    """
    capacity_ah = CAPACITY_AH[parameters]
    model = at_charge(report.fitted(parameters, report.FOUR), 4.2)
    quick, slow = (
        charge(
            model,
            it * capacity_ah,
            4.2,
            0.05 * capacity_ah,
            resistance_factor=CHARGE_RESISTANCE,
            spread_s=spread_s,
        )
        for spread_s in (0.0, SPREAD_S)
    )
    truth_s = charged(parameters, it).time_s[-1]
    assert float(quick.full_s) < truth_s < float(slow.full_s)


def test_a_cell_that_one_resistance_does_not_describe_is_doubted() -> None:
    """ORegan2022 chokes from 1 It on; the model says so, and is out by up to 5 % (seen: 4.6 %)."""
    assert "left out" in report.fitted("ORegan2022", report.FOUR).caution
    for row in report.isothermal("ORegan2022", report.FOUR, (8, 12, 15, 20)):
        assert abs(row.time_pct) < 6.0, row
