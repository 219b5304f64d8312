"""Words of a study file that stand for numbers (bus, structure, finish).

``choices.toml`` has them with their sources; the user may override each of them in the study.
"""

from __future__ import annotations

from typing import NamedTuple

from mdo.data_files import toml_beside

ZERO_CELSIUS = 273.15


class Bus(NamedTuple):
    """Steady utilisation voltages [V] and allowed drop to the load [V] of a supply."""

    nominal: float
    low: float
    high: float
    allowed_drop: float
    provenance: str


def _kelvin(temperatures: dict[str, float]) -> dict[str, float]:
    """Temperatures [degC] by name in kelvin."""
    return {name: celsius + ZERO_CELSIUS for name, celsius in temperatures.items()}


_DATA = toml_beside(__file__)
BUSES = {name: Bus(**bus) for name, bus in _DATA["bus"].items()}
STRUCTURES, WIRE_RATINGS = _kelvin(_DATA["structure"]), _kelvin(_DATA["wire_rating"])
FINISHES: dict[str, float] = _DATA["finish"]

# Voltage of a battery over its discharge against nominal: judged.
BATTERY_LOW, BATTERY_HIGH = 0.75, 1.0

BOX = "box"  # section of a bench: as high everywhere as its envelope

# Judged mass per area of an outer panel as a share of the whole vehicle's mass per wing area:
# 2 kg/m2 on a 45 kg, 10 on a 1,600 kg and 14 on a 9.5 t vehicle.
PANEL_DENSITY_SHARE = 0.045
