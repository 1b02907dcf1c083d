"""Small parts of a page: a button, boxes to type in and to tick, a row that wraps, and the reply to what was done."""

from __future__ import annotations

import base64
import mimetypes
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html import escape
from pathlib import Path

import ipywidgets as W

from workbook.errors import InputError

REPLACE = "replace a file that is already there"
OWN_COPY = "wb-own-copy"
"""Class of a part that a visitor of shared pages does not see."""


def button(
    words: str, act: Callable[[], object], tip: str = "", width_px: int | None = None
) -> W.Button:
    """A button.

    Args:
        words: on it.
        act: what a press does.
        tip: what it is for, where its words do not say so.
        width_px: its width; the usual one where not given.

    Example:
        >>> pressed = []
        >>> button("save", lambda: pressed.append("saved")).click()
        >>> pressed
        ['saved']
    """
    made = W.Button(description=words, tooltip=tip or None, layout=_width_layout(width_px))
    made.on_click(lambda _: act())
    return made


def text_box(
    value: str = "",
    label: str = "",
    *,
    tip: str = "",
    hint: str = "",
    width_px: int | None = None,
    label_px: int | None = None,
) -> W.Text:
    """A box to type in, read once the typing is done.

    Args:
        value: to start with.
        label: before it.
        tip: what belongs into it.
        hint: shown in it while it is empty.
        width_px, label_px: of box and label together, and of the label.
    """
    made = W.Text(
        value,
        description=label,
        tooltip=tip or None,
        placeholder=hint,
        continuous_update=False,
        layout=_width_layout(width_px),
    )
    if label_px is not None:
        made.style.description_width = f"{label_px}px"
    return made


def tick(words: str, on: bool = False, width_px: int | None = None) -> W.Checkbox:
    """A box to tick, its words behind it."""
    return W.Checkbox(on, description=words, indent=False, layout=_width_layout(width_px))


def _width_layout(width_px: int | None) -> W.Layout:
    return W.Layout(width=None if width_px is None else f"{width_px}px")


def wrapped(*parts: W.Widget, **layout: str) -> W.HBox:
    """Parts side by side, below each other where there is no room."""
    return W.HBox(list(parts), layout=W.Layout(flex_flow="row wrap", **layout))


def heading(text: str) -> W.HTML:
    """The title of a part of the page."""
    return W.HTML(f'<div class="wb-title">{escape(text)}</div>')


def finding_html(text: str, *, announced: bool = True) -> str:
    """A sentence as HTML; nothing for an empty text.

    Args:
        text: the sentence.
        announced: whether a screen reader reads it out as soon as it appears.
    """
    role = ' role="status"' if announced else ""
    return f'<div class="wb-finding"{role}>{escape(text)}</div>' if text else ""


def download_html(path: Path) -> str:
    """A link with a file inside, so that it works wherever the page is open.

    Args:
        path: of the file.
    """
    inside = base64.b64encode(path.read_bytes()).decode()
    kind = mimetypes.guess_type(path.name)[0] or "text/plain"
    name = escape(path.name)
    return f'<a download="{name}" href="data:{kind};base64,{inside}">download {name}</a>'


class Reply(W.HTML):  # type: ignore[misc]  # ipywidgets has no types
    """The reply to a press or to what was typed: done, a question, or why not; no room while it is empty.

    Attributes:
        text: the reason or the question; empty where it was done.

    Example:
        >>> reply = Reply()
        >>> with reply.trying():
        ...     raise InputError("the file is empty.")
        >>> reply.text
        'the file is empty.'
    """

    def __init__(self) -> None:
        super().__init__("", layout=W.Layout(display="none", max_width="46em"))
        self.text = ""

    def refuse(self, text: str) -> None:
        """Say why something was not done or taken; nothing for an empty text."""
        html = f'<div class="wb-refusal" role="alert">✕ {escape(text)}</div>'
        self._show(text, html if text else "")

    def ask(self, text: str) -> None:
        """Ask whether a value that was taken is meant."""
        self._show(text, f'<div class="wb-asked" role="status">? {escape(text)}</div>')

    def done(self, text: str) -> None:
        """Say what was done."""
        self._show("", finding_html(text))

    def clear(self) -> None:
        """Say nothing."""
        self._show("", "")

    def _show(self, text: str, html: str) -> None:
        self.text, self.value = text, html
        self.layout.display = "" if html else "none"

    @contextmanager
    def trying(self) -> Iterator[None]:
        """Show here the reason of an `InputError` raised inside the block, which ends it."""
        self.clear()
        try:
            yield
        except InputError as fault:
            self.refuse(" ".join(fault.lines))
