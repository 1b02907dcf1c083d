"""A published open-circuit voltage, for cells whose datasheet shows no discharge curve.

What this is not: the curve of any other cell. It gives the usual shape of a nickel-rich cathode
against graphite, and no more.
"""

from __future__ import annotations

DEPTH = (
    0.0, 0.01, 0.02, 0.03, 0.05, 0.075, 0.1, 0.125, 0.15, 0.175, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45,
    0.5, 0.55, 0.6, 0.65, 0.7, 0.75, 0.8, 0.83, 0.86, 0.89, 0.91, 0.93, 0.95, 0.96, 0.97, 0.98,
    0.99, 0.995, 1.0,
)  # fmt: skip
"""Depth of discharge, 0 full (4.20 V) to 1 empty (2.50 V)."""

OPEN_CIRCUIT_V = (
    4.2, 4.1817, 4.1645, 4.1488, 4.1236, 4.1048, 4.0967, 4.0911, 4.0809, 4.064, 4.0421, 3.9943,
    3.9479, 3.8896, 3.8406, 3.7983, 3.7509, 3.7054, 3.667, 3.629, 3.5814, 3.5286, 3.4852, 3.4592,
    3.4157, 3.3307, 3.2614, 3.1933, 3.1094, 3.0504, 2.9712, 2.8625, 2.7114, 2.6146, 2.5,
)  # fmt: skip
"""Cell voltage at rest at each depth.

Source: electrode potentials and balance of Chen et al., J. Electrochem. Soc. 167, 080534 (2020), a
5 Ah 21700 cell, evaluated between 4.20 V and 2.50 V at 25 C.
"""
