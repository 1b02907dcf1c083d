"""A sizing result: its notes, the reference pack beside it, its thresholds, its JSON."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from tests.conftest import DESIGNS, straight_cell
from tests.sizing.multirotors import SOUND, six
from workbook.battery.pack import Pack
from workbook.errors import Problem
from workbook.files.design_file import read_design
from workbook.sizing.design import MissionPhase, ReferencePack
from workbook.sizing.notes import Note
from workbook.sizing.size import SizingResult, size

HEAVY = ReferencePack("old brick", Pack(straight_cell(mass_g=120.0), 6, 3), 3.4, 20.0)


def place_note(result: SizingResult) -> str:
    return next(note.text for note in result.notes if note.topic == "place in the craft")


def test_the_reference_pack_flies_the_same_craft_with_its_own_end_and_as_new() -> None:
    design = replace(six(pack_cycles=200.0), today=HEAVY)
    today = size(design).today
    assert today is not None
    flight = today.design.flight
    assert (flight.landing_v, flight.reserve_pct, flight.pack_cycles) == (3.4, 20.0, 0.0)
    alone = size(six(cell=HEAVY.pack.cell, overhead_pct=0.0, extra_mass_g=0.0, joint_mohm=0.0,
                     landing_v=3.4, reserve_pct=20.0))  # fmt: skip
    assert today.figures() == alone.figures()


def test_a_lighter_pack_belongs_further_out_by_the_moments() -> None:
    """Moments about the point of balance: 18 x 120 g at 100 mm, this pack at m / m' of that."""
    design = replace(six(), today=HEAVY)
    note = place_note(size(design))
    by_hand = 100 * 18 * 120 / design.pack.mass_g
    assert note.endswith(f"this pack belongs {by_hand:.0f} mm from it.")
    assert "belongs" not in place_note(size(six()))


def test_moving_the_pack_moves_the_craft_by_its_share_of_the_mass() -> None:
    result = size(six())
    shift = 10 * result.design.pack.mass_g / float(result.point.all_up_mass_g)
    assert f"moves the craft's centre of gravity by {shift:.1f} mm" in place_note(result)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"parallel": 1}, "needs the airline's approval"),
        ({"parallel": 2}, "is not carried by passengers"),
        ({"series": 2, "parallel": 1}, "goes into the cabin"),
    ],
)
def test_travel_is_shown_by_watt_hours(change: dict[str, int], words: str) -> None:
    """18 Wh a cell: 6S1P has 108 Wh, 6S2P 216 Wh, 2S1P 36 Wh."""
    (travel,) = (n.text for n in size(six(**change)).notes if n.topic == "carrying")
    assert words in travel
    assert travel.index("no UN 38.3 test") < travel.index(words)


def test_cells_that_differ_are_shown_in_words() -> None:
    assert "the weakest group ends the flight" in size(six()).spread_note
    assert "leads its group" in size(six()).spread_note
    assert "leads its group" not in size(six(parallel=1)).spread_note
    assert size(six(payload_g=60_000.0)).spread_note == ""


def test_remarks_made_while_reading_become_notes() -> None:
    result = size(six(), notices=(Problem("grams are taken.", "six.toml"),))
    assert result.notes[0] == Note("file", "six.toml: grams are taken.")
    assert not result.open_doubts


@pytest.mark.parametrize(
    ("change", "verdict", "holds"),
    [
        ({}, "holds", True),
        ({"controller_max_v": 26.0}, "close", True),
        ({"controller_max_v": None}, "holds as far as checked", True),
        ({"cell": replace(straight_cell(), height_mm=0.0)}, "not checked", False),
        ({"wanted_min": 900.0}, "not yet", False),
        ({"landing_v": 2.6}, "unsafe", False),
    ],
)
def test_the_worst_that_is_found_is_the_verdict(
    change: dict[str, Any], verdict: str, holds: bool
) -> None:
    result = size(six(**{**SOUND, **change}))
    assert (result.verdict, result.holds) == (verdict, holds)
    assert bool(result.reasons) is not holds
    assert result.as_dict()["verdict"] == verdict


def test_an_open_doubt_keeps_a_design_from_holding_and_the_json_has_it() -> None:
    notice = Problem("30 A from 2 Ah.", "heron.toml", about="cell")
    open_ = size(six(**SOUND), notices=(notice,))
    assert (open_.verdict, open_.holds) == ("doubtful", False)
    assert open_.as_dict()["doubts"][0]["answered"] is False
    settled = size(replace(six(**SOUND), sure=("cell", "table")), notices=(notice,))
    assert settled.verdict == "holds"
    assert settled.as_dict()["doubts"][0]["answered"] is True


def test_the_json_is_plain_and_holds_every_part() -> None:
    design = replace(six(), today=HEAVY)
    result = size(design)
    found = json.loads(json.dumps(result.as_dict(), allow_nan=False))
    assert found["craft"] == "multirotor"
    assert [state["state"] for state in found["states"]] == ["full", "half", "end"]
    assert [limit["key"] for limit in found["limits"]] == [limit.key for limit in result.limits]
    assert found["today"]["name"] == "old brick"
    assert found["notes"][-1] == result.spread_note
    assert found["mission"] is None
    hopeless = size(six(payload_g=60_000.0)).as_dict()
    assert hopeless["thresholds"] == []
    json.dumps(hopeless, allow_nan=False)


def test_a_mission_that_can_be_flown_beside_a_cruise_that_cannot_leaves_the_design_unsafe() -> None:
    """At 90 m/s the motor lacks the power, and there is no planned charge of which the mission takes a share."""
    wing = read_design(DESIGNS / "survey_wing.toml").design.changed(cruise_m_s=90.0)
    loiter = MissionPhase(kind="loiter", label="loiter", duration_s=90.0, airspeed_m_s=13.0)
    answer = size(replace(wing, today=None, mission=(loiter,)))
    assert answer.mission is not None
    assert answer.mission.completes
    assert float(answer.point.run.end_depth_of_discharge) == 0.0
    assert answer.verdict == "unsafe"
