"""What would do: it does when it is put into the design, and the least of it comes first."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from tests.conftest import DESIGNS
from workbook.files.cell_file import catalogue
from workbook.files.design_file import read_design
from workbook.sizing.design import Design, MissionPhase
from workbook.sizing.remedy import remedy
from workbook.sizing.size import SizingResult, size

CELLS = catalogue()


def six(**changes: object) -> Design:
    design = replace(read_design(DESIGNS / "survey_six.toml").design, today=None, mission=())
    return design.changed(**{"wanted_min": None, **changes})


def sound(result: SizingResult) -> bool:
    return not result.broken and not result.stops


def asked(design: Design) -> str:
    return remedy(size(design), CELLS.values())


def test_nothing_is_stated_of_what_holds() -> None:
    assert asked(six()) == ""


def test_a_cap_that_is_all_it_takes_does_it_when_it_is_set() -> None:
    design = six(throttle_cap_pct=100.0)
    found = re.search(
        r"a throttle cap of (\d+) % at most, which leaves a thrust to weight of ([\d.]+)",
        asked(design),
    )
    assert found is not None
    capped = size(design.changed(throttle_cap_pct=float(found[1])))
    assert sound(capped)
    assert float(found[2]) <= float(capped.point.reserve) < float(found[2]) + 0.01
    # the cap is the highest in whole percent: one more breaks the burst current
    more = size(design.changed(throttle_cap_pct=float(found[1]) + 1.0))
    assert "burst_cell_current" in [limit.key for limit in more.broken]


def test_cap_and_thrust_against_each_other_are_answered_together() -> None:
    """Two in parallel: the cap keeps the current and takes the thrust."""
    design = six(parallel=2, thrust_reserve=1.4)
    text = asked(design)
    found = re.search(
        r"a throttle cap of (\d+) % at most, which leaves a thrust to weight of ([\d.]+)", text
    )
    assert found is not None
    capped = size(design.changed(throttle_cap_pct=float(found[1])))
    assert capped.broken[0].key in ("thrust_to_weight", "hover_voltage")
    assert f"({design.flight.thrust_reserve:.2f} is asked for)" in text
    more = int(re.search(r"P = (\d+)", text)[1])  # type: ignore[index]
    assert more > 2
    assert sound(size(design.changed(parallel=more)))


def test_a_cell_of_a_higher_rating_would_do_and_one_ampere_less_would_not() -> None:
    design = six(parallel=2, thrust_reserve=1.4)
    burst_a = int(re.search(r"a cell of (\d+) A burst", asked(design))[1])  # type: ignore[index]

    def capped(rating: float) -> SizingResult:
        cell = replace(design.pack.cell, burst_a=rating)
        rated = design.changed(cell=cell)
        cap = float(size(rated).point.throttle_cap_pct("burst"))
        return size(rated.changed(throttle_cap_pct=min(design.flight.throttle_cap_pct, cap // 1)))

    assert sound(capped(burst_a))
    assert not sound(capped(burst_a - 1))


def test_other_cells_that_are_named_hold() -> None:
    design = six(parallel=2, thrust_reserve=1.4)
    named = re.search(r".*, or (.+) in place of", asked(design))
    assert named is not None
    for name in re.split(" or |, ", named[1]):
        whole = re.match(r"(.*?)(?: with a throttle cap of (\d+) %)?$", name)
        assert whole is not None
        cap = {"throttle_cap_pct": float(whole[2])} if whole[2] else {}
        assert sound(size(design.changed(cell=CELLS[whole[1]], **cap))), name


def test_a_cap_set_too_low_is_to_be_raised() -> None:
    design = six(throttle_cap_pct=50.0)
    assert not sound(size(design))
    cap = re.match(r"A throttle cap of (\d+) %", asked(design))
    assert cap is not None
    assert sound(size(design.changed(throttle_cap_pct=float(cap[1]))))


@pytest.mark.parametrize(
    "changes", [{"wanted_min": 90.0}, {"payload_g": 9000.0}, {"landing_v": 2.5}]
)
def test_where_nothing_would_do_it_is_stated(changes: dict[str, float]) -> None:
    text = asked(six(**changes))
    assert "none of the cells known here would do" in text.lower()
    assert "What stands in the way most often:" in text


def test_a_wing_is_shown_what_climb_its_cap_leaves() -> None:
    wing = replace(read_design(DESIGNS / "survey_wing.toml").design, today=None, mission=())
    text = asked(wing.changed(parallel=1, wanted_min=None, wanted_km=None))
    assert re.search(r"at most, which leaves [\d.]+ m/s of climb", text)
    more = int(re.search(r"P = (\d+)", text)[1])  # type: ignore[index]
    assert sound(size(wing.changed(parallel=more, wanted_min=None, wanted_km=None)))


def test_where_only_the_mission_is_broken_no_limit_of_the_packs_is_blamed() -> None:
    design = read_design(DESIGNS / "survey_six_mission.toml").design
    climb = MissionPhase("climb", height_m=120.0, rate_m_s=12.0)
    text = asked(replace(design, mission=(climb,), today=None))
    assert text.endswith("in series.")
