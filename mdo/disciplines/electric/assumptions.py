"""Assumptions of the power discipline: defaults in ``mdo/study/defaults/power.toml``."""

from __future__ import annotations

from typing import NamedTuple

from jax import Array


class PowerAssumptions(NamedTuple):
    """Wiring, battery, converter and controller; units and ranges in the file of defaults."""

    wire_temperature: Array
    wire_density: Array
    wire_insulation_factor: Array
    wire_installation_factor: Array
    wire_area_min: Array
    battery_specific_energy: Array
    battery_specific_power: Array
    battery_depth: Array
    battery_efficiency: Array
    battery_cold_energy_factor: Array
    battery_cold_power_factor: Array
    battery_margin: Array
    generator_specific_mass: Array
    converter_specific_mass_small: Array
    converter_specific_mass_large: Array
    converter_efficiency: Array
    controller_base_mass: Array
    controller_channel_mass: Array
    tubes_per_channel: Array
