"""Strokes of both sets in every leg as marches of a network of nodes: heating and cooling."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.heat.hardware import BLEND, TubeHardware, heating_spans
from mdo.disciplines.heat.network_march import Course, march
from mdo.disciplines.heat.network_nodes import CELLS, TubeNetwork, enthalpy
from mdo.disciplines.heat.network_tube import (
    Sets,
    Surroundings,
    Turning,
    present_sets,
    tube_network,
)
from mdo.disciplines.heat.stage import Bay, Stage
from mdo.disciplines.records import Alloy, Choices
from mdo.disciplines.smooth import blended_max

# Six times as many steps move the times by less than 0.01 %.
HEATING_STEPS = (16, 24, 8)  # to As', to Af', to the hot temperature
HEATING_CORNERS = (16, 40)  # rungs of As' and of Af'
COOLING_STEPS = (16, 32)  # to Ms', to Mf'


class Strokes(NamedTuple):
    """Strokes of every leg and set, R rungs of the ladder.

    time [s] and temperature [K] of the cell that ends them, (legs, 2, R); bay_peak [K] and residual
    of the ledger [1], (legs, 2); start and end [K] and capacity [J/K] of the nodes, (legs, 2,
    nodes).
    """

    time: Array
    temperature: Array
    bay_peak: Array
    residual: Array
    start: Array
    end: Array
    capacity: Array


def ladder_between(corners: list[Array], steps: tuple[int, ...]) -> Array:
    """Temperatures from corner to corner in equal steps.

    Parameters
    ----------
    corners
        Temperatures [K], one more than there are numbers of steps.
    steps
        Of each stretch [1].

    Returns
    -------
    Array
        Temperatures [K].

    Examples
    --------
    >>> ladder_between([jnp.asarray(0.0), jnp.asarray(2.0), jnp.asarray(3.0)], (2, 1)).tolist()
    [0.0, 1.0, 2.0, 3.0]

    References
    ----------
    Derived.
    """
    stretches = [
        first + (last - first) * jnp.linspace(0.0, 1.0, count + 1)[1:]
        for first, last, count in zip(corners[:-1], corners[1:], steps, strict=True)
    ]
    return jnp.concatenate([corners[0][None], *stretches])


def _run(
    network: TubeNetwork, start: Array, ladder: Array, event: Array, direction: float
) -> Strokes:
    """Times and temperatures of the ladder, peak of the bay, ledger, nodes at start and end."""
    course: Course = march(
        start=start, ladder=ladder, event=event, direction=direction, network=network
    )
    given = network.power * course.end.time
    reached = course.end.temperature
    stored = jnp.sum(enthalpy(reached, network) - enthalpy(start, network))
    scale = jnp.maximum(jnp.abs(given), jnp.abs(stored)) + 1e-9
    residual = (given - stored - course.end.lost) / scale
    peak = jnp.max(course.bay)
    return Strokes(course.time, ladder, peak, residual, start, reached, network.capacity)


def _every_leg_and_set(
    one_stroke: Callable[[Any, Any], Strokes], per_set: tuple[Any, ...], per_leg: tuple[Any, ...]
) -> Strokes:
    """Map a stroke of one set in one leg over both."""
    each_set = jax.tree.map(lambda leaf: jnp.broadcast_to(leaf, (2,)), per_set)
    over_sets = jax.vmap(one_stroke, in_axes=(0, None))
    strokes: Strokes = jax.vmap(over_sets, in_axes=(None, 0))(each_set, per_leg)
    return strokes


def _last_cell(choices: Choices, cells: int) -> Array:
    """Which node is heated last: the outer cell around a cartridge, the inner one in a wrap."""
    nodes = jnp.arange(cells + 3)
    return jnp.where(jnp.asarray(choices.heater) > 0.5, nodes == cells, nodes == 1) * 1.0


def heating_strokes(
    stage: Stage,
    exposure: Array,
    power: Array,
    outside: Array,
    *,
    cells: int = CELLS,
    steps: tuple[int, ...] = HEATING_STEPS,
) -> Strokes:
    """Heating of each set from a bay at rest, the other set as cold as the bay.

    Parameters
    ----------
    stage
        What a stroke is made of.
    exposure
        View factor of a tube to all beyond its set [1].
    power
        Heater power of one tube of each set [W], shape (2,).
    outside
        Temperature outside the bay, and of all in it at the start [K], shape (legs,).
    cells
        Cells of the wall [1].
    steps
        Steps to As', to Af' and to the hot temperature [1].

    Returns
    -------
    Strokes
        Times [s], temperatures [K], ledger [1].

    References
    ----------
    :func:`mdo.disciplines.heat.network_march.march`.
    """
    tube, phases = stage.hardware, stage.phases
    sets = present_sets(stage.tube_count, stage.choices)
    idle = Turning(jnp.zeros(()), jnp.ones(()), jnp.zeros(()))
    other_capacity = jnp.broadcast_to(tube.capacity_heating, (2,))[::-1]

    def one_stroke(this: Any, leg: Any) -> Strokes:
        hardware, count, beside, watts, latent, start, finish = this
        cold, pressure = leg
        spans = heating_spans(
            start=cold, heating_start=start, heating_finish=finish, hot_temperature=phases.hot
        )
        first = cold + spans.sensible
        second = first + spans.transformation
        network = tube_network(
            hardware=hardware,
            capacity=hardware.capacity_heating,
            turning=Turning(first, spans.transformation, latent),
            other=idle,
            other_capacity=beside,
            power=watts,
            sets=count,
            surroundings=Surroundings(cold, pressure, None),
            exposure=exposure,
            alloy=stage.alloy,
            choices=stage.choices,
            assumed=stage.assumed,
            cells=cells,
        )
        return _run(
            network,
            jnp.full(cells + 3, cold),
            ladder_between([cold, first, second, second + spans.finish], steps),
            _last_cell(stage.choices, cells),
            1.0,
        )

    per_set = (
        tube,
        sets,
        other_capacity,
        power,
        stage.latent_loaded,
        phases.start,
        phases.finish,
    )
    return _every_leg_and_set(one_stroke, per_set, (outside, stage.bay.pressure[:, 0]))


class CoolingTube(NamedTuple):
    """What cools: tubes of both sets [1], where from, Ms' and Mf' [K], view beyond the set [1]."""

    hardware: TubeHardware
    sets: Sets
    hot: Array
    start: Array
    finish: Array
    exposure: Array


def cooling_strokes(
    tube: CoolingTube,
    bay: Bay,
    speed: Array,
    alloy: Alloy,
    choices: Choices,
    assumed: ThermalAssumptions,
    *,
    cells: int = CELLS,
    steps: tuple[int, ...] = COOLING_STEPS,
) -> Strokes:
    """Cooling of each set in the hot bay, the other set as hot as this one at the start.

    Parameters
    ----------
    tube
        What cools.
    bay
        Bay of each leg.
    speed
        Of blown air [m/s], shape (legs,).
    alloy, choices, assumed
        Records.
    cells
        Cells of the wall [1].
    steps
        Steps to Ms' and to Mf' [1].

    Returns
    -------
    Strokes
        Times [s], temperatures [K], ledger [1].

    References
    ----------
    :func:`mdo.disciplines.heat.network_march.march`.
    """
    hardware = tube.hardware
    latent = jnp.broadcast_to(hardware.tube_mass * jnp.asarray(alloy.latent_heat), (2,))
    turning = Turning(tube.finish, tube.start - tube.finish, latent)
    begin = tube.start + blended_max(tube.hot - tube.start, 0.0, BLEND)
    capacity = jnp.broadcast_to(hardware.capacity_cooling, (2,))
    innermost = (jnp.arange(cells + 3) == 1) * 1.0

    def one_stroke(this: Any, leg: Any) -> Strokes:
        own, count, turn, other, from_there, beside_from, beside = this
        hot_bay, pressure, blown = leg
        network = tube_network(
            hardware=own,
            capacity=own.capacity_cooling,
            turning=turn,
            other=other,
            other_capacity=beside,
            power=jnp.zeros(()),
            sets=count,
            surroundings=Surroundings(hot_bay, pressure, blown),
            exposure=tube.exposure,
            alloy=alloy,
            choices=choices,
            assumed=assumed,
            cells=cells,
        )
        start = jnp.full(cells + 3, from_there).at[-2].set(beside_from).at[-1].set(hot_bay)
        ladder = ladder_between([from_there, turn.low + turn.width, turn.low], steps)
        return _run(network, start, ladder, innermost, -1.0)

    swapped = jax.tree.map(lambda leaf: leaf[::-1], (turning, begin, capacity))
    per_set = (hardware, tube.sets, turning, swapped[0], begin, *swapped[1:])
    per_leg = (bay.hot[:, 0], bay.pressure[:, 0], speed)
    return _every_leg_and_set(one_stroke, per_set, per_leg)
