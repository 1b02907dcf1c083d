"""Tables are read aloud: headings, signs and words, and nothing from a text becomes markup."""

from __future__ import annotations

from workbook.widgets.table import GridCell, GridMap, Table


def test_a_table_names_rows_and_columns_and_stresses_one_row():
    table = Table()
    table.update(["row", "watts", "why"], [["<a>", "4", "x"], ["b", "5", "y"]], bold=1, words=(2,))
    html = table.html.value
    assert '<th scope="row">&lt;a&gt;</th><td class="wb-num">4</td><td>x</td>' in html
    assert '<th scope="row" style="font-weight:700">b</th>' in html
    assert "caption" not in html


def test_grid_is_a_table_with_headings_signs_and_words():
    grid = GridMap("Endurance, min")
    cells = [[GridCell("12 <min>", "broken"), GridCell("19", "holds")]]
    grid.update([4], [1, 2], cells, chosen=(0, 1))
    html = grid.table.value
    assert '<th scope="row" class="wb-num">4</th>' in html
    assert html.count('scope="col"') == 2
    assert "✕ 12 &lt;min&gt;" in html
    assert 'title="holds, chosen"' in html
