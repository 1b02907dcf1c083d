"""A page to send: a design's answer, live without Python, in one HTML file that needs nothing beside it.

Whatever its sliders can be set to is worked out beforehand (`workbook.sizing.places`), so that it shows what sizing that
design shows, digit by digit; nothing is guessed between two places, and none beyond them is offered. The design itself
is inside, packed, and every command reads it from there (`workbook.files.sent_page`).
"""

from __future__ import annotations

import base64
import datetime
import hashlib
import json
import math
import zlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from markupsafe import Markup

from workbook import __version__, svg
from workbook.battery.cell import Cell
from workbook.bench.plan import BuildPlan
from workbook.bench.scaled_drawing import draw_to_width
from workbook.errors import InputError, naming
from workbook.files.design_file import DesignFile
from workbook.files.packed import packed_text
from workbook.files.reading import refuse_size
from workbook.files.sent_page import DESIGN_BEGIN, LARGEST_BYTES
from workbook.files.writing import check_writable, write_text
from workbook.quantities import INPUTS, RESULTS, Quantity, results, with_words
from workbook.sheet.build import limit_rows, page_template, threshold_rows
from workbook.sheet.plan import plan_build
from workbook.sheet.printing import check_ending
from workbook.sheet.text import (
    DO_NOT,
    LOOKS,
    NOT_A_CERTIFICATE,
    SIGNS,
    WORDS,
    doubt_lines,
    result_text,
    unchecked_lines,
    verdict_sentence,
)
from workbook.sizing.pair import packs_name
from workbook.sizing.places import Breach, PlaceAnswer, places
from workbook.sizing.remedy import remedy
from workbook.sizing.size import SizingResult, size
from workbook.units import shown_unit, with_unit

TEMPLATE = Path(__file__).with_name("live_page.html.j2")
PALETTE = Path(__file__).parents[1] / "data" / "palette.css"

MOST_CELLS = 12
"""Cells that a page offers: each takes its share of the page's size and of the time to make it."""

SERIES_ABOUT, PARALLEL_ABOUT = 2, 3
"""Cells in series and in parallel that are offered either way from the design's own."""

STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
"""Of a payload slider, times a power of ten."""

PAYLOAD_STEPS, PAYLOAD_STEPS_WITH_MISSION = 16, 8
"""From nothing to about twice the design's own; fewer where a mission is flown at every place."""

RESERVE_STEP_PCT, RESERVE_PLACES = 5.0, 5
"""Of a reserve slider, its own about in the middle."""

NOT_COMPUTED = "not computed"
"""In place of a verdict, where there is none."""

DRAWN_MM = 105.0
"""Width of the pack's drawing: its lettering can be read on a phone."""

Progress = Callable[[int, int], object]


@dataclass(frozen=True)
class Slider:
    """A figure that can be changed on the page.

    Attributes:
        key, label: of the figure.
        values: that it can be set to.
        texts: the same as they are shown.
        own: which of them is the design's.
    """

    key: str
    label: str
    values: tuple[Any, ...]
    texts: tuple[str, ...]
    own: int


def figure_keys(answer: SizingResult) -> tuple[str, ...]:
    """The figures that a page shows at each place, by their keys, the minutes first.

    Args:
        answer: of any design of its craft.
    """
    craft = answer.craft_type
    some = {*craft.large_keys, *craft.short_keys, "endurance_min"}
    return ("endurance_min", *(key for key in craft.keys if key in some and key != "endurance_min"))


def sliders_of(file: DesignFile) -> tuple[Slider, ...]:
    """What can be changed on the page of a design: cell, series, parallel, payload, reserve.

    Args:
        file: the design as read.

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.design_file import read_design
        >>> file = read_design(notebooks_source() / "designs" / "survey_six.toml")
        >>> [slider.texts[slider.own] for slider in sliders_of(file)]
        ['Sedge', '6', '3', '350 g', '20 %']
    """
    design = file.design
    cells = _cells(file)
    names = tuple(cell.name for cell in cells)
    pack, flight = design.pack, design.flight
    series, parallel = int(pack.series), int(pack.parallel)
    payload_g, reserve_pct = float(design.craft.payload_g), float(flight.reserve_pct)
    steps = PAYLOAD_STEPS_WITH_MISSION if design.mission else PAYLOAD_STEPS
    step_g = _step(max(2.0 * payload_g, 0.3 * design.craft.mass_without_pack_g) / steps)
    from_pct = max(RESERVE_STEP_PCT, RESERVE_STEP_PCT * (reserve_pct // RESERVE_STEP_PCT - 2))
    return (
        Slider("cell", "cell", cells, names, names.index(pack.cell.name)),
        _slider("series", series, range(series - SERIES_ABOUT, series + SERIES_ABOUT + 1)),
        _slider(
            "parallel", parallel, range(parallel - PARALLEL_ABOUT, parallel + PARALLEL_ABOUT + 1)
        ),
        _slider("payload_g", payload_g, (step_g * k for k in range(steps + 1))),
        _slider(
            "reserve_pct",
            reserve_pct,
            (from_pct + RESERVE_STEP_PCT * k for k in range(RESERVE_PLACES)),
        ),
    )


def _cells(file: DesignFile) -> tuple[Cell, ...]:
    """The cells that are offered, its own among them, by name."""
    own = file.design.pack.cell
    others = [cell for cell in file.cells if cell.name != own.name]
    return tuple(sorted((own, *others[: MOST_CELLS - 1]), key=lambda cell: cell.name.casefold()))


def _slider(key: str, own: float, values: Iterable[float]) -> Slider:
    """A slider of values that a design may have, the design's own among them."""
    quantity = INPUTS[key]
    allowed = {float(v) for v in values if quantity.least <= v <= quantity.most}
    offered = tuple(sorted(allowed | {float(own)}))
    texts = tuple(with_unit(value, quantity.unit) for value in offered)
    return Slider(key, quantity.label, offered, texts, offered.index(float(own)))


def _step(about: float) -> float:
    """A round step near a figure above 0."""
    ten = 10.0 ** math.floor(math.log10(about))
    return min((ten * step for step in STEPS), key=lambda step: abs(step - about))


def _whole(quantity: Quantity, values: Iterable[float]) -> list[int | None]:
    """Figures in units of their last shown digit; None where there is none."""
    ten = 10 ** _decimals(quantity)
    texts = map(quantity.number, values)
    return [None if text == "-" else round(float(text) * ten) for text in texts]


def _decimals(quantity: Quantity) -> int:
    return quantity.decimals + shown_unit(quantity.unit).decimals


class _Numbered(dict[Any, int]):
    """Things in the order of their first use, each with its number."""

    def __missing__(self, thing: Any) -> int:
        self[thing] = number = len(self)
        return number


def _sentences(answer: PlaceAnswer) -> list[str]:
    """The sentences at a place, beside the word of its verdict."""
    if isinstance(answer, InputError):
        return list(answer.lines)
    if answer.stops:
        return [DO_NOT[:1].upper() + DO_NOT[1:], *answer.stops]
    if isinstance(answer, Breach):
        return list(answer.broken)
    return [limit.broken_text for limit in answer.broken] or [verdict_sentence(answer)]


def table_of(
    file: DesignFile, sliders: Sequence[Slider], keys: Sequence[str], progress: Progress
) -> dict[str, Any]:
    """Everything that a page can show, for each place of its sliders, the last of them fastest.

    Args:
        file: the design as read.
        sliders: as `sliders_of` gives them.
        keys: of the figures.
        progress: called with how many places are done, and how many there are.

    Returns:
        Columns of whole numbers: `figures` by key, each in units of its last shown digit; `verdict` by name; `said`
        and `flights` as numbers of `sayings` and `sentences`, -1 for none.
    """
    cells, varied = sliders[0].values, {slider.key: slider.values for slider in sliders[1:]}
    each = math.prod(len(values) for values in varied.values())
    figures: dict[str, list[int | None]] = {key: [] for key in keys}
    verdicts: list[str] = []
    sayings_at: list[int] = []
    flights: list[int] = []
    sentences, sayings = _Numbered(), _Numbered()
    for number, cell in enumerate(cells):
        design, before = file.design.changed(cell=cell), number * each

        def report(done: int, before: int = before) -> None:
            progress(before + done, each * len(cells))

        found = places(design, varied, file.notices_of(design), report)
        for key in keys:
            figures[key] += _whole(RESULTS[key], found.figures[key].tolist())
        for answer in found.answers:
            flown = answer.flights_text if isinstance(answer, SizingResult) else ""
            verdicts.append(NOT_COMPUTED if isinstance(answer, InputError) else answer.verdict)
            sayings_at.append(sayings[tuple(sentences[text] for text in _sentences(answer))])
            flights.append(sentences[flown] if flown else -1)
    return {
        "figures": figures,
        "verdict": verdicts,
        "said": sayings_at,
        "flights": flights,
        "sayings": list(sayings),
        "sentences": list(sentences),
    }


def _packed(table: dict[str, Any]) -> str:
    """The table as the page holds it: JSON, deflated (RFC 1950), in base64."""
    text = json.dumps(table, separators=(",", ":"), ensure_ascii=False)
    return base64.b64encode(zlib.compress(text.encode(), 9)).decode()


def _words() -> dict[str, dict[str, str]]:
    """Word, sign and look of each verdict."""
    looks = {verdict: LOOKS.get(verdict, verdict) for verdict in WORDS} | {
        NOT_COMPUTED: "unchecked"
    }
    named = {**WORDS, NOT_COMPUTED: "CANNOT BE COMPUTED"}
    return {
        verdict: {"word": named[verdict], "sign": SIGNS[look], "look": look}
        for verdict, look in looks.items()
    }


BAR_SIZE = (100.0, 12.0)
"""Size of the bar of a limit; it ends where all of the limit is used up."""


def _bar(margin_pct: Any) -> Markup:
    """How much of a limit is used up, as a picture; nothing where that has no figure."""
    if margin_pct == "":
        return Markup("")
    wide, high = BAR_SIZE
    used = wide * min(max(1.0 - margin_pct / 100.0, 0.0), 1.0)
    drawn = svg.document(
        svg.box(0, 0, wide, high, fill="none", stroke="currentColor", stroke_width=1.0, corner=0),
        svg.box(0, 0, used, high, fill="currentColor", stroke="none", corner=0),
        width=wide,
        height=high,
        name=f"{used / wide:.0%} used up",
    )
    return Markup(drawn)  # made of figures, no user's text in it


def _drawings(plan: BuildPlan) -> list[Markup]:
    if plan.layout is None:
        return []
    return [Markup(piece) for piece in draw_to_width(plan.layout, DRAWN_MM).svgs]  # likewise


def live_page_html(
    file: DesignFile, date: str | None = None, progress: Progress = lambda done, of: None
) -> tuple[str, SizingResult]:
    """The page of a design, and the answer of `size`.

    Args:
        file: the design as read (`workbook.files.design_file.read_design`).
        date: as it is to be shown; today where left out.
        progress: called with how many places of the sliders are done, and how many there are.

    Returns:
        One HTML page that needs nothing else: no network, no file beside it.

    Raises:
        InputError: a design that cannot be sized or packed, or a page over the largest size.
    """
    with naming(file.path.name):
        answer = size(file.design, notices=file.notices)
    sliders, keys = sliders_of(file), figure_keys(answer)
    script, style = (
        TEMPLATE.with_name(f"live_page.{kind}").read_text("utf-8") for kind in ("js", "css")
    )
    page = page_template(TEMPLATE).render(
        **_as_sent(file, answer, keys),
        date=datetime.date.today().isoformat() if date is None else date,
        version=__version__,
        sliders=sliders,
        left_out=len(file.cells) - len(sliders[0].values),
        design_begin=Markup(DESIGN_BEGIN),
        design_text=packed_text(file),
        data=_for_script(file, sliders, keys),
        table=_packed(table_of(file, sliders, keys, progress)),
        style=Markup(PALETTE.read_text("utf-8") + style),
        script=Markup(script),
        script_hash=base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
    )
    refuse_size(len(page.encode()), f"the page of {file.path.name}", LARGEST_BYTES)
    return page, answer


def _as_sent(file: DesignFile, answer: SizingResult, keys: Sequence[str]) -> dict[str, Any]:
    """The part of the page about the design as it is sent, whatever its sliders are set to."""
    plan, figures = (plan_build(answer, file.settings), answer.figures())
    return {
        "answer": answer,
        "pack_words": f"{packs_name(answer.design)} of {answer.design.pack.cell.name}",
        "note": file.part.note,
        "verdict": _words()[answer.verdict],
        "sentences": _sentences(answer),
        "figures": [(row, result_text(row.key, figures[row.key])) for row in results(keys)],
        "limits": [row | {"bar": _bar(row["margin_value"])} for row in limit_rows(answer)],
        "thresholds": threshold_rows(plan),
        "unchecked": [line.removeprefix("not checked: ") for line in unchecked_lines(answer)],
        "doubts": [with_words(line) for line in doubt_lines(answer)],
        "faults": plan.faults,
        "way_out": remedy(answer, file.cells),
        "drawings": _drawings(plan),
        "not_a_certificate": NOT_A_CERTIFICATE,
    }


def _for_script(file: DesignFile, sliders: Sequence[Slider], keys: Sequence[str]) -> dict[str, Any]:
    """What the page's script knows beside the table: words, and how figures are shown."""
    wanted_min = file.design.flight.wanted_min
    return {
        "sliders": [
            {"key": s.key, "label": s.label, "texts": s.texts, "own": s.own} for s in sliders
        ],
        "figures": [
            {"key": q.key, "label": q.label, "unit": q.shown_unit, "decimals": _decimals(q)}
            for q in results(keys)
        ],
        "words": _words(),
        "wanted_min": None if wanted_min is None else float(wanted_min),
    }


def write_live_page(
    file: DesignFile,
    path: Path | str,
    *,
    date: str | None = None,
    progress: Progress = lambda done, of: None,
    overwrite: bool = False,
) -> SizingResult:
    """Write the page of a design; see `live_page_html`.

    Args:
        file, date, progress: as there.
        path: the HTML file.
        overwrite: write over a file that is there; never over what the design is made from.

    Returns:
        The answer of `size`.

    Raises:
        InputError: as there, or a file that is there already.
    """
    check_writable(Path(path), overwrite=overwrite, inputs=file.inputs)
    check_ending(Path(path))
    page, answer = live_page_html(file, date, progress)
    write_text(Path(path), page, overwrite=overwrite, inputs=file.inputs)
    return answer
