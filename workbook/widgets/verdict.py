"""Answers in words: the verdict, the limits, the key figures, the working and the notices."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

import ipywidgets as W

from workbook.widgets.charts import STATES
from workbook.widgets.style import set_big, style_sheet
from workbook.working import Step

WORDS = {"holds": "HOLDS", "close": "CLOSE", "broken": "DOES NOT HOLD"}


@dataclass(frozen=True)
class LimitRow:
    """A limit as it is shown: texts with their units, and `holds`, `close` or `broken`."""

    name: str
    asked: str
    there_is: str
    margin: str
    verdict: str
    meaning: str = ""


@dataclass(frozen=True)
class Figure:
    """A figure as it is shown: label, number, unit; `beside` is the same figure of today's pack."""

    label: str
    text: str
    unit: str = ""
    beside: str = ""


def limit_row(limit: object) -> LimitRow:
    """A row for a limit of one design.

    Args:
        limit: a record with `name`, `demand`, `limit`, `unit`, `margin_pct`, `verdict`,
            `broken_text` and `worst_at`, as `workbook.sizing.limits` makes them.
    """
    unit = f" {limit.unit}" if limit.unit else ""  # type: ignore[attr-defined]

    def shown(value: object) -> str:
        number = float(value)  # type: ignore[arg-type]
        return "cannot be told" if math.isnan(number) else f"{number:.4g}{unit}"

    margin = float(limit.margin_pct)  # type: ignore[attr-defined]
    return LimitRow(
        f"{limit.name} ({limit.worst_at})" if limit.worst_at else limit.name,  # type: ignore[attr-defined]
        shown(limit.demand),  # type: ignore[attr-defined]
        shown(limit.limit),  # type: ignore[attr-defined]
        "–" if math.isnan(margin) else f"{margin:.0f} %",
        limit.verdict,  # type: ignore[attr-defined]
        limit.broken_text if limit.verdict == "broken" else "",  # type: ignore[attr-defined]
    )


class _Html(W.VBox):
    """A part whose text is one HTML widget."""

    def __init__(self) -> None:
        self.html = W.HTML()
        super().__init__([style_sheet(), self.html])
        self.add_class("wb")

    def set_big(self, big: bool) -> None:
        """Projector size or laptop size."""
        set_big(self, big)


class Verdict(_Html):
    """The answer in one word, a sign and a sentence.

    Example:
        >>> banner = Verdict()
        >>> banner.update("broken", "Each cell would carry 14 A; 10 A is its limit.")
        >>> "✕ DOES NOT HOLD" in banner.html.value
        True
    """

    def update(self, verdict: str, sentence: str, lead: str = "") -> None:
        """Show another verdict.

        Args:
            verdict: `holds`, `close` or `broken`.
            sentence: what it means.
            lead: the one figure to be read from afar, with its unit.
        """
        big = f'<div class="wb-lead">{escape(lead)}</div>' if lead else ""
        self.html.value = (
            f'<div class="wb-verdict wb-{verdict}" role="status">{big}'
            f'<span class="wb-word">{STATES[verdict]} {WORDS[verdict]}</span>'
            f"<span>{escape(sentence)}</span></div>"
        )


class LimitsTable(_Html):
    """Every limit in a table that a screen reader can walk.

    Example:
        >>> table = LimitsTable()
        >>> table.update([LimitRow("cell current", "9 A", "10 A", "10 %", "holds")])
        >>> '<th scope="row">cell current</th>' in table.html.value
        True
    """

    def update(
        self, rows: Iterable[LimitRow], caption: str = "Limits, each at its worst moment"
    ) -> None:
        """Show other limits."""
        body = "".join(
            f'<tr class="wb-{r.verdict}"><th scope="row">{escape(r.name)}</th>'
            f'<td class="wb-num">{escape(r.asked)}</td><td class="wb-num">{escape(r.there_is)}</td>'
            f'<td class="wb-num">{escape(r.margin)}</td>'
            f"<td>{STATES[r.verdict]} {r.verdict if r.verdict != 'broken' else 'does not hold'}"
            f"{': ' + escape(r.meaning) if r.meaning else ''}</td></tr>"
            for r in rows
        )
        self.html.value = (
            f"<table><caption>{escape(caption)}</caption><thead><tr>"
            '<th scope="col">limit</th><th scope="col" class="wb-num">asked</th>'
            '<th scope="col" class="wb-num">there is</th><th scope="col" class="wb-num">left</th>'
            f'<th scope="col">verdict</th></tr></thead><tbody>{body}</tbody></table>'
        )


class KeyFigures(_Html):
    """A few figures, large, each with label and unit.

    Example:
        >>> figures = KeyFigures()
        >>> figures.update([Figure("endurance", "21.4", "min", beside="15.0")])
        >>> "today 15.0 min" in figures.html.value
        True
    """

    figures: Sequence[Figure] = ()

    def update(self, figures: Sequence[Figure]) -> None:
        """Show other figures."""
        self.figures = figures
        parts = ""
        for f in figures:
            unit = f" {escape(f.unit)}" if f.unit else ""
            beside = (
                f'<dd class="wb-beside">today {escape(f.beside)}{unit}</dd>' if f.beside else ""
            )
            parts += f"<div><dt>{escape(f.label)}</dt><dd>{escape(f.text)}{unit}</dd>{beside}</div>"
        self.html.value = f'<dl class="wb-figures">{parts}</dl>'


class WorkingPanel(_Html):
    """How figures came about: rule, the same rule with this design's numbers, result, source.

    It stays folded or open as the reader left it, whatever the controls do.

    Args:
        title: of the panel.
        unfolded: whether it starts open.

    Example:
        >>> panel = WorkingPanel()
        >>> panel.update(
        ...     [
        ...         Step(
        ...             "series",
        ...             "pack voltage",
        ...             "S x cell voltage",
        ...             "4 x 3.6 V",
        ...             14.4,
        ...             "V",
        ...             "arithmetic",
        ...         )
        ...     ]
        ... )
        >>> "4 x 3.6 V" in panel.html.value
        True
    """

    def __init__(self, title: str = "working", *, unfolded: bool = False) -> None:
        super().__init__()
        self.fold = W.ToggleButton(
            value=unfolded,
            description=f"show the {title}",
            layout=W.Layout(width="max-content", min_width="170px"),
        )
        self.fold.observe(self._folded, names="value")
        self.title = title
        self.children = (*self.children[:1], self.fold, self.html)
        self._folded()

    def _folded(self, _: object = None) -> None:
        shown = self.fold.value
        self.html.layout.display = "" if shown else "none"
        self.fold.description = f"{'hide' if shown else 'show'} the {self.title}"

    def update(self, steps: Iterable[Step]) -> None:
        """Show another working."""
        items = "".join(
            f'<li class="wb-step"><b>{escape(s.label)}</b> = {escape(s.formula)}<br>'
            f"= {escape(s.numbers)}<br>= <b>{s.result:.4g}{' ' + escape(s.unit) if s.unit else ''}</b>"
            f'<br><span class="wb-source">source: {escape(s.source)}</span></li>'
            for s in steps
        )
        self.html.value = f"<ol>{items}</ol>"


class Notices(_Html):
    """Cautions, stops and doubts, one sentence each; no room when there are none.

    Example:
        >>> notices = Notices()
        >>> notices.update(["the log has a gap of 12 s."], title="Doubts")
        >>> "a gap of 12 s" in notices.html.value
        True
    """

    def update(self, sentences: Iterable[object], title: str = "Notes") -> None:
        """Show other sentences."""
        items = "".join(f"<li>{escape(str(s))}</li>" for s in sentences)
        self.html.value = f"<b>{escape(title)}</b><ul>{items}</ul>" if items else ""
