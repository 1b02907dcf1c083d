"""The parts of a design file: ranges from the table of inputs, and keys that go together."""

from __future__ import annotations

import pytest

from tests.conftest import DESIGNS
from workbook.bench.bench_settings import Bay
from workbook.errors import InputError
from workbook.files.design_file import (
    bench_settings,
    check_design,
    design_schema,
    parse_design,
    read_design,
    write_design,
)
from workbook.files.design_parts import BenchPart, DesignPart, FlightPart
from workbook.quantities import INPUTS
from workbook.sizing.design import Flight


@pytest.mark.parametrize("section", ["craft", "pack", "flight", "bench"])
def test_every_range_in_the_schema_is_the_tables(section: str) -> None:
    models = {
        "craft": ("MultirotorPart", "FixedWingPart"),
        "pack": ("PackPart",),
        "flight": ("FlightPart",),
        "bench": ("BenchPart",),
    }
    parts = DesignPart.model_json_schema()["$defs"]
    keys = [item for model in models[section] for item in parts[model]["properties"].items()]
    stated_keys = [(key, stated) for key, stated in keys if key in INPUTS]
    assert len(stated_keys) >= 4
    for key, stated in stated_keys:
        ranges = [stated, *stated.get("anyOf", [])]
        assert INPUTS[key].least in [r.get("minimum", r.get("exclusiveMinimum")) for r in ranges]
        assert stated["description"] == INPUTS[key].help, key


def test_defaults_of_the_flight_are_the_records() -> None:
    part = FlightPart.model_validate({"landing_v": 3.1, "reserve_pct": 15.0})
    flight = Flight(3.1, 15.0)
    for key in ("throttle_cap_pct", "air_temperature_c", "pack_temperature_c", "pack_airflow"):
        assert getattr(part, key) == getattr(flight, key)


@pytest.mark.parametrize(
    ("part", "expected"),
    [
        (BenchPart(bay_length_mm=100.0), "bench.bay_width_mm and bench.bay_height_mm are missing"),
        (BenchPart(charger_max_a=5.0), "bench.charger_max_w is missing"),
        (BenchPart(strip_width_mm=8.0), "bench.strip_thickness_mm is missing"),
        (BenchPart(strip_material="copper"), "strip_material needs"),
    ],
)
def test_settings_that_do_not_go_together(part: BenchPart, expected: str) -> None:
    with pytest.raises(InputError, match=expected):
        bench_settings(part, "mine.toml")


def test_the_section_is_read_written_and_in_the_schema(tmp_path) -> None:  # type: ignore[no-untyped-def]
    file = read_design(DESIGNS / "survey_six.toml")
    assert file.part.bench is not None
    assert bench_settings(file.part.bench).bay == Bay(190.0, 85.0, 80.0)
    path = tmp_path / "copy.toml"
    write_design(file.part, path, file.document)
    assert path.read_text("utf-8") == (DESIGNS / "survey_six.toml").read_text("utf-8")
    assert "BenchPart" in design_schema()["$defs"]


@pytest.mark.parametrize(
    ("key", "value", "expected"),
    [
        ("bay_length_mm", -1.0, "bench.bay_length_mm is -1; a number from 1"),
        ("packing", "round", 'bench.packing is "round"; "any", "square" or "staggered"'),
        ("colour", "red", "bench.colour is not a key"),
        ("prices", {"cell": -1.0}, "bench.prices.cell is -1; a number from 0"),
    ],
)
def test_a_bad_section_gets_its_sentence(key: str, value: object, expected: str) -> None:
    data = read_design(DESIGNS / "survey_six.toml").document.unwrap()
    data["bench"][key] = value
    with pytest.raises(InputError) as fault:
        check_design(data)
    assert expected in str(fault.value)


@pytest.mark.parametrize(
    "line",
    ["pack_capacity_factor = 1.3", "pack_resistance_factor = 0.5"],  # no cell is so much better
)
def test_a_correction_that_no_cell_can_have_earned_is_refused(line: str) -> None:
    text = (DESIGNS / "survey_six.toml").read_text("utf-8") + f"\n[measured]\n{line}\n"
    with pytest.raises(InputError, match=line.partition(" ")[0]):
        parse_design(text, DESIGNS / "corrected.toml")
