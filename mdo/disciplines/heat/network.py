r"""Level `network` of the heat: nodes of temperature, implicit in time, latent heat by enthalpy.

A tube is heater, wall cells and sleeve; beside it stand the tubes of the other set, around it the
bay with a capacity of its own and a conductance to the outside, whose temperature is that which the
study gives for the bay. What is steady (hold, heater at high line, heater stuck on, structure) is
that of :mod:`mdo.disciplines.heat.steady`.

.. math:: \dot H_i = q_i - \sum_j G_{ij}(T_i - T_j),\quad H = C T + L\,a(T)

A stroke ends where the last cell of the wall is there. All of a set starts its cooling at the hot
temperature (the control has let the heater down), the bay at its hottest, the tubes of the other
set as hot as this one. What the hold gives to the bay is not in its peak. Reference
thermal-power-mass, sections 2.2 to 2.13; :mod:`mdo.disciplines.heat.network_strokes`.
"""

from __future__ import annotations

import jax
import jax.numpy as jnp
import numpy as np
from jax import Array

from mdo.disciplines.heat.entries import CoolingEnds, StrokeLaw, level_by
from mdo.disciplines.heat.hardware import TubeHardware
from mdo.disciplines.heat.network_stroke import Lane
from mdo.disciplines.heat.network_strokes import (
    HEATING_RUNGS,
    TURNS,
    CoolingTube,
    cooling_lanes,
    courses_of,
    figures_of,
    heating_lanes,
)
from mdo.disciplines.heat.network_tube import present_sets
from mdo.disciplines.heat.record import Cooling
from mdo.disciplines.heat.stage import Stage, blown_speed, hot_bay
from mdo.disciplines.heat.strokes import HeatStroke, StillLoss
from mdo.disciplines.heat.tubes import HeatedTubes


def _heating(stage: Stage, tubes: HeatedTubes, losses: StillLoss) -> HeatStroke:
    """Times and energies of heating, of the stroke in the cold bay; motion in the hot bay."""
    del losses  # those of the nodes are their own
    bay, power, exposure = stage.bay, stage.power, tubes.radiation_exposure
    cold = heating_lanes(stage, exposure, power.low, bay.cold[:, 0])
    warm = heating_lanes(stage, exposure, power.high, bay.hot[:, 0], mean=True)
    warm = warm._replace(wanted=jnp.broadcast_to(jnp.asarray([TURNS]), warm.wanted.shape))
    lanes = jax.tree.map(lambda *both: jnp.stack(both), cold, warm)  # one march for all
    figures, residual = figures_of(lanes, heats=True)
    time, motion = figures[..., 0]
    return HeatStroke(
        time=time, energy=power.low * time, motion_time=motion, ledger_residual=residual[0]
    )


def _heating_course(stage: Stage, tubes: HeatedTubes, dead_time: Array) -> dict[str, Array]:
    """Course of heating from the cold bay, its stages, and where its heat goes."""
    cold = stage.bay.cold
    lanes = heating_lanes(stage, tubes.radiation_exposure, stage.power.low, cold[:, 0])
    course = courses_of(lanes, heats=True)
    time = course.time + dead_time
    # the command is at time zero, the heaters begin after the dead time
    begin = jnp.zeros_like(time[..., :1])
    is_wall = jnp.where(lanes.network.latent > 0.0, 1.0, 0.0)[..., :-2]
    stored = lanes.network.capacity[..., :-2] * (course.end - lanes.start)[..., :-2]
    capacity = jnp.sum(lanes.network.capacity[..., :-2] * is_wall, axis=-1)
    cells = jnp.sum(stored * is_wall, axis=-1)
    mean = cells / capacity
    walls = stage.hardware.tube_mass * stage.alloy.specific_heat * mean
    soaked = stage.assumed.fitting_specific_heat * stage.assumed.fitting_soak_heating
    ends = tubes.fitting_mass_per_tube * soaked * mean
    sensible = jnp.sum(stored, axis=-1)
    given = stage.power.low * course.time[..., -1]
    work = stage.latent_loaded - stage.latent_free
    lost = given - sensible - stage.latent_loaded
    rest = sensible - walls - ends
    parts = jnp.broadcast_arrays(walls, rest, ends, stage.latent_free, work, lost)
    corners = np.cumsum([0, *(len(shares) for shares in HEATING_RUNGS)])
    return {
        "heating_course_time": jnp.concatenate([begin, time], axis=-1),
        "heating_course_temperature": jnp.concatenate(
            [course.ladder[..., :1], course.ladder], axis=-1
        ),
        "heating_stage_time": time[..., corners],
        "stroke_heat": stage.tube_count[:, None] * jnp.stack(parts, axis=-1),
        "stroke_heat_given": stage.tube_count * given,
    }


def _cooling_lanes(hardware: TubeHardware, tubes: HeatedTubes, ends: CoolingEnds) -> Lane:
    """Cooling of each set in each leg."""
    choices = tubes.choices
    tube = CoolingTube(
        hardware,
        present_sets(tubes.tube_count, choices),
        tubes.hot_temperature,
        *ends,
        tubes.radiation_exposure,
    )
    speed, assumed = blown_speed(tubes.legs, choices), tubes.thermal_assumptions
    return cooling_lanes(tube, hot_bay(tubes), speed, tubes.alloy, choices, assumed)


def _cooling(hardware: TubeHardware, tubes: HeatedTubes, ends: CoolingEnds) -> Cooling:
    """Times to Mf' and Ms', and the hottest bay on the way."""
    figures, _ = figures_of(_cooling_lanes(hardware, tubes, ends), heats=False)
    return Cooling(*jnp.moveaxis(figures, -1, 0))


def _cooling_course(
    hardware: TubeHardware, tubes: HeatedTubes, ends: CoolingEnds, cool_time: Array
) -> dict[str, Array]:
    """Course of the cooling of each set in each leg: to Ms', then to Mf'."""
    del cool_time  # the march ends where the stroke does
    course = courses_of(_cooling_lanes(hardware, tubes, ends), heats=False)
    return {"cooling_course_time": course.time, "cooling_course_temperature": course.ladder}


LEVEL = level_by(StrokeLaw(_heating, _cooling, _heating_course, _cooling_course), __name__)
network_heating, network_cooling, network_answer = LEVEL
