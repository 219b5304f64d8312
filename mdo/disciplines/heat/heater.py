"""Heaters of a tube: cartridge in the bore or bonded foil wrap. Gap, flux limit, mass, sheath."""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.atmosphere import GAS_CONSTANT
from mdo.disciplines.heat.convection import air_film
from mdo.disciplines.heat.radiation import STEFAN_BOLTZMANN
from mdo.disciplines.records import Supply
from mdo.disciplines.smooth import blended_max, blended_min

ACCOMMODATION = 4.3  # [1] gap parameter M over mean free path, air on engineering metals
FLUX_FLOOR = 100.0  # [W/m**2] least flux limit: where the tube is hotter than its heater may be
FLUX_BLEND = 1000.0  # [W/m**2] width of the blend of two flux limits, bias at most a quarter


def line_power_ratios(supply: Supply) -> tuple[Array, Array]:
    """Heater power at low and at high line over the nominal one.

    .. math:: P/P_n = (V/V_n)^2

    Parameters
    ----------
    supply
        Record: voltage ratios, and whether the supply regulates true power (then both ratios are
        one).

    Returns
    -------
    tuple
        Ratio at low and at high line [1].

    Examples
    --------
    28 V with 22 to 29 V at the terminals (hand: 0.617 and 1.073):

    >>> from types import SimpleNamespace
    >>> line = SimpleNamespace(regulated=0.0, low_voltage_ratio=22 / 28, high_voltage_ratio=29 / 28)
    >>> [float(ratio) for ratio in line_power_ratios(line)]
    [0.617, 1.073]

    References
    ----------
    Derived (Joule 1841); limits of the voltage: MIL-STD-704F (from memory).
    """
    regulated = jnp.asarray(supply.regulated) > 0.5
    low = jnp.where(regulated, 1.0, jnp.asarray(supply.low_voltage_ratio) ** 2)
    high = jnp.where(regulated, 1.0, jnp.asarray(supply.high_voltage_ratio) ** 2)
    return low, high


def mean_free_path(temperature: Array, pressure: Array) -> Array:
    r"""Mean free path of air.

    .. math:: \Lambda = \frac{\mu}{p}\sqrt{\pi R T/2}

    Parameters
    ----------
    temperature
        :math:`T` [K], any shape.
    pressure
        :math:`p` [Pa].

    Returns
    -------
    Array
        Mean free path [m].

    Examples
    --------
    Sea level (hand: 1.7894e-5/101,325 x 360.45 m/s = 63.7 nm; the standard, with a collision
    diameter of its own, prints 66.3 nm):

    >>> float(mean_free_path(jnp.asarray(288.15), jnp.asarray(101_325.0))) * 1e9
    63.7

    References
    ----------
    Kinetic theory, Chapman form (from memory).
    """
    viscosity = air_film(temperature, pressure).viscosity
    return viscosity / pressure * jnp.sqrt(jnp.pi * GAS_CONSTANT * temperature / 2.0)


def gap_conductance(*, temperature: Array, pressure: Array, gap: Array, emissivity: Array) -> Array:
    r"""Conductance of the air gap between cartridge and bore: gas and radiation in parallel.

    .. math:: h_g + h_r = \frac{k(T)}{\delta + 4.3\,\Lambda(T,p)} + 4\varepsilon\sigma T^3

    Parameters
    ----------
    temperature
        Mean temperature of the gap :math:`T` [K], any shape.
    pressure
        Air pressure [Pa].
    gap
        Radial gap :math:`\delta` [m], above zero: half of the difference of diameters.
    emissivity
        Effective emissivity of the gap [1].

    Returns
    -------
    Array
        Conductance [W/(m**2*K)]; contact is not credited (conservative).

    Examples
    --------
    A vacuum leaves radiation alone (hand: 4 x 5.670374e-8 x 500^3 at emissivity 1):

    >>> float(gap_conductance(temperature=jnp.asarray(500.0), pressure=jnp.asarray(1e-9),
    ...     gap=5e-5, emissivity=1.0))
    28.3519

    References
    ----------
    Kennard 1938 and Yovanovich 1982 (from memory), accommodation 0.87.
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
    conductance
        Heater to tube :math:`G` [W/(m**2*K)], any shape.
    inner_resistance
        Inside the heater :math:`R` [m**2*K/W], so that the inner difference is qR.
    heater_temperature_max, tube_temperature
        Temperatures [K].
    design_flux
        Flux for heater life [W/m**2].

    Returns
    -------
    Array
        Flux limit [W/m**2], at least 100 W/m**2 so that a ratio to it stays positive.

    Notes
    -----
    Blended within 1000 W/m**2; the bias is at most 250 W/m**2, where both limits are equal.

    Examples
    --------
    900 W/(m2 K) over 100 K, half of it lost in the heater (hand: 90,000/2):

    >>> float(flux_limit(conductance=jnp.asarray(900.0), inner_resistance=1 / 900.0,
    ...     heater_temperature_max=500.0, tube_temperature=400.0, design_flux=80e3))
    45000.0

    References
    ----------
    Derived (resistances in series, solved for the flux).
    """
    reached = conductance * (heater_temperature_max - tube_temperature)
    reached = reached / (1.0 + conductance * inner_resistance)
    return blended_min(blended_max(reached, FLUX_FLOOR, FLUX_FLOOR), design_flux, FLUX_BLEND)


def winding_resistance(
    *, heater_radius: Array, winding_radius_ratio: Array, conductivity: Array
) -> Array:
    r"""Resistance from the winding to the sheath of a cartridge.

    .. math:: R = R_h\ln(R_h/r_w)/k

    Parameters
    ----------
    heater_radius
        :math:`R_h` [m], any shape.
    winding_radius_ratio
        Radius of the wire circle :math:`r_w` over :math:`R_h` [1], below 1.
    conductivity
        Of the compacted filling :math:`k` [W/(m*K)].

    Returns
    -------
    Array
        Resistance per area of the sheath [m**2*K/W].

    Examples
    --------
    5 mm, wire at three quarters, 2.5 W/(m K): 28.8 K at 5 W/cm2 (hand: 5e4 x 0.002 x ln(4/3)).

    >>> 5e4 * float(winding_resistance(heater_radius=0.005, winding_radius_ratio=0.75,
    ...     conductivity=2.5))
    28.77

    References
    ----------
    Derived (conduction in a hollow cylinder).
    """
    return -heater_radius * jnp.log(winding_radius_ratio) / conductivity


def cartridge_mass(*, radius: Array, length: Array, density: Array) -> Array:
    r"""Mass of a bore cartridge.

    .. math:: m = \pi R^2 L\rho

    Parameters
    ----------
    radius, length
        R and L [m], any shape.
    density
        Mean density [kg/m**3].

    Returns
    -------
    Array
        Mass [kg].

    Examples
    --------
    7.9 mm by 300 mm at 4750 kg/m3 (hand: 69.8 g):

    >>> float(cartridge_mass(radius=0.00395, length=0.3, density=4750.0)) * 1e3
    69.8

    References
    ----------
    Derived.
    """
    return jnp.pi * radius**2 * length * density


def wrap_mass(*, radius: Array, length: Array, areal_mass: Array) -> Array:
    r"""Mass of a foil wrap.

    .. math:: m = 2\pi r L\,m''

    Parameters
    ----------
    radius, length
        r and L [m], any shape.
    areal_mass
        Mass per area :math:`m''` [kg/m**2].

    Returns
    -------
    Array
        Mass [kg].

    Examples
    --------
    0.4 kg/m2 around 12 mm, 300 mm long (hand: 4.52 g):

    >>> float(wrap_mass(radius=0.006, length=0.3, areal_mass=0.4)) * 1e3
    4.52

    References
    ----------
    Derived.
    """
    return 2.0 * jnp.pi * radius * length * areal_mass
