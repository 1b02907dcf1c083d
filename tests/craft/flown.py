"""A multirotor and a wing, invented, that flight tests share."""

import numpy as np

from workbook.craft.craft_types import FixedWing, Multirotor
from workbook.craft.flight_power import MultirotorPower, WingPower
from workbook.craft.rotor import disc_area_m2
from workbook.craft.thrust_table import ThrustTable
from workbook.craft.wing import Polar

# an invented 15 in motor whose watts go as thrust^1.5: 100 W at 900 gf
THRUST = np.array([100.0, 300.0, 600.0, 900.0, 1500.0, 2200.0])
POWER = 100 * (THRUST / 900) ** 1.5
TABLE = ThrustTable(
    "m",
    "15x5",
    THRUST,
    POWER / 22.2,
    THRUST * 0 + 22.2,
    POWER,
    np.array([10.0, 25, 45, 60, 85, 100]),
    THRUST * np.nan,
    source="bench.csv",
)
SIX = Multirotor(
    name="census six",
    rotors=6,
    mass_without_pack_g=2100.0,
    payload_g=350.0,
    table=TABLE,
    avionics_w=12.0,
    flight_factor=1.1,
)
ROTORS = MultirotorPower(SIX)
WING = WingPower(
    FixedWing(
        name="heron",
        motors=1,
        mass_without_pack_g=1600.0,
        payload_g=250.0,
        avionics_w=8.0,
        polar=Polar(0.4, 2.0, 0.03, 0.8, 1.2),
    )
)
MASS_G = 3600.0
WEIGHT_N = MASS_G / 1000 * 9.80665
AREA = disc_area_m2(15 * 0.0254, 6)
