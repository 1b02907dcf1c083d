"""The `[bench]` section of a design file: what is at the bench. Every key may be left out."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from workbook.battery.charge import Charger
from workbook.bench.layout import SIDES, Bay
from workbook.bench.plan import BenchSettings
from workbook.bench.strip import Strip
from workbook.errors import InputError, Problem


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, strict=True, frozen=True)


class PricesPart(_Part):
    """Prices of one piece or one metre, in one currency. The cell's own file is used without `cell`."""

    cell: float | None = Field(None, ge=0, le=10_000, description="one cell")
    ring: float | None = Field(None, ge=0, le=10_000, description="one insulating ring")
    strip_m: float | None = Field(None, ge=0, le=10_000, description="a metre of strip")
    lead_m: float | None = Field(None, ge=0, le=10_000, description="a metre of main lead")
    balance_wire_m: float | None = Field(None, ge=0, le=10_000, description="a metre of thin lead")
    balance_plug: float | None = Field(None, ge=0, le=10_000, description="one balance plug")
    connector: float | None = Field(None, ge=0, le=10_000, description="one pair of connectors")
    holder: float | None = Field(None, ge=0, le=10_000, description="one cell holder")
    insulation: float | None = Field(None, ge=0, le=10_000, description="one insulating sheet")
    sleeve_m: float | None = Field(None, ge=0, le=10_000, description="a metre of sleeve")
    fuse: float | None = Field(None, ge=0, le=10_000, description="one fuse")


_LINES = {
    "cell": "cells",
    "ring": "rings",
    "strip_m": "strip",
    "lead_m": "main lead",
    "balance_wire_m": "balance wire",
    "balance_plug": "balance plug",
    "connector": "connector",
    "holder": "holders",
    "insulation": "insulation",
    "sleeve_m": "wrap",
    "fuse": "fuse",
}
"""Each price's line of the bill."""


class BenchPart(_Part):
    """What is at the bench: the room for the pack, the materials in the drawer, the charger, prices."""

    bay_length_mm: float | None = Field(None, gt=0, le=5000, description="bay along the craft")
    bay_width_mm: float | None = Field(None, gt=0, le=5000, description="bay across the craft")
    bay_height_mm: float | None = Field(None, gt=0, le=5000, description="bay upwards")
    packing: Literal["any", "square", "staggered"] = Field(
        "any", description='"any", "square" or "staggered" rows'
    )
    layers: int = Field(2, ge=1, le=24, description="most layers of cells end to end")
    holder_gap_mm: float = Field(0.0, ge=0, le=20, description="gap between cans in a holder")
    holder_g: float = Field(0.0, ge=0, le=100, description="holder's mass for each cell")
    padding_mm: float = Field(0.0, ge=0, le=100, description="foam around the pack")
    strip_material: Literal["nickel 200", "pure nickel", "plated steel", "copper"] = Field(
        "nickel 200", description='"nickel 200", "pure nickel", "plated steel" or "copper"'
    )
    strip_width_mm: float | None = Field(None, gt=0, le=50, description="strip width")
    strip_thickness_mm: float | None = Field(
        None, gt=0, le=2, description="strip thickness, one layer"
    )
    lead_mm: float = Field(150.0, gt=0, le=5000, description="one main lead, pack to connector")
    balance_lead_mm: float = Field(120.0, gt=0, le=5000, description="balance lead out of the pack")
    charger_max_a: float | None = Field(None, gt=0, le=200, description="charger's highest current")
    charger_max_w: float | None = Field(None, gt=0, le=10_000, description="charger's power")
    charger_max_series: int = Field(6, ge=1, le=24, description="cells that the charger balances")
    prices: PricesPart | None = Field(None, description="what things cost")
    currency: str = Field("", max_length=8, description="currency of the prices, as EUR")
    builder: str = Field("", max_length=60, description="name or mark of the builder")
    pack_id: str = Field("", max_length=30, description="mark of the pack")


def bench_settings(part: BenchPart | None, where: str = "design") -> BenchSettings:
    """The settings that a `[bench]` section states; the defaults without one.

    Args:
        part: the checked section.
        where: what to call the file in a message.

    Raises:
        InputError: keys that do not go together, one sentence each.

    Example:
        >>> bench_settings(BenchPart(lead_mm=200.0)).lead_mm
        200.0
        >>> bench_settings(BenchPart(bay_length_mm=150.0))
        Traceback (most recent call last):
        ...
        workbook.errors.InputError: design: bench.bay_width_mm and bench.bay_height_mm are missing; ...
    """
    if part is None:
        return BenchSettings()
    wrong = [
        Problem(_missing(part, keys), where)
        for keys in (
            tuple(f"bay_{side}_mm" for side in SIDES),
            ("charger_max_a", "charger_max_w"),
            ("strip_width_mm", "strip_thickness_mm"),
        )
        if _missing(part, keys)
    ]
    if part.strip_width_mm is None and "strip_material" in part.model_fields_set:
        wrong.append(
            Problem("bench.strip_material needs strip_width_mm and strip_thickness_mm too.", where)
        )
    if wrong:
        raise InputError(wrong)
    bay = strip = charger = None
    if part.bay_length_mm and part.bay_width_mm and part.bay_height_mm:
        bay = Bay(part.bay_length_mm, part.bay_width_mm, part.bay_height_mm)
    if part.strip_width_mm and part.strip_thickness_mm:
        strip = Strip(part.strip_material, part.strip_width_mm, part.strip_thickness_mm)
    if part.charger_max_a and part.charger_max_w:
        charger = Charger(part.charger_max_a, part.charger_max_w, part.charger_max_series)
    prices = part.prices.model_dump(exclude_none=True) if part.prices else {}
    return BenchSettings(
        bay=bay,
        packings=("square", "staggered") if part.packing == "any" else (part.packing,),
        max_layers=part.layers,
        spacing_mm=part.holder_gap_mm,
        holder_g=part.holder_g,
        padding_mm=part.padding_mm,
        strip=strip,
        lead_mm=part.lead_mm,
        balance_lead_mm=part.balance_lead_mm,
        charger=charger,
        prices={_LINES[name]: price for name, price in prices.items()},
        currency=part.currency,
        builder=part.builder,
        pack_id=part.pack_id,
    )


def _missing(part: BenchPart, keys: tuple[str, ...]) -> str:
    """A sentence where some of the keys are there and some are not; empty else."""
    gone = [f"bench.{key}" for key in keys if getattr(part, key) is None]
    if not gone or len(gone) == len(keys):
        return ""
    named = " and ".join(gone)
    have = ", ".join(f"bench.{key}" for key in keys if getattr(part, key) is not None)
    return f"{named} {'is' if len(gone) == 1 else 'are'} missing; {have} needs it beside it."
