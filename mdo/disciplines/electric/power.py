"""Discipline entry `power`: peak power, energy, wiring, source and controller of the AIRCRAFT.

Both wings move together: powers and energies of one wing count n = 2 times, those of the assembly
on a bench once. Wire area and drop are those
of the feeder of one wing; masses are those of the aircraft.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.electric.assumptions import PowerAssumptions
from mdo.disciplines.electric.gauges import RESISTIVITY, temperature_factor
from mdo.disciplines.electric.storage import battery_mass, converter_mass, generator_mass
from mdo.disciplines.electric.wiring import conductor_area, smooth_larger, wire_mass
from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.heat.heater import line_power_ratios
from mdo.disciplines.records import Choices, Legs, Supply, real_legs
from mdo.disciplines.smooth import smooth_max
from mdo.disciplines.tube.roles import OPPOSED

POWER_FLOOR = 1e-3  # [W] keeps the smooth maxima defined when nothing is heated


class Power(NamedTuple):
    """Electrical result; aircraft unless said otherwise.

    peak_power () [W] at high line; fold_energy (L,) [J] from the source per leg; sortie_energy ()
    [J]; held_power (L,) [W] while holding; feeder_current () [A] and wire_area () [m**2], wire_drop
    () [V] of one wing's feeder; wire_loss () [W], both wings; masses () [kg]: wire_mass,
    battery_energy_mass, battery_power_mass, battery_mass, generator_mass, storage_mass (battery or
    generator), converter_mass, controller_mass. The battery has no mass with a generator and the
    other way round.
    """

    peak_power: Array
    fold_energy: Array
    sortie_energy: Array
    held_power: Array
    feeder_current: Array
    wire_area: Array
    wire_drop: Array
    wire_loss: Array
    wire_mass: Array
    battery_energy_mass: Array
    battery_power_mass: Array
    battery_mass: Array
    generator_mass: Array
    storage_mass: Array
    converter_mass: Array
    controller_mass: Array


class _Feeder(NamedTuple):
    """Feeder of one wing."""

    current: Array
    area: Array
    drop: Array
    mass: Array


def _feeder(power: Array, supply: Supply, assumed: PowerAssumptions) -> _Feeder:
    """Feeder of one wing for a peak power [W] at high line (low line if regulated)."""
    regulated = jnp.asarray(supply.regulated) > 0.5
    ratio = jnp.where(
        regulated, jnp.asarray(supply.low_voltage_ratio), jnp.asarray(supply.high_voltage_ratio)
    )
    current = power / (jnp.asarray(supply.nominal_voltage) * ratio)
    loop = 2.0 * jnp.asarray(supply.run_length)
    area = conductor_area(
        current=current,
        loop_length=loop,
        allowed_drop=jnp.asarray(supply.allowed_drop),
        temperature=assumed.wire_temperature,
        rating=jnp.asarray(supply.wire_temperature_rating),
        area_min=assumed.wire_area_min,
    )
    resistance = RESISTIVITY * temperature_factor(assumed.wire_temperature) * loop / area
    mass = wire_mass(
        area=area,
        loop_length=loop,
        density=assumed.wire_density,
        insulation_factor=assumed.wire_insulation_factor,
        installation_factor=assumed.wire_installation_factor,
    )
    return _Feeder(current=current, area=area, drop=current * resistance, mass=mass)


def _largest(values: Array, legs: Legs) -> Array:
    """Smooth maximum over legs of values >= 0, high by at most 1e-4 of their sum."""
    real = real_legs(legs, values)
    scale = jnp.sum(values, where=real) + POWER_FLOOR
    return smooth_max(values, scale=scale, axis=0, where=real)


def _source_masses(
    energy: Array, peak: Array, supply: Supply, assumed: PowerAssumptions
) -> dict[str, Array]:
    """Masses of battery or generator, by what feeds the bus, and of the converter [kg]."""
    on_battery = jnp.asarray(supply.battery)
    battery = battery_mass(
        energy=energy,
        power=peak,
        specific_energy=assumed.battery_specific_energy,
        specific_power=assumed.battery_specific_power,
        depth=assumed.battery_depth,
        efficiency=assumed.battery_efficiency,
        cold_energy_factor=assumed.battery_cold_energy_factor,
        cold_power_factor=assumed.battery_cold_power_factor,
        margin=assumed.battery_margin,
    )
    generator = generator_mass(power=peak, specific_mass=assumed.generator_specific_mass)
    stored, generated = on_battery * battery.mass, (1.0 - on_battery) * generator
    small, large = assumed.converter_specific_mass_small, assumed.converter_specific_mass_large
    return {
        "battery_energy_mass": on_battery * battery.energy_mass,
        "battery_power_mass": on_battery * battery.power_mass,
        "battery_mass": stored,
        "generator_mass": generated,
        "storage_mass": stored + generated,
        "converter_mass": converter_mass(power=peak, small=small, large=large),
    }


def _cooling_under_drive(legs: Legs, choices: Choices) -> Array:
    """Time for which the other set of a pair cools while the driver stays hot [s], (legs,).

    The limit of that cooling: the time itself follows from the moment, and so from the masses.
    """
    pair = (jnp.asarray(choices.configuration) == OPPOSED) & (
        jnp.asarray(choices.return_mode) < 0.5
    )
    returning = legs.is_return * jnp.asarray(legs.time_limit)
    driven = jnp.where(jnp.asarray(legs.other_warmed) > 0.5, legs.cooling_limit, returning)
    return jnp.where(pair, driven * (1.0 - jnp.asarray(legs.other_cold)), 0.0)


def power(
    *,
    heater_power: Array,
    tube_count: Array,
    hold_power: Array,
    heat_energy: Array,
    heat_time: Array,
    blower_power: Array,
    pushes_up: Array,
    heated: Array,
    legs: Legs,
    choices: Choices,
    supply: Supply,
    thermal_assumptions: ThermalAssumptions,
    power_assumptions: PowerAssumptions,
) -> Power:
    r"""Electrical demand of the aircraft and the masses that it costs.

    .. math:: P_{peak} = \frac{n}{\eta}\left[\max_s(P_s)\,r_{high}(1+tol)+P_{blower}\right],\qquad
        E_{sortie} = n_{folds}\left[\max_{fold}E_{leg}+\max_{return}E_{leg}\right]

    Parameters
    ----------
    heater_power
        Nominal power of each set of one wing [W], shape (S,).
    tube_count
        Tubes of each set [1], shape (S,).
    hold_power
        Hold power of one wing [W], shape (L, S).
    heat_energy
        Heater energy of one wing [J], shape (L, S).
    heat_time
        Heating stroke [s], shape (L, S).
    blower_power
        Blower of one wing [W], scalar.
    pushes_up, heated
        Who drives each leg [1], shape (L,).
    legs, choices, supply, thermal_assumptions, power_assumptions
        Records.

    Returns
    -------
    Power
        Powers [W], energies [J], masses [kg] and the feeder.

    Notes
    -----
    One set of a wing heats at a time, but where a leg warms the other one first; meanwhile the
    blower may cool the other. The blower runs for the whole time limit of a return leg, and the set
    that drives holds hot for as long while the other set of a pair cools under it. Hot holds of
    cases without motion are not in the sortie: no leg states how long.
    Smooth maxima: bias at most 1e-3 relative.

    References
    ----------
    Derived (balance of powers); :mod:`mdo.disciplines.electric.storage`,
    :mod:`mdo.disciplines.electric.wiring`.
    """
    assumed = power_assumptions
    wings = jnp.asarray(choices.assemblies)
    _, high_line = line_power_ratios(supply)
    highest = high_line * (1.0 + thermal_assumptions.heater_tolerance_high)
    present = jnp.asarray(choices.set_present)
    set_power = present * heater_power + POWER_FLOOR
    # a set that is warmed for the other one keeps its heaters on until that one is hot
    warmed = jnp.asarray(legs.other_warmed) * legs.moves
    larger = smooth_larger(set_power[0], set_power[1])
    drawn = jnp.where(jnp.max(warmed) > 0.5, jnp.sum(set_power), larger)
    wing_power = drawn * highest + blower_power
    efficiency = assumed.converter_efficiency
    peak = wings * wing_power / efficiency
    drives = heated[:, None] * jnp.stack([pushes_up, 1.0 - pushes_up], axis=-1)
    returning = jnp.asarray(legs.is_return)
    heats = drives + warmed[:, None] * (heated[:, None] - drives)
    waits = jnp.maximum(_cooling_under_drive(legs, choices)[:, None] - heat_time, 0.0)
    spent = present * (heats * heat_energy + drives * hold_power * waits)
    heater_energy = jnp.sum(spent, axis=-1) * jnp.asarray(legs.moves)
    blown = blower_power * jnp.asarray(legs.time_limit) * returning
    leg_energy = wings * (heater_energy + blown) / efficiency
    sortie = jnp.asarray(supply.folds_per_sortie) * (
        _largest(leg_energy * (1.0 - returning), legs) + _largest(leg_energy * returning, legs)
    )
    held = jnp.sum(drives * present * hold_power, axis=-1) * jnp.asarray(legs.holds)
    feeder = _feeder(wing_power, supply, assumed)
    channels = wings * jnp.sum(present * tube_count) / assumed.tubes_per_channel
    return Power(
        peak_power=peak,
        fold_energy=leg_energy,
        sortie_energy=sortie,
        held_power=wings * held / efficiency,
        feeder_current=feeder.current,
        wire_area=feeder.area,
        wire_drop=feeder.drop,
        wire_loss=wings * feeder.current * feeder.drop,
        wire_mass=wings * feeder.mass,
        **_source_masses(sortie, peak, supply, assumed),
        controller_mass=assumed.controller_base_mass + assumed.controller_channel_mass * channels,
    )
