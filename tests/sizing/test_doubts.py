"""Doubts about a design's inputs."""

from dataclasses import replace

from tests.sizing.multirotors import six
from workbook.errors import Problem
from workbook.sizing.doubts import Doubt, answered, doubts


def test_a_doubt_is_answered_by_its_subject_and_by_nothing_else():
    mass, table = Doubt("craft_mass", "mass", "2.1 g."), Doubt("merit", "table", "1.2.")
    marked = answered((mass, table), ("mass", "cell"))
    assert [doubt.answered for doubt in marked] == [True, False]
    assert '"table"' in table.answer


def test_a_reader_that_only_remarks_raises_no_doubt():
    assert doubts(six(), [Problem("row 3 is filled in.", "table.csv")]) == ()


def test_a_readers_doubt_says_its_subject_and_is_answered_in_the_design():
    notice = Problem("30 A from 2 Ah.", "heron.toml", about="cell")
    (doubt,) = doubts(six(), [notice])
    assert (doubt.about, doubt.answered) == ("cell", False)
    assert doubt.line.startswith("doubt about cell: heron.toml: 30 A from 2 Ah.")
    (settled,) = doubts(replace(six(), sure=("cell",)), [notice])
    assert settled.answered
