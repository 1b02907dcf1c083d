"""Doubts about a design's inputs."""

from workbook.sizing.doubts import Doubt, answered


def test_a_doubt_is_answered_by_its_subject_and_by_nothing_else():
    mass, table = Doubt("craft_mass", "mass", "2.1 g."), Doubt("merit", "table", "1.2.")
    marked = answered((mass, table), ("mass", "cell"))
    assert [doubt.answered for doubt in marked] == [True, False]
    assert '"table"' in table.answer
