r"""Level `balance` of the heat: each set is one lumped body, in closed form.

Constant loss per stretch of temperature, film coefficients at the mean temperature of each stretch.

.. math:: t_{heat} = t_{dead} + \sum_{3} \frac{Q_i}{UA_i\Delta T_i}
    \ln\frac{P-UA_i\theta_{i1}}{P-UA_i\theta_{i2}},\quad
    t_{cool} = \sum_{2} \frac{Q_i}{UA_i\Delta T_i}\ln\frac{\theta_{i1}}{\theta_{i2}}

Derived (lumped tube); reference sma-tubes, section 4, and thermal-power-mass, sections 2 to 2.13.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.energy_balance import REACH
from mdo.disciplines.heat.entries import CoolingEnds, StrokeLaw, level_by
from mdo.disciplines.heat.hardware import TubeHardware
from mdo.disciplines.heat.record import Cooling
from mdo.disciplines.heat.stage import Stage, blown_speed, hot_bay, stored_heat
from mdo.disciplines.heat.strokes import (
    HeatStroke,
    StillLoss,
    cooling_time,
    heat_strokes,
    still_losses,
    warm_up,
)
from mdo.disciplines.heat.tubes import HeatedTubes

POINTS = 25  # of a course on each stretch of temperature


class Stretch(NamedTuple):
    """One stretch of a course: times [s] and temperatures [K] at its ends, and where it settles."""

    begins: Array
    ends: Array
    first: Array
    last: Array
    settles: Array


def stretch_course(stretch: Stretch) -> tuple[Array, Array]:
    """Course of temperature over time on one stretch, POINTS points.

    Parameters
    ----------
    stretch
        Times [s] and temperatures [K] at the ends, where it settles [K]; any shape.

    Returns
    -------
    tuple
        Times [s] and temperatures [K], a last axis of POINTS.

    Notes
    -----
    The exponential of the lumped balance towards ``settles``; straight where the end is not within
    reach of it, as in :func:`mdo.disciplines.heat.energy_balance.segment_time`.

    Examples
    --------
    From 0 to 100 K on the way to 200 K, halfway in time (hand: 200 (1 - 2^-0.5)):

    >>> ends = (jnp.asarray(value) for value in (0.0, 60.0, 0.0, 100.0, 200.0))
    >>> time, kelvin = stretch_course(Stretch(*ends))
    >>> float(time[12]), float(kelvin[12])
    (30.0, 58.58)

    References
    ----------
    Derived (lumped tube).
    """
    share = jnp.linspace(0.0, 1.0, POINTS)
    begins, ends, start, end, settles = (
        jnp.broadcast_to(part, stretch.ends.shape)[..., None] for part in stretch
    )
    first, last = start - settles, end - settles
    straight = (first * last <= 0.0) | (jnp.minimum(jnp.abs(first), jnp.abs(last)) < REACH)
    ratio = jnp.where(straight, 1.0, last / jnp.where(straight, 1.0, first))
    curved = settles + first * ratio**share
    temperature = jnp.where(straight, start + share * (end - start), curved)
    return begins + share * (ends - begins), temperature


def _heating(stage: Stage, tubes: HeatedTubes, losses: StillLoss) -> HeatStroke:
    """Times and energies of heating."""
    del tubes  # all that this level wants of them stands in the stage
    spans = stage.spans()
    return heat_strokes(
        heat=stored_heat(stage.hardware, spans, stage.latent_loaded),
        spans=spans,
        loss=losses,
        power=stage.power,
        bay=stage.bay,
    )


def _heating_course(stage: Stage, tubes: HeatedTubes, dead_time: Array) -> dict[str, Array]:
    """Course of heating from the cold bay, its stages, and where its heat goes."""
    tube, cold, power = stage.hardware, stage.bay.cold, stage.power.low
    spans = stage.spans()
    losses = still_losses(spans, stage.phases.holding, stage.phases.hot, stage.bay, tube)
    warming = warm_up(
        spans=spans,
        heat=stored_heat(tube, spans, stage.latent_loaded),
        conductance=losses.stretches,
        power=power,
        cold=cold,
    )
    shape = jnp.broadcast_shapes(spans.sensible.shape, cold.shape)
    stages = [jnp.broadcast_to(dead_time + time, shape) for time in warming.times]
    begin = jnp.broadcast_to(cold, shape)
    stretches = map(
        Stretch,
        stages[:-1],
        stages[1:],
        warming.temperatures[:-1],
        warming.temperatures[1:],
        warming.settles,
    )
    courses = [stretch_course(stretch) for stretch in stretches]
    warmed = warming.temperatures[-1] - cold
    walls = tube.tube_mass * stage.alloy.specific_heat * warmed
    soaked = stage.assumed.fitting_specific_heat * stage.assumed.fitting_soak_heating
    ends = tubes.fitting_mass_per_tube * soaked * warmed
    rest = tube.capacity_heating * warmed - walls - ends
    work = stage.latent_loaded - stage.latent_free
    parts = jnp.broadcast_arrays(walls, rest, ends, stage.latent_free, work, warming.lost)
    return {
        "heating_course_time": jnp.concatenate(
            [jnp.zeros((*shape, 1)), *(course[0] for course in courses)], axis=-1
        ),
        "heating_course_temperature": jnp.concatenate(
            [begin[..., None], *(course[1] for course in courses)], axis=-1
        ),
        "heating_stage_time": jnp.stack(stages, axis=-1),
        "stroke_heat": stage.tube_count[:, None] * jnp.stack(parts, axis=-1),
        "stroke_heat_given": stage.tube_count * power * warming.times[-1],
    }


def _cooling_times(
    hardware: TubeHardware, tubes: HeatedTubes, ends: CoolingEnds, latent: Array
) -> tuple[Array, Array]:
    """Times to Ms' and to Mf' in the hot bay."""
    return cooling_time(
        hardware=hardware,
        latent=latent,
        hot_temperature=tubes.hot_temperature,
        cooling_start=ends[0],
        cooling_finish=ends[1],
        bay=hot_bay(tubes),
        speed=blown_speed(tubes.legs, tubes.choices)[:, None],
    )


def _cooling(hardware: TubeHardware, tubes: HeatedTubes, ends: CoolingEnds) -> Cooling:
    """Cooling in closed form; the bay is as large as the outside: its temperature stays."""
    latent = hardware.tube_mass * jnp.asarray(tubes.alloy.latent_heat)
    warm, time = _cooling_times(hardware, tubes, ends, latent)
    return Cooling(
        cool_time=time,
        warm_cooling_time=warm,
        bay_peak_temperature=jnp.broadcast_to(hot_bay(tubes).hot, time.shape),
    )


def _cooling_course(
    hardware: TubeHardware, tubes: HeatedTubes, ends: CoolingEnds, cool_time: Array
) -> dict[str, Array]:
    """Course of the cooling of each set in each leg: to Ms', then to Mf'."""
    start, finish = ends
    bay = hot_bay(tubes).hot
    sensible, _ = _cooling_times(hardware, tubes, (start, start), jnp.zeros(()))
    zero = jnp.zeros_like(cool_time)
    hot = jnp.maximum(tubes.hot_temperature, start)
    first = stretch_course(Stretch(zero, sensible, hot, start, bay))
    second = stretch_course(Stretch(sensible, cool_time, start, finish, bay))
    return {
        "cooling_course_time": jnp.concatenate([first[0], second[0]], axis=-1),
        "cooling_course_temperature": jnp.concatenate([first[1], second[1]], axis=-1),
    }


LEVEL = level_by(StrokeLaw(_heating, _cooling, _heating_course, _cooling_course), __name__)
balance_heating, balance_cooling, balance_answer = LEVEL
