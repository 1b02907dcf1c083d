"""Lesson 13: every pack that could be made, the few that hold, and the one to build."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import ipywidgets as W
import numpy as np
import traitlets

from workbook.battery.cell import Cell
from workbook.bench.transport import APPROVAL_WH, CABIN_WH
from workbook.errors import InputError
from workbook.lessons.learner import cells as every_cell
from workbook.lessons.lesson_view import LessonView
from workbook.numbers import plain, rounded
from workbook.quantities import RESULTS
from workbook.sheet.text import result_text, sign_of, verdict_sentence
from workbook.sizing.candidates import Candidate, Sweep, pareto_steps
from workbook.sizing.compare import Comparison, compare
from workbook.sizing.design import Constraints, Design
from workbook.sizing.limits import RULES
from workbook.sizing.size import SizingResult, size
from workbook.sizing.sweep import sweep
from workbook.units import axis_text, number_in, with_unit
from workbook.widgets.candidate_chart import CandidateChart, Dot
from workbook.widgets.controls import ChoiceControl, controls
from workbook.widgets.live import ProgressBar
from workbook.widgets.parts import wrapped
from workbook.widgets.table import GridCell, GridMap, Table
from workbook.widgets.verdict import Figure, KeyFigures, Verdict
from workbook.working import Step

GROUPS = ("21700 energy", "21700 power", "18650 energy", "18650 power")
MOST_ROWS, MAP_PARALLEL = 15, 10
TODAY, OPENED, LIGHTEST = "the pack of today", "the design as opened", "the lightest"
SORTS = {
    "all-up mass": ("all_up_mass_g", False),
    "flight time, longest first": ("endurance_min", True),
    "margin, largest first": ("margin_pct", True),
    "number of cells": ("cells", False),
    "price": ("price", False),
}
SHORT_LIMIT_NAMES = {rule.key: rule.short for rule in RULES if rule.short}
"""Limits in a word, for the map; others by the first word of their key."""

BESIDE_FIGURES = (
    "endurance_min",
    "all_up_mass_g",
    "pack_mass_g",
    "pack_cells",
    "pack_energy_wh",
    "hover_current_a",
    "hover_c_rate",
    "throttle_cap_pct",
    "thrust_to_weight_end",
    "landing_cell_v",
)
REQUIREMENTS = ("payload_g", "max_all_up_mass_g", "thrust_reserve", "wanted_min")
"""What the controls change in the design."""


class Picked(traitlets.HasTraits):
    """Which candidate is chosen: cell name, series, parallel; empty for the lightest that holds."""

    value = traitlets.Tuple()


@dataclass(frozen=True, eq=False)
class ChoosingResult:
    """What the live figure shows.

    Attributes:
        found: all candidates.
        front: those that hold and are beaten by none.
        chosen: the candidate that is ringed; None where nothing holds.
        answer: the chosen design, sized; None likewise.
        beside: it and another design side by side; None where there is none.
        beside_name: which other.
        today: the pack flown today, sized; None where the design has none.
        map: series by parallel for the chosen cell.
        remark: a note on the choice; empty where there is none.
    """

    found: Sweep
    front: Sweep
    chosen: Candidate | None
    answer: SizingResult | None
    beside: Comparison | None
    beside_name: str
    today: SizingResult | None
    map: Sweep
    remark: str

    @property
    def holding(self) -> int:
        """How many hold every limit."""
        return int(np.count_nonzero(self.found.survives))


class Choosing(LessonView):
    """Move the requirements; see which packs hold, what each rejected one breaks, and choose."""

    slow = True
    kept_inputs = REQUIREMENTS

    def build(self) -> W.Widget:
        """Controls beside the chart; the choice, its comparison, the tables and the map below."""
        craft, flight, cell = self.design.craft, self.design.flight, self.design.pack.cell
        self._swept: tuple[dict[str, Any], Sweep, Sweep] | None = None
        self.cells = {**every_cell(), cell.name: cell}
        self.picked = Picked()
        cabin, approval = f"up to {CABIN_WH:g} Wh", f"up to {APPROVAL_WH:g} Wh"
        side_controls = {
            **controls(
                "wanted_min",
                "payload_g",
                "max_all_up_mass_g",
                "thrust_reserve",
                design=self.design,
                wanted_min=20.0 if flight.wanted_min is None else flight.wanted_min,
                max_all_up_mass_g=craft.max_all_up_mass_g or 4000.0,
                series_from=1,
                series_to=12,
                parallel_to=8,
            ),
            "family": ChoiceControl("cells", ("all", *GROUPS)),
            "transport": ChoiceControl("transport", {"any": 2, cabin: 0, approval: 1}),
        }
        others = [*([TODAY] if self.design.today else []), OPENED, LIGHTEST]
        beside = ChoiceControl("beside", others, label_px=60, width_px=330)
        self.inputs = {**side_controls, "chosen": self.picked, "beside": beside}
        self.progress_bar, self.key, self.verdict = ProgressBar(room_px=34), KeyFigures(), Verdict()
        self.chart = CandidateChart(
            "Packs that hold every limit", "all-up mass, g", "flight time, min", GROUPS
        )
        self.chart.on_click(self.pick)
        self.on_front = ChoiceControl(
            "choose on the front", {"the lightest that holds": ()}, label_px=150, width_px=560
        )
        self.on_front.observe(self._picked_on_front, names="value")
        self._build_tables()
        return W.VBox(
            [
                self.side_by_side(
                    [*side_controls.values(), self.progress_bar, self.key], [self.chart]
                ),
                wrapped(self.on_front, beside, align_items="flex-start"),
                self.verdict,
                wrapped(self.changes, self.limits, align_items="flex-start"),
                self.map,
                wrapped(self.sort, self.show_only, align_items="flex-start"),
                self.listed,
                self.reasons,
            ]
        )

    def _build_tables(self) -> None:
        self.changes, self.limits, self.listed, self.reasons = Table(), Table(), Table(), Table()
        self.changes.layout.margin = "0 40px 0 0"
        self.map = GridMap("Tightest margin in %, and the limit that binds")
        self.sort = ChoiceControl("sort by", list(SORTS), label_px=60, width_px=330)
        self.show_only = ChoiceControl(
            "show", {"those that hold": ("holds", "")}, label_px=60, width_px=560
        )
        for choice in (self.sort, self.show_only):
            choice.observe(lambda _: self._show_list(), names="value")

    def pick(self, key: object) -> None:
        """Choose a candidate: cell name, series, parallel; nothing for the lightest."""
        if isinstance(key, tuple):
            self.picked.value = key

    def _sweep(self, design: Design[Any], requirements: dict[str, Any]) -> tuple[Sweep, Sweep]:
        """All candidates and those that none beats; kept until a requirement changes."""
        if self._swept is not None and self._swept[0] == requirements:
            return self._swept[1:]
        tried = [c for c in self.cells.values() if requirements["family"] in ("all", _group(c))]
        with self.progress_bar.running("candidates") as report:
            found = sweep(
                design,
                tried,
                *_ranges(requirements),
                constraints=Constraints(transport=requirements["transport"]),
                progress=report,
            )
        self._swept = requirements, found, found.pareto()
        return self._swept[1:]

    def _compared_design(
        self, beside: str, found: Sweep, today: SizingResult | None
    ) -> SizingResult | None:
        """The design to put beside the chosen one, sized."""
        if beside == TODAY:
            return today
        if beside == OPENED:
            return size(self.design)
        return None if found.lightest is None else size(found.lightest.design)

    def compute(self, chosen: tuple[Any, ...], beside: str, **requirements: Any) -> ChoosingResult:
        """Sweep, unless only the choice changed; size the chosen candidate."""
        design = self.design.changed(**{key: requirements[key] for key in REQUIREMENTS})
        found, front = self._sweep(design, requirements)
        candidate, remark = found.find(*chosen) if chosen else found.lightest, ""
        if candidate is None and chosen:
            candidate = found.lightest
            name = f"{chosen[0]} {chosen[1]}S{chosen[2]}P"
            remark = f"{name} is not among these; the lightest is shown."
        today, answer, pair = size(design).today, None, None
        if candidate is not None:
            answer = size(candidate.design)
            other = self._compared_design(beside, found, today)
            pair = None if other is None else compare(other, answer)
        series, parallel = _ranges(requirements)
        map_sweep = sweep(
            design,
            [(answer.design if answer else design).pack.cell],
            series,
            parallel[:MAP_PARALLEL],
            constraints=Constraints(transport=requirements["transport"]),
            screen=False,
            threads=1,
        )
        return ChoosingResult(
            found, front, candidate, answer, pair, beside, today, map_sweep, remark
        )

    def preview(self, max_all_up_mass_g: float, wanted_min: float, **values: Any) -> None:
        """Move the lines of the limits; the candidates follow."""
        self.chart.show_limits(max_all_up_mass_g, wanted_min)

    def render(self, result: ChoosingResult) -> None:
        """Chart, choice, comparison, map and tables."""
        found = result.found
        self._show_chart(result)
        self.key.show(
            Figure("tried", f"{found.worked:,}"),
            Figure("hold every limit", f"{result.holding}"),
            Figure("on the front", f"{len(result.front)}"),
            Figure(
                "lightest pack that lasts",
                "none" if found.lightest is None else with_unit(found.lightest.pack_mass_g, "g", 0),
            ),
        )
        self._offer(result)
        self._show_choice(result)
        self._show_map(result)
        self._show_list()
        self.reasons.update(
            ("why they are rejected", "most broken in", "broken in", "what it means"),
            [(r.name, str(r.binds), str(r.breaks), r.text) for r in found.rejections],
            f"{found.worked - result.holding:,} of {found.worked:,} are rejected; each is counted once "
            "under the limit that it breaks most",
            words=(3,),
        )

    def _show_chart(self, result: ChoosingResult) -> None:
        found, holding, design = result.found, result.found.survivors(), result.found.design
        refused = found.where(~found.survives & np.isfinite(found["endurance_min"]))
        on_front = {one.key for one in result.front}
        today = None
        if result.today is not None:
            point = result.today.point
            today = Dot("today", float(point.all_up_mass_g), float(point.endurance_min), "")
        ringed = None if result.chosen is None else _dot(result.chosen)
        stopped = "" if found.complete else f" Stopped after {found.worked:,} of {found.asked:,}."
        click = " Click a point to choose it, or a grey one to see why it was rejected; the list below does the same."
        self.chart.update(
            [_dot(one, on_front) for one in holding],
            [_dot(one) for one in refused],
            today=today if today and math.isfinite(today.y) else None,
            chosen=ringed if ringed and math.isfinite(ringed.y) else None,
            limits=plain((design.craft.max_all_up_mass_g, design.flight.wanted_min)),
            finding=f"{result.found.lightest_text}{stopped}{click}",
        )

    def _offer(self, result: ChoosingResult) -> None:
        """The front as a list that the keyboard reaches."""
        offered: dict[str, tuple[Any, ...]] = {"the lightest that holds": ()}
        listed, chosen, picked = list(result.front), result.chosen, self.picked.value
        keys = [one.key for one in listed]
        if chosen is not None and chosen.key == picked and picked not in keys:
            listed.append(chosen)
        offered |= {
            f"{one.name}: {result_text('endurance_min', one.endurance_min)}, {result_text('all_up_mass_g', one.all_up_mass_g)}"
            + ("" if one.holds else ", does not hold"): one.key
            for one in listed
        }
        wanted = picked if picked in offered.values() else ()
        with self.quiet():  # new options choose their first one by themselves
            self.on_front.offer(offered)
            self.on_front.value = wanted

    def _picked_on_front(self, change: dict[str, Any]) -> None:
        if not self.busy:
            self.pick(change["new"])

    def _show_choice(self, result: ChoosingResult) -> None:
        candidate, answer, pair = result.chosen, result.answer, result.beside
        if candidate is None or answer is None:
            self.verdict.update("broken", f"{result.found.lightest_text} {result.remark}")
        else:
            message = verdict_sentence(answer) if candidate.holds else candidate.reason
            verdict = answer.verdict if candidate.holds else "broken"
            self.verdict.update(
                verdict, f"{message} {result.remark}".strip(), candidate.name, answer.flights_text
            )
        if candidate is None or pair is None:
            self.changes.update(
                ("",), [], "There is no other design to compare with" if candidate else ""
            )
            self.limits.update(("",), [], "")
            return
        rows = []
        for key in BESIDE_FIGURES:
            change, known = pair.figure(key), RESULTS[key]
            both = (
                v or "-"
                if v is None or isinstance(v, str)
                else number_in(v, known.unit, known.decimals)
                for v in (change.before, change.after)
            )
            percent = "–" if change.percent is None else f"{change.percent:+.0f} %"
            rows.append((known.shown_axis, *both, percent, change.verdict))
        changed = "; ".join(change.text for change in pair.changes[:6]) or "nothing"
        head = ("", result.beside_name, candidate.name, "change", "")
        self.changes.update(head, rows, f"Changed: {changed}", words=(4,))
        close = (limit for limit in pair.limits if limit.after == "close")
        seen = {limit.key: limit for limit in (*pair.matters, *close)}
        self.limits.update(
            ("what matters", "before, %", "now, %", "verdict"),
            [
                (
                    limit.name,
                    _pct(limit.before_pct),
                    _pct(limit.after_pct),
                    f"{_verdict_text(limit.before)} → {_verdict_text(limit.after)}"
                    if limit.matters
                    else "still close",
                )
                for limit in seen.values()
            ],
            "Limits whose verdict changes, or that are close"
            if seen
            else "No limit is close or changes",
            words=(3,),
        )

    def _show_map(self, result: ChoosingResult) -> None:
        tried = list(result.map)
        series, parallel = (sorted(set(result.map[name])) for name in ("series", "parallel"))
        fields = [
            GridCell(
                _margin(one.margin_pct, one.binds_key),
                "broken" if not one.holds else "close" if one.margin_pct < 10 else "holds",
            )
            for one in tried
        ]
        rows = [fields[k : k + len(parallel)] for k in range(0, len(fields), len(parallel))]
        cell = (result.answer.design if result.answer else self.design).pack.cell.name
        chosen, keys = None, [(one.series, one.parallel) for one in tried]
        if result.chosen is not None and result.chosen.key[1:] in keys:
            chosen = divmod(keys.index(result.chosen.key[1:]), len(parallel))
        good = sum(one.holds for one in tried)
        self.map.update(
            [f"{s}S" for s in series],
            [f"{p}P" for p in parallel],
            rows,
            chosen=chosen,
            finding=f"{cell}: {good} of {len(tried)} hold. Each field has the tightest margin, percent, "
            "and the limit that has it; below 0 it is broken.",
        )

    def _show_list(self) -> None:
        """The table, sorted and sieved as asked."""
        result = self.result
        if not isinstance(result, ChoosingResult):
            return
        found = result.found
        offered = {
            "those that hold": ("holds", ""),
            "the front": ("front", ""),
            "all": ("all", ""),
            **{f"rejected: {r.name}": ("by", r.key) for r in found.rejections},
        }
        self.show_only.offer(offered)
        what, key = self.show_only.value
        if what == "by":
            shown = found.rejected_by(key)
        else:
            shown = {"holds": found.survivors(), "front": result.front, "all": found}[what]
        column, descending = SORTS[self.sort.value]
        listed = list(shown.sorted_by(column, descending=descending).where(slice(MOST_ROWS)))
        self.listed.update(
            (
                "pack",
                axis_text("all-up mass, g"),
                axis_text("pack, g"),
                "flight time, min",
                "margin, %",
                "tightest, or why not",
            ),
            [
                (
                    one.name,
                    *(number_in(grams, "g", 0) for grams in (one.all_up_mass_g, one.pack_mass_g)),
                    result_text("endurance_min", one.endurance_min, bare=True),
                    _pct(one.margin_pct),
                    one.binds,
                )
                for one in listed
            ],
            f"{self.show_only.label}: {len(listed)} of {len(shown):,} shown, by {self.sort.value}",
            words=(5,),
        )

    def working(self, result: ChoosingResult) -> Iterable[Step]:
        """The chosen pack's figures, and what each step along the front buys."""
        keys = ("pack_mass_g", "all_up_mass_g", "hover_power_w", "energy_used_wh", "endurance_min")
        own = () if result.answer is None else result.answer.working
        return [*(step for step in own if step.key in keys), *pareto_steps(result.front)]

    def kept_figures(self, result: ChoosingResult) -> Mapping[str, Any]:
        """The chosen pack and what was asked of it."""
        if result.answer is None:
            raise InputError("no pack is chosen, so nothing is kept.")
        pack = result.answer.design.pack
        return {
            **super().kept_figures(result),
            "cell": pack.cell.name,
            "series": pack.series,
            "parallel": pack.parallel,
        }


def _ranges(requirements: Mapping[str, Any]) -> tuple[range, range]:
    """Cells in series and in parallel to try."""
    first, last = requirements["series_from"], requirements["series_to"]
    if first > last:
        text = f"from {first} to {last} there is nothing; the first must not be larger than the second."
        raise InputError(text, "series")
    return range(first, last + 1), range(1, requirements["parallel_to"] + 1)


def _verdict_text(verdict: str | None) -> str:
    return "not asked" if verdict is None else f"{sign_of(verdict)} {verdict}"


def _group(cell: Cell | Candidate) -> str:
    return f"{cell.cell_format} {cell.kind}"


def _dot(one: Candidate, on_front: Collection[tuple[str, int, int]] = ()) -> Dot:
    place = (one.all_up_mass_g, one.endurance_min)
    return Dot(one.name, *place, _group(one), one.key, one.key in on_front)


def _pct(value: float | None) -> str:
    return "–" if value is None or not math.isfinite(value) else f"{rounded(value, 0, 'down'):.0f}"


def _margin(value: float, key: str) -> str:
    short = SHORT_LIMIT_NAMES.get(key, key.split("_", maxsplit=1)[0])
    return f"{rounded(value, 0, 'down'):.0f} {short}" if value > -100.0 else short
