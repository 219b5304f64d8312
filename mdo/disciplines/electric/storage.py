"""Source of the energy: battery by energy or by power, converter, generator share."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.electric.wiring import smooth_larger
from mdo.disciplines.smooth import blended_max, blended_min

CONVERTER_SMALL = 1e3  # [W] below this the small specific mass holds
CONVERTER_LARGE = 1e4  # [W] above this the large specific mass holds
CONVERTER_BLEND = 0.05  # [1] width of the blends, in decades of power


class Battery(NamedTuple):
    """Battery mass [kg]: what energy asks for, what power asks for, and the larger of the two."""

    energy_mass: Array
    power_mass: Array
    mass: Array


def battery_mass(
    *,
    energy: Array,
    power: Array,
    specific_energy: Array,
    specific_power: Array,
    depth: Array,
    efficiency: Array,
    cold_energy_factor: Array,
    cold_power_factor: Array,
    margin: Array,
) -> Battery:
    r"""Battery mass by energy or by power, whichever is larger.

    .. math:: m = (1+\mu)\,\max\left(\frac{E}{e\,f_e\,DoD\,\eta},\;\frac{P}{p\,f_p}\right)

    Parameters
    ----------
    energy : per charge [J]; ``power`` : peak [W]; any shape, not both zero
    specific_energy : of the pack [J/kg]; ``specific_power`` : [W/kg]
    depth, efficiency : of discharge [1]
    cold_energy_factor, cold_power_factor : what the cold leaves [1]
    margin : [1]

    Returns
    -------
    Battery
        Masses [kg], margin included. The larger is smooth, bias at most 5e-4 where both are equal.

    References
    ----------
    Reference thermal-power-mass 2.12.
    """
    usable = specific_energy * cold_energy_factor * depth * efficiency
    by_energy = (1.0 + margin) * energy / usable
    by_power = (1.0 + margin) * power / (specific_power * cold_power_factor)
    some = by_energy + by_power > 0.0
    larger = smooth_larger(jnp.where(some, by_energy, 1.0), jnp.where(some, by_power, 1.0))
    return Battery(by_energy, by_power, jnp.where(some, larger, 0.0))


def converter_mass(*, power: Array, small: Array, large: Array) -> Array:
    r"""Mass of converters and switches: kg/kW from ``small`` below 1 kW to ``large`` above 10 kW.

    Parameters
    ----------
    power : peak [W], any shape
    small, large : specific masses [kg/W] below 1 kW and above 10 kW

    Returns
    -------
    Array
        Mass [kg]; between, the specific mass is a power law of the power.

    Notes
    -----
    The ends are blended over 0.05 decades; the specific mass is off by at most 1.5 % there.

    References
    ----------
    Reference thermal-power-mass 2.12 (judgement).
    """
    decades = jnp.log10(CONVERTER_LARGE / CONVERTER_SMALL)
    place = jnp.log10(jnp.maximum(power, 1.0) / CONVERTER_SMALL)
    place = blended_min(blended_max(place, 0.0, CONVERTER_BLEND), decades, CONVERTER_BLEND)
    return power * small * (large / small) ** (place / decades)


def generator_mass(*, power: Array, specific_mass: Array) -> Array:
    """Mass [kg] of a generator increment: peak power [W] above the spare capacity x kg/W."""
    return power * specific_mass
