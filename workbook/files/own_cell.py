"""A cell of one's own from points read off a datasheet: made, checked, and held against its points."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from workbook.battery.cell import Cell, FitReport
from workbook.errors import InputError, Problem
from workbook.files.cell_check import check_cell
from workbook.files.cell_file import write_cell
from workbook.files.curve_file import read_curves

SIZES_MM = {"18650": (18.4, 65.2), "21700": (21.2, 70.2)}
"""Diameter and height that go with a format's name, with its wrap. Source: IEC 61960-3 names a cell by
its size in millimetre and tenth; the tenths beyond are common practice, no source."""


@dataclass(frozen=True)
class OwnCell:
    """A cell of one's own beside its points.

    Attributes:
        cell: the cell.
        report: how well its model tells the points back.
        cautions: what can be but is unlikely.
    """

    cell: Cell
    report: FitReport
    cautions: tuple[Problem, ...]

    @property
    def trust(self) -> str:
        """How far the model is to be trusted, in words."""
        model, report = self.report.model, self.report
        said = [model.caution] if model.caution else []
        if model.residual_rms_mv == model.residual_rms_mv:
            said.append(
                f"The model lies {model.residual_rms_mv:.1f} mV from the points, root mean square, and was made "
                f"from {model.lowest_a:g} to {model.highest_a:g} A."
            )
        if report.held_out_rms_mv == report.held_out_rms_mv:
            said.append(
                f"Made without its highest curve it misses that curve by {report.held_out_rms_mv:.0f} mV: about "
                "what reaching beyond the curves costs."
            )
        return " ".join(said)


def own_cell(
    points: str,
    name: str,
    *,
    cell_format: str,
    kind: str,
    mass_g: float,
    rated_capacity_ah: float,
    continuous_a: float,
    burst_a: float,
    standard_charge_a: float,
    max_charge_a: float,
    resistance_mohm: float,
    cutoff_v: float = 2.5,
    charge_v: float = 4.2,
    nominal_v: float = 3.6,
    burst_s: float = 10.0,
) -> OwnCell:
    """Make a cell from points of its discharge curves and the few figures of its datasheet.

    Args:
        points: a table as `workbook.files.curve_file.read_curves` takes it.
        name: any name that is not empty.
        cell_format: a key of `SIZES_MM`.
        kind, mass_g and the rest: as in `Cell`.

    Returns:
        The cell; its typical capacity is where its longest curve ends, or the rated one.

    Raises:
        InputError: points or figures that cannot be, each with its place.

    Example:
        >>> made = own_cell(
        ...     "A;Ah;V\\n1;0;4.15\\n1;2;3.7\\n1;4;2.5\\n8;0;4.0\\n8;2;3.5\\n8;3.9;2.5\\n",
        ...     "Mine",
        ...     cell_format="21700",
        ...     kind="power",
        ...     mass_g=70.0,
        ...     rated_capacity_ah=3.9,
        ...     continuous_a=20.0,
        ...     burst_a=30.0,
        ...     standard_charge_a=2.0,
        ...     max_charge_a=4.0,
        ...     resistance_mohm=25.0,
        ... )
        >>> made.cell.typical_capacity_ah, made.report.model.basis
        (4.0, 'curves')
    """
    if not points.strip():
        raise InputError(
            Problem("no points yet; a table of current, charge and voltage is needed.", "points")
        )
    curves = read_curves(points.strip() + "\n", rated_capacity_ah=rated_capacity_ah)
    if not name.strip():
        raise InputError(Problem("a name is needed.", "name"))
    diameter_mm, height_mm = SIZES_MM[cell_format]
    longest = max(c.capacity_ah[-1] for c in curves)
    cell = Cell(
        name.strip(), cell_format, kind, mass_g, diameter_mm, height_mm, rated_capacity_ah,
        max(longest, rated_capacity_ah), nominal_v, charge_v, cutoff_v, continuous_a, burst_a, burst_s,
        standard_charge_a, max_charge_a, resistance_mohm, curves,
        note="Points and figures put in by hand; the maker's datasheet stands above them.",
    )  # fmt: skip
    found = check_cell(cell)
    if found.refusals:
        raise InputError(found.refusals)
    return OwnCell(cell, cell.fit_report(), found.cautions)


def save_own_cell(made: OwnCell, folder: Path | str, *, overwrite: bool = False) -> Path:
    """Write a cell of one's own into a folder, which is made where it is not there.

    Returns:
        The file.

    Raises:
        InputError: the file exists and `overwrite` is False, or it cannot be written.
    """
    folder = Path(folder)
    name = re.sub(r"[^a-z0-9]+", "-", made.cell.name.casefold()).strip("-") or "cell"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise InputError(Problem(f"it cannot be made: {fault.strerror}.", str(folder))) from None
    path = folder / f"{name}.toml"
    write_cell(made.cell, path, overwrite=overwrite)
    return path
