"""Tables read from pictures: a small set at every change, a large one and three photographs in the long run.

What is judged: at least 99 % of the cells right or marked, and never a wrong one unmarked where physics can tell.
"""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from tests.pictures.drawn import FONTS, SANS, TablePicture, invented_rows
from tests.pictures.test_opening import pdf, printed
from workbook.errors import InputError
from workbook.parse import plain, read_number
from workbook.pictures import recognise
from workbook.pictures.doubts import with_doubts
from workbook.pictures.layout import PictureCell, PictureTable
from workbook.pictures.opening import open_picture
from workbook.pictures.table import doubtful, table_in, table_text, use_table

needs_reader = pytest.mark.skipif(
    not recognise.can_read(), reason="rapidocr-onnxruntime is not installed (Python 3.13)"
)
LIBERATION = FONTS / "liberation"


def _same(printed: str, read: str) -> bool:
    number, seen = read_number(printed), read_number(read)
    if number and seen:
        return number.readings[-1].value == seen.readings[-1].value
    return plain(printed).replace(" ", "").casefold() == plain(read).replace(" ", "").casefold()


def judged(drawn: TablePicture) -> tuple[int, list[str], int]:
    """Cells of a drawn table that was read: how many, those wrong and not marked, and how many are marked.

    A heading that is marked has been corrected, as the person does at the page: until then nobody knows what stands
    below it.
    """
    table = table_in(open_picture(drawn.draw(), "drawn"))
    first = [table.headings, *table.rows]
    assert [len(row) for row in first] == [len(row) for row in drawn.cells]
    headings = tuple(
        PictureCell(printed) if cell.doubt else cell
        for printed, cell in zip(drawn.cells[0], table.headings, strict=True)
    )
    table = with_doubts(replace(table, headings=headings))
    read = [table.headings, *table.rows]
    pairs = [
        (printed, cell)
        for text, seen in zip(drawn.cells, read, strict=True)
        for printed, cell in zip(text, seen, strict=True)
    ]
    unmarked = [
        f"{printed!r} read as {cell.text!r}"
        for printed, cell in pairs
        if not cell.doubt and not _same(printed, cell.text)
    ]
    return (
        len(pairs),
        unmarked,
        sum(bool(cell.doubt) for _, cell in pairs) + sum(bool(cell.doubt) for cell in first[0]),
    )


@needs_reader
def test_a_turned_compressed_table_with_lost_cells_is_read_and_goes_through_the_ordinary_reader() -> (
    None
):
    drawn = TablePicture(rotated_deg=1.5, blur_px=0.7, jpeg=45, comma=True, lost=[(3, 1), (6, 4)])
    table = table_in(open_picture(drawn.draw(), "shop.jpg"))
    assert [cell.text for cell in table.rows[15]] == [
        t.replace(".", ",") for t in invented_rows()[15]
    ]
    assert table.rows[3][1].doubt == table.rows[6][4].doubt == "nothing was read here"
    assert 2 <= len(doubtful(table)) <= 6
    with pytest.raises(InputError, match="cells are still marked"):
        use_table(table, "shop.jpg")
    rows = [[replace(cell, doubt="") for cell in row] for row in table.rows]
    rows[3][1], rows[6][4] = (
        PictureCell("461"),
        PictureCell("130,1"),
    )  # as printed, typed by a person
    used = use_table(replace(table, rows=tuple(map(tuple, rows))), "shop.jpg").tables[0]
    assert used.propeller == "14x4.8"
    printed = np.array(invented_rows(), dtype=float)
    assert used.thrust_gf.tolist() == printed[:, 1].tolist()
    assert used.power_w.tolist() == printed[:, 4].tolist()


def test_without_the_reader_it_says_how_to_add_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recognise, "_reader", lambda: None)
    with pytest.raises(InputError, match=r"pip install 'workbook\[picture\]'"):
        table_in(open_picture(TablePicture().draw(), "drawn"))


def test_a_table_that_a_pdf_holds_as_text_needs_no_reader(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recognise, "_reader", lambda: None)
    rows = [["Thrust g", "Voltage V", "Current A", "Power W"],
            *([r[1], r[2], r[3], r[4]] for r in invented_rows(rows=8))]  # fmt: skip
    page = printed([["Propeller 14x4.8, 22.2 V"], *rows])
    table = table_in(open_picture(pdf(1, page), "maker.pdf"))
    assert doubtful(table) == ()
    used = use_table(table, "maker.pdf").tables[0]
    assert used.propeller == "14x4.8"
    assert used.thrust_gf.tolist() == [float(r[1]) for r in invented_rows(rows=8)]


@needs_reader
def test_a_picture_without_a_table_is_refused() -> None:
    empty = TablePicture(headings=("no", "table"), rows=(), title="a page of text")
    with pytest.raises(InputError, match="no table was found"):
        table_in(open_picture(empty.draw(), "page.png"))


def test_headings_in_any_unit_and_language_of_files_are_those_of_pictures() -> None:
    cells = [
        tuple(map(PictureCell, line.split("|")))
        for line in ("Schub (N)|Strom|Spannung", "9,8|4|22", "14|7|22")
    ]
    table = PictureTable(("Propeller 14x4.8",), cells[0], tuple(cells[1:]))
    assert "Schub (N)\tStrom" in table_text(table)
    assert use_table(table, "page.pdf").tables[0].thrust_gf[0] == pytest.approx(
        999.3, abs=0.1
    )  # 9.8 / 9.80665 kgf


PHOTOGRAPHS = {
    "from the right, lamp at the left": TablePicture(
        size_px=22, jpeg=60, blur_px=1.0, noise=4, light=0.4,
        corners=[(0.06, 0.04), (-0.02, 0.1), (-0.08, -0.03), (0.02, -0.02)],
    ),
    "from the lower left, no grid": TablePicture(
        size_px=24, jpeg=50, blur_px=1.3, noise=6, light=0.5, grid=False,
        corners=[(0.0, 0.08), (-0.05, 0.0), (-0.02, -0.09), (0.08, -0.03)],
    ),
    "from below, decimal commas": TablePicture(
        size_px=24, jpeg=45, blur_px=1.2, noise=8, light=0.3, comma=True,
        corners=[(0.1, 0.1), (-0.1, 0.1), (0.0, 0.0), (0.0, 0.0)],
        font=LIBERATION / "LiberationSans-Regular.ttf",
    ),
}  # fmt: skip


@pytest.mark.long
@needs_reader
@pytest.mark.parametrize("photograph", PHOTOGRAPHS)
def test_a_photograph_of_a_table_is_read_or_marked(photograph: str) -> None:
    cells, unmarked, marked = judged(PHOTOGRAPHS[photograph])
    assert unmarked == []
    assert marked <= 0.1 * cells  # what is marked must be looked at: more would be no help


def any_table(seed: int) -> TablePicture:
    """A table drawn in some font, size and light, spoilt by so much."""
    pick = random.Random(seed)
    fonts = [
        SANS,
        *(
            LIBERATION / f"Liberation{n}-Regular.ttf"
            for n in ("Sans", "Serif", "Mono", "SansNarrow")
        ),
    ]
    rows = pick.choice([8, 12, 16, 20])
    return TablePicture(
        font=pick.choice(fonts),
        size_px=pick.choice([12, 14, 16, 20, 26]),
        grid=pick.random() < 0.6,
        shaded=pick.random() < 0.6,
        comma=pick.random() < 0.4,
        rows=invented_rows(
            pick.choice([11.1, 14.8, 22.2, 44.4]), rows, pick.choice([600.0, 2400.0, 9000.0])
        ),
        lost=[(pick.randrange(rows), pick.randrange(7)) for _ in range(pick.choice([0, 0, 2]))],
        rotated_deg=pick.uniform(-2, 2),
        blur_px=pick.uniform(0, 0.9),
        noise=pick.uniform(0, 12),
        jpeg=pick.choice([0, 30, 50, 80]),
        light=pick.uniform(0, 0.5),
        seed=seed,
    )


INKS = [
    ((60, 60, 70), (255, 255, 255)),
    ((20, 40, 90), (245, 245, 240)),
    ((235, 235, 235), (40, 42, 48)),
    ((110, 20, 20), (250, 245, 235)),
]


def another_table(seed: int) -> TablePicture:
    """As `any_table`, in bold, italic and serif type and in other colours, light on dark among them."""
    pick = random.Random(seed)
    names = ("Serif", "SansMono", "SansCondensed", "Sans-Bold", "SerifCondensed", "Sans-Oblique")
    dejavu = [FONTS / "dejavu" / f"DejaVu{name}.ttf" for name in names]
    liberation = [
        LIBERATION / f"Liberation{name}.ttf"
        for name in ("Sans-Bold", "Serif-Italic", "Mono-Bold", "Sans-Italic")
    ]
    ink, paper = pick.choice(INKS)
    dark = sum(paper) < 300
    drawn = any_table(seed)
    return replace(
        drawn,
        font=pick.choice([*dejavu, *liberation]),
        size_px=pick.choice([13, 15, 18, 23, 30]),
        ink=ink,
        paper=paper,
        shaded=drawn.shaded and not dark,
        light=0.0 if dark else drawn.light,
    )


@pytest.mark.long
@needs_reader
@pytest.mark.parametrize("seed", range(700, 708))
def test_a_table_in_another_type_and_colour_is_read_or_marked(seed: int) -> None:
    cells, unmarked, _ = judged(another_table(seed))
    assert len(unmarked) <= 0.01 * cells, unmarked


@pytest.mark.long
@needs_reader
def test_of_many_tables_nearly_every_cell_is_right_or_marked() -> None:
    found = [judged(any_table(seed)) for seed in range(24)]
    cells = sum(count for count, _, _ in found)
    unmarked = [place for _, wrong, _ in found for place in wrong]
    print(f"{cells} cells, wrong and not marked: {unmarked}; marked: {sum(m for _, _, m in found)}")
    assert len(unmarked) <= 0.01 * cells
