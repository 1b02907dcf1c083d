"""The balance plug says of what a meter reads whether it may be plugged in."""

from __future__ import annotations

from tests.lessons.conftest import plain
from workbook.bench.layout import example_pack
from workbook.lessons.balance_plug import BalancePlug


def test_the_plug_is_judged_as_typed() -> None:
    plug = BalancePlug(example_pack(6, 3))
    plug.typed.value = "3,6 7,2; 10,8 14.4 18 21.6"
    assert "HOLDS" in plug.verdict.html.value
    plug.typed.value = "3.6 10.8 7.2 14.4 18 21.6"
    assert "DOES NOT HOLD" in plug.verdict.html.value
    assert "Do not plug it in" in plug.verdict.html.value
    plug.typed.value = "3.6 7.2"
    assert plug.refusal.text.startswith("Not checked: 2 readings given for 6 cells")
    assert plug.verdict.html.value == ""
    plug.typed.value = "much"
    assert "not one number" in plug.refusal.text
    assert plain(plug.table.html.value).count("plus of group") == 6
