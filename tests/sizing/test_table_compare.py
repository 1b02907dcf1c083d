"""Thrust tables compared on one design."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.conftest import DESIGNS, power_law_table
from tests.sizing.wings import wing
from workbook.cli import main
from workbook.errors import InputError
from workbook.files.design_file import read_design, tables_of
from workbook.sheet.text import tables_text
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Design
from workbook.sizing.table_compare import compare_tables


def test_a_row_is_the_design_sized_with_that_table(six_rotor: Design) -> None:
    tables = [power_law_table(watts) for watts in (95.0, 110.0, 140.0)]
    rows = compare_tables(six_rotor, tables)
    for table, row in zip(tables, rows, strict=True):
        point = operate(six_rotor.changed(table=table))
        assert row.endurance_min == pytest.approx(float(point.endurance_min), rel=1e-12)
        assert row.hover_power_w == pytest.approx(float(point.power_w), rel=1e-12)
        assert row.thrust_to_weight_end == pytest.approx(float(point.end.thrust_to_weight))


def test_thrust_per_watt_and_per_ampere_by_hand(six_rotor: Design) -> None:
    """Table power 110 W x (gf/1000)^1.5; the mean voltage is watts over the mean current."""
    (row,) = compare_tables(six_rotor, [power_law_table(110.0)])
    point = operate(six_rotor)
    thrust = float(point.all_up_mass_g) / 6
    per_watt = thrust / (110.0 * (thrust / 1000) ** 1.5)
    assert row.hover_efficiency_gf_w == pytest.approx(per_watt, rel=1e-9)
    mean_v = float(point.power_w / point.mean_current_a)
    assert row.hover_efficiency_gf_a == pytest.approx(per_watt * mean_v, rel=1e-6)


def test_the_table_in_use_is_marked_and_others_may_lack_throttle(six_rotor: Design) -> None:
    used = six_rotor.craft.table
    bare = replace(power_law_table(100.0), throttle_pct=np.full(30, np.nan), source="other")
    rows = compare_tables(six_rotor.changed(throttle_cap_pct=60.0), [used, bare])
    assert [row.in_use for row in rows] == [True, False]
    assert np.isnan(rows[1].hover_throttle_end_pct)
    text = tables_text(rows)
    assert text.count("* ") >= 1
    assert "gf/A is at the pack's own" in text


def test_the_file_of_a_demo_design_holds_its_own_table() -> None:
    file = read_design(DESIGNS / "survey_six.toml")
    rows = compare_tables(file.design, tables_of(file))
    assert [row.propeller for row in rows if row.in_use] == ["15x5"]
    assert len(rows) == 2


def test_a_wing_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(InputError, match="does not hover"):
        compare_tables(wing(), [power_law_table()])  # type: ignore[arg-type]
    assert main(["size", "--tables", str(DESIGNS / "survey_wing.toml")]) == 2
    assert "does not hover" in capsys.readouterr().err


def test_the_command_line_prints_every_table(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["size", "--tables", str(DESIGNS / "survey_six.toml")]) == 0
    out = capsys.readouterr().out
    assert "14x4.8" in out
    assert "15x5" in out
