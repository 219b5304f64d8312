"""What a card may hold: its fields and the units read.

Cards use few units, so they are listed here (with the names people write) rather than taken from
a units library; the table is the whole of what a card may say. SI unit and range of a field are
those of its quantity.
"""

from __future__ import annotations

from typing import NamedTuple

from mdo.disciplines.records import Alloy


class Unit(NamedTuple):
    """Conversion of a number to SI: ``number * factor + offset``."""

    factor: float
    offset: float = 0.0


# By SI unit: the units that a card may use.
UNITS: dict[str, dict[str, Unit]] = {
    "1": {"": Unit(1.0), "1": Unit(1.0), "%": Unit(0.01)},
    "K": {"K": Unit(1.0), "degC": Unit(1.0, 273.15)},
    "Pa": {"Pa": Unit(1.0), "kPa": Unit(1e3), "MPa": Unit(1e6), "GPa": Unit(1e9)},
    "Pa/K": {"Pa/K": Unit(1.0), "MPa/K": Unit(1e6)},
    "1/Pa": {"1/Pa": Unit(1.0), "1/MPa": Unit(1e-6), "1/GPa": Unit(1e-9)},
    "kg/m**3": {"kg/m3": Unit(1.0), "kg/m**3": Unit(1.0), "g/cm3": Unit(1e3)},
    "W/(m*K)": {"W/(m*K)": Unit(1.0), "W/m/K": Unit(1.0), "W/mK": Unit(1.0)},
    "J/(kg*K)": {"J/(kg*K)": Unit(1.0), "J/kg/K": Unit(1.0), "J/kgK": Unit(1.0)},
    "J/kg": {"J/kg": Unit(1.0), "kJ/kg": Unit(1e3), "J/g": Unit(1e3)},
}

CARD_FIELDS = tuple(name for name in Alloy._fields if name != "life_law")
TRAINED_FIELD = "two_way_strain"  # stands for strain_min where a study says that tubes are trained
FUNCTIONAL_LOSS = ("stroke_loss", "residual_strain_rate")  # nothing is lost where a card is blank
KNOWN_FIELDS = (*CARD_FIELDS, TRAINED_FIELD)
LIFE_LAW = ("life_intercept", "life_slope")
DECLARED_LIFE = ("declared_life_stress", "declared_life_strain", "declared_life_cycles")

# Numbers that stand in the record for the life description that the card does not use, so that
# the branch not taken stays finite: one cycle at w = 1 MJ/m3, slope -1; 1 Pa, strain 1, one cycle.
UNUSED_LIFE: dict[str, float] = {
    "life_intercept": 0.0,
    "life_slope": -1.0,
    "declared_life_stress": 1.0,
    "declared_life_strain": 1.0,
    "declared_life_cycles": 1.0,
}
