"""Files of the bench: saved, refused, a thrust table of one's own."""

from __future__ import annotations

import pytest

from workbook.files.design_file import read_design
from workbook.files.packed import packed_text
from workbook.lessons.lesson_view import open_page

SIX = "designs/survey_six.toml"


@pytest.fixture
def bench(folder):
    return open_page("sizing_bench", SIX)


def test_a_saved_design_is_the_one_on_the_bench_and_is_not_replaced_unasked(bench, folder):
    bench.files.save("designs/of_mine")
    assert "Saved as designs/of_mine.toml" in bench.files.reply.value
    assert read_design("designs/of_mine.toml").part == read_design(SIX).part
    bench.inputs["payload_g"].value = 123.0
    bench.files.save("designs/of_mine.toml")
    assert "already here" in bench.files.reply.text
    (folder / "elsewhere").mkdir()
    bench.files.save("elsewhere/of_mine.toml")
    saved = read_design("elsewhere/of_mine.toml")
    assert saved.design.craft.payload_g == 123.0
    assert saved.part.craft.thrust_table.startswith("../tables/")


def test_a_packed_design_is_opened_changed_and_saved_packed(bench, folder):
    (folder / "one.toml").write_text(packed_text(read_design(SIX)), "utf-8")
    bench.files.load("one.toml")
    assert "Loaded one.toml" in bench.files.reply.value
    bench.inputs["payload_g"].value = 123.0
    bench.files.save("elsewhere/two.toml")
    saved = read_design("elsewhere/two.toml")
    assert saved.design.craft.payload_g == 123.0
    assert saved.inputs == (saved.path,)


def test_a_table_of_ones_own_takes_the_place_of_the_packed_one(bench, folder):
    (folder / "one.toml").write_text(packed_text(read_design(SIX)), "utf-8")
    bench.files.load("one.toml")
    bench.files.rows.fill(
        "30;250;0,9;22,2;\n60;1050;6,1;22,2;\n90;2250;18,3;22,2;\n100;2700;24,1;22,2;"
    )
    bench.files.take_rows()
    bench.files.save("elsewhere/two.toml")
    saved = read_design("elsewhere/two.toml")
    assert saved.part.craft.thrust_table == "two_thrust.csv"
    assert saved.design.craft.table.top_thrust_gf == 2700.0


def test_a_design_changed_elsewhere_since_it_was_loaded_is_asked_about(bench, folder):
    path = folder / "designs" / "of_mine.toml"
    bench.files.save("designs/of_mine.toml")
    bench.files.load("designs/of_mine.toml")
    text = path.read_text("utf-8").replace("payload_g = 350.0", "payload_g = 555.0")
    path.write_text(text, "utf-8")
    bench.files.overwrite.value = True
    bench.files.save("designs/of_mine.toml")
    assert "changed elsewhere" in bench.files.reply.text
    assert path.read_text("utf-8") == text
    bench.files.save("designs/of_mine.toml")
    assert "Saved" in bench.files.reply.value
    bench.files.save("designs/of_mine.toml")  # its own change is none to ask about
    assert "Saved" in bench.files.reply.value


@pytest.mark.parametrize(
    "target", ["tables/survey_motor.csv", "designs/../tables/survey_motor.csv"]
)
def test_the_table_that_the_design_names_is_never_written_over(bench, folder, target):
    table = folder / "tables" / "survey_motor.csv"
    before = table.read_bytes()
    bench.files.overwrite.value = True
    bench.files.save(target)
    assert "worked from" in bench.files.reply.text
    assert table.read_bytes() == before


def test_a_design_is_not_saved_where_it_could_not_name_its_table(bench, folder):
    bench.files.save("elsewhere/deeper/of_mine.toml")
    assert "outside the design's own folders" in bench.files.reply.text
    assert not (folder / "elsewhere").exists()
    bench.files.anywhere.value = True
    bench.files.save("elsewhere/deeper/of_mine.toml")
    bench.files.load("elsewhere/deeper/of_mine.toml")
    assert "Loaded" in bench.files.reply.value
    bench.files.anywhere.value = False
    bench.files.load("elsewhere/deeper/of_mine.toml")
    assert "outside the design's own folders" in bench.files.reply.text


def test_a_table_typed_from_a_photograph_is_used_and_saved_beside_the_design(bench):
    rows = ["30;250;0,9;22,2;", "60;1050;6,1;22,2;", "90;2250;18,3;22,2;", "100;2700;24,1;22,2;"]
    bench.files.rows.fill("\n".join(rows))
    bench.files.take_rows()
    assert bench.files.file.design.craft.table.current_a.tolist() == [0.9, 6.1, 18.3, 24.1]
    bench.files.save("designs/typed.toml")
    saved = read_design("designs/typed.toml")
    assert saved.part.craft.thrust_table == "typed_thrust.csv"
    assert saved.design.craft.table.thrust_gf.tolist() == [250, 1050, 2250, 2700]


def test_rows_that_are_no_table_are_refused(bench):
    bench.files.rows.fill("a;b;c;d;e")
    before = bench.file
    bench.files.take_rows()
    assert bench.files.reply.text
    assert bench.file is before


def test_typed_rows_of_a_design_with_a_mission_have_their_propeller(bench):
    bench.files.load("designs/survey_six_mission.toml")
    bench.files.rows.fill(
        "30;250;0,9;22,2;\n60;1050;6,1;22,2;\n90;2250;18,3;22,2;\n100;2700;24,1;22,2;"
    )
    bench.files.take_rows()
    assert "name the propeller" in bench.live.problems[0]
    bench.files.propeller.value = "15x5"
    bench.files.take_rows()
    assert bench.live.problems == ()
