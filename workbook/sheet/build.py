"""The build sheet: one self-contained HTML page, printed in the order of the work at the bench."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template
from markupsafe import Markup

from workbook import __version__
from workbook.battery.pack import Pack
from workbook.bench.balance import BALANCE_AWG, before_plugging_in
from workbook.bench.bill import BillLine
from workbook.bench.clearance import barrier_lines
from workbook.bench.fuse import cell_fuse_words
from workbook.bench.joining_drawing import draw_joining
from workbook.bench.plan import ARRIVAL_V, BuildPlan
from workbook.bench.procedure import NO_BREAK_SPACE, CheckItem, PackLabel, checks
from workbook.bench.scaled_drawing import draw_to_fit
from workbook.bench.wire import choose_wire
from workbook.errors import InputError, naming
from workbook.files.cell_log import read_cell_log
from workbook.files.design_file import DesignFile
from workbook.files.writing import SeenFiles, check_writable
from workbook.numbers import rounded
from workbook.quantities import RESULTS, results
from workbook.sheet.plan import differences, on_measured, plan_build
from workbook.sheet.printing import write_page
from workbook.sheet.text import doubt_lines, result_text, unchecked_lines, verdict_text
from workbook.sizing.notes import Topic
from workbook.sizing.pair import PACK_NAMES, pack_name
from workbook.sizing.remedy import remedy
from workbook.sizing.size import SizingResult, size
from workbook.units import sides_text, with_unit

WORKING = (
    "pack_mass_g",
    "all_up_mass_g",
    "hover_power_w",
    "cruise_power_w",
    "energy_used_wh",
    "endurance_min",
)
"""Steps that are short enough for the sheet and carry the rest."""

GIVEN_TOPICS: tuple[Topic, ...] = (
    "file",
    "craft",
    "assumed",
    "cell",
    "cold",
    "mission",
    "spread of cells",
    "place in the craft",
)
"""Topics of the notes that are printed with what was given; carrying has a section of its own."""


@dataclass(frozen=True)
class Paper:
    """A sheet of paper. Source: ISO 216; ANSI/ASME Y14.1."""

    css: str
    width_mm: float
    height_mm: float


PAPERS = {"a4": Paper("A4", 210.0, 297.0), "letter": Paper("letter", 215.9, 279.4)}


def paper_named(name: str) -> Paper:
    """A sheet of paper by its name: "a4" or "letter".

    Raises:
        InputError: there is no such paper.
    """
    if name not in PAPERS:
        raise InputError(f"paper is {name!r}; one of {', '.join(PAPERS)} is needed.")
    return PAPERS[name]


MARGIN_MM = 10.0
TEMPLATE = Path(__file__).with_name("build_sheet.html.j2")


@dataclass(frozen=True)
class Sheet:
    """A build sheet that was written.

    Attributes:
        path: where.
        answer, plan: its contents.
    """

    path: Path
    answer: SizingResult
    plan: BuildPlan

    @property
    def holds(self) -> bool:
        """Whether the design holds and the pack can be built as planned."""
        return not self.broken_texts

    @property
    def broken_texts(self) -> tuple[str, ...]:
        """Why it does not hold: the reasons of its design, faults of the plan."""
        return (*self.answer.reasons, *self.plan.faults)


@cache
def page_template(path: Path) -> Template:
    """A page to print, to be filled in: what is put in is escaped, what is missing is an error."""
    environment = Environment(
        loader=FileSystemLoader(path.parent), autoescape=True, undefined=StrictUndefined
    )
    return environment.get_template(path.name)


def css_string(text: str) -> str:
    r"""Any text as a CSS string, whatever is in it.

    Example:
        >>> css_string('a"</style>')
        '"a\\22 \\3c \\2f style\\3e "'
    """
    return '"' + "".join(c if c.isalnum() and c.isascii() else f"\\{ord(c):x} " for c in text) + '"'


def bottom_line(what: str, date: str) -> Markup:
    """The footer of every page, as a CSS string: its subject, its date, and the version of the workbook."""
    return Markup(css_string(f"{what}, {date}, workbook {__version__}"))


def amount_text(line: BillLine) -> str:
    """How much of a line to buy.

    Example:
        >>> amount_text(BillLine("main lead", "lead", 0.3, 0.1, "m", None, ""))
        '0.40 m'
    """
    return with_unit(line.buy, "m", 2) if line.unit == "m" else f"{line.buy:.0f}"


def expected_text(item: CheckItem) -> str:
    """The figure or word that a check looks for; empty where there is none.

    Example:
        >>> expected_text(CheckItem("pack voltage", 14.4, "V")), expected_text(CheckItem("done"))
        ('14.40\xa0V', '')
    """
    if item.expected is None:
        return ""
    if isinstance(item.expected, str):
        return item.expected
    unit = "cell" if (item.expected, item.unit) == (1, "cells") else item.shown_unit
    return f"{item.shown(item.expected, item.safe)}{NO_BREAK_SPACE}{unit}".strip()


def _finite(value: float) -> float | str:
    """A figure; an empty text where it is not finite."""
    return value if math.isfinite(value) else ""


def limit_rows(answer: SizingResult) -> list[dict[str, Any]]:
    """The limits as they are printed, each with the figures behind it; empty where there is no such figure."""
    rows = []
    for limit in answer.limits:
        demand, most, margin = float(limit.demand), float(limit.limit), float(limit.margin_pct)
        demand_text, limit_text = limit.shown
        rows.append(
            {
                "name": limit.name,
                "key": limit.key,
                "worst_at": limit.worst_at,
                "unit": limit.shown_unit if math.isfinite(most) else "",
                "demand": demand_text,
                "demand_value": _finite(demand),
                "limit": limit_text,
                "limit_value": _finite(most),
                "margin": limit.margin_shown,
                "margin_value": _finite(margin),
                "verdict": limit.verdict,
            }
        )
    return rows


def _layers_words(plan: BuildPlan) -> str:
    """Layers at each kind of place, like ones together."""
    if plan.strips is None:
        return ""
    words = []
    for kind in ("parallel", "series", "tab"):
        places = [p for p in plan.strips.places if p.kind == kind]
        layers = sorted({p.layers for p in places})
        for count in layers:
            junctions = [str(p.junction) for p in places if p.layers == count]
            where = "" if len(layers) == 1 else f" at B{', B'.join(junctions)}"
            words.append(f"{kind} {count}{where}")
    return "; ".join(words)


def _volts_up(value: Any, decimals: int) -> str:
    return f"{rounded(float(value), decimals, 'up'):.{decimals}f}{NO_BREAK_SPACE}V"


def threshold_rows(plan: BuildPlan) -> list[dict[str, str]]:
    """The voltages as they are set: rounded up, charge and minutes down."""
    if plan.thresholds is None:
        return []
    fine = 2 if int(plan.pack.series) == 1 else 1
    return [
        {
            "name": level.name,
            "pack_loaded": _volts_up(level.pack_loaded_v, fine),
            "pack_rest": _volts_up(level.pack_rest_v, fine),
            "cell_loaded": _volts_up(level.loaded_v, 2),
            "cell_rest": _volts_up(level.rest_v, 2),
            "used": f"{rounded(1000.0 * float(level.used_ah), 0, 'down'):.0f}",
            "flown": f"{rounded(float(level.flown_min), 1, 'down'):.1f}{NO_BREAK_SPACE}min",
        }
        for level in (
            plan.thresholds.alarm,
            plan.thresholds.return_home,
            plan.thresholds.land,
            plan.thresholds.cut,
        )
    ]


def _drawings(plan: BuildPlan, paper: Paper) -> list[Markup]:
    """The drawing in pieces that go on the sheet one under another; a page may end after each."""
    if plan.layout is None:
        return []
    width_mm, height_mm = (side - 2 * MARGIN_MM for side in (paper.width_mm, paper.height_mm))
    # made of figures, no user's text in it
    return [Markup(svg) for svg in draw_to_fit(plan.layout, width_mm, height_mm).svgs]


def build_sheet_html(
    answer: SizingResult,
    plan: BuildPlan,
    paper: str = "a4",
    date: str | None = None,
    way_out: str = "",
) -> str:
    """The build sheet of an answer and its plan.

    Args:
        answer: of `size`, for a single design.
        plan: its bench plan (`workbook.sheet.plan.plan_build`).
        paper: "a4" or "letter".
        date: as it is to be printed; today where left out.
        way_out: what would do where it does not hold.

    Returns:
        One HTML page that needs nothing else: no script, no network, no file beside it. It prints in
        letters of 9 pt on as many sheets as it needs.

    Raises:
        InputError: another paper.

    Example:
        >>> from workbook.files.design_file import read_design
        >>> from workbook.data.notebooks import notebooks_source
        >>> answer = size(read_design(notebooks_source() / "designs" / "survey_six.toml").design)
        >>> page = build_sheet_html(answer, plan_build(answer), date="2026-05-01")
        >>> 'data-key="endurance_min"' in page, "http" in page
        (True, False)
    """
    sheet, design = paper_named(paper), answer.design
    date = date or datetime.date.today().isoformat()
    unsafe = bool(answer.stops)
    figures = answer.figures()
    return page_template(TEMPLATE).render(
        answer=answer,
        plan=plan,
        pack=design.pack,
        paper=sheet,
        date=date,
        version=__version__,
        unsafe=unsafe,
        craft_words=answer.craft_type.name,
        top_line=Markup(
            css_string("UNSAFE: do not build or fly this design as it stands" if unsafe else "")
        ),
        bottom_line=bottom_line(design.name, date),
        verdict=verdict_text(answer),
        way_out=way_out,
        figures=figures,
        rows=results(answer.craft_type.keys),
        result_text=result_text,
        limit_rows=limit_rows(answer),
        unchecked=[line.removeprefix("not checked: ") for line in unchecked_lines(answer)],
        doubts=doubt_lines(answer),
        found=differences(answer, plan),
        barrier=barrier_lines(plan.layout) if plan.layout else "",
        drawings=_drawings(plan, sheet),
        layers_words=_layers_words(plan),
        hottest_c=max((p.hottest_c for p in plan.strips.places), default=0.0)
        if plan.strips
        else 0.0,
        arrival_v=ARRIVAL_V,
        balance_awg=BALANCE_AWG,
        before_plugging_in=before_plugging_in(int(plan.pack.series)),
        threshold_rows=threshold_rows(plan),
        first_flights=checks("first_flights"),
        working=[
            step for step in answer.working if step.key in WORKING and math.isfinite(step.result)
        ],
        given_topics=GIVEN_TOPICS,
        expected=expected_text,
        setting=lambda key, value: RESULTS[key].text(float(value)),
        amount=amount_text,
        flight=design.flight,
        never=math.inf,
        plain=lambda figure: f"{float(figure):g}",
        with_unit=lambda figure, *how: with_unit(float(figure), *how),
        sides_text=sides_text,
        margin_mm=f"{MARGIN_MM:g}",
        cell_fuses=_cell_fuse_words(plan.pack),
        groups_each=int(plan.pack.series),
        **_two_packs(answer, plan),
    )


def _two_packs(answer: SizingResult, plan: BuildPlan) -> dict[str, Any]:
    """The part of the sheet about two packs that fly together, and the label of each."""
    pair = answer.pair

    def label_of(mark: str) -> PackLabel:
        label = plan.label
        return replace(label, pack_id=f"{label.pack_id} {mark}") if mark else label

    context: dict[str, Any] = {"pair": pair, "marks": PACK_NAMES, "label_of": label_of}
    if pair is None:
        return context
    one, joining = plan.pack, pair.joining
    drawn = draw_joining(joining.joined, PACK_NAMES, pack_name(one), float(one.full_v))
    figures = {
        "apart_v": float(pair.currents.apart_v),
        "most_v": rounded(float(pair.currents.most_v), 1, "down"),
        "most_a": rounded(float(pair.currents.most_a), 1, "down"),
        "full_v": float(answer.design.pack.full_v),
        "charge_pct": joining.apart_capacity_pct,
    }
    return {
        **context,
        "joining_drawing": Markup(drawn),  # made of figures, no user's text in it
        "pair_lines": [
            *_lead_words(plan),
            *(n.text for n in answer.notes if n.topic == "two packs"),
        ],
        "joining_checks": checks(f"join_{joining.joined}", **figures),
    }


def _lead_words(plan: BuildPlan) -> list[str]:
    """The lead from where packs in parallel meet to the craft; nothing where each carries all the current."""
    together = plan.together
    if together is None or together.pack.parallel == plan.pack.parallel:
        return []
    made = together.made_for
    length_mm, burst_s = plan.settings.lead_mm, plan.pack.cell.burst_s
    wire = choose_wire(made.continuous_a, made.burst_a, length_mm, burst_s=burst_s)
    return [f"From where they meet to the craft the lead carries both. {wire.why}"]


def _cell_fuse_words(pack: Pack) -> str:
    resistance_mohm = float(pack.cell.model.resistance_at(0.5))
    return cell_fuse_words(int(pack.parallel), pack.cell.charge_v, resistance_mohm)


def write_sheet(
    file: DesignFile,
    path: Path | str,
    *,
    paper: str = "a4",
    cells: Path | str | None = None,
    overwrite: bool = False,
    seen: SeenFiles | None = None,
) -> Sheet:
    """Size a design, plan its pack and write the build sheet.

    Args:
        file: a design as read (`workbook.files.design_file.read_design`).
        path: the file to write, .html or .pdf.
        paper: "a4" or "letter".
        cells: log of measured cells, to be dealt into groups; a group weaker than rated decides for every line.
        overwrite: write over a file that is there; never over the design, its table, its cells or the log.
        seen: what the page that saves knows of its files.

    Returns:
        The file, the answer and the plan.

    Raises:
        InputError: settings or a log that cannot be used, or a file that is there already.
    """
    inputs = [*file.inputs, *([] if cells is None else [Path(cells)])]
    check_writable(Path(path), overwrite=overwrite, inputs=inputs)
    with naming(file.path.name):
        answer = size(file.design, notices=file.notices)
    log = None if cells is None else read_cell_log(cells)
    settings = file.settings
    plan = plan_build(answer, settings, log.cells if log else None)
    counted = on_measured(answer, plan)
    if counted is not answer:
        answer, plan = counted, plan_build(counted, settings, log.cells if log else None)
    page = build_sheet_html(answer, plan, paper, way_out=remedy(answer, file.cells))
    write_page(Path(path), page, overwrite=overwrite, inputs=inputs, seen=seen)
    return Sheet(Path(path), answer, plan)
