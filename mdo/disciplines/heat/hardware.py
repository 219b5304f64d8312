"""Parts of the thermal balance: one tube's hardware, its heater check, the temperature segments."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.atmosphere import GAS_CONSTANT
from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.heat.convection import air_film
from mdo.disciplines.heat.energy_balance import (
    sleeve_resistance,
    wall_difference_bore,
    wall_difference_wrap,
)
from mdo.disciplines.heat.heater import (
    cartridge_mass,
    flux_limit,
    gap_conductance,
    winding_resistance,
    wrap_mass,
)
from mdo.disciplines.heat.loss import TubeSurface
from mdo.disciplines.heat.radiation import effective_emissivity, radiative_coefficient
from mdo.disciplines.records import Alloy, Choices
from mdo.disciplines.smooth import blended_max, blended_min

BLEND = 0.5  # [K] width of the blends of segment ends: exact outside, bias at most 0.125 K
BORE_LEAST = 5e-5  # [m] least heater radius, reached only by a tube without a bore


class TubeHardware(NamedTuple):
    """One tube with its heater, sleeve and share of fittings.

    Masses [kg], heater_radius [m], capacities [J/K], surface towards the bay; scalars or one per
    set.
    """

    tube_mass: Array
    heater_radius: Array
    heater_mass: Array
    insulation_mass: Array
    capacity_heating: Array
    capacity_cooling: Array
    surface: TubeSurface


def tube_hardware(
    *,
    tube_outer_radius: Array,
    wall_ratio: Array,
    tube_length: Array,
    insulation_thickness: Array,
    fitting_mass_per_tube: Array,
    radiation_exposure: Array,
    convection_exposure: Array,
    alloy: Alloy,
    choices: Choices,
    assumed: ThermalAssumptions,
) -> TubeHardware:
    r"""Masses, heat capacities and outer surface of one tube with its hardware.

    .. math:: C = m c + m_h c_h + \tfrac12 m_s c_s + \lambda m_f c_f

    Parameters
    ----------
    tube_outer_radius, tube_length
        Outer radius and heated length of the tube [m].
    wall_ratio
        Wall over outer radius [1].
    insulation_thickness
        Thickness of the sleeve [m].
    fitting_mass_per_tube
        Both end fittings of a tube [kg], one per set.
    radiation_exposure
        View factor of a tube to the bay [1].
    convection_exposure
        Free convection of a packed tube over that of one alone [1].
    alloy, choices, assumed
        Records.

    Returns
    -------
    TubeHardware
        Masses [kg], radius [m], capacities [J/K], surface.

    Notes
    -----
    Half the rise of the sleeve counts, and the soaked part of the fittings (more of it in the slow
    cooling than in the heating). The leads of the heater have mass but take no heat.

    References
    ----------
    Derived (sum of capacities); the soaked shares are judgement.
    """
    inner_radius = tube_outer_radius * (1.0 - wall_ratio)
    section = jnp.pi * (tube_outer_radius**2 - inner_radius**2)
    mass = jnp.asarray(alloy.density) * section * tube_length
    cartridge = jnp.asarray(choices.heater) > 0.5
    sleeve_radius = tube_outer_radius + jnp.where(cartridge, 0.0, assumed.wrap_thickness)
    outer = sleeve_radius + insulation_thickness
    heater_radius = blended_max(inner_radius - assumed.heater_gap, BORE_LEAST, BORE_LEAST)
    heated = jnp.where(
        cartridge,
        cartridge_mass(
            radius=heater_radius,
            length=tube_length + 2.0 * assumed.cartridge_cold_end,
            density=assumed.cartridge_density,
        ),
        wrap_mass(radius=tube_outer_radius, length=tube_length, areal_mass=assumed.wrap_areal_mass),
    )
    heat = jnp.where(cartridge, assumed.cartridge_specific_heat, assumed.wrap_specific_heat)
    sleeve = insulation_thickness * (outer + sleeve_radius) * jnp.pi * tube_length
    insulation_mass = assumed.insulation_density * sleeve
    common = (
        mass * jnp.asarray(alloy.specific_heat)
        + heated * heat
        + 0.5 * insulation_mass * assumed.insulation_specific_heat
    )
    fitting = fitting_mass_per_tube * assumed.fitting_specific_heat
    spacer_area = assumed.spacer_area_ratio * jnp.pi * tube_outer_radius**2
    return TubeHardware(
        tube_mass=mass,
        heater_radius=heater_radius,
        heater_mass=heated + assumed.heater_lead_mass,
        insulation_mass=insulation_mass,
        capacity_heating=common + assumed.fitting_soak_heating * fitting,
        capacity_cooling=common + assumed.fitting_soak_cooling * fitting,
        surface=TubeSurface(
            diameter=2.0 * outer,
            area=2.0 * jnp.pi * outer * tube_length,
            sleeve_resistance=sleeve_resistance(
                inner_radius=sleeve_radius,
                thickness=insulation_thickness,
                length=tube_length,
                conductivity=assumed.insulation_conductivity,
            ),
            emissivity=effective_emissivity(jnp.asarray(choices.emissivity), radiation_exposure),
            natural_factor=assumed.natural_factor * convection_exposure,
            forced_factor=assumed.forced_factor,
            stub_perimeter=2.0 * jnp.pi * tube_outer_radius,
            stub_area=section,
            stub_conductivity=jnp.asarray(alloy.conductivity_austenite),
            spacer_conductance=assumed.spacer_conductivity * spacer_area / assumed.spacer_thickness,
        ),
    )


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


def heater_check(
    *,
    power: Array,
    hot_temperature: Array,
    tube_outer_radius: Array,
    wall_ratio: Array,
    tube_length: Array,
    heater_radius: Array,
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
    tube_outer_radius, tube_length
        Outer radius and heated length of the tube [m].
    wall_ratio
        Wall over outer radius [1].
    heater_radius
        Radius of the cartridge [m].
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
    inner = jnp.maximum(tube_outer_radius * (1.0 - wall_ratio), BORE_LEAST)
    per_area = power / (2.0 * jnp.pi * tube_length)
    flux = per_area / jnp.where(cartridge, heater_radius, tube_outer_radius)
    bore_flux = per_area / inner
    radii = {
        "inner_radius": inner,
        "outer_radius": tube_outer_radius,
        "conductivity": jnp.asarray(alloy.conductivity_martensite),
    }
    wall = jnp.where(
        cartridge,
        wall_difference_bore(flux=bore_flux, **radii),
        wall_difference_wrap(flux=per_area / tube_outer_radius, **radii),
    )
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


class HeatingSpans(NamedTuple):
    """Temperature changes [K] of the three stretches of heating."""

    sensible: Array
    transformation: Array
    finish: Array


def heating_spans(
    *, start: Array, heating_start: Array, heating_finish: Array, hot_temperature: Array
) -> HeatingSpans:
    """Split the way to the hot temperature at As' and Af'; no part is negative.

    Parameters
    ----------
    start
        Temperature of the tube at the start [K], any shape.
    heating_start, heating_finish
        As' and Af' [K].
    hot_temperature
        Temperature at which heating ends [K].

    Returns
    -------
    HeatingSpans
        Three temperature changes [K].

    Notes
    -----
    Exact where the temperatures differ by 0.5 K or more; blended within, bias at most 0.125 K. A
    bay hotter than As' or a hot temperature below Af' shortens its stretch to zero.

    Examples
    --------
    From 293 to 393 K with As' 353 and Af' 383 K (hand):

    >>> spans = heating_spans(start=jnp.asarray(293.0), heating_start=jnp.asarray(353.0),
    ...     heating_finish=jnp.asarray(383.0), hot_temperature=jnp.asarray(393.0))
    >>> [float(part) for part in spans]
    [60.0, 30.0, 10.0]

    References
    ----------
    Derived.
    """
    whole = blended_max(hot_temperature - start, 0.0, BLEND)
    before = blended_max(heating_start - start, 0.0, BLEND)
    sensible = jnp.maximum(blended_min(before, whole, BLEND), 0.0)
    rest = whole - sensible
    window = blended_max(heating_finish - (start + sensible), 0.0, BLEND)
    transformation = jnp.maximum(blended_min(window, rest, BLEND), 0.0)
    return HeatingSpans(sensible, transformation, rest - transformation)


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
