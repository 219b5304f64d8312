"""Numbers of the cautions that no value of a design holds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import jax.numpy as jnp
import numpy as np

from mdo.defend.cautions.base import present_sets
from mdo.disciplines.heat.convection import GRAVITY, air_film
from mdo.disciplines.heat.hardware import adjacent_temperature
from mdo.disciplines.tube import torsion

if TYPE_CHECKING:
    from mdo.optimise.appraisal import Appraisal


def stuck_tube_temperature(appraisal: Appraisal) -> float:
    """Hottest tube with its heater stuck on, over legs and sets [K]."""
    return float(appraisal.values["stuck_on_temperature"][:, present_sets(appraisal)].max())


def stuck_structure_temperature(appraisal: Appraisal) -> float:
    """Hottest structure beside the tubes with a heater stuck on [K]."""
    given, values = appraisal.problem.assembled.parameters, appraisal.values
    beside = adjacent_temperature(
        surface_temperature=jnp.asarray(values["stuck_on_temperature"]),
        bay_temperature=jnp.asarray(values["bay_hot_temperature"])[:, None],
        pressure=jnp.asarray(values["air_pressure"])[:, None],
        gap=given["vehicle"].structure_gap,
        emissivity=given["choices"].emissivity,
        assumed=given["thermal_assumptions"],
    )
    return float(np.asarray(beside)[:, present_sets(appraisal)].max())


def outer_stall_stress(appraisal: Appraisal) -> float:
    """Stress of the outer fibre of blocked tubes that are heated all the same [Pa]."""
    design = appraisal.design
    section = torsion.section(design["tube_outer_radius"], design["wall_ratio"])
    return float(torsion.outer_stress(float(appraisal.values["stall_stress"]), section))


def air_numbers(appraisal: Appraisal) -> tuple[float, float]:
    """Largest Rayleigh number, and least Peclet number of blown legs (infinite without any)."""
    values, design = appraisal.values, appraisal.design
    hot, bay = design["hot_temperature"], values["bay_cold_temperature"]
    film = (hot + bay) / 2.0
    air = air_film(jnp.asarray(film), jnp.asarray(values["air_pressure"]))
    diameter = 2.0 * (design["tube_outer_radius"] + design["insulation_thickness"])
    kinematic, prandtl = np.asarray(air.viscosity / air.density), np.asarray(air.prandtl)
    rayleigh = GRAVITY * (hot - bay) * diameter**3 * prandtl / (film * kinematic**2)
    speed = np.asarray(appraisal.problem.assembled.parameters["legs"].bay_air_speed)
    blown = (speed > 0.0) & (appraisal.study.actuator.cooling == "blower")
    peclet = (speed * diameter / kinematic * prandtl)[blown]
    return float(rayleigh.max()), float(peclet.min(initial=np.inf))
