"""What the bundle meets in its bay: the structure beside it, the blower over it."""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.atmosphere import GAS_CONSTANT
from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.heat.convection import air_film
from mdo.disciplines.heat.radiation import radiative_coefficient


def adjacent_temperature(
    *,
    surface_temperature: Array,
    bay_temperature: Array,
    pressure: Array,
    gap: Array,
    emissivity: Array,
    assumed: ThermalAssumptions,
) -> Array:
    r"""Temperature of the structure beside a hot bundle, steady.

    .. math:: T_w = \frac{G T_s + h_b T_e}{G + h_b},\qquad G = \frac{k_{air}}{s}
        + \frac{h_r(T_s,T_e)}{1/\varepsilon_1 + 1/\varepsilon_2 - 1}

    Parameters
    ----------
    surface_temperature
        Outer surface of the tubes :math:`T_s` [K], any shape.
    bay_temperature
        Hot bay :math:`T_e` [K], the state of the structure away from the bundle.
    pressure
        Air pressure [Pa].
    gap
        Bundle to structure :math:`s` [m], above zero.
    emissivity
        Emissivity of the tubes [1].
    assumed
        Record: ``structure_back_conductance`` :math:`h_b`, ``structure_emissivity``.

    Returns
    -------
    Array
        Structure temperature [K].

    Examples
    --------
    Sea-level air of 288.15 K film (0.025326 W/(m K)) over 10 mm, emissivities of nearly nothing,
    2.5326 W/(m2 K) at the back: the middle of both (hand).

    >>> from types import SimpleNamespace
    >>> float(adjacent_temperature(surface_temperature=jnp.asarray(338.15),
    ...     bay_temperature=jnp.asarray(238.15), pressure=jnp.asarray(101_325.0), gap=0.010,
    ...     emissivity=1e-9, assumed=SimpleNamespace(structure_back_conductance=2.5326,
    ...     structure_emissivity=1.0)))
    288.15

    References
    ----------
    Derived (gap air in parallel with radiation); the back conductance is judgement.
    """
    air = air_film((surface_temperature + bay_temperature) / 2.0, pressure)
    grey = 1.0 / (1.0 / emissivity + 1.0 / assumed.structure_emissivity - 1.0)
    radiated = grey * radiative_coefficient(surface_temperature, bay_temperature)
    through = air.conductivity / jnp.maximum(gap, 1e-4) + radiated
    back = assumed.structure_back_conductance
    return (through * surface_temperature + back * bay_temperature) / (through + back)


def blower_power(
    *,
    speed: Array,
    pressure: Array,
    air_temperature: Array,
    diameter: Array,
    tube_length: Array,
    tube_count: Array,
    assumed: ThermalAssumptions,
) -> Array:
    r"""Electrical power of the blower of one wing, worst leg.

    .. math:: P = \max_{legs}\tfrac12\rho V^3\;\frac{K}{\eta}\,a\,D L\sum_s\sqrt{N_s}

    Parameters
    ----------
    speed
        Air speed over the tubes [m/s], shape (legs,).
    pressure
        Air pressure in the bay [Pa], shape (legs,).
    air_temperature
        Temperature of the bay [K], shape (legs,).
    diameter, tube_length
        Of one tube with its sleeve [m].
    tube_count
        Tubes of each set [1], shape (sets,).
    assumed
        Record: head loss :math:`K`, fan efficiency :math:`\eta`, area ratio :math:`a`.

    Returns
    -------
    Array
        Power [W]; the maximum is over data of the legs, so it is smooth in the design.

    Examples
    --------
    1 kg/m3 at 10 m/s, K/eta 4, a 2, 4 and 9 tubes of 0.01 by 0.5 m (hand: 500 x 4 x 2 x 0.005 x 5):

    >>> from types import SimpleNamespace
    >>> fan = SimpleNamespace(blower_area_ratio=2.0, blower_head_loss=2.0, fan_efficiency=0.5)
    >>> float(blower_power(speed=jnp.array([10.0]), pressure=jnp.array([287.05287 * 300]),
    ...     air_temperature=jnp.array([300.0]), diameter=0.01, tube_length=0.5,
    ...     tube_count=jnp.array([4.0, 9.0]), assumed=fan))
    100.0

    References
    ----------
    Derived (velocity heads through a duct); duct area of a square bundle of N tubes is judgement.
    """
    density = pressure / (GAS_CONSTANT * air_temperature)
    present = tube_count > 0.0
    frontal = jnp.where(present, jnp.sqrt(jnp.where(present, tube_count, 1.0)), 0.0)
    area = assumed.blower_area_ratio * diameter * tube_length * jnp.sum(frontal)
    heads = assumed.blower_head_loss / assumed.fan_efficiency
    return 0.5 * jnp.max(density * speed**3) * heads * area
