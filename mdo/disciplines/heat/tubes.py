"""Tubes with their hardware in the bay of each leg, and what heats them: wired by their names."""

from __future__ import annotations

from typing import NamedTuple

from jax import Array

from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.heat.hardware import TubeHardware, tube_hardware
from mdo.disciplines.records import Alloy, Choices, Legs, Requirements, Supply, Vehicle
from mdo.disciplines.wiring import gathered


@gathered
class HeatedTubes(NamedTuple):
    """Tubes of both sets of one wing with their hardware, in the bay of each leg.

    Attributes
    ----------
    tube_outer_radius, tube_length, insulation_thickness
        Outer radius, heated length and sleeve of a tube [m].
    wall_ratio
        Wall over outer radius [1].
    tube_count
        Tubes of each set [1], shape (2,).
    hot_temperature
        Temperature at which heating ends and cooling starts [K].
    fitting_mass_per_tube
        Both end fittings of a tube [kg], shape (2,).
    radiation_exposure, convection_exposure
        View factor to the bay, free convection over that of one tube alone [1].
    air_pressure
        Air pressure in the bay [Pa], shape (legs,).
    bay_hot_temperature
        Hottest bay [K], shape (legs,).
    legs, alloy, choices, thermal_assumptions
        Records.
    """

    tube_outer_radius: Array
    wall_ratio: Array
    tube_length: Array
    tube_count: Array
    hot_temperature: Array
    insulation_thickness: Array
    fitting_mass_per_tube: Array
    radiation_exposure: Array
    convection_exposure: Array
    air_pressure: Array
    bay_hot_temperature: Array
    legs: Legs
    alloy: Alloy
    choices: Choices
    thermal_assumptions: ThermalAssumptions


@gathered
class HeatingStrokes(NamedTuple):
    """What heats the tubes, and between which temperatures.

    Attributes
    ----------
    operating_stress
        Mean shear stress of each set [Pa], shape (2,).
    heater_power
        Nominal electrical power of each set of one wing [W], shape (2,).
    heating_start, heating_finish
        As', Af' at the operating stress [K], shape (2,).
    heated_fraction
        Share of the martensite turned at the hot temperature [1], shape (2,).
    bay_cold_temperature
        Coldest bay [K], shape (legs,).
    vehicle, supply, requirements
        Records.
    """

    operating_stress: Array
    heater_power: Array
    heating_start: Array
    heating_finish: Array
    heated_fraction: Array
    bay_cold_temperature: Array
    vehicle: Vehicle
    supply: Supply
    requirements: Requirements


def hardware_of(tubes: HeatedTubes) -> TubeHardware:
    """Hardware of one tube of each set.

    Parameters
    ----------
    tubes
        Tubes in the bay.

    Returns
    -------
    TubeHardware
        Masses [kg], radius [m], capacities [J/K], surface.

    References
    ----------
    :func:`mdo.disciplines.heat.hardware.tube_hardware`.
    """
    return tube_hardware(
        tube_outer_radius=tubes.tube_outer_radius,
        wall_ratio=tubes.wall_ratio,
        tube_length=tubes.tube_length,
        insulation_thickness=tubes.insulation_thickness,
        fitting_mass_per_tube=tubes.fitting_mass_per_tube,
        radiation_exposure=tubes.radiation_exposure,
        convection_exposure=tubes.convection_exposure,
        alloy=tubes.alloy,
        choices=tubes.choices,
        assumed=tubes.thermal_assumptions,
    )
