"""Heaters of a tube: cartridge in the bore or bonded foil wrap. Gap, flux limit, mass, sheath."""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.convection import GAS_CONSTANT, air_film
from mdo.disciplines.heat.radiation import STEFAN_BOLTZMANN
from mdo.disciplines.records import Supply
from mdo.disciplines.smooth import blended_max, blended_min

ACCOMMODATION = 4.3  # [1] gap parameter M over mean free path, air on engineering metals
FLUX_FLOOR = 100.0  # [W/m**2] least flux limit: where the tube is hotter than its heater may be
FLUX_BLEND = 1000.0  # [W/m**2] width of the blend of two flux limits, bias at most a quarter


def line_power_ratios(supply: Supply) -> tuple[Array, Array]:
    """Heater power at low and at high line over the nominal one [1].

    A resistive heater draws the square of the voltage ratio; a regulated supply holds true power,
    so both ratios are one. Reference thermal-power-mass 2.11 (28 V: 0.617 and 1.073).
    """
    regulated = jnp.asarray(supply.regulated) > 0.5
    low = jnp.where(regulated, 1.0, jnp.asarray(supply.low_voltage_ratio) ** 2)
    high = jnp.where(regulated, 1.0, jnp.asarray(supply.high_voltage_ratio) ** 2)
    return low, high


def mean_free_path(temperature: Array, pressure: Array) -> Array:
    r"""Mean free path of air :math:`\Lambda = \frac{\mu}{p}\sqrt{\pi R T/2}` [m].

    Parameters
    ----------
    temperature : :math:`T` [K], any shape
    pressure : :math:`p` [Pa]

    References
    ----------
    Kinetic theory, Chapman form (from memory): 66 nm at 288 K, 101 kPa.
    """
    viscosity = air_film(temperature, pressure).viscosity
    return viscosity / pressure * jnp.sqrt(jnp.pi * GAS_CONSTANT * temperature / 2.0)


def gap_conductance(*, temperature: Array, pressure: Array, gap: Array, emissivity: Array) -> Array:
    r"""Conductance of the air gap between cartridge and bore: gas and radiation in parallel.

    .. math:: h_g + h_r = \frac{k(T)}{\delta + 4.3\,\Lambda(T,p)} + 4\varepsilon\sigma T^3

    Parameters
    ----------
    temperature : mean temperature of the gap :math:`T` [K], any shape
    pressure : air pressure [Pa]
    gap : radial gap :math:`\delta` [m], > 0: half of the difference of diameters
    emissivity : effective emissivity of the gap [1]

    Returns
    -------
    Array
        Conductance [W/(m**2*K)]; contact is not credited (conservative).

    References
    ----------
    Reference thermal-power-mass 2.2; Kennard and Yovanovich (from memory), accommodation 0.87.
    """
    gas = air_film(temperature, pressure).conductivity / (
        gap + ACCOMMODATION * mean_free_path(temperature, pressure)
    )
    return gas + 4.0 * emissivity * STEFAN_BOLTZMANN * temperature**3


def flux_limit(
    *,
    conductance: Array,
    inner_resistance: Array,
    heater_temperature_max: Array,
    tube_temperature: Array,
    design_flux: Array,
) -> Array:
    r"""Usable heat flux: what keeps the heater below its limit, and no more than its design value.

    .. math:: q_{max} = \min\left(\frac{G\,(T_{max}-T_{tube})}{1+G R},\; q_{design}\right)

    Parameters
    ----------
    conductance : heater to tube :math:`G` [W/(m**2*K)], any shape
    inner_resistance : inside the heater :math:`R` [m**2*K/W], so that the inner difference is qR
    heater_temperature_max, tube_temperature : [K]
    design_flux : flux for heater life [W/m**2]

    Returns
    -------
    Array
        Flux limit [W/m**2], at least 100 W/m**2 so that a ratio to it stays positive.

    Notes
    -----
    Blended within 1000 W/m**2; the bias is at most 250 W/m**2, where both limits are equal.

    References
    ----------
    Reference thermal-power-mass 2.10 (solved for q).
    """
    reached = conductance * (heater_temperature_max - tube_temperature)
    reached = reached / (1.0 + conductance * inner_resistance)
    return blended_min(blended_max(reached, FLUX_FLOOR, FLUX_FLOOR), design_flux, FLUX_BLEND)


def winding_resistance(
    *, heater_radius: Array, winding_radius_ratio: Array, conductivity: Array
) -> Array:
    r"""Resistance from the winding to the sheath :math:`R_h\ln(R_h/r_w)/k` [m**2*K/W].

    Parameters
    ----------
    heater_radius : :math:`R_h` [m], any shape
    winding_radius_ratio : radius of the wire circle over :math:`R_h` [1], below 1
    conductivity : of the compacted filling :math:`k` [W/(m*K)]

    References
    ----------
    Reference thermal-power-mass 2.10 (28 K at 5 W/cm2, 5 mm).
    """
    return -heater_radius * jnp.log(winding_radius_ratio) / conductivity


def cartridge_mass(*, radius: Array, length: Array, density: Array) -> Array:
    """Mass ``pi R^2 L rho`` [kg] of a bore cartridge: radius, length [m], density [kg/m**3]."""
    return jnp.pi * radius**2 * length * density


def wrap_mass(*, radius: Array, length: Array, areal_mass: Array) -> Array:
    """Mass ``2 pi r L m''`` [kg] of a foil wrap: radius, length [m], areal mass [kg/m**2]."""
    return 2.0 * jnp.pi * radius * length * areal_mass
