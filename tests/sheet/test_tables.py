"""Tables of text: every figure in them is that of the record they show."""

import workbook as wb
from tests.conftest import DESIGNS
from workbook.files.cell_file import catalogue
from workbook.quantities import RESULTS
from workbook.sheet.tables import (
    budget_text,
    designs_text,
    short_report,
    situations_text,
    sweep_text,
)
from workbook.sizing.situations import situations

SIX, QUAD = (
    wb.read_design(DESIGNS / f"{name}.toml").design for name in ("survey_six", "light_quad")
)


def test_in_short_there_are_the_verdict_six_figures_and_what_is_broken():
    for name in ("survey_six", "light_quad", "survey_wing"):
        answer = wb.size(wb.read_design(DESIGNS / f"{name}.toml").design)
        text = short_report(answer)
        assert len(answer.craft_type.short_keys) == 6
        for key in answer.craft_type.short_keys:
            assert RESULTS[key].text(answer.figures()[key]) in text
    late = wb.size(SIX.changed(wanted_min=50.0))
    assert short_report(late).startswith(f"{SIX.name}: NOT YET")
    assert late.broken[0].broken_text in short_report(late)
    assert "A way out: P = 4" in short_report(late, "P = 4")


def test_designs_stand_side_by_side():
    answers = [wb.size(SIX), wb.size(SIX.changed(parallel=4)), wb.size(QUAD)]
    text = designs_text(answers, wb.compare(*answers[:2]))
    for answer in answers:
        assert RESULTS["endurance_min"].text(answer.point.endurance_min) in text
    assert "parallel, P from 3 to 4" in text


def test_the_budget_as_a_table():
    found = wb.budget(SIX, draws=256)
    text = budget_text(found)
    assert all(line.name in text for line in found.lines)
    assert (
        f"{RESULTS['met_pct'].number(found.met_pct)} flights in a hundred last the 23 min asked for"
        in text
    )
    assert found.as_dict()["readings"][0]["p50"] == found.reading("endurance_min").p50


def test_situations_as_a_table():
    here = situations(SIX)
    text = situations_text(here)
    assert all(one.name in text and one.why in text for one in here)


def test_a_sweep_as_a_table():
    found = wb.sweep(SIX, list(catalogue().values()), [6], range(2, 6))
    text = sweep_text(found)
    assert found.lightest.name in text
    assert all(one.name in text for one in found.pareto())
    held = found.as_dict()
    assert held["hold"] == len(found.survivors())
    assert held["pareto"][0]["cell"] == next(iter(found.pareto())).cell
