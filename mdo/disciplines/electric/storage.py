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
    energy
        E, per charge [J], any shape.
    power
        P, peak [W]; not both zero.
    specific_energy
        e, of the pack [J/kg].
    specific_power
        p, of the pack [W/kg].
    depth, efficiency
        DoD and :math:`\eta` of discharge [1].
    cold_energy_factor, cold_power_factor
        What the cold leaves, :math:`f_e, f_p` [1].
    margin
        :math:`\mu` [1].

    Returns
    -------
    Battery
        Masses [kg], margin included. The larger is smooth, bias at most 5e-4 where both are equal.

    Examples
    --------
    Five folds of 63.4 kJ and 1.06 kW, 120 Wh/kg, 1.5 kW/kg (hand: 0.966 by energy, 0.707 by power):

    >>> pack = battery_mass(energy=jnp.asarray(5 * 63.4e3), power=1060.0,
    ...     specific_energy=120 * 3600, specific_power=1500.0, depth=0.8, efficiency=0.95,
    ...     cold_energy_factor=1.0, cold_power_factor=1.0, margin=0.0)
    >>> float(pack.energy_mass), float(pack.power_mass), float(pack.mass)
    (0.966, 0.707, 0.966)

    References
    ----------
    Derived; the factors are judgement.
    """
    usable = specific_energy * cold_energy_factor * depth * efficiency
    by_energy = (1.0 + margin) * energy / usable
    by_power = (1.0 + margin) * power / (specific_power * cold_power_factor)
    some = by_energy + by_power > 0.0
    larger = smooth_larger(jnp.where(some, by_energy, 1.0), jnp.where(some, by_power, 1.0))
    return Battery(by_energy, by_power, jnp.where(some, larger, 0.0))


def converter_mass(*, power: Array, small: Array, large: Array) -> Array:
    r"""Mass of converters and switches.

    .. math:: m = P\,k_s (k_l/k_s)^{\lg(P/1\,kW)}, \quad 1 \text{ to } 10\,kW

    Parameters
    ----------
    power
        Peak power P [W], any shape.
    small, large
        Specific masses :math:`k_s` below 1 kW and :math:`k_l` above 10 kW [kg/W].

    Returns
    -------
    Array
        Mass [kg]; between, the specific mass is a power law of the power.

    Notes
    -----
    The ends are blended over 0.05 decades; the specific mass is off by at most 1.5 % there.

    Examples
    --------
    100 W at 2 kg/kW, 100 kW at 0.6 kg/kW, and the middle, sqrt(10) kW at sqrt(1.2) kg/kW (hand):

    >>> kilowatts = jnp.array([0.1, 100.0, 10.0**0.5])
    >>> [float(value) for value in converter_mass(power=1e3 * kilowatts, small=2e-3, large=0.6e-3)]
    [0.2, 60.0, 3.46410]

    References
    ----------
    Judgement (2 and 0.6 kg/kW), no source.
    """
    decades = jnp.log10(CONVERTER_LARGE / CONVERTER_SMALL)
    place = jnp.log10(jnp.maximum(power, 1.0) / CONVERTER_SMALL)
    place = blended_min(blended_max(place, 0.0, CONVERTER_BLEND), decades, CONVERTER_BLEND)
    return power * small * (large / small) ** (place / decades)


def generator_mass(*, power: Array, specific_mass: Array) -> Array:
    """Mass of a generator increment.

    .. math:: m = P k

    Parameters
    ----------
    power
        Peak power above the spare capacity P [W], any shape.
    specific_mass
        k [kg/W].

    Returns
    -------
    Array
        Mass [kg].

    Examples
    --------
    >>> float(generator_mass(power=8e3, specific_mass=0.75e-3))
    6.0

    References
    ----------
    Judgement (0.5 to 1.0 kg/kW), no source.
    """
    return power * specific_mass
