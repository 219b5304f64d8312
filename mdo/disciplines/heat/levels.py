"""Discipline entries `heating` and `cooling` by fidelity.

The two stages of :mod:`mdo.disciplines.heat.balance` belong together: one fidelity names both.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from mdo.disciplines.heat.balance import Cooling, Heating, thermal_cooling, thermal_heating

__all__ = [
    "THERMAL_LEVELS",
    "Cooling",
    "Heating",
    "ThermalLevel",
    "thermal_cooling",
    "thermal_heating",
]


class ThermalLevel(NamedTuple):
    """The two stages of one fidelity."""

    heating: Callable[..., Heating]
    cooling: Callable[..., Cooling]


THERMAL_LEVELS = {"balance": ThermalLevel(heating=thermal_heating, cooling=thermal_cooling)}
