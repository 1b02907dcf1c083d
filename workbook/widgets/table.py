"""A small table in the page: it can be read aloud, copied and printed."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import ipywidgets as W

from workbook.widgets.style import set_big, style_sheet


class Table(W.VBox):
    """Rows of texts under headings; the first column names the row.

    Example:
        >>> table = Table()
        >>> table.update(["row", "watts"], [["40 %", "43.1 W"]], "Two rows")
        >>> '<th scope="row">40 %</th><td class="wb-num">43.1 W</td>' in table.html.value
        True
    """

    def __init__(self) -> None:
        self.html = W.HTML()
        super().__init__([style_sheet(), self.html])
        self.add_class("wb")

    def update(
        self,
        head: Sequence[str],
        rows: Sequence[Sequence[str]],
        caption: str = "",
        bold: int | None = None,
        words: Sequence[int] = (),
    ) -> None:
        """Show other rows.

        Args:
            head: heading of each column.
            rows: as many texts each.
            caption: above the table.
            bold: number of the row to stress, from 0.
            words: numbers of the columns that hold words, set to the left.
        """

        def kind(column: int) -> str:
            return "" if column in words else ' class="wb-num"'

        body = ""
        for number, (name, *fields) in enumerate(rows):
            style = ' style="font-weight:700"' if number == bold else ""
            body += f'<tr{style}><th scope="row"{style}>{escape(name)}</th>'
            cells = (f"<td{kind(c)}{style}>{escape(f)}</td>" for c, f in enumerate(fields, 1))
            body += "".join(cells) + "</tr>"
        first, *others = head
        heads = f'<th scope="col">{escape(first)}</th>'
        heads += "".join(
            f'<th scope="col"{kind(c)}>{escape(h)}</th>' for c, h in enumerate(others, 1)
        )
        said = f"<caption>{escape(caption)}</caption>" if caption else ""
        self.html.value = (
            f"<table>{said}<thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table>"
        )

    def set_big(self, big: bool) -> None:
        """Projector size or laptop size."""
        set_big(self, big)
