"""Counts the state messages that widgets send to the page."""

from collections import Counter
from contextlib import contextmanager

import ipywidgets as W


@contextmanager
def sent(monkeypatch):
    """A counter of messages by widget while the block runs."""
    counts = Counter()

    def _send(self, message, buffers=None):
        if message["method"] == "update":
            counts[self] += 1

    with monkeypatch.context() as patch:
        patch.setattr(W.Widget, "_send", _send)
        yield counts
