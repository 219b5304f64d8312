"""One tube with its heater and sleeve: masses, capacities, surface; stretches of its heating."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.heat.energy_balance import sleeve_resistance
from mdo.disciplines.heat.heater import cartridge_mass, wrap_mass
from mdo.disciplines.heat.loss import TubeSurface
from mdo.disciplines.heat.radiation import effective_emissivity
from mdo.disciplines.records import Alloy, Choices
from mdo.disciplines.smooth import blended_max, blended_min

BLEND = 0.5  # [K] width of the blends of segment ends: exact outside, bias at most 0.125 K
BORE_LEAST = 5e-5  # [m] least heater radius, reached only by a tube without a bore


class TubeHardware(NamedTuple):
    """One tube with its heater, sleeve and share of fittings.

    Radii and heated length [m], masses [kg], capacities [J/K], surface towards the bay; scalars or
    one per set.
    """

    outer_radius: Array
    inner_radius: Array
    length: Array
    tube_mass: Array
    heater_radius: Array
    heater_mass: Array
    insulation_mass: Array
    capacity_heating: Array
    capacity_cooling: Array
    surface: TubeSurface


def _heater_mass(
    cartridge: Array, radius: Array, outside: Array, length: Array, assumed: ThermalAssumptions
) -> Array:
    """Mass of a cartridge of a radius, or of a wrap around the outside of the tube [kg]."""
    inside = cartridge_mass(
        radius=radius,
        length=length + 2.0 * assumed.cartridge_cold_end,
        density=assumed.cartridge_density,
    )
    around = wrap_mass(radius=outside, length=length, areal_mass=assumed.wrap_areal_mass)
    return jnp.where(cartridge, inside, around)


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
    heated = _heater_mass(cartridge, heater_radius, tube_outer_radius, tube_length, assumed)
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
        outer_radius=tube_outer_radius,
        inner_radius=inner_radius,
        length=tube_length,
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
