"""Strokes of one tube: losses in every state, heating from the cold bay, cooling in the hot bay."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.energy_balance import segment_loss, segment_time
from mdo.disciplines.heat.hardware import BLEND, HeatingSpans, TubeHardware
from mdo.disciplines.heat.loss import tube_loss
from mdo.disciplines.smooth import blended_max

LEAST_EXCESS = 5.0  # [K] of the tube above the bay, for the loss while cooling


class TubePower(NamedTuple):
    """Heater power of one tube of each set [W] at low and high line with its tolerance."""

    low: Array
    high: Array


class Bay(NamedTuple):
    """Bay of each leg as a column, shape (legs, 1): temperatures [K], pressure [Pa]."""

    cold: Array
    hot: Array
    pressure: Array


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
    """All still-air losses in one vectorised call, at the mean temperature of each stretch."""
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


class HeatStroke(NamedTuple):
    """Heating strokes of one tube, shape (legs, sets)."""

    time: Array
    energy: Array
    motion_time: Array
    ledger_residual: Array


def heat_strokes(
    *,
    heat: tuple[Array, Array, Array],
    spans: tuple[Array, Array, Array],
    conductance: tuple[Array, Array, Array],
    motion_conductance: Array,
    power: TubePower,
    bay: Bay,
) -> HeatStroke:
    """Three stretches of heating from the cold bay, and the middle one in the hot bay."""
    begin = bay.cold
    time, lost, stored = jnp.zeros(()), jnp.zeros(()), jnp.zeros(())
    for quantity, span, loss in zip(heat, spans, conductance, strict=True):
        end = begin + span
        took = segment_time(
            heat=quantity,
            conductance=loss,
            span=span,
            reach=power.low / loss - (end - bay.cold),
        )
        lost += segment_loss(
            time=took,
            heat=quantity,
            conductance=loss,
            span=span,
            excess=begin - bay.cold,
            power=power.low,
        )
        time, stored, begin = time + took, stored + quantity, end
    finish = bay.cold + spans[0] + spans[1]
    motion = segment_time(
        heat=heat[1],
        conductance=motion_conductance,
        span=spans[1],
        reach=power.high / motion_conductance - (finish - bay.hot),
    )
    energy = power.low * time
    scale = jnp.where(energy > 0.0, energy, 1.0)
    return HeatStroke(
        time=time,
        energy=energy,
        motion_time=motion,
        ledger_residual=(energy - stored - lost) / scale,
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
    """Times [s] in the hot bay from max(hot, Ms') to Ms' and to Mf', all latent heat, (L, S).

    The loss is taken at no less than 5 K above the bay (exact from 10 K on, which the return gate
    asks of Mf' already): else a bay hotter than the tube would seem to cool it the faster.
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
        heat=capacity * above,
        conductance=loss[0],
        span=above,
        reach=cooling_start - bay.hot,
    )
    return sensible, sensible + segment_time(
        heat=capacity * window + latent,
        conductance=loss[1],
        span=window,
        reach=cooling_finish - bay.hot,
    )
