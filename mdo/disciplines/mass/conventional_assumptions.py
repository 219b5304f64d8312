"""Assumptions of the conventional baselines: geared electric hinge and hydraulic vane."""

from __future__ import annotations

from typing import NamedTuple

from mdo.disciplines.records import Scalar


class BaselineAssumptions(NamedTuple):
    """Assumptions of the baselines; units and meanings stand in :mod:`mdo.quantities`."""

    torque_density: Scalar
    gear_efficiency: Scalar
    speed_peak_factor: Scalar
    motor_efficiency: Scalar
    brake_share: Scalar
    no_back_share: Scalar
    housing_share: Scalar
    controller_specific_mass: Scalar
    controller_mass_min: Scalar
    source_specific_mass: Scalar
    packing_density: Scalar
    hydraulic_pressure: Scalar
    hydraulic_efficiency: Scalar
    hydraulic_allowable: Scalar
    hydraulic_shell_density: Scalar
    hydraulic_shell_factor: Scalar
    hydraulic_fluid_density: Scalar
    hydraulic_valve_mass: Scalar
    hydraulic_line_mass: Scalar
    hydraulic_pump_specific_mass: Scalar
