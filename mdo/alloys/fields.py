"""What a card may hold: the dimension and the admissible range of every field, and the units read.

Cards use few units, so they are listed here (with the names people write) rather than taken from
a units library; the table is the whole of what a card may say.
"""

from __future__ import annotations

from typing import NamedTuple

INFINITY = float("inf")


class Unit(NamedTuple):
    """Conversion of a number to SI: ``number * factor + offset``."""

    factor: float
    offset: float = 0.0


class Rule(NamedTuple):
    """Dimension of a field (a key of :data:`UNITS`) and its open or closed interval in SI."""

    dimension: str
    lower: float
    upper: float
    closed: bool = False


UNITS: dict[str, dict[str, Unit]] = {
    "number": {"": Unit(1.0), "1": Unit(1.0), "%": Unit(0.01)},
    "temperature": {"K": Unit(1.0), "degC": Unit(1.0, 273.15)},
    "stress": {"Pa": Unit(1.0), "kPa": Unit(1e3), "MPa": Unit(1e6), "GPa": Unit(1e9)},
    "stress per kelvin": {"Pa/K": Unit(1.0), "MPa/K": Unit(1e6)},
    "per stress": {"1/Pa": Unit(1.0), "1/MPa": Unit(1e-6), "1/GPa": Unit(1e-9)},
    "density": {"kg/m3": Unit(1.0), "kg/m**3": Unit(1.0), "g/cm3": Unit(1e3)},
    "conductivity": {"W/(m*K)": Unit(1.0), "W/m/K": Unit(1.0), "W/mK": Unit(1.0)},
    "specific heat": {"J/(kg*K)": Unit(1.0), "J/kg/K": Unit(1.0), "J/kgK": Unit(1.0)},
    "specific energy": {"J/kg": Unit(1.0), "kJ/kg": Unit(1e3), "J/g": Unit(1e3)},
}

RULES: dict[str, Rule] = {
    "density": Rule("density", 0.0, INFINITY),
    "austenite_shear_modulus": Rule("stress", 0.0, INFINITY),
    "martensite_shear_modulus": Rule("stress", 0.0, INFINITY),
    "martensite_young_modulus": Rule("stress", 0.0, INFINITY),
    "poisson_ratio": Rule("number", 0.0, 0.5),
    "martensite_start": Rule("temperature", 0.0, INFINITY),
    "martensite_finish": Rule("temperature", 0.0, INFINITY),
    "austenite_start": Rule("temperature", 0.0, INFINITY),
    "austenite_finish": Rule("temperature", 0.0, INFINITY),
    "martensite_slope": Rule("stress per kelvin", 0.0, INFINITY),
    "austenite_slope": Rule("stress per kelvin", 0.0, INFINITY),
    "strain_min": Rule("number", 0.0, 0.2, closed=True),
    "strain_saturation": Rule("number", 0.0, 0.2),
    "strain_rate_constant": Rule("per stress", 0.0, INFINITY),
    "strain_threshold_stress": Rule("stress", 0.0, INFINITY, closed=True),
    "detwinning_start_stress": Rule("stress", 0.0, INFINITY),
    "detwinning_finish_stress": Rule("stress", 0.0, INFINITY),
    "strain_factor": Rule("number", 0.0, 5.0),
    "slope_factor": Rule("number", 0.0, 5.0),
    "recoverable_strain": Rule("number", 0.0, 0.2),
    "austenite_yield_stress": Rule("stress", 0.0, INFINITY),
    "allowable_shear_stress": Rule("stress", 0.0, INFINITY),
    "conductivity_martensite": Rule("conductivity", 0.0, INFINITY),
    "conductivity_austenite": Rule("conductivity", 0.0, INFINITY),
    "specific_heat": Rule("specific heat", 0.0, INFINITY),
    "latent_heat": Rule("specific energy", 0.0, INFINITY),
    "temperature_max": Rule("temperature", 0.0, INFINITY),
    "life_intercept": Rule("number", 0.0, 20.0),
    "life_slope": Rule("number", -20.0, 0.0),
    "declared_life_stress": Rule("stress", 0.0, INFINITY),
    "declared_life_strain": Rule("number", 0.0, 0.5),
    "declared_life_cycles": Rule("number", 0.0, INFINITY),
}

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
