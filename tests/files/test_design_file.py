"""Design files of a fixed wing and of missions: each wrong input gets its sentence, all at once."""

from __future__ import annotations

import json
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from jsonschema import Draft202012Validator

from tests.conftest import DESIGNS
from workbook.cli import main
from workbook.craft.craft_types import FixedWing
from workbook.craft.wing import polar_from_cruise, polar_from_glide
from workbook.errors import InputError
from workbook.files.cell_file import catalogue, find_cell, write_cell
from workbook.files.design_file import (
    check_design,
    design_schema,
    design_text,
    parse_design,
    read_design,
    write_design,
)

WING = DESIGNS / "survey_wing.toml"
MISSION = DESIGNS / "survey_six_mission.toml"
DRAG = "zero_lift_drag = 0.034\noswald_efficiency = 0.8\n"
GLIDE = "glide_ratio = 12.0\nglide_m_s = 11.0\nglide_mass_g = 2000.0\n"
CRUISE = "cruise_power_w = 60.0\ncruise_power_m_s = 13.0\ncruise_power_mass_g = 2000.0\n"


def parsed(text: str) -> Any:
    return parse_design(text, WING)


def changed(path: Path, old: str, new: str) -> str:
    text = path.read_text("utf-8")
    assert old in text
    return text.replace(old, new, 1)


def refusals(text: str) -> list[str]:
    with pytest.raises(InputError) as fault:
        parsed(text)
    return [str(problem) for problem in fault.value.problems]


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("motors = 1", "motors = 0", "craft.motors is 0; a whole number from 1 up to 16"),
        ("span_m = 1.9", "", "craft.span_m is missing; a number from 0.05 up to 20 (wing span)"),
        ("span_m = 1.9", "span_m = -1.9", "craft.span_m is -1.9"),
        ("span_m = 1.9", 'span_m = "wide"', 'craft.span_m is "wide"'),
        ("largest_lift = 1.15", "largest_lift = nan", "craft.largest_lift is nan"),
        ("largest_lift = 1.15", "largest_lift = 12.0", "craft.largest_lift is 12"),
        ("motors = 1", "motors = 1\nrotors = 4", "craft.rotors is not a key"),
        ('kind = "fixed wing"', 'kind = "glider"',
         'craft: kind is "glider"; one of "multirotor", "fixed wing" is needed'),
        ('kind = "fixed wing"', "", 'craft: kind is missing; one of "multirotor", "fixed wing"'),
        (DRAG, "", "the craft's drag is given by one of zero_lift_drag, glide_ratio, cruise_power_w; none"),
        (DRAG, DRAG + GLIDE, "zero_lift_drag and glide_ratio are there"),
        (DRAG, "zero_lift_drag = 0.034\n", "craft.oswald_efficiency is missing; craft.zero_lift_drag"),
        (DRAG, "glide_ratio = 12.0\nglide_m_s = 11.0\n", "craft.glide_mass_g is missing; craft.glide_ratio"),
        (DRAG, GLIDE + "oswald_efficiency = 0.8\n", "craft.oswald_efficiency is not used beside craft.glide_ratio"),
        (DRAG, GLIDE.replace("12.0", "35.0"), "better than an ideal wing"),
        (DRAG, CRUISE.replace("60.0", "6.0"), "craft.cruise_power_w is 6; more than craft.avionics_w (7)"),
        (DRAG, CRUISE.replace("60.0", "15.0"), "better than an ideal wing"),
        ('thrust_table = "../tables/wing_motor.csv" ', "", "thrust_table or by launch_w_per_kg; neither is"),
        ("motors = 1", "motors = 1\nlaunch_w_per_kg = 200.0", "launch_w_per_kg; both are there"),
        ('thrust_table = "../tables/wing_motor.csv" ', 'launch_w_per_kg = 200.0\npropeller = "11x5.5"',
         "craft.propeller chooses from a thrust table, but there is no craft.thrust_table"),
        ("wing_motor.csv", "none.csv", "none.csv: there is no file here"),
        ("cruise_m_s = 13.0", "", "flight.cruise_m_s is missing; a fixed wing needs it"),
        ("cruise_m_s = 13.0", 'cruise_m_s = "fast"', 'flight.cruise_m_s is "fast"; airspeed in cruise'),
        ("cruise_m_s = 13.0", "cruise_m_s = -2.0", "flight.cruise_m_s is -2"),
        ("cruise_m_s = 13.0", "cruise_m_s = 13.0\nthrust_reserve = 1.5",
         "flight.thrust_reserve is not for a fixed wing"),
        ('kind = "rest"', 'kind = "swim"', 'mission phase 1: kind is "swim"; one of "rest", "launch"'),
        ('kind = "rest"\n', "", 'mission phase 1: kind is missing; one of "rest", "launch"'),
        ("duration_s = 120.0", "duration_s = 0.0", "mission phase 1, duration_s is 0; a number from 0.1"),
        ("duration_s = 120.0", "", "mission phase 1, duration_s is missing"),
        ("duration_s = 120.0", "duration_s = 120.0\nheight_m = 2.0", "mission phase 1, height_m is not a key"),
        ("spacing_m = 35.0", "spacing_m = -1.0", "mission phase 5, spacing_m is -1"),
        ("duration_s = 120.0", "duration_s = 120.0\ndrop_g = 500.0",
         "mission drops 500 g in all, more than the payload of 190 g"),
        ('kind = "rest"', 'kind = "hover"', "mission phase 1: a fixed wing cannot hover"),
        ("duration_s = 120.0", "duration_s = 120.0\ngust_factor = 0.5", "mission phase 1, gust_factor is 0.5"),
    ],
)  # fmt: skip
def test_each_wrong_input_of_a_wing_gets_its_sentence(old: str, new: str, expected: str) -> None:
    problems = refusals(changed(WING, old, new))
    assert any(expected in sentence for sentence in problems), problems
    assert len(problems) == 1, problems


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (
            'rules = "club"',
            "landing_v = 3.1\nreserve_pct = 20.0",
            "flight.thrust_reserve is missing; a multirotor needs it",
        ),
        ("wanted_min", "wanted_km = 3.0\nwanted_min", "flight.wanted_km is not for a multirotor"),
        ("wanted_min", "cruise_m_s = 9.0\nwanted_min", "flight.cruise_m_s is not for a multirotor"),
        ("airspeed_m_s = 9.0\n", "", "mission phase 4: airspeed_m_s is missing; a multirotor needs it"),
        ("drag_area_m2 = 0.04", "drag_area_m2 = -0.1", "craft.drag_area_m2 is -0.1"),
    ],
)  # fmt: skip
def test_each_wrong_input_of_a_multirotor_mission_gets_its_sentence(
    old: str, new: str, expected: str
) -> None:
    problems = refusals(changed(MISSION, old, new))
    assert any(expected in sentence for sentence in problems), problems
    assert len(problems) == 1, problems


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ('kind = "fixed wing"', 'kind = ["fixed wing"]', "one of"),
        ("payload_g = 190.0", f"payload_g = -1{'0' * 400}", "craft.payload_g is -1000"),
        ("payload_g = 190.0", f"payload_g = 1{'0' * 31}", "craft.payload_g is 1000"),
        ('cell = "', f'cell_folder = "{"x" * 5000}"\ncell = "', "no such folder of cell files"),
        ("../tables/wing_motor.csv", "/dev/zero", "outside the design's own folders"),
        ("[pack]", "[[pack]]", "pack is"),
    ],
)
def test_odd_values_are_sentences_of_a_readable_length(old: str, new: str, expected: str) -> None:
    problems = refusals(changed(WING, old, new))
    assert any(expected in sentence for sentence in problems), problems
    assert max(map(len, problems)) < 400


def test_every_fault_of_a_wing_is_reported_at_once() -> None:
    text = (
        changed(WING, "span_m = 1.9", "span_m = 0.0")
        .replace(DRAG, "")
        .replace("duration_s = 120.0", 'duration_s = "long"')
    )
    problems = refusals(text)
    assert len(problems) == 3
    assert [any(word in t for t in problems) for word in ("span_m", "drag", "duration_s")] == [
        True
    ] * 3


@pytest.mark.parametrize("data", [{}, {"craft": 3}, {"craft": {}, "mission": 5}, {"mission": [4]}])
def test_odd_contents_are_refused_and_never_a_traceback(data: dict[str, Any]) -> None:
    with pytest.raises(InputError):
        check_design(data)


def test_a_glide_and_a_cruise_give_the_polar_of_their_formulas() -> None:
    shape = (0.41, 1.9, 1.15)
    glide = parsed(changed(WING, DRAG, GLIDE)).design.craft
    assert isinstance(glide, FixedWing)
    assert glide.polar == polar_from_glide(*shape, 2000.0, 12.0, 11.0)
    cruise = parsed(changed(WING, DRAG, CRUISE)).design.craft
    # 60 W at the pack less 7 W of electronics, through 0.58 x 0.78
    assert cruise.polar == polar_from_cruise(*shape, 2000.0, 13.0, 53.0, 0.58 * 0.78)


def test_launch_by_mass_and_a_cruise_by_name() -> None:
    text = changed(WING, 'thrust_table = "../tables/wing_motor.csv"', "launch_w_per_kg = 170.0")
    file = parsed(text.replace("cruise_m_s = 13.0", 'cruise_m_s = "best range"'))
    assert file.design.craft.table is None
    assert file.design.craft.launch_w_per_kg == 170.0
    assert file.design.flight.cruise_m_s == "best range"


@pytest.mark.parametrize("path", [WING, MISSION], ids=lambda p: p.stem)
def test_save_then_load_gives_the_same_design_and_keeps_comments(path: Path, club: Path) -> None:
    file = read_design(path)
    copy = club / "designs" / "copy.toml"
    write_design(file.part, copy, file.document)
    assert copy.read_text("utf-8") == path.read_text("utf-8")
    assert read_design(copy).part == file.part


def test_a_changed_mission_is_written_in_place() -> None:
    file = read_design(WING)
    fewer = file.part.model_copy(update={"mission": file.part.mission[:3]})
    again = parsed(design_text(fewer, file.document))
    assert again.part == fewer
    assert "# on the kitchen scale" in design_text(fewer, file.document)
    assert parsed(design_text(file.part, again.document)).part == file.part
    assert parsed(design_text(file.part)).part == file.part


def test_the_schema_names_both_kinds_of_craft_and_every_phase() -> None:
    text = json.dumps(design_schema())
    for word in ("multirotor", "fixed wing", "rest", "launch", "hover", "climb", "legs", "descent"):
        assert f'"{word}"' in text, word


def test_the_schema_lets_the_demo_designs_through_and_not_a_wing_without_cruise() -> None:
    """Held by a general-purpose JSON Schema validator (jsonschema)."""
    validator = Draft202012Validator(design_schema())
    for path in sorted(DESIGNS.glob("*.toml")):
        contents = tomllib.loads(path.read_text("utf-8"))
        assert not list(validator.iter_errors(contents)), path
        if contents["craft"]["kind"] == "fixed wing":
            del contents["flight"]["cruise_m_s"]
        else:
            contents["flight"]["wanted_km"] = 3.0
        assert list(validator.iter_errors(contents)), path


def test_a_mission_that_the_pack_does_not_carry_exits_1(
    club: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = club / "designs" / "survey_six_mission.toml"
    path.write_text(changed(path, "length_m = 400.0", "length_m = 2000.0"), "utf-8")
    assert main(["size", "--json", str(path)]) == 1
    printed = capsys.readouterr()
    values = json.loads(printed.out)
    assert values["holds"] is False
    assert values["mission"]["completes"] is False
    assert values["mission"]["ends_in"] == "reed bed"
    assert "does not carry the mission" in printed.err


def test_a_mission_that_cannot_be_flown_exits_2(
    club: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = club / "designs" / "survey_six_mission.toml"
    path.write_text(changed(path, "sink_m_s = 1.2", "sink_m_s = 9.0"), "utf-8")
    assert main(["size", str(path)]) == 2
    assert "vortex ring" in capsys.readouterr().err


def test_the_text_report_shows_the_mission_phase_by_phase(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["size", "--working", str(WING)]) == 0
    out = capsys.readouterr().out
    assert (
        "18 legs, 15.0 km, 48.0 ha" in out
    )  # 600 m / 35 m; 18 x 0.8 km + 17 x 35 m; 0.8 km x 0.6 km
    assert "energy of the mission = sum of power x time" in out


def test_a_doubt_about_the_cell_file_and_the_table_reaches_the_design(tmp_path: Path) -> None:
    """Issue 11: some stopped at the reader."""
    cell = replace(find_cell(next(iter(catalogue()))), name="Mine", min_charge_temperature_c=-10.0)
    write_cell(cell, tmp_path / "cells" / "mine.toml")
    table = "Propeller,Total thrust (g),Current (A),Voltage (V)\n15x5,400,2.2,22\n15x5,1500,13,22\n"
    (tmp_path / "table.csv").write_text(table + "\n10x5,400,3.2,22\n10x5,900,13,22\n")
    document = tomlkit.parse((DESIGNS / "survey_six.toml").read_text("utf-8"))
    document["craft"]["thrust_table"] = "table.csv"
    document["craft"]["propeller"] = "15x5"
    document["pack"]["cell"], document["pack"]["cell_folder"] = "Mine", "cells"
    del document["flight"]["throttle_cap_pct"]
    (tmp_path / "six.toml").write_text(tomlkit.dumps(document))
    found = {n.about: n for n in read_design(tmp_path / "six.toml").notices if n.about}
    assert set(found) == {"cell", "table"}
    assert "-10 °C is below freezing" in found["cell"].what
    assert 'heading "Total thrust (g)" may mean all motors together' in found["table"].what


def test_a_figure_may_stand_with_its_unit(club: Path) -> None:
    path = club / "designs" / "survey_six.toml"
    text = path.read_text("utf-8")
    plain = read_design(path).design
    typed = text.replace("mass_without_pack_g = 2100.0", 'mass_without_pack_g = "2.1 kg"')
    typed = typed.replace("wanted_min = 23.0", 'wanted_min = "1380 s"')
    assert parse_design(typed, path).design.craft.mass_without_pack_g == 2100.0
    assert parse_design(typed, path).design.flight == plain.flight
    saved = design_text(parse_design(typed, path).part, parse_design(typed, path).document)
    assert "mass_without_pack_g = 2100.0   # on the kitchen scale" in saved
    with pytest.raises(InputError, match=r"mass_without_pack_g: '2\.1 kV' has the unit kV"):
        parse_design(typed.replace("2.1 kg", "2.1 kV"), path)
    with pytest.raises(InputError, match="mass_without_pack_g is 0"):
        parse_design(typed.replace("2.1 kg", "0 kg"), path)


def test_two_packs_are_read_and_written_and_must_share_evenly() -> None:
    two = 'parallel = 4\npacks = 2\njoined = "parallel"'
    text = changed(DESIGNS / "survey_six.toml", "parallel = 3", two)
    file = parsed(text)
    assert file.design.joining.in_parallel
    assert (file.design.one_pack.series, file.design.one_pack.parallel) == (6, 2)
    assert design_text(file.part, file.document) == text
    assert refusals(text.replace("parallel = 4", "parallel = 3")) == [
        "survey_wing.toml: pack.parallel is 3, all cells together, which two packs joined in parallel cannot "
        "share evenly; 2 or 4 is needed."
    ]
    assert "pack.packs" in refusals(text.replace("packs = 2", "packs = 3"))[0]
    assert "pack.joined" in refusals(text.replace('"parallel"', '"crosswise"'))[0]
    assert "pack.joined" in refusals(text.replace('"parallel"', '["parallel"]'))[0]


def test_a_cell_as_measured_takes_the_place_of_the_datasheets():
    text = (DESIGNS / "survey_six.toml").read_text("utf-8")
    text = text.replace(
        'cell = "Sedge"', 'cell = "Sedge"\ncell_capacity_ah = 4.4\ncell_resistance_mohm = 35.0'
    )
    file = parse_design(text, DESIGNS / "of_mine.toml")
    model = file.design.pack.cell.model
    assert model.capacity_ah == pytest.approx(4.4)
    assert float(model.resistance_at(0.5)) == pytest.approx(35.0)
    stated = file.datasheet_cell
    assert stated.rated_capacity_ah == 4.57  # as its file has it
    # voltage at rest is no matter of resistance
    assert model.open_circuit_at(0.5) == pytest.approx(stated.model.open_circuit_at(0.5), abs=1e-9)
    assert next(c for c in file.cells if c.name == "Sedge") is file.design.pack.cell


def test_a_measured_resistance_that_leaves_no_voltage_is_reported_by_its_key():
    text = (DESIGNS / "survey_six.toml").read_text("utf-8")
    too_much = (
        'cell = "Sedge"\ncell_resistance_mohm = 499.0'  # 2.2 V at the 4.5 A of a curve of the cell
    )
    assert refusals(text.replace('cell = "Sedge"', too_much)) == [
        "survey_wing.toml, pack.cell_resistance_mohm: 499 mΩ in one cell leaves no voltage at 4.5 A, at which its "
        "datasheet has a curve; that of one cell, in milliohm and as measured by direct current, is needed."
    ]


def test_an_answer_to_a_doubt_that_there_cannot_be_is_refused() -> None:
    path = DESIGNS / "survey_six.toml"
    text = path.read_text(encoding="utf-8")
    answered = 'sure = ["mass", "everything"]\n'
    with pytest.raises(InputError, match='sure: there is no doubt about "everything"'):
        parse_design(text.replace("[craft]", answered + "[craft]", 1), path)
