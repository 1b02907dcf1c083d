"""A line of the margin budget that several tests share."""

from __future__ import annotations

from workbook.sizing.budget_lines import BudgetLine, Effect


def line(**changes: object) -> BudgetLine:
    """Gusts that take from 0 to 20 % of power; figures changed by name."""
    start = {
        "key": "gusts",
        "name": "gusts",
        "low": 0.0,
        "expected": 5.0,
        "high": 20.0,
        "distribution": "triangular",
        "applies_to": (Effect("power_factor"),),
    }
    return BudgetLine(**{**start, **changes})  # type: ignore[arg-type]
