"""Rows measured at rest and in a wind tunnel, as printed.

Source: UIUC Propeller Database, volume 1 (Brandt, Deters, Ananda, Dantsker, Selig); Brandt and
Selig, AIAA 2011-1255. Propellers are named by size.
"""

import csv
from pathlib import Path

import numpy as np

from workbook.craft.motor import Motor, Propeller, run
from workbook.craft.thrust_table import ThrustTable

SLOW_FLY_10X47 = Propeller(
    0.254,
    np.array([2377.0, 2947, 3494, 4029, 4590, 5147, 5715, 6226, 6528]),
    np.array([0.1059, 0.1079, 0.1117, 0.1158, 0.1200, 0.1237, 0.1263, 0.1286, 0.1299]),
    np.array([0.0431, 0.0437, 0.0450, 0.0466, 0.0484, 0.0500, 0.0513, 0.0524, 0.0531]),
)
ELECTRIC_11X55 = Propeller(
    0.2794,
    np.array([3095.0, 4968, 6473]),
    np.array([0.0838, 0.0873, 0.0903]),
    np.array([0.0310, 0.0313, 0.0323]),
)
ELECTRIC_9X6 = Propeller(
    0.2286, np.array([3145.0, 6717]), np.array([0.1121, 0.1169]), np.array([0.0526, 0.0516])
)

# (J, C_T, C_P, eta) in a stream, 10x4.7 at 6512 rpm
IN_A_STREAM_10X47 = np.array(
    [
        (0.089, 0.1201, 0.0523, 0.204),
        (0.155, 0.1101, 0.0511, 0.335),
        (0.199, 0.1019, 0.0493, 0.410),
        (0.246, 0.0935, 0.0475, 0.484),
        (0.308, 0.0833, 0.0454, 0.566),
        (0.357, 0.0743, 0.0434, 0.611),
        (0.395, 0.0669, 0.0414, 0.638),
        (0.445, 0.0562, 0.0381, 0.657),
    ]
)

# the same at 6513 rpm, down to where thrust ends
TO_NO_THRUST_10X47 = np.array(
    [
        (0.465, 0.0517, 0.0367, 0.656),
        (0.551, 0.0306, 0.0302, 0.560),
        (0.646, 0.0044, 0.0217, 0.130),
        (0.665, -0.0012, 0.0197, -0.042),
    ]
)
# 11x5.5 at 6002 and 6000 rpm
IN_A_STREAM_11X55 = np.array(
    [
        (0.088, 0.0859, 0.0333, 0.227),
        (0.154, 0.0815, 0.0342, 0.366),
        (0.220, 0.0747, 0.0346, 0.474),
        (0.284, 0.0621, 0.0324, 0.544),
        (0.349, 0.0481, 0.0282, 0.595),
        (0.395, 0.0393, 0.0251, 0.620),
        (0.438, 0.0320, 0.0222, 0.632),
        (0.506, 0.0209, 0.0176, 0.601),
        (0.570, 0.0100, 0.0125, 0.453),
        (0.637, -0.0020, 0.0064, -0.200),
    ]
)

SHARES = np.array([0.25, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8])


def runs_in_a_stream() -> list[dict[str, float]]:
    """The slowest runs of each of 191 two-blade propellers, read from C_T and C_P over J as printed.

    Of each run: the coefficients at rest at that speed, and J and C_P over that at rest where a share of
    the thrust at rest is left (`SHARES`); NaN where it was not measured so far. Source: UIUC Propeller
    Database, volumes 1 to 3.
    """
    path = Path(__file__).with_name("propellers_in_a_stream.csv")
    with path.open(newline="") as file:
        return [{k: float(v or "nan") for k, v in row.items()} for row in csv.DictReader(file)]


def bench_table(
    motor: Motor,
    voltage_v: np.ndarray | float,
    throttle_pct: np.ndarray,
    duty: np.ndarray | None = None,
    name: str = "chosen motor",
    rounded: bool = True,
) -> ThrustTable:
    """A maker's table of the 10x4.7 on a first-order motor, rounded as makers round."""
    duty = throttle_pct / 100 if duty is None else duty
    volts = np.broadcast_to(np.asarray(voltage_v, dtype=float), throttle_pct.shape)
    point = run(motor, SLOW_FLY_10X47, volts, duty)

    def as_printed(values: np.ndarray, digits: int) -> np.ndarray:
        return values.round(digits) if rounded else values

    current = as_printed(point.current_a, 2)
    return ThrustTable(
        name,
        "10x4.7",
        as_printed(point.thrust_gf, 0),
        current,
        volts,
        as_printed(current * volts, 1),
        throttle_pct,
        as_printed(point.speed_rpm, -1),
        tuple(range(2, 2 + len(throttle_pct))),
        "bench.csv",
    )
