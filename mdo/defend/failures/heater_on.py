"""A heater that stays on: where its tube, the heater and the structure beside it end, and when."""

from __future__ import annotations

from typing import Any, NamedTuple

import jax.numpy as jnp
import numpy as np
from numpy.typing import NDArray

from mdo.disciplines.heat.hardware import TubeHardware, adjacent_temperature, tube_hardware
from mdo.disciplines.heat.heater import line_power_ratios
from mdo.disciplines.heat.loss import tube_loss
from mdo.optimise.appraisal import Appraisal

Floats = NDArray[np.float64]
STEPS = 200  # of the integral over the temperature
HALVINGS = 60


class Runaway(NamedTuple):
    """Heater stuck on in one set and leg: temperatures [K] that are reached, and times [s].

    ``times`` are from the hot temperature to the limit of each, by the heat balance of one tube;
    infinite where it is never reached. ``earliest`` leaves out every loss and all but the alloy.
    """

    tube: float
    heater: float
    structure: float
    limits: dict[str, float]
    times: dict[str, float]
    earliest: float


class _Tube:
    """One tube of a set in the hot bay of a leg."""

    def __init__(self, appraisal: Appraisal, leg: int, side: int) -> None:
        values, design = appraisal.values, appraisal.design
        given = appraisal.problem.assembled.parameters
        self.given, self.assumed = given, given["thermal_assumptions"]
        self.bay = float(values["bay_hot_temperature"][leg])
        self.pressure = float(values["air_pressure"][leg])
        self.hot = float(design["hot_temperature"])
        _, high = line_power_ratios(given["supply"])
        count = max(float(design["tube_count"][side]), 1e-3)
        tolerance = 1.0 + float(self.assumed.heater_tolerance_high)
        self.power = float(design["heater_power"][side]) / count * float(high) * tolerance
        self.hardware: TubeHardware = tube_hardware(
            tube_outer_radius=jnp.asarray(design["tube_outer_radius"]),
            wall_ratio=jnp.asarray(design["wall_ratio"]),
            tube_length=jnp.asarray(design["tube_length"]),
            insulation_thickness=jnp.asarray(design["insulation_thickness"]),
            fitting_mass_per_tube=jnp.asarray(values["fitting_mass_per_tube"][side]),
            radiation_exposure=jnp.asarray(values["radiation_exposure"]),
            convection_exposure=jnp.asarray(values["convection_exposure"]),
            alloy=given["alloy"],
            choices=given["choices"],
            assumed=self.assumed,
        )

    def loss(self, temperature: Any) -> tuple[Floats, Floats]:
        """Heat lost [W] and temperature of the outer surface [K]; nothing leaves by the ends."""
        surface = self.hardware.surface._replace(spacer_conductance=jnp.asarray(0.0))
        lost = tube_loss(
            tube_temperature=jnp.asarray(temperature),
            air_temperature=jnp.asarray(self.bay),
            pressure=jnp.asarray(self.pressure),
            speed=None,
            surface=surface,
        )
        heat = np.asarray(lost.conductance) * (np.asarray(temperature) - self.bay)
        return heat, np.asarray(lost.surface_temperature)

    def structure(self, surface: Any) -> Floats:
        """Structure beside the tube when it is steady [K]."""
        return np.asarray(
            adjacent_temperature(
                surface_temperature=jnp.asarray(surface),
                bay_temperature=jnp.asarray(self.bay),
                pressure=jnp.asarray(self.pressure),
                gap=jnp.asarray(self.given["vehicle"].structure_gap),
                emissivity=jnp.asarray(self.given["choices"].emissivity),
                assumed=self.assumed,
            )
        )

    def time_to(self, temperature: float) -> float:
        """Time from the hot temperature to a higher one [s]: ``int C dT/(P - loss)``."""
        if temperature <= self.hot:
            return 0.0
        course = np.linspace(self.hot, temperature, STEPS + 1)
        spare = self.power - self.loss(course)[0]
        if spare.min() <= 0.0:
            return np.inf
        return float(np.trapezoid(float(self.hardware.capacity_heating) / spare, course))

    def time_to_structure(self, limit: float, highest: float) -> float:
        """Time until the tube is as hot as takes the structure to its limit [s], if steady."""
        low, high = self.hot, highest
        if self.structure(self.loss(high)[1]) <= limit:
            return np.inf
        for _ in range(HALVINGS):
            middle = (low + high) / 2.0
            over = self.structure(self.loss(middle)[1]) > limit
            low, high = (low, middle) if over else (middle, high)
        return self.time_to(high)


def runaway(appraisal: Appraisal, leg: int, side: int) -> Runaway:
    """What a heater stuck on at high line does in the hot bay of a leg.

    Parameters
    ----------
    appraisal : the design
    leg, side : which leg, and which set (0 up, 1 down)

    Notes
    -----
    The tube ends at the equilibrium of the model, no heat by the ends. The heater is above its tube
    by the difference at the hot temperature, the structure is steady: both on the safe side.
    """
    tube = _Tube(appraisal, leg, side)
    given, values = tube.given, appraisal.values
    end = float(values["stuck_on_temperature"][leg, side])
    above = float(values["sheath_temperature"][side]) - tube.hot
    limits = {
        "alloy": float(given["alloy"].temperature_max),
        "heater": float(values["sheath_temperature_limit"]),
        "structure": float(given["vehicle"].adjacent_temperature_limit),
    }
    rise = max(limits["alloy"] - tube.hot, 0.0)
    stored = float(tube.hardware.tube_mass) * float(given["alloy"].specific_heat) * rise
    return Runaway(
        tube=end,
        heater=end + above,
        structure=float(tube.structure(end)),
        limits=limits,
        times={
            "alloy": tube.time_to(limits["alloy"]),
            "heater": tube.time_to(limits["heater"] - above),
            "structure": tube.time_to_structure(limits["structure"], end),
        },
        earliest=stored / max(tube.power, 1e-9),
    )
