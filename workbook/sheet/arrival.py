"""What is printed of cells that arrive: the form to fill at the bench, and the judgement as text."""

from __future__ import annotations

import datetime
import random
from pathlib import Path
from typing import Unpack

from workbook.battery.cell import Cell
from workbook.bench.arrival import Arrival, MeasuredForPlan, datasheet_windows
from workbook.bench.cell_inspection import SELF_DISCHARGE_MV_PER_WEEK
from workbook.bench.matching import Matching
from workbook.bench.sampling import CONFIDENCE, cells_to_test
from workbook.errors import InputError
from workbook.files.writing import Saving
from workbook.quantities import INPUTS
from workbook.sheet.build import bottom_line, page_template, paper_named
from workbook.sheet.printing import write_page

TEMPLATE = Path(__file__).with_name("arrival_form.html.j2")
BAD_SHARE = 0.2
"""Of a delivery that must not slip through. Common practice, no source."""
LIGHT_C, HEAVY_C = 0.2, 2.0
"""The two loads over the rated capacity, the heavier no more than the cell's continuous current. IEC 61960-3 has
0.2 and 1 (from memory); a heavier second load reads surer."""
MOST_ROWS = 960
"""Cells of the largest pack."""


def arrival_form_html(cell: Cell, batch: int, paper: str = "a4", date: str | None = None) -> str:
    """The form for a delivery, one row a cell.

    Args:
        cell: what was ordered.
        batch: cells delivered, 1 to 960.
        paper: "a4" or "letter".
        date: as it is to be printed; today where left out.

    Returns:
        One HTML page that needs nothing else.

    Raises:
        InputError: another paper, or another number of cells.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> page = arrival_form_html(find_cell("Sedge"), 24, date="2026-05-01")
        >>> page.count('class="tested"'), "4.570 Ah" in page, "http" in page
        (10, True, False)
    """
    sheet = paper_named(paper)
    if not 1 <= batch <= MOST_ROWS:
        raise InputError(f"a batch of {batch} cells is asked for; 1 to {MOST_ROWS} are needed.")
    tested = cells_to_test(batch, BAD_SHARE)
    blind = set(random.Random(batch).sample(range(batch), tested))
    date = date or datetime.date.today().isoformat()
    return page_template(TEMPLATE).render(
        cell=cell,
        batch=batch,
        tested=tested,
        bad_words="one cell in five",
        sure=f"{100.0 * CONFIDENCE:.0f}",
        windows=datasheet_windows(cell),
        rows=[(f"{n + 1}", n in blind) for n in range(batch)],
        cutoff=INPUTS["cutoff_v"].text(cell.cutoff_v),
        full=INPUTS["charge_v"].text(cell.charge_v),
        light=f"{LIGHT_C * cell.rated_capacity_ah:.1f} A",
        heavy=f"{min(HEAVY_C * cell.rated_capacity_ah, cell.continuous_a):.1f} A",
        loss=f"{SELF_DISCHARGE_MV_PER_WEEK:g} mV",
        mass_unit=INPUTS["cell_mass_g"].shown_unit,
        paper=sheet,
        bottom_line=bottom_line(f"arriving cells, {cell.name}", date),
    )


def write_arrival_form(
    cell: Cell,
    batch: int,
    path: Path | str,
    *,
    paper: str = "a4",
    **saving: Unpack[Saving],
) -> None:
    """Write the form for a delivery.

    Args:
        cell, batch, paper: as `arrival_form_html` takes them.
        path: the file, .html or .pdf.
        saving: how it may be written; see `workbook.files.writing.Saving`.

    Raises:
        InputError: as `arrival_form_html`, or a file that is there already.
    """
    page = arrival_form_html(cell, batch, paper)
    write_page(Path(path), page, **saving)


def plan_lines(found: MeasuredForPlan) -> list[str]:
    """What a plan may count on, one line a figure."""
    return [
        f"{INPUTS[key].label}: {INPUTS[key].text(value)}, {found.uncertainty_pct[key]:g} % either way "
        f"({found.cells} good cells)"
        for key, value in found.figures.items()
    ]


def arrival_text(arrived: Arrival, matching: Matching | None = None) -> str:
    """The judgement of a delivery as text.

    Args:
        arrived: what was found.
        matching: its good cells dealt into groups, where there are enough.

    Example:
        >>> from workbook.bench.arrival import judge_arrival
        >>> from workbook.bench.cell_inspection import MeasuredCells
        >>> from workbook.files.cell_file import find_cell
        >>> light = MeasuredCells(("a", "b"), mass_g=[58.1, 58.4])
        >>> print(arrival_text(judge_arrival(light, find_cell("Sedge"))))
        Do not weld them: ...
        ...
    """
    lines = [arrived.verdict, "", *(finding.text for finding in arrived.findings)]
    lines += [sign for sign in arrived.signs if sign not in lines]
    lines += [text[0].upper() + text[1:] for text in arrived.inspection.notes]
    if arrived.bad:
        lines.append("")
    for place in arrived.bad:
        name = arrived.inspection.cells[place].name
        lines.append(f"{name}: {arrived.verdict_of(place)}. {' '.join(arrived.reasons(place))}")
    if matching is not None:
        lines += ["", f"Dealt into groups: the weakest holds {matching.weakest_ah:.3f} Ah."]
    return "\n".join(lines)
