"""A cell under constant power: voltage, current and time until an end is reached."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.battery.model import CellModel
from workbook.numbers import FloatArray, Number


def voltage_under_power(
    open_circuit_v: Number, resistance_mohm: Number, power_w: Number
) -> FloatArray:
    """Terminal voltage at constant power: V = (U + sqrt(U^2 - 4 P R)) / 2; NaN when U^2 < 4 P R."""
    u = np.asarray(open_circuit_v, dtype=float)
    inside = u**2 - 4.0 * np.asarray(power_w) * np.asarray(resistance_mohm) / 1000.0
    with np.errstate(invalid="ignore"):
        return np.asarray(0.5 * (u + np.sqrt(inside)))


@dataclass(frozen=True)
class PowerRun:
    """A constant-power discharge of one cell from full, per design (arrays of one shape).

    Attributes:
        time_s, charge_ah, energy_wh: delivered until the end.
        end_depth: depth of discharge reached.
        end_v, end_a, end_open_circuit_v: terminal voltage, current and open-circuit voltage at the end.
        start_v, start_a: at the beginning.
        landed: True where the landing voltage came first, False where the depth limit did.
    """

    time_s: FloatArray
    charge_ah: FloatArray
    energy_wh: FloatArray
    end_depth: FloatArray
    end_v: FloatArray
    end_a: FloatArray
    end_open_circuit_v: FloatArray
    start_v: FloatArray
    start_a: FloatArray
    landed: FloatArray


def constant_power(
    model: CellModel,
    power_w: Number,
    landing_v: Number,
    last_depth: Number = 1.0,
    *,
    extra_mohm: Number = 0.0,
    resistance_factor: Number = 1.0,
    capacity_factor: Number = 1.0,
) -> PowerRun:
    """Discharge at constant power per cell until `landing_v` under load or `last_depth`.

    The end is exact: where U - P R / V_land - V_land, straight between nodes, crosses zero.
    """
    power, v_land, depth_cap, extra, r_factor, q_factor = (
        a.ravel()[:, None]
        for a in np.broadcast_arrays(
            *(
                np.asarray(a, dtype=float)
                for a in (
                    power_w,
                    landing_v,
                    last_depth,
                    extra_mohm,
                    resistance_factor,
                    capacity_factor,
                )
            )
        )
    )
    shape = np.broadcast_shapes(
        *(
            np.shape(a)
            for a in (
                power_w,
                landing_v,
                last_depth,
                extra_mohm,
                resistance_factor,
                capacity_factor,
            )
        )
    )
    z = model.depth[None, :]
    u = model.open_circuit_v[None, :]
    r = model.resistance_mohm[None, :] * r_factor + extra
    spare = u - power * r / 1000.0 / v_land - v_land
    below = spare < 0
    k = np.where(below.any(axis=1), below.argmax(axis=1), z.shape[1] - 1)
    k = np.maximum(k, 1)
    rows = np.arange(len(power))
    s0, s1 = spare[rows, k - 1], spare[rows, k]
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.where(s1 < 0, np.clip(s0 / (s0 - s1), 0.0, 1.0), 1.0)
    h = model.depth[1] - model.depth[0]
    z_land = model.depth[k - 1] + part * h
    z_land = np.where(below[:, 0], 0.0, z_land)
    cap = depth_cap[:, 0]
    z_end = np.minimum(z_land, cap)
    landed = below.any(axis=1) & (z_land <= cap)
    u_end = np.interp(z_end, model.depth, model.open_circuit_v)
    r_end = np.interp(z_end, model.depth, model.resistance_mohm) * r_factor[:, 0] + extra[:, 0]
    p = power[:, 0]
    v_end = voltage_under_power(u_end, r_end, p)
    # integral of V dz from 0 to z_end by the trapezoid rule, the last part cut at z_end
    zz = np.minimum(z, z_end[:, None])
    vv = np.where(z <= z_end[:, None], voltage_under_power(u, r, power), v_end[:, None])
    area = np.sum(0.5 * (vv[:, 1:] + vv[:, :-1]) * np.diff(zz, axis=1), axis=1)
    charge = model.capacity_ah * q_factor[:, 0] * z_end
    energy = model.capacity_ah * q_factor[:, 0] * area
    v_start = vv[:, 0]
    out = (
        3600.0 * energy / p,
        charge,
        energy,
        z_end,
        v_end,
        p / v_end,
        u_end,
        v_start,
        p / v_start,
        landed,
    )
    return PowerRun(*(np.reshape(a, shape)[()] for a in out))
