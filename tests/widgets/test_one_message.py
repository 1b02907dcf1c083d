"""What one change moves goes out as one message, or as two; and each by itself where no page takes that."""

from __future__ import annotations

from unittest import mock

import bqplot as bq
import ipywidgets as W
import numpy as np
import pytest
from bqscales import LinearScale

from workbook.widgets.charts import Line, LineChart
from workbook.widgets.one_message import OneMessage, figure_update


def sent_by(together: OneMessage, change) -> list[tuple[W.Widget, dict, list]]:
    sent: list[tuple[W.Widget, dict, list]] = []

    def send(widget, message, buffers=None):
        sent.append((widget, message, buffers))

    with mock.patch.object(W.Widget, "_send", send), together.held():
        change()
    assert W.Widget._send is not send
    return sent


def test_many_changes_are_one_message_with_all_their_buffers():
    text, scales = W.HTML(), {"x": LinearScale(), "y": LinearScale()}
    line, together = bq.Lines(x=np.zeros(3), y=np.zeros(3), scales=scales), OneMessage(ready=True)

    def change():
        text.value = "now"
        with line.hold_sync():
            line.x, line.y = np.ones(3), np.arange(3.0)

    [(widget, message, buffers)] = sent_by(together, change)
    assert widget is together
    first, second = message["content"]["updates"]
    assert (first["id"], first["data"]["state"]) == (text.model_id, {"value": "now"})
    assert second["id"] == line.model_id
    assert (first["buffers"], second["buffers"], len(buffers)) == (0, 2, 2)
    assert sorted(second["data"]["buffer_paths"]) == [["x", "value"], ["y", "value"]]


def test_each_widget_sends_its_own_until_the_page_takes_them_together():
    text = W.HTML()

    def change():
        text.value = "now"

    [(widget, message, _)] = sent_by(OneMessage(), change)
    assert widget is text
    assert message["state"] == {"value": "now"}


def test_nothing_is_sent_where_nothing_changes():
    assert sent_by(OneMessage(ready=True), lambda: None) == []


def contents(together: OneMessage, change) -> list[tuple[bool, list[str]]]:
    """Each message: whether it waits for the one before to be painted, and which widgets it speaks of."""
    sent = [message["content"] for _, message, _ in sent_by(together, change)]
    return [(one["later"], [part["id"] for part in one["updates"]]) for one in sent]


def test_the_first_figure_that_moves_ends_the_first_message():
    verdict, one, other, notes = (W.HTML() for _ in range(4))

    def change():
        verdict.value = "holds"
        with figure_update():
            pass  # it stays as it is
        for figure in (one, other):
            with figure_update():
                figure.value = "moved"
        notes.value = "none"

    first, later = (
        [verdict.model_id, one.model_id],
        [other.model_id, notes.model_id],
    )
    assert contents(OneMessage(ready=True), change) == [(False, first), (True, later)]


def test_what_is_held_within_goes_out_with_what_is_held_around_it():
    number, figure, notes = (W.HTML() for _ in range(3))
    together = OneMessage(ready=True)

    def change():
        number.value = "6"
        with together.held():
            with figure_update():
                figure.value = "moved"
            notes.value = "none"

    first, later = [number.model_id, figure.model_id], [notes.model_id]
    assert contents(together, change) == [(False, first), (True, later)]


def test_charts_are_figures():
    above, below = (LineChart("Voltage", "time, min", "voltage, V") for _ in range(2))

    def change():
        for chart in (above, below):
            chart.update([Line("pack", [0, 1], [4, 3])], finding="It falls.")

    first, later = contents(OneMessage(ready=True), change)
    assert (first[0], later[0]) == (False, True)
    assert above.finding.model_id in first[1]
    assert below.finding.model_id in later[1]
    assert not set(first[1]) & set(later[1])


def test_what_was_held_goes_out_also_where_a_figure_cannot_be_drawn():
    text = W.HTML()

    @figure_update()
    def draw():
        text.value = "half of it"
        raise ZeroDivisionError

    def change():
        with pytest.raises(ZeroDivisionError):
            draw()

    assert contents(OneMessage(ready=True), change) == [(False, [text.model_id])]
