"""Convection from tubes to the air of the bay: air film properties and cylinder correlations."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.atmosphere import GAS_CONSTANT, STANDARD_GRAVITY

DIFFERENCE_FLOOR = 1e-3  # [K] rounds |Ts - Te| at zero; changes 20 K by 1e-9 relative


class AirFilm(NamedTuple):
    """Properties of dry air at film temperature.

    viscosity [Pa*s], conductivity [W/(m*K)], specific_heat [J/(kg*K)], prandtl [1], density
    [kg/m**3].
    """

    viscosity: Array
    conductivity: Array
    specific_heat: Array
    prandtl: Array
    density: Array


def air_film(temperature: Array, pressure: Array) -> AirFilm:
    r"""Viscosity, conductivity, specific heat, Prandtl number and density of dry air.

    .. math:: \mu = \frac{1.458\cdot10^{-6}\,T^{1.5}}{T+110.4},\quad
        k = \frac{2.64638\cdot10^{-3}\,T^{1.5}}{T+245.4\cdot10^{-12/T}},\quad
        c_p = 1002.5 + 2.75\cdot10^{-4}(T-200)^2,\quad \rho = p/(R T)

    Parameters
    ----------
    temperature
        Film temperature :math:`T` [K], any shape, 200 to 1000 K.
    pressure
        Air pressure :math:`p` [Pa], broadcasts.

    Returns
    -------
    AirFilm
        viscosity [Pa*s], conductivity [W/(m*K)], specific heat [J/(kg*K)], Prandtl number [1],
        density [kg/m**3].

    Examples
    --------
    Sea level of the standard, which prints 1.7894e-5 Pa*s, 2.5326e-2 W/(m*K) and 1.2250 kg/m3:

    >>> air = air_film(jnp.asarray(288.15), jnp.asarray(101_325.0))
    >>> float(air.viscosity) * 1e5, float(air.conductivity) * 1e2, float(air.density)
    (1.7894, 2.5326, 1.2250)

    References
    ----------
    U.S. Standard Atmosphere, 1976, equations 51 and 53 (from memory); specific heat: quadratic fit,
    Dixon 2007, The Shock Absorber Handbook, 2nd ed., appendix B (from memory).
    """
    power = temperature * jnp.sqrt(temperature)
    viscosity = 1.458e-6 * power / (temperature + 110.4)
    shift = 245.4 * jnp.exp(-12.0 * jnp.log(10.0) / temperature)
    conductivity = 2.64638e-3 * power / (temperature + shift)
    specific_heat = 1002.5 + 275e-6 * (temperature - 200.0) ** 2
    return AirFilm(
        viscosity=viscosity,
        conductivity=conductivity,
        specific_heat=specific_heat,
        prandtl=viscosity * specific_heat / conductivity,
        density=pressure / (GAS_CONSTANT * temperature),
    )


def crossflow_nusselt(reynolds: Array, prandtl: Array) -> Array:
    r"""Mean Nusselt number of one cylinder in cross-flow (Churchill and Bernstein).

    .. math:: Nu = 0.3 + \frac{0.62\,Re^{1/2}Pr^{1/3}}{[1+(0.4/Pr)^{2/3}]^{1/4}}
        \left[1+(Re/282000)^{5/8}\right]^{4/5}

    Parameters
    ----------
    reynolds
        :math:`Re` on the diameter [1], any shape; Re Pr at least 0.2.
    prandtl
        :math:`Pr` [1].

    Returns
    -------
    Array
        Nusselt number [1]; 0.3 with a finite slope at Re = 0.

    Examples
    --------
    Published worked value 40.6371 (Incropera and DeWitt, example 7.4 gives h = 96 from it):

    >>> float(crossflow_nusselt(jnp.asarray(6071.0), jnp.asarray(0.70)))
    40.637

    References
    ----------
    Churchill and Bernstein 1977, J. Heat Transfer 99, 300.
    """
    moving = reynolds > 0.0
    safe = jnp.where(moving, reynolds, 1.0)
    shape = jnp.cbrt(prandtl) / (1.0 + jnp.cbrt(0.4 / prandtl) ** 2) ** 0.25
    flow = 0.62 * jnp.sqrt(safe) * (1.0 + (safe / 282000.0) ** 0.625) ** 0.8
    return 0.3 + jnp.where(moving, flow * shape, 0.0)


def natural_nusselt(rayleigh: Array, prandtl: Array) -> Array:
    r"""Mean Nusselt number of a horizontal cylinder in still air (Churchill and Chu).

    .. math:: Nu = \left\{0.60 + \frac{0.387\,Ra^{1/6}}{[1+(0.559/Pr)^{9/16}]^{8/27}}\right\}^2

    Parameters
    ----------
    rayleigh
        :math:`Ra` on the diameter [1], above 0 and at most 1e12, any shape.
    prandtl
        :math:`Pr` [1].

    Returns
    -------
    Array
        Nusselt number [1].

    Examples
    --------
    Tube of 0.1 m at 438 K in air at 296 K: 23.1 (Incropera and DeWitt, example 9.4, from memory).

    >>> float(natural_nusselt(jnp.asarray(5.073e6), jnp.asarray(0.697)))
    23.1

    References
    ----------
    Churchill and Chu 1975, Int. J. Heat Mass Transfer 18, 1049.
    """
    shape = (1.0 + (0.559 / prandtl) ** 0.5625) ** (8.0 / 27.0)
    return (0.60 + 0.387 * rayleigh ** (1.0 / 6.0) / shape) ** 2


def mixed_nusselt(forced: Array, natural: Array) -> Array:
    """Nusselt number of cross or assisting mixed flow.

    .. math:: Nu^3 = Nu_F^3 + Nu_N^3

    Parameters
    ----------
    forced, natural
        Nusselt numbers [1], any shape, at least one of them above zero.

    Returns
    -------
    Array
        Nusselt number [1].

    Examples
    --------
    Hand: 3^3 + 4^3 = 91.

    >>> float(mixed_nusselt(jnp.asarray(3.0), jnp.asarray(4.0)))
    4.49794

    References
    ----------
    Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, section 9.9 (from memory).
    """
    return jnp.cbrt(forced**3 + natural**3)


def film_coefficient(
    *,
    surface_temperature: Array,
    air_temperature: Array,
    pressure: Array,
    diameter: Array,
    speed: Array | None,
    natural_factor: Array,
    forced_factor: Array,
) -> Array:
    r"""Film coefficient of a horizontal tube in the air of the bay, at mean film temperature.

    .. math:: h = \frac{k}{D}\left[(F_N Nu_N)^3 + (F_F Nu_F)^3\right]^{1/3},\quad
        Ra = \frac{g\,|T_s-T_e|\,D^3\rho^2 Pr}{T_f\,\mu^2}

    Parameters
    ----------
    surface_temperature, air_temperature
        :math:`T_s, T_e` [K], any shape.
    pressure
        Air pressure [Pa]; natural convection falls with density, so with altitude.
    diameter
        Outer diameter :math:`D` [m].
    speed
        Air speed across the tube [m/s]; 0 is still air, and then there is no forced term; None
        where the air is known to be still (the forced term is then not even compiled).
    natural_factor, forced_factor
        Factors :math:`F_N, F_F` for packing and uncertainty [1].

    Returns
    -------
    Array
        Film coefficient [W/(m**2*K)].

    Notes
    -----
    ``|Ts - Te|`` is rounded by 1 mK, so value and slope stay finite where the tube is at the air's
    temperature.

    Examples
    --------
    Tube of 12 mm at 100 degC in still air of 20 degC (independent calculation: 9.93 at sea level,
    3.1 at the pressure of 20 km):

    >>> still = {"surface_temperature": jnp.asarray(373.15), "air_temperature": jnp.asarray(293.15),
    ...     "diameter": 0.012, "speed": None, "natural_factor": 1.0, "forced_factor": 1.0}
    >>> float(film_coefficient(pressure=jnp.asarray(101_325.0), **still))
    9.93
    >>> float(film_coefficient(pressure=jnp.asarray(5474.9), **still))
    3.1

    References
    ----------
    :func:`crossflow_nusselt`, :func:`natural_nusselt`, :func:`mixed_nusselt`.
    """
    film = (surface_temperature + air_temperature) / 2.0
    air = air_film(film, pressure)
    difference = jnp.sqrt((surface_temperature - air_temperature) ** 2 + DIFFERENCE_FLOOR**2)
    kinematic = air.viscosity / air.density
    rayleigh = STANDARD_GRAVITY * difference * diameter**3 * air.prandtl / (film * kinematic**2)
    natural = natural_factor * natural_nusselt(rayleigh, air.prandtl)
    if speed is None:
        return air.conductivity / diameter * natural
    forced = crossflow_nusselt(speed * diameter / kinematic, air.prandtl)
    blown = jnp.where(speed > 0.0, forced_factor * forced, 0.0)
    return air.conductivity / diameter * mixed_nusselt(blown, natural)
