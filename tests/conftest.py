"""Designs, tables and folders that many tests share. All invented."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, settings

from workbook.battery.cell import Cell
from workbook.battery.model import DischargeCurve
from workbook.battery.pack import Pack
from workbook.craft.craft_types import Multirotor
from workbook.craft.thrust_table import ThrustTable
from workbook.data.notebooks import copy_notebooks
from workbook.sizing.design import Design, Flight

# Drawn examples are the same on every run: a check must not fail by chance. The long checks draw more.
settings.register_profile(
    "change",
    max_examples=25,
    derandomize=True,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("all", settings.get_profile("change"), max_examples=100)
settings.load_profile("change")

PROJECT = Path(__file__).resolve().parent.parent
_COPY = tempfile.TemporaryDirectory(prefix="workbook-notebooks-")
NOTEBOOKS = Path(_COPY.name) / "notebooks"
"""The notebooks' folder of a checkout in which nobody has kept anything yet."""
DESIGNS = NOTEBOOKS / "designs"
copy_notebooks(PROJECT / "notebooks", NOTEBOOKS)


def straight_cell(
    *,
    capacity_ah: float = 5.0,
    empty_v: float = 3.0,
    span_v: float = 1.2,
    resistance_mohm: float = 30.0,
    mass_g: float = 70.0,
    continuous_a: float = 15.0,
    burst_a: float = 25.0,
) -> Cell:
    """A cell whose open-circuit voltage is straight and whose resistance is constant."""
    depth_of_discharge = np.linspace(0.0, 1.0, 51)
    rest_v = empty_v + span_v * (1 - depth_of_discharge)
    curves = tuple(
        DischargeCurve(
            a,
            tuple(capacity_ah * depth_of_discharge),
            tuple(rest_v - a * resistance_mohm / 1000),
        )
        for a in (1.0, 5.0, 10.0)
    )
    return Cell(
        name="Straight",
        cell_format="21700",
        kind="energy",
        mass_g=mass_g,
        diameter_mm=21.2,
        height_mm=70.2,
        rated_capacity_ah=capacity_ah,
        typical_capacity_ah=capacity_ah,
        nominal_v=3.6,
        charge_v=empty_v + span_v,
        cutoff_v=2.7,
        continuous_a=continuous_a,
        burst_a=burst_a,
        burst_s=10.0,
        standard_charge_a=1.5,
        max_charge_a=3.5,
        resistance_mohm=resistance_mohm,
        curves=curves,
    )


def power_law_table(
    watts_at_1000_gf: float = 110.0,
    exponent: float = 1.5,
    voltage_v: float = 22.2,
    lowest_gf: float = 20.0,
    highest_gf: float = 8000.0,
) -> ThrustTable:
    """A table whose power is a power law of thrust, as momentum theory has it (exponent 1.5)."""
    thrust = np.geomspace(lowest_gf, highest_gf, 30)
    power = watts_at_1000_gf * (thrust / 1000.0) ** exponent
    volts = np.full_like(thrust, voltage_v)
    throttle = 100.0 * (thrust / highest_gf) ** (1 / 1.8)
    return ThrustTable(
        motor="invented motor",
        propeller="invented",
        thrust_gf=thrust,
        current_a=power / volts,
        voltage_v=volts,
        power_w=power,
        throttle_pct=throttle,
        speed_rpm=np.full_like(thrust, np.nan),
        row=tuple(range(2, 32)),
        source="made in a test",
    )


def six_rotors(**changes: Any) -> Design[Multirotor]:
    """A six-rotor craft with 6S3P of a straight cell; figures changed by name."""
    craft = Multirotor(
        name="six",
        rotors=6,
        mass_without_pack_g=2100.0,
        payload_g=350.0,
        table=power_law_table(),
        avionics_w=14.0,
        flight_factor=1.1,
    )
    pack = Pack(straight_cell(), 6, 3, 10.0, 75.0, 8.0)
    return Design("six", craft, pack, Flight(3.0, 10.0, 1.5)).changed(**changes)


def lossless(**changes: Any) -> Design[Multirotor]:
    """The same without resistance and electronics, as it flies on the bench, so that minutes have a closed form."""
    plain = {"joint_mohm": 0.0, "avionics_w": 0.0, "flight_factor": 1.0}
    return six_rotors(cell=straight_cell(resistance_mohm=1e-4), **plain | changes)


@pytest.fixture
def six_rotor() -> Design:
    """Six rotors as they are."""
    return six_rotors()


def edited(path: Path, old: str, new: str) -> Path:
    """A file in which one text, which must be there, is replaced by another."""
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")
    return path


@pytest.fixture
def club(tmp_path: Path) -> Path:
    """A copy of the demo designs and tables, to be changed."""
    for name in ("designs", "tables"):
        shutil.copytree(NOTEBOOKS / name, tmp_path / name)
    return tmp_path


@pytest.fixture
def folder(club: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The notebooks' folder of a learner who has kept nothing yet, as the working folder."""
    shutil.copy(NOTEBOOKS / "club.toml", club)
    monkeypatch.chdir(club)
    return club


@pytest.fixture(scope="session", autouse=True)
def _widgets_without_a_kernel() -> None:
    """A test that loads ipykernel leaves widgets that tell nothing: here they tell as they do with no kernel."""
    import comm

    comm.create_comm, comm.get_comm_manager = comm._create_comm, comm._get_comm_manager
