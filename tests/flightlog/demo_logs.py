"""The demo logs beside the notebooks: invented flights of a wetland bird census club, with faults put in.

`python -m tests.flightlog.demo_logs` writes them anew, the same each time. What is true of each flight is written
here, so that tests can hold against it what is read out of the logs. The pack is stepped by itself: a voltage at
rest, a resistance of which a part comes late (one RC branch), a load in watts.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from workbook.battery.derating import resistance_at_temperature
from workbook.data.notebooks import CHECKOUT_NOTEBOOKS
from workbook.files.design_file import read_design
from workbook.flightlog.book import OPENING, Event
from workbook.numbers import FloatArray

LOGS = CHECKOUT_NOTEBOOKS / "logs"
INVENTED = (
    "Invented: {} of a wetland bird census club, made by a script, its faults put in on purpose."
)


@dataclass(frozen=True)
class Truth:
    """What a flight really was.

    Attributes:
        design: of which craft.
        steady_w: power of the pack in steady flight.
        resistance_factor: of the cells, over those of the plan at 25 C.
        capacity_factor: of the pack.
        idle_w: power on the ground.
        late_share, late_s: part of the resistance that comes late, and its time constant.
    """

    design: str
    steady_w: float
    resistance_factor: float
    capacity_factor: float
    idle_w: float
    late_share: float = 0.3
    late_s: float = 12.0


SIX_WARM = Truth("survey_six", 455.0, 1.30, 0.97, 14.0)
SIX_COLD = Truth("survey_six", 458.0, 2.15, 0.94, 14.0)
SIX_BUILT = Truth("survey_six_built", 525.0, 1.27, 0.98, 14.0)
WING = Truth("survey_wing", 66.0, 1.15, 0.98, 6.0)
"""The plans say 424 W, 490 W of the built pack and 60 W, at a resistance and a charge of 1; the flights take more."""

Leg = tuple[str, float, float, float, float]
"""What is flown, seconds, power over the steady one, rate of climb, speed."""

SIX_LEGS: tuple[Leg, ...] = (
    ("ground", 25.0, 0.0, 0.0, 0.0),
    ("climb", 24.0, 1.22, 1.8, 0.5),
    *(
        leg
        for _ in range(7)
        for leg in (("cruise", 75.0, 0.96, 0.0, 7.0), ("hover", 110.0, 1.0, 0.0, 0.2))
    ),
    ("descent", 36.0, 0.86, -1.2, 0.5),
    ("ground", 40.0, 0.0, 0.0, 0.0),
)
LONGER_LEGS = (*SIX_LEGS[:2], *SIX_LEGS[2:4], *SIX_LEGS[2:])
"""One round more."""
WING_LEGS: tuple[Leg, ...] = (
    ("ground", 30.0, 0.0, 0.0, 0.0),
    ("climb", 40.0, 2.6, 2.0, 14.0),
    *(
        leg
        for _ in range(5)
        for leg in (("cruise", 420.0, 1.0, 0.0, 16.0), ("climb", 14.0, 2.1, 1.5, 14.5))
    ),
    ("descent", 70.0, 0.45, -1.4, 15.0),
    ("ground", 35.0, 0.0, 0.0, 0.0),
)


@dataclass(frozen=True, eq=False)
class Flown:
    """A flight as it was, before any sensor saw it."""

    time_s: FloatArray
    voltage_v: FloatArray
    current_a: FloatArray
    height_m: FloatArray
    speed_m_s: FloatArray
    temperature_c: FloatArray

    @property
    def charge_ah(self) -> FloatArray:
        """Taken from the pack."""
        steps = np.diff(self.time_s, prepend=self.time_s[0])
        return np.cumsum(self.current_a * steps) / 3600.0


def fly(truth: Truth, legs: Sequence[Leg], step_s: float, start_c: float, seed: int) -> Flown:
    """Fly the legs in uneven air."""
    draw = np.random.default_rng(seed)
    pack = read_design(CHECKOUT_NOTEBOOKS / "designs" / f"{truth.design}.toml").design.pack
    model, series, parallel = pack.cell.model, float(pack.series), float(pack.parallel)
    late_v = depth = gust = height = warmth = 0.0
    rows = []
    count = 0
    for name, lasting_s, share, climb_m_s, speed in legs:
        for _ in range(round(lasting_s / step_s)):
            gust += -gust * step_s / 3.0 + 0.035 * np.sqrt(2.0 * step_s / 3.0) * draw.normal()
            air = name != "ground"
            watts = truth.idle_w + air * (truth.steady_w * share * (1.0 + gust) - truth.idle_w)
            cell_w = watts / (series * parallel)
            own = float(model.resistance_at(depth)) * truth.resistance_factor / 1000.0
            joints = float(pack.joint_mohm_per_cell) / 1000.0
            rest = float(model.open_circuit_at(depth)) - late_v
            at_once = own * (1.0 - truth.late_share) + joints
            volts = 0.5 * (rest + np.sqrt(rest * rest - 4.0 * cell_w * at_once))
            amps = cell_w / volts
            rows.append((volts * series, amps * parallel, height, speed * air, start_c + warmth))
            late_v += (amps * own * truth.late_share - late_v) * (
                1.0 - np.exp(-step_s / truth.late_s)
            )
            depth += amps * step_s / 3600.0 / (float(model.capacity_ah) * truth.capacity_factor)
            warmth += (amps * amps * (own + joints) - warmth * 0.03) * step_s / 70.0
            height += climb_m_s * step_s + 0.02 * draw.normal()
            count += 1
    return Flown(step_s * np.arange(count), *np.array(rows).T)


def _text(head: str, rows: Iterable[Sequence[str]], separator: str, note: str) -> str:
    return "\n".join((f"# {note}", head, *(separator.join(row) for row in rows))) + "\n"


def _six_log(flown: Flown, seed: int, lost_s: tuple[float, float], wild: tuple[int, int]) -> str:
    """What the six-rotor's logger writes of a flight, twice a second; some seconds are missing, two readings wild."""
    draw = np.random.default_rng(seed)
    count = len(flown.time_s)
    volts = flown.voltage_v + draw.normal(0.0, 0.015, count)
    amps = flown.current_a + draw.normal(0.0, 0.15, count)
    volts[wild[0]], amps[wild[1]] = 0.0, 163.8
    kept = (flown.time_s < lost_s[0]) | (flown.time_s > lost_s[1])
    speed = np.maximum(flown.speed_m_s + draw.normal(0.0, 0.15, count), 0.0)
    rows = (
        (
            f"{flown.time_s[k]:.1f}", f"{volts[k]:.2f}", f"{amps[k]:.1f}",
            f"{1000.0 * flown.charge_ah[k]:.0f}", f"{max(flown.height_m[k], 0.0):.1f}",
            f"{speed[k]:.1f}", f"{flown.temperature_c[k]:.0f}",
        )
        for k in np.flatnonzero(kept)
    )  # fmt: skip
    head = "time (s),voltage (V),current (A),charge (mAh),height (m),speed (m/s),temperature (C)"
    return _text(head, rows, ",", INVENTED.format("a flight of the six-rotor"))


def warm_log() -> str:
    """The six-rotor on a mild day."""
    return _six_log(fly(SIX_WARM, SIX_LEGS, 0.5, 24.0, 14), 141, (611.0, 618.0), (700, 1500))


def built_log() -> str:
    """The same craft with the pack that was built, on a mild day too."""
    return _six_log(fly(SIX_BUILT, LONGER_LEGS, 0.5, 21.0, 19), 191, (372.0, 376.0), (1210, 2044))


def cold_log() -> str:
    """The same craft on a cold morning: clock times, decimal commas, a current sensor that reads 0.6 A too much."""
    flown = fly(SIX_COLD, SIX_LEGS, 1.0, 4.0, 15)
    draw = np.random.default_rng(151)
    count = len(flown.time_s)
    volts = flown.voltage_v + draw.normal(0.0, 0.02, count)
    amps = flown.current_a + 0.6 + draw.normal(0.0, 0.1, count)
    height = flown.height_m.copy()
    for held in (volts, amps, height):
        held[900:925] = held[900]  # the link was lost, and the last values held
    start = datetime.datetime(2026, 1, 17, 7, 41, 5)
    rows = (
        tuple(
            text.replace(".", ",")
            for text in (
                f"{start + datetime.timedelta(seconds=float(flown.time_s[k])):%H:%M:%S}",
                f"{volts[k]:.2f}", f"{amps[k]:.1f}", f"{height[k]:.1f}",
            )
        )
        for k in range(count)
    )  # fmt: skip
    head = "Time;VBat(V);Curr(A);Alt(m)"
    return _text(head, rows, ";", INVENTED.format("a cold flight of the six-rotor"))


def wing_log() -> str:
    """The fixed wing, one row a second, milliseconds since it was switched on."""
    flown = fly(WING, WING_LEGS, 1.0, 20.0, 16)
    draw = np.random.default_rng(161)
    count = len(flown.time_s)
    volts = 1000.0 * (flown.voltage_v + draw.normal(0.0, 0.01, count))
    amps = flown.current_a + draw.normal(0.0, 0.05, count)
    rows = (
        (
            f"{1000.0 * flown.time_s[k] + 5230.0:.0f}", f"{volts[k]:.0f}", f"{amps[k]:.2f}",
            f"{flown.height_m[k]:.1f}", f"{3.6 * flown.speed_m_s[k]:.0f}",
        )
        for k in range(count)
    )  # fmt: skip
    head = "time_ms\tbattery_mV\tcurrent_A\taltitude_m\tspeed_kmh"
    return _text(head, rows, "\t", INVENTED.format("a flight of the fixed wing"))


def proof_log() -> str:
    """The proof discharge of the six-rotor's pack, with a pause in the middle; group 5 is the weakest."""
    pause: tuple[Leg, ...] = (
        ("rest", 60.0, 0.0, 0.0, 0.0), ("load", 960.0, 1.0, 0.0, 0.0), ("rest", 60.0, 0.0, 0.0, 0.0),
        ("load", 1050.0, 1.0, 0.0, 0.0), ("rest", 60.0, 0.0, 0.0, 0.0),
    )  # fmt: skip
    steady = tuple(("ground" if name == "rest" else name, *leg) for name, *leg in pause)
    truth = Truth("survey_six", 424.0, 1.05, 0.99, 0.0)
    flown = fly(truth, steady, 2.0, 21.0, 17)  # type: ignore[arg-type]
    draw = np.random.default_rng(171)
    used = flown.charge_ah / flown.charge_ah[-1]
    off_v = np.array([0.004, -0.002, 0.006, 0.001, -0.011, 0.002])
    rows = []
    for k in range(len(flown.time_s)):
        cells = (
            flown.voltage_v[k] / 6.0 + off_v * (0.4 + 3.0 * used[k] ** 4) + draw.normal(0, 1e-3, 6)
        )
        rows.append(
            (f"{flown.time_s[k]:.0f}", f"{cells.sum():.2f}", f"{flown.current_a[k]:.2f}",
             *(f"{v:.3f}" for v in cells), f"{flown.temperature_c[k]:.0f}")
        )  # fmt: skip
    head = (
        "time s,pack V,current A," + ",".join(f"cell {n} V" for n in range(1, 7)) + ",temperature C"
    )
    return _text(head, rows, ",", INVENTED.format("a proof discharge"))


BOOK_MOHM, BOOK_GROWTH = 54.0, 0.0014
"""Of the pack in the book at 25 C when new, and its share more with each full cycle."""


def pack_book() -> str:
    """The book of that pack over its first two years."""
    draw = np.random.default_rng(18)
    day = datetime.date(2024, 9, 7)
    built = {"series": 6.0, "parallel": 3.0, "rated_ah": 13.71, "mass_g": 1296.0, "price": 101.18}
    first = {"charge_ah": 10.9, "resistance_mohm": 47.0, "spread_full_mv": 9.0, "spread_empty_mv": 31.0,
             "temperature_c": 32.0, "mass_g": 1296.0}  # fmt: skip
    entries: list[tuple[datetime.date, str, dict[str, float], str]] = [
        (day, "built", built, "Census six-rotor, invented for the lesson"),
        (
            day + datetime.timedelta(days=3),
            "tested",
            first,
            "passes every line of the acceptance table",
        ),
    ]
    cycles, day = 0.8, datetime.date(2024, 9, 21)
    for flight in range(1, 111):
        charge_ah = round(float(draw.normal(9.9, 0.5)), 2)
        cycles += charge_ah / 13.71
        figures = {
            "time_min": round(charge_ah * 2.62 + float(draw.normal(0, 0.5)), 1),
            "charge_ah": charge_ah,
        }
        if flight % 5 == 0:
            felt_c = round(float(draw.normal(31.0, 4.0)))
            mohm = BOOK_MOHM * (1 + BOOK_GROWTH * cycles) * float(resistance_at_temperature(felt_c))
            figures |= {
                "resistance_mohm": round(mohm * float(draw.normal(1.0, 0.012)), 1),
                "temperature_c": felt_c,
            }
            figures["spread_empty_mv"] = round(float(30 + 0.16 * cycles + draw.normal(0, 3)))
        entries.append((day, "flown", figures, ""))
        day += datetime.timedelta(days=int(draw.integers(2, 8)))
        if flight in (22, 23, 71):
            entries.append((day, "stored", {"rest_v": 22.3, "low_cell_v": 3.71}, ""))
            day += datetime.timedelta(days=28)
    entries.append((day, "stored", {"rest_v": 22.2, "low_cell_v": 3.69}, "box in the hide"))
    lines = [
        Event(when, kind, figures, words, f"demo{n:04d}").line
        for n, (when, kind, figures, words) in enumerate(entries)
    ]
    return OPENING + f"# {INVENTED.format('the book of a pack')}\n" + "\n".join(lines) + "\n"


FILES: dict[str, Callable[[], str]] = {
    "six_warm.csv": warm_log,
    "six_cold.csv": cold_log,
    "six_built.csv": built_log,
    "wing.csv": wing_log,
    "six_proof.csv": proof_log,
    "six_book.txt": pack_book,
}


def write(folder: Path = LOGS) -> None:
    """Write every file."""
    folder.mkdir(exist_ok=True)
    for name, make in FILES.items():
        (folder / name).write_text(make(), "utf-8")


if __name__ == "__main__":
    write()
