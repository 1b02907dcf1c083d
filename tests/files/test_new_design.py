"""A new design: it can be sized as it is, says that all of it is assumed, and is written over nothing."""

from pathlib import Path

import pytest

import workbook as wb
from workbook.cli import main
from workbook.files.design_parts import FixedWingPart, FlightPart, MultirotorPart, PackPart
from workbook.files.new_design import DEMO_TABLES, guide, write_new_design
from workbook.sizing.origins import BEARINGS


@pytest.mark.parametrize("kind", DEMO_TABLES)
def test_a_new_design_flies_and_all_of_it_is_assumed(tmp_path: Path, kind: str) -> None:
    design, table = write_new_design(tmp_path / "heron", kind)
    found = wb.read_design(design).design
    assert wb.size(found).point.endurance_min > 5.0
    stated = {key for key in BEARINGS if key in {e.key for e in guide() if kind in e.start}}
    assert {o.key for o in found.origins if o.origin == "assumed"} == stated
    assert table.name == "heron_thrust.csv"
    with pytest.raises(wb.InputError, match=r"heron\.toml"):
        write_new_design(tmp_path / "heron", kind)


def test_nothing_is_written_where_one_of_the_files_is_there(tmp_path: Path) -> None:
    (tmp_path / "heron_thrust.csv").write_text("mine", "utf-8")
    with pytest.raises(wb.InputError, match="heron_thrust"):
        write_new_design(tmp_path / "heron.toml")
    assert not (tmp_path / "heron.toml").exists()


def test_every_figure_of_craft_pack_and_flight_has_its_line() -> None:
    models = {
        "craft": (MultirotorPart, FixedWingPart),
        "pack": (PackPart,),
        "flight": (FlightPart,),
    }
    for section, parts in models.items():
        keys = {key for part in parts for key in part.model_fields} - {"kind"}
        guided = [entry.key for entry in guide() if entry.section == section]
        assert set(guided) == keys
        assert len(guided) == len(keys)
    assert all(entry.how.endswith(".") for entry in guide())


def test_at_the_prompt(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new", str(tmp_path / "teal.toml"), "--kind", "fixed wing"]) == 0
    assert "teal.toml" in capsys.readouterr().out
    assert main(["size", str(tmp_path / "teal.toml"), "--short"]) in (0, 1)
    assert "Assumed, not measured" in capsys.readouterr().out
    assert main(["new", str(tmp_path / "teal.toml")]) == 2
