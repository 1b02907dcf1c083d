"""The chart of candidates: groups, front, names, clicks."""

from __future__ import annotations

import pytest

from workbook.widgets.candidate_chart import MOST_FAINT, CandidateChart, Dot


@pytest.fixture
def chart():
    return CandidateChart("Choice", "mass, g", "time, min", ["energy", "power"])


DOTS = (
    Dot("A", 100.0, 20.0, "energy", "a", True),
    Dot("B", 120.0, 19.0, "power", "b"),
    Dot("C", 150.0, 30.0, "power", "c", True),
)


def test_colour_and_marker_differ_by_group(chart):
    looks = {(m.colors[0], m.marker) for m in chart.marks.values()}
    assert len(looks) == 2
    assert len({c for c, _ in looks}) == len({m for _, m in looks}) == 2
    for sign, group in (("●", "energy"), ("◆", "power")):
        assert f"{sign}</span>&nbsp;{group}" in chart.legend.value
    assert "color:var(--wb-pack)" in chart.legend.value  # it has a value for dark pages
    assert "#" not in chart.legend.value


def test_front_names_and_clicks(chart):
    clicked = []
    chart.on_click(clicked.append)
    chart.update(DOTS, [Dot("x", 110.0, 10.0, "")], today=Dot("today", 90.0, 15.0, ""))
    assert chart.front.x.tolist() == [100.0, 150.0]
    assert list(chart.names) == ["A", "C", "today"]
    chart.click("power", 1)
    chart.click("energy", 0)
    chart.click("energy", 7)
    assert clicked == ["c", "a"]
    chart.update([DOTS[1]])
    assert not chart.front.visible
    chart.click("power", 0)
    assert clicked[-1] == "b"


def test_many_rejected_are_thinned_and_what_is_far_off_is_left_out(chart):
    many = [Dot("", 100.0 + k * 0.01, 20.0, "") for k in range(3 * MOST_FAINT)]
    chart.update(DOTS, [*many, Dot("", 9000.0, 20.0, "")])
    assert 0 < len(chart.rejected.x) <= MOST_FAINT
    assert chart.rejected.x.max() < 200


def test_nothing_at_all_and_a_group_that_is_not_there(chart):
    chart.update([])
    assert all(len(m.x) == 0 for m in chart.marks.values())
    with pytest.raises(KeyError, match="no group rubber"):
        chart.update([Dot("A", 1.0, 1.0, "rubber")])
    with pytest.raises(ValueError, match="at most 4"):
        CandidateChart("", "", "", list("abcde"))


def test_projector_size_keeps_what_is_shown(chart):
    chart.update(DOTS, chosen=DOTS[0])
    chart.set_big(True)
    assert chart.text_px == 24
    assert chart.ring.x.tolist() == [100.0]


def test_what_is_asked_is_a_line_each_way_and_moves_by_itself(chart):
    chart.update(DOTS, limits=(160.0, 18.0))
    assert list(chart.limit_lines["x"].x) == [160.0, 160.0]
    assert list(chart.limit_lines["y"].y) == [18.0, 18.0]
    chart.show_limits(140.0, 22.0)
    assert list(chart.limit_lines["x"].x) == [140.0, 140.0]
    assert [len(mark.x) for mark in chart.marks.values()] == [1, 2], "the candidates stay"
    chart.show_limits(9000.0, 22.0)
    assert not chart.limit_lines["x"].visible, "far off the chart"


def test_a_rejected_one_can_be_asked_why(chart):
    clicked = []
    chart.on_click(clicked.append)
    chart.update(DOTS, [Dot("x", 110.0, 20.0, "", "why"), Dot("far", 9000.0, 1.0, "", "far")])
    chart.click("rejected", 0)
    chart.click("rejected", 1)
    assert clicked == ["why"]


def test_a_narrow_chart_names_the_ends_of_the_front_and_what_is_chosen(chart):
    front = [Dot(f"{k}P", 100.0 + k, 20.0 + k, "power", f"{k}", True) for k in range(9)]
    chart.update(front, chosen=front[4])
    assert list(chart.names) == [dot.name for dot in front]
    chart.fit(370)
    assert list(chart.names) == ["0P", "8P", "4P"]


def test_a_candidate_is_not_named_on_the_name_of_what_is_asked(chart):
    low = Dot("Lapwing 6S3P", 138.0, 20.0, "power", "l", True)
    chart.update([low, Dot("high", 100.0, 30.0, "power", "h", True)], limits=(150.0, 20.0))
    (low_x, high_x), per_letter = chart.axis_range("x"), 0.56 * chart.text_px
    per_x = chart.plot_px[0] / (high_x - low_x)
    ends_px = (chart.names["Lapwing 6S3P"][0] - low_x) * per_x + per_letter * len("Lapwing 6S3P")
    assert ends_px < chart.plot_px[0] - per_letter * len(
        "asked for"
    )  # on the other side of its point
