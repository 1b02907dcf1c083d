import numpy as np
import pytest

from tests.widgets.recorder import sent
from workbook.widgets.charts import (
    Bar,
    BarChart,
    Level,
    Line,
    LineChart,
    Point,
    Vertical,
)
from workbook.widgets.palette import LIMIT, PACK

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
    assert counts[bars._names_scale] == 2  # old and new names together, then the new ones alone
    assert {counts[w] for w in parts if w is not bars._names_scale} == {0, 1}
    assert all(counts[a.scale] == 1 for a in c.figure.axes)
    assert sum(counts[w] for w in parts) == 16  # all but the unused marks and the axis of names


def test_equal_figures_send_nothing(monkeypatch):
    c = chart()
    c.update([Line("pack", X, 4.2 - X / 40)])
    with sent(monkeypatch) as counts:
        c.update([Line("pack", X, 4.2 - X / 40)])
    assert sum(counts.values()) == 0


def test_role_gives_colour_dash_and_marker():
    c = chart()
    c.update([Line("pack", X, X)], levels=[Level("cutoff", 2.8)], points=[Point("now", 1, 2)])
    assert (c._lines[0].colors, c._lines[0].line_style) == ([PACK.colour], PACK.dash)
    assert (c._levels[0].colors, c._levels[0].line_style) == ([LIMIT.colour], LIMIT.dash)
    assert c._points[0].marker == PACK.marker


def test_what_is_not_shown_any_more_goes():
    c = chart()
    c.update([Line("a", X, X), Line("b", X, X + 1)], verticals=[Vertical("end", 3)])
    c.update([Line("a", X, X)])
    assert [m.visible for m in c._lines] == [True, False, False, False]
    assert not c._verticals[0].visible
    assert list(c._names.text) == ["a"]
    assert list(c._top_names.text) == []


def test_flat_line_has_an_axis_around_it():
    c = chart()
    c.update([Line("flat", X, np.full(61, 3.4))])
    low, high = c.axis_range("y")
    assert low < 3.4 < high
    assert c._axis["y"].tick_format == ".1f"


@pytest.mark.parametrize("y", [np.full(61, np.nan), np.array([]), np.full(61, 0.0)])
def test_nothing_to_show_breaks_nothing(y):
    c = chart()
    c.update([Line("none", X[: len(y)], y)], points=[Point("gone", np.nan, 1.0)])
    assert np.isfinite(c.axis_range("y")).all()
    assert not c._points[0].visible


def test_range_given_is_kept_and_a_curve_is_named_where_it_leaves():
    c = chart()
    c.update([Line("fall", X, 10 - X)], x_range=(0, 30), y_range=(0, 10))
    assert (c.axis_range("x"), c.axis_range("y")) == ((0, 30), (0, 10))
    per_x = c._plot[0] / 30
    assert c._names.x[0] == pytest.approx(10 + 10 / per_x)  # leaves at x = 10, 10 px to the right


def test_names_of_close_levels_do_not_cover_each_other():
    c = chart()
    c.update(
        [Line("pack", X, X)], levels=[Level("one", 15), Level("two", 15.1), Level("three", 15)]
    )
    y_per_px = (c.axis_range("y")[1] - c.axis_range("y")[0]) / c._plot[1]
    ys = np.sort(c._names.y)
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
    assert c._axis["x"].tick_style["font-size"] == "24px"  # 18 pt at 96 px an inch
    assert c._names.default_size == 24
    c.set_big(False)
    assert c._names.default_size == 14


def test_bars_are_sorted_and_printed():
    c = BarChart("Shares", "share, %")
    c.update([Bar("a", 10), Bar("b", 70, "70 %", "limit"), Bar("gone", np.nan)])
    assert c.names == ("b", "a")
    assert list(c._bars.y) == [10, 70]  # upwards, so that the longest is on top
    assert list(c._texts.text) == ["10", "70 %"]
    assert c._bars.colors == [PACK.colour, LIMIT.colour]
    c.update([])
    assert c.names == ()


def test_a_point_is_named_beside_its_curve_and_not_on_it():
    c = chart()
    c.update(
        [Line("rise", X, X)], points=[Point("hover", 10, 10.0)], x_range=(0, 30), y_range=(0, 30)
    )
    wide, high = c._plot
    per_y = high / 30
    at = list(c._names.text).index("hover")
    left, width = c._names.x[at], 0.56 * 14 * len("hover") * 30 / wide
    under = X[(left <= X) & (left + width >= X)]  # the curve is y = x
    assert (np.abs(under - c._names.y[at]) * per_y >= 0.5 * 1.25 * 14).all()


def test_a_curve_ends_at_its_last_number_and_one_without_any_is_not_drawn() -> None:
    chart = LineChart("c", "x", "y")
    nan = float("nan")
    chart.update([Line("ends", [0, 1, 2], [4.0, 3.0, nan]), Line("none", [0, 1], [nan, nan])])
    assert list(chart._lines[0].y) == [4.0, 3.0]
    assert not chart._lines[1].visible


def test_a_chart_takes_the_projector_size_that_it_was_given() -> None:
    chart = LineChart("c", "x", "y", big_px=(1150, 420))
    laptop = (chart.figure.layout.width, chart.figure.layout.height)
    chart.set_big(True)
    assert (chart.figure.layout.width, chart.figure.layout.height) == ("1150px", "420px")
    chart.set_big(False)
    assert (chart.figure.layout.width, chart.figure.layout.height) == laptop
