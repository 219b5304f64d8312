"""Assumptions of the thermal discipline: defaults in ``mdo/study/defaults/thermal.toml``."""

from __future__ import annotations

from typing import NamedTuple

from jax import Array


class ThermalAssumptions(NamedTuple):
    """Heaters, insulation, ends, air and cooling; units and ranges in the file of defaults."""

    heater_tolerance_low: Array
    heater_tolerance_high: Array
    loss_uncertainty: Array
    heater_gap: Array
    gap_emissivity: Array
    cartridge_density: Array
    cartridge_specific_heat: Array
    cartridge_cold_end: Array
    cartridge_flux: Array
    cartridge_temperature_max: Array
    cartridge_conductivity: Array
    winding_radius_ratio: Array
    wrap_areal_mass: Array
    wrap_specific_heat: Array
    wrap_thickness: Array
    wrap_flux: Array
    wrap_temperature_max: Array
    adhesive_thickness: Array
    adhesive_conductivity: Array
    heater_lead_mass: Array
    insulation_conductivity: Array
    insulation_density: Array
    insulation_specific_heat: Array
    fitting_specific_heat: Array
    fitting_soak_heating: Array
    fitting_soak_cooling: Array
    spacer_conductivity: Array
    spacer_thickness: Array
    spacer_area_ratio: Array
    natural_factor: Array
    forced_factor: Array
    hold_temperature_margin: Array
    control_overshoot: Array
    structure_back_conductance: Array
    structure_emissivity: Array
    fan_efficiency: Array
    blower_head_loss: Array
    blower_area_ratio: Array
    blower_specific_mass: Array
    bay_capacity: Array
    bay_conductance: Array
    neighbour_view: Array
