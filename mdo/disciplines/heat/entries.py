"""Discipline entries `heating`, `cooling` and `heat_answer`, made of the strokes of a level.

Two stages, because the motion time of heating sets inertia and damping before the loads are known,
and the stress under which a set cools is known only after them. What is steady (hold, heater at
high line, heater stuck on, structure) is the same at every level. Powers and energies are those of
ONE wing; :mod:`mdo.disciplines.electric.power` makes the aircraft of them.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.answer_parts import air_numbers, stuck_on_answer
from mdo.disciplines.heat.hardware import TubeHardware
from mdo.disciplines.heat.record import Cooling, HeatAnswer, Heating
from mdo.disciplines.heat.stage import Stage, heating_stage
from mdo.disciplines.heat.steady import driver_motion, steady_heating
from mdo.disciplines.heat.strokes import HeatStroke, StillLoss, still_losses
from mdo.disciplines.heat.tubes import HeatedTubes, HeatingStrokes, hardware_of
from mdo.disciplines.levels import HeatLevel
from mdo.disciplines.wiring import by_names

CoolingEnds = tuple[Array, Array]  # Ms', Mf' [K] of each set


class StrokeLaw(NamedTuple):
    """Strokes of a level of the heat, of both sets in every leg.

    Attributes
    ----------
    heating
        Heating without the dead time: ``heating(stage, tubes, losses)``.
    cooling
        Cooling in the hot bay between Ms' and Mf': ``cooling(hardware, tubes, (start, finish))``.
    heating_course
        Fields of :class:`mdo.disciplines.heat.record.HeatAnswer` on the course of heating from the
        command, and where its heat goes: ``heating_course(stage, tubes, dead_time)``.
    cooling_course
        The same on the course of cooling to Ms', then to Mf':
        ``cooling_course(hardware, tubes, (start, finish), cool_time)``.
    """

    heating: Callable[[Stage, HeatedTubes, StillLoss], HeatStroke]
    cooling: Callable[[TubeHardware, HeatedTubes, CoolingEnds], Cooling]
    heating_course: Callable[[Stage, HeatedTubes, Array], dict[str, Array]]
    cooling_course: Callable[[TubeHardware, HeatedTubes, CoolingEnds, Array], dict[str, Array]]


def heating(
    law: StrokeLaw, *, tubes: HeatedTubes, strokes: HeatingStrokes, holding_start: Array
) -> Heating:
    """Heating strokes of both sets in every leg.

    Parameters
    ----------
    law
        Strokes of the level.
    tubes
        Tubes in the bay.
    strokes
        What heats them, and between which temperatures.
    holding_start
        Ms' at the operating stress [K], shape (2,).

    Returns
    -------
    Heating
        Times [s], energies [J], powers [W], temperatures [K] and masses [kg] of one wing.

    Notes
    -----
    Heating: cold bay, lowest line, lower tolerance, dead time. Motion: As' to min(Af', hot), hot
    bay, highest line, upper tolerance. The hold, in the cold bay, needs the forward start Ms' at
    operating stress plus a margin.

    References
    ----------
    Reference thermal-power-mass, sections 2.1 to 2.13; the strokes are those of the level, of
    :mod:`mdo.disciplines.heat.balance` or :mod:`mdo.disciplines.heat.network`.
    """
    holding = holding_start + tubes.thermal_assumptions.hold_temperature_margin
    stage = heating_stage(tubes, strokes, holding)
    losses = still_losses(stage.spans(), holding, stage.phases.hot, stage.bay, stage.hardware)
    stroke = law.heating(stage, tubes, losses)
    return Heating(
        heat_time=jnp.asarray(strokes.requirements.dead_time) + stroke.time,
        motion_time=driver_motion(stroke.motion_time, tubes.legs, stage.choices),
        heat_energy=stage.tube_count * stroke.energy,
        ledger_residual=stroke.ledger_residual,
        **steady_heating(stage, losses, tubes.legs, strokes.vehicle),
    )


def cooling(
    law: StrokeLaw, *, tubes: HeatedTubes, cooling_start: Array, cooling_finish: Array
) -> Cooling:
    """Cooling of both sets in the hot bay of every leg; all of the latent heat.

    Parameters
    ----------
    law
        Strokes of the level.
    tubes
        Tubes in the bay.
    cooling_start, cooling_finish
        Ms', Mf' at the smallest return stress [K], shape (2,).

    Returns
    -------
    Cooling
        Times of cooling [s] and hottest bay on the way [K], shape (legs, 2).

    Notes
    -----
    From max(hot, Ms') to Ms', then to Mf'. Forced air only where cooling is a blower, and only
    while cooling. Times of a bay hotter than Mf' are large and finite.

    References
    ----------
    Reference thermal-power-mass, section 2; the strokes are those of the level, of
    :mod:`mdo.disciplines.heat.balance` or :mod:`mdo.disciplines.heat.network`.
    """
    return law.cooling(hardware_of(tubes), tubes, (cooling_start, cooling_finish))


def heat_answer(
    law: StrokeLaw,
    *,
    tubes: HeatedTubes,
    strokes: HeatingStrokes,
    hold_temperature: Array,
    cooling_start: Array,
    cooling_finish: Array,
    cool_time: Array,
    stuck_on_temperature: Array,
    sheath_temperature: Array,
    sheath_temperature_limit: Array,
) -> HeatAnswer:
    """Courses, ledgers and failures of the strokes of a level, for the report.

    Parameters
    ----------
    law
        Strokes of the level.
    tubes
        Tubes in the bay.
    strokes
        What heats them, and between which temperatures.
    hold_temperature
        Where the hold stands [K], shape (2,).
    cooling_start, cooling_finish
        Ms', Mf' at the smallest return stress [K], shape (2,).
    cool_time
        Time of cooling [s], shape (legs, 2).
    stuck_on_temperature
        Where a tube ends whose heater stays on [K], shape (legs, 2).
    sheath_temperature, sheath_temperature_limit
        Heater at high line [K], shape (2,), and what it bears [K].

    Returns
    -------
    HeatAnswer
        Courses [s] and [K], heat [J], times and temperatures of a heater stuck on.

    References
    ----------
    :mod:`mdo.disciplines.heat.answer_parts`; the strokes are those of the level.
    """
    stage = heating_stage(tubes, strokes, hold_temperature)
    ends = (cooling_start, cooling_finish)
    above = sheath_temperature - stage.phases.hot
    limit = sheath_temperature_limit - above
    radius = tubes.tube_outer_radius + tubes.insulation_thickness
    return HeatAnswer(
        **law.heating_course(stage, tubes, jnp.asarray(strokes.requirements.dead_time)),
        **law.cooling_course(stage.hardware, tubes, ends, cool_time),
        **stuck_on_answer(stage, stuck_on_temperature, limit, strokes.vehicle),
        stuck_on_heater_temperature=stuck_on_temperature + above,
        **air_numbers(stage, radius, tubes.legs),
    )


def level_by(law: StrokeLaw, module: str) -> HeatLevel:
    """Level of the heat made of its strokes, under the name of its module."""
    name = module.rpartition(".")[2]
    return HeatLevel(
        heating=by_names(heating, law, name=f"{name}_heating", module=module),
        cooling=by_names(cooling, law, name=f"{name}_cooling", module=module),
        answer=by_names(heat_answer, law, name=f"{name}_answer", module=module),
    )
