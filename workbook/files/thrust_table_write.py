"""Writing a thrust table in the plain form that `read_thrust_tables` reads without a doubt."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from workbook.craft.thrust_table import ThrustTable
from workbook.files.records import write_text


def thrust_table_text(table: ThrustTable) -> str:
    """A thrust table as CSV, every column with its unit; columns without any figure are left out.

    Example:
        >>> import numpy as np
        >>> thrust = np.array([500.0, 1000.0])
        >>> volts, blank = np.full(2, 22.2), np.full(2, np.nan)
        >>> print(
        ...     thrust_table_text(
        ...         ThrustTable(
        ...             "m", "15x5", thrust, thrust / 250, volts, thrust * 0.0888, blank, blank
        ...         )
        ...     )
        ... )
        Motor,Propeller,Thrust (gf),Current (A),Voltage (V),Power (W)
        m,15x5,500.0,2.0,22.2,44.4
        m,15x5,1000.0,4.0,22.2,88.8
        <BLANKLINE>
    """
    frame = pd.DataFrame(
        {
            "Motor": table.motor,
            "Propeller": table.propeller,
            "Throttle (%)": table.throttle_pct,
            "Thrust (gf)": table.thrust_gf,
            "Current (A)": table.current_a,
            "Voltage (V)": table.voltage_v,
            "Power (W)": table.power_w,
            "Speed (rpm)": table.speed_rpm,
        }
    )
    return str(frame.dropna(axis=1, how="all").round(9).to_csv(index=False, lineterminator="\n"))


def write_thrust_table(table: ThrustTable, path: Path, *, overwrite: bool = False) -> None:
    """Write a thrust table as CSV; over an existing file only when asked to.

    Raises:
        InputError: the file exists and `overwrite` is False, or it cannot be written.
    """
    write_text(path, thrust_table_text(table), overwrite=overwrite)
