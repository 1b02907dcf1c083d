import bqplot as bq
import numpy as np
import pytest

from tests.widgets.recorder import sent
from workbook.widgets.bars import Bar, BarChart
from workbook.widgets.charts import (
    Level,
    Line,
    LineChart,
    Point,
    Vertical,
)
from workbook.widgets.style import LIMIT, PACK

X = np.linspace(0, 30, 61)


def chart():
    return LineChart("Voltage", "time, min", "voltage, V")


def test_update_is_one_message_a_widget_at_most(monkeypatch):
    c = chart()
    shown = {"levels": [Level("cutoff", 2.8)], "x_range": (0, 30), "y_range": (2.5, 4.5)}
    c.update([Line("pack", X, 4.2 - X / 40)], points=[Point("now", 10, 3.95)], **shown)
    marks = list(c.figure.marks)
    with sent(monkeypatch) as counts:
        c.update([Line("pack", X, 4.1 - X / 40)], points=[Point("now", 10, 3.85)], **shown)
    changed = {type(w).__name__ for w in counts}
    assert max(counts.values()) == 1
    assert changed == {"Lines", "Scatter", "Label"}, "axes and level lines did not change"
    assert sum(counts.values()) == 3
    assert list(c.figure.marks) == marks, "built once"


def test_one_message_a_widget_also_where_everything_about_it_changes(monkeypatch):
    c, bars = chart(), BarChart("Shares", "share, %")
    c.update([Line("pack", X, X)], points=[Point("now", 10, 3.9)])
    bars.update([Bar("a", 10)])
    with sent(monkeypatch) as counts:
        c.update(
            [Line("other", X[:40] * 2, X[:40] * 9, "today")],
            levels=[Level("cutoff", 2.8)],
            verticals=[Vertical("end", 12)],
            points=[Point("then", 20, 90, "limit")],
        )
        bars.update([Bar("b", 70), Bar("c", 400, role="limit")])
    figures = (c.figure, bars.figure)
    parts = [w for f in figures for w in (*f.marks, *f.axes, *(a.scale for a in f.axes))]
    names = bars.figure.axes[0].scale
    assert counts[names] == 2  # old and new names together, then the new ones alone
    assert {counts[w] for w in parts if w is not names} == {0, 1}
    assert all(counts[a.scale] == 1 for a in c.figure.axes)
    assert sum(counts[w] for w in parts) == 16  # all but the unused marks and the axis of names


def test_equal_figures_send_nothing(monkeypatch):
    c = chart()
    c.update([Line("pack", X, 4.2 - X / 40)])
    with sent(monkeypatch) as counts:
        c.update([Line("pack", X, 4.2 - X / 40)])
    assert sum(counts.values()) == 0


def test_an_array_that_its_owner_changes_is_drawn_anew():
    c, y = chart(), 4.2 - X / 40
    c.update([Line("pack", X, y)])
    y -= 0.5
    c.update([Line("pack", X, y)])
    [drawn] = (m for m in c.figure.marks if m.visible and isinstance(m, bq.Lines))
    assert drawn.y[0] == pytest.approx(3.7)


def test_role_gives_colour_dash_and_marker():
    c = chart()
    c.update([Line("pack", X, X)], levels=[Level("cutoff", 2.8)], points=[Point("now", 1, 2)])
    level, line, point = (m for m in c.figure.marks if m.visible and not isinstance(m, bq.Label))
    assert (line.colors, line.line_style) == ([PACK.colour], PACK.dash)
    assert (level.colors, level.line_style) == ([LIMIT.colour], LIMIT.dash)
    assert point.marker == PACK.marker


def test_what_is_not_shown_any_more_goes():
    c = chart()
    c.update([Line("a", X, X), Line("b", X, X + 1)], verticals=[Vertical("end", 3)])
    c.update([Line("a", X, X)])
    assert [line.name for line in c.lines] == list(c.names) == ["a"]
    assert c.verticals == ()
    assert c.figure.marks[-1].text.tolist() == []


def test_flat_line_has_an_axis_around_it():
    c = chart()
    c.update([Line("flat", X, np.full(61, 3.4))])
    low, high = c.axis_range("y")
    assert low < 3.4 < high
    assert c.figure.axes[1].tick_format == ".1f"


@pytest.mark.parametrize("y", [np.full(61, np.nan), np.array([]), np.full(61, 0.0)])
def test_nothing_to_show_breaks_nothing(y):
    c = chart()
    c.update([Line("none", X[: len(y)], y)], points=[Point("gone", np.nan, 1.0)])
    assert np.isfinite(c.axis_range("y")).all()
    assert (c.lines == ()) == (not np.isfinite(y).any())
    assert c.points == ()


def test_range_given_is_kept_and_a_curve_is_named_where_it_leaves():
    c = chart()
    c.update([Line("fall", X, 10 - X)], x_range=(0, 30), y_range=(0, 10))
    assert (c.axis_range("x"), c.axis_range("y")) == ((0, 30), (0, 10))
    per_x = c.plot_px[0] / 30
    assert c.names["fall"][0] == pytest.approx(
        10 + 10 / per_x
    )  # leaves at x = 10, 10 px to the right


def test_names_of_close_levels_do_not_cover_each_other():
    c = chart()
    c.update(
        [Line("pack", X, X)], levels=[Level("one", 15), Level("two", 15.1), Level("three", 15)]
    )
    y_per_px = (c.axis_range("y")[1] - c.axis_range("y")[0]) / c.plot_px[1]
    ys = np.sort([y for _, y in c.names.values()])
    assert np.diff(ys).min() / y_per_px >= 17


def test_too_many_curves_are_refused():
    with pytest.raises(ValueError, match="at most 4"):
        chart().update([Line(str(i), X, X) for i in range(5)])


def test_finding_is_escaped_and_kept():
    c = chart()
    c.update([Line("a", X, X)], finding="Sag is <b>0.4</b> V.")
    assert "&lt;b&gt;" in c.finding.value
    c.update([Line("a", X, X + 1)])
    assert c.finding_text == "Sag is <b>0.4</b> V."


def test_projector_size_sets_text_of_18_points():
    c = chart()
    c.update([Line("a", X, X)])
    c.set_big(True)
    assert c.figure.axes[0].tick_style["font-size"] == "24px"  # 18 pt at 96 px an inch
    assert c.text_px == 24
    c.set_big(False)
    assert c.text_px == 14


def test_a_point_is_named_beside_its_curve_and_not_on_it():
    c = chart()
    c.update(
        [Line("rise", X, X)], points=[Point("hover", 10, 10.0)], x_range=(0, 30), y_range=(0, 30)
    )
    wide, high = c.plot_px
    per_y = high / 30
    (left, middle), width = c.names["hover"], 0.56 * 14 * len("hover") * 30 / wide
    under = X[(left <= X) & (left + width >= X)]  # the curve is y = x
    assert (np.abs(under - middle) * per_y >= 0.5 * 1.25 * 14).all()


def test_a_curve_ends_at_its_last_number_and_one_without_any_is_not_drawn() -> None:
    chart = LineChart("c", "x", "y")
    nan = float("nan")
    chart.update([Line("ends", [0, 1, 2], [4.0, 3.0, nan]), Line("none", [0, 1], [nan, nan])])
    assert list(chart.lines[0].y) == [4.0, 3.0]
    assert len(chart.lines) == 1


def test_a_chart_takes_the_projector_size_that_it_was_given() -> None:
    chart = LineChart("c", "x", "y", big_px=(1150, 420))
    laptop = (chart.figure.layout.width, chart.figure.layout.height)
    chart.set_big(True)
    assert (chart.figure.layout.width, chart.figure.layout.height) == ("1150px", "420px")
    chart.set_big(False)
    assert (chart.figure.layout.width, chart.figure.layout.height) == laptop


def test_bars_in_a_narrow_column_have_their_names_over_them():
    bars = BarChart("Shares", "share, %", width_px=760, name_room_px=250)
    bars.update([Bar("cells colder than planned", 40.0), Bar("wind", 16.0)])
    bars.fit(370)
    assert bars.figure.fig_margin["left"] < 20
    over = bars.figure.marks[-2]
    assert over.text.tolist() == ["wind", "cells colder than planned"]
    bars.fit(770)
    assert (over.text.tolist(), bars.figure.fig_margin["left"]) == ([], 250)


def test_names_of_uprights_near_each_other_stand_apart_and_points_are_named_below_them():
    c = chart()
    c.update(
        [Line("", X, X)],
        verticals=[Vertical("asked 23 min", 14.0), Vertical("all as expected", 15.0)],
        points=[Point("95 of 100", 14.5, 29.5)],
        x_range=(0, 30),
        y_range=(0, 30),
    )
    per_px = 30 / c.plot_px[1]
    upper, lower = sorted(c.figure.marks[-1].y, reverse=True)
    assert (upper - lower) / per_px >= 17
    assert (lower - c.names["95 of 100"][1]) / per_px >= 17


def test_a_name_on_a_curve_stands_between_its_points_and_beside_it_in_a_narrow_chart():
    c = chart()
    c.update(
        [Line(name, X, X + up, "faint", 0.5) for name, up in (("5 A", 8.0), ("9 A", 0.0))],
        x_range=(0, 30),
        y_range=(0, 40),
    )
    on = c._names_on
    assert on.text.tolist() == ["5 A", "9 A"]
    assert on.y.tolist() == [name + up for name, up in zip(on.x, (8.0, 0.0), strict=True)]
    c.fit(370)
    per_y = c.plot_px[1] / 40
    assert on.text.tolist() == []
    for name, up, side in (("5 A", 8.0, 1), ("9 A", 0.0, -1)):
        left, middle = c.names[name]
        assert side * (middle - left - up) * per_y > 7  # half a line off the curve y = x + up


def test_a_curve_of_one_point_is_neither_drawn_nor_named():
    c = chart()
    c.update([Line("flown", X, X), Line("best of 20", [0.0], [23.0])])
    assert [line.name for line in c.lines] == ["flown"]
    assert list(c.names) == ["flown"]


def test_the_page_hears_how_ticks_are_printed_before_where_they_are():
    bars = BarChart("Shares", "share, %")
    for axis in (*chart().figure.axes, bars.figure.axes[1]):
        state = axis.get_state(["tick_values", "tick_format"])
        assert list(state) == ["tick_format", "tick_values"]


def test_the_name_of_an_upright_at_the_edge_is_not_cut_off():
    c = chart()
    c.update([Line("", X, X)], verticals=[Vertical("lands: landing voltage", 0.0)], x_range=(0, 30))
    [x] = c._top_names.x
    half = 0.56 * 14 * len("lands: landing voltage") / 2
    left = (x - c.axis_range("x")[0]) * c.plot_px[0] / 30 - half
    assert left >= -c.figure.fig_margin["left"]


def test_a_narrow_chart_leaves_the_names_of_faint_points_away():
    chart = LineChart("Rows", "x", "y")
    points = [Point("hover", 1.0, 1.0), Point("row below", 0.5, 0.5, "faint")]
    chart.update([Line("table", X, X)], points=points)
    assert {"hover", "row below"} <= set(chart.names)
    chart.fit(366)
    assert "hover" in chart.names
    assert "row below" not in chart.names
