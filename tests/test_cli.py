"""The command line on real files: answers, exit codes, and a sentence for every kind of bad input."""

from __future__ import annotations

import json
import math
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import workbook
from tests.conftest import DESIGNS, NOTEBOOKS, edited
from workbook.cli import main
from workbook.files.design_file import parse_design, read_design, write_design
from workbook.flightlog.book import read_book

DEMO = DESIGNS / "survey_six.toml"

SHIPPED = Path(workbook.__file__).parent / "data" / "cells"

NAMED_KEYS = (
    "all_up_mass_g", "hover_thrust_per_motor_gf", "hover_current_a", "hover_c_rate", "endurance_min",
    "pack_mass_g", "pack_energy_wh", "pack_continuous_a", "thrust_ceiling_gf", "throttle_cap_pct",
)  # fmt: skip


AGAINST_THE_WIND = (
    '[[mission]]\nkind = "cruise"\ndistance_m = 900.0\nairspeed_m_s = 5.0\nheadwind_m_s = 7.0\n'
)


def changed(club: Path, old: str, new: str) -> Path:
    return edited(club / "designs" / "survey_six.toml", old, new)


@pytest.mark.parametrize("path", sorted(DESIGNS.glob("*.toml")), ids=lambda p: p.stem)
def test_every_demo_design_holds(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["size", str(path)]) == 0, capsys.readouterr().out
    assert "HOLDS" in capsys.readouterr().out


EIGHT_GUSTS = "".join(
    f'\n[[mission]]\nkind = "hover"\nlabel = "gust {k}"\nduration_s = 10.0\ngust_factor = 3.0\n'
    for k in range(8)
)
HALF_TABLE = (
    "Motor,Propeller,Throttle (%),Thrust (g),Current (A),Voltage (V),Power (W)\n"
    + "\n".join(
        f"half,15x5,{t},{g},{w / 22.2:.2f},22.2,{w}"
        for t, g, w in (
            (30, 250, 21),
            (40, 420, 42),
            (50, 640, 74),
            (60, 910, 118),
            (70, 1230, 178),
        )
    )
)
"""Invented, by 22.2 V: watts as thrust^1.35, the last row at 70 % of throttle."""
COLD = {
    "air_temperature_c = 15.0": "air_temperature_c = -15.0\npack_temperature_c = -15.0",
    'cell = "Sedge"': 'cell = "Mine"\ncell_folder = "cell"',
}
UNCAPPED = {"throttle_cap_pct = 74.0": "throttle_cap_pct = 100.0", 'propeller = "15x5"': ""}
OWN_TABLE = {"../tables/survey_motor.csv": "half.csv"}


@pytest.mark.parametrize(
    ("demo", "edits", "code", "expected"),
    [
        ("survey_six", COLD, 1, "colder than the -10 °C that their maker allows"),
        (
            "survey_six",
            {'rules = "club"': 'rules = "club"\nlanding_v = 2.4'},
            2,
            "flight.landing_v is 2.4; a number from 2.5",
        ),
        ("survey_six", {'rules = "club"': 'rules = "club"\nlanding_v = 2.6'}, 1, "below 2.8 V"),
        ("survey_six", {"series = 6": "series = 8"}, 1, "far above the 22.2 V at which the thrust"),
        (
            "survey_six",
            {**OWN_TABLE, **UNCAPPED},
            1,
            "cell voltage in hover that the thrust reserve needs: the voltage needed",
        ),
        (
            "survey_six_mission",
            {"END": EIGHT_GUSTS},
            1,
            "In the mission each cell would carry more",
        ),
        (
            "survey_wing",
            {"cruise_m_s = 13.0": "cruise_m_s = 27.0"},
            1,
            "more than full power gives",
        ),
        ("survey_wing", {"cruise_m_s = 13.0": "cruise_m_s = 23.0"}, 1, "propeller pulls less than"),
        ("survey_wing", {"largest_lift = 1.15": "largest_lift = 0.65"}, 1, "1.2 times the stall"),
    ],
)
def test_what_is_unsafe_or_cannot_be_checked_is_not_said_to_hold(
    club: Path,
    capsys: pytest.CaptureFixture[str],
    demo: str,
    edits: dict[str, str],
    code: int,
    expected: str,
) -> None:
    """The reason stands on standard error, in words."""
    path = club / "designs" / f"{demo}.toml"
    (club / "designs" / "half.csv").write_text(HALF_TABLE, "utf-8")
    sedge = (SHIPPED / "sedge.toml").read_text("utf-8").replace('name = "Sedge"', 'name = "Mine"')
    sedge = sedge.replace("min_temperature_c = -20.0", "min_temperature_c = -10.0")
    (club / "designs" / "cell").mkdir()
    (club / "designs" / "cell" / "mine.toml").write_text(sedge, "utf-8")
    text = path.read_text("utf-8")
    for old, new in edits.items():
        assert old == "END" or old in text
        text = text + new if old == "END" else text.replace(old, new)
    path.write_text(text, "utf-8")
    assert main(["size", str(path)]) == code, capsys.readouterr().out
    assert expected in capsys.readouterr().err


@pytest.mark.parametrize(
    "key",
    [
        "controller_max_v",
        "controller_max_a",
        "connector_max_a",
        "power_module_max_a",
        "power_module_max_v",
        "regulator_min_v",
        "regulator_max_v",
    ],
)
def test_a_rating_that_nobody_states_lets_a_design_hold_as_far_as_checked(
    club: Path, capsys: pytest.CaptureFixture[str], key: str
) -> None:
    path = club / "designs" / "survey_six.toml"
    kept = [line for line in path.read_text("utf-8").splitlines() if not line.startswith(key)]
    path.write_text("\n".join(kept), "utf-8")
    assert main(["size", str(path)]) == 0
    printed = capsys.readouterr().out
    assert "HOLDS as far as checked" in printed
    assert f"(craft.{key})" in printed


def test_json_has_the_named_keys_and_only_plain_values(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["size", "--json", str(DEMO)]) == 0
    values = json.loads(capsys.readouterr().out)
    for key in NAMED_KEYS:
        assert isinstance(values[key], float), key
        assert math.isfinite(values[key]), key
    for limit in values["limits"]:
        assert set(limit) >= {"name", "demand", "limit", "unit", "margin_pct", "verdict"}
        assert limit["verdict"] in {"holds", "close", "broken", "not checked"}


def test_figures_agree_with_each_other(capsys: pytest.CaptureFixture[str]) -> None:
    """Arithmetic that a builder can repeat from the printed figures alone."""
    assert main(["size", "--json", str(DEMO)]) == 0
    values = json.loads(capsys.readouterr().out)
    assert values["all_up_mass_g"] == pytest.approx(2100 + 350 + values["pack_mass_g"])
    assert values["hover_thrust_per_motor_gf"] == pytest.approx(values["all_up_mass_g"] / 6)
    assert values["hover_c_rate"] == pytest.approx(
        values["hover_current_a"] / values["pack_capacity_ah"]
    )
    assert values["endurance_min"] == pytest.approx(
        60 * values["energy_used_wh"] / values["hover_power_w"]
    )
    assert values["endurance_min"] == pytest.approx(
        60 * values["charge_used_ah"] / values["hover_current_a"]
    )
    assert values["pack_energy_wh"] == pytest.approx(18 * 3.6 * 4.57)


def test_working_is_printed_with_numbers_and_source(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["size", "--working", str(DEMO)]) == 0
    out = capsys.readouterr().out
    assert "6 x 3.6 V = 21.6 V  [IEC 61960-3" in out


def test_today_stands_beside_the_new_pack(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["size", "--json", str(DEMO)]) == 0
    values = json.loads(capsys.readouterr().out)
    assert values["today"]["pack_mass_g"] == pytest.approx(1012)
    assert 0 < values["today"]["endurance_min"] < values["endurance_min"]


def test_an_unsafe_design_says_so_and_exits_1(
    club: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = changed(club, "parallel = 3", "parallel = 1")
    assert main(["size", str(path)]) == 1
    printed = capsys.readouterr()
    assert "UNSAFE: do not build or fly" in printed.out
    assert "can overheat, vent and burn" in printed.err


def test_a_broken_limit_exits_1_and_says_which(
    club: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = changed(club, "wanted_min = 23.0", "wanted_min = 90.0")
    assert main(["size", str(path)]) == 1
    assert "does not last the flight time asked for" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("rotors = 6", "rotors = 0", "craft.rotors is 0; a whole number from 1 up to 16"),
        ("rotors = 6", "", "craft.rotors is missing"),
        ("payload_g = 350.0", "payload_g = -5.0", "craft.payload_g is -5; a number from 0"),
        ("payload_g = 350.0", "payload_g = nan", "craft.payload_g is nan"),
        ("payload_g = 350.0", 'payload_g = "heavy"', 'craft.payload_g is "heavy"'),
        ("series = 6", "series = 0", "pack.series is 0"),
        ("series = 6", "series = 1000", "pack.series is 1000"),
        ("parallel = 3", "parallel = 0", "pack.parallel is 0"),
        ("parallel = 3", "parallel = 1000", "pack.parallel is 1000"),
        ("series = 6", "series = 6\nbalance = 3", "pack.balance is not a key"),
        ('cell = "Sedge"', 'cell = "Sedge 48"', "Sedge"),
        ("survey_motor.csv", "no_motor.csv", "no_motor.csv: there is no file here"),
        ("lithium pack design 1", "lithium pack design 9", "format is"),
        ('propeller = "15x5"', 'propeller = "99x9"', "15x5"),
        ("[flight]", "[flight", "not TOML"),
    ],
)  # fmt: skip
def test_bad_designs_get_their_sentence_and_exit_2(
    club: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, expected: str
) -> None:
    path = changed(club, old, new)
    assert main(["size", str(path)]) == 2
    err = capsys.readouterr().err
    assert expected in err
    assert "Traceback" not in err


@pytest.mark.parametrize("command", ["size", "compare", "sweep", "sheet"])
def test_a_mission_that_cannot_be_flown_names_its_file(
    club: Path, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    path = changed(club, "[bench]", f"{AGAINST_THE_WIND}\n[bench]")
    output = ["-o", str(club / "sheet.html")] if command == "sheet" else []
    assert main([command, str(path), *output]) == 2
    err = capsys.readouterr().err
    assert err.startswith(
        f"{path.name}, phase 1 (cruise): airspeed of 5 m/s against a wind of 7 m/s"
    )


def test_every_fault_is_told_at_once(club: Path, capsys: pytest.CaptureFixture[str]) -> None:
    changed(club, "rotors = 6", "rotors = 0")
    path = changed(club, "parallel = 3", "parallel = 99")
    assert main(["size", str(path)]) == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 2


def test_missing_table_and_unknown_cell_are_told_together(
    club: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    changed(club, "survey_motor.csv", "none.csv")
    path = changed(club, 'cell = "Sedge"', 'cell = "Nobody"')
    assert main(["size", str(path)]) == 2
    err = capsys.readouterr().err
    assert "none.csv" in err
    assert "Nobody" in err


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"", "the file is empty"),
        (b"\x00\x01\x02", "the file is binary"),
        (b"\xff\xfe", "not UTF-8"),
        (b"x" * 2_000_000, "2.0 MB"),
    ],
)
def test_files_that_are_no_design(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes, expected: str
) -> None:
    path = tmp_path / "odd.toml"
    path.write_bytes(content)
    assert main(["size", str(path)]) == 2
    assert expected in capsys.readouterr().err


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"", "empty"),
        (b"\x00\x01\x02", "binary"),
        (b"Throttle (%),Current (A),Voltage (V)\n50,3,22\n100,9,22\n", "thrust"),
        (
            b"Throttle (%),Thrust (g),Current (A),Voltage (V)\n50,six,3,22.2\n100,900,9,22.2\n",
            "six",
        ),
        (b"Thrust (g),Current (A),Voltage (V)\n-300,3,22.2\n900,9,22.2\n", "-300"),
    ],
)
def test_thrust_tables_that_cannot_be_used(
    club: Path, capsys: pytest.CaptureFixture[str], content: bytes, expected: str
) -> None:
    (club / "tables" / "survey_motor.csv").write_bytes(content)
    assert main(["size", str(club / "designs" / "survey_six.toml")]) == 2
    err = capsys.readouterr().err
    assert "survey_motor.csv" in err
    assert expected in err


def test_a_table_of_50_mb_is_refused_before_it_is_read(
    club: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with (club / "tables" / "survey_motor.csv").open("wb") as file:
        file.truncate(50_000_000)
    assert main(["size", str(club / "designs" / "survey_six.toml")]) == 2
    assert "50" in capsys.readouterr().err


def test_hover_outside_the_table_is_unsafe_and_never_extrapolated(
    club: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = changed(club, "payload_g = 350.0", "payload_g = 40000.0")
    assert main(["size", str(path)]) == 1
    assert "outside the thrust table" in capsys.readouterr().err


def test_save_then_load_gives_the_same_design_and_keeps_comments(tmp_path: Path) -> None:
    file = read_design(DEMO)
    path = tmp_path / "designs" / "copy.toml"
    shutil.copytree(NOTEBOOKS / "tables", tmp_path / "tables")
    write_design(file.part, path, file.document)
    again = read_design(path)
    assert again.part == file.part
    assert path.read_text("utf-8") == DEMO.read_text("utf-8")


def test_a_change_is_written_in_place_and_comments_stay(tmp_path: Path) -> None:
    file = read_design(DEMO)
    pack = file.part.pack.model_copy(update={"parallel": 4})
    path = tmp_path / "four.toml"
    write_design(file.part.model_copy(update={"pack": pack}), path, file.document)
    text = path.read_text("utf-8")
    assert "parallel = 4" in text
    assert "# on the kitchen scale" in text


def test_writing_over_a_file_needs_to_be_asked_for(tmp_path: Path) -> None:
    file = read_design(DEMO)
    path = tmp_path / "mine.toml"
    path.write_text("my notes", "utf-8")
    with pytest.raises(ValueError, match="already here and was left as it is"):
        write_design(file.part, path, file.document)
    assert path.read_text("utf-8") == "my notes"
    write_design(file.part, path, file.document, overwrite=True)
    assert parse_design(path.read_text("utf-8"), DEMO).part == file.part


def test_schema_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema"]) == 0
    schema = json.loads(capsys.readouterr().out)
    assert set(schema["required"]) >= {"format", "name", "craft", "pack", "flight"}


def test_it_runs_as_a_module(tmp_path: Path) -> None:
    run = subprocess.run(
        [sys.executable, "-m", "workbook", "size", str(DEMO), "--json"],
        capture_output=True, text=True, check=False, cwd=tmp_path,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    assert json.loads(run.stdout)["holds"] is True


def test_an_answer_in_short_and_as_a_whole(capsys: pytest.CaptureFixture[str]) -> None:
    lengths = []
    for option in ("--short", "", "--all"):
        assert main(["size", str(DEMO), *filter(None, [option])]) == 0
        lengths.append(len(capsys.readouterr().out.splitlines()))
    assert lengths[0] < 10 < lengths[1] < 0.6 * lengths[2]


def test_designs_are_compared(capsys: pytest.CaptureFixture[str]) -> None:
    paths = [str(DESIGNS / f"{name}.toml") for name in ("survey_six", "light_quad")]
    assert main(["compare", *paths]) == 0
    assert "What differs" in capsys.readouterr().out
    assert main(["compare", *paths, "--json"]) == 0
    assert [one["series"] for one in json.loads(capsys.readouterr().out)] == [6, 4]
    assert main(["compare", paths[0], str(DESIGNS / "survey_wing.toml")]) == 2
    assert "two designs of one type of craft" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("command", "expected"),
    [
        (["compare"], "Census six-rotor, long survey: "),
        (["conditions"], "Fewer than half"),
        (["sweep", "--parallel", "1"], "None of the "),
        (["cells", str(NOTEBOOKS / "cell_logs" / "doubtful_batch.csv")], "leave them out"),
        (
            ["flight", str(NOTEBOOKS / "logs" / "wing.csv")],
            "Unsafe: 2.51 V per cell is under 2.8 V",
        ),
    ],
    ids=lambda given: given[0] if isinstance(given, list) else "",
)
def test_why_it_does_not_hold_stands_on_standard_error(
    club: Path, capsys: pytest.CaptureFixture[str], command: list[str], expected: str
) -> None:
    path = changed(club, "parallel = 3", "parallel = 2")
    assert main([command[0], str(path), *command[1:], "--json"]) == 1
    assert expected in capsys.readouterr().err


def test_a_budget_of_an_unsafe_design_says_so_first(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Electronics that draw a kilowatt: each cell carries more than its maker allows."""
    shutil.copytree(NOTEBOOKS / "tables", tmp_path / "tables")
    design = tmp_path / "designs" / "kilowatt.toml"
    design.parent.mkdir()
    text = (NOTEBOOKS / "designs" / "light_quad.toml").read_text("utf-8")
    no_time_asked = re.sub(r"(?m)^wanted_.*$", "", text)
    design.write_text(no_time_asked.replace("avionics_w = 9.0", "avionics_w = 900.0"), "utf-8")
    assert main(["budget", str(design), "--draws", "64"]) == 1
    printed = capsys.readouterr()
    assert printed.out.startswith("UNSAFE: do not build or fly this design")
    assert "more than" in printed.err
    assert main(["budget", str(design), "--draws", "64", "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["verdict"] == "unsafe"


def test_a_budget_at_the_prompt(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["budget", str(DEMO), "--draws", "512"]) == 0
    assert "flights in a hundred" in capsys.readouterr().out
    assert main(["budget", str(DEMO), "--draws", "512", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["draws"] == 512
    assert main(["budget", str(DEMO), "--draws", "0"]) == 2


def test_conditions_at_the_prompt(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["conditions", str(DEMO)]) == 0
    assert "field at 1500 m" in capsys.readouterr().out
    assert main(["conditions", str(DEMO), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)[0]["situation"] == "as planned"


def test_a_sweep_at_the_prompt(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    table = tmp_path / "packs.csv"
    order = ["sweep", str(DEMO), "--parallel", "2-4", "--csv", str(table)]
    assert main([*order, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    rows = table.read_text("utf-8").splitlines()
    assert len(rows) == found["worked"] + 1
    assert sum(row.endswith(",True") for row in rows) == found["hold"]
    assert main(order) == 2
    assert "packs.csv" in capsys.readouterr().err
    assert main([*order, "--overwrite", "--vary", "payload_g=0,350"]) == 0
    assert len(table.read_text("utf-8").splitlines()) == 2 * found["worked"] + 1
    assert main([*order, "--overwrite", "--vary", "paylod_g=0,350"]) == 2
    assert "paylod_g" in capsys.readouterr().err


@pytest.mark.parametrize("argument", ["--series=0-3", "--parallel=4-2", "--vary=payload_g"])
def test_what_a_sweep_cannot_read_is_said(
    argument: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["sweep", str(DEMO), argument])
    assert stopped.value.code == 2
    assert "needed" in capsys.readouterr().err


@pytest.mark.parametrize(
    "command",
    ["size", "compare", "budget", "sweep", "conditions", "sheet", "open", "schema", "book"],
)
def test_every_command_has_an_example(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main([command, "--help"])
    assert f"Example: workbook {command}" in capsys.readouterr().out


def test_a_cell_file_that_cannot_be_used_stops_no_design_with_another_cell(
    club: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (club / "cells").mkdir()
    text = (SHIPPED / "sedge.toml").read_text("utf-8").replace('name = "Sedge"', 'name = "Mine"')
    (club / "cells" / "mine.toml").write_text(text, "utf-8")
    (club / "cells" / "bad.toml").write_text("name = ", "utf-8")
    path = changed(club, 'cell = "Sedge"', 'cell = "Mine"\ncell_folder = "../cells"')
    assert main(["size", str(path)]) == 0
    printed = capsys.readouterr()
    assert "HOLDS" in printed.out
    assert "left out of the cells to choose from: bad.toml" in printed.err
    assert main(["size", str(path), "--json"]) == 0
    assert any(
        "bad.toml" in note for note in map(str, json.loads(capsys.readouterr().out)["notes"])
    )
    assert main(["sweep", str(path), "--parallel", "3"]) == 0
    assert "left out of the cells to choose from: bad.toml" in capsys.readouterr().err


@pytest.mark.parametrize("over", ["design", "table", "cell", "points", "log"])
def test_a_sheet_is_never_written_over_what_it_is_made_from(
    club: Path, capsys: pytest.CaptureFixture[str], over: str
) -> None:
    cells = club / "cells"
    cells.mkdir()
    shutil.copy(SHIPPED / "sedge.toml", cells / "mine.toml")
    text = (cells / "mine.toml").read_text("utf-8").replace('name = "Sedge"', 'name = "Mine"')
    (cells / "mine.toml").write_text(text, "utf-8")
    (cells / "points.csv").write_text("A;Ah;V", "utf-8")
    shutil.copy(NOTEBOOKS / "cell_logs" / "good_batch.csv", club)
    path = changed(club, 'cell = "Sedge"', 'cell = "Mine"\ncell_folder = "../cells"')
    files = {
        "design": path,
        "table": club / "tables" / "survey_motor.csv",
        "cell": cells / "mine.toml",
        "points": cells / "points.csv",
        "log": club / "good_batch.csv",
    }
    before = files[over].read_bytes()
    asked = ["sheet", str(path), "--cells", str(files["log"]), "--overwrite", "-o"]
    assert main([*asked, str(files[over])]) == 2
    assert "is what is being worked from" in capsys.readouterr().err
    assert files[over].read_bytes() == before
    swept = {**files, "log": path}[over]  # a sweep reads no log
    before = swept.read_bytes()
    assert main(["sweep", str(path), "--overwrite", "--csv", str(swept)]) == 2
    assert swept.read_bytes() == before
    assert main([*asked, str(club / "sheet.html")]) in (0, 1)


def test_a_flight_is_added_to_a_book_in_one_line(tmp_path, capsys):
    book = tmp_path / "heron_1.txt"
    assert (
        main(["book", str(book), "--flown", "14min", "--charge", "6100mAh", "--on", "2026-05-03"])
        == 0
    )
    assert capsys.readouterr().out.startswith("2026-05-03 flown: time 14 min, charge 6.1 Ah [")
    assert main(["book", str(book)]) == 0
    assert "1 flight, 14 min in the air" in capsys.readouterr().out
    assert main(["book", str(book), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["flights"] == 1


def test_a_book_that_says_unsafe_ends_with_1_when_looked_at(tmp_path, capsys):
    book = tmp_path / "heron_1.txt"
    assert main(["book", str(book), "--knocked", "off the bench"]) == 0
    assert "UNSAFE" in capsys.readouterr().err
    assert main(["book", str(book)]) == 1
    assert "UNSAFE" in capsys.readouterr().err
    assert (
        main(["book", str(book), "--tested", "--resistance", "41mohm", "--capacity", "9.9Ah"]) == 0
    )
    assert capsys.readouterr().err == ""
    assert main(["book", str(book)]) == 0


def test_what_is_wrong_with_a_line_of_a_book_is_said_and_nothing_written(tmp_path, capsys):
    book = tmp_path / "heron_1.txt"
    for words, text in (
        (["--charge", "6Ah"], "say what happened, one at a time"),
        (["--flown", "14 V"], "time: '14 V'"),
        (["--flown", "9min", "--charged", "2Ah"], "say what happened, one at a time"),
        (["--struck", "abcd"], "no file here"),
        (["--merge", "none.txt"], "no file here"),
    ):
        assert main(["book", str(book), *words]) == 2
        assert text in capsys.readouterr().err
    assert not book.exists()


def test_a_pack_that_fails_its_test_ends_with_1(tmp_path, capsys):
    book = tmp_path / "heron_1.txt"
    assert (
        main(["book", str(book), "--tested", str(DESIGNS / "survey_six.toml"), "--mass", "800g"])
        == 1
    )
    printed = capsys.readouterr()
    assert "mass: 800 g, FAILS" in printed.err
    assert "tested: mass 800 g; FAILS" in printed.out


def test_two_copies_of_a_book_are_merged(tmp_path, capsys):
    book, other = tmp_path / "a.txt", tmp_path / "b.txt"
    main(["book", str(book), "--flown", "14min"])
    other.write_bytes(book.read_bytes())
    main(["book", str(other), "--charged", "3Ah"])
    capsys.readouterr()
    assert main(["book", str(book), "--merge", str(other)]) == 0
    assert ": 1 line added from" in capsys.readouterr().out


def test_the_log_of_a_proof_discharge_is_held_against_the_sheet(tmp_path, capsys):
    book, log = tmp_path / "heron_1.txt", tmp_path / "proof.csv"
    on = [60 < t <= 2000 or t > 2060 for t in range(4060)]
    rows = [f"{t},{25.0 - 0.0005 * t - 0.5 * on[t]},{10.0 * on[t]}" for t in range(4060)]
    log.write_text("time s,voltage V,current A\n" + "\n".join(rows), "utf-8")
    order = [
        "--tested",
        str(DESIGNS / "survey_six.toml"),
        "--log",
        str(log),
        "--temperature",
        "41 C",
    ]
    assert main(["book", str(book), *order]) == 0
    printed = capsys.readouterr()
    # 3940 s at 10 A are 10.94 Ah; 0.5 V and 12 s of fall (6 mV) over 10 A are 50.6 mohm
    assert "charge 10.9" in printed.out
    assert "resistance 50.6 mΩ" in printed.out
    assert "passes as far as measured" in printed.out
    assert "read the spread of the groups at the balance plug" in printed.err


def test_a_flight_from_its_log_states_no_resistance_of_half_charge(tmp_path, capsys):
    book, log = tmp_path / "heron_1.txt", NOTEBOOKS / "logs" / "six_warm.csv"
    assert main(["book", str(book), "--flown", "--log", str(log)]) == 0
    printed = capsys.readouterr().out
    assert "time 22.46 min" in printed
    assert "resistance" not in printed


def test_a_flight_held_against_its_plan_is_reported_and_noted_in_the_book(tmp_path, capsys):
    book, report = tmp_path / "heron_1.txt", tmp_path / "report.html"
    order = [str(DEMO), str(NOTEBOOKS / "logs" / "six_warm.csv"), "--pack-temp", "24 C"]
    main(["flight", *order, "--report", str(report), "--book", str(book)])
    assert "Flight report: Census six-rotor" in report.read_text("utf-8")
    (event,) = read_book(book).events
    # cells of 1.3 times their own, mean over the 58 % taken, and joints: (24.3 x 1.3 + 4) x 6 / 3, at 24 C
    assert event.figures["resistance_mohm"] == pytest.approx(71.2, abs=1.5)
    assert event.figures["time_min"] == pytest.approx(22.6, abs=0.1)
    assert event.words == "by its log six_warm.csv"
    assert "Written into" in capsys.readouterr().err
    cold = str(NOTEBOOKS / "logs" / "six_cold.csv")
    two = [*order[:2], cold, "--report", str(tmp_path / "x.html")]
    assert main(["flight", *two]) == 2
    assert "one flight" in capsys.readouterr().err


PAIR = DESIGNS / "survey_pair.toml"


def test_two_packs_are_told_in_words_in_json_and_in_every_table(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["size", str(PAIR)]) == 0
    printed = capsys.readouterr().out
    assert "6S4P as two 6S2P in parallel of Sedge" in printed
    for words in ("Two packs, A and B", "Join them only within", "If one pack drops out"):
        assert words in printed
    assert main(["size", "--short", str(PAIR)]) == 0
    assert "packs: 6S4P as two 6S2P in parallel" in capsys.readouterr().out
    assert main(["size", "--json", str(PAIR)]) == 0
    values = json.loads(capsys.readouterr().out)
    packs = values["packs"]
    assert (packs["packs"], packs["joined"], packs["series"], packs["parallel"]) == (
        2,
        "parallel",
        6,
        2,
    )
    demands = {limit["key"]: limit["demand"] for limit in values["limits"]}
    assert packs["steady_cell_a"] == demands["shared_steady_current"]
    assert 2 * packs["full_power_cell_a"] == pytest.approx(demands["connector_current"])
    assert [one["when"] for one in packs["one_left"]] == ["halfway", "when the way home is due"]
    assert main(["compare", str(DESIGNS / "survey_six.toml"), str(PAIR)]) == 0
    assert "- packs from 1 to 2" in capsys.readouterr().out
    assert main(["sweep", str(PAIR), "--parallel", "4-7"]) == 0
    assert "cells left over when two equal packs are made" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (
            "parallel = 4",
            "parallel = 7",
            "two packs joined in parallel cannot share evenly; 6 or 8",
        ),
        ("packs = 2 ", "packs = 4 ", "pack.packs is 4"),
        ("packs = 2 ", 'packs = "a pair" ', "pack.packs"),
        ('joined = "parallel"', 'joined = "both"', "pack.joined"),
        ("apart_cell_v = 0.02", "apart_cell_v = -1", "pack.apart_cell_v is -1"),
        (
            "apart_resistance_pct = 15.0",
            "apart_resistance_pct = 150.0",
            "pack.apart_resistance_pct",
        ),
    ],
)
def test_packs_that_cannot_be_get_one_sentence(
    club: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, expected: str
) -> None:
    path = edited(club / "designs" / "survey_pair.toml", old, new)
    assert main(["size", str(path)]) == 2
    out = capsys.readouterr()
    assert not out.out
    assert len(out.err.strip().splitlines()) == 1
    assert expected in out.err


SLIP = "20 min; 7200 mAh; after 22.6 V"


def test_flights_at_the_prompt(capsys: pytest.CaptureFixture[str], club: Path) -> None:
    design = str(club / "designs" / "survey_six.toml")
    before = Path(design).read_text("utf-8")
    assert main(["flight", design, "--slip", SLIP]) in (0, 1)
    printed = capsys.readouterr().out
    assert "steady power (hover or cruise), W" in printed
    assert "corrected by 1 flight" in printed
    assert (
        main(["flight", design, "--slip", "12 min; 9 Ah", "--json"]) == 1
    )  # far more than planned
    answer = json.loads(capsys.readouterr().out)
    assert answer["flights"][0]["holds"] is False
    assert Path(design).read_text("utf-8") == before
    main(["flight", design, "--slip", SLIP, "--save"])
    assert "[measured]" in Path(design).read_text("utf-8")
    assert main(["flight", design, "--undo"]) == 0
    assert "[measured]" not in Path(design).read_text("utf-8")
    capsys.readouterr()


DISAGREE = ("--slip", "20 min; 8 Ah", "--slip", "20 min; 6 Ah")


def test_flights_that_disagree_are_saved_only_when_asked_to(
    capsys: pytest.CaptureFixture[str], club: Path
) -> None:
    design = club / "designs" / "survey_six.toml"
    before = design.read_bytes()
    assert main(["flight", str(design), *DISAGREE, "--save"]) == 2
    out = capsys.readouterr()
    assert "The flights differ by" in out.out
    assert "[measured] is not written; --accept-doubts" in out.err
    assert design.read_bytes() == before
    assert main(["flight", str(design), *DISAGREE, "--save", "--accept-doubts"]) < 2
    assert read_design(design).part.measured is not None


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ([], "no flight is given"),
        (["--slip", "20 min"], "the charge put back is missing"),
        (["none.csv"], "there is no file here"),
        (["--slip", SLIP, "--mass", "heavy"], "is not one number"),
        (["--slip", SLIP, "--undo"], "give it alone"),
        (["--undo", "--json"], "give it alone"),
    ],
)
def test_flights_that_cannot_be_used_exit_2(
    more: list[str], why: str, capsys: pytest.CaptureFixture[str], club: Path
) -> None:
    assert main(["flight", str(club / "designs" / "survey_six.toml"), *more]) == 2
    assert why in capsys.readouterr().err


@pytest.mark.parametrize("taken", ["designs/survey_six.toml", "tables/survey_motor.csv", "log.csv"])
def test_a_flights_report_is_not_written_over_what_it_comes_from(
    taken: str, capsys: pytest.CaptureFixture[str], club: Path
) -> None:
    shutil.copy(NOTEBOOKS / "logs" / "six_warm.csv", club / "log.csv")
    before = (club / taken).read_bytes()
    flown = [str(club / "designs" / "survey_six.toml"), str(club / "log.csv")]
    assert main(["flight", *flown, "--report", str(club / taken), "--overwrite"]) == 2
    assert "is what is being worked from" in capsys.readouterr().err
    assert (club / taken).read_bytes() == before


@pytest.mark.parametrize("name", ["", ".", " "])
def test_a_new_design_wants_a_name(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new", name]) == 2
    assert "a name for the craft is needed" in capsys.readouterr().err


@pytest.mark.parametrize("batch", ["0", "10001", "9" * 400])
def test_a_delivery_that_cannot_be(batch: str, capsys: pytest.CaptureFixture[str]) -> None:
    cells = str(NOTEBOOKS / "cell_logs" / "good_batch.csv")
    design = str(NOTEBOOKS / "designs" / "survey_six.toml")
    assert main(["cells", design, cells, "--batch", batch]) == 2
    assert "up to 10000" in capsys.readouterr().err


def test_a_table_named_as_on_windows_is_not_written_over(
    club: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = club / "tables" / "survey_motor.csv"
    before = table.read_bytes()
    path = changed(club, "../tables/survey_motor.csv", r"..\\tables\\survey_motor.csv")
    assert main(["sheet", str(path), "-o", str(table), "--overwrite"]) == 2
    assert "is what is being worked from" in capsys.readouterr().err
    assert table.read_bytes() == before


@pytest.mark.parametrize("command", ["size", "conditions"])
def test_rules_of_a_club_that_cannot_be_read_are_told(
    command: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "club.toml").unlink()
    (folder / "club.toml").symlink_to("nowhere")
    main([command, "designs/survey_six.toml"])
    printed = capsys.readouterr().err
    assert "rules shipped with the workbook are in use: club.toml: there is no file here" in printed


def test_json_of_a_book_comes_by_itself(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["book", str(tmp_path / "b.txt"), "--flown", "14min", "--json"]) == 2
    assert "write the line first" in capsys.readouterr().err
    assert not (tmp_path / "b.txt").exists()
