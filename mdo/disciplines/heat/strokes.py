"""Strokes of one tube: losses in every state, heating from the cold bay, cooling in the hot bay."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.energy_balance import segment_loss, segment_time
from mdo.disciplines.heat.hardware import BLEND, HeatingSpans, TubeHardware
from mdo.disciplines.heat.loss import tube_loss
from mdo.disciplines.heat.stage import Bay, TubePower
from mdo.disciplines.smooth import blended_max

LEAST_EXCESS = 5.0  # [K] of the tube above the bay, for the loss while cooling


class StillLoss(NamedTuple):
    """Loss of one tube in still air [W/K] at the temperatures that matter; surface when hot [K]."""

    stretches: tuple[Array, Array, Array]
    motion: Array
    hold: Array
    hot_cold: Array
    hot_hot: Array
    surface: Array


def still_losses(
    spans: HeatingSpans, holding: Array, hot_temperature: Array, bay: Bay, hardware: TubeHardware
) -> StillLoss:
    """All still-air losses of one tube in one call, at the mean temperature of each stretch.

    Parameters
    ----------
    spans
        Stretches of heating from the cold bay [K].
    holding
        Temperature of the hold [K].
    hot_temperature
        Temperature at which heating ends [K].
    bay, hardware
        Bay of each leg; one tube of each set.

    Returns
    -------
    StillLoss
        Conductances [W/K] and surface temperature [K].

    References
    ----------
    :func:`mdo.disciplines.heat.loss.tube_loss`.
    """
    first = bay.cold + spans.sensible
    second = first + spans.transformation
    shape = jnp.broadcast_shapes(first.shape, bay.cold.shape)
    middle = (first + second) / 2.0
    tube = [
        bay.cold + spans.sensible / 2.0,
        middle,
        second + spans.finish / 2.0,
        middle,
        jnp.broadcast_to(holding, shape),
        jnp.broadcast_to(hot_temperature, shape),
        jnp.broadcast_to(hot_temperature, shape),
    ]
    cold, hot = (jnp.broadcast_to(t, shape) for t in (bay.cold, bay.hot))
    loss = tube_loss(
        tube_temperature=jnp.stack(tube),
        air_temperature=jnp.stack([cold, cold, cold, hot, cold, cold, hot]),
        pressure=bay.pressure,
        speed=None,
        surface=hardware.surface,
    )
    ua = loss.conductance
    return StillLoss(
        stretches=(ua[0], ua[1], ua[2]),
        motion=ua[3],
        hold=ua[4],
        hot_cold=ua[5],
        hot_hot=ua[6, :, 0],
        surface=loss.surface_temperature[6, :, 0],
    )


class Warming(NamedTuple):
    """Heating of one tube from the cold bay, stretch after stretch, shape (legs, sets).

    Times [s] and temperatures [K] at the four ends of the three stretches; heat stored in all and
    lost [J]; ``settles``, where each stretch would come to rest [K].
    """

    times: tuple[Array, ...]
    temperatures: tuple[Array, ...]
    settles: tuple[Array, ...]
    stored: Array
    lost: Array


def warm_up(
    *,
    spans: HeatingSpans,
    heat: tuple[Array, Array, Array],
    conductance: tuple[Array, Array, Array],
    power: Array,
    cold: Array,
) -> Warming:
    """Walk through the three stretches of heating.

    Parameters
    ----------
    spans
        Temperature changes [K], shape (legs, sets).
    heat
        Heat stored in each [J].
    conductance
        Loss of each [W/K].
    power
        Heater power of one tube [W].
    cold
        Temperature of the bay and of the tube at the start [K].

    Returns
    -------
    Warming
        Times [s], temperatures [K], heat [J].

    References
    ----------
    :func:`mdo.disciplines.heat.energy_balance.segment_time`.
    """
    times, temperatures, lost = [jnp.zeros(())], [cold], jnp.zeros(())
    for quantity, span, loss in zip(heat, spans, conductance, strict=True):
        begin, end = temperatures[-1], temperatures[-1] + span
        took = segment_time(
            heat=quantity, conductance=loss, span=span, reach=power / loss - (end - cold)
        )
        lost += segment_loss(
            time=took, heat=quantity, conductance=loss, span=span, excess=begin - cold, power=power
        )
        times.append(times[-1] + took)
        temperatures.append(end)
    settles = tuple(cold + power / loss for loss in conductance)
    return Warming(tuple(times), tuple(temperatures), settles, heat[0] + heat[1] + heat[2], lost)


class HeatStroke(NamedTuple):
    """Heating strokes of one tube, shape (legs, sets): times [s], energy [J], residual [1]."""

    time: Array
    energy: Array
    motion_time: Array
    ledger_residual: Array


def heat_strokes(
    *,
    heat: tuple[Array, Array, Array],
    spans: HeatingSpans,
    loss: StillLoss,
    power: TubePower,
    bay: Bay,
) -> HeatStroke:
    """Heating from the cold bay at low line, and its middle stretch in the hot bay at high line.

    Parameters
    ----------
    heat
        Heat stored in each stretch [J], shape (legs, sets).
    spans
        Temperature changes [K].
    loss
        Losses of the stretches and of the motion [W/K].
    power, bay
        Power of one tube; bay of each leg.

    Returns
    -------
    HeatStroke
        Times [s], energy [J], residual of the ledger [1].

    References
    ----------
    :func:`warm_up`, :func:`mdo.disciplines.heat.energy_balance.segment_time`.
    """
    warming = warm_up(
        spans=spans, heat=heat, conductance=loss.stretches, power=power.low, cold=bay.cold
    )
    motion = segment_time(
        heat=heat[1],
        conductance=loss.motion,
        span=spans.transformation,
        reach=power.high / loss.motion - (warming.temperatures[2] - bay.hot),
    )
    time = warming.times[-1]
    energy = power.low * time
    scale = jnp.where(energy > 0.0, energy, 1.0)
    return HeatStroke(
        time=time,
        energy=energy,
        motion_time=motion,
        ledger_residual=(energy - warming.stored - warming.lost) / scale,
    )


def cooling_time(
    *,
    hardware: TubeHardware,
    latent: Array,
    hot_temperature: Array,
    cooling_start: Array,
    cooling_finish: Array,
    bay: Bay,
    speed: Array,
) -> tuple[Array, Array]:
    """Times from max(hot, Ms') to Ms' and to Mf' in the hot bay, all of the latent heat.

    Parameters
    ----------
    hardware, bay
        One tube of each set; bay of each leg.
    latent
        Latent heat of one tube [J].
    hot_temperature
        Temperature at which cooling starts [K].
    cooling_start, cooling_finish
        Ms', Mf' at the smallest return stress [K], shape (sets,).
    speed
        Air speed over the tubes [m/s], shape (legs, 1).

    Returns
    -------
    tuple
        Times [s], shape (legs, sets).

    Notes
    -----
    The loss is taken at no less than 5 K above the bay (exact from 10 K on, which the Mf margin
    asks of Mf' already): else a bay hotter than the tube would seem to cool it the faster.

    References
    ----------
    :func:`mdo.disciplines.heat.energy_balance.segment_time`; the least excess is judgement.
    """
    above = blended_max(hot_temperature - cooling_start, 0.0, BLEND)
    window = cooling_start - cooling_finish
    means = jnp.stack([cooling_start + above / 2.0, cooling_start - window / 2.0])
    loss = tube_loss(
        tube_temperature=blended_max(means[:, None, :], bay.hot + LEAST_EXCESS, LEAST_EXCESS),
        air_temperature=bay.hot,
        pressure=bay.pressure,
        speed=speed,
        surface=hardware.surface,
    ).conductance
    capacity = hardware.capacity_cooling
    sensible = segment_time(
        heat=capacity * above, conductance=loss[0], span=above, reach=cooling_start - bay.hot
    )
    return sensible, sensible + segment_time(
        heat=capacity * window + latent,
        conductance=loss[1],
        span=window,
        reach=cooling_finish - bay.hot,
    )
