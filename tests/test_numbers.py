"""One design's answer as plain numbers, and nothing else of it touched."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.numbers import plain


@dataclass(frozen=True)
class Inner:
    power_w: object
    name: str = "hover"


@dataclass(frozen=True)
class Outer:
    inner: Inner
    parts: tuple[Inner, ...]
    figures: dict[str, object]
    curve: object


def test_figures_of_one_design_become_numbers_wherever_they_stand() -> None:
    curve = np.array([1.0, 2.0])
    given = Outer(
        Inner(np.asarray(120.5)), (Inner(np.float64(2.0)),), {"holds": np.bool_(True)}, curve
    )
    made = plain(given)
    assert type(made.inner.power_w) is float
    assert made.inner.power_w == 120.5
    assert type(made.parts[0].power_w) is float
    assert made.figures["holds"] is True
    assert made.curve is curve
    assert isinstance(given.inner.power_w, np.ndarray), "the record given stays as it is"


def test_a_plain_record_is_handed_back_itself() -> None:
    given = Inner(1.0)
    assert plain(given) is given
    assert plain((given, "text")) == (given, "text")
    assert plain(Inner) is Inner
