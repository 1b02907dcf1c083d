"""Two designs side by side, and one design with each thrust table."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.conftest import DESIGNS, power_law_table
from tests.sizing.wings import wing
from workbook.cli import main
from workbook.errors import InputError
from workbook.files.design_file import read_design
from workbook.sheet.text import tables_text
from workbook.sizing.compare import changes, compare, compare_tables
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Design
from workbook.sizing.size import size


def test_only_what_was_changed_is_listed(six_rotor: Design) -> None:
    other = six_rotor.changed(parallel=4, payload_g=200.0, wanted_min=20.0)
    assert [c.text for c in changes(six_rotor, other)] == [
        "payload from 350 to 200 g",
        "parallel, P from 3 to 4",
        "flight time asked for from nothing to 20 min",
    ]
    assert changes(six_rotor, six_rotor) == ()


def test_cells_and_tables_are_shown_by_name_or_by_what_differs(six_rotor: Design) -> None:
    cell = six_rotor.pack.cell
    lighter = six_rotor.changed(cell=replace(cell, mass_g=66.0))
    assert [c.text for c in changes(six_rotor, lighter)] == ["cell.mass_g from 70 to 66"]
    named = six_rotor.changed(cell=replace(cell, name="Other", mass_g=66.0))
    assert [c.text for c in changes(six_rotor, named)] == ["cell from Straight to Other"]
    table = replace(power_law_table(), propeller="16x5")
    propeller = six_rotor.changed(table=table)
    (change,) = changes(six_rotor, propeller)
    assert change.key == "craft.table"
    assert "16x5" in str(change.after)
    poorer = replace(power_law_table(), current_a=power_law_table().current_a * 1.01)
    (change,) = changes(six_rotor, six_rotor.changed(table=poorer))
    assert change.text.startswith("thrust table from ")
    assert change.text.endswith(", other rows")


def test_one_table_read_twice_is_no_change() -> None:
    one, other = (
        read_design(DESIGNS / f"{name}.toml").design for name in ("survey_six", "survey_six_built")
    )
    assert [c.key for c in changes(one, other)] == ["pack.parallel", "flight.throttle_cap_pct"]


def test_figures_say_how_much_and_which_way(six_rotor: Design) -> None:
    found = compare(six_rotor, six_rotor.changed(parallel=4))
    mass = found.figure("pack_mass_g")
    # six more cells of 70 g with 10 % for wrap and strips
    assert mass.difference == pytest.approx(6 * 70 * 1.1)
    assert mass.percent == pytest.approx(100 * 462 / (18 * 70 * 1.1 + 75))
    assert mass.verdict == "worse"
    time = found.figure("endurance_min")
    assert time.verdict == "better"
    assert time.difference == pytest.approx(
        float(found.after.point.endurance_min - found.before.point.endurance_min)
    )
    assert found.figure("pack_nominal_v").verdict == "same"


def test_nothing_changed_changes_nothing(six_rotor: Design) -> None:
    found = compare(six_rotor, six_rotor)
    assert {f.verdict for f in found.figures} == {"same"}
    assert found.matters == ()


def test_what_matters_is_a_verdict_that_changed(six_rotor: Design) -> None:
    minutes = float(size(six_rotor).point.endurance_min)
    asked = six_rotor.changed(wanted_min=minutes * 0.99)
    heavier = asked.changed(payload_g=600.0)
    found = compare(asked, heavier)
    assert "endurance" in {limit.key for limit in found.matters}
    first = next(limit for limit in found.limits if limit.key == "endurance")
    assert (first.before, first.after) == ("close", "broken")
    assert first.before_pct == pytest.approx(1.0, abs=1e-6)
    assert found.limits[: len(found.matters)] == found.matters
    back = compare(heavier, asked)
    assert {limit.key for limit in back.matters} == {limit.key for limit in found.matters}


def test_a_limit_that_is_newly_asked_is_stated(six_rotor: Design) -> None:
    found = compare(six_rotor, six_rotor.changed(wanted_min=1.0))
    limit = next(x for x in found.matters if x.key == "endurance")
    assert limit.before is None
    assert limit.after == "holds"


def test_results_are_compared_as_designs_are() -> None:
    result = size(read_design(DESIGNS / "survey_six.toml").design)
    assert result.today is not None
    found = compare(result.today, result)
    assert found.before is result.today
    time = found.figure("endurance_min")
    assert time.before == pytest.approx(float(result.today.point.endurance_min))
    keys = {change.key for change in found.changes}
    assert {"pack.cell", "flight.landing_v"} <= keys


def test_what_cannot_be_compared_is_stated(six_rotor: Design) -> None:
    design = wing()
    with pytest.raises(InputError, match="different figures"):
        compare(six_rotor, design)
    assert compare(design, design.changed(payload_g=0.0)).figure("range_km").verdict == "better"


def test_a_row_is_the_design_sized_with_that_table(six_rotor: Design) -> None:
    tables = [power_law_table(watts) for watts in (95.0, 110.0, 140.0)]
    rows = compare_tables(six_rotor, tables)
    for table, row in zip(tables, rows, strict=True):
        point = operate(six_rotor.changed(table=table))
        assert row.figures["endurance_min"] == pytest.approx(float(point.endurance_min), rel=1e-12)
        assert row.figures["hover_power_w"] == pytest.approx(float(point.power_w), rel=1e-12)
        assert row.figures["thrust_to_weight_end"] == pytest.approx(
            float(point.end.thrust_to_weight)
        )


def test_thrust_per_watt_and_per_ampere_by_hand(six_rotor: Design) -> None:
    """Table power 110 W x (gf/1000)^1.5; the mean voltage is watts over the mean current."""
    (row,) = compare_tables(six_rotor, [power_law_table(110.0)])
    point = operate(six_rotor)
    thrust = float(point.all_up_mass_g) / 6
    per_watt = thrust / (110.0 * (thrust / 1000) ** 1.5)
    assert row.figures["hover_efficiency_gf_w"] == pytest.approx(per_watt, rel=1e-9)
    mean_v = float(point.power_w / point.mean_current_a)
    assert row.figures["hover_efficiency_gf_a"] == pytest.approx(per_watt * mean_v, rel=1e-6)


def test_the_table_in_use_is_marked_and_others_may_lack_throttle(six_rotor: Design) -> None:
    used = six_rotor.craft.table
    bare = replace(power_law_table(100.0), throttle_pct=np.full(30, np.nan), source="other")
    rows = compare_tables(six_rotor.changed(throttle_cap_pct=60.0), [used, bare])
    assert [row.in_use for row in rows] == [True, False]
    assert np.isnan(rows[1].figures["hover_throttle_end_pct"])
    text = tables_text(rows)
    assert text.count("* ") >= 1
    assert "gf/A is at the pack's own" in text


def test_the_file_of_a_demo_design_holds_its_own_table() -> None:
    file = read_design(DESIGNS / "survey_six.toml")
    rows = compare_tables(file.design, file.tables().tables)
    assert [row.table.propeller for row in rows if row.in_use] == ["15x5"]
    assert len(rows) == 2


def test_a_wing_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(InputError, match="does not hover"):
        compare_tables(wing(), [power_law_table()])
    assert main(["size", "--tables", str(DESIGNS / "survey_wing.toml")]) == 2
    assert "does not hover" in capsys.readouterr().err


def test_the_command_line_prints_every_table(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["size", "--tables", str(DESIGNS / "survey_six.toml")]) == 0
    lines = capsys.readouterr().out.splitlines()
    (smaller,) = (line for line in lines if "14x4.8" in line)
    (in_use,) = (line for line in lines if "15x5" in line)
    assert "  UNSAFE: thrust to weight that is left; " in smaller
    assert in_use.endswith("  HOLDS, BUT CLOSE")


def test_a_design_in_doubt_is_said_doubtful_with_each_table() -> None:
    light = read_design(DESIGNS / "survey_six.toml").design.changed(avionics_w=0.3)
    rows = compare_tables(light, [light.craft.table])
    assert rows[0].as_dict()["verdict"] == rows[0].result.verdict == "doubtful"
    assert tables_text(rows).splitlines()[2].endswith("  DOUBTFUL")
