"""Loss of one tube to the bay: film, radiation, sleeve and ends together."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.convection import film_coefficient
from mdo.disciplines.heat.energy_balance import fin_conductance
from mdo.disciplines.heat.radiation import STEFAN_BOLTZMANN, radiative_coefficient

FILM_GUESS = 12.0  # [W/(m**2*K)] still air and radiation, only to start the surface temperature


class TubeSurface(NamedTuple):
    """What one tube shows to the bay.

    diameter, stub_perimeter [m], area, stub_area [m**2], sleeve_resistance [K/W], stub_conductivity
    [W/(m*K)], spacer_conductance [W/K]; emissivity, natural_factor, forced_factor [1].
    """

    diameter: Array
    area: Array
    sleeve_resistance: Array
    emissivity: Array
    natural_factor: Array
    forced_factor: Array
    stub_perimeter: Array
    stub_area: Array
    stub_conductivity: Array
    spacer_conductance: Array


class Loss(NamedTuple):
    """Loss of one tube [W/K] and the temperature of its outer surface [K]."""

    conductance: Array
    surface_temperature: Array


def tube_loss(
    *,
    tube_temperature: Array,
    air_temperature: Array,
    pressure: Array,
    speed: Array | None,
    surface: TubeSurface,
) -> Loss:
    r"""Loss conductance of one tube at a temperature, two explicit passes on the surface.

    .. math:: UA = \frac{1}{R_{sleeve} + 1/[A(h_c+\varepsilon_e h_r)]}
        + \frac{2}{1/G_{fin} + 1/G_{spacer}}

    Parameters
    ----------
    tube_temperature
        Mean over the segment [K], any shape.
    air_temperature
        Temperature of the bay [K], broadcasts.
    pressure
        Air pressure in the bay [Pa], broadcasts.
    speed
        Forced air across the tube [m/s], or None in still air.
    surface
        What the tube shows to the bay; its emissivity is the effective one.

    Returns
    -------
    Loss
        Conductance [W/K] and temperature of the outer surface [K].

    Notes
    -----
    The film and the radiation are evaluated twice, at an explicit surface temperature; without a
    sleeve the surface is at the tube's temperature and nothing is approximated.

    Examples
    --------
    12 mm tube of 0.01131 m2 at 100 degC in air of 20 degC, emissivity 0.8, bare, ends insulated
    (hand: 0.01131 x (9.93 + 6.81), the two worked values of the film and of radiation):

    >>> bare = TubeSurface(diameter=0.012, area=0.01131, sleeve_resistance=0.0, emissivity=0.8,
    ...     natural_factor=1.0, forced_factor=1.0, stub_perimeter=0.0377, stub_area=6.28e-5,
    ...     stub_conductivity=18.0, spacer_conductance=0.0)
    >>> float(tube_loss(tube_temperature=jnp.asarray(373.15), air_temperature=jnp.asarray(293.15),
    ...     pressure=jnp.asarray(101_325.0), speed=None, surface=bare).conductance)
    0.1893

    References
    ----------
    Derived: resistances in series; :func:`mdo.disciplines.heat.convection.film_coefficient`,
    :func:`mdo.disciplines.heat.energy_balance.fin_conductance`.
    """
    excess = tube_temperature - air_temperature

    def pass_once(coefficient: Array) -> tuple[Array, Array]:
        drop = 1.0 + surface.area * coefficient * surface.sleeve_resistance
        outer = air_temperature + excess / drop
        film = film_coefficient(
            surface_temperature=outer,
            air_temperature=air_temperature,
            pressure=pressure,
            diameter=surface.diameter,
            speed=speed,
            natural_factor=surface.natural_factor,
            forced_factor=surface.forced_factor,
        )
        radiated = surface.emissivity * radiative_coefficient(outer, air_temperature)
        return film + radiated, outer

    first, _ = pass_once(jnp.asarray(FILM_GUESS))
    coefficient, _ = pass_once(first)
    bare = surface.area * coefficient
    drop = 1.0 + bare * surface.sleeve_resistance
    stub = fin_conductance(
        film_coefficient=coefficient,
        perimeter=surface.stub_perimeter,
        conductivity=surface.stub_conductivity,
        area=surface.stub_area,
    )
    ends = 2.0 * stub * surface.spacer_conductance / (stub + surface.spacer_conductance)
    return Loss(conductance=bare / drop + ends, surface_temperature=air_temperature + excess / drop)


def stuck_on_asymptote(
    *, power: Array, air_temperature: Array, pressure: Array, surface: TubeSurface
) -> Array:
    r"""Temperature at which a tube settles with its heater stuck on.

    .. math:: P = G_c(T_s-T_e) + \varepsilon_e\sigma A(T_s^4-T_e^4),\qquad
        T = T_s + P\,R_{sleeve}

    Parameters
    ----------
    power
        Heater power of one tube [W], any shape, not negative.
    air_temperature
        Temperature of the bay [K].
    pressure
        Air pressure in the bay [Pa].
    surface
        What the tube shows to the bay.

    Returns
    -------
    Array
        Asymptote of the tube [K].

    Notes
    -----
    Four Newton steps on a convex function from above (relative error under 1e-6); the film
    coefficient is that of the starting temperature; the ends are not credited (conservative).

    Examples
    --------
    Black tube of 1 m2 in a vacuum at 0 K, 5670.374419 W: 1000 K x (1/10)^(1/4) by Stefan's law.

    >>> black = TubeSurface(diameter=0.1, area=1.0, sleeve_resistance=0.0, emissivity=1.0,
    ...     natural_factor=0.0, forced_factor=0.0, stub_perimeter=1.0, stub_area=1.0,
    ...     stub_conductivity=1.0, spacer_conductance=0.0)
    >>> float(stuck_on_asymptote(power=jnp.asarray(5670.374419), air_temperature=jnp.asarray(1e-3),
    ...     pressure=jnp.asarray(1e5), surface=black))
    562.341

    References
    ----------
    Derived (steady balance).
    """
    radiating = surface.emissivity * STEFAN_BOLTZMANN * surface.area + 1e-15
    fourth = air_temperature**4
    by_radiation = jnp.sqrt(jnp.sqrt(fourth + power / radiating))
    by_convection = air_temperature + power / (surface.area * FILM_GUESS)
    estimate = jnp.minimum(by_radiation, by_convection)
    film = surface.area * film_coefficient(
        surface_temperature=estimate,
        air_temperature=air_temperature,
        pressure=pressure,
        diameter=surface.diameter,
        speed=None,
        natural_factor=surface.natural_factor,
        forced_factor=surface.forced_factor,
    )
    outer = jnp.minimum(by_radiation, air_temperature + power / film)
    for _ in range(4):
        balance = film * (outer - air_temperature) + radiating * (outer**4 - fourth) - power
        outer = outer - balance / (film + 4.0 * radiating * outer**3)
    return outer + power * surface.sleeve_resistance
