"""What every level of the heat gives: all that anyone downstream may want of it."""

from __future__ import annotations

from typing import NamedTuple

from jax import Array


class Heating(NamedTuple):
    """Heating of one wing; L legs, 2 sets (up, down). Absent sets hold finite numbers.

    heat_time (L, 2) [s]; motion_time (L,) [s]; heat_energy (L, 2) electrical [J] per stroke at low
    line; hold_power (L, 2) [W]; hold_temperature (2,) [K]; loss_conductance_hot (L, 2) [W/K] in the
    cold bay; power_balance (L, 2), >= 0 good; heater_flux, heater_flux_limit (2,) [W/m2] at high
    line; sheath_temperature (2,), sheath_temperature_limit () [K]; wall_temperature_difference (2,)
    [K]; tube_temperature_max (); surface_temperature_hot, structure_temperature_hot (L,),
    stuck_on_temperature (L, 2) [K] in the hot bay; heater_mass_per_tube, insulation_mass_per_tube
    [kg]; ledger_residual (L, 2); blower_power [W], blower_mass [kg] of one wing.
    """

    heat_time: Array
    motion_time: Array
    heat_energy: Array
    hold_power: Array
    hold_temperature: Array
    loss_conductance_hot: Array
    power_balance: Array
    heater_flux: Array
    heater_flux_limit: Array
    sheath_temperature: Array
    sheath_temperature_limit: Array
    wall_temperature_difference: Array
    tube_temperature_max: Array
    surface_temperature_hot: Array
    structure_temperature_hot: Array
    stuck_on_temperature: Array
    heater_mass_per_tube: Array
    insulation_mass_per_tube: Array
    ledger_residual: Array
    blower_power: Array
    blower_mass: Array


class Cooling(NamedTuple):
    """Cooling of one wing, (L, 2).

    cool_time to Mf', warm_cooling_time to Ms' [s]; bay_peak_temperature, hottest on the way [K].
    """

    cool_time: Array
    warm_cooling_time: Array
    bay_peak_temperature: Array


# Where the heat of a stroke goes, in the order of HeatAnswer.stroke_heat.
HEAT_PARTS = (
    "warming the tubes",
    "warming heaters and sleeves",
    "warming the end fittings",
    "latent heat of the alloy",
    "work of a whole stroke at operating stress",
    "lost to the bay",
)
# What a heater that stays on may overheat, in the order of HeatAnswer.stuck_on_time.
STUCK_ON_PARTS = ("alloy", "heater", "structure")


class HeatAnswer(NamedTuple):
    """What only a report asks of the heat of one wing; L legs, 2 sets, P points in time.

    Courses of each stroke in time [s] and temperature [K], (L, 2, P): heating from the command in
    the cold bay, cooling from the cut in the hot bay; heating_stage_time (L, 2, 4) [s]: start, As',
    Af', hot. Heat of a set per stroke [J]: stroke_heat (L, 2, 6) in the order of HEAT_PARTS, and
    stroke_heat_given (L, 2) by the heaters. A heater stuck on at high line in the hot bay:
    stuck_on_structure_temperature, stuck_on_heater_temperature (L, 2) [K]; stuck_on_time (L, 2, 3)
    [s] from the hot temperature to each limit in the order of STUCK_ON_PARTS, infinite where never;
    stuck_on_earliest (L, 2) [s] without any loss. Range of the correlations: rayleigh_number,
    peclet_number (L,), infinite where no air is blown.
    """

    heating_course_time: Array
    heating_course_temperature: Array
    heating_stage_time: Array
    cooling_course_time: Array
    cooling_course_temperature: Array
    stroke_heat: Array
    stroke_heat_given: Array
    stuck_on_structure_temperature: Array
    stuck_on_heater_temperature: Array
    stuck_on_time: Array
    stuck_on_earliest: Array
    rayleigh_number: Array
    peclet_number: Array
