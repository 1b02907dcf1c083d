"""Answers in words: the verdict, the limits, the key figures, the working and the notices."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

import ipywidgets as W

from workbook.numbers import Number, Side
from workbook.quantities import RESULTS, with_words
from workbook.sheet.text import LOOKS, WORDS, result_text, sign_of, verdict_sentence
from workbook.sizing.limits import Limit
from workbook.sizing.size import SizingResult
from workbook.units import number_in, shown_unit
from workbook.widgets.style import Panel
from workbook.widgets.table import Table
from workbook.working import Step


@dataclass(frozen=True)
class Figure:
    """A figure as it is shown: label, number, unit; `beside` is the same figure of today's pack."""

    label: str
    text: str
    unit: str = ""
    beside: str = ""

    @classmethod
    def of(cls, key: str, value: Any, beside: Any = None, label: str = "") -> Figure:
        """A figure of the table of quantities: its label, unit and decimals from there.

        Args:
            key: of `workbook.quantities.RESULTS`.
            value: to be shown; None and NaN as `none`.
            beside: the same figure of today's pack.
            label: in place of the table's.

        Example:
            >>> Figure.of("endurance_min", 21.44, 15.0)
            Figure(label='endurance', text='21.4', unit='min', beside='15.0')
        """
        known = RESULTS[key]
        texts = ["" if x is None or math.isnan(x) else known.number(x) for x in (value, beside)]
        return cls(
            label or known.label, texts[0] or "none", known.shown_unit if texts[0] else "", texts[1]
        )

    @classmethod
    def in_unit(
        cls, label: str, value: Number, unit: str, decimals: int, side: Side = "nearest"
    ) -> Figure:
        """A figure that is in no table, in the unit in which it is shown; NaN as `none`.

        Args:
            label: in words.
            value: in the file's unit.
            unit, decimals: of that unit.
            side: as `workbook.numbers.rounded` takes it.

        Example:
            >>> Figure.in_unit("mass", 412.4, "g", 0, "up")
            Figure(label='mass', text='413', unit='g', beside='')
        """
        if not math.isfinite(value):
            return cls(label, "none")
        return cls(label, number_in(value, unit, decimals, side), shown_unit(unit).name)


class _Text(Panel):
    """A part that is one piece of HTML."""

    def __init__(self, *before: W.Widget) -> None:
        self.html = W.HTML()
        super().__init__(*before, self.html)


class Verdict(_Text):
    """The answer in one word, a sign and a sentence.

    Example:
        >>> banner = Verdict()
        >>> banner.update("broken", "Each cell would carry 14 A; 10 A is its limit.")
        >>> "✕ DOES NOT HOLD" in banner.html.value
        True
    """

    def update(self, verdict: str, sentence: str, lead: str = "", flights: str = "") -> None:
        """Show another verdict.

        Args:
            verdict: of a design or a limit, as `WORDS` has it.
            sentence: what it means.
            lead: the one figure to be read from afar, with its unit.
            flights: how long flights last beside the plan.
        """
        big = f'<div class="wb-lead">{escape(lead)}</div>' if lead else ""
        beside = f'<div class="wb-flights">Flight time: {escape(flights)}</div>' if flights else ""
        look = LOOKS.get(verdict, verdict)
        self.html.value = (
            f'<div class="wb-verdict wb-{look}" role="status">{big}'
            f'<span class="wb-word">{sign_of(verdict)} {WORDS[verdict]}</span>'
            f"<span>{escape(with_words(sentence))}</span>{beside}</div>"
        )

    def show(self, answer: SizingResult) -> None:
        """Show the verdict on a design, its flight time in front."""
        minutes = answer.figure("endurance_min")
        lead = "" if minutes is None else result_text("endurance_min", minutes)
        self.update(answer.verdict, verdict_sentence(answer), lead, answer.flights_text)


class LimitsTable(Table):
    """Every limit of one design, each at its worst moment.

    Example:
        >>> table = LimitsTable()
        >>> table.show([Limit("current", "cell current", 9.0, 10.0, "A", "Too hot.", "end")])
        >>> '<th scope="row">cell current (end)</th>' in table.html.value
        True
    """

    def show(self, limits: Iterable[Limit]) -> None:
        """Show other limits; why one is not checked stands among the notes of a page."""
        head = ("limit", "needed", "available", "left", "verdict")
        rows = [_limit_row(limit) for limit in limits]
        self.update(head, rows, "Limits, each at its worst moment", words=(4,))


def _limit_row(limit: Limit) -> tuple[str, ...]:
    unit, verdict, left = limit.shown_unit, limit.verdict, limit.margin_shown
    figures = [f"{text} {unit}".rstrip() if text != "-" else "none" for text in limit.shown]
    name = f"{limit.name} ({limit.worst_at})" if limit.worst_at else limit.name
    broken = verdict == "broken"
    meaning = f"does not hold: {with_words(limit.broken_text)}" if broken else verdict
    parts = (*figures, "none" if left == "-" else left)
    unbroken = [text.replace(" ", "\u00a0") for text in parts]
    return (name, *unbroken, f"{sign_of(verdict)} {meaning}")


class KeyFigures(_Text):
    """A few figures, large, each with label and unit.

    Example:
        >>> figures = KeyFigures()
        >>> figures.update([Figure("endurance", "21.4", "min", beside="15.0")])
        >>> "today 15.0 min" in figures.html.value
        True
        >>> figures.show(pack_mass_g=1410.2, endurance_min=21.4)
        >>> "1411 g" in figures.html.value
        True
    """

    figures: Sequence[Figure] = ()

    def show(self, *others: Figure, **values: float) -> None:
        """Show results by their key in `workbook.quantities.RESULTS`, and figures of another kind after them."""
        self.update([*(Figure.of(key, value) for key, value in values.items()), *others])

    def update(self, figures: Sequence[Figure]) -> None:
        """Show other figures."""
        self.figures = figures
        parts = ""
        for figure in figures:
            unit = f" {escape(figure.unit)}" if figure.unit else ""
            beside = (
                f'<dd class="wb-beside">today {escape(figure.beside)}{unit}</dd>'
                if figure.beside
                else ""
            )
            parts += f"<div><dt>{escape(figure.label)}</dt><dd>{escape(figure.text)}{unit}</dd>{beside}</div>"
        self.html.value = f'<dl class="wb-figures">{parts}</dl>'


class WorkingPanel(_Text):
    """How figures came about: rule, the same rule with this design's numbers, result, source.

    It stays folded or open as the reader left it, whatever the controls do; folded, nothing is worked out.

    Example:
        >>> from workbook.working import step
        >>> panel = WorkingPanel()
        >>> panel.fold.value = True
        >>> panel.update(lambda: [step("pin_v", 14.4, pin=4, cell_v=3.6)])
        >>> "4 x 3.6 V" in panel.html.value
        True
    """

    def __init__(self) -> None:
        self._steps: Callable[[], Iterable[Step]] = tuple
        width = W.Layout(width="max-content", min_width="170px")
        self.fold = W.ToggleButton(layout=width)
        self.fold.observe(lambda _: self._fold_changed(), names="value")
        super().__init__(self.fold)
        self._fold_changed()

    def _fold_changed(self) -> None:
        shown = self.fold.value
        self.html.layout.display = "" if shown else "none"
        self.fold.description = f"{'hide' if shown else 'show'} the working"
        self._show()

    def update(self, steps: Callable[[], Iterable[Step]]) -> None:
        """Show another working, at once or as soon as it is unfolded.

        Args:
            steps: gives them.
        """
        self._steps = steps
        self._show()

    def _show(self) -> None:
        if not self.fold.value:
            return
        items = "".join(
            f'<li class="wb-step"><b>{escape(s.label)}</b> = {escape(s.formula)}<br>'
            f"= {escape(s.numbers)}<br>= <b>{escape(s.shown)}</b>"
            f'<br><span class="wb-source">source: {escape(s.source)}</span></li>'
            for s in self._steps()
        )
        self.html.value = f"<ol>{items}</ol>"


class Notices(_Text):
    """Cautions, stops and doubts, one sentence each; no room when there are none.

    Example:
        >>> notices = Notices()
        >>> notices.update(["the log has a gap of 12 s."], title="Doubts")
        >>> "a gap of 12 s" in notices.html.value
        True
    """

    def update(self, sentences: Iterable[object], title: str = "Notes") -> None:
        """Show other sentences."""
        items = "".join(f"<li>{escape(with_words(str(s)))}</li>" for s in sentences)
        self.html.value = f"<b>{escape(title)}</b><ul>{items}</ul>" if items else ""
