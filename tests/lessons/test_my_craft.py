"""The page of one's own craft: every key, the answer beside it, a test flight, saved and opened again."""

from pathlib import Path

import pytest

import workbook as wb
from tests.lessons.conftest import plain
from workbook.files.design_file import read_design
from workbook.files.design_parts import DesignPart
from workbook.files.packed import packed_text
from workbook.lessons.lesson_view import open_page
from workbook.lessons.my_craft import MyCraft, TestFlightPanel
from workbook.sizing.size import size

CELLS = Path(wb.__file__).parent / "data" / "cells"
DEMOS = ("survey_six", "survey_six_mission", "light_quad", "survey_pair", "survey_wing")


@pytest.fixture
def page(folder: Path) -> MyCraft:
    return open_page("my_craft")


def type_in(page: MyCraft, key: str, text: str) -> None:
    page.form.fields[key].value = text


@pytest.mark.parametrize("kind", ["multirotor", "fixed wing"])
def test_a_new_craft_has_an_answer_from_the_first_minute(page: MyCraft, kind: str) -> None:
    page.new_kind.value = kind
    page.begin()
    assert not page.live.problems
    assert page.result.answer.point.endurance_min > 0
    assert "Assumed, not measured" in plain(page.notices.html.value)
    assert not (Path("designs") / "mine.toml").exists()


@pytest.mark.parametrize("name", DEMOS)
def test_any_design_is_shown_whole_and_saved_as_it_was(folder: Path, name: str) -> None:
    path = Path("designs") / f"{name}.toml"
    before = read_design(path)
    page = open_page("my_craft", path)
    assert not page.live.problems
    assert page.result.part == before.part
    assert page.result.answer.point.endurance_min == size(before.design).point.endurance_min
    page.path_box.value = "designs/mine.toml"
    page.save()
    assert read_design(Path("designs/mine.toml")).part == before.part


@pytest.mark.parametrize("name", ["survey_six", "survey_wing"])
def test_a_packed_design_is_opened_and_saved_packed(folder: Path, name: str) -> None:
    Path("one.toml").write_text(packed_text(read_design(f"designs/{name}.toml")), "utf-8")
    page = open_page("my_craft", "one.toml")
    type_in(page, "craft.payload_g", "0.2 kg")
    page.path_box.value = "designs/mine.toml"
    page.save()
    saved = read_design("designs/mine.toml")
    assert saved.design.craft.payload_g == 200.0
    assert saved.inputs == (saved.path,)


@pytest.mark.parametrize("name", DEMOS)
def test_every_key_of_the_file_is_on_the_page(folder: Path, name: str) -> None:
    page = open_page("my_craft", Path("designs") / f"{name}.toml")
    part = page.base.part
    shown = {key.partition(".")[2] for key in page.form.fields if not key.startswith("origins.")}
    barred = {
        "multirotor": {"cruise_m_s", "climb_m_s", "wanted_km"},
        "fixed wing": {"thrust_reserve"},
    }
    for section in ("craft", "pack", "flight", "today", "bench"):
        model = (
            DesignPart.model_fields[section].annotation if section != "craft" else type(part.craft)
        )
        keys = set(getattr(model, "model_fields", {}))
        assert keys - shown <= {"kind", "prices"} | barred[part.craft.kind], section


def test_a_figure_with_a_unit_reaches_the_answer(page: MyCraft) -> None:
    type_in(page, "craft.mass_without_pack_g", "2.2 lb")
    # International Yard and Pound Agreement (1959): 1 lb = 453.59237 g
    assert page.result.part.craft.mass_without_pack_g == pytest.approx(2.2 * 453.59237)


def test_what_cannot_be_used_is_reported_and_the_last_answer_stays(page: MyCraft) -> None:
    before = page.result
    type_in(page, "craft.mass_without_pack_g", "heavy")
    assert "mass_without_pack_g" in page.live.problems[0]
    assert page.result is before
    page.save()
    assert "Nothing done" in page.reply.text
    type_in(page, "craft.mass_without_pack_g", "1200")
    assert not page.live.problems


def test_a_cell_and_a_table_of_ones_own_are_chosen_from_a_list(folder: Path) -> None:
    (folder / "cells").mkdir()
    made = (folder / "cells" / "mine.toml").write_text
    shipped = (Path(wb.__file__).parent / "data" / "cells" / "sedge.toml").read_text("utf-8")
    made(shipped.replace('name = "Sedge"', 'name = "My own"'), "utf-8")
    page = open_page("my_craft")
    lists = [box for box in page.form.suggestion_lists.values() if "My own" in box.options]
    lists[0].value = "My own"
    assert page.result.answer.design.pack.cell.name == "My own"
    assert page.form.fields["pack.cell_folder"].value == "../cells"
    page.form.suggestion_lists["craft.thrust_table"].value = "../tables/survey_motor.csv"
    assert page.form.fields["craft.table_voltage_v"].value == ""  # of the table before
    assert "2 tables are in the file" in page.live.problems[0]
    type_in(page, "craft.propeller", "14x4.8")
    assert page.result.answer.design.craft.table.top_thrust_gf == 2079.0  # its last row


def test_designs_are_offered_by_name(page: MyCraft) -> None:
    page.designs.value = "designs/survey_six.toml"
    page.load()
    assert page.base.part.name.startswith("Census six-rotor")


def test_the_first_thing_worth_measuring_is_what_decides_most(page: MyCraft) -> None:
    assert plain(page.worth.html.value).startswith("Worth measuring first flight factor")


def test_a_test_flight_measures_the_flight_factor_and_the_plan_is_made_with_it(
    page: MyCraft,
) -> None:
    panel: TestFlightPanel = page.test_flight
    panel.on.value = "the pack planned"
    panel.boxes["time_min"].value, panel.boxes["charge_ah"].value = "14", "3900 mAh"
    panel.compare()
    assert not panel.reply.text
    found = panel.found
    assert found is not None
    panel.use()
    design = page.result.answer.design
    assert design.craft.flight_factor == found.changes["flight_factor"]
    origin = next(o for o in design.origins if o.key == "flight_factor")
    assert (origin.origin, origin.uncertainty_pct) == ("measured", found.origin.uncertainty_pct)
    page.save()
    kept = wb.read_design("designs/mine.toml").design
    assert set(kept.origins) == set(design.origins)
    assert not plain(page.worth.html.value).startswith("Worth measuring first flight factor")


def test_a_test_flight_that_cannot_be_used_is_refused(page: MyCraft) -> None:
    panel = page.test_flight
    panel.compare()
    assert "states no pack of today" in panel.reply.text
    panel.boxes["current_a"].value, panel.boxes["voltage_v"].value = "14", "15 V"
    panel.boxes["mass_g"].value = "1.8 kg"
    panel.compare()
    assert panel.reply.text == ""  # amperes, volts and the mass need no pack
    for box in panel.boxes.values():
        box.value = ""
    panel.on.value = "the pack planned"
    panel.boxes["time_min"].value = "14"
    panel.compare()
    assert "in one way" in panel.reply.text
    assert panel.found is None


def test_nothing_is_written_over_unasked(page: MyCraft) -> None:
    page.path_box.value = "designs/survey_six.toml"
    page.save()
    assert page.reply.text
    assert "Census six-rotor" in Path("designs/survey_six.toml").read_text("utf-8")


def test_a_design_saved_in_another_folder_still_finds_its_table_and_its_cells(folder: Path) -> None:
    (folder / "cells").mkdir()
    own = (CELLS / "sedge.toml").read_text("utf-8").replace('"Sedge"', '"Sedge of mine"')
    (folder / "cells" / "own.toml").write_text(own, "utf-8")
    text = Path("designs/survey_six.toml").read_text("utf-8")
    text = text.replace('cell = "Sedge"', 'cell = "Sedge of mine"\ncell_folder = "../cells"')
    Path("designs/of_mine.toml").write_text(text, "utf-8")
    page = open_page("my_craft", "designs/of_mine.toml")
    before = page.result.answer.point.endurance_min
    page.path_box.value = "of_mine.toml"  # the notebooks' own folder
    page.save()
    saved = read_design("of_mine.toml")
    assert saved.part.craft.thrust_table == "tables/survey_motor.csv"
    assert saved.part.pack.cell_folder == "cells"
    assert size(saved.design).point.endurance_min == before
    page.path_box.value = "elsewhere/deeper/of_mine.toml"
    page.save()
    assert "outside the design's own folders" in page.reply.text
    assert not Path("elsewhere").exists()


def test_the_table_of_the_design_is_never_written_over(folder: Path) -> None:
    page = open_page("my_craft", "designs/survey_six.toml")
    table = folder / "tables" / "survey_motor.csv"
    before = table.read_bytes()
    page.path_box.value, page.overwrite.value = "tables/survey_motor.csv", True
    page.save()
    assert "worked from" in page.reply.text
    assert table.read_bytes() == before


def test_a_doubt_is_answered_on_the_page_and_kept_in_the_file(page: MyCraft, folder: Path) -> None:
    type_in(page, "craft.mass_without_pack_g", "21")
    assert {doubt.about for doubt in page.result.answer.open_doubts} == {"mass", "table"}
    page.sure.value = "mass"
    assert {doubt.about for doubt in page.result.answer.open_doubts} == {"table"}
    page.sure.value = "mass, table"
    assert page.result.answer.open_doubts == ()
    page.save()
    assert read_design(page.path).part.sure == ["mass", "table"]
    page.sure.value = "mess"
    assert 'there is no doubt about "mess"' in plain(page.live.message.value)


def test_a_mission_is_typed_as_in_the_file(page: MyCraft) -> None:
    page.mission.value = '[[mission]]\nkind = "hover"\nduration_s = 300.0'
    assert page.result.answer.mission.total_min == pytest.approx(5.0)
    page.mission.value = "[[mission]"
    assert "not TOML" in page.live.problems[0]


def test_a_doubt_or_a_fault_calls_a_figure_as_its_label_does(page: MyCraft) -> None:
    type_in(page, "craft.mass_without_pack_g", "60")
    notes = plain(page.notices.html.value)
    assert "craft without pack (craft.mass_without_pack_g) is 60 g;" in notes
    assert "is not stated (take-off limit: craft.max_all_up_mass_g)" in notes
    limits = plain(page.limits_table.html.value)
    assert "? not checked" in limits
    assert "take-off limit" not in limits  # why is said once, in the notes
    type_in(page, "craft.mass_without_pack_g", "heavy")
    message = plain(page.live.message.value)
    assert "craft without pack (craft.mass_without_pack_g)" in message
