"""Standard parts and sections as those above the model need them: wire gauges, sheets, airfoils.

None of it depends on a level of fidelity.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np
from numpy.typing import ArrayLike

from mdo.arrays import Floats
from mdo.disciplines.atmosphere import standard_atmosphere
from mdo.disciplines.bundle.strength import wall_for_torsion
from mdo.disciplines.bundle.wing_room import biconvex_thickness, four_digit_thickness
from mdo.disciplines.electric.gauges import choose_gauge
from mdo.disciplines.mass.structure import housing_mass

# Compiled whole, not operation by operation.
_gauge = jax.jit(choose_gauge)
_pressure = jax.jit(lambda height: standard_atmosphere(height, jnp.zeros(())).pressure)
_four_digit, _biconvex = jax.jit(four_digit_thickness), jax.jit(biconvex_thickness)


class Cable(NamedTuple):
    """Feeder of one wing: AWG number, area [m**2], drop [V], and whether gauge and drop suit."""

    gauge: int
    area: float
    drop: float
    suits: bool


def choose_cable(parameters: Mapping[str, Any], current: float) -> Cable:
    """Smallest standard wire for a current in the feeder of one wing.

    Parameters
    ----------
    parameters : of the model; its supply and its wires count
    current : [A]
    """
    supply = parameters["supply"]
    choice = _gauge(
        current=float(current),
        loop_length=2.0 * supply.run_length,
        allowed_drop=supply.allowed_drop,
        temperature=parameters["power_assumptions"].wire_temperature,
        rating=supply.wire_temperature_rating,
    )
    return Cable(int(choice.gauge), float(choice.area), float(choice.drop), bool(choice.suits))


def housing_wall(
    parameters: Mapping[str, Any], mass: float, *, girth: float, length: float
) -> float:
    """Wall of a housing [m] from its mass [kg], girth and length [m]."""
    per_wall = housing_mass(1.0, girth=girth, length=length, mass=parameters["mass_assumptions"])
    return mass / float(per_wall)


def wall_for_moment(parameters: Mapping[str, Any], moment: float, *, radius: float) -> float:
    """Wall [m] of a round housing of a radius [m] at whose moment [N*m] the allowable is met."""
    allowable = parameters["mass_assumptions"].structure_shear_allowable
    return float(wall_for_torsion(moment, radius=radius, shear_allowable=allowable))


def air_pressure(height: float) -> float:
    """Pressure of the standard atmosphere at a height [Pa]; height geopotential [m]."""
    return float(_pressure(height))


def relative_thickness(station: ArrayLike, *, biconvex: bool) -> Floats:
    """Thickness of a wing section over its greatest, at stations in chords, any shape."""
    return np.asarray((_biconvex if biconvex else _four_digit)(np.asarray(station)))
