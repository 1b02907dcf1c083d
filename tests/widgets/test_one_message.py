"""What one change moves goes out as one message, and each by itself where no page takes that."""

from __future__ import annotations

from unittest import mock

import bqplot as bq
import ipywidgets as W
import numpy as np
from bqscales import LinearScale

from workbook.widgets.one_message import OneMessage


def told(together: OneMessage, change) -> list[tuple[W.Widget, dict, list]]:
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

    [(widget, message, buffers)] = told(together, change)
    assert widget is together
    first, second = message["content"]["told"]
    assert (first["id"], first["data"]["state"]) == (text.model_id, {"value": "now"})
    assert second["id"] == line.model_id
    assert (first["buffers"], second["buffers"], len(buffers)) == (0, 2, 2)
    assert sorted(second["data"]["buffer_paths"]) == [["x", "value"], ["y", "value"]]


def test_each_tells_its_own_until_the_page_takes_them_together():
    text = W.HTML()

    def change():
        text.value = "now"

    [(widget, message, _)] = told(OneMessage(), change)
    assert widget is text
    assert message["state"] == {"value": "now"}


def test_nothing_is_said_where_nothing_changes():
    assert told(OneMessage(ready=True), lambda: None) == []
