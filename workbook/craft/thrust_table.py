"""A motor maker's thrust table: thrust is the key, watts are what is looked up, and what they buy."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np

from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray, Number
from workbook.working import Step, step

METRES_PER_INCH = 0.0254

POWER_DENSITY_EXPONENT = -0.5
"""Power at equal thrust as 1/sqrt(density). Source: momentum theory, hover."""

POWER_THRUST_EXPONENT = 1.5
"""Power against thrust beyond the table's rows. Source: momentum theory, hover."""

LEAST_EXTENDED_SHARE = 0.5
"""Thrust below the first row, over that row's, down to which the table is extended. Chosen here: below,
idle losses are more and more of the power."""

FULL_THROTTLE_PCT = 99.0
"""A last row from this throttle up is full throttle: makers round. Chosen here."""


@dataclass(frozen=True, eq=False)
class ThrustTable:
    """One motor with one propeller at one supply voltage, rows by rising thrust.

    Attributes (arrays of shape (K,); NaN where the maker left a cell blank):
        motor, propeller: names from the file.
        source: where it was read from.
        throttle_pct, thrust_gf, current_a, voltage_v, power_w, speed_rpm: the columns;
            thrust, voltage, current and power are complete (the reader fills one from the others and says so).
        row: row numbers in the file, for messages.
        top_thrust_gf: highest thrust in the table.
        supply_v: voltage at which the table was taken, as its maker states it; where no label
            states one, the highest in its rows.
        notices: what was filled in, settled or doubted when the table was read.
    """

    motor: str
    propeller: str
    thrust_gf: FloatArray
    current_a: FloatArray
    voltage_v: FloatArray
    power_w: FloatArray
    throttle_pct: FloatArray
    speed_rpm: FloatArray
    row: tuple[int, ...] = ()
    source: str = ""
    supply_v: float = math.nan
    notices: tuple[Problem, ...] = ()

    @property
    def top_thrust_gf(self) -> float:
        """Highest thrust in the table."""
        return float(self.thrust_gf[-1])

    @property
    def has_throttle(self) -> bool:
        """Whether every row has a throttle."""
        return not bool(np.isnan(self.throttle_pct).any())

    @property
    def reaches_full_throttle(self) -> bool:
        """Whether the last row is full throttle, stated so."""
        return bool(self.throttle_pct[-1] >= FULL_THROTTLE_PCT)

    @property
    def has_speed(self) -> bool:
        """Whether every row has a speed."""
        return not bool(np.isnan(self.speed_rpm).any())

    @property
    def propeller_diameter_m(self) -> float | None:
        """Diameter by the propeller's name; None where it states none."""
        return diameter_from_name_m(self.propeller)

    def place(self, index: int) -> str:
        """The place of a row, for messages."""
        number = self.row[index] if self.row else index + 1
        return f"{self.source}, row {number}" if self.source else f"row {number}"

    def rows_around(self, thrust_gf: float) -> tuple[int, int]:
        """Indices of the two rows around a thrust; the first two just below the table.

        Raises:
            InputError: the thrust is outside the table, and not just below it (see `below_rows`).
        """
        first, top = self.thrust_gf[0], self.top_thrust_gf
        if not (first <= thrust_gf <= top or self.below_rows(thrust_gf)):
            raise InputError(
                f"thrust of {thrust_gf:.0f} gf per motor is outside the thrust table "
                f"({first:.0f} to {top:.0f} gf); a table that reaches it is needed."
            )
        high = int(np.clip(np.searchsorted(self.thrust_gf, thrust_gf), 1, len(self.thrust_gf) - 1))
        return high - 1, high

    def power_at_thrust(self, thrust_gf: Number, density_ratio: Number = 1.0) -> FloatArray:
        """Electrical power of one motor at a thrust; NaN outside the table.

        Between two rows power follows a power law of thrust (a straight line on log-log paper), which
        is what momentum theory gives for a propeller at rest (power as thrust^1.5). Below the first
        row, down to half its thrust, power goes on as thrust^1.5 (see `below_rows`).

        Args:
            thrust_gf: of one motor, above 0.
            density_ratio: of the air, over that of the test bench.
        """
        thinner = np.asarray(density_ratio, dtype=float) ** POWER_DENSITY_EXPONENT
        thrust, below, first_gf = np.asarray(thrust_gf), self.below_rows(thrust_gf), self._first_gf
        share = np.where(below, thrust / first_gf, 1.0)
        power_w = _log_interp(np.where(below, first_gf, thrust), self.thrust_gf, self.power_w)
        return np.asarray(power_w * share**POWER_THRUST_EXPONENT * thinner)

    def below_rows(self, thrust_gf: Number) -> np.ndarray:
        """Where a thrust lies below the first row and near enough for the table to be extended to it."""
        share = np.asarray(thrust_gf, dtype=float) / self._first_gf
        return np.asarray((share < 1.0) & (share >= LEAST_EXTENDED_SHARE))

    def power_words(self, thrust_gf: float) -> tuple[str, str]:
        """How the power at a thrust is found, and from which rows, in words.

        Raises:
            InputError: the thrust is outside the table.

        Example:
            >>> row = np.array([400.0, 800.0])
            >>> blank = row * np.nan
            >>> table = ThrustTable("m", "p", row, row / 200, row * 0 + 20, row / 10, blank, blank)
            >>> table.power_words(600.0)
            ('power law between the two rows around it', '400 gf at 40 W and 800 gf at 80 W, at 600 gf')
            >>> table.power_words(300.0)
            ('below the first row, as thrust^1.5', '400 gf at 40 W, at 300 gf')
        """
        low, high = (
            f"{self.thrust_gf[k]:g} gf at {self.power_w[k]:g} W"
            for k in self.rows_around(thrust_gf)
        )
        if self.below_rows(thrust_gf):
            return (
                f"below the first row, as thrust^{POWER_THRUST_EXPONENT}",
                f"{low}, at {thrust_gf:.0f} gf",
            )
        return (
            "power law between the two rows around it",
            f"{low} and {high}, at {thrust_gf:.0f} gf",
        )

    @property
    def _first_gf(self) -> float:
        """Thrust of the first row that has thrust and power."""
        usable = np.flatnonzero((self.thrust_gf > 0) & (self.power_w > 0))
        return float(self.thrust_gf[usable[0]]) if len(usable) else math.nan

    def thrust_at_power(self, power_w: Number) -> FloatArray:
        """Thrust of one motor at an electrical power, the inverse of `power_at_thrust`."""
        return _log_interp(power_w, self.power_w, self.thrust_gf)

    def efficiency(self, thrust_gf: Number, voltage_v: Number) -> ThrustEfficiency:
        """What a thrust costs at a supply voltage: the watts carry over, amperes are watts over volts.

        Args:
            thrust_gf: of one motor, above 0.
            voltage_v: supply voltage under load, above 0; need not be the table's.

        Returns:
            Figures of the shape of both arguments together.

        Source: power = voltage x current; at equal thrust the propeller asks for the same shaft power,
            and the change of the motor's own losses with the supply voltage is left out.

        Example:
            >>> row = np.array([400.0, 600.0, 800.0])
            >>> blank = row * np.nan
            >>> table = ThrustTable(
            ...     "m", "p", row, row / 200, row * 0 + 20.0, row / 10, blank, blank
            ... )
            >>> cost = table.efficiency(600.0, np.array([20.0, 15.0]))
            >>> cost.power_w.round(1), cost.current_a.round(1), cost.gf_per_a.round(1)
            (array([60., 60.]), array([3., 4.]), array([200., 150.]))
        """
        thrust, volts = np.broadcast_arrays(
            np.asarray(thrust_gf, dtype=float), np.asarray(voltage_v, dtype=float)
        )
        return ThrustEfficiency(self, thrust, volts, self.power_at_thrust(thrust))

    def best_row(self) -> BestRow:
        """The row with the most thrust per watt. A row of no thrust is left out.

        Source: arithmetic on the table's rows.

        Example:
            >>> thrust = np.array([100.0, 200.0, 400.0])
            >>> watts, blank = np.array([12.0, 20.0, 50.0]), thrust * np.nan
            >>> volts = thrust * 0 + 20
            >>> ThrustTable("m", "p", thrust, watts / 20, volts, watts, blank, blank).best_row()
            BestRow(index=1, thrust_gf=200.0, gf_per_w=10.0, at_first_row=False)
        """
        usable = (self.thrust_gf > 0) & (self.power_w > 0)
        with np.errstate(divide="ignore", invalid="ignore"):
            each = np.where(usable, self.thrust_gf / self.power_w, -np.inf)
        index = int(np.argmax(each))
        first = int(np.argmax(usable))
        return BestRow(index, self.thrust_gf[index].item(), each[index].item(), index == first)


@dataclass(frozen=True, eq=False)
class ThrustEfficiency:
    """What one motor's thrust costs; arrays of one shape, NaN outside the thrust table.

    Attributes:
        table: asked.
        thrust_gf: thrust.
        voltage_v: supply voltage that it is asked at.
        power_w: electrical power, the same at every supply voltage.
    """

    table: ThrustTable
    thrust_gf: FloatArray
    voltage_v: FloatArray
    power_w: FloatArray

    @property
    def current_a(self) -> FloatArray:
        """Power over that voltage."""
        return self.power_w / self.voltage_v

    @property
    def gf_per_w(self) -> FloatArray:
        """Thrust per watt, the same at every supply voltage."""
        return self.thrust_gf / self.power_w

    @property
    def gf_per_a(self) -> FloatArray:
        """Thrust per ampere, in proportion to the voltage."""
        return self.thrust_gf / self.current_a

    def steps(self) -> tuple[Step, ...]:
        """How a single motor's efficiency comes about.

        Raises:
            InputError: the thrust is outside the table.

        Example:
            >>> row = np.array([400.0, 800.0])
            >>> blank = row * np.nan
            >>> table = ThrustTable("m", "p", row, row / 200, row * 0 + 20, row / 10, blank, blank)
            >>> table.efficiency(600.0, 20.0).steps()[-1].text()
            'thrust per ampere = thrust / current = 600 gf / 3 A = 200 gf/A  [arithmetic]'
        """
        thrust, volts = f"{self.thrust_gf:.4g} gf", f"{self.voltage_v:.4g} V"
        rows = list(self.table.rows_around(float(self.thrust_gf)))
        (t1, t2), (p1, p2) = self.table.thrust_gf[rows], self.table.power_w[rows]
        formula = "P1 x (T / T1)^k, k = ln(P2 / P1) / ln(T2 / T1), rows 1 and 2 around T"
        k = f"k = ln({p2:g} / {p1:g}) / ln({t2:g} / {t1:g})"
        if self.table.below_rows(float(self.thrust_gf)):
            formula = "P1 x (T / T1)^k, T below the first row, so k is that of momentum theory"
            k = f"k = {POWER_THRUST_EXPONENT}"
        return (
            step(
                "power_per_motor_w",
                self.power_w,
                rule=formula,
                p1=p1,
                thrust=thrust,
                t1=t1,
                k=k,
            ),
            step("efficiency_gf_w", self.gf_per_w, thrust=thrust, point=self),
            step("current_per_motor_a", self.current_a, point=self, volts=volts),
            step("efficiency_gf_a", self.gf_per_a, thrust=thrust, point=self),
        )


@dataclass(frozen=True, eq=False)
class BestRow:
    """The row of a thrust table with the most thrust per watt.

    Attributes:
        index: of the row, 0 the lowest thrust.
        thrust_gf, gf_per_w: of that row.
        at_first_row: whether it is the lowest row: the true peak may then lie below the table.
    """

    index: int
    thrust_gf: float
    gf_per_w: float
    at_first_row: bool


def _log_interp(x: Number, known_x: FloatArray, known_y: FloatArray) -> FloatArray:
    keep = (known_x > 0) & (known_y > 0)
    known = np.log(known_x[keep]), np.log(known_y[keep])
    with np.errstate(divide="ignore", invalid="ignore"):
        wanted = np.log(np.asarray(x, dtype=float))
    return np.asarray(np.exp(np.interp(wanted, *known, left=np.nan, right=np.nan)))


_NUMBER = r"(?<![\d.])(\d{1,2}(?:\.\d+)?)"


def _plain_size(name: str) -> str:
    return re.sub(r"[\"'”]|\bin(?:ch)?\b", "", name.replace("*", "x").replace(",", "."))


def _inches_from_name(name: str) -> tuple[float, float]:
    """Diameter and pitch in a propeller's trade name, in inches; 0 where it states none."""
    if pair := re.search(rf"{_NUMBER}\s*[xX×]\s*(\d{{1,2}}(?:\.\d+)?)", _plain_size(name)):
        diameter, pitch = float(pair[1]), float(pair[2])
        return diameter, pitch / 10.0 if pitch > 2.0 * diameter else pitch  # 10x45 is 10x4.5
    if four := re.search(r"(?<!\d)(\d{2})(\d{2})(?!\d)", name):
        diameter = float(four[1])
        return diameter if diameter <= 30.0 else diameter / 10.0, float(four[2]) / 10.0
    return 0.0, 0.0


def diameter_from_name_m(name: str) -> float | None:
    """Diameter in a propeller's trade name, in inches before the pitch; None without.

    Example:
        >>> diameter_from_name_m("two-blade 10x4.7 slow-fly"), diameter_from_name_m("P15*5")
        (0.254, 0.381)
        >>> (
        ...     diameter_from_name_m("10x4,5"),
        ...     diameter_from_name_m("1045"),
        ...     diameter_from_name_m("round"),
        ... )
        (0.254, 0.254, None)
    """
    diameter, _ = _inches_from_name(name)
    return diameter * METRES_PER_INCH if 1.0 < diameter < 60.0 else None


def pitch_from_name_m(name: str) -> float | None:
    """Pitch in a propeller's trade name, in inches after the diameter; None without.

    Example:
        >>> pitch_from_name_m("two-blade 10x4.7 slow-fly"), pitch_from_name_m("1045")
        (0.11938, 0.1143)
        >>> pitch_from_name_m("10x45"), pitch_from_name_m("10x4,5x3"), pitch_from_name_m("round")
        (0.1143, 0.1143, None)
    """
    diameter, pitch = _inches_from_name(name)
    return pitch * METRES_PER_INCH if 1.0 < diameter < 60.0 and pitch > 0.0 else None


def blades_from_name(name: str) -> int:
    """Number of blades in a propeller's trade name; 2 where it says nothing.

    Example:
        >>> (
        ...     blades_from_name("three-blade 9x4.5"),
        ...     blades_from_name("5x4.3x3"),
        ...     blades_from_name("10x4.5"),
        ... )
        (3, 3, 2)
    """
    if stated := re.search(r"(\d|two|three|four|tri)[\s-]*blade", name, re.IGNORECASE):
        words = {"two": 2, "three": 3, "tri": 3, "four": 4}
        return words.get(stated[1].lower()) or int(stated[1])
    size = rf"{_NUMBER}\s*[xX×]\s*\d{{1,2}}(?:\.\d+)?\s*[xX×]\s*([2-6])(?![\d.])"
    third = re.search(size, _plain_size(name))
    return int(third[2]) if third else 2


def kv_from_name_rpm_v(name: str) -> float | None:
    """Speed per volt in a motor's trade name, as in 920 KV; None without.

    Example:
        >>> kv_from_name_rpm_v("2216 920KV"), kv_from_name_rpm_v("heron")
        (920.0, None)
    """
    found = re.search(r"(\d{2,5})\s*(?:kv\b|rpm/v)", name, re.IGNORECASE)
    return float(found[1]) if found else None
