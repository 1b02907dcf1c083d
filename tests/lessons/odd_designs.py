"""Designs that a file may state and hardly anybody builds, and the text of all that a page shows of them."""

from __future__ import annotations

import contextlib
import random
import re
import shutil
import tomllib
from collections.abc import Callable, Iterator
from html import unescape
from pathlib import Path
from typing import Any

from tests.conftest import NOTEBOOKS
from workbook.errors import InputError
from workbook.files.cell_file import catalogue, cell_from_data
from workbook.lessons.learner import FILES
from workbook.widgets.controls import NumberControl

PACKS = (
    (1, 1),
    (1, 6),
    (2, 1),
    (3, 2),
    (4, 4),
    (6, 1),
    (6, 3),
    (8, 2),
    (12, 2),
    (12, 10),
    (14, 20),
    (1, 24),
    (24, 1),
    (24, 24),
)
TWO_ROWS = "Thrust (g),Current (A),Voltage (V)\n{low},{low_a},22.2\n{high},{high_a},22.2\n"
UNSHOWN = re.compile(r"\b(nan|NaN|inf|None(?! of)|Traceback|internal fault)\b")
"""What no page shows."""


_USUAL = "wing_area_m2 = 0.41\nspan_m = 1.9\n"
_POLAR = "zero_lift_drag = 0.034\noswald_efficiency = 0.8\n"
DRAGS = (
    (f"{_USUAL}glide_ratio = 9.0\nglide_m_s = 11.0\nglide_mass_g = 1800.0\n", 0.58),
    (
        f"{_USUAL}cruise_power_w = 75.0\ncruise_power_m_s = 13.0\ncruise_power_mass_g = 1800.0\n",
        0.58,
    ),
    (f"{_USUAL}{_POLAR}", 0.01),
    (f"wing_area_m2 = 0.05\nspan_m = 1.0\n{_POLAR}", 0.9),
    (f"wing_area_m2 = 3.0\nspan_m = 5.0\n{_POLAR}", 0.58),
)
"""Wing and drag as a file tells them, and the propeller's efficiency beside it."""


def _maybe(chance: random.Random, *lines: str) -> str:
    """Each of some lines of a file, or not."""
    return "".join(f"{line}\n" for line in lines if chance.random() < 0.4)


def _flight(chance: random.Random, of_its_kind: str) -> str:
    return (
        f"[flight]\nlanding_v = {chance.choice((2.5, 2.9, 3.1, 3.5, 3.9))}\n"
        f"reserve_pct = {chance.choice((0.0, 10.0, 20.0, 50.0, 90.0))}\n{of_its_kind}"
        + _maybe(
            chance,
            f"wanted_min = {chance.choice((0.1, 10.0, 60.0, 1000.0))}",
            f"continuous_share_pct = {chance.choice((1.0, 50.0, 100.0))}",
            f"field_height_m = {chance.choice((-500.0, 2000.0, 9000.0))}",
            f"air_temperature_c = {chance.choice((-40.0, -10.0, 55.0))}",
            f"pack_temperature_c = {chance.choice((-40.0, 5.0, 60.0))}",
            f"pack_cycles = {chance.choice((100.0, 2000.0))}",
            f"pack_years = {chance.choice((1.0, 20.0))}",
            f'pack_airflow = "{chance.choice(("wrapped", "still", "forced"))}"',
        )
    )


ODD_CELL = "Odd <i>cell</i>"


def odd_cell(chance: random.Random) -> str:
    """A cell that a file may state: a pouch of any size or a cylinder, with no curve, one or some, warm and cold."""
    rated_ah, charge_v = chance.choice((0.05, 0.9, 3.0, 40.0)), chance.choice((3.65, 4.2, 4.25))
    kind, size = "lithium-polymer", ("pouch", 20.0 * rated_ah, 0.0, 0.0)
    if chance.random() < 0.5:
        rated_ah, kind = chance.choice((1.5, 2.5, 3.5)), chance.choice(("energy", "power"))
        size = ("18650", chance.choice((40.0, 48.0)), 18.3, 65.2)
    nominal_v, cutoff_v = charge_v - chance.choice((0.1, 0.6)), chance.choice((0.5, 2.5, 3.0, 3.3))
    continuous_a = rated_ah * chance.choice((0.1, 2.0, 10.0, 60.0))
    burst_a, charge_a = (
        continuous_a * chance.choice((1.0, 4.0)),
        rated_ah * chance.choice((0.05, 1.0)),
    )
    low_c, high_c = chance.choice(((-60.0, 20.0), (-20.0, 60.0), (30.0, 31.0)))
    curves = ""
    for share, celsius in chance.choice(((), ((0.2, 25),), ((0.2, 25), (1.0, 25), (0.2, -20)))):
        points = chance.choice((3, 17))
        charge = [round(rated_ah * n / (points - 1), 5) for n in range(points)]
        full_v, sag_v = (
            charge_v - 0.3 * share - (0.1 if celsius < 0 else 0.0),
            charge_v - cutoff_v - 0.01,
        )
        volts = [round(full_v - (sag_v - 0.4) * (n / (points - 1)) ** 3, 4) for n in range(points)]
        curves += f"\n[[curves]]\ncurrent_a = {share * continuous_a}\ntemperature_c = {celsius}.0\n"
        curves += f"capacity_ah = {charge}\nvoltage_v = {volts}\n"
    return (
        f'format = "workbook cell 1"\nname = "{ODD_CELL}"\ncell_format = "{size[0]}"\nkind = "{kind}"\n'
        f"mass_g = {size[1]}\ndiameter_mm = {size[2]}\nheight_mm = {size[3]}\n"
        f"rated_capacity_ah = {rated_ah}\ntypical_capacity_ah = {rated_ah * chance.choice((1.0, 1.04))}\n"
        f"nominal_v = {nominal_v}\ncharge_v = {charge_v}\ncutoff_v = {cutoff_v}\n"
        f"continuous_a = {continuous_a}\nburst_a = {burst_a}\nburst_s = {chance.choice((0.5, 10.0, 300.0))}\n"
        f"standard_charge_a = {charge_a}\nmax_charge_a = {charge_a * chance.choice((1.0, 8.0))}\n"
        f"resistance_mohm = {chance.choice((1.0, 12.0, 45.0, 480.0))}\n"
        f"min_charge_temperature_c = 0.0\nmax_charge_temperature_c = 45.0\n"
        f"min_temperature_c = {low_c}\nmax_temperature_c = {high_c}\n"
        + _maybe(chance, "price = 0.0")
        + curves
    )


def _pack(chance: random.Random) -> str:
    series, parallel = chance.choice(PACKS)
    cell = chance.choice(sorted(catalogue()))
    if chance.random() < 0.5:
        cell = f'{ODD_CELL}"\ncell_folder = "../cells'
    return (
        f'[pack]\ncell = "{cell}"\nseries = {series}\nparallel = {parallel}\n'
        f"overhead_pct = {chance.choice((0.0, 10.0, 100.0))}\n"
        f"extra_mass_g = {chance.choice((0.0, 75.0, 900.0))}\n"
        f"joint_mohm = {chance.choice((0.0, 8.0, 500.0))}\n"
    )


def _mission(chance: random.Random, wing: bool) -> str:
    speed = "" if wing else "airspeed_m_s = 8.0\n"
    kinds = {
        "rest": "duration_s = 60.0\n",
        "launch": "duration_s = 5.0\n",
        "climb": "height_m = 40.0\nclimb_m_s = 2.0\n",
        "descent": "height_m = 40.0\nsink_m_s = 1.0\n",
        "cruise": f"distance_m = 900.0\n{speed}",
        "loiter": f"duration_s = 90.0\n{speed}",
        "legs": f"length_m = 200.0\nwidth_m = 90.0\nspacing_m = 30.0\nwind_m_s = 3.0\n{speed}",
        **({} if wing else {"hover": "duration_s = 40.0\ngust_factor = 1.5\n"}),
    }
    phases = chance.choices(sorted(kinds), k=chance.choice((0, 0, 1, 4, 12)))
    return "".join(f'[[mission]]\nkind = "{kind}"\n{kinds[kind]}' for kind in phases)


def _today(chance: random.Random) -> str:
    if chance.random() < 0.6:
        return ""
    return (
        f'[today]\nname = "old <b>pack</b>"\nseries = {chance.choice((1, 6, 14))}\n'
        f"capacity_ah = {chance.choice((0.05, 5.0, 150.0))}\nmass_g = {chance.choice((20.0, 900.0, 20000.0))}\n"
        f"resistance_mohm = {chance.choice((0.1, 3.0, 200.0))}\ncontinuous_c = {chance.choice((0.5, 20.0, 200.0))}\n"
        f"burst_c = 400.0\nlanding_v = {chance.choice((2.5, 3.5, 4.2))}\nreserve_pct = 20.0\n"
    )


def _bench(chance: random.Random) -> str:
    bay = (
        f"bay_length_mm = {chance.choice((1.0, 190.0))}\nbay_width_mm = 85.0\nbay_height_mm = 80.0"
    )
    return "[bench]\n" + _maybe(
        chance, bay, "layers = 1", "lead_mm = 5000.0", "charger_max_a = 0.5\ncharger_max_w = 20.0"
    )


def _head(name: str) -> str:
    return f'format = "lithium pack design 1"\nname = "{name}"\n'


def _parts(chance: random.Random) -> str:
    return _maybe(
        chance,
        f"max_all_up_mass_g = {chance.choice((500.0, 3000.0, 25000.0))}",
        f"controller_max_v = {chance.choice((4.0, 26.0, 60.0))}",
        f"controller_max_a = {chance.choice((0.5, 30.0))}",
        f"motor_max_a = {chance.choice((0.5, 30.0))}",
        f"connector_max_a = {chance.choice((1.0, 90.0))}",
    )


def odd_multirotor(chance: random.Random) -> str:
    """A multirotor of 3 to 12 rotors, coaxial or not, from a gram of payload to one that cannot fly."""
    table, propeller = chance.choice(
        (("survey_motor", "15x5"), ("light_motor", "10x4.5"), ("two_rows", ""), ("two_rows", ""))
    )
    named = f'propeller = "{propeller}"\n' if propeller else ""
    named += "table_voltage_v = 14.8\n" if table == "light_motor" else ""
    craft = (
        f'[craft]\nkind = "multirotor"\nrotors = {chance.choice((3, 4, 6, 8, 12))}\n'
        f"mass_without_pack_g = {chance.choice((200.0, 1500.0, 4000.0, 60000.0))}\n"
        f"payload_g = {chance.choice((0.0, 0.0, 350.0, 8000.0))}\n"
        f'thrust_table = "../tables/{table}.csv"\n{named}'
        f"avionics_w = {chance.choice((0.0, 14.0, 400.0))}\nflight_factor = {chance.choice((1.0, 1.1, 1.5, 2.0))}\n"
    )
    reserve = f"thrust_reserve = {chance.choice((1.0, 1.3, 2.0, 5.0))}\n"
    parts = (
        _parts(chance),
        _pack(chance),
        _flight(chance, reserve),
        _today(chance),
        _bench(chance),
    )
    return _head("odd rotors") + craft + "".join(parts) + _mission(chance, wing=False)


def odd_wing(chance: random.Random) -> str:
    """A fixed wing of 0.3 to 20 kg; its drag stated in one of three ways, its launch in one of two."""
    mass = chance.choice((300.0, 1180.0, 5000.0, 20000.0))
    drag, drive = chance.choice(DRAGS)
    launch = chance.choice(
        ("launch_w_per_kg = 180.0\n", 'thrust_table = "../tables/wing_motor.csv"\n')
    )
    craft = (
        f'[craft]\nkind = "fixed wing"\nmotors = {chance.choice((1, 2, 12))}\nmass_without_pack_g = {mass}\n'
        f"payload_g = {chance.choice((0.0, 190.0))}\navionics_w = {chance.choice((0.0, 7.0))}\n"
        f"largest_lift = 1.15\n{drag}{launch}propeller_efficiency = {drive}\nmotor_efficiency = 0.78\n"
    )
    speed = chance.choice(("13.0", "0.5", "90.0", '"best range"', '"best endurance"'))
    asked = f"cruise_m_s = {speed}\n" + _maybe(chance, "climb_m_s = 3.0", "wanted_km = 60.0")
    parts = (_parts(chance), _pack(chance), _flight(chance, asked), _today(chance), _bench(chance))
    return _head("odd wing") + craft + "".join(parts) + _mission(chance, wing=True)


def odd_club(chance: random.Random) -> str:
    """Rules that a club may write."""
    return (
        'format = "workbook club 1"\nclub = "Odd"\n'
        f"landing_v = {chance.choice((2.5, 3.1, 3.9, 3.99))}\nreserve_pct = {chance.choice((0.0, 15.0, 90.0))}\n"
        f"continuous_share_pct = {chance.choice((0.1, 80.0, 100.0))}\n"
        f"thrust_reserve = {chance.choice((1.0, 1.5, 5.0))}\ncharge_c_rate = {chance.choice((0.01, 0.5, 5.0))}\n"
    )


def _readable(chance: random.Random, cell: Callable[[random.Random], str]) -> str:
    """The first of some cells that a file may state."""
    while True:
        text = cell(chance)
        with contextlib.suppress(InputError):
            cell_from_data(tomllib.loads(text), "odd.toml")
            return text


def odd_folder(folder: Path, seed: int) -> None:
    """A learner's folder with odd designs of their own and an odd club."""
    chance = random.Random(seed)
    for name in ("designs", "tables"):
        shutil.copytree(NOTEBOOKS / name, folder / name)
    low = chance.choice((50, 300))
    high = low * chance.choice((2, 8))
    rows = TWO_ROWS.format(low=low, low_a=low / 200, high=high, high_a=high / 150)
    (folder / "tables" / "two_rows.csv").write_text(rows, "utf-8")
    (folder / "cells").mkdir()
    (folder / "cells" / "odd.toml").write_text(_readable(chance, odd_cell), "utf-8")
    for craft_type, text in (
        ("multirotor", odd_multirotor(chance)),
        ("fixed wing", odd_wing(chance)),
    ):
        (folder / "designs" / FILES[craft_type][0]).write_text(text, "utf-8")
    club = (NOTEBOOKS / "club.toml").read_text("utf-8")
    (folder / "club.toml").write_text(club if chance.random() < 0.5 else odd_club(chance), "utf-8")


# what a page shows --------------------------------------------------------------------------------


def every_part(view: Any) -> Iterator[Any]:
    """Every widget of a page."""
    yield view
    for part in getattr(view, "children", ()):
        yield from every_part(part)


def texts_of(view: Any) -> Iterator[str]:
    """Every text that a page shows."""
    for part in every_part(view):
        for trait in ("value", "description", "placeholder", "finding_text"):
            text = getattr(part, trait, "")
            if isinstance(text, str):
                yield unescape(re.sub(r"<style.*?</style>|<[^>]*>", " ", text, flags=re.S))


def unshown(view: Any) -> list[str]:
    """What stands on a page and should not, each with the words around it."""
    return [
        text[max(0, found.start() - 60) : found.end() + 40]
        for text in texts_of(view)
        for found in UNSHOWN.finditer(text)
    ]


def moved(view: Any) -> Iterator[str]:
    """Move every control of a page to either end of its range, one after another, and back; says which."""
    for name, control in view.inputs.items():
        if not isinstance(control, NumberControl):
            continue
        before = control.value
        for end in (control.slider.min, control.slider.max):
            control.value = end
            yield f"{name} = {end:g}"
        control.value = before
