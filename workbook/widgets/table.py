"""Tables in the page, of texts and of choices: they can be read aloud, copied and printed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import ipywidgets as W

from workbook.sheet.text import SIGNS
from workbook.widgets.parts import finding_html
from workbook.widgets.style import Panel


class Table(Panel):
    """Rows of texts under headings; the first column names the row.

    Example:
        >>> table = Table()
        >>> table.update(["row", "watts"], [["40 %", "43.1 W"]], "Two rows")
        >>> '<th scope="row">40 %</th><td class="wb-num">43.1 W</td>' in table.html.value
        True
    """

    def __init__(self) -> None:
        self.html = W.HTML()
        super().__init__(self.html)

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

        def cell_class(column: int) -> str:
            return "" if column in words else ' class="wb-num"'

        body = ""
        for number, (name, *fields) in enumerate(rows):
            style = ' style="font-weight:700"' if number == bold else ""
            body += f'<tr{style}><th scope="row"{style}>{escape(name)}</th>'
            cells = (f"<td{cell_class(c)}{style}>{escape(f)}</td>" for c, f in enumerate(fields, 1))
            body += "".join(cells) + "</tr>"
        first, *others = head
        heads = f'<th scope="col">{escape(first)}</th>'
        heads += "".join(
            f'<th scope="col"{cell_class(c)}>{escape(h)}</th>' for c, h in enumerate(others, 1)
        )
        phrase = f"<caption>{escape(caption)}</caption>" if caption else ""
        self.html.value = (
            f"<table>{phrase}<thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table>"
        )


@dataclass(frozen=True)
class GridCell:
    """One field of a grid: its text, and `holds`, `close`, `broken` or nothing."""

    text: str
    verdict: str = ""


class GridMap(Panel):
    """A table of choices (series down, parallel across), each field coloured, signed and printed.

    It is a table in the page, not a picture, so that it can be read aloud, copied and printed.

    Args:
        title: what the grid shows.

    Example:
        >>> grid = GridMap("Endurance, min")
        >>> grid.update([4, 6], [1], [[GridCell("18", "holds")], [GridCell("12", "broken")]])
        >>> "✕ 12" in grid.table.value
        True
    """

    def __init__(self, title: str) -> None:
        self.title = title
        self.table = W.HTML()
        self.finding = W.HTML()
        self.finding_text = ""
        super().__init__(self.table, self.finding)

    def update(
        self,
        rows: Sequence[object],
        columns: Sequence[object],
        cells: Sequence[Sequence[GridCell]],
        *,
        chosen: tuple[int, int] | None = None,
        finding: str | None = None,
    ) -> None:
        """Show another grid.

        Args:
            rows: heading of each row.
            columns: heading of each column.
            cells: one sequence of fields a row.
            chosen: row and column number, from 0, of the field to frame.
            finding: what the grid shows, in words; None leaves the words as they are.
        """
        head = "".join(f'<th scope="col" class="wb-num">{escape(str(c))}</th>' for c in columns)
        body = ""
        for i, (name, fields) in enumerate(zip(rows, cells, strict=True)):
            body += f'<tr><th scope="row" class="wb-num">{escape(str(name))}</th>'
            for j, field in enumerate(fields):
                mark = " wb-chosen" if chosen == (i, j) else ""
                state = f"wb-{field.verdict}" if field.verdict else ""
                message = ", chosen" if mark else ""
                title = f"{field.verdict}{message}".strip(", ")
                body += (
                    f'<td class="{state}{mark}" title="{escape(title)}">'
                    f"{SIGNS[field.verdict]} {escape(field.text)}</td>"
                )
            body += "</tr>"
        self.table.value = (
            f'<table class="wb-grid"><caption>{escape(self.title)}</caption><thead><tr>'
            f"<th>series ↓ parallel →</th>{head}</tr></thead><tbody>{body}</tbody></table>"
            "<div>✓ holds &nbsp; △ close &nbsp; ✕ broken &nbsp; framed: chosen</div>"
        )
        if finding is not None:
            self.finding_text = finding
            self.finding.value = finding_html(finding)
