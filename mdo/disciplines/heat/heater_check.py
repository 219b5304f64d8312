"""Heater of one tube at high line: flux and temperature beside their limits."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.heat.energy_balance import wall_difference_bore, wall_difference_wrap
from mdo.disciplines.heat.hardware import BORE_LEAST, TubeHardware
from mdo.disciplines.heat.heater import flux_limit, gap_conductance, winding_resistance
from mdo.disciplines.records import Alloy, Choices


class HeaterCheck(NamedTuple):
    """Heater of each set at high line.

    flux and flux_limit [W/m**2], temperature and temperature_limit of the heater [K],
    wall_difference across the tube [K]; shape (sets,).
    """

    flux: Array
    flux_limit: Array
    temperature: Array
    temperature_limit: Array
    wall_difference: Array


def _wall_difference(
    cartridge: Array, per_area: Array, inner: Array, outer: Array, alloy: Alloy
) -> Array:
    """Temperature across the wall heated in its bore or on its outside [K]."""
    conductivity = jnp.asarray(alloy.conductivity_martensite)
    wall = {"inner_radius": inner, "outer_radius": outer, "conductivity": conductivity}
    return jnp.where(
        cartridge,
        wall_difference_bore(flux=per_area / inner, **wall),
        wall_difference_wrap(flux=per_area / outer, **wall),
    )


def heater_check(
    *,
    power: Array,
    hot_temperature: Array,
    hardware: TubeHardware,
    pressure: Array,
    alloy: Alloy,
    choices: Choices,
    assumed: ThermalAssumptions,
) -> HeaterCheck:
    r"""Flux and temperature of the heater beside their limits, and the wall difference of the tube.

    .. math:: T_h = T_{hot} + \Delta T_{wall} + q''/G

    Parameters
    ----------
    power
        Power of one tube at high line and upper tolerance [W], shape (sets,).
    hot_temperature
        Temperature at which heating ends [K], shape (sets,).
    hardware
        One tube with its heater.
    pressure
        Lowest air pressure of the legs [Pa].
    alloy, choices, assumed
        Records.

    Returns
    -------
    HeaterCheck
        Fluxes [W/m**2], temperatures and differences [K], shape (sets,).

    Notes
    -----
    The conductance of the gap is taken at its mean temperature, in two passes.

    References
    ----------
    :func:`mdo.disciplines.heat.heater.flux_limit`,
    :func:`mdo.disciplines.heat.heater.gap_conductance`,
    :func:`mdo.disciplines.heat.energy_balance.wall_difference_bore`.
    """
    cartridge = jnp.asarray(choices.heater) > 0.5
    heater_radius, outer = hardware.heater_radius, hardware.outer_radius
    inner = jnp.maximum(hardware.inner_radius, BORE_LEAST)
    per_area = power / (2.0 * jnp.pi * hardware.length)
    flux = per_area / jnp.where(cartridge, heater_radius, outer)
    wall = _wall_difference(cartridge, per_area, inner, outer, alloy)
    bond = assumed.adhesive_conductivity / assumed.adhesive_thickness
    limit = jnp.where(cartridge, assumed.cartridge_temperature_max, assumed.wrap_temperature_max)
    contact = hot_temperature + jnp.where(cartridge, wall, 0.0)

    def conductance(mean: Array) -> Array:
        gap = gap_conductance(
            temperature=mean,
            pressure=pressure,
            gap=assumed.heater_gap,
            emissivity=assumed.gap_emissivity,
        )
        return jnp.where(cartridge, gap, bond)

    first = flux / conductance(contact)
    difference = flux / conductance(contact + first / 2.0)
    winding = winding_resistance(
        heater_radius=heater_radius,
        winding_radius_ratio=assumed.winding_radius_ratio,
        conductivity=assumed.cartridge_conductivity,
    )
    return HeaterCheck(
        flux=flux,
        flux_limit=flux_limit(
            conductance=conductance((limit + contact) / 2.0),
            inner_resistance=jnp.where(cartridge, winding, 0.0),
            heater_temperature_max=limit,
            tube_temperature=contact,
            design_flux=jnp.where(cartridge, assumed.cartridge_flux, assumed.wrap_flux),
        ),
        temperature=contact + difference,
        temperature_limit=limit,
        wall_difference=wall,
    )
