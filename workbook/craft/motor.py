"""Motor and propeller: a direct current motor, measured coefficients, both found from a table.

Motor: V = n / KV + I R and Q = (I - I0) / KV in SI units, I0 rising with speed. Propeller at rest: T = C_T rho n^2 D^4 and
P = C_P rho n^3 D^5 with coefficients that depend on speed. The controller is taken as lossless: at
duty d the motor sees d x supply voltage and the supply gives d x motor current (its losses
go into R and I0).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from workbook.craft.air import STANDARD_DENSITY_KG_M3
from workbook.craft.rotor import NEWTONS_PER_GRAM_FORCE, checked_figure_of_merit
from workbook.craft.thrust_table import ThrustTable, kv_from_name_rpm_v
from workbook.errors import InputError, Problem, refuse
from workbook.fitting import least_squares
from workbook.numbers import FloatArray, Number

RAD_S_PER_RPM = np.pi / 30
DUTY_TOLERANCE = 0.015
"""Largest root-mean-square miss of motor voltage and power, as a share, at which the throttle
column is still taken as duty. Source: chosen here, about the reading error of a bench."""

KV_TOLERANCE = 0.15
"""Largest difference between a KV found and the one stated. Source: common practice, no source."""


FIGURE_OF_MERIT_SLOPE, SLOPE_SPREAD = 0.20, 0.13
"""A propeller's figure of merit rises as speed to this power, and how far propellers differ in it: mean and
standard deviation of 196 propellers of 7 to 25 in measured at rest over a range of speed of 1.8 and more (the
slow-fly 10x4.7 has 0.10). It separates the idle current from the propeller's. Source: UIUC Propeller Database,
volumes 1 to 3 (Brandt, Deters, Ananda, Dantsker, Selig); spread as found there."""

READING_ERROR = 0.01
"""Share by which a row's figures are taken to be uncertain, against that spread. Chosen here."""

IDLE_RISE_SHARE = 0.3
"""Share of the idle current at the table's highest speed that falls away towards standstill: friction and
hysteresis stay, eddy currents go with speed. Common practice, no source; 0 to 0.5 is usual."""

BEYOND_ROWS = 1.5
"""Speed over that of the last row up to which a propeller's coefficients go on rising: that of power with the
slope it has there, that of thrust with half of it, so that current is rather computed high and thrust low. Chosen
here."""


@dataclass(frozen=True, eq=False)
class Motor:
    """A direct current motor. Any figure may be an array of one shape.

    Attributes:
        kv_rpm_v: speed per volt of back electromotive force.
        resistance_mohm: from terminal to terminal, controller and leads included.
        no_load_current_a: current that turns the motor alone, towards standstill.
        no_load_rise_a_krpm: what each thousand rev/min adds to that.

    Source: Drela, First-Order DC Electric Motor Model, 2007; for the rise with speed his Second-Order
        DC Electric Motor Model, 2006 (its linear term).
    """

    kv_rpm_v: Number
    resistance_mohm: Number
    no_load_current_a: Number
    no_load_rise_a_krpm: Number = 0.0

    def idle_a(self, speed_rpm: Number) -> FloatArray:
        """Current that turns the motor alone at a speed."""
        rise = self.no_load_rise_a_krpm * np.asarray(speed_rpm, dtype=float) / 1000
        return np.asarray(self.no_load_current_a + rise)

    def at_torque(self, speed_rpm: Number, torque_nm: Number) -> MotorPoint:
        """The voltage and current that a speed and a torque take.

        Source: Drela (2007): Q = (I - I0) / KV, V = n / KV + I R.

        Example:
            >>> point = Motor(920.0, 96.0, 0.6).at_torque(6513.0, 0.21)
            >>> float(point.voltage_v), float(point.current_a)
            (9.0792, 20.8319)
        """
        speed, torque = np.asarray(speed_rpm, dtype=float), np.asarray(torque_nm, dtype=float)
        kv_si = np.asarray(self.kv_rpm_v) * RAD_S_PER_RPM
        current = np.asarray(self.idle_a(speed) + torque * kv_si)
        resistance = np.asarray(self.resistance_mohm) / 1000
        voltage = np.asarray(speed / self.kv_rpm_v + current * resistance)
        return MotorPoint(voltage, current, speed, torque)


@dataclass(frozen=True, eq=False)
class MotorPoint:
    """A motor at work, at its own terminals and at its shaft: figures or arrays of one shape."""

    voltage_v: FloatArray
    current_a: FloatArray
    speed_rpm: FloatArray
    torque_nm: FloatArray

    @property
    def power_w(self) -> FloatArray:
        """Electrical power."""
        return np.asarray(self.voltage_v * self.current_a)

    @property
    def shaft_power_w(self) -> FloatArray:
        """Mechanical power."""
        return np.asarray(self.torque_nm * self.speed_rpm * RAD_S_PER_RPM)


@dataclass(frozen=True, eq=False)
class Propeller:
    """A propeller at rest: coefficients over speed, straight between the speeds given.

    Below the first and above the last speed the coefficients are held at their end values.

    Attributes:
        diameter_m: tip to tip.
        speed_rpm: rising, shape (K,).
        thrust_coefficient, power_coefficient: C_T and C_P by the n^2 D^4 and n^3 D^5 convention,
            shape (K,).
    """

    diameter_m: float
    speed_rpm: FloatArray
    thrust_coefficient: FloatArray
    power_coefficient: FloatArray

    def thrust_gf(self, speed_rpm: Number, density: Number = STANDARD_DENSITY_KG_M3) -> FloatArray:
        """Thrust at a speed: T = C_T rho n^2 D^4."""
        n = np.asarray(speed_rpm, dtype=float) / 60
        coefficient = np.interp(speed_rpm, self.speed_rpm, self.thrust_coefficient)
        newton = coefficient * np.asarray(density) * n**2 * self.diameter_m**4
        return np.asarray(newton / NEWTONS_PER_GRAM_FORCE)

    def shaft_power_w(
        self, speed_rpm: Number, density: Number = STANDARD_DENSITY_KG_M3
    ) -> FloatArray:
        """Shaft power at a speed: P = C_P rho n^3 D^5."""
        omega = np.asarray(speed_rpm, dtype=float) * RAD_S_PER_RPM
        return np.asarray(self.torque_nm(speed_rpm, density) * omega)

    def torque_nm(self, speed_rpm: Number, density: Number = STANDARD_DENSITY_KG_M3) -> FloatArray:
        """Torque at a speed: P / (2 pi n) = C_P rho n^2 D^5 / (2 pi)."""
        n = np.asarray(speed_rpm, dtype=float) / 60
        coefficient = np.interp(speed_rpm, self.speed_rpm, self.power_coefficient)
        whole = np.asarray(density) * self.diameter_m**5 / (2 * np.pi)
        return np.asarray(coefficient * n**2 * whole)

    def speed_for_thrust(
        self, thrust_gf: Number, density: Number = STANDARD_DENSITY_KG_M3
    ) -> FloatArray:
        """Speed (rev/min) at which it gives a thrust.

        Example:
            >>> rpm, c_t, c_p = np.array([[4590.0, 5147.0], [0.12, 0.1237], [0.0484, 0.05]])
            >>> propeller = Propeller(0.254, rpm, c_t, c_p)
            >>> float(propeller.thrust_gf(5147.0)), float(propeller.shaft_power_w(5147.0))
            (473.3, 40.88)
            >>> float(propeller.speed_for_thrust(473.285))
            5147.0
        """
        newton = np.asarray(thrust_gf, dtype=float) * NEWTONS_PER_GRAM_FORCE
        per_coefficient = np.sqrt(newton / (np.asarray(density) * self.diameter_m**4))

        def rpm(speed: FloatArray) -> FloatArray:
            coefficient = np.interp(speed, self.speed_rpm, self.thrust_coefficient)
            return np.asarray(60 * per_coefficient / np.sqrt(coefficient))

        at_speeds = self.speed_rpm / 60 * np.sqrt(self.thrust_coefficient)
        return _settle(rpm, np.asarray(np.interp(per_coefficient, at_speeds, self.speed_rpm)))


def speed_for_power(
    motor: Motor, propeller: Propeller, power_w: Number, density: Number = STANDARD_DENSITY_KG_M3
) -> FloatArray:
    """Speed (rev/min) at which motor and propeller at rest take an electrical power at the terminals.

    Example:
        >>> rpm, c_t, c_p = np.array([[4590.0, 6528.0], [0.12, 0.1299], [0.0484, 0.0531]])
        >>> motor, propeller = Motor(920.0, 96.0, 0.6), Propeller(0.254, rpm, c_t, c_p)
        >>> watts = run(motor, propeller, 7.4).power_w
        >>> float(speed_for_power(motor, propeller, watts))
        5885.274
    """
    power, rho = np.broadcast_arrays(
        np.maximum(np.asarray(power_w, dtype=float), 0.0), np.asarray(density, dtype=float)
    )

    def rpm(speed: FloatArray) -> FloatArray:
        point = motor.at_torque(speed, propeller.torque_nm(speed, rho))
        with np.errstate(divide="ignore", invalid="ignore"):
            # power rises with speed to the 1 (idle) to 3.3 (propeller and its heat in the motor)
            new = speed * np.cbrt(power / point.power_w)
        return np.asarray(np.where(power == 0.0, 0.0, new))

    return _settle(rpm, np.full(power.shape, float(propeller.speed_rpm[-1])))


@dataclass(frozen=True, eq=False)
class RunningPoint:
    """Motor and propeller running together: figures or arrays of one shape.

    `current_a` is what the supply gives, `motor` what happens at the motor's own terminals.
    """

    speed_rpm: FloatArray
    thrust_gf: FloatArray
    power_w: FloatArray
    current_a: FloatArray
    motor: MotorPoint


def run(
    motor: Motor,
    propeller: Propeller,
    voltage_v: Number,
    duty: Number = 1.0,
    density: Number = STANDARD_DENSITY_KG_M3,
) -> RunningPoint:
    """Where motor and propeller settle at a supply voltage and a duty.

    Args:
        voltage_v: supply voltage under load, above 0.
        duty: share of the supply voltage that the motor sees, 0 to 1.
        density: of the air, kg/m3.

    Source: Drela (2007) for the motor; propeller coefficients as measured.

    Example:
        >>> rpm, c_t, c_p = np.array([[4590.0, 6528.0], [0.12, 0.1299], [0.0484, 0.0531]])
        >>> propeller = Propeller(0.254, rpm, c_t, c_p)
        >>> point = run(Motor(920.0, 96.0, 0.6), propeller, np.array([7.4, 8.4]))
        >>> point.speed_rpm.round(), point.thrust_gf.round()
        (array([5885., 6561.]), array([633., 808.]))
    """
    motor_v, rho = np.broadcast_arrays(
        np.asarray(duty, dtype=float) * np.asarray(voltage_v, dtype=float),
        np.asarray(density, dtype=float),
    )
    speed = running_rpm(motor, propeller, motor_v, rho)
    point = motor.at_torque(speed, propeller.torque_nm(speed, rho))
    power = np.asarray(motor_v * point.current_a)
    return RunningPoint(
        speed,
        propeller.thrust_gf(speed, rho),
        power,
        np.asarray(power / np.asarray(voltage_v, dtype=float)),
        point,
    )


def running_rpm(
    motor: Motor, propeller: Propeller, motor_v: FloatArray, density: Number
) -> FloatArray:
    """Speed (rev/min) at which motor and propeller settle at a voltage at the motor's terminals.

    Source: as `run`.

    Example:
        >>> rpm, c_t, c_p = np.array([[4590.0, 6528.0], [0.12, 0.1299], [0.0484, 0.0531]])
        >>> propeller = Propeller(0.254, rpm, c_t, c_p)
        >>> float(running_rpm(Motor(920.0, 96.0, 0.6), propeller, np.asarray(7.4), 1.225))
        5885.274
    """
    rho = np.asarray(density, dtype=float)
    kv = np.asarray(motor.kv_rpm_v) / 60  # rev/s per volt
    resistance = np.asarray(motor.resistance_mohm) / 1000
    idle_v = motor_v - resistance * motor.no_load_current_a
    per_n = 1 / kv + resistance * np.asarray(motor.no_load_rise_a_krpm) * 0.06

    def rpm(speed: FloatArray) -> FloatArray:
        # V = n / KV + R (I0 + rise n + KV C_P rho D^5 n^2): a quadratic in n at a given C_P
        coefficient = np.interp(speed, propeller.speed_rpm, propeller.power_coefficient)
        square = resistance * kv * coefficient * rho * propeller.diameter_m**5
        with np.errstate(invalid="ignore"):
            n = 2 * idle_v / (per_n + np.sqrt(per_n**2 + 4 * square * idle_v))
        return np.asarray(60 * np.where(idle_v <= 0, 0.0, n))

    return _settle(rpm, np.asarray(60 * kv * motor_v * 0.8))


def _settle(rpm: Callable[[FloatArray], FloatArray], start: FloatArray) -> FloatArray:
    """Repeat a speed until it settles: the coefficients change slowly with it, so that is soon.

    One that has settled is left alone, so an array gives the answers of its elements.

    Source: Wegstein, Communications of the ACM 1, 9 (1958), from memory: the secant through the last two trials.
    """
    speed, moves = start, np.ones(start.shape, dtype=bool)
    last: tuple[FloatArray, FloatArray] | None = None
    for _ in range(200):
        gap = rpm(speed) - speed
        step = gap
        if last is not None:
            with np.errstate(divide="ignore", invalid="ignore"):  # of those that have settled
                slope = (gap - last[1]) / (speed - last[0])
            step = gap / np.clip(-slope, 0.3, 1.5)  # the next speed changes by less than 0.7 of it
        last, speed = (speed, gap), np.where(moves, speed + step, speed)
        moves = moves & (np.abs(gap) > 1e-13 * np.abs(speed))  # nor does what is not known
        if not moves.any():
            break
    return np.asarray(speed)


@dataclass(frozen=True, eq=False)
class Identified:
    """A motor and a propeller found from a thrust table with speed.

    Attributes:
        motor, propeller: what was found.
        duty: share of the supply voltage that the motor sees, per row, shape (K,).
        throttle_is_duty: the throttle column was itself found to be duty.
        power_miss, thrust_miss: found over table minus 1, per row, shape (K,).
    """

    motor: Motor
    propeller: Propeller
    duty: FloatArray
    throttle_is_duty: bool
    power_miss: FloatArray
    thrust_miss: FloatArray


class NotIdentified(InputError):
    """The table alone does not show the motor: its stated KV, or a row at full throttle, is needed.

    Attributes:
        why: the same as the end of "no motor was found in the table: ...".
    """

    def __init__(self, problem: Problem, why: str) -> None:
        super().__init__(problem)
        self.why = why


def identify(table: ThrustTable, diameter_m: float) -> Identified:
    """Find motor and propeller from a thrust table with speed.

    If the throttle column is duty, speed and power of each row give KV, R and I0 by least squares.
    If it is not (the fit misses by over 1.5 %, or its KV is far from the one in the motor's name), the
    named KV and the last row at full duty give R, and each row's duty follows from its speed and power.
    What separates I0 from the propeller's current is the thrust: torque goes as thrust^1.5 over speed and a
    figure of merit that rises slowly with speed (see `FIGURE_OF_MERIT_SLOPE`). C_T follows from thrust
    and speed, C_P from what is left of the current; both as low polynomials of speed. The air on the
    test bench is taken as standard: makers seldom say.

    Args:
        table: with speed in every row, four rows or more; a motor's name like "920KV" gives its KV.
        diameter_m: of the propeller.

    Raises:
        InputError: no speeds, too few rows, a row that breaks the law of momentum or turns faster
            than its voltage allows, or (`NotIdentified`) a throttle that is not duty,
            with no KV or no row at full throttle to go by.

    Source: Drela (2006, 2007); Brandt and Selig, AIAA 2011-1255 (coefficients rise with speed).
    """
    _check_rows(table, diameter_m)
    density, n = STANDARD_DENSITY_KG_M3, table.speed_rpm / 60
    kv_rpm_v, throttle = kv_from_name_rpm_v(table.motor), table.throttle_pct / 100
    motor = _fit(table, throttle, kv_rpm_v) if (throttle > 0).all() else None
    throttle_is_duty = motor is not None
    if motor is None:
        motor = _from_stated_kv(table, kv_rpm_v)
    motor_v, current = _motor_voltage(table, motor)
    duty = throttle if throttle_is_duty else np.asarray(motor_v / table.voltage_v)
    shaft = (current - motor.idle_a(table.speed_rpm)) * n / (np.asarray(motor.kv_rpm_v) / 60)
    thrust_n = table.thrust_gf * NEWTONS_PER_GRAM_FORCE
    propeller = Propeller(
        diameter_m,
        np.append(table.speed_rpm, BEYOND_ROWS * table.speed_rpm[-1]),
        _extended(n, _smooth(n, thrust_n / (density * n**2 * diameter_m**4)), 0.5),
        _extended(n, _smooth(n, np.asarray(shaft / (density * n**3 * diameter_m**5))), 1.0),
    )
    found = run(motor, propeller, table.voltage_v, duty, density)
    return Identified(
        motor,
        propeller,
        duty,
        throttle_is_duty,
        np.asarray(found.power_w / table.power_w - 1),
        np.asarray(found.thrust_gf / table.thrust_gf - 1),
    )


def _check_rows(table: ThrustTable, diameter_m: float) -> None:
    rpm = table.speed_rpm
    if not table.has_speed or len(rpm) < 4:
        raise InputError(
            "motor and propeller are found from speed; four rows or more, each with a speed, "
            "are needed.",
            table.source,
        )
    problems = [
        Problem(
            f"speed of {rpm[k]:g} rpm is not above that of the row before; speed rises with thrust.",
            table.place(k),
        )
        for k in range(1, len(rpm))
        if rpm[k] <= rpm[k - 1]
    ]
    refuse(problems)
    checked_figure_of_merit(table, diameter_m)


def _motor_voltage(table: ThrustTable, motor: Motor) -> tuple[FloatArray, FloatArray]:
    """Voltage and current at the motor from speed and power: P = I (n / KV + I R)."""
    back_v = table.speed_rpm / motor.kv_rpm_v
    resistance = np.asarray(motor.resistance_mohm) / 1000
    current = 2 * table.power_w / (back_v + np.sqrt(back_v**2 + 4 * resistance * table.power_w))
    return np.asarray(back_v + resistance * current), np.asarray(current)


def _fit(table: ThrustTable, duty: FloatArray, stated_kv: float | None) -> Motor | None:
    """KV, R and I0 by least squares on voltage and power of every row; None if throttle is not duty."""
    n = table.speed_rpm / 60
    motor_v = duty * table.voltage_v
    top_v, top_a = float(motor_v[-1]), float(table.power_w[-1] / motor_v[-1])
    lowest_kv = float(np.max(n / motor_v))
    shares = _current_shares(table)

    # unknowns in units of their own size: KV over the lowest possible, R over V/I at full throttle,
    # then idle and propeller current over that at full throttle, and the figure of merit's slope
    def misses(x: FloatArray) -> FloatArray:
        current = top_a * shares(x[2:])
        voltage = n / (lowest_kv * x[0]) + top_v / top_a * x[1] * current
        rows = np.concatenate([voltage / motor_v - 1, voltage * current / table.power_w - 1])
        return np.append(rows, _slope_miss(x[4]))

    start = [1.1, 0.1, 0.03, 0.95, FIGURE_OF_MERIT_SLOPE]
    found = least_squares(misses, start, [1.0, 1e-4, 0.0, 0.3, -0.2], [2.0, 0.9, 0.5, 1.5, 0.7])
    rows_miss = misses(found)[:-1]
    kv = 60 * lowest_kv * float(found[0])
    if np.sqrt(np.mean(rows_miss**2)) > DUTY_TOLERANCE or (
        stated_kv is not None and abs(kv / stated_kv - 1) > KV_TOLERANCE
    ):
        return None
    return _motor(table, kv, 1000 * top_v / top_a * float(found[1]), top_a * float(found[2]))


def _from_stated_kv(table: ThrustTable, kv_rpm_v: float | None) -> Motor:
    """R from the last row at full duty, then I0 from the rows' currents."""
    if kv_rpm_v is None:
        raise NotIdentified(
            Problem(
                "the throttle column is not the share of the supply voltage, so the motor "
                "cannot be found from speeds alone; its KV (rpm per volt) is needed.",
                table.source,
            ),
            "throttle is not the share of the voltage, and the motor's name states no KV",
        )
    if not table.reaches_full_throttle:
        raise NotIdentified(
            Problem(
                "the throttle column is not the share of the supply voltage and has no row at full "
                "throttle, so the motor cannot be found from speeds; a row at 100 % is needed.",
                table.source,
            ),
            "throttle is not the share of the voltage, and no row is at full throttle",
        )
    rpm, volts = table.speed_rpm, table.voltage_v
    too_fast = [
        Problem(
            f"{rpm[k]:g} rpm at {volts[k]:g} V is faster than a motor of {kv_rpm_v:g} rpm per volt "
            f"turns without load (efficiency over 100 %); at most {kv_rpm_v * volts[k]:.0f} rpm can "
            "be right: check speed, voltage and KV.",
            table.place(k),
        )
        for k in range(len(rpm))
        if rpm[k] >= kv_rpm_v * volts[k]
    ]
    refuse(too_fast)
    top_current = float(table.power_w[-1] / table.voltage_v[-1])
    resistance = float(table.voltage_v[-1] - table.speed_rpm[-1] / kv_rpm_v) / top_current
    _, current = _motor_voltage(table, Motor(kv_rpm_v, 1000 * resistance, 0.0))
    shares = _current_shares(table)

    def misses(x: FloatArray) -> FloatArray:
        return np.append(top_current * shares(x) / current - 1, _slope_miss(x[2]))

    start = [0.03, 0.95, FIGURE_OF_MERIT_SLOPE]
    idle = top_current * float(least_squares(misses, start, [0.0, 0.3, -0.2], [0.5, 1.5, 0.7])[0])
    return _motor(table, kv_rpm_v, 1000 * resistance, idle)


def _motor(table: ThrustTable, kv_rpm_v: float, resistance_mohm: float, top_idle_a: float) -> Motor:
    """A motor by its idle current at the table's highest speed."""
    rise = IDLE_RISE_SHARE * top_idle_a / float(table.speed_rpm[-1] / 1000)
    return Motor(kv_rpm_v, resistance_mohm, (1 - IDLE_RISE_SHARE) * top_idle_a, rise)


def _current_shares(table: ThrustTable) -> Callable[[FloatArray], FloatArray]:
    """Motor current of each row over that of the last, from idle share, propeller share and the slope
    of the figure of merit: torque goes as thrust^1.5 / speed^(1 + slope)."""
    x = table.speed_rpm / table.speed_rpm[-1]
    thrust = _smooth(x, table.thrust_gf / x**2) * x**2
    torque = (thrust / thrust[-1]) ** 1.5 / x
    idle = 1 - IDLE_RISE_SHARE * (1 - x)

    def shares(unknown: FloatArray) -> FloatArray:
        return np.asarray(unknown[0] * idle + unknown[1] * torque / x ** unknown[2])

    return shares


def _slope_miss(slope: float) -> float:
    """How far a slope of the figure of merit is from that of propellers, in the measure of the rows."""
    return (slope - FIGURE_OF_MERIT_SLOPE) / SLOPE_SPREAD * READING_ERROR


def _smooth(n: FloatArray, coefficient: FloatArray) -> FloatArray:
    """A low polynomial of speed through coefficients read off rows that are rounded."""
    scaled = n / n[-1]
    fit = np.polynomial.Polynomial.fit(scaled, coefficient, 2 if len(n) >= 6 else 1)
    return np.asarray(fit(scaled))


def _extended(n: FloatArray, coefficient: FloatArray, slope_share: float) -> FloatArray:
    """A coefficient over speed with one more value, at `BEYOND_ROWS` times the last speed."""
    earlier = float(np.interp(0.75 * n[-1], n, coefficient))
    slope = np.clip(np.log(coefficient[-1] / earlier) / np.log(1 / 0.75), 0.0, 0.3)
    return np.append(coefficient, coefficient[-1] * BEYOND_ROWS ** (slope * slope_share))
