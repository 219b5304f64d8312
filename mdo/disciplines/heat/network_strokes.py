"""Strokes of both sets in every leg as marches of a network of nodes: heating and cooling."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.heat.hardware import BLEND, TubeHardware, heating_spans
from mdo.disciplines.heat.network_nodes import CELLS
from mdo.disciplines.heat.network_stroke import Lane, Rungs, Stroke, run_stroke, stroke_figures
from mdo.disciplines.heat.network_tube import (
    Body,
    Sets,
    Surroundings,
    Turning,
    present_sets,
    tube_network,
)
from mdo.disciplines.heat.stage import Bay, Stage
from mdo.disciplines.records import Alloy, Choices
from mdo.disciplines.smooth import blended_max

# Places of the steps in each stretch [1]. Halving them moves no time by more than 0.1 %.
HEATING_RUNGS = (  # to As', to Af', to the hot temperature
    (0.05, 0.2, 0.4, 0.6, 0.8, 0.93, 1.0),
    (0.06, 0.16, 0.3, 0.44, 0.58, 0.72, 0.84, 0.94, 1.0),
    (0.3, 1.0),
)
COOLING_RUNGS = tuple(  # to Ms', to Mf'
    tuple((step + 1) / count for step in range(count)) for count in (7, 6)
)


class Mesh(NamedTuple):
    """Cells of the wall, each of which conducts as its phase, and places of the steps."""

    cells: int = CELLS
    heating: Rungs = HEATING_RUNGS
    cooling: Rungs = COOLING_RUNGS


NETWORK = Mesh()
# What is wanted of a stroke: of the times at the ends of its stretches, and of the peak of the bay.
WHOLE, TURNS = (0.0, 0.0, 1.0, 0.0), (-1.0, 1.0, 0.0, 0.0)
COOLED = ((0.0, 1.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0))  # to Mf', to Ms', peak


def heating_lanes(
    stage: Stage,
    exposure: Array,
    power: Array,
    outside: Array,
    *,
    mean: bool = False,
    mesh: Mesh = NETWORK,
) -> Lane:
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
    mean
        Whether the stretches end by the mean temperature of the wall, not by its last cell [1].
    mesh
        Cells of the wall.

    Returns
    -------
    Lane
        Of every leg and set, shape (legs, 2); the time of the whole stroke is wanted [s].

    Notes
    -----
    How far the actuator has moved follows the mean of the wall; all of it is hot when its last
    cell is.

    References
    ----------
    :func:`mdo.disciplines.heat.network_tube.tube_network`.
    """
    tube, phases = stage.hardware, stage.phases
    idle = Turning(jnp.zeros(()), jnp.ones(()), jnp.zeros(()))
    last = _node(stage.choices, mesh.cells, mesh.cells, 0)
    heater = _node(stage.choices, mesh.cells, 0, mesh.cells)
    wall = (jnp.arange(mesh.cells + 3) <= mesh.cells) * (1.0 - heater)

    def lane(this: Any, leg: Any) -> Lane:
        hardware, count, beside, watts, latent, start, finish = this
        cold, pressure = leg
        spans = heating_spans(
            start=cold, heating_start=start, heating_finish=finish, hot_temperature=phases.hot
        )
        first = cold + spans.sensible
        second = first + spans.transformation
        network = tube_network(
            hardware=hardware,
            own=Body(hardware.capacity_heating, Turning(first, spans.transformation, latent)),
            other=Body(beside, idle),
            power=watts,
            sets=count,
            surroundings=Surroundings(cold, pressure, None),
            exposure=exposure,
            alloy=stage.alloy,
            choices=stage.choices,
            assumed=stage.assumed,
            cells=mesh.cells,
            by_phase=True,
        )
        corners = jnp.stack([cold, first, second, second + spans.finish])
        heat = wall * network.capacity
        event = heat / jnp.sum(heat) if mean else last
        return Lane(network, jnp.full(mesh.cells + 3, cold), corners, event, jnp.asarray([WHOLE]))

    capacity = jnp.broadcast_to(tube.capacity_heating, (2,))[::-1]
    sets = present_sets(stage.tube_count, stage.choices)
    per_set = (tube, sets, capacity, power, stage.latent_loaded, phases.start, phases.finish)
    return _every_leg_and_set(lane, per_set, (outside, stage.bay.pressure[:, 0]))


class CoolingTube(NamedTuple):
    """What cools: tubes of both sets [1], where from, Ms' and Mf' [K], view beyond the set [1]."""

    hardware: TubeHardware
    sets: Sets
    hot: Array
    start: Array
    finish: Array
    exposure: Array


def cooling_lanes(
    tube: CoolingTube,
    bay: Bay,
    speed: Array,
    alloy: Alloy,
    choices: Choices,
    assumed: ThermalAssumptions,
    *,
    mesh: Mesh = NETWORK,
) -> Lane:
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
    mesh
        Cells of the wall.

    Returns
    -------
    Lane
        Of every leg and set, shape (legs, 2); times to Mf' and Ms' [s] and peak [K] are wanted.

    References
    ----------
    :func:`mdo.disciplines.heat.network_tube.tube_network`.
    """
    hardware = tube.hardware
    latent = jnp.broadcast_to(hardware.tube_mass * jnp.asarray(alloy.latent_heat), (2,))
    turning = Turning(tube.finish, tube.start - tube.finish, latent)
    begin = tube.start + blended_max(tube.hot - tube.start, 0.0, BLEND)
    capacity = jnp.broadcast_to(hardware.capacity_cooling, (2,))
    innermost = _node(choices, mesh.cells, 1, 0)

    def lane(this: Any, leg: Any) -> Lane:
        own, count, turn, other, from_there, beside_from, beside = this
        hot_bay, pressure, blown = leg
        network = tube_network(
            hardware=own,
            own=Body(own.capacity_cooling, turn),
            other=Body(beside, other),
            power=jnp.zeros(()),
            sets=count,
            surroundings=Surroundings(hot_bay, pressure, blown),
            exposure=tube.exposure,
            alloy=alloy,
            choices=choices,
            assumed=assumed,
            cells=mesh.cells,
            by_phase=True,
        )
        start = jnp.full(mesh.cells + 3, from_there).at[-2].set(beside_from).at[-1].set(hot_bay)
        corners = jnp.stack([from_there, turn.low + turn.width, turn.low])
        return Lane(network, start, corners, innermost, jnp.asarray(COOLED))

    swapped = jax.tree.map(lambda leaf: leaf[::-1], (turning, begin, capacity))
    per_set = (hardware, tube.sets, turning, swapped[0], begin, *swapped[1:])
    return _every_leg_and_set(lane, per_set, (bay.hot[:, 0], bay.pressure[:, 0], speed))


def figures_of(lanes: Lane, *, heats: bool, mesh: Mesh = NETWORK) -> tuple[Array, Array]:
    """What is wanted of every stroke, and the residuals of the ledgers.

    Parameters
    ----------
    lanes
        Of any shape.
    heats
        Whether the strokes heat.
    mesh
        That with which the lanes were made.

    Returns
    -------
    tuple
        Times [s] and peaks [K] on a last axis; residuals [1].

    References
    ----------
    :func:`mdo.disciplines.heat.network_stroke.stroke_figures`.
    """
    direction, rungs = (1.0, mesh.heating) if heats else (-1.0, mesh.cooling)
    one = partial(stroke_figures, direction=direction, rungs=rungs)
    figures: tuple[Array, Array] = _every_lane(one, lanes)
    return figures


def courses_of(lanes: Lane, *, heats: bool, mesh: Mesh = NETWORK) -> Stroke:
    """Courses of every stroke, for a report.

    Parameters
    ----------
    lanes
        Of any shape.
    heats
        Whether the strokes heat.
    mesh
        That with which the lanes were made.

    Returns
    -------
    Stroke
        Times [s], temperatures [K], residuals [1].

    References
    ----------
    :func:`mdo.disciplines.heat.network_stroke.run_stroke`.
    """
    direction, rungs = (1.0, mesh.heating) if heats else (-1.0, mesh.cooling)
    courses: Stroke = _every_lane(partial(run_stroke, direction=direction, rungs=rungs), lanes)
    return courses


def _every_lane(one: Callable[[Lane], Any], lanes: Lane) -> Any:
    """Map a stroke over the axes that the lanes have in front, as one: each is traced again."""
    front = lanes.corners.shape[:-1]
    side_by_side = jax.tree.map(lambda leaf: leaf.reshape(-1, *leaf.shape[len(front) :]), lanes)
    done = jax.vmap(one)(side_by_side)
    return jax.tree.map(lambda leaf: leaf.reshape(*front, *leaf.shape[1:]), done)


def _every_leg_and_set(
    lane: Callable[[Any, Any], Lane], per_set: tuple[Any, ...], per_leg: tuple[Any, ...]
) -> Lane:
    """Make the lane of every set in every leg."""
    each_set = jax.tree.map(lambda leaf: jnp.broadcast_to(leaf, (2,)), per_set)
    over_sets = jax.vmap(lane, in_axes=(0, None))
    lanes: Lane = jax.vmap(over_sets, in_axes=(None, 0))(each_set, per_leg)
    return lanes


def _node(choices: Choices, cells: int, cartridge: int, wrap: int) -> Array:
    """One for a node of the chain that depends on where the heater is, zero for the others."""
    place = jnp.where(jnp.asarray(choices.heater) > 0.5, cartridge, wrap)
    return (jnp.arange(cells + 3) == place) * 1.0
